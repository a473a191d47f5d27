//! Wright's omega: ω + ln ω = z, a diode behind a resistance.
//!
//! ```text
//!   R·i + S·ln(1 + i/I_s) = a      ω = R·(i + I_s)/S,   z = (a + R·I_s)/S + ln(R·I_s/S)
//!   dω/dz = ω/(1 + ω)
//! ```
//!
//! One function serves every network, so its table is part of the program. Cells are 2⁻⁵ of a power of two
//! of z + 16, found from the bits of the number; Hermite's cubic in each is good to 1.1e-5 of ω.
//!
//! Source: Corless and Jeffrey, "The Wright ω function", 2002. Holds: every real z.

/// Added to z, so that the cells are narrow at the knee.
const SHIFT: f64 = 16.0;

/// Below this z, the series in e^z is used.
const LOW: f64 = -8.0;

/// Cells per power of two, as a power of two.
const CELL_BITS: u32 = 5;

/// From z + 16 = 2³ to 2¹².
const CELLS: usize = 9 << CELL_BITS;

/// Bits below those that number a cell.
const REST_BITS: u32 = 52 - CELL_BITS;

const FIRST_CELL: u64 = (LOW + SHIFT).to_bits() >> REST_BITS;

static TABLE: [[f64; 4]; CELLS] = table();

/// ω(z).
#[inline]
pub(super) fn omega(z: f64) -> f64 {
    if z < LOW {
        let small = exp(z);
        return small * (1.0 - small * (1.0 - 1.5 * small));
    }
    let bits = (z + SHIFT).to_bits();
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the bits above the cell's are few"
    )]
    let cell = (bits >> REST_BITS) as usize - FIRST_CELL as usize;
    let Some([c0, c1, c2, c3]) = TABLE.get(cell) else {
        return beyond(z);
    };
    // The rest of the bits as a fraction of the cell.
    let rest = bits << (64 - REST_BITS) >> 12;
    let s = f64::from_bits(rest | 1.0_f64.to_bits()) - 1.0;
    (c0 + s * c1) + s * s * (c2 + s * c3)
}

/// ω for z in the thousands, where ln ω hardly matters; NaN for NaN.
#[cold]
fn beyond(z: f64) -> f64 {
    let mut w = z;
    for _ in 0..4 {
        w = z - w.ln();
    }
    w
}

const fn table() -> [[f64; 4]; CELLS] {
    let mut table = [[0.0; 4]; CELLS];
    let mut cell = 0;
    while cell < CELLS {
        let low = f64::from_bits((FIRST_CELL + cell as u64) << REST_BITS);
        let high = f64::from_bits((FIRST_CELL + cell as u64 + 1) << REST_BITS);
        let (w0, w1) = (solved(low - SHIFT), solved(high - SHIFT));
        let (m0, m1) = (
            (high - low) * w0 / (1.0 + w0),
            (high - low) * w1 / (1.0 + w1),
        );
        let d = w1 - w0;
        table[cell] = [w0, m0, 3.0 * d - 2.0 * m0 - m1, m0 + m1 - 2.0 * d];
        cell += 1;
    }
    table
}

/// ω by Newton's method in ln ω, which is concave there, so it comes down from above.
const fn solved(z: f64) -> f64 {
    let mut u = if z > 1.0 { ln_above(z) } else { z };
    let mut round = 0;
    while round < 40 {
        let w = exp(u);
        u -= (w + u - z) / (w + 1.0);
        round += 1;
    }
    exp(u)
}

/// A number a little above ln x, for x > 1.
const fn ln_above(x: f64) -> f64 {
    let mut power = 1.0;
    let mut ln = 0.0;
    while power < x {
        power *= std::f64::consts::E;
        ln += 1.0;
    }
    ln
}

/// eʸ to 1e-11: 2ⁿ and a polynomial; the table is built with it at compile time.
#[inline]
pub(in super::super) const fn exp(y: f64) -> f64 {
    /// Adding this leaves the nearest integer in the low bits (double precision, |n| < 2^51).
    const TO_INTEGER: f64 = 6_755_399_441_055_744.0;
    const LN_2_HIGH: f64 = 0.693_147_180_369_123_8;
    const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    let y = y.clamp(-700.0, 700.0);
    let shifted = y * std::f64::consts::LOG2_E + TO_INTEGER;
    let n = shifted - TO_INTEGER;
    let r = y - n * LN_2_HIGH - n * LN_2_LOW;
    let r2 = r * r;
    let r4 = r2 * r2;
    let low = (1.0 + r) + r2 * (0.5 + r * (1.0 / 6.0));
    let high = (1.0 / 24.0 + r * (1.0 / 120.0)) + r2 * (1.0 / 720.0 + r * (1.0 / 5040.0));
    let top = 1.0 / 40320.0 + r * (1.0 / 362_880.0);
    let part = low + r4 * (high + r4 * top);
    // The low bits of `shifted` hold n; the exponent field takes n + 1023.
    let exponent = (shifted.to_bits() << 52).wrapping_add(1023 << 52);
    part * f64::from_bits(exponent)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn omega_and_its_logarithm_add_up() {
        let mut z = -60.0;
        while z < 6000.0 {
            let w = omega(z);
            let error = (w + w.ln() - z) / (1.0 + w);
            assert!(error.abs() < 1.1e-5, "{z}: {error}");
            z += 0.0137 * (1.0 + f64::abs(z) / 16.0);
        }
    }

    #[test]
    fn short_exponential_agrees_with_the_library() {
        let mut y = -690.0;
        while y < 100.0 {
            let error = exp(y) / f64::exp(y) - 1.0;
            assert!(error.abs() < 1e-11, "{y}: {error}");
            y += 0.137;
        }
    }
}
