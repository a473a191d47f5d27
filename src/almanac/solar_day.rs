//! One solar day at one place: its highest and lowest sun, and the passages between them.

use std::f64::consts::{FRAC_PI_2, PI};

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use sunrise::{Coordinates, SolarEvent};

use super::earth_rotation::{SIDEREAL_RATE, tt_minus_utc_s};
use super::position::Frame;
use super::sky::{Cubic, DailyPlace, Path, four_places};
use super::{
    AlmanacError, Half, Occurrence, Place, SunEvent, check_year, day_number, unix_seconds,
};

/// A step this small [days] ends a search: what it leaves is its cube or so, far below a microsecond.
const LAST_STEP_DAYS: f64 = 1e-7;

/// The sun's course over one place on one local solar date.
///
/// Holds the work that all events of the day share. Times inside are days of TT from noon TT of a base day, and
/// altitudes are sines of the altitude seen from the earth's centre.
#[derive(Debug, Clone, Copy)]
pub struct SolarDay {
    /// Day number of the base day.
    base: i32,
    frame: Frame,
    /// The sun's direction, x and y times the cosine of the latitude and z times its sine.
    x: Cubic,
    y: Cubic,
    z: Cubic,
    /// The sine of the sun's horizontal parallax at the place.
    parallax: f64,
    /// First estimate of the highest sun: the hour angle is zero there [days].
    transit: f64,
    lowest_before: Extreme,
    highest: Extreme,
    lowest_after: Extreme,
    /// First estimates.
    rough: sunrise::SolarDay,
}

/// A highest or lowest point.
#[derive(Debug, Clone, Copy)]
struct Extreme {
    time: f64,
    sin_altitude: f64,
}

/// The sine of the altitude and how it changes per day.
#[derive(Debug, Clone, Copy)]
struct Climb {
    value: f64,
    slope: f64,
    curvature: f64,
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
        let rough = Coordinates::new(place.latitude_deg(), place.longitude_deg())
            .expect("a `Place` is a latitude and a longitude");
        let nowhere = Extreme {
            time: 0.0,
            sin_altitude: 0.0,
        };
        let mut day = Self {
            base,
            frame,
            x: path.x.scaled(frame.cos_latitude),
            y: path.y.scaled(frame.cos_latitude),
            z: path.z.scaled(frame.sin_latitude),
            parallax: frame.height_above_centre_au / path.distance_au,
            transit: 0.0,
            lowest_before: nowhere,
            highest: nowhere,
            lowest_after: nowhere,
            rough: sunrise::SolarDay::new(rough, date),
        };
        let mean_noon = f64::from(day_number(date) - base) - place.longitude_deg() / 360.0;
        day.transit = day.transit_near(day.transit_near(mean_noon));
        day.highest = day.extreme_near(day.transit);
        day.lowest_before = day.extreme_near(2.0 * day.transit - day.highest.time - 0.5);
        day.lowest_after = day.extreme_near(2.0 * day.transit - day.highest.time + 0.5);
        day
    }

    /// Whether and when an event happens.
    pub fn event(&self, event: SunEvent) -> Occurrence {
        self.passage(event.half(), event.altitude_deg())
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
        // From the surface the sun stands lower than from the centre by parallax × cos(altitude): in the sine, × cos².
        let sin_altitude = altitude.sin();
        let target = sin_altitude + self.parallax * (1.0 - sin_altitude * sin_altitude);
        let lowest = match half {
            Half::Morning => self.lowest_before,
            Half::Evening => self.lowest_after,
        };
        if lowest.sin_altitude >= target {
            Occurrence::StaysAbove
        } else if self.highest.sin_altitude <= target {
            Occurrence::StaysBelow
        } else {
            Occurrence::At(self.utc(self.crossing(lowest, target, self.estimate(half, altitude))))
        }
    }

    /// Solar noon: the sun's passage through the meridian, which is what almanacs print.
    ///
    /// The highest sun, which the day is counted by, comes up to 30 s earlier or later at middle latitudes, and up to a
    /// quarter of an hour at 89°.
    pub fn solar_noon(&self) -> DateTime<Utc> {
        self.utc(self.transit)
    }

    /// When the sun stands highest.
    pub fn highest(&self) -> DateTime<Utc> {
        self.utc(self.highest.time)
    }

    /// The first estimate of a passage, by the `sunrise` crate; it knows none near the extremes.
    fn estimate(&self, half: Half, altitude: f64) -> Option<f64> {
        // Its elevations count downwards, against its documentation (version 3.0.0).
        let event = SolarEvent::Elevation {
            elevation: -altitude,
            morning: half == Half::Morning,
        };
        let seconds = self.rough.event_time(event)?.timestamp() - unix_seconds(self.base);
        Some(seconds as f64 / 86_400.0 - 0.5)
    }

    /// The moment of a sine of altitude that lies between a lowest sun and the highest.
    ///
    /// Halley's steps, which use the curvature too; a bracket keeps them in the half.
    fn crossing(&self, lowest: Extreme, target: f64, estimate: Option<f64>) -> f64 {
        let (mut below, mut above) = (lowest.time, self.highest.time);
        let inside = |time: f64, a: f64, b: f64| (a < time && time < b) || (b < time && time < a);
        let mut time = match estimate {
            Some(time) if inside(time, below, above) => time,
            // Between its extremes the sine of the altitude is nearly a cosine of time.
            _ => {
                let middle = 0.5 * (self.highest.sin_altitude + lowest.sin_altitude);
                let reach = 0.5 * (self.highest.sin_altitude - lowest.sin_altitude);
                let phase = ((target - middle) / reach).clamp(-1.0, 1.0).acos();
                above + (below - above) * phase / PI
            }
        };
        // Halving alone needs 33 turns from half a day down to the last step.
        for _ in 0..40 {
            let Climb {
                value,
                slope,
                curvature,
            } = self.climb(time);
            let miss = value - target;
            if miss < 0.0 {
                below = time;
            } else {
                above = time;
            }
            let newton = -miss / slope;
            let step = newton / (1.0 + 0.5 * newton * curvature / slope);
            if step.abs() < LAST_STEP_DAYS {
                return time + step;
            }
            time += step;
            if !inside(time, below, above) {
                time = 0.5 * (below + above);
            }
        }
        time
    }

    /// The highest or lowest point next to a time.
    fn extreme_near(&self, mut time: f64) -> Extreme {
        let mut sin_altitude = 0.0;
        // The start is within minutes, so that two steps do even at 89°.
        for _ in 0..8 {
            let Climb {
                value,
                slope,
                curvature,
            } = self.climb(time);
            let step = -slope / curvature;
            time += step;
            sin_altitude = value + 0.5 * slope * step;
            // The curve is symmetric about its extreme to third order, so a step leaves about its cube.
            if step.abs() < 1e-3 {
                break;
            }
        }
        Extreme { time, sin_altitude }
    }

    /// One step towards the time at which the hour angle is zero.
    fn transit_near(&self, time: f64) -> f64 {
        let (sin, cos) = self.frame.angle(time).sin_cos();
        let (x, y) = (self.x.value(time), self.y.value(time));
        let (x_slope, y_slope) = (self.x.slope(time), self.y.slope(time));
        let hour_angle = (x * sin - y * cos).atan2(x * cos + y * sin);
        let right_ascension_rate = (x * y_slope - y * x_slope) / (x * x + y * y);
        time - hour_angle / (SIDEREAL_RATE - right_ascension_rate)
    }

    fn climb(&self, time: f64) -> Climb {
        let (sin, cos) = self.frame.angle(time).sin_cos();
        let (x, y) = (self.x.value(time), self.y.value(time));
        let (x_slope, y_slope) = (self.x.slope(time), self.y.slope(time));
        let up = x * cos + y * sin;
        let east = y * cos - x * sin;
        Climb {
            value: self.z.value(time) + up,
            slope: self.z.slope(time) + x_slope * cos + y_slope * sin + SIDEREAL_RATE * east,
            // The curvature of the daily path itself is 10⁻⁴ of this, too little to slow a search down.
            curvature: SIDEREAL_RATE * (2.0 * (y_slope * cos - x_slope * sin) - SIDEREAL_RATE * up),
        }
    }

    /// The UTC instant of a time in this day.
    fn utc(&self, time: f64) -> DateTime<Utc> {
        let day = f64::from(self.base) + 0.5 + time;
        // Just after a leap second the day may not be the one in UTC yet: that instant has no other name in UTC anyway.
        let utc_day = day - tt_minus_utc_s(day) / 86_400.0;
        let seconds = (time + 0.5) * 86_400.0 - tt_minus_utc_s(utc_day);
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a few days in microseconds"
        )]
        let microseconds = (seconds * 1e6).round() as i64;
        DateTime::from_timestamp_micros(unix_seconds(self.base) * 1_000_000 + microseconds)
            .expect("the years of the almanac are years of chrono")
    }
}
