//! One local solar date at one place.

use std::f64::consts::FRAC_PI_2;

use chrono::{DateTime, Datelike, NaiveDate, TimeDelta, Utc};

use super::course::{Course, Extreme, Moment, Search};
use super::earth_rotation::tt_minus_utc_s;
use super::first_estimate::FirstEstimate;
use super::position::Frame;
use super::sky::{DailyPlace, Path, four_places};
use super::{
    AlmanacError, Half, Occurrence, Place, SunEvent, check_year, day_number, unix_seconds,
};

/// The sun's course over one place on one local solar date.
///
/// It holds the work shared by all events of the day.
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
    first_estimate: FirstEstimate,
    /// Two days before the base day, so that truncating the time elapsed since then always rounds down.
    start: DateTime<Utc>,
    /// TT − UTC [s] before the day begins.
    tt_minus_utc_s: f64,
    /// Whether TT − UTC stays the same for the whole day.
    utc_is_steady: bool,
}

/// A passage to find: the altitude [rad] and its sine.
#[derive(Debug, Clone, Copy)]
struct Wanted {
    half: Half,
    altitude: f64,
    sin: f64,
}

impl SolarDay {
    /// The day of a local solar date in [`YEARS`](super::YEARS).
    ///
    /// For many days or places, [`SunTable::day`](super::SunTable::day) gives the same at less cost.
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
        // Mean noon comes at (180° - longitude) / 360° of the UTC date; only at -180° is that the next date.
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
        let around = [base - 1, base + 2].map(|day| tt_minus_utc_s(f64::from(day)));
        Self {
            base,
            course,
            parallax: frame.height_above_centre_au / path.distance_au,
            transit,
            lowest_before: course.extreme_near(course.half_a_day(transit, -1.0)),
            highest,
            lowest_after: course.extreme_near(course.half_a_day(transit, 1.0)),
            first_estimate: FirstEstimate::new(place, date),
            start: DateTime::from_timestamp(unix_seconds(base - 2), 0)
                .expect("the years of the almanac are years of chrono"),
            tt_minus_utc_s: around[0],
            utc_is_steady: (around[0] - around[1]).abs() < 1e-9,
        }
    }

    /// Whether and when an event happens.
    pub fn event(&self, event: SunEvent) -> Occurrence {
        let [occurrence] = self.passages([event.into()]);
        occurrence
    }

    /// All events in the order of [`SunEvent::ALL`].
    pub fn events(&self) -> [Occurrence; 8] {
        self.passages(SunEvent::ALL.map(Wanted::from))
    }

    /// Whether and when the sun's centre passes an altitude [°] in one half of the day.
    ///
    /// # Panics
    /// If the altitude is not a number.
    pub fn passage(&self, half: Half, altitude_deg: f64) -> Occurrence {
        assert!(!altitude_deg.is_nan(), "an altitude is a number");
        let altitude = altitude_deg.to_radians().clamp(-FRAC_PI_2, FRAC_PI_2);
        let [occurrence] = self.passages([Wanted {
            half,
            altitude,
            sin: altitude.sin(),
        }]);
        occurrence
    }

    /// In stages, each for all passages: see [`Course::looks`]. A passage that never happens gets a look too,
    /// at noon.
    fn passages<const N: usize>(&self, wanted: [Wanted; N]) -> [Occurrence; N] {
        let searches = wanted.map(|wanted| self.search(wanted));
        let starts: [f64; N] =
            std::array::from_fn(|i| searches[i].as_ref().map_or(0.0, |search| search.start));
        let looks = self.course.looks(starts);
        std::array::from_fn(|i| match &searches[i] {
            Ok(search) => Occurrence::At(self.utc(self.course.crossing(search, looks[i]))),
            Err(never) => *never,
        })
    }

    /// Where to search for a passage, or why there is none.
    fn search(&self, wanted: Wanted) -> Result<Search, Occurrence> {
        let Wanted {
            half,
            altitude,
            sin,
        } = wanted;
        // From the surface the sun stands lower than from the centre by parallax × cos(altitude): in the sine, × cos².
        let target = sin + self.parallax * (1.0 - sin * sin);
        let lowest = match half {
            Half::Morning => &self.lowest_before,
            Half::Evening => &self.lowest_after,
        };
        if lowest.sin_altitude >= target {
            return Err(Occurrence::StaysAbove);
        }
        if self.highest.sin_altitude <= target {
            return Err(Occurrence::StaysBelow);
        }
        let (below, above) = (lowest.moment.time, self.highest.moment.time);
        let start = self
            .first_estimate
            .passage(half, altitude)
            .map(|instant| self.time(instant))
            // Close to an extreme the crate may place it in the other half.
            .filter(|&time| below.min(above) < time && time < below.max(above))
            .unwrap_or_else(|| Course::estimate(lowest, &self.highest, target));
        Ok(Search {
            target,
            below,
            above,
            start,
        })
    }

    /// Solar noon: the sun's passage through the meridian, as in printed almanacs.
    ///
    /// The highest sun, by which days are counted, comes up to 30 s earlier or later at middle latitudes, and
    /// up to a quarter of an hour at 89°.
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

    /// The time in this day of a UTC instant, to the second.
    fn time(&self, instant: DateTime<Utc>) -> f64 {
        let since_start_s = (instant.timestamp() - self.start.timestamp()) as f64;
        (since_start_s + self.tt_minus_utc_s) * (1.0 / 86_400.0) - 2.5
    }

    /// The UTC instant of a time in this day.
    fn utc(&self, time: f64) -> DateTime<Utc> {
        let tt_minus_utc_s = if self.utc_is_steady {
            self.tt_minus_utc_s
        } else {
            let day = f64::from(self.base) + 0.5 + time;
            tt_minus_utc_s(day - tt_minus_utc_s(day) / 86_400.0)
        };
        let seconds = (time + 2.5) * 86_400.0 - tt_minus_utc_s;
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a few days in microseconds"
        )]
        let microseconds = (seconds * 1e6 + 0.5) as i64;
        self.start + TimeDelta::microseconds(microseconds)
    }
}

impl From<SunEvent> for Wanted {
    fn from(event: SunEvent) -> Self {
        Self {
            half: event.half(),
            altitude: event.altitude_deg().to_radians(),
            sin: event.sin_altitude(),
        }
    }
}
