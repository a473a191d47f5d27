//! One local solar date at one place.

use std::f64::consts::FRAC_PI_2;

use chrono::{DateTime, Datelike, NaiveDate, Utc};

use super::course::{Course, Extreme, Moment};
use super::earth_rotation::tt_minus_utc_s;
use super::position::Frame;
use super::sky::{DailyPlace, Path, four_places};
use super::{
    AlmanacError, Half, Occurrence, Place, SunEvent, check_year, day_number, unix_seconds,
};

/// The sun's course over one place on one local solar date.
///
/// Holds the work that all events of the day share.
#[derive(Debug, Clone, Copy)]
pub struct SolarDay {
    /// Day number whose noon TT the times of the course count from.
    base: i32,
    course: Course,
    /// The sine of the sun's horizontal parallax at the place.
    parallax: f64,
    transit: Moment,
    lowest_before: Extreme,
    highest: Extreme,
    lowest_after: Extreme,
    /// TT − UTC [s], if it is the same for the whole day.
    tt_minus_utc_s: Option<f64>,
}

impl SolarDay {
    /// The day of a local solar date in [`YEARS`](super::YEARS).
    ///
    /// For many days or places, [`SunTable::day`](super::SunTable::day) gives the same for less.
    pub fn new(place: Place, date: NaiveDate) -> Result<Self, AlmanacError> {
        check_year(date.year())?;
        let places = four_places(Self::first_place(place, date));
        Ok(Self::from_places(place, date, &places))
    }

    /// Day number of the first of the four places that the day needs.
    pub(super) fn first_place(place: Place, date: NaiveDate) -> i32 {
        Self::base(place, date) - 1
    }

    /// The UTC day that holds the local mean noon.
    fn base(place: Place, date: NaiveDate) -> i32 {
        // Mean noon comes at (180° - longitude) / 360° of the UTC date; only at -180° is that the next one.
        day_number(date) + i32::from(place.longitude_deg() <= -180.0)
    }

    pub(super) fn from_places(place: Place, date: NaiveDate, places: &[DailyPlace; 4]) -> Self {
        let base = Self::base(place, date);
        let frame = Frame::new(place, f64::from(base));
        let path = Path::through(places);
        let course = Course::new(frame, &path);

        let mean_noon = f64::from(day_number(date) - base) - place.longitude_deg() / 360.0;
        let transit = course.towards_transit(course.moment(mean_noon));
        let highest = course.extreme_near(transit);
        Self {
            base,
            course,
            parallax: frame.height_above_centre_au / path.distance_au,
            transit,
            lowest_before: course.extreme_near(course.half_a_day(transit, -1.0)),
            highest,
            lowest_after: course.extreme_near(course.half_a_day(transit, 1.0)),
            tt_minus_utc_s: steady_tt_minus_utc_s(base),
        }
    }

    /// Whether and when an event happens.
    pub fn event(&self, event: SunEvent) -> Occurrence {
        self.passage_of_sine(event.half(), event.sin_altitude())
    }

    /// All events in the order of [`SunEvent::ALL`].
    pub fn events(&self) -> [Occurrence; 8] {
        SunEvent::ALL.map(|event| self.event(event))
    }

    /// Whether and when the sun's centre passes an altitude [°] in one half of the day.
    ///
    /// # Panics
    /// If the altitude is not a number.
    pub fn passage(&self, half: Half, altitude_deg: f64) -> Occurrence {
        assert!(!altitude_deg.is_nan(), "an altitude is a number");
        let altitude = altitude_deg.to_radians().clamp(-FRAC_PI_2, FRAC_PI_2);
        self.passage_of_sine(half, altitude.sin())
    }

    fn passage_of_sine(&self, half: Half, sin_altitude: f64) -> Occurrence {
        // From the surface the sun stands lower than from the centre by parallax × cos(altitude): in the sine, × cos².
        let target = sin_altitude + self.parallax * (1.0 - sin_altitude * sin_altitude);
        let lowest = match half {
            Half::Morning => &self.lowest_before,
            Half::Evening => &self.lowest_after,
        };
        if lowest.sin_altitude >= target {
            Occurrence::StaysAbove
        } else if self.highest.sin_altitude <= target {
            Occurrence::StaysBelow
        } else {
            Occurrence::At(self.utc(self.course.crossing(lowest, &self.highest, target)))
        }
    }

    /// Solar noon: the sun's passage through the meridian, which is what almanacs print.
    ///
    /// The highest sun, which the day is counted by, comes up to 30 s earlier or later at middle latitudes, and up to a
    /// quarter of an hour at 89°.
    pub fn solar_noon(&self) -> DateTime<Utc> {
        self.utc(self.course.towards_transit(self.transit).time)
    }

    /// When the sun stands highest.
    pub fn highest(&self) -> DateTime<Utc> {
        self.utc(self.highest.moment.time)
    }

    /// When the sun stands lowest before [`highest`](Self::highest), and when after it: the ends of the day's halves.
    pub fn lowest(&self) -> [DateTime<Utc>; 2] {
        [
            self.utc(self.lowest_before.moment.time),
            self.utc(self.lowest_after.moment.time),
        ]
    }

    /// The UTC instant of a time in this day.
    fn utc(&self, time: f64) -> DateTime<Utc> {
        let tt_minus_utc_s = self.tt_minus_utc_s.unwrap_or_else(|| {
            let day = f64::from(self.base) + 0.5 + time;
            tt_minus_utc_s(day - tt_minus_utc_s(day) / 86_400.0)
        });
        // Counted from two days before, so that cutting off a fraction always rounds down.
        let seconds = (time + 2.5) * 86_400.0 - tt_minus_utc_s;
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a few days in microseconds"
        )]
        let microseconds = (seconds * 1e6 + 0.5) as i64;
        DateTime::from_timestamp_micros(unix_seconds(self.base - 2) * 1_000_000 + microseconds)
            .expect("the years of the almanac are years of chrono")
    }
}

/// TT − UTC [s] around a base day, unless it changes in that time.
fn steady_tt_minus_utc_s(base: i32) -> Option<f64> {
    let (before, after) = (
        tt_minus_utc_s(f64::from(base - 1)),
        tt_minus_utc_s(f64::from(base + 2)),
    );
    ((before - after).abs() < 1e-9).then_some(before)
}
