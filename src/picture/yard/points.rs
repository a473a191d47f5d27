//! Which test points a zone has: those that the commissioning sheet lists for it.

use crate::site::{Site, SupplyKind, Switching, Trunk, ZoneId};

/// The place of every point, by its number.
pub(super) const PLACES: [(u32, &str); 11] = [
    (1, "transformer"),
    (2, "rectifier"),
    (3, "coil"),
    (4, "contact or output line"),
    (5, "remote-on or enable input"),
    (6, "DC output"),
    (7, "first lamp"),
    (8, "last lamp"),
    (9, "standby"),
    (10, "pilot wire dark, or input line"),
    (11, "pilot wire, insulation"),
];

/// Numbers of the points of a zone.
pub(super) fn of_zone(site: &Site, id: ZoneId) -> Vec<u32> {
    let zone = &site[id];
    let supply = &site[zone.supply];
    let mut points = vec![if supply.is_ac() { 1 } else { 6 }];
    match zone.switching {
        // A line that the file does not name is nowhere to be measured.
        Switching::Timed(_) => points.extend(site.output_of(id).map(|_| 4)),
        Switching::Follows(_) => points.extend([2, 3, 4, 10, 11]),
        Switching::Senses(sensing) => {
            points.extend(site.output_of(id).map(|_| 4));
            points.extend(site.input_of(sensing.master).map(|_| 10));
        }
    }
    // A timed zone that no board drives is switched elsewhere: nothing meets the input of its supply.
    let switched = !matches!(zone.switching, Switching::Timed(_)) || site.output_of(id).is_some();
    if !supply.is_ac() && switched {
        points.push(5);
    }
    if supply.kind == SupplyKind::DesktopPc {
        points.push(9);
    }
    points.extend(zone.trunks.iter().flat_map(of_trunk));
    points.sort_unstable();
    points.dedup();
    points
}

/// Numbers of the points of a run: its first and its last lamp.
pub(super) fn of_trunk(trunk: &Trunk) -> impl Iterator<Item = u32> + use<> {
    let lamps: u32 = trunk.lamps.iter().map(|group| group.count).sum();
    [(lamps > 0).then_some(7), (lamps > 1).then_some(8)]
        .into_iter()
        .flatten()
}
