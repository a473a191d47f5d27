//! While one pair of the bridge conducts: y = ln(1 + i/`I_s`) in place of the capacitor's voltage.
//!
//! ```text
//!   y' = a'/(R·I_s·e^y + n·N·V_T)       a = |e| − v_n0,  R = R_th + n·R_s + R_eq
//!   v_n = |e| − (R_th + n·R_s)·i − n·N·V_T·y
//! ```
//!
//! The derivative of the network's own equation for one pair. The current spans five decades in a
//! pulse and y turns only twice, so the steps are few and no equation is left to solve.

use super::{Evaluated, Run};
use crate::circuit::rectifier::Rectifier;
use crate::transient::linear::Matrix;
use crate::transient::network::{Flow, Network};

/// y may be off by this in one step: the current by that fraction.
pub(super) const TOLERANCE_Y: f64 = 1.5e-4;

/// The voltage may be off by this in one step, of full scale.
pub(super) const TOLERANCE_V: f64 = 1e-5;

/// The source at one instant, as the conducting pair sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drive {
    /// Voltage [V], positive.
    pub(super) volts: f64,
    /// Its slope [V/s].
    pub(super) slope: f64,
}

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
    /// Slopes of y and flux.
    pub(super) slope: [f64; 2],
    /// Slope of the capacitor's voltage [V/s].
    pub(super) capacitor_slope: f64,
    /// Capacitor voltage [V].
    pub(super) capacitor_v: f64,
    pair_a: f64,
    pub(super) node_v: f64,
    pub(super) coil_v: f64,
}

/// The network's constants for one conducting pair.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Pair {
    /// `R_th + n·R_s` [Ω].
    ohm: f64,
    /// The same with the DC side's `R_eq` [Ω].
    all_ohm: f64,
    /// n·N·`V_T` [V].
    slope_v: f64,
    saturation_a: f64,
    /// The opposite pair's reverse current [A].
    opposite_a: f64,
    /// 1/C [1/F].
    per_farad: f64,
    gain: f64,
    per_gain: f64,
    inner_ohm: f64,
    leak_s: f64,
    series_ohm: f64,
    coil_ohm: f64,
}

impl Pair {
    /// `None` without a capacitor: then the coil sets the current.
    pub(in super::super) fn of(network: &Network) -> Option<Self> {
        if network.rectifier == Rectifier::None {
            return None;
        }
        let diodes = f64::from(network.rectifier.diodes_in_path());
        let ohm = network.feed.ohm + diodes * network.bridge.series_ohm;
        Some(Self {
            ohm,
            all_ohm: ohm + network.inner_ohm,
            slope_v: diodes * network.bridge.slope_v,
            saturation_a: network.bridge.saturation_a,
            opposite_a: if network.rectifier == Rectifier::Bridge {
                -network.bridge.saturation_a
            } else {
                0.0
            },
            per_farad: 1.0 / network.capacitance_f?,
            gain: network.gain,
            per_gain: 1.0 / network.gain,
            inner_ohm: network.inner_ohm,
            leak_s: network.leak_s,
            series_ohm: network.series_ohm,
            coil_ohm: network.coil_ohm,
        })
    }

    /// Currents and voltages at y and this coil current.
    pub(super) fn flow(&self, drive_v: f64, y: f64, coil_a: f64) -> Flow {
        let pair_a = self.saturation_a * (exp(y) - 1.0);
        let node_v = drive_v - self.ohm * pair_a - self.slope_v * y;
        Flow {
            dc_a: pair_a + self.opposite_a,
            ac_a: pair_a - self.opposite_a,
            flyback_a: 0.0,
            node_v,
            coil_v: node_v - self.series_ohm * coil_a,
            pair_y: Some(y),
        }
    }

    /// Slopes of y and flux.
    #[inline]
    pub(super) fn slope(&self, drive: Drive, x: [f64; 2], inductance: Inductance) -> [f64; 2] {
        self.evaluate(drive, x, inductance).slope
    }

    #[inline]
    pub(super) fn evaluate(&self, drive: Drive, x: [f64; 2], inductance: Inductance) -> Paired {
        let [y, flux] = x;
        let coil_a = flux * inductance.inverse;
        let carrying_a = self.saturation_a * exp(y);
        let pair_a = carrying_a - self.saturation_a;
        let dc_a = pair_a + self.opposite_a;
        let node_v = drive.volts - self.ohm * pair_a - self.slope_v * y;
        let coil_v = node_v - self.series_ohm * coil_a;
        let flux_slope = coil_v - self.coil_ohm * coil_a;
        let capacitor_slope = (dc_a - coil_a - node_v * self.leak_s) * self.per_farad;
        let coil_slope = (flux_slope - coil_a * inductance.growth) * inductance.inverse;
        let push = drive.slope - self.gain * capacitor_slope + self.inner_ohm * coil_slope;
        Paired {
            slope: [
                push / (self.all_ohm * carrying_a + self.slope_v),
                flux_slope,
            ],
            capacitor_slope,
            capacitor_v: (node_v - self.inner_ohm * (dc_a - coil_a)) * self.per_gain,
            pair_a,
            node_v,
            coil_v,
        }
    }

    /// The currents and voltages of an evaluation.
    pub(super) fn flow_of(&self, found: &Paired, y: f64) -> Flow {
        Flow {
            dc_a: found.pair_a + self.opposite_a,
            ac_a: found.pair_a - self.opposite_a,
            flyback_a: 0.0,
            node_v: found.node_v,
            coil_v: found.coil_v,
            pair_y: Some(y),
        }
    }

    /// Voltage per y [V]: what a departure of y amounts to.
    pub(super) fn volts_per_y(&self, y: f64) -> f64 {
        self.all_ohm * self.saturation_a * exp(y) + self.slope_v
    }

    /// Jacobian of the slopes of capacitor voltage and flux at y.
    pub(super) fn jacobian(&self, y: f64, inductance_h: f64) -> Matrix {
        let carrying_a = self.saturation_a * exp(y);
        let per_henry = 1.0 / inductance_h;
        // d i_dc = −g·d v_n0
        let g = carrying_a / (self.all_ohm * carrying_a + self.slope_v);
        let node = 1.0 - self.inner_ohm * g;
        let idle = [self.gain, -self.inner_ohm * per_henry];
        let load = g + self.leak_s * node;
        let coil_ohm = self.coil_ohm + self.series_ohm;
        [
            [
                -load * idle[0] * self.per_farad,
                (-load * idle[1] - per_henry) * self.per_farad,
            ],
            [node * idle[0], node * idle[1] - coil_ohm * per_henry],
        ]
    }
}

impl Run<'_> {
    /// What the conducting pair sees of the source at an instant; `sign` of the half-period.
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

    /// Which way the bridge is driven now.
    pub(super) fn sign(&self, t: f64) -> f64 {
        if self.network.rectifier == Rectifier::Bridge && self.wave.at(t) < 0.0 {
            -1.0
        } else {
            1.0
        }
    }

    /// Adds y and its slope to what flows here, if one pair conducts.
    pub(super) fn paired(&self, mut here: Evaluated) -> Evaluated {
        if here.pair.is_some() {
            return here;
        }
        let (Some(y), Some(pair)) = (here.flow.pair_y, &self.network.pair) else {
            return here;
        };
        let drive = self.drive(self.now, self.sign(self.now));
        let found = pair.evaluate(drive, [y, self.state[1]], self.inductance_over(0.0));
        here.pair = Some([y, found.slope[0]]);
        here
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

    /// The drive `h` after the start; the series hold to 1e-12 up to 0.4 rad.
    pub(super) fn after(&self, h: f64) -> Drive {
        if self.omega == 0.0 {
            return self.start;
        }
        let turn = self.omega * h;
        let q = turn * turn;
        let sin_over_omega =
            h * (1.0 - q / 6.0 * (1.0 - q / 20.0 * (1.0 - q / 42.0 * (1.0 - q / 72.0))));
        let cos = 1.0 - q / 2.0 * (1.0 - q / 12.0 * (1.0 - q / 30.0 * (1.0 - q / 56.0)));
        Drive {
            volts: self.start.volts * cos + self.start.slope * sin_over_omega,
            slope: self.start.slope * cos
                - self.start.volts * self.omega * self.omega * sin_over_omega,
        }
    }
}

/// eʸ to 1e-11: 2ⁿ and a polynomial. The library's function is four times as long, and this one is
/// half of the work.
#[inline]
pub(super) fn exp(y: f64) -> f64 {
    /// Adding this leaves the nearest integer in the low bits (double precision, |n| < 2^51).
    const TO_INTEGER: f64 = 6_755_399_441_055_744.0;
    const LN_2_HIGH: f64 = 0.693_147_180_369_123_8;
    const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    let y = y.clamp(-700.0, 700.0);
    let shifted = y * std::f64::consts::LOG2_E + TO_INTEGER;
    let n = shifted - TO_INTEGER;
    let r = y - n * LN_2_HIGH - n * LN_2_LOW;
    let r2 = r * r;
    let r4 = r2 * r2;
    let low = (1.0 + r) + r2 * (0.5 + r / 6.0);
    let high = (1.0 / 24.0 + r / 120.0) + r2 * (1.0 / 720.0 + r / 5040.0);
    let top = 1.0 / 40320.0 + r / 362_880.0;
    let part = low + r4 * (high + r4 * top);
    // The low bits of `shifted` hold n; the exponent field takes n + 1023.
    let exponent = (shifted.to_bits() << 52).wrapping_add(1023 << 52);
    part * f64::from_bits(exponent)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_exponential_agrees_with_the_library() {
        let mut y = -690.0;
        while y < 100.0 {
            let error = exp(y) / f64::exp(y) - 1.0;
            assert!(error.abs() < 1e-11, "{y}: {error}");
            y += 0.137;
        }
    }
}
