//! All the periodic terms at once, day by day.
//!
//! Every term turns by the same angle each day, so a day further costs one complex multiplication per term instead of a
//! sine and a cosine. The rounding this adds up stays below a microsecond of event time if a run is begun anew every
//! [`DAYS_PER_RUN`] days.

use std::f64::consts::{PI, TAU};

use super::terms;

/// Number of terms, all series together.
const COUNT: usize = 104;
/// Where each series ends in the arrays: longitude, its first and second power, latitude, radius, its first power,
/// nutation, unused (to fill a whole number of [`LANES`]).
const L0_END: usize = terms::L0.len();
const L1_END: usize = L0_END + terms::L1.len();
const L2_END: usize = L1_END + terms::L2.len();
const B0_END: usize = L2_END + terms::B0.len();
const R0_END: usize = B0_END + terms::R0.len();
const R1_END: usize = R0_END + terms::R1.len();
const NUTATION_END: usize = R1_END + terms::NUTATION.len();
const _: () =
    assert!(NUTATION_END <= COUNT && COUNT - NUTATION_END < LANES && COUNT.is_multiple_of(LANES));

/// Terms handled side by side; the compiler turns each such group into a few vector instructions.
const LANES: usize = 4;

/// Days from one fresh start of the recurrence to the next.
pub(super) const DAYS_PER_RUN: i32 = 32;

const DAYS_PER_MILLENNIUM: f64 = 365_250.0;
const ARCSEC: f64 = PI / 648_000.0;

/// The heliocentric place of the earth and the nutation, ecliptic and equinox of date.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sums {
    /// Heliocentric longitude [rad, not reduced].
    pub(super) longitude: f64,
    /// Heliocentric latitude [rad].
    pub(super) latitude: f64,
    /// Distance from the sun [au].
    pub(super) radius: f64,
    /// Nutation in longitude [rad].
    pub(super) nutation_longitude: f64,
    /// Nutation in obliquity [rad].
    pub(super) nutation_obliquity: f64,
}

/// Sine and cosine of every term's angle at one moment.
#[derive(Debug, Clone)]
pub(super) struct Harmonics {
    sin: [f64; COUNT],
    cos: [f64; COUNT],
    /// TT [days since J2000.0].
    days: f64,
}

impl Harmonics {
    /// All angles at `days` since J2000.0 (TT), from scratch.
    pub(super) fn at(days: f64) -> Self {
        let mut sin = [0.0; COUNT];
        let mut cos = [0.0; COUNT];
        for i in 0..COUNT {
            (sin[i], cos[i]) = sin_cos(TERMS.phase[i] + TERMS.rate[i] * days);
        }
        Self { sin, cos, days }
    }

    /// One day on.
    pub(super) fn advance(&mut self) {
        for i in 0..COUNT {
            let (sin, cos) = (self.sin[i], self.cos[i]);
            self.sin[i] = sin * TERMS.step_cos[i] + cos * TERMS.step_sin[i];
            self.cos[i] = cos * TERMS.step_cos[i] - sin * TERMS.step_sin[i];
        }
        self.days += 1.0;
    }

    /// The series summed up.
    pub(super) fn sums(&self) -> Sums {
        let t = self.days / DAYS_PER_MILLENNIUM;
        let nutation = R1_END..NUTATION_END;
        let of_cosines =
            |from: usize, to: usize| dot(&TERMS.amplitude[from..to], &self.cos[from..to]);
        let longitude = (terms::LONGITUDE_SQUARE + of_cosines(L1_END, L2_END)) * t;
        let longitude = (terms::LONGITUDE_RATE + of_cosines(L0_END, L1_END) + longitude) * t;
        let longitude = terms::LONGITUDE + of_cosines(0, L0_END) + longitude;
        let radius = terms::RADIUS + of_cosines(B0_END, R0_END) + of_cosines(R0_END, R1_END) * t;
        Sums {
            longitude: longitude * 1e-8,
            latitude: of_cosines(L2_END, B0_END) * 1e-8,
            radius: radius * 1e-8,
            nutation_longitude: dot(
                &TERMS.amplitude[nutation.clone()],
                &self.sin[nutation.clone()],
            ),
            nutation_obliquity: dot(&TERMS.obliquity, &self.cos[nutation]),
        }
    }
}

/// Sum of products in [`LANES`] partial sums, which do not wait for each other.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let (a_groups, a_rest) = a.as_chunks::<LANES>();
    let (b_groups, b_rest) = b.as_chunks::<LANES>();
    let mut partial = [0.0; LANES];
    for (x, y) in a_groups.iter().zip(b_groups) {
        for lane in 0..LANES {
            partial[lane] += x[lane] * y[lane];
        }
    }
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(x, y)| x * y).sum();
    partial.iter().sum::<f64>() + rest
}

/// Amplitudes, angles and daily steps of all terms, in arrays that loops can run through abreast.
struct Terms {
    amplitude: [f64; COUNT],
    /// Amplitudes of the cosines of the nutation's angles [rad].
    obliquity: [f64; NUTATION_END - R1_END],
    /// Angle at J2000.0 [rad].
    phase: [f64; COUNT],
    /// Growth of the angle [rad per day].
    rate: [f64; COUNT],
    step_sin: [f64; COUNT],
    step_cos: [f64; COUNT],
}

static TERMS: Terms = Terms::gather();

impl Terms {
    const fn gather() -> Self {
        let mut all = Self {
            amplitude: [0.0; COUNT],
            obliquity: [0.0; NUTATION_END - R1_END],
            phase: [0.0; COUNT],
            rate: [0.0; COUNT],
            step_sin: [0.0; COUNT],
            step_cos: [1.0; COUNT],
        };
        all.planetary(0, &terms::L0);
        all.planetary(L0_END, &terms::L1);
        all.planetary(L1_END, &terms::L2);
        all.planetary(L2_END, &terms::B0);
        all.planetary(B0_END, &terms::R0);
        all.planetary(R0_END, &terms::R1);
        all.nutation();
        let mut i = 0;
        while i < COUNT {
            (all.step_sin[i], all.step_cos[i]) = sin_cos(all.rate[i]);
            i += 1;
        }
        all
    }

    const fn planetary(&mut self, start: usize, rows: &[[f64; 3]]) {
        let mut i = 0;
        while i < rows.len() {
            let [amplitude, phase, rate] = rows[i];
            self.amplitude[start + i] = amplitude;
            self.phase[start + i] = phase;
            self.rate[start + i] = rate / DAYS_PER_MILLENNIUM;
            i += 1;
        }
    }

    const fn nutation(&mut self) {
        let mut i = 0;
        while i < terms::NUTATION.len() {
            let row = &terms::NUTATION[i];
            let (mut phase_deg, mut rate_deg) = (0.0, 0.0);
            let mut k = 0;
            while k < 5 {
                phase_deg += row[k] * terms::NUTATION_ARGUMENTS[k][0];
                rate_deg += row[k] * terms::NUTATION_ARGUMENTS[k][1];
                k += 1;
            }
            self.amplitude[R1_END + i] = row[5] * 1e-4 * ARCSEC;
            self.obliquity[i] = row[6] * 1e-4 * ARCSEC;
            self.phase[R1_END + i] = phase_deg.to_radians();
            self.rate[R1_END + i] = rate_deg.to_radians() / 36525.0;
            i += 1;
        }
    }
}

/// From one term of the sine's Taylor series to the next, over the square of the angle: 1/(2·3), 1/(4·5) …
const SINE_STEPS: [f64; 6] = taylor_steps(1.0);
/// The same for the cosine: 1/(1·2), 1/(3·4) …
const COSINE_STEPS: [f64; 6] = taylor_steps(-1.0);

const fn taylor_steps(neighbour: f64) -> [f64; 6] {
    let mut steps = [0.0; 6];
    let mut n = 0;
    while n < steps.len() {
        let even = 2.0 * (n as f64 + 1.0);
        steps[n] = 1.0 / (even * (even + neighbour));
        n += 1;
    }
    steps
}

/// Sine and cosine, within 10⁻¹¹ for angles up to 20 000 rad.
///
/// Without branches or calls, so that the loop over the terms runs several at a time (the library's functions do not
/// allow that), and usable at compile time. The angle is taken to within half a turn, quartered, put through the Taylor
/// series and doubled twice.
pub(super) const fn sin_cos(angle: f64) -> (f64, f64) {
    // Adding and subtracting 1.5 × 2⁵² rounds to a whole number: that large, a double has no fraction left.
    const ROUNDER: f64 = 6_755_399_441_055_744.0;
    let turns = (angle * (1.0 / TAU) + ROUNDER) - ROUNDER;
    let quarter = (angle - turns * TAU) * 0.25;
    let square = quarter * quarter;
    let mut sin = 1.0;
    let mut cos = 1.0;
    // The first term left out is below 10⁻¹² at an eighth of a turn.
    let mut n = 6;
    while n > 0 {
        n -= 1;
        sin = 1.0 - sin * square * SINE_STEPS[n];
        cos = 1.0 - cos * square * COSINE_STEPS[n];
    }
    let sin = sin * quarter;
    let (sin, cos) = (2.0 * sin * cos, 1.0 - 2.0 * sin * sin);
    (2.0 * sin * cos, 1.0 - 2.0 * sin * sin)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn own_sine_and_cosine_agree_with_the_library() {
        for i in -20_000..20_000 {
            let angle = f64::from(i) * 0.998_7;
            let (sin, cos) = sin_cos(angle);
            assert!((sin - angle.sin()).abs() < 1e-11, "sine of {angle}");
            assert!((cos - angle.cos()).abs() < 1e-11, "cosine of {angle}");
        }
    }

    #[test]
    fn a_run_of_daily_steps_ends_where_a_fresh_start_does() {
        for start in [-18_263.5, -0.5, 18_000.5, 36_800.5] {
            let mut stepped = Harmonics::at(start);
            for _ in 0..DAYS_PER_RUN {
                stepped.advance();
            }
            let fresh = Harmonics::at(start + f64::from(DAYS_PER_RUN));
            for i in 0..COUNT {
                assert!(
                    (stepped.sin[i] - fresh.sin[i]).abs() < 1e-10,
                    "sine of term {i}"
                );
                assert!(
                    (stepped.cos[i] - fresh.cos[i]).abs() < 1e-10,
                    "cosine of term {i}"
                );
            }
        }
    }
}
