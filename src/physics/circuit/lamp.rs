//! The lamps: how the current follows the voltage.
//!
//! ```text
//!   LED with driver:  I = P/V      (DC: watts;  AC: volt-amperes)     less voltage, more current
//!   filament:         I = P/12·(V/12)^0.55                            less voltage, less current and far less light
//! ```
//!
//! Source: a switching driver takes constant power; the exponents for filaments come from the encyclopaedia's
//! "lamp rerating" (after a lamp maker and Fink & Beaty): current 0.55, power 1.6, light 3.4, life −13.
//! Holds: LED inside its label's voltage window, filament 80–110 % of rated voltage. Leaves out:
//! the lock-out below the window (compare the voltage with the label), cold inrush (ten times for
//! halogen), the power factor's phase (currents are added as plain numbers, which is on the safe
//! side), halogen life under-volted.

/// Rated voltage of a filament lamp here [V].
const FILAMENT_RATED_V: f64 = 12.0;

/// Exponent of a filament's current. "Lamp rerating".
const FILAMENT_CURRENT: f64 = 0.55;

/// Exponent of a filament's power. "Lamp rerating" (its own rounding; 1.55 would match the
/// current's).
const FILAMENT_POWER: f64 = 1.6;

/// Exponent of a filament's light. "Lamp rerating".
const FILAMENT_LIGHT: f64 = 3.4;

/// Exponent of a filament's life; sources give −12 to −16.
const FILAMENT_LIFE: f64 = -13.0;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Current {
    /// Mains-frequency alternating current.
    Alternating,
    Direct,
}

/// One lamp by its label.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lamp {
    /// LED with a driver that keeps its power.
    Led {
        /// Power [W].
        watt: f64,
        /// Apparent power on AC [VA].
        volt_ampere: f64,
    },
    /// Incandescent or halogen lamp, rated at 12 V.
    Filament {
        /// Power at 12 V [W].
        watt: f64,
    },
}

impl Lamp {
    /// Current [A] at `volts` (more than 0) across the lamp.
    pub fn current_a(self, volts: f64, current: Current) -> f64 {
        match (self, current) {
            (Self::Led { watt, .. }, Current::Direct) => watt / volts,
            (Self::Led { volt_ampere, .. }, Current::Alternating) => volt_ampere / volts,
            (Self::Filament { watt }, _) => {
                watt / FILAMENT_RATED_V * (volts / FILAMENT_RATED_V).powf(FILAMENT_CURRENT)
            }
        }
    }

    /// Change of the current with the voltage [A/V].
    pub(super) fn current_slope(self, volts: f64, current: Current) -> f64 {
        let exponent = match self {
            Self::Led { .. } => -1.0,
            Self::Filament { .. } => FILAMENT_CURRENT,
        };
        exponent * self.current_a(volts, current) / volts
    }
}

/// What a filament lamp does at another voltage, relative to its rated 12 V.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rerated {
    /// Power as a fraction of rated.
    pub power: f64,
    /// Light as a fraction of rated.
    pub light: f64,
    /// Life as a multiple of rated.
    pub life: f64,
}

/// A filament lamp at `volts`.
pub fn rerated(volts: f64) -> Rerated {
    let over = volts / FILAMENT_RATED_V;
    Rerated {
        power: over.powf(FILAMENT_POWER),
        light: over.powf(FILAMENT_LIGHT),
        life: over.powf(FILAMENT_LIFE),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn led_draws_more_and_filament_less_when_the_voltage_sags() {
        let led = Lamp::Led {
            watt: 4.0,
            volt_ampere: 6.0,
        };
        assert!((led.current_a(10.0, Current::Direct) - 0.4).abs() < 1e-12);
        assert!((led.current_a(10.0, Current::Alternating) - 0.6).abs() < 1e-12);
        let filament = Lamp::Filament { watt: 20.0 };
        assert!((filament.current_a(12.0, Current::Direct) - 20.0 / 12.0).abs() < 1e-12);
        assert!(filament.current_a(10.8, Current::Direct) < 20.0 / 12.0);
    }

    #[test]
    fn filament_at_nine_tenths_follows_the_rerating_table() {
        // "Lamp rerating" at 10.8 V: power 84.5 %, light 69.9 %, life ×3.9.
        let low = rerated(10.8);
        assert!((low.power - 0.845).abs() < 1e-3);
        assert!((low.light - 0.699).abs() < 1e-3);
        assert!((low.life - 3.9).abs() < 0.05);
    }

    #[test]
    fn slope_is_the_difference_quotient() {
        for lamp in [
            Lamp::Led {
                watt: 4.0,
                volt_ampere: 6.0,
            },
            Lamp::Filament { watt: 20.0 },
        ] {
            let difference =
                lamp.current_a(11.001, Current::Direct) - lamp.current_a(10.999, Current::Direct);
            assert!((difference / 0.002 - lamp.current_slope(11.0, Current::Direct)).abs() < 1e-6);
        }
    }
}
