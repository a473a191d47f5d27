//! How times are printed: milliseconds, or seconds if there are many.

use crate::text::with_minus;

/// A stretch at least this long has an axis in seconds [s].
const LONG_S: f64 = 2.0;

/// `0 ms`, `6.9 ms`, `182 ms`, `1.35 s`.
pub(super) fn said(at_s: f64) -> String {
    let ms = at_s * 1e3;
    let text = match ms.abs() {
        tiny if tiny < 0.05 => "0 ms".into(),
        small if small < 99.95 => format!("{ms:.1} ms"),
        short if short < 999.5 => format!("{ms:.0} ms"),
        _ => format!("{at_s:.2} s"),
    };
    with_minus(&text)
}

/// Name and length [s] of the unit of an axis.
pub(super) fn unit(span_s: f64) -> (&'static str, f64) {
    if span_s >= LONG_S {
        ("s", 1.0)
    } else {
        ("ms", 1e-3)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_have_the_digits_that_matter() {
        for (at_s, expected) in [
            (0.0, "0 ms"),
            (0.00696, "7.0 ms"),
            (0.1824, "182 ms"),
            (2.3456, "2.35 s"),
            (-0.02, "−20.0 ms"),
        ] {
            assert_eq!(said(at_s), expected);
        }
    }
}
