//! Every current and voltage at one instant, from the two that cannot jump.
//!
//! ```text
//!   R_th      w  ┌─►├─┬─●──┬─────┬───R_ser──┬───────┐     e: source and lamps, open circuit
//!  ○─▭────────●──┤    │v_n │     │          │v_k    │     i: coil current, flux/L
//!  e             ├─►├─┘    ▭ R_p ▭ ESR      ▲ D_f   ◯ i   v_C: capacitor's inner voltage
//!  ○──────────●──┴─(2)──●──┴─────╧ v_C──────┴───────┘
//!
//!  DC side:   v_n = v_n0 + R_eq·(i_dc + i_f)      R_eq = R_p‖ESR, v_n0 = R_eq·(v_C/ESR − i)
//!  bridge:    u(i₁) + u(i₂) = −v_n                w = e − R_th·(i₁ − i₂), i_dc = i₁ + i₂
//!             u(i₁) − u(i₂) = w                   u(x) = N·V_T·ln(1 + x/I_s) + R_s·x
//!  one pair:  |e| − v_n0 = x·(R_th + 2·R_s + R_eq) + 2·N·V_T·ln(1 + x/I_s)
//! ```
//!
//! Source: Kirchhoff's laws, Thévenin's theorem and SPICE's junction law; by symmetry two diodes of
//! the bridge carry i₁ and two carry i₂, so five unknown nodes shrink to two. The equations are
//! solved by Newton's method in y = ln(1 + x/`I_s`), in which one conducting pair is convex.
//! Holds: always. Leaves out: junction capacitance and recovery (0.00 % at mains frequency), wire
//! inductance (+0.03 %).

use super::Link;
use super::run::{Freewheel, Pair, exp};
use crate::circuit::diode::Junction;
use crate::circuit::rectifier::Rectifier;

mod bare;
mod junction;
mod plain;
mod together;

pub(super) use bare::Response;
use junction::junction_y;
use together::Together;

/// Stands in for the missing load of a bridge without a capacitor [Ω]; takes 0.1 µA.
const OPEN_OHM: f64 = 1e8;

/// A diode whose current exceeds its reverse current by less than this counts as blocking [A].
const BLOCKING_A: f64 = 1e-6;

/// Smallest current that a source must be able to push to count as on [A].
const SILENT_A: f64 = 1e-6;

/// Peak voltage below which the source counts as off [V].
const SILENT_V: f64 = 0.05;

/// The master end seen through the wire.
#[derive(Debug, Clone, Copy)]
pub(super) struct Feed {
    /// Peak voltage, or DC voltage, after the lamps' sag [V].
    pub(super) peak_v: f64,
    /// Resistance before the rectifier [Ω].
    pub(super) ohm: f64,
}

/// The network with its constants worked out.
#[derive(Debug, Clone)]
pub(super) struct Network {
    pub(super) rectifier: Rectifier,
    pub(super) bridge: Junction,
    pub(super) flyback: Option<Junction>,
    pub(super) feed: Feed,
    pub(super) capacitance_f: Option<f64>,
    /// `R_p/(R_p + ESR)`; 1 without leakage.
    pub(super) gain: f64,
    /// `R_eq` [Ω].
    pub(super) inner_ohm: f64,
    /// `1/R_p` [S].
    pub(super) leak_s: f64,
    pub(super) series_ohm: f64,
    pub(super) coil_ohm: f64,
    /// y at which a bridge diode counts as blocking.
    blocking_y: f64,
    /// The same in volts.
    blocking_v: f64,
    flyback_blocking_v: f64,
    /// For stretches in which one pair alone conducts into a capacitor.
    pub(super) pair: Option<Pair>,
    /// For stretches in which the coil freewheels behind a source that is off.
    pub(super) freewheel: Option<Freewheel>,
}

/// Currents and voltages at one instant.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Flow {
    /// Out of the rectifier [A].
    pub(super) dc_a: f64,
    /// In the wire [A].
    pub(super) ac_a: f64,
    /// Through the flyback diode [A].
    pub(super) flyback_a: f64,
    /// Across the capacitor's terminals [V].
    pub(super) node_v: f64,
    /// Across the coil [V].
    pub(super) coil_v: f64,
}

/// The last solution, from which the next one starts.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Guess {
    y: [f64; 3],
    known: bool,
}

impl Feed {
    /// The feed itself, or no voltage at all where that makes no difference.
    fn or_silence(self) -> Self {
        let silent = self.peak_v < SILENT_V || self.peak_v < SILENT_A * self.ohm;
        Self {
            peak_v: if silent { 0.0 } else { self.peak_v },
            ..self
        }
    }
}

impl Network {
    pub(super) fn new(link: &Link, feed: Feed) -> Self {
        let feed = feed.or_silence();
        let bridge = link.diode;
        let (capacitance_f, gain, inner_ohm, leak_s) = match &link.capacitor {
            Some(capacitor) => {
                let leak_s = capacitor.leak_ohm.map_or(0.0, |ohm| 1.0 / ohm);
                let gain = 1.0 / (1.0 + capacitor.esr_ohm * leak_s);
                (
                    Some(capacitor.farad),
                    gain,
                    gain * capacitor.esr_ohm,
                    leak_s,
                )
            }
            None => (None, 0.0, OPEN_OHM, 1.0 / OPEN_OHM),
        };
        let blocking_y = (BLOCKING_A / bridge.saturation_a).ln();
        let mut network = Self {
            pair: None,
            freewheel: None,
            rectifier: link.rectifier,
            bridge,
            flyback: link.flyback,
            feed,
            capacitance_f,
            gain,
            inner_ohm,
            leak_s,
            series_ohm: link.series_ohm,
            coil_ohm: link.coil.ohm,
            blocking_y,
            blocking_v: blocking_y * bridge.slope_v,
            flyback_blocking_v: link.flyback.map_or(f64::INFINITY, |diode| {
                (BLOCKING_A / diode.saturation_a).ln() * diode.slope_v
            }),
        };
        network.pair = Pair::of(&network);
        network.freewheel = Freewheel::of(&network);
        network
    }

    /// Diodes in series in one path.
    fn in_path(&self) -> f64 {
        f64::from(self.rectifier.diodes_in_path())
    }

    /// `v_n0`: the node with the rectifier and the flyback diode cut off [V].
    pub(super) fn idle_node_v(&self, capacitor_v: f64, coil_a: f64) -> f64 {
        self.gain * capacitor_v - self.inner_ohm * coil_a
    }

    /// The reverse current of a blocking rectifier [A]: negative, out of the node.
    pub(super) fn reverse_a(&self) -> f64 {
        match self.rectifier {
            Rectifier::Bridge => -2.0 * self.bridge.saturation_a,
            Rectifier::SingleDiode => -self.bridge.saturation_a,
            Rectifier::None => 0.0,
        }
    }

    /// What the opposite pair of a bridge carries while it blocks [A]: its reverse current.
    fn opposite_a(&self) -> f64 {
        if self.rectifier == Rectifier::Bridge {
            -self.bridge.saturation_a
        } else {
            0.0
        }
    }

    /// Voltage that drives the rectifier [V]; negative while it blocks.
    pub(super) fn drive_v(&self, source_v: f64, node_v: f64) -> f64 {
        let source_v = if self.rectifier == Rectifier::Bridge {
            source_v.abs()
        } else {
            source_v
        };
        source_v - node_v - self.in_path() * self.blocking_v
    }

    /// Voltage with which the coil drives the flyback diode or the bridge's own freewheeling [V]; negative
    /// while they block.
    pub(super) fn freewheel_v(&self, node_v: f64, coil_v: f64) -> f64 {
        let through_bridge = if self.rectifier == Rectifier::Bridge {
            -node_v - 2.0 * self.blocking_v.min(0.0) - 1e-3
        } else {
            f64::NEG_INFINITY
        };
        through_bridge.max(-coil_v - self.flyback_blocking_v)
    }

    /// Currents and voltages with the source at `source_v` behind its resistance.
    pub(super) fn solve(
        &self,
        source_v: f64,
        capacitor_v: f64,
        coil_a: f64,
        guess: &mut Guess,
    ) -> Flow {
        let idle_v = self.idle_node_v(capacitor_v, coil_a);
        if self.rectifier == Rectifier::None {
            return self.solve_plain(source_v, idle_v, coil_a);
        }
        let is = self.bridge.saturation_a;
        let nodes = self.in_path();
        let forward_v = if self.rectifier == Rectifier::Bridge {
            source_v.abs()
        } else {
            source_v
        };
        let opposite_a = self.opposite_a();
        let a = forward_v - idle_v - self.inner_ohm * opposite_a;
        let sign = if source_v < 0.0 && self.rectifier == Rectifier::Bridge {
            -1.0
        } else {
            1.0
        };
        let (pair_a, pair_y, node_v);
        if a < nodes * self.blocking_v - self.inner_ohm * is {
            (pair_a, pair_y) = (-is, f64::NEG_INFINITY);
            node_v = idle_v + self.inner_ohm * (opposite_a - is);
        } else {
            let ohm = self.feed.ohm + nodes * self.bridge.series_ohm;
            let start = if guess.known { guess.y[0] } else { f64::MAX };
            let y = junction_y(
                a,
                ohm + self.inner_ohm,
                nodes * self.bridge.slope_v,
                is,
                start,
            );
            pair_a = is * (exp(y) - 1.0);
            pair_y = y;
            guess.y[0] = y;
            guess.known = true;
            // Uses the side without the large R_eq of a missing capacitor.
            node_v = forward_v - pair_a * ohm - nodes * self.bridge.slope_v * y;
        }
        let coil_v = node_v - self.series_ohm * coil_a;
        if self.others_block(node_v, coil_v, pair_y) {
            return Flow {
                dc_a: pair_a + opposite_a,
                ac_a: sign * (pair_a - opposite_a),
                flyback_a: 0.0,
                node_v,
                coil_v,
            };
        }
        // By symmetry the driven pair can be taken as the first.
        let together = Together::of(self, forward_v, idle_v, coil_a);
        let mut flow = together.flow(together.solve(guess));
        flow.ac_a *= sign;
        flow
    }

    /// Whether every diode blocks except the pair with this y.
    pub(super) fn others_block(&self, node_v: f64, coil_v: f64, pair_y: f64) -> bool {
        let opposite_v = -node_v - pair_y.max(self.blocking_y) * self.bridge.slope_v;
        (self.rectifier != Rectifier::Bridge || opposite_v < self.blocking_v.min(0.0))
            && -coil_v < self.flyback_blocking_v
    }
}
