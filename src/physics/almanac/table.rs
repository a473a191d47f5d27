//! The sun's daily places, kept for many days and sites.

use std::ops::RangeInclusive;

use chrono::{DateTime, Datelike, NaiveDate, Utc};

use super::sky::{DailyPlace, daily_places};
use super::{AlmanacError, Place, SolarDay, SunPosition, check_instant, check_year, day_number};

/// The sun's apparent places over a range of dates, shared by all sites.
///
/// A day alone spends a third of its time on the four places it needs; here each place is made once. The answers are
/// those of [`SolarDay::new`] and [`SunPosition::at`], to the microsecond, and the same to the last bit whichever dates
/// a table is made for.
#[derive(Debug, Clone, PartialEq)]
pub struct SunTable {
    /// Day number of the first place.
    first: i32,
    places: Vec<DailyPlace>,
}

impl SunTable {
    /// The places for all local solar dates in `dates`, which may be empty.
    pub fn for_dates(dates: RangeInclusive<NaiveDate>) -> Result<Self, AlmanacError> {
        check_year(dates.start().year())?;
        check_year(dates.end().year())?;
        // A solar date at longitude -180° is centred on the end of that UTC date, and a cubic needs two places
        // on either side.
        let first = day_number(*dates.start()) - 1;
        let last = day_number(*dates.end()) + 3;
        let count = usize::try_from(last - first + 1).unwrap_or(0);
        Ok(Self {
            first,
            places: daily_places(first, count),
        })
    }

    /// The sun's day at a place.
    pub fn day(&self, place: Place, date: NaiveDate) -> Result<SolarDay, AlmanacError> {
        check_year(date.year())?;
        let first = SolarDay::first_place(place, date);
        let places = self.four(first).ok_or(AlmanacError::NotInTable(date))?;
        Ok(SolarDay::from_places(place, date, places))
    }

    /// Position of the sun at an instant.
    ///
    /// The UTC date of the instant, the day before it and the two days after it must be in the table.
    pub fn position(
        &self,
        place: Place,
        instant: DateTime<Utc>,
    ) -> Result<SunPosition, AlmanacError> {
        check_instant(instant)?;
        let date = instant.date_naive();
        let places = self
            .four(day_number(date) - 1)
            .ok_or(AlmanacError::NotInTable(date))?;
        Ok(SunPosition::from_places(place, instant, places))
    }

    fn four(&self, first: i32) -> Option<&[DailyPlace; 4]> {
        let start = usize::try_from(first - self.first).ok()?;
        self.places.get(start..)?.first_chunk()
    }
}
