//! A step of order 5 with an error estimate of order 4.
//!
//! Source: Dormand and Prince, "A family of embedded Runge–Kutta formulae", 1980.

/// Stages, as fractions of the step (Dormand and Prince 1980).
pub(super) const C: [f64; 4] = [0.2, 0.3, 0.8, 8.0 / 9.0];
pub(super) const A1: f64 = 0.2;
pub(super) const A2: [f64; 2] = [3.0 / 40.0, 9.0 / 40.0];
pub(super) const A3: [f64; 3] = [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0];
pub(super) const A4: [f64; 4] = [
    19372.0 / 6561.0,
    -25360.0 / 2187.0,
    64448.0 / 6561.0,
    -212.0 / 729.0,
];
pub(super) const A5: [f64; 5] = [
    9017.0 / 3168.0,
    -355.0 / 33.0,
    46732.0 / 5247.0,
    49.0 / 176.0,
    -5103.0 / 18656.0,
];
/// The fifth-order solution, without the second stage, whose weight is 0.
pub(super) const B: [f64; 5] = [
    35.0 / 384.0,
    500.0 / 1113.0,
    125.0 / 192.0,
    -2187.0 / 6784.0,
    11.0 / 84.0,
];
/// Fifth less fourth order, without the second stage.
pub(super) const E: [f64; 6] = [
    71.0 / 57600.0,
    -71.0 / 16695.0,
    71.0 / 1920.0,
    -17253.0 / 339200.0,
    22.0 / 525.0,
    -1.0 / 40.0,
];

/// The end of a step, the slope there, and the possible error.
type Stepped = ([f64; 2], [f64; 2], [f64; 2]);

/// One step from `start`, whose slope is known: the end, the slope there and the error estimate. The
/// last call of `slope` is at the end.
pub(super) fn dormand_prince(
    h: f64,
    start: [f64; 2],
    first: [f64; 2],
    mut slope: impl FnMut(f64, [f64; 2]) -> [f64; 2],
) -> Stepped {
    // Written out: a loop over the stages takes three times as long.
    let along = |terms: &[(f64, [f64; 2])]| {
        let mut x = [0.0; 2];
        for (weight, slope) in terms {
            x[0] += weight * slope[0];
            x[1] += weight * slope[1];
        }
        x
    };
    let from = |by: [f64; 2]| [start[0] + h * by[0], start[1] + h * by[1]];
    let k0 = first;
    let k1 = slope(C[0] * h, from(along(&[(A1, k0)])));
    let k2 = slope(C[1] * h, from(along(&[(A2[0], k0), (A2[1], k1)])));
    let k3 = slope(
        C[2] * h,
        from(along(&[(A3[0], k0), (A3[1], k1), (A3[2], k2)])),
    );
    let k4 = slope(
        C[3] * h,
        from(along(&[(A4[0], k0), (A4[1], k1), (A4[2], k2), (A4[3], k3)])),
    );
    let k5 = slope(
        h,
        from(along(&[
            (A5[0], k0),
            (A5[1], k1),
            (A5[2], k2),
            (A5[3], k3),
            (A5[4], k4),
        ])),
    );
    let end = from(along(&[
        (B[0], k0),
        (B[1], k2),
        (B[2], k3),
        (B[3], k4),
        (B[4], k5),
    ]));
    let k6 = slope(h, end);
    let off = along(&[
        (E[0], k0),
        (E[1], k2),
        (E[2], k3),
        (E[3], k4),
        (E[4], k5),
        (E[5], k6),
    ]);
    (end, k6, [h * off[0], h * off[1]])
}
