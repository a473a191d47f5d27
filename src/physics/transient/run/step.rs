//! Steps while a diode conducts or the armature moves.

use super::dormand_prince::dormand_prince;
use super::evaluate::NUDGE;
use super::piece::{Piece, Shape, cubic};
use super::stiff::rosenbrock;
use super::{CannotConclude, Evaluated, FIRST_STEP_S, INSTANT_S, Inductance, MOST_STEPS, Run};

/// Part of the step that the error estimate would allow (common practice).
const CAUTION: f64 = 0.9;

/// Steps in a half-period at least, while something conducts.
const LEAST_STEPS: f64 = 8.0;

/// What the estimate of a stiff step may be, of what others' may: being of order 3, it is far above
/// the error.
const STIFF: f64 = 5.0;

/// A step this short is taken as it is [s].
const LEAST_S: f64 = 0.1 * INSTANT_S;

/// Steps after which the least step grows tenfold; a link of sane values takes a few thousand.
const PATIENCE: u32 = 100_000;

/// Decay within a step up to which an explicit one will do; it is stable up to 3.3.
const EXPLICIT: f64 = 2.0;

/// Time constants in a half-period from which on explicit steps are too many.
const FAR_BELOW: f64 = 100.0;

/// Rounds of the search for the instant at which the relay changes its mind.
const ROUNDS: u32 = 8;

pub(super) struct Step {
    pub(super) end: [f64; 2],
    pub(super) there: Evaluated,
    /// Mean conductance of the one pair.
    pub(super) grip_s: Option<f64>,
    /// Logarithm of what is left of a departure, where the flux is the only state.
    pub(super) fade: Option<f64>,
    pub(super) error: f64,
}

impl Run<'_> {
    /// A step from here that keeps the tolerance, cut short where the relay changes its mind.
    pub(super) fn conducting_piece(
        &mut self,
        limit: f64,
        here: &Evaluated,
    ) -> Result<(Piece, bool), CannotConclude> {
        let most = limit - self.now;
        let longest = if self.is_silent() {
            f64::INFINITY
        } else {
            self.wave.half_s / LEAST_STEPS
        };
        let mut h = self.next_step_s.min(longest);
        if let Some(pair) = &self.network.pair {
            // After a jump the knee is the measure, not the last step.
            let first = if h <= FIRST_STEP_S { longest } else { h };
            h = first.min(pair.longest_s(
                here,
                self.state,
                self.wave.omega,
                self.inductance_over(0.0),
            ));
        } else if self.network.is_bare() {
            h = self.bare_step_s(here, h, longest);
        }
        let least_s = LEAST_S * self.haste();
        h = h.max(least_s);
        loop {
            let to_limit = h >= most * 0.999;
            let tried = if to_limit { most } else { h };
            let step = self.step(tried, here);
            let factor = CAUTION * fifth_root(1.0 / step.error.max(1e-6));
            // Within less than an instant nothing goes far, whatever the estimate makes of a kink.
            let nonsense = !(step.end[0] + step.end[1]).is_finite();
            if step.error > 1.0 && (tried > least_s || nonsense) {
                h = tried * factor.clamp(0.1, 0.9);
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
            let limit = to_limit.then_some(limit);
            return Ok(self.watched(tried, here, &step, limit));
        }
    }

    /// How much longer than [`LEAST_S`] a step must be: what was not over after so many steps is followed ever
    /// more coarsely, so that it ends.
    fn haste(&self) -> f64 {
        match (MOST_STEPS - self.budget) / PATIENCE {
            0 => 1.0,
            spent => 10.0_f64.powf(f64::from(spent)),
        }
    }

    /// Cuts the step where the relay changes its mind.
    fn watched(
        &mut self,
        h: f64,
        here: &Evaluated,
        step: &Step,
        limit: Option<f64>,
    ) -> (Piece, bool) {
        let Some(first) = self.relay_turns_at(h, here, step) else {
            return (self.piece(h, limit, here, step), false);
        };
        // Secant steps of the full method, so that the instant is as good as the state.
        let mut at = first * h;
        let mut cut = self.step(at, here);
        for _ in 0..ROUNDS {
            let inductance_h = self.inductance_after(at);
            let content = self.content_a(cut.end[1] / inductance_h);
            let slope = self.content_slope(&cut, at);
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
            cut = self.step(at, here);
        }
        self.next_step_s = self.next_step_s.min(h).max(FIRST_STEP_S);
        (self.piece(at, None, here, &cut), true)
    }

    /// Change of [`Run::content_a`] per second, `h` after now, at the end of a step.
    fn content_slope(&self, step: &Step, h: f64) -> f64 {
        let (_, side) = self.armature.threshold(self.coil);
        let inductance = self.inductance_over(h);
        let coil_a = step.end[1] * inductance.inverse;
        -side * current_slope(step.there.slope[1], coil_a, inductance)
    }

    pub(super) fn inductance_after(&self, h: f64) -> f64 {
        let rate = self.armature.rate(self.coil);
        self.coil
            .inductance_h((self.armature.position + rate * h).clamp(0.0, 1.0))
    }

    /// Where in the step, as a fraction, the relay first changes its mind.
    fn relay_turns_at(&self, h: f64, here: &Evaluated, step: &Step) -> Option<f64> {
        let (l0, l1) = (self.inductance_over(0.0), self.inductance_over(h));
        let (i0, i1) = (self.state[1] * l0.inverse, step.end[1] * l1.inverse);
        let m0 = h * current_slope(here.slope[1], i0, l0);
        let m1 = h * current_slope(step.there.slope[1], i1, l1);
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

    fn piece(&mut self, h: f64, limit: Option<f64>, here: &Evaluated, step: &Step) -> Piece {
        self.last = Some(step.there);
        Piece {
            start_s: self.now,
            end_s: limit.unwrap_or(self.now + h),
            start: self.state,
            end: step.end,
            position: self.armature.position,
            rate: self.armature.rate(self.coil),
            start_flow: here.flow,
            shape: Shape::Cubic {
                slopes: [here.slope, step.there.slope],
                grip_s: step.grip_s,
                fade: step.fade,
                end_flow: step.there.flow,
            },
        }
    }

    /// One step of length `h`, with its error against the tolerance.
    fn step(&mut self, h: f64, here: &Evaluated) -> Step {
        if h <= 0.0 {
            // The relay changes its mind at once; an implicit step divides by its length.
            return Step {
                end: self.state,
                there: *here,
                grip_s: None,
                fade: None,
                error: 0.0,
            };
        }
        if self.network.is_bare() {
            return self.bare_step(h, here);
        }
        let hurries = MOST_STEPS - self.budget > PATIENCE;
        if !hurries && !self.is_stiff(h, here) {
            if self.network.pair.is_none() {
                return self.plain_step(h, here);
            }
            if let Some(step) = self.pair_step(h, here) {
                return step;
            }
        }
        self.stiff_step(h, here)
    }

    /// Whether something follows so much faster than the source that explicit steps would be as short.
    fn is_stiff(&self, h: f64, here: &Evaluated) -> bool {
        let matrix = match (&self.network.pair, here.conductance_s) {
            (Some(pair), Some(conductance_s)) => pair.jacobian(conductance_s, self.inductance_h()),
            (Some(_), None) => return false,
            (None, _) => self.network.quiet(0.0, self.inductance_h()).0,
        };
        let rate = -matrix[0][0] - matrix[1][1];
        let swing_squared = -matrix[0][1] * matrix[1][0];
        let half_s = if self.is_silent() {
            f64::INFINITY
        } else {
            self.wave.half_s
        };
        let follows = rate * h > EXPLICIT && rate * half_s > FAR_BELOW;
        let swings = swing_squared * h * h > EXPLICIT * EXPLICIT
            && swing_squared * half_s * half_s > FAR_BELOW * FAR_BELOW;
        follows || swings
    }

    /// A step without a rectifier.
    fn plain_step(&mut self, h: f64, here: &Evaluated) -> Step {
        let run = &*self;
        let mut guess = run.guess;
        let mut last = *here;
        let (end, _, off) = dormand_prince(h, run.state, here.slope, |at, x| {
            last = run.evaluate(run.now + at, x, run.inductance_after(at), &mut guess);
            last.slope
        });
        let error = (off[0] / (run.tolerance * run.scale[0]))
            .abs()
            .max((off[1] / (run.tolerance * run.scale[1])).abs());
        self.guess = guess;
        Step {
            end,
            there: last,
            grip_s: None,
            fade: None,
            error: sane(error),
        }
    }

    /// A step that does not mind how fast the capacitor follows the source, or a freewheeling coil.
    fn stiff_step(&mut self, h: f64, here: &Evaluated) -> Step {
        let run = &*self;
        let mut guess = run.guess;
        let mut evaluate = |at: f64, x: [f64; 2]| {
            run.evaluate(run.now + at, x, run.inductance_after(at), &mut guess)
        };
        let one_pair = run.network.pair.as_ref().zip(here.conductance_s);
        let (jacobian, drift) = if let Some((pair, conductance_s)) = one_pair {
            let jacobian = pair.jacobian(conductance_s, run.inductance_h());
            let pull = pair.pull(conductance_s);
            // Flux stays where inductance grows, current does not.
            let coil_slope = -run.coil_a() * run.inductance_over(0.0).growth;
            let drift = [0, 1].map(|k| pull[k] * here.drive.slope + jacobian[k][1] * coil_slope);
            (jacobian, drift)
        } else {
            let mut jacobian = [[0.0; 2]; 2];
            for n in 0..2 {
                let by = NUDGE * run.scale[n];
                let mut moved = run.state;
                moved[n] += by;
                let slope = evaluate(0.0, moved).slope;
                for m in 0..2 {
                    jacobian[m][n] = (slope[m] - here.slope[m]) / by;
                }
            }
            let still = run.is_silent() && run.armature.rate(run.coil) == 0.0;
            let drift = if still {
                [0.0; 2]
            } else {
                let by = NUDGE * run.wave.half_s;
                let slope = evaluate(by, run.state).slope;
                [0, 1].map(|k| (slope[k] - here.slope[k]) / by)
            };
            (jacobian, drift)
        };
        let (end, off) = rosenbrock(h, run.state, here.slope, &jacobian, drift, |at, x| {
            evaluate(at, x).slope
        });
        let there = evaluate(h, end);
        let error = (off[0] / (STIFF * run.allowed[0]))
            .abs()
            .max((off[1] / (STIFF * run.allowed[1])).abs());
        self.guess = guess;
        Step {
            end,
            there,
            grip_s: here
                .conductance_s
                .zip(there.conductance_s)
                .map(|(from, to)| f64::midpoint(from, to)),
            fade: None,
            error: sane(error),
        }
    }
}

/// i' = (λ' − i·L')/L.
fn current_slope(flux_slope: f64, coil_a: f64, inductance: Inductance) -> f64 {
    (flux_slope - coil_a * inductance.growth) * inductance.inverse
}

/// x^⅕ to 3 %: a fifth of the bits, with the exponent's offset put right.
fn fifth_root(x: f64) -> f64 {
    const OFFSET: u64 = 1.0_f64.to_bits() / 5 * 4;
    f64::from_bits(x.to_bits() / 5 + OFFSET)
}

/// A step into nonsense is too long.
pub(super) fn sane(error: f64) -> f64 {
    if error.is_finite() { error } else { 1e6 }
}
