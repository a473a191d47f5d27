//! The values between two ends.

use crate::circuit::series_resistor::E12;

/// Round steps, as multiples of a power of ten.
const STEPS: [f64; 4] = [1.0, 2.0, 2.5, 5.0];

/// How many values a range gets if the user does not say.
pub(super) const USUAL: usize = 10;

/// So many values from `first` to `last`, evenly spaced.
pub(super) fn evenly(first: f64, last: f64, count: usize) -> Vec<f64> {
    let steps = count.max(2) - 1;
    (0..=steps)
        .map(|n| cleaned(first + (last - first) * n as f64 / steps as f64))
        .collect()
}

/// About [`USUAL`] values from `first` to `last`: the ends, and multiples of a round step.
pub(super) fn roundly(first: f64, last: f64, whole: bool) -> Vec<f64> {
    let span = last - first;
    let decade = (span / USUAL as f64).log10().floor();
    let step = (0..3)
        .flat_map(|up| STEPS.map(|step| step * 10_f64.powf(decade + f64::from(up))))
        .filter(|step| !whole || (*step >= 1.0 && step.fract() == 0.0))
        .min_by(|a, b| {
            let off = |step: f64| (span / step - (USUAL - 1) as f64).abs();
            off(*a).total_cmp(&off(*b))
        })
        .unwrap_or(1.0);
    // A multiple close to an end would only crowd it.
    let room = 0.45 * step;
    let mut values = vec![first];
    let mut n = (first / step).floor();
    while n * step < last - room {
        if n * step > first + room {
            values.push(cleaned(n * step));
        }
        n += 1.0;
    }
    values.push(last);
    values
}

/// Capacitor values on sale between two ends, with the ends: the largest of the series E3, E6 and E12 that has
/// at most a dozen values there, or the one with nearest to `count`.
pub(super) fn as_sold(first: f64, last: f64, count: Option<usize>) -> Vec<f64> {
    let series = |every: usize| {
        let mut values = vec![first];
        let decades = first.log10().floor()..=last.log10().ceil();
        let mut decade = *decades.start();
        while decade <= *decades.end() {
            values.extend(
                E12.iter()
                    .step_by(every)
                    .map(|digits| cleaned(digits * 10_f64.powf(decade)))
                    .filter(|value| *value > first * 1.001 && *value < last * 0.999),
            );
            decade += 1.0;
        }
        values.push(last);
        values
    };
    let all = [4, 2, 1].map(series);
    match count {
        None => all.iter().rev().find(|values| values.len() <= 12),
        Some(count) => all.iter().min_by_key(|values| values.len().abs_diff(count)),
    }
    .unwrap_or(&all[0])
    .clone()
}

/// Removes the digits that rounding errors leave behind.
pub(super) fn cleaned(value: f64) -> f64 {
    format!("{value:.9e}").parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_read_well() {
        for (first, last, expected) in [
            (
                20.0,
                200.0,
                &[
                    20.0, 40.0, 60.0, 80.0, 100.0, 120.0, 140.0, 160.0, 180.0, 200.0,
                ][..],
            ),
            (
                -22.0,
                34.0,
                &[
                    -22.0, -15.0, -10.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 34.0,
                ],
            ),
            (
                11.0,
                13.0,
                &[
                    11.0, 11.2, 11.4, 11.6, 11.8, 12.0, 12.2, 12.4, 12.6, 12.8, 13.0,
                ],
            ),
        ] {
            assert_eq!(roundly(first, last, false), expected);
        }
    }

    #[test]
    fn splices_come_whole() {
        assert_eq!(roundly(0.0, 4.0, true), [0.0, 1.0, 2.0, 3.0, 4.0]);
        assert!(
            roundly(0.0, 25.0, true)
                .iter()
                .all(|value| value.fract() == 0.0)
        );
    }

    #[test]
    fn capacitors_come_in_the_values_that_are_sold() {
        assert_eq!(
            as_sold(47.0, 470.0, None),
            [47.0, 68.0, 100.0, 150.0, 220.0, 330.0, 470.0]
        );
        assert_eq!(as_sold(47.0, 470.0, Some(4)), [47.0, 100.0, 220.0, 470.0]);
        assert_eq!(
            as_sold(10.0, 4700.0, None),
            [
                10.0, 22.0, 47.0, 100.0, 220.0, 470.0, 1000.0, 2200.0, 4700.0
            ]
        );
    }

    #[test]
    fn even_steps_hit_both_ends() {
        assert_eq!(evenly(20.0, 50.0, 4), [20.0, 30.0, 40.0, 50.0]);
    }
}
