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
//! earth give one place of the sun per day; a cubic joins them. The `sunrise` crate gives the first estimate of an event,
//! which is then refined until it is below a microsecond. Whether an event happens at all is read off the exact extremes
//! of the half.
//!
//! **How well.** Within max(0.5 s, 3″ / rate of climb) of the JPL ephemeris DE421 between 1950 and 2050, and never a
//! missed or invented event unless the sun only comes within 1″ of the altitude. From 2028 on UTC is taken as UT1,
//! which it may leave by 0.9 s or more.

mod course;
mod earth_rotation;
mod event;
mod harmonics;
mod place;
mod position;
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

use chrono::{DateTime, Datelike, NaiveDate, Utc};

/// The years of the local solar dates that the almanac answers for.
pub const YEARS: RangeInclusive<i32> = 1950..=2100;

/// A question the almanac does not answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AlmanacError {
    /// Nearer to a pole than 1°, where morning and evening mean little, or not a latitude [°].
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

/// Day number and the part of the UTC day gone by.
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
