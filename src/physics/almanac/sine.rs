//! Sine and cosine of many angles at once.

use std::f64::consts::TAU;

/// Taylor series of the sine over the angle, in powers of its square: 1, −1/3!, 1/5! …
const SINE: [f64; 7] = taylor(1.0);
/// The same of the cosine: 1, −1/2!, 1/4! …
const COSINE: [f64; 7] = taylor(-1.0);

const fn taylor(neighbour: f64) -> [f64; 7] {
    let mut coefficients = [1.0; 7];
    let mut n = 1;
    while n < coefficients.len() {
        let even = 2.0 * n as f64;
        coefficients[n] = -coefficients[n - 1] / (even * (even + neighbour));
        n += 1;
    }
    coefficients
}

/// Sine and cosine, within 10⁻¹¹ for angles up to 20 000 rad.
///
/// It has no branches or calls, so the loop over the terms can be vectorised (the library's functions prevent
/// that), and it works at compile time. The angle is reduced to within half a turn, quartered, put through the
/// Taylor series and doubled twice.
pub(super) const fn sin_cos(angle: f64) -> (f64, f64) {
    // Adding and subtracting 1.5 × 2⁵² rounds to a whole number: that large, a double has no fraction left.
    const ROUNDER: f64 = 6_755_399_441_055_744.0;
    let turns = angle * (1.0 / TAU);
    let quarter = (turns - ((turns + ROUNDER) - ROUNDER)) * (TAU / 4.0);
    let square = quarter * quarter;
    // The first term left out is below 10⁻¹² at an eighth of a turn.
    let mut n = SINE.len() - 1;
    let (mut sin, mut cos) = (SINE[n], COSINE[n]);
    while n > 0 {
        n -= 1;
        sin = SINE[n] + sin * square;
        cos = COSINE[n] + cos * square;
    }
    let sin = sin * quarter;
    let (sin, cos) = (2.0 * sin * cos, 1.0 - 2.0 * sin * sin);
    (2.0 * sin * cos, 1.0 - 2.0 * sin * sin)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn own_sine_and_cosine_agree_with_the_library() {
        for i in -20_000..20_000 {
            let angle = f64::from(i) * 0.998_7;
            let (sin, cos) = sin_cos(angle);
            assert!((sin - angle.sin()).abs() < 1e-11, "sine of {angle}");
            assert!((cos - angle.cos()).abs() < 1e-11, "cosine of {angle}");
        }
    }
}
