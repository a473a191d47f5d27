//! How texts print numbers: real minus signs, units, no more digits than are meaningful.

mod fuse;
mod link;

pub(crate) use crate::wrap::{WIDTH, wrap, wrapped};
pub(crate) use fuse::{fuse_advice, fuse_fit, wire_carries};
pub(crate) use link::{
    ONLY_ORDINARILY, aspect_text, beyond_text, cure_text, dusk, finding_text, in_hand_text,
    least_text, margin_at, outcome_text, outside_said, percent, restart, trouble_text,
};

/// Gives negative numbers in a text a real minus sign; hyphens and dates keep theirs.
pub(crate) fn with_minus(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = ' ';
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        let number = rest.peek().is_some_and(char::is_ascii_digit) && !before.is_alphanumeric();
        out.push(if c == '-' && number { '−' } else { c });
        before = c;
    }
    out
}

/// A signed number with a real minus sign.
pub(crate) fn signed(value: f64, digits: usize) -> String {
    with_minus(&format!("{value:+.digits$}"))
}

/// A voltage with at least one decimal and at most two.
pub(crate) fn volts(value: f64) -> String {
    let text = format!("{value:.2}");
    text.strip_suffix('0').unwrap_or(&text).to_owned()
}

/// A resistance with as many digits as a part has, at most three decimals: `22 ohm`, `4.7 ohm`, `220 ohm`.
pub(crate) fn ohms(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text} ohm")
}

/// Feet in a metre (exact: 1 ft = 0.3048 m).
pub(crate) const FT_PER_M: f64 = 1.0 / 0.3048;

/// A length in both unit systems: `73.2 m (240 ft)`.
pub(crate) fn length(metres: f64) -> String {
    format!("{metres:.1} m ({:.0} ft)", metres * FT_PER_M)
}

pub(crate) fn celsius(value: f64) -> String {
    with_minus(&format!("{value:.0} °C"))
}

/// `1.6 mA`, `500 mA`, `1.93 A`, `12.5 A`: three digits, no trailing zeros.
pub(crate) fn amps(current_a: f64) -> String {
    let (value, unit) = if current_a < 1.0 {
        (current_a * 1000.0, "mA")
    } else {
        (current_a, "A")
    };
    let decimals = match value {
        small if small < 10.0 => 2,
        small if small < 100.0 => 1,
        _ => 0,
    };
    let text = format!("{value:.decimals$}");
    let text = if decimals > 0 {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    format!("{text} {unit}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn currents_are_said_with_three_digits() {
        for (current_a, said) in [
            (0.0016, "1.6 mA"),
            (0.0784, "78.4 mA"),
            (0.16, "160 mA"),
            (0.5, "500 mA"),
            (1.0, "1 A"),
            (1.926, "1.93 A"),
            (3.15, "3.15 A"),
            (12.5, "12.5 A"),
            (120.0, "120 A"),
        ] {
            assert_eq!(amps(current_a), said);
        }
    }
}
