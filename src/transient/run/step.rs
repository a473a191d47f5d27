//! Steps while a diode conducts or the armature moves: Dormand and Prince's pair of order 5 and 4.

use super::piece::{Piece, cubic};
use super::{CannotConclude, Evaluated, FIRST_STEP_S, INSTANT_S, Run, SILENT_V};

/// Stages, as fractions of the step (Dormand and Prince 1980).
const C: [f64; 5] = [0.2, 0.3, 0.8, 8.0 / 9.0, 1.0];
const A: [[f64; 5]; 5] = [
    [0.2, 0.0, 0.0, 0.0, 0.0],
    [3.0 / 40.0, 9.0 / 40.0, 0.0, 0.0, 0.0],
    [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0, 0.0, 0.0],
    [
        19372.0 / 6561.0,
        -25360.0 / 2187.0,
        64448.0 / 6561.0,
        -212.0 / 729.0,
        0.0,
    ],
    [
        9017.0 / 3168.0,
        -355.0 / 33.0,
        46732.0 / 5247.0,
        49.0 / 176.0,
        -5103.0 / 18656.0,
    ],
];
/// The fifth-order solution.
const B: [f64; 6] = [
    35.0 / 384.0,
    0.0,
    500.0 / 1113.0,
    125.0 / 192.0,
    -2187.0 / 6784.0,
    11.0 / 84.0,
];
/// Fifth less fourth order.
const E: [f64; 7] = [
    71.0 / 57600.0,
    0.0,
    -71.0 / 16695.0,
    71.0 / 1920.0,
    -17253.0 / 339200.0,
    22.0 / 525.0,
    -1.0 / 40.0,
];

/// Part of the step that the error estimate would allow (common practice).
const CAUTION: f64 = 0.9;

/// Steps in a half-period at least, while something conducts.
const LEAST_STEPS: f64 = 8.0;

/// Rounds of the search for the instant at which the relay changes its mind.
const ROUNDS: u32 = 8;

struct Step {
    end: [f64; 2],
    there: Evaluated,
    error: f64,
}

impl Run<'_> {
    /// A step from here that keeps the tolerance, cut short where the relay changes its mind.
    pub(super) fn conducting_piece(
        &mut self,
        limit: f64,
        here: &Evaluated,
    ) -> Result<(Piece, bool), CannotConclude> {
        let most = limit - self.now;
        let silent = self.network.feed.peak_v.abs() < SILENT_V;
        let longest = if silent {
            f64::INFINITY
        } else {
            self.wave.half_s / LEAST_STEPS
        };
        let mut h = self.next_step_s.min(longest);
        loop {
            let to_limit = h >= most * 0.999;
            let tried = if to_limit { most } else { h };
            let step = self.step(tried, here)?;
            let factor = CAUTION * step.error.max(1e-6).powf(-0.2);
            if step.error > 1.0 {
                h = tried * factor.clamp(0.1, 0.9);
                if self.now + h <= self.now {
                    return Err(CannotConclude::StepTooSmall { at_s: self.now });
                }
                self.budget = self
                    .budget
                    .checked_sub(1)
                    .ok_or(CannotConclude::TooManySteps { at_s: self.now })?;
                continue;
            }
            let proposal = tried * factor.clamp(0.2, 6.0);
            // A step cut short by the limit says nothing against longer ones.
            self.next_step_s = if to_limit {
                proposal.max(h.min(longest))
            } else {
                proposal
            };
            return self.watched(tried, here, step, if to_limit { Some(limit) } else { None });
        }
    }

    /// Cuts the step where the relay changes its mind.
    fn watched(
        &mut self,
        h: f64,
        here: &Evaluated,
        step: Step,
        limit: Option<f64>,
    ) -> Result<(Piece, bool), CannotConclude> {
        let Some(first) = self.relay_turns_at(h, here, &step) else {
            return Ok((self.piece(h, limit, here, step), false));
        };
        // Secant steps of the full method, so that the instant is as good as the state.
        let mut at = first * h;
        let mut cut = self.step(at, here)?;
        for _ in 0..ROUNDS {
            let inductance_h = self.inductance_after(at);
            let content = self.content_a(cut.end[1] / inductance_h);
            let slope = self.content_slope(&cut, inductance_h);
            if slope == 0.0 {
                break;
            }
            let by = -content / slope;
            let next = (at + by).clamp(0.0, h);
            let moved = (next - at).abs();
            at = next;
            if moved < INSTANT_S {
                break;
            }
            cut = self.step(at, here)?;
        }
        self.next_step_s = self.next_step_s.min(h).max(FIRST_STEP_S);
        Ok((self.piece(at, None, here, cut), true))
    }

    /// Change of [`Run::content_a`] per second at the end of a step.
    fn content_slope(&self, step: &Step, inductance_h: f64) -> f64 {
        let (_, side) = self.armature.threshold(self.coil);
        -side * self.current_slope(step.there.slope[1], step.end[1], inductance_h)
    }

    /// i' = (λ' − i·L')/L.
    fn current_slope(&self, flux_slope: f64, flux: f64, inductance_h: f64) -> f64 {
        let growth = (self.coil.closed_h - self.coil.open_h) * self.armature.rate(self.coil);
        (flux_slope - flux / inductance_h * growth) / inductance_h
    }

    fn inductance_after(&self, h: f64) -> f64 {
        let rate = self.armature.rate(self.coil);
        self.coil
            .inductance_h((self.armature.position + rate * h).clamp(0.0, 1.0))
    }

    /// Where in the step, as a fraction, the relay first changes its mind.
    fn relay_turns_at(&self, h: f64, here: &Evaluated, step: &Step) -> Option<f64> {
        let (l0, l1) = (self.inductance_h(), self.inductance_after(h));
        let (i0, i1) = (self.state[1] / l0, step.end[1] / l1);
        let m0 = h * self.current_slope(here.slope[1], self.state[1], l0);
        let m1 = h * self.current_slope(step.there.slope[1], step.end[1], l1);
        let content = |s: f64| self.content_a(cubic(i0, i1, m0, m1, s));
        let high = if self.content_a(i1) <= 0.0 {
            1.0
        } else if m0 * m1 < 0.0 {
            // The extremum between the ends.
            let slope = |s: f64| {
                let d = i1 - i0;
                d + (1.0 - 2.0 * s) * ((m0 - d) * (1.0 - s) - (m1 - d) * s)
                    - s * (1.0 - s) * (m0 + m1 - 2.0 * d)
            };
            let at = super::crossing(0.0, 1.0, 1e-6, slope);
            if content(at) > 0.0 {
                return None;
            }
            at
        } else {
            return None;
        };
        if content(0.0) <= 0.0 {
            return Some(0.0);
        }
        Some(super::crossing(0.0, high, 1e-9, content))
    }

    fn piece(&mut self, h: f64, limit: Option<f64>, here: &Evaluated, step: Step) -> Piece {
        self.last = Some(step.there);
        Piece {
            start_s: self.now,
            end_s: limit.unwrap_or(self.now + h),
            start: self.state,
            end: step.end,
            position: self.armature.position,
            rate: self.armature.rate(self.coil),
            start_flow: here.flow,
            shape: Piece::cubic(here, &step.there),
        }
    }

    /// One step of length `h`, with its error against the tolerance.
    fn step(&mut self, h: f64, here: &Evaluated) -> Result<Step, CannotConclude> {
        let mut k = [here.slope; 7];
        let mut guess = self.guess;
        for stage in 0..5 {
            let mut x = self.state;
            for (weight, slope) in A[stage].iter().zip(&k).take(stage + 1) {
                x[0] += h * weight * slope[0];
                x[1] += h * weight * slope[1];
            }
            let at = C[stage] * h;
            k[stage + 1] = self
                .evaluate(self.now + at, x, self.inductance_after(at), &mut guess)?
                .slope;
        }
        let mut end = self.state;
        for (weight, slope) in B.iter().zip(&k) {
            end[0] += h * weight * slope[0];
            end[1] += h * weight * slope[1];
        }
        let there = self.evaluate(self.now + h, end, self.inductance_after(h), &mut guess)?;
        self.guess = guess;
        k[6] = there.slope;
        let mut error = 0.0_f64;
        for n in 0..2 {
            let off: f64 = E
                .iter()
                .zip(&k)
                .map(|(weight, slope)| weight * slope[n])
                .sum();
            error = error.max((h * off).abs() / (self.tolerance * self.scale[n]));
        }
        // A step into nonsense is too long.
        if !error.is_finite() {
            error = 1e6;
        }
        Ok(Step { end, there, error })
    }
}
