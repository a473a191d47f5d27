//! A season on paper: the plan of many evenings, added up by zone and by month.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveTime, TimeDelta, Utc};

use crate::civil_time::ClockChange;
use crate::link::FollowingByMonth;
use crate::schedule::{Evening, NoAnswer, Plan, Reason, Row, plan};
use crate::site::{Site, Switching, ZoneId};

mod nights;

pub use nights::{LinkNights, Period};

#[derive(Debug, Clone, PartialEq)]
pub struct Season {
    pub from: NaiveDate,
    pub to: NaiveDate,
    /// Every evening of every zone.
    pub plan: Plan,
    /// Sums, in the order of [`Site::zones`].
    pub zones: Vec<ZoneSeason>,
    /// Evenings during which the clocks change.
    pub clock_changes: Vec<(NaiveDate, ClockChange)>,
    /// Evenings on which a link may fail, in the order of [`Site::links`], if the site file has
    /// temperatures by month.
    pub nights: Option<Vec<LinkNights>>,
}

/// A season of one zone.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ZoneSeason {
    pub nights_lit: u32,
    /// Evenings without light, by reason; if windows of one evening are dark for different reasons, by all of
    /// them.
    pub nights_dark: BTreeMap<String, u32>,
    /// Evenings on which a slave does not do as its master does.
    pub nights_not_following: u32,
    /// Earliest first switch-on of any evening, by the clock on the wall.
    pub earliest_on: Option<DateTime<Utc>>,
    /// Latest first switch-on of any evening, by the clock on the wall.
    pub latest_on: Option<DateTime<Utc>>,
    /// The evening with most light [s].
    pub longest: Option<(NaiveDate, f64)>,
    /// The evening with least light, among those with any [s].
    pub shortest: Option<(NaiveDate, f64)>,
    /// Time lit [s].
    pub lit_s: f64,
    /// Switching operations, on and off counted separately.
    pub switchings: u32,
    /// Number of times the relay of a slave pulls in.
    pub relay_operations: u32,
    /// Mains energy for lighting [kWh].
    pub lit_kwh: f64,
    /// Mains energy while the zone's supply is dark [kWh]; booked on the first zone of a supply.
    pub standby_kwh: f64,
    pub months: Vec<Month>,
}

/// A month of one zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Month {
    /// First evening of it in the season.
    pub first: NaiveDate,
    pub nights_lit: u32,
    /// Time lit [s].
    pub lit_s: f64,
    /// Mains energy for lighting [kWh].
    pub lit_kwh: f64,
}

impl ZoneSeason {
    /// Cost of lit and standby energy together, at this price.
    pub fn cost(&self, per_kwh: f64) -> f64 {
        (self.lit_kwh + self.standby_kwh) * per_kwh
    }
}

/// Joules in a kilowatt-hour.
const J_PER_KWH: f64 = 3.6e6;

/// Plans and adds up the evenings from the first to the last.
///
/// # Errors
/// If an evening lies outside the years of the almanac, or a simulation cannot conclude.
pub fn season(
    site: &Site,
    evenings: RangeInclusive<NaiveDate>,
    following: &[FollowingByMonth],
) -> Result<Season, NoAnswer> {
    let (from, to) = (*evenings.start(), *evenings.end());
    let plan = plan(site, evenings, following)?;
    let mut zones: Vec<Tally> = site.zones.iter().map(|_| Tally::default()).collect();
    for row in &plan.rows {
        let master_goes_on = site
            .master_of(row.zone)
            .is_some_and(|master| zones[master.0].lit_already == Some(row.evening));
        zones[row.zone.0].count(site, row, master_goes_on);
    }
    let mut zones: Vec<ZoneSeason> = zones
        .into_iter()
        .enumerate()
        .map(|(index, tally)| tally.close(site, ZoneId(index)))
        .collect();
    standby(site, &plan, from, to, &mut zones);
    Ok(Season {
        clock_changes: clock_changes(site, from, to),
        nights: nights::nights(site, &plan)?,
        from,
        to,
        plan,
        zones,
    })
}

fn clock_changes(site: &Site, from: NaiveDate, to: NaiveDate) -> Vec<(NaiveDate, ClockChange)> {
    let (begins, ends) = (Evening::of(site, from).begins, Evening::of(site, to).ends);
    let changes = site.timezone.transitions_between(begins, ends);
    changes
        .into_iter()
        .filter(|change| change.shift_s() != 0)
        .map(|change| {
            let local = site.timezone.to_local(change.at - TimeDelta::hours(12));
            (local.date(), change)
        })
        .collect()
}

/// A zone's running totals, evening by evening.
#[derive(Default)]
struct Tally {
    sum: ZoneSeason,
    /// Earliest and latest switch-on, counted from midnight before the evening.
    on_range: Option<(TimeDelta, TimeDelta)>,
    evening: Option<NaiveDate>,
    evening_s: f64,
    /// Whether this evening had a lit row yet.
    lit: bool,
    /// Why the other windows of this evening are dark.
    evening_dark: Vec<Reason>,
    follows: bool,
    /// When the last light ends: a row that begins by then continues it.
    lit_until: Option<DateTime<Utc>>,
    /// The last evening that began with light left over from the one before.
    lit_already: Option<NaiveDate>,
}

impl Tally {
    /// Adds a row; `master_goes_on`: the master of a slave was lit already when the evening began.
    fn count(&mut self, site: &Site, row: &Row, master_goes_on: bool) {
        if self.evening != Some(row.evening) {
            self.end_evening(site);
            self.evening = Some(row.evening);
            self.follows = true;
            self.lit = false;
            self.month(row.evening);
        }
        self.follows &= row.follows != Some(false);
        let Some(on) = row.on else {
            self.evening_dark.push(row.why_on);
            return;
        };
        let first = !self.lit;
        self.lit = true;
        // A dawn with an offset can reach into the next evening; no second is counted twice.
        let overlap = self.lit_until.map_or(TimeDelta::zero(), |until| until - on);
        let overlap_s = overlap.max(TimeDelta::zero()).as_seconds_f64();
        self.evening_s += (row.lit_s(site) - overlap_s).max(0.0);
        // Through the polar night, and where a relay does not let go, a zone is lit for days: it does not go
        // off at noon only to go on again.
        let lit_already =
            first && (self.lit_until.is_some_and(|until| on <= until) || master_goes_on);
        self.lit_until = self.lit_until.max(row.lit_until(site));
        if lit_already {
            self.lit_already = Some(row.evening);
        }
        if lit_already || row.off.is_none() {
            return;
        }
        self.sum.switchings += 2;
        if matches!(site[row.zone].switching, Switching::Follows(_)) {
            self.sum.relay_operations += 1;
        }
        // A second window does not count for the evening's switch-on time.
        if !first {
            return;
        }
        // By the clock on the wall, so a night with a clock change does not count as an hour later.
        let by_clock = site.timezone.to_local(on) - row.evening.and_time(NaiveTime::MIN);
        let (earliest, latest) = self.on_range.get_or_insert((by_clock, by_clock));
        if by_clock <= *earliest {
            (*earliest, self.sum.earliest_on) = (by_clock, Some(on));
        }
        if by_clock >= *latest {
            (*latest, self.sum.latest_on) = (by_clock, Some(on));
        }
    }

    fn month(&mut self, evening: NaiveDate) {
        let same = |month: &Month| {
            (month.first.year(), month.first.month()) == (evening.year(), evening.month())
        };
        if !self.sum.months.last().is_some_and(same) {
            self.sum.months.push(Month {
                first: evening,
                nights_lit: 0,
                lit_s: 0.0,
                lit_kwh: 0.0,
            });
        }
    }

    fn end_evening(&mut self, site: &Site) {
        let Some(evening) = self.evening.take() else {
            return;
        };
        let lit_s = std::mem::take(&mut self.evening_s);
        self.sum.nights_not_following += u32::from(!self.follows);
        if !self.lit {
            let mut kinds: Vec<String> = Vec::new();
            for reason in self.evening_dark.drain(..) {
                let kind = reason.kind(site);
                if !kinds.contains(&kind) {
                    kinds.push(kind);
                }
            }
            *self.sum.nights_dark.entry(kinds.join("; ")).or_default() += 1;
            return;
        }
        self.evening_dark.clear();
        self.sum.nights_lit += 1;
        self.sum.lit_s += lit_s;
        if self.sum.longest.is_none_or(|(_, most_s)| lit_s > most_s) {
            self.sum.longest = Some((evening, lit_s));
        }
        if self.sum.shortest.is_none_or(|(_, least_s)| lit_s < least_s) {
            self.sum.shortest = Some((evening, lit_s));
        }
        if let Some(month) = self.sum.months.last_mut() {
            month.nights_lit += 1;
            month.lit_s += lit_s;
        }
    }

    fn close(mut self, site: &Site, id: ZoneId) -> ZoneSeason {
        self.end_evening(site);
        let zone = &site[id];
        let input_w = zone.lamp_w() / site[zone.supply].efficiency;
        for month in &mut self.sum.months {
            month.lit_kwh = input_w * month.lit_s / J_PER_KWH;
        }
        self.sum.lit_kwh = input_w * self.sum.lit_s / J_PER_KWH;
        self.sum
    }
}

/// Standby counts whenever no zone of a supply is lit; it is booked on the supply's first zone.
fn standby(site: &Site, plan: &Plan, from: NaiveDate, to: NaiveDate, zones: &mut [ZoneSeason]) {
    let whole_s = (Evening::of(site, to).ends - Evening::of(site, from).begins).as_seconds_f64();
    for (index, supply) in site.supplies.iter().enumerate() {
        let mine = |zone: ZoneId| site[zone].supply.0 == index;
        let Some(first) = (0..zones.len()).find(|zone| mine(ZoneId(*zone))) else {
            continue;
        };
        let lone = (0..zones.len()).filter(|zone| mine(ZoneId(*zone))).count() == 1;
        let lit_s = if lone {
            zones[first].lit_s
        } else {
            lit_together_s(site, plan, mine)
        };
        zones[first].standby_kwh = supply.standby_w * (whole_s - lit_s).max(0.0) / J_PER_KWH;
    }
}

/// Time during which any of the zones is lit [s].
fn lit_together_s(site: &Site, plan: &Plan, mine: impl Fn(ZoneId) -> bool) -> f64 {
    let mut lit: Vec<(DateTime<Utc>, DateTime<Utc>)> = plan
        .rows
        .iter()
        .filter(|row| mine(row.zone))
        .filter_map(|row| row.on.zip(row.lit_until(site)))
        .collect();
    lit.sort_unstable();
    let mut sum = TimeDelta::zero();
    let mut reached = DateTime::<Utc>::MIN_UTC;
    for (on, off) in lit {
        if off > reached {
            sum += off - on.max(reached);
            reached = off;
        }
    }
    sum.as_seconds_f64()
}

/// The evenings of a year from `today`, up to the day before the same date next year; from 29 February, up to
/// 28 February.
pub fn year_from(today: NaiveDate) -> RangeInclusive<NaiveDate> {
    let next = today
        .with_year(today.year() + 1)
        .unwrap_or_else(|| today + Days::new(366));
    today..=next - Days::new(1)
}
