//! The trunk: one cable from the supply past all lamps, and the voltage at each.
//!
//! ```text
//!   supply ──▭──┬──▭──┬──▭──┬── … ──┐       V_k = V_{k−1} − r·d_k·(I_k + I_{k+1} + … + I_n)
//!               ⊗     ⊗     ⊗       ⊗
//! ```
//!
//! Walked backwards from an assumed voltage at the last lamp, the trunk needs one certain supply
//! voltage; the answer is the highest last-lamp voltage whose need the supply meets, found by
//! Newton's method from above. LED drivers draw more as the voltage sags, so beyond some load there
//! is no such voltage: the trunk browns out, and the answer is the load it could carry. A single
//! load in closed form: V = (`V_0` + √(`V_0²` − 4·R·P))/2.
//!
//! Source: Kirchhoff; the existence limit of constant-power loads is textbook power flow.
//! Holds: lamps inside their window, see [`super::lamp`]. Leaves out: branches (a tee is a trunk of
//! its own from its foot), splices (add them to the ohms per metre), cable inductance.

use super::lamp::{Current, Lamp};

mod walk;

/// A lamp and its place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tap {
    /// Distance along the trunk from the supply [m].
    pub distance_m: f64,
    pub lamp: Lamp,
}

/// A trunk with its lamps, in any order.
#[derive(Debug, Clone, PartialEq)]
pub struct Trunk {
    /// Supply voltage before its own resistance [V RMS or V DC].
    pub supply_v: f64,
    /// Resistance of the supply and of everything common to all lamps [Ω]; 0 if `supply_v` was measured under
    /// load.
    pub supply_ohm: f64,
    pub current: Current,
    /// Resistance there and back per metre of trunk [Ω/m]: twice the conductor's.
    pub loop_ohm_per_m: f64,
    pub taps: Vec<Tap>,
}

/// Voltage and current at one lamp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LampState {
    /// Voltage across the lamp [V].
    pub volts: f64,
    /// Current into it [A].
    pub amps: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub enum TrunkState {
    /// All lamps run.
    Lit {
        /// State of each lamp, in the order of [`Trunk::taps`].
        lamps: Vec<LampState>,
        /// Current from the supply [A].
        supply_a: f64,
    },
    /// The trunk cannot carry these lamps: the voltage collapses until drivers lock out.
    BrownOut {
        /// Largest factor on all powers that it could carry; it is below 1.
        load_margin: f64,
    },
}

/// A larger factor counts as no limit.
const LARGEST_MARGIN: f64 = 1e4;

/// Halvings of the bracket around the margin: a part in a million million.
const MARGIN_HALVINGS: u32 = 60;

impl Trunk {
    /// Voltage at every lamp, or brown-out.
    pub fn state(&self) -> TrunkState {
        match walk::lamps_at(self, 1.0) {
            Some(lamps) => {
                let supply_a = lamps.iter().map(|lamp| lamp.amps).sum();
                TrunkState::Lit { lamps, supply_a }
            }
            // A trunk that cannot carry its lamps has a limit; with a supply without voltage the limit is 0.
            None => TrunkState::BrownOut {
                load_margin: self.load_margin().unwrap_or(0.0),
            },
        }
    }

    /// Largest factor on the power of all lamps at which the trunk still has a solution; below 1 is
    /// brown-out.
    ///
    /// `None` when there is no limit: no lamps, or filament lamps only.
    pub fn load_margin(&self) -> Option<f64> {
        let carries = |factor: f64| walk::lamps_at(self, factor).is_some();
        if carries(LARGEST_MARGIN) {
            return None;
        }
        let (mut low, mut high) = (0.0, LARGEST_MARGIN);
        for _ in 0..MARGIN_HALVINGS {
            let middle = f64::midpoint(low, high);
            if carries(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(low)
    }
}

/// Voltage [V] at a single constant-power load of `watt` behind `loop_ohm`; `None` beyond
/// `V_0²/(4·R)`.
pub fn single_load_v(supply_v: f64, loop_ohm: f64, watt: f64) -> Option<f64> {
    let discriminant = supply_v * supply_v - 4.0 * loop_ohm * watt;
    (discriminant >= 0.0).then(|| f64::midpoint(supply_v, discriminant.sqrt()))
}

/// Share of the lumped drop (all current to the far end) that `lamps` equal lamps, evenly spread,
/// cause at the last: (n + 1)/(2n). A rule for pencil and paper, for lamps of constant current.
pub fn evenly_spread_share(lamps: u32) -> f64 {
    let n = f64::from(lamps);
    (n + 1.0) / (2.0 * n)
}

#[cfg(test)]
mod tests;
