//! One piece after another: closed form while nothing conducts, small steps while a diode does.
//!
//! ```text
//!   C·v_C' = i_dc − i_ser − v_n/R_p        blocking:   linear, solved in closed form up to the
//!      λ'  = v_k − R·i,  i = λ/L(p)                    instant at which the source drives a diode
//!                                          conducting: Runge–Kutta of order 5 with an error
//!                                                      estimate (Dormand–Prince 1980)
//!                                          freewheel:  a Rosenbrock step of order 4
//! ```
//!
//! A piece ends where the relay turns round, where the armature arrives, where a diode begins to conduct, or
//! where the caller wants it to.

use super::armature::{Armature, Happening};
use super::linear::{Course, Matrix, crossing};
use super::network::{Flow, Guess, Network, Response};
use super::{CannotConclude, Coil};
use crate::circuit::rectifier::Rectifier;

mod bare;
mod dormand_prince;
mod evaluate;
mod freewheel;
mod pair;
mod pair_step;
mod piece;
mod quiet;
mod step;
mod stiff;
mod wave;
mod wright;

pub(super) use evaluate::Evaluated;
pub(super) use freewheel::Freewheel;
pub(super) use pair::Pair;
pub(super) use piece::Piece;
pub(super) use wave::Wave;
use wave::{Drive, Turning};
pub(super) use wright::exp;

/// Precision of instants [s].
pub(super) const INSTANT_S: f64 = 1e-9;

/// Permissible error of the capacitor's voltage in one step, of full scale; values shown between the ends have
/// a larger error.
const ALLOWED: f64 = 2e-6;

/// The same, as a fraction of its sag in a half-period.
const ALLOWED_OF_SAG: f64 = 4e-5;

/// Most steps of one transient.
const MOST_STEPS: u32 = 2_000_000;

/// A link while time goes on.
#[derive(Debug, Clone)]
pub(super) struct Run<'a> {
    pub(super) coil: &'a Coil,
    pub(super) network: Network,
    pub(super) wave: Wave,
    /// Time since switching on [s].
    pub(super) now: f64,
    /// Capacitor voltage [V] and coil flux [Vs].
    pub(super) state: [f64; 2],
    pub(super) armature: Armature,
    /// Relative tolerance of one step.
    pub(super) tolerance: f64,
    /// Full scale for the error.
    scale: [f64; 2],
    /// Permissible error of one step where one pair conducts.
    allowed: [f64; 2],
    guess: Guess,
    next_step_s: f64,
    last: Option<Evaluated>,
    /// Steps left.
    budget: u32,
}

/// Inductance, inverted, and its growth.
#[derive(Debug, Clone, Copy)]
struct Inductance {
    /// 1/L [1/H].
    inverse: f64,
    /// Growth [H/s].
    growth: f64,
}

impl<'a> Run<'a> {
    pub(super) fn new(coil: &'a Coil, network: Network, wave: Wave, tolerance: f64) -> Self {
        let scale = [
            network.feed.peak_v.abs().max(1.0),
            coil.operate_a * coil.open_h,
        ];
        // The voltage that the coil takes out of the capacitor in a half-period.
        let sag_v = network.capacitance_f.map_or(f64::INFINITY, |farad| {
            scale[0] / (network.coil_ohm + network.series_ohm) * wave.half_s / farad
        });
        Self {
            allowed: [
                (ALLOWED * scale[0]).min(ALLOWED_OF_SAG * sag_v),
                if network.is_bare() {
                    bare::TOLERANCE
                } else {
                    tolerance
                } * scale[1],
            ],
            scale,
            coil,
            wave,
            now: 0.0,
            state: [0.0, 0.0],
            armature: Armature::AT_REST,
            tolerance,
            guess: Guess::default(),
            next_step_s: FIRST_STEP_S,
            last: None,
            budget: MOST_STEPS,
            network,
        }
    }

    /// Goes on behind other resistances: the master has switched.
    pub(super) fn switch_to(&mut self, network: Network) {
        self.network = network;
        self.forget();
    }

    /// Goes on from another time and state.
    pub(super) fn jump(&mut self, now: f64, state: [f64; 2]) {
        self.now = now;
        self.state = state;
        self.forget();
    }

    fn forget(&mut self) {
        self.next_step_s = FIRST_STEP_S;
        self.guess = Guess::default();
        self.last = None;
    }

    pub(super) fn inductance_h(&self) -> f64 {
        self.coil.inductance_h(self.armature.position)
    }

    /// Inductance and its growth `h` after now.
    fn inductance_over(&self, h: f64) -> Inductance {
        let rate = self.armature.rate(self.coil);
        Inductance {
            inverse: 1.0 / self.inductance_after(h),
            growth: (self.coil.closed_h - self.coil.open_h) * rate,
        }
    }

    /// Coil current [A].
    pub(super) fn coil_a(&self) -> f64 {
        self.state[1] / self.inductance_h()
    }

    /// Whether the source gives nothing.
    pub(super) fn is_silent(&self) -> bool {
        self.network.feed.peak_v == 0.0
    }

    fn source_v(&self, t: f64) -> f64 {
        self.network.feed.peak_v * self.wave.at(t)
    }

    /// Full scale of capacitor voltage [V] and flux [Vs].
    pub(super) fn full_scale(&self) -> [f64; 2] {
        self.scale
    }

    fn here(&mut self) -> Evaluated {
        if let Some(last) = self.last {
            return last;
        }
        let mut guess = self.guess;
        let here = self.evaluate(self.now, self.state, self.inductance_h(), &mut guess);
        self.guess = guess;
        self.last = Some(here);
        here
    }

    pub(super) fn flow(&mut self) -> Flow {
        self.here().flow
    }

    /// The next piece, at most to `until`, and what the relay did at its end.
    pub(super) fn advance(
        &mut self,
        until: f64,
    ) -> Result<(Piece, Option<Happening>), CannotConclude> {
        self.budget = self
            .budget
            .checked_sub(1)
            .ok_or(CannotConclude::TooManySteps { at_s: self.now })?;
        let arrival = self.armature.arrives_in_s(self.coil);
        let limit = arrival.map_or(until, |s| until.min(self.now + s));
        let here = self.here();
        let quiet = self.quiet_piece(limit, &here, arrival.is_none());
        let (piece, turns) = match quiet {
            Some(quiet) => quiet,
            None => self.conducting_piece(limit, &here)?,
        };
        let arrives = arrival.is_some_and(|s| piece.end_s >= self.now + s - INSTANT_S);
        let rate = self.armature.rate(self.coil);
        self.armature.position =
            (self.armature.position + rate * (piece.end_s - self.now)).clamp(0.0, 1.0);
        self.now = piece.end_s;
        self.state = piece.end;
        if piece.end_s >= until {
            // The source may change direction here.
            self.last = None;
        }
        let happening = if arrives {
            self.armature.arrive()
        } else if turns {
            Some(self.turn())
        } else {
            None
        };
        Ok((piece, happening))
    }

    fn turn(&mut self) -> Happening {
        let happening = self.armature.turn();
        if self.armature.arrives_in_s(self.coil) == Some(0.0) {
            return self.armature.arrive().unwrap_or(happening);
        }
        happening
    }

    /// Distance of the coil current from the relay's threshold, on the side where the relay stays as it is [A]:
    /// negative once the relay turns round.
    fn content_a(&self, coil_a: f64) -> f64 {
        let (threshold, side) = self.armature.threshold(self.coil);
        side * (threshold - coil_a)
    }
}

/// First step after a jump of the source [s].
const FIRST_STEP_S: f64 = 1e-5;
