//! When the sun rises, sets and passes the twilight angles, and where it stands in between.
//!
//! **What is computed.** The altitude of the sun's centre as seen from the surface of the WGS 84 ellipsoid at height 0 m,
//! with no refraction: the convention behind printed almanacs, whose angles ([`SunEvent`]) hold the usual refraction in
//! them. Real refraction near the horizon varies by minutes of arc, which is minutes of time in high latitudes; hills and
//! trees add more.
//!
//! **Which day.** Every question names a *local solar date* D: the day whose highest sun is the one nearest to
//! D 12:00 UTC − longitude / 15° h. Its morning runs from the altitude minimum before that maximum to it, its evening
//! on to the next minimum, so that each half holds an altitude at most once. An event may fall on another civil or UTC
//! date than D. At longitude +180° and −180° the same D means days 24 h apart.
//!
//! **How.** VSOP87 as printed in the NREL solar position algorithm, nutation, aberration and the observed rotation of the
//! earth give one place of the sun per day; a cubic joins them. Whether an event happens at all is read off the exact
//! altitude extremes of the half. The `sunrise` crate, which is good to minutes, gives the first estimate of its time,
//! which is then refined to ten microseconds; where the crate knows no event, next to the extremes, the extremes give the
//! estimate. The crate's own answer is there as [`second_opinion`].
//!
//! **How well.** Within max(0.5 s, 3″ / rate of climb) of the JPL ephemeris DE421 between 1950 and 2050 (within 0.13 s in
//! 8 025 tests, where the sun climbs by more than 2″ a second), and never a missed or invented event unless the sun comes
//! within 1″ of the altitude without quite deciding. Up to 2100 positions are within 0.3″ of the NREL algorithm. From
//! 2028 on UTC is taken as UT1, from which it may stray by 0.9 s or whatever is decided by then.

mod course;
mod earth_rotation;
mod event;
mod first_estimate;
mod harmonics;
mod place;
mod position;
#[cfg(test)]
mod published;
mod sine;
mod sky;
mod solar_day;
mod table;
mod terms;

pub use event::{Half, Occurrence, SunEvent};
pub use place::Place;
pub use position::SunPosition;
pub use solar_day::SolarDay;
pub use table::SunTable;

use std::fmt;
use std::ops::RangeInclusive;

use chrono::{DateTime, Datelike, NaiveDate, TimeDelta, Utc};

use first_estimate::FirstEstimate;

/// The years of the local solar dates that the almanac answers for.
pub const YEARS: RangeInclusive<i32> = 1950..=2100;

/// A question that the almanac does not answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AlmanacError {
    /// A latitude closer to a pole than 1°, where morning and evening mean little, or no latitude at all [°].
    Latitude(f64),
    /// Not a longitude from −180° to +180° [°].
    Longitude(f64),
    /// A date or instant outside [`YEARS`], for which the theory was not checked.
    Year(i32),
    /// A date that the [`SunTable`] at hand was not made for.
    NotInTable(NaiveDate),
}

impl fmt::Display for AlmanacError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Latitude(deg) => write!(
                f,
                "latitude {deg} is not between -89 and 89 degrees (north is positive)"
            ),
            Self::Longitude(deg) => write!(
                f,
                "longitude {deg} is not between -180 and 180 degrees (east is positive)"
            ),
            Self::Year(year) => {
                write!(
                    f,
                    "no sun times for the year {year}, only for {} to {}",
                    YEARS.start(),
                    YEARS.end()
                )
            }
            Self::NotInTable(date) => {
                write!(f, "the table of the sun's places does not hold {date}")
            }
        }
    }
}

impl std::error::Error for AlmanacError {}

/// The same event by the `sunrise` crate: an independent formula, good to a few minutes, worse where the sun climbs slowly.
///
/// Its time differs from [`SolarDay::event`]'s by less than 0.7° of altitude in the years 2020 to 2030. This
/// bound tells a blunder from the crate's known errors: it leaves out precession, so it gets worse by the year,
/// and it keeps the declination of noon. `None` where the crate knows no event; close to polar day and night it
/// can be wrong about that.
pub fn second_opinion(place: Place, date: NaiveDate, event: SunEvent) -> Option<DateTime<Utc>> {
    FirstEstimate::new(place, date).passage(event.half(), event.altitude_deg().to_radians())
}

/// Day number, counted from 2000-01-01.
fn day_number(date: NaiveDate) -> i32 {
    // 2000-01-01 is day 730 120 of the common era.
    date.num_days_from_ce() - 730_120
}

/// Seconds from the Unix epoch to the start of a day number.
fn unix_seconds(day: i32) -> i64 {
    // 10 957 days from 1970-01-01 to 2000-01-01.
    (i64::from(day) + 10_957) * 86_400
}

/// Day number, and the elapsed fraction of the UTC day.
fn day_and_fraction(instant: DateTime<Utc>) -> (i32, f64) {
    let midnight = instant.date_naive();
    let day = day_number(midnight);
    let into_day = instant.timestamp() - unix_seconds(day);
    let seconds = into_day as f64 + f64::from(instant.timestamp_subsec_nanos()) * 1e-9;
    (day, seconds / 86_400.0)
}

fn check_year(year: i32) -> Result<(), AlmanacError> {
    if YEARS.contains(&year) {
        Ok(())
    } else {
        Err(AlmanacError::Year(year))
    }
}

/// Accepts instants as far as events of the first and last date may reach.
fn check_instant(instant: DateTime<Utc>) -> Result<(), AlmanacError> {
    const MARGIN: TimeDelta = TimeDelta::days(2);
    let inside = |shifted: Option<DateTime<Utc>>| {
        shifted.is_some_and(|instant| YEARS.contains(&instant.year()))
    };
    if inside(instant.checked_add_signed(MARGIN)) || inside(instant.checked_sub_signed(MARGIN)) {
        Ok(())
    } else {
        Err(AlmanacError::Year(instant.year()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn day_numbers_count_from_the_year_2000() {
        for (date, day) in [
            ("2000-01-01", 0),
            ("1999-12-31", -1),
            ("1972-01-01", -10227),
            ("2028-01-01", 10227),
        ] {
            let date: NaiveDate = date.parse().unwrap();
            assert_eq!(day_number(date), day);
            assert_eq!(
                unix_seconds(day),
                date.and_hms_opt(0, 0, 0).unwrap().and_utc().timestamp()
            );
        }
    }

    #[test]
    fn years_outside_are_refused() {
        let place = Place::new(50.0, 8.0).unwrap();
        let date = |text: &str| text.parse::<NaiveDate>().unwrap();
        for (text, year) in [
            ("1949-12-31", 1949),
            ("2101-01-01", 2101),
            ("-0001-01-01", -1),
        ] {
            assert_eq!(
                SolarDay::new(place, date(text)).err(),
                Some(AlmanacError::Year(year))
            );
        }
        assert!(SolarDay::new(place, date("1950-01-01")).is_ok());
        assert!(SolarDay::new(place, date("2100-12-31")).is_ok());
        for (text, good) in [
            ("1949-12-29T23:00:00Z", false),
            ("1949-12-31T12:00:00Z", true),
            ("2101-01-02T12:00:00Z", true),
            ("2101-01-03T01:00:00Z", false),
        ] {
            assert_eq!(
                SunPosition::at(place, text.parse().unwrap()).is_ok(),
                good,
                "{text}"
            );
        }
        assert!(SunPosition::at(place, DateTime::<Utc>::MAX_UTC).is_err());
        assert!(SunPosition::at(place, DateTime::<Utc>::MIN_UTC).is_err());
    }

    #[test]
    fn a_table_answers_only_for_its_dates() {
        let date = |text: &str| text.parse::<NaiveDate>().unwrap();
        let table = SunTable::for_dates(date("2026-03-01")..=date("2026-03-03")).unwrap();
        for longitude in [-180.0, -179.9, 0.0, 180.0] {
            let place = Place::new(0.0, longitude).unwrap();
            for inside in ["2026-03-01", "2026-03-03"] {
                assert!(
                    table.day(place, date(inside)).is_ok(),
                    "{inside} at {longitude}"
                );
            }
            for outside in ["2026-02-27", "2026-03-06"] {
                assert_eq!(
                    table.day(place, date(outside)).err(),
                    Some(AlmanacError::NotInTable(date(outside)))
                );
            }
        }
        let empty = SunTable::for_dates(date("2026-03-03")..=date("2026-02-01")).unwrap();
        assert!(
            empty
                .day(Place::new(0.0, 0.0).unwrap(), date("2026-03-03"))
                .is_err()
        );
    }
}
