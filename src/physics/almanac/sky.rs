//! The sun's apparent place day by day, and in between.

use super::harmonics::{DAYS_PER_RUN, Harmonics, Sums};
use super::sine::sin_cos;

const ARCSEC: f64 = std::f64::consts::PI / 648_000.0;

/// The apparent place of the sun's centre seen from the earth's centre at 0h TT of one day.
///
/// A direction in the true equator of date, with the x axis towards the *mean* equinox: the equation of the equinoxes is
/// taken out of the right ascension, so that mean sidereal time, which runs evenly, gives the hour angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct DailyPlace {
    /// Unit vector.
    pub(super) direction: [f64; 3],
    /// Distance [au].
    pub(super) distance_au: f64,
}

impl DailyPlace {
    fn new(sums: &Sums, days: f64) -> Self {
        let centuries = days / 36525.0;
        // Annual aberration: 20.4898″ at one astronomical unit (NREL/TP-560-34302, section 3.7).
        let aberration = -20.4898 * ARCSEC / sums.radius;
        // The axes of VSOP87 against those of the FK5: -0.09033″ (Meeus, Astronomical Algorithms, 2nd ed., eq. 32.3); and
        // the precession behind VSOP87 (IAU 1976) against that behind the sidereal time used here: -0.29965″ per century
        // (the rate correction of IAU 2000, from memory; both confirmed by the agreement with DE421).
        let axes = (-0.09033 - 0.29965 * centuries) * ARCSEC;
        let longitude =
            sums.longitude + std::f64::consts::PI + sums.nutation_longitude + aberration + axes;
        // Mean obliquity, IAU 2006 (IERS Conventions 2010, eq. 5.40), to the second power.
        let mean_obliquity = (84381.406 - (46.836769 + 0.0001831 * centuries) * centuries) * ARCSEC;
        let obliquity = mean_obliquity + sums.nutation_obliquity;

        let (sin_longitude, cos_longitude) = sin_cos(longitude);
        let (sin_obliquity, cos_obliquity) = sin_cos(obliquity);
        // The sun's latitude stays below 1.2″: its cosine is 1.
        let latitude = -sums.latitude;
        let x = cos_longitude;
        let y = sin_longitude * cos_obliquity - latitude * sin_obliquity;
        let z = sin_longitude * sin_obliquity + latitude * cos_obliquity;
        // At most 18″: its square, 0.0008″, is left out.
        let equation_of_equinoxes = sums.nutation_longitude * cos_obliquity;
        Self {
            direction: [
                x + equation_of_equinoxes * y,
                y - equation_of_equinoxes * x,
                z,
            ],
            distance_au: sums.radius,
        }
    }
}

/// The places at 0h TT of `count` days from day number `first` on (counted from 2000-01-01).
///
/// The runs of [`DAYS_PER_RUN`] begin where the calendar says, not at `first`: the place of a day hangs on the day
/// alone, to the last bit, and one evening is planned as it is within a year.
pub(super) fn daily_places(first: i32, count: usize) -> Vec<DailyPlace> {
    let into_run = first.rem_euclid(DAYS_PER_RUN);
    let mut harmonics = Harmonics::at(noon_based(first - into_run));
    for _ in 0..into_run {
        harmonics.advance();
    }
    let mut places = Vec::with_capacity(count);
    for day in (first..).take(count) {
        if day > first {
            if day % DAYS_PER_RUN == 0 {
                harmonics = Harmonics::at(noon_based(day));
            } else {
                harmonics.advance();
            }
        }
        places.push(DailyPlace::new(&harmonics.sums(), noon_based(day)));
    }
    places
}

/// The four places that one day needs, without a table.
pub(super) fn four_places(first: i32) -> [DailyPlace; 4] {
    let sums = Harmonics::at(noon_based(first) + 1.5).sums_around();
    let mut day = noon_based(first) - 1.0;
    sums.map(|sums| {
        day += 1.0;
        DailyPlace::new(&sums, day)
    })
}

/// J2000.0 is noon; day numbers begin at midnight.
fn noon_based(day: i32) -> f64 {
    f64::from(day) - 0.5
}

/// The sun's direction through one day and half of each neighbour: the cubic through four daily places.
///
/// Time is counted in days of TT from noon of the day between the second and the third place. Within ±1 day of it the
/// cubic follows the series within 0.002″.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Path {
    pub(super) x: Cubic,
    pub(super) y: Cubic,
    pub(super) z: Cubic,
    pub(super) distance_au: f64,
}

impl Path {
    pub(super) fn through(places: &[DailyPlace; 4]) -> Self {
        let component = |i: usize| Cubic::through(std::array::from_fn(|k| places[k].direction[i]));
        Self {
            x: component(0),
            y: component(1),
            z: component(2),
            distance_au: 0.5 * (places[1].distance_au + places[2].distance_au),
        }
    }
}

/// A cubic polynomial, constant coefficient first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cubic([f64; 4]);

impl Cubic {
    /// Through four values at -1.5, -0.5, 0.5 and 1.5.
    fn through([p, q, r, s]: [f64; 4]) -> Self {
        Self([
            (9.0 * (q + r) - (p + s)) / 16.0,
            (27.0 * (r - q) - (s - p)) / 24.0,
            ((p + s) - (q + r)) / 4.0,
            ((s - p) - 3.0 * (r - q)) / 6.0,
        ])
    }

    pub(super) fn scaled(self, factor: f64) -> Self {
        Self(self.0.map(|coefficient| coefficient * factor))
    }

    pub(super) fn value(&self, t: f64) -> f64 {
        let [a, b, c, d] = self.0;
        ((d * t + c) * t + b) * t + a
    }

    pub(super) fn slope(&self, t: f64) -> f64 {
        let [_, b, c, d] = self.0;
        (3.0 * d * t + 2.0 * c) * t + b
    }

    pub(super) fn curvature(&self, t: f64) -> f64 {
        let [_, _, c, d] = self.0;
        6.0 * d * t + 2.0 * c
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cubic_goes_through_its_four_values() {
        let values = [0.3, -1.2, 4.0, 0.7];
        let cubic = Cubic::through(values);
        for (t, value) in [-1.5, -0.5, 0.5, 1.5].into_iter().zip(values) {
            assert!((cubic.value(t) - value).abs() < 1e-12);
        }
        let (before, after) = (cubic.value(0.2 - 1e-6), cubic.value(0.2 + 1e-6));
        assert!((cubic.slope(0.2) - (after - before) / 2e-6).abs() < 1e-7);
    }

    #[test]
    fn a_day_has_the_same_place_whichever_day_a_table_begins_with() {
        let year = daily_places(9_800, 365);
        for (day, place) in (9_800..).zip(&year) {
            assert_eq!(daily_places(day, 1), [*place], "day {day}");
        }
    }

    #[test]
    fn the_path_between_daily_places_follows_the_series_within_two_milliarcseconds() {
        let mut worst: f64 = 0.0;
        for day in (-18_000..36_800).step_by(173) {
            let path = Path::through(&four_places(day - 1));
            for part in -10..=10 {
                let t = f64::from(part) / 10.0;
                let moment = f64::from(day) + t;
                let exact = DailyPlace::new(&Harmonics::at(moment).sums(), moment);
                let [x, y, z] = exact.direction;
                worst = worst.max((path.x.value(t) - x).abs());
                worst = worst.max((path.y.value(t) - y).abs());
                worst = worst.max((path.z.value(t) - z).abs());
            }
        }
        assert!(worst < 0.002 * ARCSEC, "{} arc seconds", worst / ARCSEC);
    }
}
