//! The fuse of a trunk: S06, S09, S10.

use crate::fuse_size::{Fit, Source, trunk_fuse};
use crate::lamp_run::which_trunk;
use crate::site::{Fuse, Site, Trunk, ZoneId};
use crate::text::{amps, fuse_advice, wire_carries};

use super::super::Notes;
use super::super::fuse::{fuse_caution, say_unfit};

pub(super) fn cautions(site: &Site, zone: ZoneId, trunk: &Trunk, notes: &mut Notes) {
    let run = trunk_fuse(site, zone, trunk);
    let place =
        which_trunk(site, zone, trunk).map_or_else(String::new, |which| format!("{which}: "));
    if run.fit() == Fit::Missing
        && let (Some((code, level)), Some(carries)) = (fuse_caution(&run), run.carries)
    {
        let what = if trunk.fuse == Fuse::None {
            "unfused"
        } else {
            "trunk fuse not stated"
        };
        let supply = site[zone].supply;
        let name = &site[supply].name;
        let gives = Source::of(site, supply).gives_a().map_or_else(
            || format!("what supply {name} can give is not stated"),
            |gives_a| format!("supply {name} can give {}", amps(gives_a)),
        );
        notes.add(
            code,
            level,
            format!(
                "{place}{what}: {gives}, the wire is good for {}: {}",
                wire_carries(carries),
                fuse_advice(&run)
            ),
        );
    }
    say_unfit(&run, notes, &place);
}
