//! While the coil freewheels behind a source that is off: both paths in closed form.
//!
//! ```text
//!   flyback:  −(v_n0 + R_eq·i_dc − R_ser·i) = f·(R_sf + R_eq + R_ser) + S_f·ln(1 + f/I_sf)
//!   bridge:   −(v_n0 + R_eq·f) = i_b·(2·R_s + 2·R_eq) + 2·S·ln(1 + i_b/I_s),   i_dc = 2·i_b
//! ```
//!
//! Without a source, both pairs of the bridge carry the same current. Each path shifts the other by its drop
//! across the ESR, which is small, so alternating between them agrees after a few rounds.

use super::wright::omega;
use crate::circuit::rectifier::Rectifier;
use crate::transient::network::{Flow, Network};

/// Most rounds before the general equations are solved instead; two are usual.
const MOST_ROUNDS: u32 = 8;

/// Relative difference of the current at which both paths agree.
const SAME: f64 = 1e-9;

/// A diode behind a resistance.
#[derive(Debug, Clone, Copy)]
struct Path {
    per_slope_v: f64,
    shift: f64,
    unit_a: f64,
    saturation_a: f64,
}

impl Path {
    fn new(ohm: f64, slope_v: f64, saturation_a: f64) -> Self {
        let scale_v = ohm * saturation_a;
        Self {
            per_slope_v: 1.0 / slope_v,
            shift: scale_v / slope_v + (scale_v / slope_v).ln(),
            unit_a: slope_v / ohm,
            saturation_a,
        }
    }

    /// Current at a voltage [A].
    fn current_a(&self, volts: f64) -> f64 {
        self.unit_a * omega(volts * self.per_slope_v + self.shift) - self.saturation_a
    }
}

/// The paths of a coil whose source is off.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Freewheel {
    flyback: Option<Path>,
    bridge: Path,
    inner_ohm: f64,
    series_ohm: f64,
}

impl Freewheel {
    /// `None` if the source is on, or there is no bridge, or no resistance.
    pub(in super::super) fn of(network: &Network) -> Option<Self> {
        let off = network.feed.peak_v == 0.0 && network.rectifier == Rectifier::Bridge;
        let (inner_ohm, series_ohm) = (network.inner_ohm, network.series_ohm);
        let bridge_ohm = 2.0 * (network.bridge.series_ohm + inner_ohm);
        let flyback_ohm = |ohm: f64| ohm + inner_ohm + series_ohm;
        let resists = bridge_ohm > 0.0
            && network
                .flyback
                .is_none_or(|fly| flyback_ohm(fly.series_ohm) > 0.0);
        (off && resists && network.capacitance_f.is_some()).then(|| Self {
            flyback: network
                .flyback
                .map(|fly| Path::new(flyback_ohm(fly.series_ohm), fly.slope_v, fly.saturation_a)),
            bridge: Path::new(
                bridge_ohm,
                2.0 * network.bridge.slope_v,
                network.bridge.saturation_a,
            ),
            inner_ohm,
            series_ohm,
        })
    }

    /// The flow; `None` where the paths do not agree.
    pub(super) fn flow(&self, idle_v: f64, coil_a: f64) -> Option<Flow> {
        let mut flyback_a = 0.0;
        let mut pair_a = 0.0;
        for _ in 0..MOST_ROUNDS {
            let last_a = flyback_a;
            if let Some(flyback) = &self.flyback {
                let node_v = idle_v + self.inner_ohm * 2.0 * pair_a;
                flyback_a = flyback.current_a(self.series_ohm * coil_a - node_v);
            }
            let last_pair_a = pair_a;
            pair_a = self.bridge.current_a(-idle_v - self.inner_ohm * flyback_a);
            let moved = (flyback_a - last_a).abs() + (pair_a - last_pair_a).abs();
            if moved <= SAME * (flyback_a.abs() + pair_a.abs() + self.bridge.saturation_a) {
                let node_v = idle_v + self.inner_ohm * (2.0 * pair_a + flyback_a);
                return Some(Flow {
                    dc_a: 2.0 * pair_a,
                    ac_a: 0.0,
                    flyback_a,
                    node_v,
                    coil_v: node_v - self.series_ohm * (coil_a - flyback_a),
                });
            }
        }
        None
    }
}
