//! The flow in a state, how fast the state changes, and how that depends on the state.
//!
//! In this order: at most one pair conducts; the coil freewheels behind a source that is off; everything else.

use super::super::linear::{exponential, short_exponential};
use super::{Drive, Flow, Guess, Matrix, Network, Piece, Rectifier, Response, Run};

/// The slope and the flow in a state.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Evaluated {
    pub(super) slope: [f64; 2],
    pub(super) flow: Flow,
    /// The source as the conducting pair sees it, and its sign.
    pub(super) drive: Drive,
    pub(super) sign: f64,
    /// Conductance of the one pair that may conduct [S]; `None` if others do.
    pub(super) conductance_s: Option<f64>,
    /// Without a capacitor, the change of the coil's voltage.
    pub(super) response: Response,
}

/// Longest decay over a stretch for which its short exponential is good enough.
const SHORT: f64 = 2.0;

/// Size of a finite difference, of full scale.
pub(super) const NUDGE: f64 = 1e-6;

impl Run<'_> {
    /// Growth of a departure from a piece's start to its end.
    pub(in super::super) fn growth(&self, piece: &Piece) -> Matrix {
        let h = piece.end_s - piece.start_s;
        if let Some(course) = piece.course() {
            return course.growth(h);
        }
        if let Some(fade) = piece.fade() {
            return [[0.0, 0.0], [0.0, fade.exp()]];
        }
        let t = f64::midpoint(piece.start_s, piece.end_s);
        let inductance_h = self.coil.inductance_h(piece.position_at(t));
        let mean = match (piece.grip_s(), &self.network.pair) {
            (Some(grip_s), Some(pair)) => pair.jacobian(grip_s, inductance_h),
            // The middle is good enough.
            _ => self.jacobian(t, piece.state_at(t), inductance_h),
        };
        if (mean[0][0] + mean[1][1]) * -h < SHORT {
            short_exponential(&mean, h)
        } else {
            exponential(&mean, h)
        }
    }

    /// Jacobian of the slope by differences.
    fn jacobian(&self, t: f64, state: [f64; 2], inductance_h: f64) -> Matrix {
        let mut guess = self.guess;
        let base = self.evaluate(t, state, inductance_h, &mut guess).slope;
        let mut jacobian = [[0.0; 2]; 2];
        let first = usize::from(self.network.capacitance_f.is_none());
        if first == 1 {
            jacobian[0][0] = -1.0;
        }
        for n in first..2 {
            let by = NUDGE * self.scale[n];
            let mut moved = state;
            moved[n] += by;
            let slope = self.evaluate(t, moved, inductance_h, &mut guess).slope;
            for m in 0..2 {
                jacobian[m][n] = (slope[m] - base[m]) / by;
            }
        }
        jacobian
    }

    /// The flow at an instant of a piece.
    pub(in super::super) fn flow_at(
        &self,
        piece: &Piece,
        t: f64,
        guess: &mut Guess,
    ) -> (Flow, f64) {
        let state = piece.state_at(t);
        let inductance_h = self.coil.inductance_h(piece.position_at(t));
        if let (true, Some(course)) = (self.network.is_bare(), piece.course()) {
            // An idle coil: its diodes carry almost nothing, which is not calculated.
            let coil_a = state[1] / inductance_h;
            let coil_v = course.slope(state)[1] + self.network.coil_ohm * coil_a;
            let flow = Flow {
                flyback_a: coil_a,
                node_v: coil_v,
                coil_v,
                ..Flow::default()
            };
            return (flow, coil_a);
        }
        let flow = self.evaluate(t, state, inductance_h, guess).flow;
        (flow, state[1] / inductance_h)
    }

    /// The flow at an instant, in a state, with that inductance.
    pub(super) fn evaluate(
        &self,
        t: f64,
        state: [f64; 2],
        inductance_h: f64,
        guess: &mut Guess,
    ) -> Evaluated {
        let sign = self.sign(t);
        let drive = self.drive(t, sign);
        if self.network.is_bare() {
            let coil_a = state[1] / inductance_h;
            return self.evaluate_bare(drive, sign, coil_a, guess);
        }
        if let Some(pair) = &self.network.pair {
            let per_henry = 1.0 / inductance_h;
            let (omega, slope) = pair.at(drive.volts, state, per_henry);
            let flow = pair.flow(omega, state, per_henry, sign);
            if self
                .network
                .others_block(flow.node_v, flow.coil_v, f64::NEG_INFINITY)
            {
                return Evaluated {
                    slope,
                    flow,
                    drive,
                    sign,
                    conductance_s: Some(pair.conductance_s(omega)),
                    response: Response::default(),
                };
            }
        }
        let coil_a = state[1] / inductance_h;
        let freewheels = self.network.freewheel.as_ref().and_then(|freewheel| {
            freewheel.flow(self.network.idle_node_v(state[0], coil_a), coil_a)
        });
        let flow = freewheels.unwrap_or_else(|| {
            self.network
                .solve(sign * drive.volts, state[0], coil_a, guess)
        });
        Evaluated {
            slope: self.network.slope(&flow, state[0], coil_a),
            flow,
            drive,
            sign,
            conductance_s: None,
            response: Response::default(),
        }
    }
}

impl Run<'_> {
    /// The same without a capacitor.
    pub(super) fn evaluate_bare(
        &self,
        drive: Drive,
        sign: f64,
        coil_a: f64,
        guess: &mut Guess,
    ) -> Evaluated {
        let (mut flow, response) = self.network.bare_flow(drive.volts, coil_a, guess);
        flow.ac_a *= sign;
        Evaluated {
            slope: [0.0, flow.coil_v - self.network.coil_ohm * coil_a],
            flow,
            drive,
            sign,
            conductance_s: None,
            response,
        }
    }
}

impl Network {
    /// Slope of capacitor voltage and flux.
    pub(super) fn slope(&self, flow: &Flow, capacitor_v: f64, coil_a: f64) -> [f64; 2] {
        let capacitor_slope = match self.capacitance_f {
            Some(farad) => {
                (flow.dc_a - (coil_a - flow.flyback_a) - flow.node_v * self.leak_s) / farad
            }
            // There is no capacitor; its voltage stays at 0.
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
