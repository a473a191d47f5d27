//! How runs are laid: S32. The sheet asks for a depth that is not stated.

use crate::site::{Laid, LinkId, Region, Site, ZoneId};

use super::{Caution, Code, Level, Notes, Place};

/// Cover over a run in a garden [m]: 6 in for lighting circuits up to 30 V (NEC table 300.5, column 5); the same
/// is common practice elsewhere.
const COVER_M: f64 = 0.15;

pub(super) fn cautions(site: &Site) -> Vec<Caution> {
    let links = site.links.iter().enumerate();
    let links = links.filter_map(|(index, link)| {
        shallow(site, &link.laid, "the pair", Place::Link(LinkId(index)))
    });
    let zones = site.zones.iter().enumerate();
    let trunks = zones.flat_map(|(index, zone)| {
        let shallow = move |trunk: &crate::site::Trunk| {
            shallow(
                site,
                &trunk.laid,
                "a lamp cable",
                Place::Zone(ZoneId(index)),
            )
        };
        zone.trunks.iter().filter_map(shallow)
    });
    links.chain(trunks).collect()
}

fn shallow(site: &Site, laid: &Laid, what: &str, place: Place) -> Option<Caution> {
    let depth_m = laid.depth_m?;
    // A little slack, so that 6 in is not below 150 mm, nor the other way round.
    if depth_m >= COVER_M - 0.001 {
        return None;
    }
    let rule = match site.region {
        Region::Nec => "NEC table 300.5",
        Region::Iec => {
            "common practice; BS 7671 522.8.10 asks for more where digging is to be expected"
        }
        Region::Other => "common practice",
    };
    let mut notes = Notes::at(place);
    notes.add(
        Code::S32,
        Level::Warn,
        format!(
            "{what} lies {:.0} mm ({:.0} in) deep, in a garden it should be 150 mm (6 in) or more, under a drive 450 mm (18 in) ({rule}): lay it deeper, or in a duct, and ask what local code says",
            depth_m * 1000.0,
            depth_m / 0.0254
        ),
    );
    notes.list.pop()
}
