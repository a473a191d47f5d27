//! The differences between the turning earth, the clock on the wall and the uniform time of the planets'
//! motion.
//!
//! Three time scales meet here. The sun's place is computed in terrestrial time (TT), the earth turns by UT1, and people
//! read UTC. ΔT = TT − UT1 is observed, not computed, so it comes as a table.
//!
//! A day number counts whole days from 2000-01-01 0h; a fraction is part of that day.
//!
//! No fixed TT − UT1 would do: from 1950 to 2027 the almanac follows the measured values (half-yearly,
//! IERS), afterwards a slow parabola. Before 1972 and after the table UTC is taken as UT1, because the leap
//! seconds to come are not known.

use std::f64::consts::TAU;

/// ΔT = TT − UT1 [s] every half Julian year from 1950.0 (182.625 days apart, the last for 2028.0).
///
/// Source: IERS Bulletin A (finals2000A) from 1973 to January 2026 as observed, to January 2027 as predicted there;
/// Morrison, Stephenson, Hohenkerk and Zawilski (2020), table S15, before it; the cubic that skyfield 1.55 draws from the
/// last prediction towards the long-term parabola for the last two. Read off skyfield's daily table, which a straight
/// line between two of these follows within 0.05 s.
const DELTA_T_S: [f64; 157] = [
    28.930, 29.124, 29.321, 29.515, 29.699, 29.863, 30.002, 30.111, 30.203, 30.297, 30.409, 30.557,
    30.759, 31.026, 31.342, 31.684, 32.031, 32.361, 32.651, 32.886, 33.072, 33.225, 33.358, 33.485,
    33.621, 33.777, 33.962, 34.181, 34.438, 34.741, 35.093, 35.497, 35.946, 36.428, 36.931, 37.444,
    37.955, 38.455, 38.947, 39.437, 39.930, 40.433, 40.950, 41.540, 42.145, 42.757, 43.370, 43.958,
    44.483, 45.000, 45.475, 45.985, 46.457, 46.999, 47.519, 48.037, 48.533, 49.103, 49.585, 50.105,
    50.539, 50.977, 51.379, 51.814, 52.166, 52.577, 52.956, 53.436, 53.788, 54.086, 54.341, 54.636,
    54.871, 55.114, 55.322, 55.582, 55.820, 56.094, 56.299, 56.570, 56.854, 57.224, 57.565, 57.959,
    58.309, 58.742, 59.120, 59.586, 59.983, 60.402, 60.785, 61.247, 61.629, 61.998, 62.294, 62.658,
    62.965, 63.285, 63.467, 63.664, 63.829, 63.980, 64.090, 64.212, 64.299, 64.414, 64.473, 64.550,
    64.574, 64.653, 64.687, 64.799, 64.845, 64.991, 65.146, 65.342, 65.457, 65.629, 65.776, 65.951,
    66.070, 66.241, 66.324, 66.475, 66.603, 66.771, 66.906, 67.127, 67.280, 67.486, 67.644, 67.861,
    68.102, 68.397, 68.592, 68.825, 68.967, 69.113, 69.220, 69.358, 69.361, 69.424, 69.360, 69.351,
    69.294, 69.251, 69.204, 69.219, 69.175, 69.187, 69.138, 69.140, 69.110, 69.132, 69.096, 69.082,
    69.075,
];

/// Days between two entries of [`DELTA_T_S`].
const SPACING_DAYS: f64 = 182.625;
/// Day number of the first entry: the Julian epoch 50 Julian years before 2000-01-01 0h.
const FIRST_DAY: f64 = -18262.5;
/// Day number of the last entry, 2028-01-01.
const LAST_DAY: f64 = FIRST_DAY + 156.0 * SPACING_DAYS;

/// First day of today's UTC, 1972-01-01, with TAI − UTC = 10 s.
const FIRST_UTC_DAY: f64 = -10227.0;
/// Days on which TAI − UTC has grown by one second. Source: IERS Bulletin C, up to the last one of 2017-01-01.
const LEAP_DAYS: [f64; 27] = [
    -10045.0, -9861.0, -9496.0, -9131.0, -8766.0, -8400.0, -8035.0, -7670.0, -7305.0, -6758.0,
    -6393.0, -6028.0, -5297.0, -4383.0, -3652.0, -3287.0, -2740.0, -2375.0, -2010.0, -1461.0,
    -914.0, -365.0, 2192.0, 3288.0, 4565.0, 5660.0, 6210.0,
];

/// TT − TAI [s], by definition of TT (IAU 1991).
const TT_MINUS_TAI_S: f64 = 32.184;

/// ΔT = TT − UT1 [s] on a day number, which may have a fraction.
///
/// After 2028 the table continues as 69.075 s + 0.0051 s × (years since 2028)²: about 71.5 s in 2050 and 95.5 s
/// in 2100, within 0.5 s of skyfield's curve. There is no better prediction; an error of 10 s would move the
/// sun by 0.4″ and an event by 0.03 s.
pub(super) fn delta_t_s(day: f64) -> f64 {
    if day >= LAST_DAY {
        let years = (day - LAST_DAY) / 365.25;
        return DELTA_T_S[DELTA_T_S.len() - 1] + 0.0051 * years * years;
    }
    let position = ((day - FIRST_DAY) / SPACING_DAYS).max(0.0);
    let index = whole(position).min(DELTA_T_S.len() - 2);
    let (before, after) = (DELTA_T_S[index], DELTA_T_S[index + 1]);
    before + (after - before) * (position - index as f64)
}

/// TT − UTC [s] on a day number.
///
/// From 1972 to 2027 by the leap seconds. Before, and from 2028 on, UTC is taken as UT1: then it is ΔT. (Before 1972 UTC
/// was steered to within 0.1 s of UT1 from 1961 on; how it will be kept near UT1 after 2027 is not decided yet.)
pub(super) fn tt_minus_utc_s(day: f64) -> f64 {
    if !(FIRST_UTC_DAY..LAST_DAY).contains(&day) {
        return delta_t_s(day);
    }
    TT_MINUS_TAI_S + 10.0 + LEAP_DAYS.partition_point(|&leap| leap <= day) as f64
}

/// Greenwich mean sidereal time [rad, not reduced] at UT1 given as day number and fraction.
///
/// Earth rotation angle (IAU 2000) plus the accumulated precession of Capitaine et al. (2003), as in the IERS
/// Conventions (2010), equations 5.15 and 5.32, to the second power; the rest is below 0.0001″ before 2100.
pub(super) fn mean_sidereal_time(day: f64, fraction: f64) -> f64 {
    let since_noon = day - 0.5 + fraction;
    let t = since_noon / 36525.0;
    // Whole turns of `day` are dropped before they can cost precision.
    let turns = 0.7790572732640 - 0.5 + fraction + 0.00273781191135448 * since_noon;
    let precession_arcsec = 0.014506 + (4612.156534 + 1.3915817 * t) * t;
    (turns.fract() + precession_arcsec / 1_296_000.0) * TAU
}

/// Rate of [`mean_sidereal_time`] [rad per day of UT1].
pub(super) const SIDEREAL_RATE: f64 =
    TAU * (1.0027378119113545 + 4612.156534 / 36525.0 / 1_296_000.0);

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place in the table: not negative and at most a few hundred"
)]
fn whole(position: f64) -> usize {
    position as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IERS Bulletin C: TAI − UTC was 10 s from 1972-01-01, 32 s from 1999-01-01 and is 37 s from 2017-01-01.
    #[test]
    fn leap_seconds_count_from_their_days() {
        for (day, tai_minus_utc_s) in [
            (-10227.0, 10.0),
            (-10045.5, 10.0),
            (-10045.0, 11.0),
            (-365.0, 32.0),
            (6209.9, 36.0),
            (6210.0, 37.0),
            (10226.9, 37.0),
        ] {
            assert!(
                (tt_minus_utc_s(day) - 32.184 - tai_minus_utc_s).abs() < 1e-9,
                "day {day}"
            );
        }
    }

    /// UTC is defined to stay within 0.9 s of UT1 (ITU-R TF.460); the table must obey that too.
    #[test]
    fn utc_stays_near_ut1() {
        for day in -18262..36890 {
            let ut1_minus_utc_s = tt_minus_utc_s(f64::from(day)) - delta_t_s(f64::from(day));
            assert!(
                ut1_minus_utc_s.abs() < 0.9,
                "{ut1_minus_utc_s} s on day {day}"
            );
        }
    }

    /// UT1 − UTC [s] from IERS Bulletin A, read off skyfield's daily table.
    #[test]
    fn ut1_follows_the_bulletins() {
        for (day, ut1_minus_utc_s) in UT1_MINUS_UTC_S {
            let found = tt_minus_utc_s(day) - delta_t_s(day);
            assert!(
                (found - ut1_minus_utc_s).abs() < 0.05,
                "{found} s on day {day}"
            );
        }
    }

    const UT1_MINUS_UTC_S: [(f64, f64); 5] = [
        (-9406.0, 0.4454),
        (-5155.0, 0.3773),
        (-325.0, 0.6749),
        (4600.0, 0.4079),
        (9570.0, 0.0555),
    ];

    #[test]
    fn delta_t_goes_on_smoothly_after_the_table() {
        for day in 10_200..10_260 {
            let change = delta_t_s(f64::from(day + 1)) - delta_t_s(f64::from(day));
            assert!(change.abs() < 0.001, "{change} s on day {day}");
        }
    }

    /// Meeus, Astronomical Algorithms (2nd ed.), example 12.a, from memory: 1987-04-10 0h UT, 13h 10m 46.3668s. An older
    /// formula, 0.01 s apart from the one used here at most.
    #[test]
    fn sidereal_time_of_a_printed_example() {
        let hours = mean_sidereal_time(-4649.0, 0.0).rem_euclid(TAU) / TAU * 24.0;
        assert!(
            (hours - (13.0 + 10.0 / 60.0 + 46.3668 / 3600.0)).abs() * 3600.0 < 0.01,
            "{hours}"
        );
    }
}
