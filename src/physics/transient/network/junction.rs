//! One junction behind a resistance: y = ln(1 + i/`I_s`) from the voltage across both.
//!
//! ```text
//!   R·I_s·(e^y − 1) + N·V_T·y = a
//! ```
//!
//! Convex and rising: from any start at or above the root Newton's method walks down to it, and from
//! below its first step lands above. Source: SPICE's junction law; the root is Lambert's W of it.
//! Holds: always.

use super::super::run::exp;

/// Most steps of Newton's method; four are usual.
const STEPS: u32 = 120;

/// Size of the last step of y; the convergence is quadratic, so its square remains.
const STILL: f64 = 1e-7;

/// y with `ohm`·`I_s`·(eʸ − 1) + `slope_v`·y = `a`, from a guess.
pub(super) fn junction_y(a: f64, ohm: f64, slope_v: f64, is: f64, start: f64) -> f64 {
    let scale = ohm * is;
    let above = if a > 0.0 {
        (a / slope_v).min((a / scale).ln_1p())
    } else {
        0.0
    };
    let mut y = start.min(above);
    for _ in 0..STEPS {
        let part = scale * exp(y);
        let step = (part - scale + slope_v * y - a) / (part + slope_v);
        let next = (y - step).min(above);
        let moved = (next - y).abs();
        y = next;
        // A deep reverse voltage is only known to its own resolution.
        if moved < STILL + f64::EPSILON * y.abs() {
            break;
        }
    }
    y
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_junction_takes_its_share_of_any_voltage() {
        for a in [-5e7, -20.0, -1e-3, 0.0, 1e-6, 0.3, 0.7, 30.0, 5e7] {
            for ohm in [0.03, 20.0, 1e9] {
                for start in [f64::MAX, 0.0, -40.0] {
                    let y = junction_y(a, ohm, 0.047, 7e-9, start);
                    let back = ohm * 7e-9 * (y.exp() - 1.0) + 0.047 * y;
                    let off = (back - a).abs() / (1.0 + a.abs());
                    assert!(off < 1e-9, "{a} V, {ohm} ohm, from {start}: {back}");
                }
            }
        }
    }
}
