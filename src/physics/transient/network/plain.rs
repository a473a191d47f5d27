//! Without a rectifier: linear except for the flyback diode.
//!
//! ```text
//!   v_n = (v_n0 + g·e)/(1 + g)      g = R_eq/R_th
//! ```
//!
//! Source: Thévenin's theorem. Holds: direct supplies, and the flyback diode at any current.

use super::junction::junction_y;
use super::{Flow, Network};

impl Network {
    pub(super) fn solve_plain(&self, source_v: f64, idle_v: f64, coil_a: f64) -> Flow {
        let share = self.inner_ohm / self.feed.ohm;
        let node_v = (idle_v + share * source_v) / (1.0 + share);
        let coil_v = node_v - self.series_ohm * coil_a;
        let (mut node_v, mut coil_v, mut flyback_a) = (node_v, coil_v, 0.0);
        if let Some(diode) = self.flyback
            && -coil_v >= self.flyback_blocking_v
        {
            let lift_ohm = self.inner_ohm / (1.0 + share);
            let y = junction_y(
                -coil_v,
                diode.series_ohm + lift_ohm + self.series_ohm,
                diode.slope_v,
                diode.saturation_a,
                f64::MAX,
            );
            flyback_a = diode.saturation_a * (y.exp() - 1.0);
            // Uses the side without the large R_eq of a missing capacitor.
            coil_v = -diode.slope_v * y - diode.series_ohm * flyback_a;
            node_v = coil_v + self.series_ohm * (coil_a - flyback_a);
        }
        let wire_a = (source_v - node_v) / self.feed.ohm;
        Flow {
            dc_a: wire_a,
            ac_a: wire_a,
            flyback_a,
            node_v,
            coil_v,
        }
    }
}
