//! A step that stays stable however fast the capacitor follows a freewheeling coil.
//!
//! ```text
//!   (1/(γ·h) − J)·g_n = f(x + Σ a·g) + h·c·∂f/∂t + Σ c·g/h      x₁ = x + Σ b·g
//! ```
//!
//! A diode that carries the coil's current makes the capacitor's time constant a few microseconds; explicit
//! steps would have to be as short for as long as the coil freewheels.
//!
//! Source: Shampine's constants for Kaps' and Rentrop's method of order 4 (3), "Implementation of
//! Rosenbrock methods", 1982.

use crate::transient::linear::{Matrix, solve_two};

const GAMMA: f64 = 0.5;
const A2: f64 = 2.0;
const A3: [f64; 2] = [48.0 / 25.0, 6.0 / 25.0];
const C2: f64 = -8.0;
const C3: [f64; 2] = [372.0 / 25.0, 12.0 / 5.0];
const C4: [f64; 3] = [-112.0 / 125.0, -54.0 / 125.0, -2.0 / 5.0];
const B: [f64; 4] = [19.0 / 9.0, 0.5, 25.0 / 108.0, 125.0 / 108.0];
const E: [f64; 4] = [17.0 / 54.0, 7.0 / 36.0, 0.0, 125.0 / 108.0];
/// Places of the stages as fractions of the step, and weights of ∂f/∂t.
const AT: [f64; 2] = [1.0, 3.0 / 5.0];
const DRIFT: [f64; 4] = [0.5, -1.5, 121.0 / 50.0, 29.0 / 250.0];

/// The end of a step and the possible error; NaN if a matrix is singular.
type Stepped = ([f64; 2], [f64; 2]);

/// One step from `start`, where the slope is `first`, its Jacobian `jacobian` and its own change in
/// time `drift`.
pub(super) fn rosenbrock(
    h: f64,
    start: [f64; 2],
    first: [f64; 2],
    jacobian: &Matrix,
    drift: [f64; 2],
    mut slope: impl FnMut(f64, [f64; 2]) -> [f64; 2],
) -> Stepped {
    let diagonal = 1.0 / (GAMMA * h);
    let matrix = [
        [diagonal - jacobian[0][0], -jacobian[0][1]],
        [-jacobian[1][0], diagonal - jacobian[1][1]],
    ];
    let sum = |terms: &[(f64, [f64; 2])]| {
        let mut x = [0.0; 2];
        for (weight, g) in terms {
            x[0] += weight * g[0];
            x[1] += weight * g[1];
        }
        x
    };
    let stage = |slope: [f64; 2], n: usize, before: [f64; 2]| {
        let side = [0, 1].map(|k| slope[k] + h * DRIFT[n] * drift[k] + before[k] / h);
        solve_two(&matrix, side).unwrap_or([f64::NAN; 2])
    };
    let plus = |by: [f64; 2]| [start[0] + by[0], start[1] + by[1]];
    let g1 = stage(first, 0, [0.0; 2]);
    let second = slope(AT[0] * h, plus(sum(&[(A2, g1)])));
    let g2 = stage(second, 1, sum(&[(C2, g1)]));
    let third = slope(AT[1] * h, plus(sum(&[(A3[0], g1), (A3[1], g2)])));
    let g3 = stage(third, 2, sum(&[(C3[0], g1), (C3[1], g2)]));
    let g4 = stage(third, 3, sum(&[(C4[0], g1), (C4[1], g2), (C4[2], g3)]));
    let end = plus(sum(&[(B[0], g1), (B[1], g2), (B[2], g3), (B[3], g4)]));
    let off = sum(&[(E[0], g1), (E[1], g2), (E[2], g3), (E[3], g4)]);
    (end, off)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A driven decay with a slow and a fast part; halving the step divides the error by 16.
    #[test]
    fn error_falls_with_the_fourth_power_of_the_step() {
        let jacobian = [[-3.0, 0.0], [1.0, -1.0]];
        let slope = |t: f64, x: [f64; 2]| [-3.0 * x[0] + t.cos(), x[0] - x[1]];
        let error = |steps: u32| {
            let h = 1.0 / f64::from(steps);
            let mut x = [1.0, 0.0];
            for n in 0..steps {
                let t = f64::from(n) * h;
                let first = slope(t, x);
                let (end, _) = rosenbrock(h, x, first, &jacobian, [-t.sin(), 0.0], |at, x| {
                    slope(t + at, x)
                });
                x = end;
            }
            // x₀ = 0.3 cos t + 0.1 sin t + 0.7 e^(−3t)
            (x[0] - (0.3 * 1.0_f64.cos() + 0.1 * 1.0_f64.sin() + 0.7 * (-3.0_f64).exp())).abs()
        };
        let ratio = error(20) / error(40);
        assert!((12.0..20.0).contains(&ratio), "{ratio}");
    }
}
