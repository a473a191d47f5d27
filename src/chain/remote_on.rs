//! The remote-on line of a desktop-PC supply, which the contact pulls down.
//!
//! ```text
//!   supply's own pull-up ──▭──┬── line, open ≤ 5.25 V
//!                             o/ o   the contact, ≤ 1.6 mA through it
//!                           ──┴── minus
//!
//!   on below 0.8 V │ either │ off above 2.0 V
//! ```
//!
//! Source: the ATX12V design guides: active low, on at up to 0.8 V, off from 2.0 V, at most 1.6 mA out
//! of the line, at most 5.25 V on it when open. Holds: the line as the guides ask for it. Leaves out:
//! the supply's own debounce. An enable input of another supply has levels of its own.

/// Surely on up to here [V].
pub const ON_V: f64 = 0.8;

/// Surely off from here [V].
pub const OFF_V: f64 = 2.0;

/// The most that flows out of the line when it is pulled down [A].
pub const MOST_A: f64 = 1.6e-3;

/// The most that is on it when nothing pulls it down [V].
pub const OPEN_V: f64 = 5.25;

/// What the supply reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    On,
    /// On or off: nobody can say.
    Either,
    Off,
}

/// What the supply reads at a voltage on its line.
pub fn reading(line_v: f64) -> Reading {
    if line_v <= ON_V {
        Reading::On
    } else if line_v < OFF_V {
        Reading::Either
    } else {
        Reading::Off
    }
}

/// The line pulled down by so many ohms, at the most that flows [V].
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
