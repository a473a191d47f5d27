//! Without a capacitor: the coil's voltage as its current and the source determine it.
//!
//! ```text
//!   |e| ╲         ╱     carried:    one pair carries the coil's current,
//!    E_h ╲_______╱                  v_n = |e| − (R_th + n·R_s)·i − n·N·V_T·ln(1 + i/I_s)
//!    ────────────────   hand-over:  v_n bends from following |e| to the flyback diode's −u_f or
//!   carried ┤     ├                 the bridge's own −2·u, within a few N·V_T
//!            hand-over  let run:    a single diode blocks, v_n = −u_f(i)
//! ```
//!
//! Source: the network's equations. Holds: no capacitor behind a rectifier, a coil current that does
//! not flow backwards.

use super::together::Together;
use super::{Flow, Guess, Network};
use crate::circuit::rectifier::Rectifier;

/// Coil current above which it decides which diodes conduct [A].
const CARRIED_A: f64 = 1e-5;

/// Highest resistance before the rectifier at which a blocking diode's current does not matter [Ω]: it drops a
/// millivolt.
const STIFFEST_OHM: f64 = 1e3;

/// Change of the coil's voltage with its current [Ω] and with the source [1].
#[derive(Debug, Clone, Copy, Default)]
pub(in super::super) struct Response {
    pub(in super::super) per_a: f64,
    pub(in super::super) per_v: f64,
}

impl Network {
    /// Whether the coil alone sets the current out of the rectifier.
    pub(in super::super) fn is_bare(&self) -> bool {
        self.capacitance_f.is_none() && self.rectifier != Rectifier::None
    }

    /// Currents and voltages with the source at `source_v`, as the driven pair sees it, and the change of the
    /// coil's voltage.
    pub(in super::super) fn bare_flow(
        &self,
        source_v: f64,
        coil_a: f64,
        guess: &mut Guess,
    ) -> (Flow, Response) {
        let coil_a = coil_a.max(0.0);
        if coil_a > CARRIED_A
            && let Some(found) = self
                .carried(source_v, coil_a)
                .or_else(|| self.let_run(source_v, coil_a))
        {
            return found;
        }
        let together = Together::of(self, source_v, self.idle_node_v(0.0, coil_a), coil_a);
        let y = together.solve(guess);
        (together.flow(y), together.response(y))
    }

    /// One pair carries the whole current; `None` if others conduct.
    fn carried(&self, source_v: f64, coil_a: f64) -> Option<(Flow, Response)> {
        if self.feed.ohm > STIFFEST_OHM {
            return None;
        }
        let (nodes, bridge) = (self.in_path(), &self.bridge);
        let y = (1.0 + coil_a / bridge.saturation_a).ln();
        let ohm = self.feed.ohm + nodes * bridge.series_ohm;
        let node_v = source_v - ohm * coil_a - nodes * bridge.slope_v * y;
        let coil_v = node_v - self.series_ohm * coil_a;
        // A blocking opposite pair sends its reverse current through both.
        let around_a = -2.0 * self.opposite_a();
        self.others_block(node_v, coil_v, y).then(|| {
            (
                Flow {
                    dc_a: coil_a,
                    ac_a: coil_a + around_a,
                    flyback_a: 0.0,
                    node_v,
                    coil_v,
                },
                Response {
                    per_a: -ohm
                        - self.series_ohm
                        - nodes * bridge.slope_v / (coil_a + bridge.saturation_a),
                    per_v: 1.0,
                },
            )
        })
    }

    /// The flyback diode behind a blocking single diode carries the whole current; `None` if that diode
    /// conducts.
    fn let_run(&self, source_v: f64, coil_a: f64) -> Option<(Flow, Response)> {
        let fly = self.flyback?;
        if self.rectifier != Rectifier::SingleDiode {
            return None;
        }
        let back_a = self.bridge.saturation_a;
        let flyback_a = coil_a + back_a;
        let drop_v =
            fly.slope_v * (1.0 + flyback_a / fly.saturation_a).ln() + fly.series_ohm * flyback_a;
        let node_v = -drop_v - self.series_ohm * back_a;
        (source_v - node_v < self.blocking_v).then(|| {
            (
                Flow {
                    dc_a: -back_a,
                    ac_a: -back_a,
                    flyback_a,
                    node_v,
                    coil_v: -drop_v,
                },
                Response {
                    per_a: -fly.series_ohm - fly.slope_v / (flyback_a + fly.saturation_a),
                    per_v: 0.0,
                },
            )
        })
    }

    /// The source voltages between which this coil current has more than one path [V].
    pub(in super::super) fn handover_v(&self, coil_a: f64) -> (f64, f64) {
        let (nodes, bridge) = (self.in_path(), &self.bridge);
        let y = (coil_a / bridge.saturation_a).ln_1p();
        let ohm = self.feed.ohm + nodes * bridge.series_ohm;
        // Node voltages at which the flyback diode and the opposite pair begin to conduct.
        let by_flyback_v = self.series_ohm * coil_a - self.flyback_blocking_v;
        let by_bridge_v = if self.rectifier == Rectifier::Bridge {
            -y * bridge.slope_v - self.blocking_v.min(0.0)
        } else {
            f64::NEG_INFINITY
        };
        let high_v = ohm * coil_a + nodes * bridge.slope_v * y + by_flyback_v.max(by_bridge_v);
        let low_v = match self.flyback {
            Some(fly) if self.rectifier == Rectifier::SingleDiode => {
                self.blocking_v
                    - fly.slope_v * (coil_a / fly.saturation_a).ln_1p()
                    - fly.series_ohm * coil_a
            }
            _ => f64::NEG_INFINITY,
        };
        (low_v, high_v)
    }
}
