//! The printed terms behind the sun's apparent place.
//!
//! Each row of the planetary series is `[amplitude, phase, rate]` of `amplitude × cos(phase + rate × t)`, with the
//! amplitude in 10⁻⁸ rad (10⁻⁸ au for the radius), the phase in radians and the rate in radians per Julian millennium.
//!
//! Source: Reda and Andreas, Solar Position Algorithm for Solar Radiation Applications, NREL/TP-560-34302 (2008),
//! tables A4.2 (the largest terms of Bretagnon's VSOP87, heliocentric, ecliptic and equinox of date) and A4.3
//! (nutation, IAU 1980), as printed there and cut where noted.

/// Longitude, all 64 printed terms but the constant one.
pub(super) const L0: [[f64; 3]; 63] = [
    [3341656.0, 4.6692568, 6283.07585],
    [34894.0, 4.6261, 12566.1517],
    [3497.0, 2.7441, 5753.3849],
    [3418.0, 2.8289, 3.5231],
    [3136.0, 3.6277, 77713.7715],
    [2676.0, 4.4181, 7860.4194],
    [2343.0, 6.1352, 3930.2097],
    [1324.0, 0.7425, 11506.7698],
    [1273.0, 2.0371, 529.691],
    [1199.0, 1.1096, 1577.3435],
    [990.0, 5.233, 5884.927],
    [902.0, 2.045, 26.298],
    [857.0, 3.508, 398.149],
    [780.0, 1.179, 5223.694],
    [753.0, 2.533, 5507.553],
    [505.0, 4.583, 18849.228],
    [492.0, 4.205, 775.523],
    [357.0, 2.92, 0.067],
    [317.0, 5.849, 11790.629],
    [284.0, 1.899, 796.298],
    [271.0, 0.315, 10977.079],
    [243.0, 0.345, 5486.778],
    [206.0, 4.806, 2544.314],
    [205.0, 1.869, 5573.143],
    [202.0, 2.458, 6069.777],
    [156.0, 0.833, 213.299],
    [132.0, 3.411, 2942.463],
    [126.0, 1.083, 20.775],
    [115.0, 0.645, 0.98],
    [103.0, 0.636, 4694.003],
    [102.0, 0.976, 15720.839],
    [102.0, 4.267, 7.114],
    [99.0, 6.21, 2146.17],
    [98.0, 0.68, 155.42],
    [86.0, 5.98, 161000.69],
    [85.0, 1.3, 6275.96],
    [85.0, 3.67, 71430.7],
    [80.0, 1.81, 17260.15],
    [79.0, 3.04, 12036.46],
    [75.0, 1.76, 5088.63],
    [74.0, 3.5, 3154.69],
    [74.0, 4.68, 801.82],
    [70.0, 0.83, 9437.76],
    [62.0, 3.98, 8827.39],
    [61.0, 1.82, 7084.9],
    [57.0, 2.78, 6286.6],
    [56.0, 4.39, 14143.5],
    [56.0, 3.47, 6279.55],
    [52.0, 0.19, 12139.55],
    [52.0, 1.33, 1748.02],
    [51.0, 0.28, 5856.48],
    [49.0, 0.49, 1194.45],
    [41.0, 5.37, 8429.24],
    [41.0, 2.4, 19651.05],
    [39.0, 6.17, 10447.39],
    [37.0, 6.04, 10213.29],
    [37.0, 2.57, 1059.38],
    [36.0, 1.71, 2352.87],
    [36.0, 1.78, 6812.77],
    [33.0, 0.59, 17789.85],
    [30.0, 0.44, 83996.85],
    [30.0, 2.74, 1349.87],
    [25.0, 3.16, 4690.48],
];

/// Longitude × t, the ten largest after the linear term.
pub(super) const L1: [[f64; 3]; 10] = [
    [206059.0, 2.678235, 6283.07585],
    [4303.0, 2.6351, 12566.1517],
    [425.0, 1.59, 3.523],
    [119.0, 5.796, 26.298],
    [109.0, 2.966, 1577.344],
    [93.0, 2.59, 18849.23],
    [72.0, 1.14, 529.69],
    [68.0, 1.87, 398.15],
    [67.0, 4.41, 5507.55],
    [59.0, 2.89, 5223.69],
];

/// Longitude × t², the two largest after the constant.
pub(super) const L2: [[f64; 3]; 2] = [[8720.0, 1.0721, 6283.0758], [309.0, 0.867, 12566.152]];

/// Latitude, all printed terms.
pub(super) const B0: [[f64; 3]; 5] = [
    [280.0, 3.199, 84334.662],
    [102.0, 5.422, 5507.553],
    [80.0, 3.88, 5223.69],
    [44.0, 3.7, 2352.87],
    [32.0, 4.0, 1577.34],
];

/// Radius, the eight largest after the constant.
pub(super) const R0: [[f64; 3]; 8] = [
    [1670700.0, 3.0984635, 6283.07585],
    [13956.0, 3.05525, 12566.1517],
    [3084.0, 5.1985, 77713.7715],
    [1628.0, 1.1739, 5753.3849],
    [1576.0, 2.8469, 7860.4194],
    [925.0, 5.453, 11506.77],
    [542.0, 4.564, 3930.21],
    [472.0, 3.661, 5884.927],
];

/// Radius × t, the largest.
pub(super) const R1: [[f64; 3]; 1] = [[103019.0, 1.10749, 6283.07585]];

/// Constant part of the longitude [10⁻⁸ rad].
pub(super) const LONGITUDE: f64 = 175347046.0;
/// Linear part of the longitude [10⁻⁸ rad per Julian millennium].
pub(super) const LONGITUDE_RATE: f64 = 628331966747.0;
/// Quadratic part of the longitude [10⁻⁸ rad per Julian millennium squared].
pub(super) const LONGITUDE_SQUARE: f64 = 52919.0;
/// Constant part of the radius [10⁻⁸ au].
pub(super) const RADIUS: f64 = 100013989.0;

/// Nutation: multiples of the moon's elongation D, the sun's anomaly M, the moon's anomaly M′, the moon's argument of
/// latitude F and the node Ω; then the sine amplitude of the longitude and the cosine amplitude of the obliquity
/// [0.0001″]. The 13 largest rows: those left out are below 0.007″ each, and the amplitudes' own change below 0.02″ a century.
pub(super) const NUTATION: [[f64; 7]; 13] = [
    [0.0, 0.0, 0.0, 0.0, 1.0, -171996.0, 92025.0],
    [-2.0, 0.0, 0.0, 2.0, 2.0, -13187.0, 5736.0],
    [0.0, 0.0, 0.0, 2.0, 2.0, -2274.0, 977.0],
    [0.0, 0.0, 0.0, 0.0, 2.0, 2062.0, -895.0],
    [0.0, 1.0, 0.0, 0.0, 0.0, 1426.0, 54.0],
    [0.0, 0.0, 1.0, 0.0, 0.0, 712.0, -7.0],
    [-2.0, 1.0, 0.0, 2.0, 2.0, -517.0, 224.0],
    [0.0, 0.0, 0.0, 2.0, 1.0, -386.0, 200.0],
    [0.0, 0.0, 1.0, 2.0, 2.0, -301.0, 129.0],
    [-2.0, -1.0, 0.0, 2.0, 2.0, 217.0, -95.0],
    [-2.0, 0.0, 1.0, 0.0, 0.0, -158.0, 0.0],
    [-2.0, 0.0, 0.0, 2.0, 1.0, 129.0, -70.0],
    [0.0, 0.0, -1.0, 2.0, 2.0, 123.0, -53.0],
];

/// D, M, M′, F and Ω at J2000.0 [°] and their change [° per Julian century] (equations 15 to 19 of the report; the
/// powers above the first move no row by more than 0.001″ between 1950 and 2100).
pub(super) const NUTATION_ARGUMENTS: [[f64; 2]; 5] = [
    [297.85036, 445267.111480],
    [357.52772, 35999.050340],
    [134.96298, 477198.867398],
    [93.27191, 483202.017538],
    [125.04452, -1934.136261],
];
