//! Two linear differential equations in closed form: the stretches in which no diode conducts.
//!
//! ```text
//!   x' = A·x + b      x(t) = x∞ + e^{μt}·(cosh δt·1 + sinh δt/δ·(A − μ·1))·(x₀ − x∞)
//!   x∞ = −A⁻¹·b       μ = ½·tr A,  δ² = μ² − det A  (δ² < 0: cos, sin)
//! ```
//!
//! Source: Cayley–Hamilton theorem. Holds: A regular.

pub(super) type Matrix = [[f64; 2]; 2];

/// δt below which sinh δt/δ is t to the last bit.
const SAME: f64 = 1e-9;

/// e^{A·t} to a thousandth where no part decays or turns by more than two: Padé's approximant of
/// order 2 over 2, which decays, however long the stretch.
pub(super) fn short_exponential(a: &Matrix, t: f64) -> Matrix {
    let a = a.map(|row| row.map(|value| t * value));
    let square = product(&a, &a);
    let part = |sign: f64| {
        [0, 1].map(|m| {
            [0, 1].map(|n| {
                let one = if m == n { 1.0 } else { 0.0 };
                one + sign * 0.5 * a[m][n] + square[m][n] / 12.0
            })
        })
    };
    let (above, below) = (part(1.0), part(-1.0));
    let per_determinant = 1.0 / (below[0][0] * below[1][1] - below[0][1] * below[1][0]);
    let inverse = [
        [
            below[1][1] * per_determinant,
            -below[0][1] * per_determinant,
        ],
        [
            -below[1][0] * per_determinant,
            below[0][0] * per_determinant,
        ],
    ];
    product(&inverse, &above)
}

/// e^{A·t}.
pub(super) fn exponential(a: &Matrix, t: f64) -> Matrix {
    Spectrum::of(a).exponential(a, t)
}

/// The product of two matrices.
pub(super) fn product(a: &Matrix, b: &Matrix) -> Matrix {
    [0, 1].map(|m| [0, 1].map(|n| a[m][0] * b[0][n] + a[m][1] * b[1][n]))
}

/// x with `a`·x = `b`; `None` for a singular matrix.
pub(super) fn solve_two(a: &Matrix, b: [f64; 2]) -> Option<[f64; 2]> {
    let determinant = a[0][0] * a[1][1] - a[0][1] * a[1][0];
    (determinant != 0.0).then(|| {
        [
            (b[0] * a[1][1] - a[0][1] * b[1]) / determinant,
            (a[0][0] * b[1] - a[1][0] * b[0]) / determinant,
        ]
    })
}

/// μ and δ².
#[derive(Debug, Clone, Copy)]
struct Spectrum {
    mean: f64,
    spread: f64,
    oscillates: bool,
}

impl Spectrum {
    fn of(a: &Matrix) -> Self {
        let mean = f64::midpoint(a[0][0], a[1][1]);
        // δ² without the cancellation of μ² − det A.
        let half = 0.5 * (a[0][0] - a[1][1]);
        let square = half * half + a[0][1] * a[1][0];
        Self {
            mean,
            spread: square.abs().sqrt(),
            oscillates: square < 0.0,
        }
    }

    /// e^{μt}·cosh δt and e^{μt}·sinh δt/δ.
    fn at(&self, t: f64) -> (f64, f64) {
        let turn = self.spread * t;
        if turn.abs() < SAME {
            let decay = (self.mean * t).exp();
            return (decay, decay * t);
        }
        if self.oscillates {
            let decay = (self.mean * t).exp();
            let (sin, cos) = turn.sin_cos();
            return (decay * cos, decay * sin / self.spread);
        }
        let slow = ((self.mean + self.spread) * t).exp();
        let fast = ((self.mean - self.spread) * t).exp();
        (
            f64::midpoint(slow, fast),
            (slow - fast) / (2.0 * self.spread),
        )
    }

    /// e^{A·t} of the matrix that it belongs to.
    fn exponential(&self, a: &Matrix, t: f64) -> Matrix {
        let (c, s) = self.at(t);
        [
            [c + s * (a[0][0] - self.mean), s * a[0][1]],
            [s * a[1][0], c + s * (a[1][1] - self.mean)],
        ]
    }
}

/// A solution from one start.
#[derive(Debug, Clone, Copy)]
pub(super) struct Course {
    pub(super) matrix: Matrix,
    spectrum: Spectrum,
    rest: [f64; 2],
    offset: [f64; 2],
    /// (A − μ·1)·(x₀ − x∞)
    turned: [f64; 2],
}

impl Course {
    /// The course of x' = `matrix`·x + `push` from `start`; `None` for a singular matrix.
    pub(super) fn from(start: [f64; 2], matrix: Matrix, push: [f64; 2]) -> Option<Self> {
        let rest = solve_two(&matrix, [-push[0], -push[1]])?;
        let spectrum = Spectrum::of(&matrix);
        let offset = [start[0] - rest[0], start[1] - rest[1]];
        let turned = [
            (matrix[0][0] - spectrum.mean) * offset[0] + matrix[0][1] * offset[1],
            matrix[1][0] * offset[0] + (matrix[1][1] - spectrum.mean) * offset[1],
        ];
        Some(Self {
            matrix,
            spectrum,
            rest,
            offset,
            turned,
        })
    }

    /// State after `t` seconds.
    pub(super) fn at(&self, t: f64) -> [f64; 2] {
        let (c, s) = self.spectrum.at(t);
        [0, 1].map(|k| self.rest[k] + c * self.offset[k] + s * self.turned[k])
    }

    /// The growth of a small departure from the start after `t` seconds: e^{A·t}.
    pub(super) fn growth(&self, t: f64) -> Matrix {
        self.spectrum.exponential(&self.matrix, t)
    }

    /// Slope at a state.
    pub(super) fn slope(&self, x: [f64; 2]) -> [f64; 2] {
        let offset = [x[0] - self.rest[0], x[1] - self.rest[1]];
        [0, 1].map(|k| self.matrix[k][0] * offset[0] + self.matrix[k][1] * offset[1])
    }

    /// Where it comes to rest, and its greatest distance from there.
    pub(super) fn bounds(&self) -> [(f64, f64); 2] {
        let per_turn = 1.0 / self.spectrum.spread;
        [0, 1].map(|k| {
            let reach = self.offset[k].abs() + self.turned[k].abs() * per_turn;
            (self.rest[k], reach)
        })
    }

    /// Longest stretch in which an oscillating solution turns at most once [s]; infinite for the others.
    pub(super) fn single_turn_s(&self) -> f64 {
        if self.spectrum.oscillates {
            0.5 * std::f64::consts::PI / self.spectrum.spread
        } else {
            f64::INFINITY
        }
    }
}

/// Where `f` crosses zero between `low` and `high`, whose signs differ: Illinois' method.
///
/// Returns a point on the side of `high`, or on the root.
pub(super) fn crossing(
    mut low: f64,
    mut high: f64,
    tolerance: f64,
    mut f: impl FnMut(f64) -> f64,
) -> f64 {
    let (mut f_low, mut f_high) = (f(low), f(high));
    let mut last = low;
    let mut kept = 0;
    for _ in 0..100 {
        if high - low <= tolerance || (f_high - f_low).abs() < f64::MIN_POSITIVE {
            break;
        }
        let mid = (high - f_high * (high - low) / (f_high - f_low)).clamp(low, high);
        if (mid - last).abs() <= tolerance {
            return mid;
        }
        last = mid;
        let f_mid = f(mid);
        if (f_mid > 0.0) == (f_high > 0.0) {
            (high, f_high) = (mid, f_mid);
            if kept == 1 {
                f_low *= 0.5;
            }
            kept = 1;
        } else {
            (low, f_low) = (mid, f_mid);
            if kept == -1 {
                f_high *= 0.5;
            }
            kept = -1;
        }
    }
    high
}
