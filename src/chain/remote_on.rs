//! The remote-on line of a desktop-PC supply. The contact pulls it down.
//!
//! ```text
//!   supply's own pull-up ──▭──┬── line, open ≤ 5.25 V
//!                             o/ o   the contact, ≤ 1.6 mA through it
//!                           ──┴── minus
//!
//!   on below 0.8 V │ either │ off above 2.0 V
//! ```
//!
//! Source: the ATX12V design guides: active low, on at up to 0.8 V, off from 2.0 V, at most 1.6 mA out of the
//! line, at most 5.25 V on it when open. Holds: for a line built to those guides. Leaves out: the supply's own
//! debounce. The enable input of another kind of supply has its own levels.

/// The supply is surely on up to this voltage [V].
pub const ON_V: f64 = 0.8;

/// The supply is surely off from this voltage [V].
pub const OFF_V: f64 = 2.0;

/// Highest current out of the line when it is pulled down [A].
pub const MOST_A: f64 = 1.6e-3;

/// Highest voltage on the open line [V].
pub const OPEN_V: f64 = 5.25;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    On,
    /// On or off: the guides leave it open between the two levels.
    Either,
    Off,
}

pub fn reading(line_v: f64) -> Reading {
    if line_v <= ON_V {
        Reading::On
    } else if line_v < OFF_V {
        Reading::Either
    } else {
        Reading::Off
    }
}

/// Voltage on the line with this resistance to minus, at the highest current [V].
pub fn line_v(ohm: f64) -> f64 {
    (MOST_A * ohm).min(OPEN_V)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 0.8 V / 1.6 mA = 500 Ω, 2.0 V / 1.6 mA = 1250 Ω.
    #[test]
    fn a_contact_of_500_ohm_is_still_closed_and_one_of_1250_ohm_open() {
        for (ohm, expected) in [
            (0.1, Reading::On),
            (499.0, Reading::On),
            (501.0, Reading::Either),
            (1249.0, Reading::Either),
            (1251.0, Reading::Off),
            (f64::INFINITY, Reading::Off),
        ] {
            assert_eq!(reading(line_v(ohm)), expected, "{ohm} ohm");
        }
    }
}
