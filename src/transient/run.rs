//! One piece after the other: closed form while nothing conducts, small steps while a diode does.
//!
//! ```text
//!   C·v_C' = i_dc − i_ser − v_n/R_p        blocking:   linear, solved in closed form up to the
//!      λ'  = v_k − R·i,  i = λ/L(p)                    instant at which the source drives a diode
//!                                          conducting: Runge–Kutta of order 5 with an error
//!                                                      estimate (Dormand–Prince 1980)
//! ```
//!
//! A piece ends where the relay changes its mind, where the armature arrives, where a diode begins
//! to conduct, or where its caller wants it to.

use super::armature::{Armature, Happening};
use super::linear::{Course, Matrix, crossing, short_exponential};
use super::network::{Flow, Guess, Network};
use super::{CannotConclude, Coil};
use crate::circuit::rectifier::Rectifier;

mod dormand_prince;
mod freewheel;
mod pair;
mod pair_step;
mod piece;
mod quiet;
mod step;
mod stiff;
mod wright;

pub(super) use freewheel::Freewheel;
use pair::Drive;
pub(super) use pair::Pair;
pub(super) use piece::Piece;

/// Instants are found to this [s].
pub(super) const INSTANT_S: f64 = 1e-9;

/// The capacitor's voltage may be off by this in one step, of full scale.
const ALLOWED: f64 = 1e-5;

/// The same, of what it sags by in a half-period.
const ALLOWED_OF_SAG: f64 = 1e-4;

/// Steps that one transient may take.
const MOST_STEPS: u32 = 2_000_000;

/// The voltage behind the source resistance, in time since switching on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wave {
    /// Angular frequency [rad/s]; 0 for direct voltage.
    pub(super) omega: f64,
    /// Phase at time 0 [rad].
    pub(super) phase: f64,
    /// The stretch between two boundaries [s]: half a period, or 10 ms for direct voltage.
    pub(super) half_s: f64,
}

impl Wave {
    /// As a fraction of the peak.
    pub(super) fn at(&self, t: f64) -> f64 {
        if self.omega == 0.0 {
            1.0
        } else {
            (self.omega * t + self.phase).sin()
        }
    }

    /// Number of the half-period that contains `t` or begins there.
    pub(super) fn half_at(&self, t: f64) -> f64 {
        (t / self.half_s + self.phase / std::f64::consts::PI + 1e-9).floor()
    }

    /// Whether the half-period that contains `t` or begins there is a negative one.
    fn is_negative(&self, t: f64) -> bool {
        let half = self.half_at(t);
        self.omega != 0.0 && half - 2.0 * (0.5 * half).floor() >= 0.5
    }

    /// Where half-period `n` begins.
    pub(super) fn start_of(&self, n: f64) -> f64 {
        (n - self.phase / std::f64::consts::PI) * self.half_s
    }
}

/// A link on its way through time.
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
    /// Where 1 is full scale for the error.
    scale: [f64; 2],
    /// What one step may be off by where one pair conducts.
    allowed: [f64; 2],
    guess: Guess,
    next_step_s: f64,
    last: Option<Evaluated>,
    /// Steps left.
    pub(super) budget: u32,
}

/// A slope and what flows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Evaluated {
    slope: [f64; 2],
    flow: Flow,
    /// The source as the conducting pair sees it, and its sign.
    drive: Drive,
    sign: f64,
    /// Of the one pair that may conduct [S]; `None` if others do.
    conductance_s: Option<f64>,
}

impl<'a> Run<'a> {
    pub(super) fn new(coil: &'a Coil, network: Network, wave: Wave, tolerance: f64) -> Self {
        let scale = [
            network.feed.peak_v.abs().max(1.0),
            coil.operate_a * coil.open_h,
        ];
        // What the coil takes out of the capacitor in a half-period.
        let sag_v = network.capacitance_f.map_or(f64::INFINITY, |farad| {
            scale[0] / (network.coil_ohm + network.series_ohm) * wave.half_s / farad
        });
        Self {
            allowed: [
                (ALLOWED * scale[0]).min(ALLOWED_OF_SAG * sag_v),
                tolerance * scale[1],
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

    /// Continues behind other resistances: the master has switched.
    pub(super) fn switch_to(&mut self, network: Network) {
        self.network = network;
        self.forget();
    }

    /// Continues from elsewhere.
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

    /// Coil current [A].
    pub(super) fn coil_a(&self) -> f64 {
        self.state[1] / self.inductance_h()
    }

    /// Whether nothing comes from the source.
    pub(super) fn is_silent(&self) -> bool {
        self.network.feed.peak_v == 0.0
    }

    fn source_v(&self, t: f64) -> f64 {
        self.network.feed.peak_v * self.wave.at(t)
    }

    /// Capacitor voltage [V] and flux [Vs] that count as 1.
    pub(super) fn full_scale(&self) -> [f64; 2] {
        self.scale
    }

    /// How a departure at a piece's start has grown by its end.
    pub(super) fn growth(&mut self, piece: &Piece) -> Result<Matrix, CannotConclude> {
        let h = piece.end_s - piece.start_s;
        if let Some(course) = piece.course() {
            return Ok(course.growth(h));
        }
        let t = f64::midpoint(piece.start_s, piece.end_s);
        let inductance_h = self.coil.inductance_h(piece.position_at(t));
        let mean = match (piece.grip_s(), &self.network.pair) {
            (Some(grip_s), Some(pair)) => pair.jacobian(grip_s, inductance_h),
            // The middle will do.
            _ => self.jacobian(t, piece.state_at(t), inductance_h)?,
        };
        Ok(short_exponential(&mean, h))
    }

    /// Jacobian of the slope by differences.
    fn jacobian(
        &self,
        t: f64,
        state: [f64; 2],
        inductance_h: f64,
    ) -> Result<Matrix, CannotConclude> {
        let mut guess = self.guess;
        let base = self.evaluate(t, state, inductance_h, &mut guess)?.slope;
        let mut jacobian = [[0.0; 2]; 2];
        let first = usize::from(self.network.capacitance_f.is_none());
        if first == 1 {
            jacobian[0][0] = -1.0;
        }
        for n in first..2 {
            let by = 1e-6 * self.scale[n];
            let mut moved = state;
            moved[n] += by;
            let slope = self.evaluate(t, moved, inductance_h, &mut guess)?.slope;
            for m in 0..2 {
                jacobian[m][n] = (slope[m] - base[m]) / by;
            }
        }
        Ok(jacobian)
    }

    /// What flows at an instant of a piece.
    pub(super) fn flow_at(
        &self,
        piece: &Piece,
        t: f64,
        guess: &mut Guess,
    ) -> Result<(Flow, f64), CannotConclude> {
        let state = piece.state_at(t);
        let inductance_h = self.coil.inductance_h(piece.position_at(t));
        let flow = self.evaluate(t, state, inductance_h, guess)?.flow;
        Ok((flow, state[1] / inductance_h))
    }

    /// What flows at an instant, in a state, with that inductance.
    fn evaluate(
        &self,
        t: f64,
        state: [f64; 2],
        inductance_h: f64,
        guess: &mut Guess,
    ) -> Result<Evaluated, CannotConclude> {
        let sign = self.sign(t);
        let drive = self.drive(t, sign);
        if let Some(pair) = &self.network.pair {
            let per_henry = 1.0 / inductance_h;
            let (omega, slope) = pair.at(drive.volts, state, per_henry);
            let flow = pair.flow(omega, state, per_henry, sign);
            if self
                .network
                .others_block(flow.node_v, flow.coil_v, f64::NEG_INFINITY)
            {
                return Ok(Evaluated {
                    slope,
                    flow,
                    drive,
                    sign,
                    conductance_s: Some(pair.conductance_s(omega)),
                });
            }
        }
        let coil_a = state[1] / inductance_h;
        let freewheels = self.network.freewheel.as_ref().and_then(|freewheel| {
            freewheel.flow(self.network.idle_node_v(state[0], coil_a), coil_a)
        });
        if let Some(flow) = freewheels {
            return Ok(Evaluated {
                slope: self.network.slope(&flow, state[0], coil_a),
                flow,
                drive,
                sign,
                conductance_s: None,
            });
        }
        let flow = self
            .network
            .solve(sign * drive.volts, state[0], coil_a, guess)
            .map_err(|_| CannotConclude::Network { at_s: t })?;
        Ok(Evaluated {
            slope: self.network.slope(&flow, state[0], coil_a),
            flow,
            drive,
            sign,
            conductance_s: None,
        })
    }

    /// What flows now.
    fn here(&mut self) -> Result<Evaluated, CannotConclude> {
        if let Some(last) = self.last {
            return Ok(last);
        }
        let mut guess = self.guess;
        let here = self.evaluate(self.now, self.state, self.inductance_h(), &mut guess)?;
        self.guess = guess;
        self.last = Some(here);
        Ok(here)
    }

    /// What flows now.
    pub(super) fn flow(&mut self) -> Result<Flow, CannotConclude> {
        Ok(self.here()?.flow)
    }

    /// The next piece, not beyond `until`, and what the relay did at its end.
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
        let here = self.here()?;
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
            // The source may turn here.
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

    /// How far the coil current lies on the quiet side of the relay's threshold: negative once the
    /// relay changes its mind.
    fn content_a(&self, coil_a: f64) -> f64 {
        let (threshold, side) = self.armature.threshold(self.coil);
        side * (threshold - coil_a)
    }
}

impl Network {
    /// Slope of capacitor voltage and flux.
    pub(super) fn slope(&self, flow: &Flow, capacitor_v: f64, coil_a: f64) -> [f64; 2] {
        let capacitor_slope = match self.capacitance_f {
            Some(farad) => {
                (flow.dc_a - (coil_a - flow.flyback_a) - flow.node_v * self.leak_s) / farad
            }
            // Nothing there; it stays at 0.
            None => -capacitor_v,
        };
        [capacitor_slope, flow.coil_v - self.coil_ohm * coil_a]
    }

    /// Matrix and push of the stretch in which no diode conducts, if it is linear.
    pub(super) fn quiet(&self, source_v: f64, inductance_h: f64) -> (Matrix, [f64; 2]) {
        let Self {
            gain,
            inner_ohm,
            leak_s,
            ..
        } = *self;
        // i_dc = g_s·(e − v_n) without a rectifier, a constant reverse current with one.
        let (conductance, push_a) = if self.rectifier == Rectifier::None {
            (1.0 / self.feed.ohm, source_v / self.feed.ohm)
        } else {
            (0.0, self.reverse_a())
        };
        let share = 1.0 / (1.0 + inner_ohm * conductance);
        // v_n = share·(gain·v_C − inner·i + inner·push)
        let node = [share * gain, -share * inner_ohm / inductance_h];
        let node_push = share * inner_ohm * push_a;
        let load = conductance + leak_s;
        let coil = [
            node[0],
            node[1] - (self.coil_ohm + self.series_ohm) / inductance_h,
        ];
        let Some(farad) = self.capacitance_f else {
            return ([[-1.0, 0.0], [0.0, coil[1]]], [0.0, node_push]);
        };
        (
            [
                [
                    -load * node[0] / farad,
                    (-1.0 / inductance_h - load * node[1]) / farad,
                ],
                coil,
            ],
            [(push_a - load * node_push) / farad, node_push],
        )
    }
}

/// First step after a jump of the source [s].
const FIRST_STEP_S: f64 = 1e-5;
