//! The plan: every zone of the yard over a range of evenings.

use std::ops::{Range, RangeInclusive};

use chrono::{DateTime, Datelike, Days, Month, NaiveDate, TimeDelta, Utc};

use crate::almanac::{AlmanacError, SunTable};
use crate::link::{Following, FollowingByMonth};
use crate::site::{Site, Switching, ZoneId};

use super::asleep::{in_order, keep_awake, sleepers};
use super::evening::{Evening, SunOf};
use super::reason::Reason;
use super::windows::{Lit, Windows, curfewed};

/// The month that an evening belongs to: that of its local date.
pub fn month_of(evening: NaiveDate) -> Month {
    let number = u8::try_from(evening.month()).expect("twelve months");
    Month::try_from(number).expect("twelve months")
}

/// One window of one zone on one evening.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    pub evening: NaiveDate,
    pub zone: ZoneId,
    /// When it goes on; `None` if it stays dark.
    pub on: Option<DateTime<Utc>>,
    /// When it goes off; `None` if it stays dark, or never goes off.
    pub off: Option<DateTime<Utc>>,
    /// Why it goes on at that time, or stays dark.
    pub why_on: Reason,
    /// Why it goes off at that time, or does not.
    pub why_off: Reason,
    /// For a zone that follows, over a link or by an input: whether it does as its master does. `None` for a
    /// timed zone.
    pub follows: Option<bool>,
}

impl Row {
    /// When its light ends within the plan: a zone that never goes off is lit to the end of its evening.
    pub fn lit_until(&self, site: &Site) -> Option<DateTime<Utc>> {
        self.on?;
        Some(
            self.off
                .unwrap_or_else(|| Evening::of(site, self.evening).ends),
        )
    }

    /// Time lit within the plan [s].
    pub fn lit_s(&self, site: &Site) -> f64 {
        let lit = self.on.zip(self.lit_until(site));
        lit.map_or(0.0, |(on, off)| (off - on).as_seconds_f64())
    }
}

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

fn delay(seconds: f64) -> TimeDelta {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "delays are seconds, kept to the microsecond"
    )]
    TimeDelta::microseconds((seconds * 1e6).round() as i64)
}

/// Plans the evenings from the first to the last date; `following` holds what the slave of every link does, in
/// the order of [`Site::links`]. A date that the clocks skipped has no rows.
///
/// # Errors
/// If an evening lies outside the years of the almanac.
pub fn plan(
    site: &Site,
    evenings: RangeInclusive<NaiveDate>,
    following: &[FollowingByMonth],
) -> Result<Plan, AlmanacError> {
    // A zone far from its meridian takes its sun from a neighbouring date.
    let table =
        SunTable::for_dates(*evenings.start() - Days::new(2)..=*evenings.end() + Days::new(3))?;
    let sleepers = sleepers(site);
    let order = in_order(site, &sleepers);
    let count = (*evenings.end() - *evenings.start()).num_days() + 1;
    let mut rows: Vec<Row> = Vec::with_capacity(usize::try_from(count).unwrap_or(0) * order.len());
    let mut windows = Vec::new();
    // Where each zone's rows of this evening are, so a slave finds its master's rows at once.
    let mut places = vec![0..0; site.zones.len()];
    let mut evening = Evening::of(site, *evenings.start());
    let mut sun = SunOf::new(site, &table, &evening);
    while evening.date <= *evenings.end() {
        if evening.never_was() {
            evening = evening.next(site);
            continue;
        }
        sun.turn_to(&evening);
        places.fill(0..0);
        for zone in &order {
            let first = rows.len();
            match site[*zone].switching {
                Switching::Timed(_) => {
                    let mut timer = Windows {
                        site,
                        evening: &evening,
                        sun: &mut sun,
                    };
                    timer.resolve(*zone, &mut windows)?;
                    rows.extend(windows.iter().map(|at| timed(evening.date, *zone, *at)));
                    let wakers = &sleepers[zone.0];
                    if !wakers.is_empty() {
                        let theirs = wakers.iter().flat_map(|zone| &rows[places[zone.0].clone()]);
                        let theirs: Vec<Row> = theirs.copied().collect();
                        keep_awake(&evening, &mut rows, first, wakers, &theirs);
                    }
                }
                Switching::Follows(link) => {
                    let master = site[link].master;
                    let masters = places[master.0].clone();
                    let following = following[link.0].on(evening.date);
                    follow(
                        site,
                        &evening,
                        (master, *zone),
                        following,
                        masters,
                        &mut rows,
                    );
                }
                Switching::Senses(sensing) => {
                    let supply = &site[site[*zone].supply];
                    let following = Following::Follows {
                        on_delay_s: sensing.on_delay_s + supply.start_s,
                        off_delay_s: sensing.off_delay_s + supply.hold_up_s,
                    };
                    let pair = (sensing.master, *zone);
                    let masters = places[sensing.master.0].clone();
                    follow(site, &evening, pair, following, masters, &mut rows);
                }
            }
            places[zone.0] = first..rows.len();
        }
        evening = evening.next(site);
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

/// Adds the rows of a slave, based on its master's rows on the same evening, which are at `masters`.
fn follow(
    site: &Site,
    evening: &Evening,
    (master, slave): (ZoneId, ZoneId),
    following: Following,
    masters: Range<usize>,
    rows: &mut Vec<Row>,
) {
    let month = site.temperatures.monthly.map(|_| month_of(evening.date));
    let (on_delay_s, off_delay_s) = match following {
        Following::Follows {
            on_delay_s,
            off_delay_s,
        } => (on_delay_s, off_delay_s),
        Following::StaysDark => {
            rows.push(dark(
                evening.date,
                slave,
                Reason::StaysDark(slave, month),
                Some(false),
            ));
            return;
        }
        Following::StaysLit => {
            let reason = Reason::StaysLit(slave, month);
            rows.push(Row {
                on: Some(evening.begins),
                ..dark(evening.date, slave, reason, Some(false))
            });
            return;
        }
    };
    // A relay does not know the time: only a board that switches the zone can keep its curfew.
    let curfew = site[slave]
        .curfew
        .filter(|_| site.output_of(slave).is_some());
    let follows = match site[slave].switching {
        Switching::Senses(_) => Reason::FollowsInput,
        Switching::Timed(_) | Switching::Follows(_) => Reason::Follows,
    };
    let mut why_dark = Reason::MasterDark(master);
    let mut faithful = true;
    let first = rows.len();
    for index in masters {
        let leader = rows[index];
        let Some(on) = leader.on.map(|on| on + delay(on_delay_s)) else {
            // A master that fails to follow takes everything behind it along.
            faithful &= leader.follows != Some(false);
            continue;
        };
        let off = leader.off.map(|off| off + delay(off_delay_s));
        // The relay must be in and the supply up before the master goes off again.
        if leader.off.is_some_and(|off| off <= on) {
            let reason = Reason::MasterTooShort(master, on_delay_s);
            rows.push(dark(evening.date, slave, reason, Some(false)));
            continue;
        }
        let lit = Lit {
            on,
            off: off.unwrap_or(evening.ends),
            why_on: follows(master, on_delay_s),
            why_off: match off {
                Some(_) => follows(master, off_delay_s),
                None => leader.why_off,
            },
        };
        match curfewed(site, evening, lit, curfew) {
            Ok(kept) => rows.push(Row {
                evening: evening.date,
                zone: slave,
                on: Some(kept.on),
                // A master that never goes off leaves its slave lit, unless the curfew ends it.
                off: (off.is_some() || kept.off < lit.off).then_some(kept.off),
                why_on: kept.why_on,
                why_off: kept.why_off,
                follows: Some(leader.follows != Some(false)),
            }),
            Err(reason) => why_dark = reason,
        }
    }
    if rows.len() == first {
        rows.push(dark(evening.date, slave, why_dark, Some(faithful)));
    }
    rows[first..].sort_by_key(|row| row.on);
}
