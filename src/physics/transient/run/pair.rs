//! While at most one pair of the bridge conducts into a capacitor: the current in closed form.
//!
//! ```text
//!   a = |e| − v_n0 − R_eq·i_opposite,   R = R_th + n·R_s + R_eq,   S = n·N·V_T
//!   R·i + S·ln(1 + i/I_s) = a      i = S/R·ω(z) − I_s
//!   z = (a + R·I_s)/S + ln(R·I_s/S)      di/da = ω/(1 + ω)/R
//! ```
//!
//! ω is Wright's function, out of a table: no equation is left to solve, and blocking needs no case
//! of its own.

use super::{Evaluated, Inductance};
use crate::circuit::rectifier::Rectifier;
use crate::transient::linear::Matrix;
use crate::transient::network::{Flow, Network};

/// The network's constants for one conducting pair.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Pair {
    /// 1/S [1/V].
    pub(super) per_slope_v: f64,
    /// z at a = 0.
    pub(super) shift: f64,
    /// z per capacitor voltage [1/V] and per coil current [1/A].
    pub(super) z_per_v: f64,
    pub(super) z_per_a: f64,
    /// Slope of the capacitor's voltage per ω [V/s], per volt, per ampere, and without any.
    pub(super) rise_per_omega: f64,
    pub(super) rise_per_v: f64,
    pub(super) rise_per_a: f64,
    pub(super) rise_idle: f64,
    /// Slope of the flux per ω [V], per ampere [Ω], and without any [V].
    pub(super) lift_v: f64,
    pub(super) drop_ohm: f64,
    pub(super) drop_idle_v: f64,
    pub(super) gain: f64,
    /// S/R [A].
    unit_a: f64,
    /// `I_s` less the opposite pair's reverse current [A].
    back_a: f64,
    /// What the wire carries beyond the rectifier's output [A].
    around_a: f64,
    /// `R_th + n·R_s + R_eq`, inverted [S].
    per_ohm: f64,
    /// 1/C [1/F].
    per_farad: f64,
    inner_ohm: f64,
    leak_s: f64,
    series_ohm: f64,
    /// Coil and series resistor [Ω].
    load_ohm: f64,
}

impl Pair {
    /// `None` without a capacitor: then the coil sets the current.
    pub(in super::super) fn of(network: &Network) -> Option<Self> {
        if network.rectifier == Rectifier::None {
            return None;
        }
        let diodes = f64::from(network.rectifier.diodes_in_path());
        let saturation_a = network.bridge.saturation_a;
        let inner_ohm = network.inner_ohm;
        let ohm = network.feed.ohm + diodes * network.bridge.series_ohm + inner_ohm;
        let slope_v = diodes * network.bridge.slope_v;
        let opposite_a = if network.rectifier == Rectifier::Bridge {
            -saturation_a
        } else {
            0.0
        };
        let lift_v = ohm * saturation_a - inner_ohm * opposite_a;
        let (unit_a, back_a) = (slope_v / ohm, saturation_a - opposite_a);
        let per_farad = 1.0 / network.capacitance_f?;
        let load_ohm = network.coil_ohm + network.series_ohm;
        // What of a current arrives in the capacitor: the leakage takes its share of the ESR's drop.
        let arriving = per_farad * (1.0 - inner_ohm * network.leak_s);
        Some(Self {
            per_slope_v: 1.0 / slope_v,
            shift: lift_v / slope_v + (ohm * saturation_a / slope_v).ln(),
            z_per_v: network.gain / slope_v,
            z_per_a: inner_ohm / slope_v,
            rise_per_omega: arriving * unit_a,
            rise_per_v: per_farad * network.leak_s * network.gain,
            rise_per_a: arriving,
            rise_idle: arriving * back_a,
            lift_v: inner_ohm * unit_a,
            drop_ohm: inner_ohm + load_ohm,
            drop_idle_v: inner_ohm * back_a,
            gain: network.gain,
            unit_a,
            back_a,
            around_a: -2.0 * opposite_a,
            per_ohm: 1.0 / ohm,
            per_farad,
            inner_ohm,
            leak_s: network.leak_s,
            series_ohm: network.series_ohm,
            load_ohm,
        })
    }

    /// Currents and voltages at ω in a state; `sign` of the half-period.
    pub(super) fn flow(&self, omega: f64, state: [f64; 2], per_henry: f64, sign: f64) -> Flow {
        let coil_a = state[1] * per_henry;
        let dc_a = self.unit_a * omega - self.back_a;
        let node_v = self.gain * state[0] + self.inner_ohm * (dc_a - coil_a);
        Flow {
            dc_a,
            ac_a: sign * (dc_a + self.around_a),
            flyback_a: 0.0,
            node_v,
            coil_v: node_v - self.series_ohm * coil_a,
        }
    }

    /// di/da at ω [S].
    pub(super) fn conductance_s(&self, omega: f64) -> f64 {
        self.per_ohm * omega / (1.0 + omega)
    }

    /// Jacobian of the slopes where the pair's conductance is `g` [S].
    pub(in super::super) fn jacobian(&self, g: f64, inductance_h: f64) -> Matrix {
        let per_henry = 1.0 / inductance_h;
        // d i_dc = −g·d v_n0
        let node = 1.0 - self.inner_ohm * g;
        let idle = [self.gain, -self.inner_ohm * per_henry];
        let load = g + self.leak_s * node;
        [
            [
                -load * idle[0] * self.per_farad,
                (-load * idle[1] - per_henry) * self.per_farad,
            ],
            [node * idle[0], node * idle[1] - self.load_ohm * per_henry],
        ]
    }

    /// What a change of the source does to the slopes where the pair's conductance is `g` [S].
    pub(super) fn pull(&self, g: f64) -> [f64; 2] {
        [self.rise_per_a * g, self.inner_ohm * g]
    }

    /// The longest step that does not pass over a knee of the current unseen [s]; the error estimate
    /// is blind to a knee that is much shorter than the step.
    pub(super) fn longest_s(
        &self,
        here: &Evaluated,
        x: [f64; 2],
        omega: f64,
        inductance: Inductance,
    ) -> f64 {
        let coil_a = x[1] * inductance.inverse;
        let idle_v = self.gain * x[0] - self.inner_ohm * coil_a;
        let z = (here.drive.volts - idle_v) * self.per_slope_v + self.shift;
        let coil_slope = (here.slope[1] - coil_a * inductance.growth) * inductance.inverse;
        let rise = (here.drive.slope - self.gain * here.slope[0] + self.inner_ohm * coil_slope)
            * self.per_slope_v;
        if z < -KNEE_Z {
            // On to the knee, if it comes.
            return if rise > 0.0 {
                (0.5 * KNEE_Z - z) / rise - KNEE_Z / rise
            } else {
                f64::INFINITY
            };
        }
        if z < KNEE_Z {
            return ACROSS_Z / rise.abs();
        }
        // Down to the knee: z + rise·t − bend·t²/2 = half a knee.
        let bend = omega * omega * here.drive.volts * self.per_slope_v;
        let height = z - 0.5 * KNEE_Z;
        let root = (rise * rise + 2.0 * bend * height).max(0.0).sqrt();
        let down_s = 2.0 * height / (root - rise).max(f64::MIN_POSITIVE);
        down_s.max(ACROSS_Z / root)
    }
}

/// z between this and its negative is the knee of the current.
const KNEE_Z: f64 = 2.0;

/// Change of z in one step across the knee.
const ACROSS_Z: f64 = 4.0;
