//! Converts values to places, and finds round values for labels.

use crate::text::with_minus;

/// A value axis: its range, and its place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    /// Values at both ends.
    pub(super) values: (f64, f64),
    pub(super) places: (f64, f64),
}

impl Scale {
    pub(super) fn new(values: (f64, f64), places: (f64, f64)) -> Self {
        Self { values, places }
    }

    /// The place of a value; a value beyond the ends has a place beyond them.
    pub(super) fn place(&self, value: f64) -> f64 {
        let (least, most) = self.values;
        let (from, to) = self.places;
        if most > least {
            from + (value - least) / (most - least) * (to - from)
        } else {
            f64::midpoint(from, to)
        }
    }
}

/// The round step (1, 2 or 5 times a power of ten) that divides `span` into at most `parts`.
pub(super) fn round_step(span: f64, parts: f64) -> f64 {
    let raw = if span.is_finite() && span > 0.0 {
        span / parts
    } else {
        1.0
    };
    let power = 10.0_f64.powf(raw.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|round| round * power)
        .find(|&step| step >= raw * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

/// Round values from `least` to `most`, and their step.
pub(super) fn ticks(least: f64, most: f64, parts: f64) -> (Vec<f64>, f64) {
    let step = round_step(most - least, parts);
    let first = (least / step - 1e-6).ceil();
    let last = (most / step + 1e-6).floor();
    let ticks = (0..whole(last - first + 1.0))
        // No minus before a zero.
        .map(|n| (first + n as f64) * step + 0.0)
        .collect();
    (ticks, step)
}

/// Moves both ends outward to round values.
pub(super) fn outward(least: f64, most: f64, parts: f64) -> (f64, f64) {
    let step = round_step(most - least, parts);
    let (low, high) = (
        (least / step + 1e-6).floor() * step,
        (most / step - 1e-6).ceil() * step,
    );
    if high > low {
        (low, high)
    } else {
        (low, low + step)
    }
}

/// A tick with the decimals of its step.
pub(super) fn said(tick: f64, step: f64) -> String {
    let decimals = (0..6)
        .find(|&digits| {
            let scaled = step * 10.0_f64.powi(digits);
            (scaled - scaled.round()).abs() < 1e-6 * scaled.max(1.0)
        })
        .unwrap_or(6);
    let decimals = usize::try_from(decimals).unwrap_or(0);
    with_minus(&format!("{:.decimals$}", tick + 0.0))
}

/// The whole number nearest to a place that is known to be small; 0 for a negative one.
pub(super) fn whole(place: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a column or a row, far below 2^52; below 0, it saturates"
    )]
    let whole = place.round() as usize;
    whole
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        for (least, most, parts, expected) in [
            (0.0, 40.0, 4.0, vec![0.0, 10.0, 20.0, 30.0, 40.0]),
            (-17.0, 17.0, 4.0, vec![-10.0, 0.0, 10.0]),
            (0.0, 0.3, 4.0, vec![0.0, 0.1, 0.2, 0.3]),
            (3.0, 3.0, 4.0, vec![3.0]),
        ] {
            let (ticks, _) = ticks(least, most, parts);
            assert_eq!(ticks.len(), expected.len(), "{ticks:?}");
            for (tick, expected) in ticks.iter().zip(expected) {
                assert!((tick - expected).abs() < 1e-9, "{tick} {expected}");
            }
        }
    }

    #[test]
    fn ticks_have_the_decimals_of_their_step() {
        for (tick, step, expected) in [
            (20.0, 10.0, "20"),
            (-20.0, 10.0, "−20"),
            (0.2, 0.1, "0.2"),
            (2.5, 2.5, "2.5"),
            (-0.0, 0.05, "0.00"),
        ] {
            assert_eq!(said(tick, step), expected);
        }
    }
}
