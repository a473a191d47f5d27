//! Zones whose supply sleeps while others on it are dark (S51).

use chrono::{DateTime, Utc};

use crate::site::{Site, ZoneId};

use super::evening::Evening;
use super::plan::Row;
use super::reason::Reason;

/// When a supply is awake: between these instants, woken by the first zone, let go by the second.
type Awake = (DateTime<Utc>, DateTime<Utc>, ZoneId, ZoneId);

/// Of every zone those without which its supply sleeps; none of most.
pub(super) fn sleepers(site: &Site) -> Vec<Vec<ZoneId>> {
    let zones = (0..site.zones.len()).map(ZoneId);
    zones
        .map(|zone| {
            let sleeps = !site.wakes_supply(zone) && site.remote_on_for_all(zone);
            let wakers = sleeps.then(|| site.wakers_beside(zone));
            wakers.into_iter().flatten().collect()
        })
        .collect()
}

/// Zones in the order in which their evenings are worked out: each after its master, and after what wakes its supply.
pub(super) fn in_order(site: &Site, sleepers: &[Vec<ZoneId>]) -> Vec<ZoneId> {
    let mut rest = site.zones_in_order();
    if sleepers.iter().all(Vec::is_empty) {
        return rest;
    }
    let mut order = Vec::with_capacity(rest.len());
    while !rest.is_empty() {
        let ready = |zone: &ZoneId| {
            let mut before = site
                .master_of(*zone)
                .into_iter()
                .chain(sleepers[zone.0].iter().copied());
            before.all(|zone| order.contains(&zone))
        };
        // A zone that wakes the supply of its own master waits for it, and it for that zone: neither is lit.
        let next = rest.iter().position(ready).unwrap_or(0);
        order.push(rest.remove(next));
    }
    order
}

/// What is left of the rows of a zone, from `first` on, whose supply sleeps without `wakers`; `lit` has their rows.
pub(super) fn keep_awake(
    evening: &Evening,
    rows: &mut Vec<Row>,
    first: usize,
    wakers: &[ZoneId],
    lit: &[Row],
) {
    let mut awake: Vec<Awake> = Vec::new();
    let mut stretches: Vec<_> = lit
        .iter()
        .filter_map(|row| Some((row.on?, row.off.unwrap_or(evening.ends), row.zone)))
        .collect();
    stretches.sort_unstable();
    for (on, off, zone) in stretches {
        match awake.last_mut() {
            Some(last) if on <= last.1 => {
                if off > last.1 {
                    (last.1, last.3) = (off, zone);
                }
            }
            _ => awake.push((on, off, zone, zone)),
        }
    }
    for row in rows.split_off(first) {
        let (Some(on), Some(off)) = (row.on, row.off) else {
            rows.push(row);
            continue;
        };
        let before = rows.len();
        for (wakes, sleeps, woken_by, let_go_by) in &awake {
            let (from, until) = (on.max(*wakes), off.min(*sleeps));
            if from >= until {
                continue;
            }
            rows.push(Row {
                on: Some(from),
                off: Some(until),
                why_on: if from > on {
                    Reason::Woken(*woken_by)
                } else {
                    row.why_on
                },
                why_off: if until < off {
                    Reason::LetGo(*let_go_by)
                } else {
                    row.why_off
                },
                ..row
            });
        }
        if rows.len() == before {
            let reason = Reason::Asleep(wakers[0]);
            rows.push(Row {
                on: None,
                off: None,
                why_on: reason,
                why_off: reason,
                ..row
            });
        }
    }
}
