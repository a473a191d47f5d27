//! Evenings as stretches of time, and the sun of each.

use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveTime, TimeDelta, Timelike, Utc};

use crate::almanac::{AlmanacError, Half, Occurrence, SolarDay, SunTable};
use crate::site::{Site, SunMark};

use crate::civil_time::Resolved;

/// Noon: one evening ends and the next begins.
const NOON: NaiveTime = NaiveTime::from_hms_opt(12, 0, 0).expect("noon is a time of day");

fn noon_of(site: &Site, date: NaiveDate) -> DateTime<Utc> {
    site.timezone.resolve(date.and_time(NOON)).utc
}

/// The stretch of time that holds the clock times of one evening.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Evening {
    /// Its name.
    pub date: NaiveDate,
    /// Noon of that date.
    pub begins: DateTime<Utc>,
    /// Noon of the next date.
    pub ends: DateTime<Utc>,
}

impl Evening {
    pub fn of(site: &Site, date: NaiveDate) -> Self {
        Self {
            date,
            begins: noon_of(site, date),
            ends: noon_of(site, date + Days::new(1)),
        }
    }

    pub fn at(site: &Site, utc: DateTime<Utc>) -> Self {
        let local = site.timezone.to_local(utc);
        if local.hour() >= 12 {
            return Self::of(site, local.date());
        }
        let yesterday = Self::of(site, local.date() - Days::new(1));
        if yesterday.never_was() {
            return Self::of(site, local.date() - Days::new(2));
        }
        yesterday
    }

    /// Whether the clocks skipped its date, as in Apia on 2011-12-30 when Samoa crossed the date line: the
    /// evening before ends at the noon when the one after begins.
    pub fn never_was(&self) -> bool {
        self.begins >= self.ends
    }

    pub(super) fn next(&self, site: &Site) -> Self {
        let date = self.date + Days::new(1);
        Self {
            date,
            begins: self.ends,
            ends: noon_of(site, date + Days::new(1)),
        }
    }

    /// The instant of a clock time: from noon on it is on this date, before noon on the next.
    pub fn clock(&self, site: &Site, time: NaiveTime) -> DateTime<Utc> {
        self.resolve(site, time).utc
    }

    /// The same, and whether the clocks show that time once, twice or never.
    pub(super) fn resolve(&self, site: &Site, time: NaiveTime) -> Resolved {
        let date = if time.hour() >= 12 {
            self.date
        } else {
            self.date + Days::new(1)
        };
        site.timezone.resolve(date.and_time(time))
    }

    /// Whether the clocks change during it.
    pub fn has_clock_change(&self, site: &Site) -> bool {
        let zone = &site.timezone;
        zone.offset_at(self.begins).utc_offset_s != zone.offset_at(self.ends).utc_offset_s
    }
}

/// The evening that is on, or comes next, at an instant. Before noon it is still yesterday's evening if one of
/// its zones is lit, according to `lit_until` of yesterday's plan.
pub fn evening_at(
    site: &Site,
    now: DateTime<Utc>,
    lit_until: impl Fn(NaiveDate) -> Option<DateTime<Utc>>,
) -> NaiveDate {
    let today = site.timezone.to_local(now).date();
    let evening = Evening::at(site, now).date;
    if evening == today {
        return today;
    }
    match lit_until(evening) {
        Some(until) if until > now => evening,
        _ => today,
    }
}

/// The two solar days that an evening touches, worked out when first asked for.
///
/// The almanac counts days by the sun. The evening of civil date D follows the solar noon that falls on D. In a
/// zone far from its meridian, that noon belongs to another solar date.
pub(super) struct SunOf<'a> {
    site: &'a Site,
    table: &'a SunTable,
    solar_date: NaiveDate,
    /// One slot for even dates, one for odd: the morning after one evening belongs to the next day.
    days: [Option<(NaiveDate, SolarDay)>; 2],
}

impl<'a> SunOf<'a> {
    pub(super) fn new(site: &'a Site, table: &'a SunTable, evening: &Evening) -> Self {
        let mut sun = Self {
            site,
            table,
            solar_date: evening.date,
            days: [None; 2],
        };
        sun.turn_to(evening);
        sun
    }

    /// Answers for this evening from now on.
    pub(super) fn turn_to(&mut self, evening: &Evening) {
        let offset_s = self.site.timezone.offset_at(evening.begins).utc_offset_s;
        let ahead_of_sun_h = f64::from(offset_s) / 3600.0 - self.site.place.longitude_deg() / 15.0;
        #[expect(clippy::cast_possible_truncation, reason = "at most a day or two")]
        let days = (ahead_of_sun_h / 24.0).round() as i64;
        self.solar_date = evening.date - TimeDelta::days(days);
    }

    /// Whether and when the sun passes a mark: setting in the evening, rising on the morning after.
    pub(super) fn passage(
        &mut self,
        mark: SunMark,
        half: Half,
    ) -> Result<Occurrence, AlmanacError> {
        let day = self.day(half)?;
        Ok(match mark {
            SunMark::Event(event) => day.event(event),
            SunMark::Altitude(altitude) => day.passage(half, altitude),
        })
    }

    /// When the sun stands lowest between this evening and the morning after.
    pub(super) fn lowest(&mut self) -> Result<DateTime<Utc>, AlmanacError> {
        Ok(self.day(Half::Evening)?.lowest()[1])
    }

    /// The solar day of the evening, or of the morning after.
    fn day(&mut self, half: Half) -> Result<&SolarDay, AlmanacError> {
        let date = match half {
            Half::Evening => self.solar_date,
            Half::Morning => self.solar_date + Days::new(1),
        };
        let slot = &mut self.days[usize::from(date.num_days_from_ce() % 2 != 0)];
        if slot.is_none_or(|(of, _)| of != date) {
            *slot = Some((date, self.table.day(self.site.place, date)?));
        }
        Ok(&slot.as_ref().expect("it was just made").1)
    }
}
