//! What is left on the coil when the near zone is off: leakage of a switch, a dimmer, a supply's
//! last volts.
//!
//! ```text
//!   switch off, leaking ──R_leak──── pair ──►├── C ── coil      V_residual against the release voltage
//! ```
//!
//! The same formulas as the lit link, with the diodes' drop at the tiny current that flows; below
//! the diodes' knee (about 0.8 V for a bridge) hardly anything arrives.
//! Source: [`super::rectifier`] and [`super::diode`].
//! Holds: off-state voltages that are known or measured at the pair, or a leak entered as source
//! resistance. Leaves out: lamps across the pair that load the leak (measure with them unplugged),
//! snubbers (capacitive leaks).

use super::rectifier::{self, Feed, Input, Rectified};

/// Steady state of the link while the near zone is off: `lit` with `off` as its feed.
pub fn steady_state_off(lit: &Input, off: Feed) -> Rectified {
    rectifier::steady_state(&Input { feed: off, ..*lit })
}

/// What a residual voltage does to a relay that was in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OffState {
    /// Below the guaranteed release voltage: every relay of the type lets go.
    Releases,
    /// Between guaranteed and typical release: this relay may or may not let go.
    MayStay,
    /// Above the typical release voltage: expect it to stay in.
    Stays,
}

/// Judges `residual_v` against the release voltages of the coil at the same temperature [V].
pub fn off_state(residual_v: f64, release_guaranteed_v: f64, release_typical_v: f64) -> OffState {
    if residual_v < release_guaranteed_v {
        OffState::Releases
    } else if residual_v < release_typical_v {
        OffState::MayStay
    } else {
        OffState::Stays
    }
}

#[cfg(test)]
mod tests {
    use super::super::diode::Diode;
    use super::super::rectifier::Rectifier;
    use super::*;

    fn lit() -> Input {
        Input {
            feed: Feed::Ac {
                rms_v: 12.6,
                hz: 60.0,
            },
            rectifier: Rectifier::Bridge,
            diode: Diode::usual(),
            diode_c: 15.0,
            source_ohm: 1.97,
            coil_ohm: 400.0,
            capacitance_f: Some(220e-6),
        }
    }

    #[test]
    fn nothing_passes_below_the_knee() {
        for off in [
            Feed::Dc { volts: 0.0 },
            Feed::Dc { volts: 0.6 },
            Feed::Ac {
                rms_v: 0.4,
                hz: 60.0,
            },
        ] {
            let residual = steady_state_off(&lit(), off);
            assert!(residual.coil_v < 0.01, "{off:?}: {} V", residual.coil_v);
            assert!(residual.coil_v >= 0.0);
        }
    }

    #[test]
    fn above_the_knee_the_rest_arrives() {
        let residual = steady_state_off(&lit(), Feed::Dc { volts: 3.0 });
        assert!((1.5..2.2).contains(&residual.coil_v), "{}", residual.coil_v);
        assert_eq!(off_state(residual.coil_v, 1.2, 3.6), OffState::MayStay);
        assert_eq!(off_state(0.0, 1.2, 3.6), OffState::Releases);
        assert_eq!(off_state(4.0, 1.2, 3.6), OffState::Stays);
    }

    #[test]
    fn leaking_switch_without_lamps_agrees_with_simulation() {
        // ngspice 39, 12.6 V RMS behind the leak, 400 Ω, 220 µF, no lamps: 1 kΩ 7.4 mA, 2 kΩ 4.3, 5
        // kΩ 1.9, 10 kΩ 1.0.
        for (leak_ohm, milliamps) in [(1000.0, 7.4), (2000.0, 4.3), (5000.0, 1.9), (10000.0, 1.0)] {
            let input = Input {
                source_ohm: leak_ohm,
                ..lit()
            };
            let ours = 1000.0 * steady_state_off(&input, input.feed).coil_a;
            assert!((ours - milliamps).abs() < 0.2, "{leak_ohm} Ω: {ours} mA");
        }
    }
}
