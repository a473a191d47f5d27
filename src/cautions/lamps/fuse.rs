//! The fuse of a trunk: S06, S09, S10.

use crate::chain::MainsLevel;
use crate::circuit::supply::{Transformer, short_circuit_a};
use crate::circuit::wire::{ampacity, ohm_per_m};
use crate::site::{Fuse, Site, SupplyId, SupplyOutput, Trunk, ZoneId};
use crate::wording::amps;

use super::super::Notes;
use super::super::fuse::{Fit, Guards, RunFuse};
use super::{TrunkEnds, trunk_ends};

/// What a supply gives into a short at its terminals.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Source {
    /// Before it is shorted [V RMS or V DC].
    volts: f64,
    /// Its own resistance [Ω].
    ohm: f64,
    /// Where it limits its current, as far as the file says [A].
    limit_a: Option<f64>,
}

impl Source {
    fn of(site: &Site, supply: SupplyId) -> Self {
        match site[supply].output {
            SupplyOutput::Ac {
                no_load_v,
                full_load_v,
                rated_va,
            } => Self {
                volts: no_load_v,
                ohm: Transformer {
                    no_load_v,
                    full_load_v,
                    rated_va,
                }
                .source_ohm(),
                limit_a: None,
            },
            SupplyOutput::Dc {
                voltage_v, max_a, ..
            } => Self {
                volts: voltage_v,
                ohm: 0.0,
                limit_a: max_a,
            },
        }
    }

    /// Behind so many ohms of cable [A]. What limits its current lets no fuse see more.
    fn short_a(self, loop_ohm: f64) -> f64 {
        short_circuit_a(self.volts, loop_ohm, self.ohm).min(self.limit_a.unwrap_or(f64::INFINITY))
    }

    /// The most that it gives [A]; `None` where nothing is known that limits it.
    fn gives_a(self) -> Option<f64> {
        Some(self.short_a(0.0)).filter(|short_a| short_a.is_finite())
    }
}

/// The fuse of a trunk, and the one that it should have.
pub(crate) fn trunk_fuse(site: &Site, zone: ZoneId, trunk: &Trunk) -> RunFuse {
    let source = Source::of(site, site[zone].supply);
    let load_a = match trunk_ends(site, zone, trunk, MainsLevel::Low) {
        TrunkEnds::Lit { supply_a, .. } => Some(supply_a),
        TrunkEnds::BrownOut { .. } => None,
    };
    let short_a = trunk.cable.map(|cable| {
        let per_m = ohm_per_m(cable.gauge, cable.stranding, site.temperatures.wire_c)
            .expect("the site file has only sizes in the trade");
        source.short_a(2.0 * cable.length_m * per_m)
    });
    RunFuse::new(
        Guards::Trunk,
        trunk.fuse,
        load_a,
        short_a,
        (
            trunk.cable.map(|cable| ampacity(cable.gauge).amps),
            source.gives_a(),
        ),
    )
}

/// `trunk 2 of 3`, where a zone has several.
pub(crate) fn which_trunk(site: &Site, zone: ZoneId, trunk: &Trunk) -> Option<String> {
    let trunks = &site[zone].trunks;
    let index = trunks
        .iter()
        .position(|other| std::ptr::eq(other, trunk))
        .filter(|_| trunks.len() > 1)?;
    Some(format!("trunk {} of {}", index + 1, trunks.len()))
}

pub(super) fn cautions(site: &Site, zone: ZoneId, trunk: &Trunk, notes: &mut Notes) {
    let run = trunk_fuse(site, zone, trunk);
    let place =
        which_trunk(site, zone, trunk).map_or_else(String::new, |which| format!("{which}: "));
    if run.fit() == Fit::Missing
        && let (Some((code, level)), Some(carries_a)) = (run.caution(), run.carries_a)
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
                amps(carries_a),
                run.advice()
            ),
        );
    }
    run.say_unfit(notes, &place);
}
