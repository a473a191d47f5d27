//! The order of the zones, and the lane of each one's wires.

use crate::site::{Site, Switching, ZoneId};

/// The zones that follow a zone.
fn followers(site: &Site, master: ZoneId) -> impl Iterator<Item = ZoneId> {
    (0..site.zones.len())
        .map(ZoneId)
        .filter(move |zone| site.master_of(*zone) == Some(master))
}

/// How many zones hang on a zone, including itself.
fn weight(site: &Site, zone: ZoneId) -> usize {
    1 + followers(site, zone)
        .map(|zone| weight(site, zone))
        .sum::<usize>()
}

/// Every zone after its master; among siblings the heaviest last.
pub(super) fn order(site: &Site) -> Vec<ZoneId> {
    fn visit(site: &Site, zone: ZoneId, order: &mut Vec<ZoneId>) {
        order.push(zone);
        let mut slaves: Vec<ZoneId> = followers(site, zone).collect();
        slaves.sort_by_key(|slave| weight(site, *slave));
        for slave in slaves {
            visit(site, slave, order);
        }
    }
    let mut order = Vec::new();
    let heads = (0..site.zones.len()).map(ZoneId);
    for head in heads.filter(|zone| site.master_of(*zone).is_none()) {
        visit(site, head, &mut order);
    }
    order
}

pub(super) fn is_board(site: &Site, zone: ZoneId) -> bool {
    matches!(site[zone].switching, Switching::Senses(_))
}

/// Lanes that the wires of an order need.
pub(super) fn lanes_needed(site: &Site, order: &[ZoneId]) -> usize {
    let place = |zone: ZoneId| order.iter().position(|at| *at == zone).unwrap_or(0) as f64;
    let spans: Vec<(f64, f64)> = spans(site, order)
        .into_iter()
        .map(|(master, to, _)| {
            let last = to.iter().map(|zone| place(*zone)).fold(0.0, f64::max);
            (place(master) + 0.5, last)
        })
        .collect();
    assigned(&spans)
        .into_iter()
        .max()
        .map_or(0, |lane| lane + 1)
}

/// Every zone with followers; pilot wires and board wires are listed separately.
pub(super) fn spans(site: &Site, order: &[ZoneId]) -> Vec<(ZoneId, Vec<ZoneId>, bool)> {
    let mut spans = Vec::new();
    for master in order {
        for board in [false, true] {
            let to: Vec<ZoneId> = followers(site, *master)
                .filter(|zone| is_board(site, *zone) == board)
                .collect();
            if !to.is_empty() {
                spans.push((*master, to, board));
            }
        }
    }
    spans
}

/// A lane for every span; spans in one lane do not overlap.
pub(super) fn assigned(spans: &[(f64, f64)]) -> Vec<usize> {
    let mut busy: Vec<f64> = Vec::new();
    spans
        .iter()
        .map(|(from, to)| {
            let free = busy.iter().position(|until| until < from);
            let lane = free.unwrap_or(busy.len());
            if free.is_none() {
                busy.push(*to);
            }
            busy[lane] = *to;
            lane
        })
        .collect()
}
