//! The zero of a falling function by halving its bracket.

/// Halvings that shrink any bracket used here to the spacing of `f64`.
const HALVINGS: u32 = 200;

/// The place between `low` and `high` where `falling` passes zero.
///
/// `falling` is positive at `low`, negative at `high` (or zero at either). Stops when the bracket
/// cannot be halved any more, so the answer is as exact as the function.
pub(super) fn zero_of_falling(mut low: f64, mut high: f64, falling: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..HALVINGS {
        let middle = low.midpoint(high);
        if middle <= low || middle >= high {
            break;
        }
        if falling(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    low.midpoint(high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_the_square_root_of_two() {
        let root = zero_of_falling(0.0, 2.0, |x| 2.0 - x * x);
        assert!((root - std::f64::consts::SQRT_2).abs() < 1e-15, "{root}");
    }
}
