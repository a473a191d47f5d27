//! All periodic terms at once, day by day.
//!
//! Every term turns by the same angle each day, so the next day costs one complex multiplication per term
//! instead of a sine and a cosine, and the days around one cost even less ([`Harmonics::sums_around`]).
//! Rounding errors add up from day to day, but stay below a microsecond of event time if a new run begins every
//! [`DAYS_PER_RUN`] days.

use std::f64::consts::PI;

use super::sine::sin_cos;
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

/// The series of cosines.
const PLANETARY: [(usize, usize); 6] = [
    (0, L0_END),
    (L0_END, L1_END),
    (L1_END, L2_END),
    (L2_END, B0_END),
    (B0_END, R0_END),
    (R0_END, R1_END),
];

/// Terms handled in parallel; the compiler turns each such group into a few vector instructions.
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

    /// Advances by one day.
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
        let nutation = R1_END..NUTATION_END;
        let sin = &self.sin[nutation.clone()];
        let cos = &self.cos[nutation.clone()];
        Sums::new(
            self.days,
            PLANETARY.map(|(from, to)| dot(&TERMS.amplitude[from..to], &self.cos[from..to])),
            dot(&TERMS.amplitude[nutation], sin),
            dot(&TERMS.obliquity, cos),
        )
    }

    /// The series summed for half a day and one and a half days earlier, and for as much later.
    ///
    /// The even part in time is the same on both sides, and the odd part changes its sign, so a term costs less
    /// than turning it by a day.
    pub(super) fn sums_around(&self) -> [Sums; 4] {
        let [(c, b), (d, a)] = [&HALF_A_DAY, &ONE_AND_A_HALF_DAYS].map(|turned| {
            let nutation = R1_END..NUTATION_END;
            let sin = &self.sin[nutation.clone()];
            let cos = &self.cos[nutation.clone()];
            let planetary = PLANETARY.map(|(from, to)| {
                let even = dot(&turned.cos[from..to], &self.cos[from..to]);
                let odd = dot(&turned.sin[from..to], &self.sin[from..to]);
                (even, -odd)
            });
            let longitude = (
                dot(&turned.cos[nutation.clone()], sin),
                dot(&turned.sin[nutation], cos),
            );
            let obliquity = (
                dot(&turned.obliquity_cos, cos),
                -dot(&turned.obliquity_sin, sin),
            );
            let at = |sign: f64| {
                let side = |(even, odd): (f64, f64)| even + sign * odd;
                Sums::new(
                    self.days + sign * turned.days,
                    planetary.map(side),
                    side(longitude),
                    side(obliquity),
                )
            };
            (at(1.0), at(-1.0))
        });
        [a, b, c, d]
    }
}

impl Sums {
    /// From the sums of the [`PLANETARY`] series and of the nutation.
    fn new(
        days: f64,
        [l0, l1, l2, latitude, r0, r1]: [f64; 6],
        nutation_longitude: f64,
        nutation_obliquity: f64,
    ) -> Self {
        let t = days / DAYS_PER_MILLENNIUM;
        let longitude = (terms::LONGITUDE_RATE + l1 + (terms::LONGITUDE_SQUARE + l2) * t) * t;
        Self {
            longitude: (terms::LONGITUDE + l0 + longitude) * 1e-8,
            latitude: latitude * 1e-8,
            radius: (terms::RADIUS + r0 + r1 * t) * 1e-8,
            nutation_longitude,
            nutation_obliquity,
        }
    }
}

/// Sum of products in [`LANES`] partial sums that do not depend on one another.
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

/// Amplitudes, angles and daily steps of all terms, in arrays that a loop can vectorise.
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

/// Amplitudes times cosine and sine of the growth of the angle over some days.
struct Turned {
    days: f64,
    cos: [f64; COUNT],
    sin: [f64; COUNT],
    obliquity_cos: [f64; NUTATION_END - R1_END],
    obliquity_sin: [f64; NUTATION_END - R1_END],
}

static TERMS: Terms = Terms::gather();
static HALF_A_DAY: Turned = Turned::by(0.5);
static ONE_AND_A_HALF_DAYS: Turned = Turned::by(1.5);

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

impl Turned {
    const fn by(days: f64) -> Self {
        let mut turned = Self {
            days,
            cos: TERMS.amplitude,
            sin: TERMS.amplitude,
            obliquity_cos: TERMS.obliquity,
            obliquity_sin: TERMS.obliquity,
        };
        let mut i = 0;
        while i < COUNT {
            let (sin, cos) = sin_cos(TERMS.rate[i] * days);
            turned.cos[i] *= cos;
            turned.sin[i] *= sin;
            if R1_END <= i && i < NUTATION_END {
                turned.obliquity_cos[i - R1_END] *= cos;
                turned.obliquity_sin[i - R1_END] *= sin;
            }
            i += 1;
        }
        turned
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
