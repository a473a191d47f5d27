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

use super::wright::omega;
use super::{Evaluated, Run};
use crate::circuit::rectifier::Rectifier;
use crate::transient::linear::Matrix;
use crate::transient::network::{Flow, Network};

/// Inductance, inverted, and its growth.
#[derive(Debug, Clone, Copy)]
pub(super) struct Inductance {
    /// 1/L [1/H].
    pub(super) inverse: f64,
    /// Growth [H/s].
    pub(super) growth: f64,
}

/// All that one evaluation gives.
#[derive(Debug, Clone, Copy)]
pub(super) struct Paired {
    /// Slopes of capacitor voltage and flux.
    pub(super) slope: [f64; 2],
    omega: f64,
    dc_a: f64,
    pub(super) node_v: f64,
    pub(super) coil_v: f64,
}

/// The network's constants for one conducting pair.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Pair {
    /// 1/S [1/V].
    per_slope_v: f64,
    /// z at a = 0.
    shift: f64,
    /// S/R [A].
    unit_a: f64,
    /// `I_s` less the opposite pair's reverse current [A].
    back_a: f64,
    saturation_a: f64,
    /// `R_th + n·R_s + R_eq`, inverted [S].
    per_ohm: f64,
    /// 1/C [1/F].
    per_farad: f64,
    gain: f64,
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
        let ohm = network.feed.ohm + diodes * network.bridge.series_ohm + network.inner_ohm;
        let slope_v = diodes * network.bridge.slope_v;
        let opposite_a = if network.rectifier == Rectifier::Bridge {
            -saturation_a
        } else {
            0.0
        };
        let lift_v = ohm * saturation_a - network.inner_ohm * opposite_a;
        Some(Self {
            per_slope_v: 1.0 / slope_v,
            shift: lift_v / slope_v + (ohm * saturation_a / slope_v).ln(),
            unit_a: slope_v / ohm,
            back_a: saturation_a - opposite_a,
            saturation_a,
            per_ohm: 1.0 / ohm,
            per_farad: 1.0 / network.capacitance_f?,
            gain: network.gain,
            inner_ohm: network.inner_ohm,
            leak_s: network.leak_s,
            series_ohm: network.series_ohm,
            load_ohm: network.coil_ohm + network.series_ohm,
        })
    }

    /// What flows with the source at `source_v`, positive, in a state.
    #[inline]
    pub(super) fn evaluate(&self, source_v: f64, x: [f64; 2], per_henry: f64) -> Paired {
        let coil_a = x[1] * per_henry;
        let idle_v = self.gain * x[0] - self.inner_ohm * coil_a;
        let omega = omega((source_v - idle_v) * self.per_slope_v + self.shift);
        let dc_a = self.unit_a * omega - self.back_a;
        let node_v = idle_v + self.inner_ohm * dc_a;
        let coil_v = node_v - self.series_ohm * coil_a;
        Paired {
            slope: [
                (dc_a - coil_a - node_v * self.leak_s) * self.per_farad,
                node_v - self.load_ohm * coil_a,
            ],
            omega,
            dc_a,
            node_v,
            coil_v,
        }
    }

    /// The currents and voltages of an evaluation; `sign` of the half-period.
    pub(super) fn flow(&self, found: &Paired, sign: f64) -> Flow {
        Flow {
            dc_a: found.dc_a,
            ac_a: sign * (found.dc_a + 2.0 * (self.back_a - self.saturation_a)),
            flyback_a: 0.0,
            node_v: found.node_v,
            coil_v: found.coil_v,
        }
    }

    /// di/da at an evaluation [S].
    pub(super) fn conductance_s(&self, found: &Paired) -> f64 {
        self.per_ohm * found.omega / (1.0 + found.omega)
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

impl Run<'_> {
    /// The source at an instant as the conducting pair sees it, and its slope; `sign` of the
    /// half-period.
    pub(super) fn drive(&self, t: f64, sign: f64) -> Drive {
        let peak_v = sign * self.network.feed.peak_v;
        if self.wave.omega == 0.0 {
            return Drive {
                volts: peak_v,
                slope: 0.0,
            };
        }
        let (sin, cos) = (self.wave.omega * t + self.wave.phase).sin_cos();
        Drive {
            volts: peak_v * sin,
            slope: peak_v * cos * self.wave.omega,
        }
    }

    /// Which way the bridge is driven in the half-period that holds `t` or begins there.
    pub(super) fn sign(&self, t: f64) -> f64 {
        if self.network.rectifier == Rectifier::Bridge && self.wave.is_negative(t) {
            -1.0
        } else {
            1.0
        }
    }

    /// Inductance and its growth `h` after now.
    pub(super) fn inductance_over(&self, h: f64) -> Inductance {
        let rate = self.armature.rate(self.coil);
        Inductance {
            inverse: 1.0 / self.inductance_after(h),
            growth: (self.coil.closed_h - self.coil.open_h) * rate,
        }
    }
}

/// The source at one instant, as the conducting pair sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drive {
    /// Voltage [V].
    pub(super) volts: f64,
    /// Its slope [V/s].
    pub(super) slope: f64,
}

/// The source along one step: sine and cosine turned on from the step's start.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turning {
    start: Drive,
    omega: f64,
}

impl Turning {
    pub(super) fn new(start: Drive, omega: f64) -> Self {
        Self { start, omega }
    }

    /// The source `h` after the start; the series hold to 1e-12 up to 0.4 rad.
    #[inline]
    pub(super) fn after(&self, h: f64) -> Drive {
        let turn = self.omega * h;
        let q = turn * turn;
        let sin_over_omega =
            h * (1.0 - q * (1.0 / 6.0 - q * (1.0 / 120.0 - q * (1.0 / 5040.0 - q / 362_880.0))));
        let cos = 1.0 - q * (0.5 - q * (1.0 / 24.0 - q * (1.0 / 720.0 - q / 40320.0)));
        Drive {
            volts: self.start.volts * cos + self.start.slope * sin_over_omega,
            slope: self.start.slope * cos
                - self.start.volts * self.omega * self.omega * sin_over_omega,
        }
    }
}
