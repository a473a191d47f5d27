//! A season as a picture: date across, time of day down from noon to noon, so each night is in one piece.
//!
//! ```text
//!   12:00 ┌──────────────┐
//!   18:00 │╲____  ____╱  │   daylight, three twilights, night
//!   00:00 │#############_│   lit: outlined
//!   06:00 │╱‾‾‾‾╲╱‾‾‾‾╲  │
//!   12:00 └──a────b──────┘   what is out of the ordinary, by letter
//! ```
//!
//! Zones that are lit at the same times, to two minutes, share a panel: a slave shows nothing that its master
//! does not show, unless it does not follow.

use chrono::{DateTime, NaiveDate, NaiveTime, Utc};

use crate::schedule::Sky;
use crate::season::Season;
use crate::site::{Site, ZoneId};

mod bands;
mod notes;
mod strip;
mod svg;

pub use strip::season_strip;
pub(super) use svg::STYLE;
pub use svg::season_svg;

/// Hours from noon to noon.
const DAY: f64 = 24.0;

/// Times closer than this look the same [h].
const SAME: f64 = 2.0 / 60.0;

/// Zones that are lit at the same times.
struct Group {
    zones: Vec<ZoneId>,
    /// Per evening, start and end of their light, in hours after noon by the clock on the wall.
    lit: Vec<Vec<(f64, f64)>>,
}

impl Group {
    /// `walk`, or `walk, orchard and gate`; of many, the first names and a count of the rest.
    fn name(&self, site: &Site) -> String {
        const NAMED: usize = 4;
        let names = self.zones.iter().map(|zone| site[*zone].name.as_str());
        let names: Vec<&str> = names.take(NAMED).collect();
        match (self.zones.len().saturating_sub(NAMED), names.as_slice()) {
            (0, [all @ .., last]) if !all.is_empty() => format!("{} and {last}", all.join(", ")),
            (0, names) => names.join(", "),
            (more, names) => format!("{} and {more} more", names.join(", ")),
        }
    }

    /// How its zones that follow are switched.
    fn how(&self, site: &Site) -> String {
        let first = site.how_switched(self.zones[0]);
        match self.zones.len() {
            1 => first,
            2 => format!("{first}, and one with it"),
            many => format!("{first}, and {} with it", many - 1),
        }
    }
}

/// Hours after the noon of an evening, by the clock on the wall.
fn wall(site: &Site, evening: NaiveDate, at: DateTime<Utc>) -> f64 {
    let noon = evening.and_time(NaiveTime::from_hms_opt(12, 0, 0).expect("noon"));
    let hours = (site.timezone.to_local(at) - noon).as_seconds_f64() / 3600.0;
    hours.clamp(0.0, DAY)
}

/// The zones of a season in groups, masters before their slaves.
fn groups(site: &Site, season: &Season, skies: &[Sky]) -> Vec<Group> {
    let mut lit = vec![vec![Vec::new(); skies.len()]; site.zones.len()];
    for row in &season.plan.rows {
        let Some((on, until)) = row.on.zip(row.lit_until(site)) else {
            continue;
        };
        let days = (row.evening - season.from).num_days();
        let Ok(first) = usize::try_from(days) else {
            continue;
        };
        // A dawn with an offset can reach into the evening after.
        for (sky, bands) in skies.iter().zip(&mut lit[row.zone.0]).skip(first).take(2) {
            let (begins, ends) = (sky.evening.begins, sky.evening.ends);
            if on < ends && until > begins {
                let at = |at| wall(site, sky.evening.date, at);
                let band = (at(on.max(begins)), at(until.min(ends)));
                // If the evening ends at noon, its last instant is on the next date.
                let to = if until >= ends { DAY } else { band.1 };
                bands.push((band.0, to));
            }
        }
    }
    for bands in lit.iter_mut().flatten() {
        join(bands);
    }
    let mut groups: Vec<Group> = Vec::new();
    for zone in site.zones_in_order() {
        let mine = std::mem::take(&mut lit[zone.0]);
        match groups.iter_mut().find(|group| alike(&group.lit, &mine)) {
            Some(group) => group.zones.push(zone),
            None => groups.push(Group {
                zones: vec![zone],
                lit: mine,
            }),
        }
    }
    groups
}

/// Joins bands that touch.
fn join(bands: &mut Vec<(f64, f64)>) {
    bands.sort_by(|a, b| a.0.total_cmp(&b.0));
    bands.dedup_by(|next, last| {
        let meets = next.0 <= last.1 + 1e-9;
        if meets {
            last.1 = last.1.max(next.1);
        }
        meets
    });
}

fn alike(one: &[Vec<(f64, f64)>], other: &[Vec<(f64, f64)>]) -> bool {
    let near = |a: f64, b: f64| (a - b).abs() < SAME;
    one.iter().zip(other).all(|(a, b)| {
        a.len() == b.len()
            && a.iter()
                .zip(b)
                .all(|(a, b)| near(a.0, b.0) && near(a.1, b.1))
    })
}

/// `17:04` for hours after noon.
fn clock_said(hours: f64) -> String {
    let minutes = super::scale::whole((hours + 12.0) * 60.0) % (24 * 60);
    format!("{:02}:{:02}", minutes / 60, minutes % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_that_meet_are_one() {
        let mut bands = vec![(5.0, 7.0), (1.0, 2.0), (2.0, 4.0), (6.0, 6.5)];
        join(&mut bands);
        assert_eq!(bands, [(1.0, 4.0), (5.0, 7.0)]);
    }

    #[test]
    fn hours_after_noon_are_said_as_on_the_wall() {
        for (hours, said) in [
            (0.0, "12:00"),
            (11.25, "23:15"),
            (12.0, "00:00"),
            (24.0, "12:00"),
        ] {
            assert_eq!(clock_said(hours), said);
        }
    }
}
