//! Without a capacitor: the flux is the only state, and the steps follow the hand-over of the current.
//!
//! ```text
//!   λ' = v_k(e, i) − R·i,  i = λ/L       ∂λ'/∂λ = (∂v_k/∂i − R)/L
//!
//!   ─── carried ─┤hand-over├─ carried ───
//! ```
//!
//! The flux follows the node's voltage, which is smooth on either side of the hand-over and bends sharply in
//! it. Steps that end where it begins, and are short within it, are hardly ever refused. A source behind an
//! open switch's leakage makes the flux stiff; then the step is implicit.
//!
//! Source: the network's own equations. Holds: no capacitor behind a rectifier.

use std::f64::consts::{PI, TAU};

use super::dormand_prince::{B, dormand_prince};
use super::step::{Step, sane};
use super::stiff::rosenbrock;
use super::{Evaluated, FIRST_STEP_S, INSTANT_S, Run, Turning};
use crate::circuit::rectifier::Rectifier;

/// Change of the source's voltage over one step within the hand-over, as a multiple of N·`V_T`.
const STRIDE: f64 = 10.0;

/// Relative tolerance of one step: errors of the flux do not grow.
pub(super) const TOLERANCE: f64 = 1e-5;

/// Largest fraction of the flux that a step may take at the present slope.
const LESS: f64 = 0.7;

/// First step of a coil without a source, as a fraction of L/R.
const FREE: f64 = 0.1;

/// Smallest useful step towards an edge, as a fraction of the distance.
const SLIVER: f64 = 0.25;

/// Decay within a step beyond which an explicit one is useless; it is stable up to 3.3.
const STIFF: f64 = 2.0;

/// Weights of the stages in a mean over the step, after the start's.
const WEIGHTS: [f64; 6] = [0.0, B[1], B[2], B[3], B[4], 0.0];

/// Weights of all seven slopes in the state in the middle of the step (Shampine 1986).
const TO_MIDDLE: [f64; 7] = [
    6_025_192_743.0 / 30_085_553_152.0,
    0.0,
    51_252_292_925.0 / 65_400_821_598.0,
    -2_691_868_925.0 / 45_128_329_728.0,
    187_940_372_067.0 / 1_594_534_317_056.0,
    -1_776_094_331.0 / 19_743_644_256.0,
    11_237_099.0 / 235_043_384.0,
];

/// Permissible error of the cubic through a step's ends in its middle, of full scale.
const BETWEEN: f64 = 1e-4;

impl Run<'_> {
    /// The longest step from here that does not reach into or over a hand-over [s].
    pub(super) fn bare_step_s(&self, here: &Evaluated, proposed_s: f64, longest_s: f64) -> f64 {
        let (omega, peak_v) = (self.wave.omega, self.network.feed.peak_v);
        let silent = omega == 0.0 || self.is_silent();
        let fresh = proposed_s <= FIRST_STEP_S;
        let mut h = match (fresh, silent) {
            (true, true) => FREE * self.inductance_h() / self.coil.ohm,
            (true, false) => longest_s,
            (false, _) => proposed_s,
        };
        if here.slope[1] < 0.0 && self.state[1] > 0.0 {
            // A step beyond the end of the current would need a current that no diode lets through.
            let empty_s = self.state[1] / -here.slope[1];
            h = h.min(LESS * empty_s).max(INSTANT_S);
        }
        if silent {
            return h;
        }
        let (low_v, high_v) = self.network.handover_v(self.coil_a().max(0.0));
        let source_v = here.drive.volts;
        let per_s = peak_v * omega;
        let stride_s = STRIDE * self.network.bridge.slope_v / per_s;
        let margin_v = 1e-9 * peak_v;
        let rising = here.drive.slope > 0.0;
        if source_v > low_v - margin_v
            && source_v < high_v + margin_v
            && !(rising && source_v > high_v - margin_v)
            && (rising || source_v >= low_v + margin_v)
        {
            let cos = here.drive.slope.abs() / per_s;
            return h.min(stride_s / cos.max(0.1));
        }
        // Up to the next edge.
        let bridge = self.network.rectifier == Rectifier::Bridge;
        let round = if bridge { PI } else { TAU };
        let arc = |volts: f64| (volts / peak_v).clamp(-1.0, 1.0).asin();
        let angle = {
            let a = (source_v / peak_v).clamp(-1.0, 1.0).asin();
            if rising { a } else { PI - a }
        };
        let edge = if source_v > high_v - margin_v {
            PI - arc(high_v)
        } else {
            let rises = arc(low_v);
            if rises > angle { rises } else { rises + round }
        };
        let left_s = (edge - angle) / omega;
        if h > left_s {
            left_s.max(SLIVER * stride_s)
        } else if h > 0.5 * left_s {
            0.5 * left_s
        } else {
            h
        }
    }

    /// ∂λ'/∂λ [1/s].
    fn fade(&self, there: &Evaluated, per_henry: f64) -> f64 {
        (there.response.per_a - self.network.coil_ohm) * per_henry
    }

    /// A step without a capacitor, with its error relative to the tolerance.
    pub(super) fn bare_step(&mut self, h: f64, here: &Evaluated) -> Step {
        let run = &*self;
        let source = Turning::new(here.drive, run.wave.omega);
        let mut guess = run.guess;
        let mut evaluate = |at: f64, x: [f64; 2]| {
            let drive = source.after(at);
            let coil_a = x[1] / run.inductance_after(at);
            run.evaluate_bare(drive, here.sign, coil_a, &mut guess)
        };
        let l0 = run.inductance_over(0.0);
        let fade_here = run.fade(here, l0.inverse);
        let (end, there, off, fade);
        let mut between = 0.0_f64;
        if fade_here * h > -STIFF {
            let mut last = *here;
            let mut weights = WEIGHTS.iter();
            let mut mean = B[0] * fade_here;
            let mut places = TO_MIDDLE.iter().skip(1);
            let mut middle = TO_MIDDLE[0] * here.slope[1];
            let (to, _, by) = dormand_prince(h, run.state, here.slope, |at, x| {
                last = evaluate(at, x);
                let weight = weights.next().copied().unwrap_or_default();
                mean += weight * run.fade(&last, run.inductance_over(at).inverse);
                middle += places.next().copied().unwrap_or_default() * last.slope[1];
                last.slope
            });
            (end, off, there, fade) = (to, by[1], last, mean);
            let bent = 0.5 * (to[1] - run.state[1]) + 0.125 * h * (here.slope[1] - last.slope[1])
                - 0.5 * h * middle;
            between = bent / (BETWEEN * run.scale[1]);
        } else {
            let coil_a = run.state[1] * l0.inverse;
            let drift = here.response.per_v * here.drive.slope
                - (here.response.per_a - run.network.coil_ohm) * coil_a * l0.growth * l0.inverse;
            let jacobian = [[-1.0, 0.0], [0.0, fade_here]];
            let (to, by) = rosenbrock(
                h,
                run.state,
                here.slope,
                &jacobian,
                [0.0, drift],
                |at, x| evaluate(at, x).slope,
            );
            (end, off) = (to, by[1]);
            there = evaluate(h, end);
            let per_henry = run.inductance_over(h).inverse;
            fade = f64::midpoint(fade_here, run.fade(&there, per_henry));
        }
        // The diodes let no current flow backwards; a negative value is the step's own error.
        let end = [end[0], end[1].max(0.0)];
        let error = (off / run.allowed[1]).abs().max(between.abs());
        self.guess = guess;
        Step {
            end,
            there,
            grip_s: None,
            fade: Some(fade * h),
            error: sane(error),
        }
    }
}
