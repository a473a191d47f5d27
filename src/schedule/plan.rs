//! The plan: every zone of the yard over a range of evenings.

use std::ops::RangeInclusive;

use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};

use crate::almanac::{AlmanacError, SunTable};
use crate::site::{Link, LinkId, Site, Switching, ZoneId};

use super::evening::{Evening, Lit, SunOf, Windows, curfewed};
use super::reason::Reason;

/// What the slave of a link does when its master switches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Following {
    /// It follows, so many seconds later.
    Follows {
        /// From master on to slave lit [s].
        on_delay_s: f64,
        /// From master off to slave dark [s].
        off_delay_s: f64,
    },
    /// Its relay does not pull in.
    StaysDark,
    /// Its relay does not let go.
    StaysLit,
}

/// One window of one zone on one evening.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// The evening.
    pub evening: NaiveDate,
    /// The zone.
    pub zone: ZoneId,
    /// When it goes on; `None` if it stays dark.
    pub on: Option<DateTime<Utc>>,
    /// When it goes off; `None` if it stays dark, or never goes off.
    pub off: Option<DateTime<Utc>>,
    /// Why it goes on then, or why it stays dark.
    pub why_on: Reason,
    /// Why it goes off then, or why it does not.
    pub why_off: Reason,
    /// Of a slave: whether it does as its master does. `None` for a timed zone.
    pub follows: Option<bool>,
}

impl Row {
    /// Seconds lit within the plan; a zone that never goes off counts up to its evening's end.
    pub fn lit_s(&self, site: &Site) -> f64 {
        let Some(on) = self.on else { return 0.0 };
        let off = self
            .off
            .unwrap_or_else(|| Evening::of(site, self.evening).ends);
        seconds(off - on)
    }
}

/// The rows of a range of evenings.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// By evening, then by zone (masters before their slaves), then by time.
    pub rows: Vec<Row>,
}

impl Plan {
    /// When the last zone of the plan goes dark.
    pub fn lit_until(&self) -> Option<DateTime<Utc>> {
        self.rows.iter().filter_map(|row| row.off).max()
    }
}

fn seconds(span: TimeDelta) -> f64 {
    span.as_seconds_f64()
}

fn delay(seconds: f64) -> TimeDelta {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "delays are seconds, kept to the microsecond"
    )]
    TimeDelta::microseconds((seconds * 1e6).round() as i64)
}

/// Plans the evenings from the first to the last date; `following` says of every link what its slave
/// does, in the order of [`Site::links`].
///
/// # Errors
/// If an evening lies outside the years of the almanac.
pub fn plan(
    site: &Site,
    evenings: RangeInclusive<NaiveDate>,
    following: &[Following],
) -> Result<Plan, AlmanacError> {
    // Zones away from their meridian borrow their sun from a neighbouring date.
    let table =
        SunTable::for_dates(*evenings.start() - Days::new(2)..=*evenings.end() + Days::new(3))?;
    let order = site.zones_in_order();
    let mut rows: Vec<Row> = Vec::new();
    let mut date = *evenings.start();
    while date <= *evenings.end() {
        let evening = Evening::of(site, date);
        let first = rows.len();
        let mut sun = SunOf::new(site, &table, &evening);
        for zone in &order {
            match site[*zone].switching {
                Switching::Timed(_) => {
                    let windows = Windows {
                        site,
                        evening: &evening,
                        sun: &mut sun,
                    }
                    .resolve(*zone)?;
                    rows.extend(windows.into_iter().map(|window| timed(date, *zone, window)));
                }
                Switching::Follows(link) => {
                    let followed = follow(site, &evening, link, following[link.0], &rows[first..]);
                    rows.extend(followed);
                }
            }
        }
        date = date + Days::new(1);
    }
    Ok(Plan { rows })
}

fn timed(evening: NaiveDate, zone: ZoneId, window: Result<Lit, Reason>) -> Row {
    match window {
        Ok(lit) => Row {
            evening,
            zone,
            on: Some(lit.on),
            off: Some(lit.off),
            why_on: lit.why_on,
            why_off: lit.why_off,
            follows: None,
        },
        Err(reason) => dark(evening, zone, reason, None),
    }
}

fn dark(evening: NaiveDate, zone: ZoneId, reason: Reason, follows: Option<bool>) -> Row {
    Row {
        evening,
        zone,
        on: None,
        off: None,
        why_on: reason,
        why_off: reason,
        follows,
    }
}

/// The rows of a slave, from those of its master on the same evening.
fn follow(
    site: &Site,
    evening: &Evening,
    id: LinkId,
    following: Following,
    rows: &[Row],
) -> Vec<Row> {
    let link: &Link = &site[id];
    let slave = link.slave;
    let (on_delay_s, off_delay_s) = match following {
        Following::Follows {
            on_delay_s,
            off_delay_s,
        } => (on_delay_s, off_delay_s),
        Following::StaysDark => {
            return vec![dark(
                evening.date,
                slave,
                Reason::StaysDark(slave),
                Some(false),
            )];
        }
        Following::StaysLit => {
            let reason = Reason::StaysLit(slave);
            let row = Row {
                on: Some(evening.begins),
                ..dark(evening.date, slave, reason, Some(false))
            };
            return vec![row];
        }
    };
    let mut followed = Vec::new();
    let mut why_dark = Reason::MasterDark(link.master);
    let mut faithful = true;
    for master in rows.iter().filter(|row| row.zone == link.master) {
        let Some(master_on) = master.on else {
            // A master that fails to follow takes all behind it along.
            faithful &= master.follows != Some(false);
            continue;
        };
        let on = master_on + delay(on_delay_s);
        let off = master.off.map(|off| off + delay(off_delay_s));
        // The relay must be in, and the supply up, before the master is off again.
        if master.off.is_some_and(|off| off <= on) {
            why_dark = Reason::MasterTooShort(link.master, on_delay_s);
            faithful = false;
            continue;
        }
        let lit = Lit {
            on,
            off: off.unwrap_or(evening.ends),
            why_on: Reason::Follows(link.master, on_delay_s),
            why_off: Reason::Follows(link.master, off_delay_s),
        };
        // A relay cannot know the hour; only a board that switches the zone can keep its curfew.
        let driven = site.outputs.iter().any(|output| output.zone == slave);
        let curfew = if driven { site[slave].curfew } else { None };
        match curfewed(site, evening, lit, curfew) {
            Ok(kept) => followed.push(Row {
                on: Some(kept.on),
                off: off.map(|_| kept.off),
                why_on: kept.why_on,
                why_off: if off.is_some() {
                    kept.why_off
                } else {
                    master.why_off
                },
                follows: Some(master.follows != Some(false)),
                ..dark(evening.date, slave, why_dark, None)
            }),
            Err(reason) => why_dark = reason,
        }
    }
    if followed.is_empty() {
        followed.push(dark(evening.date, slave, why_dark, Some(faithful)));
    }
    followed
}
