//! Copper and its temperature: the same law for the wire in the ground and the winding in the
//! relay.
//!
//! ```text
//!   R(T) = R20 · k(T),   k(T) = 1 + 0.00393·(T − 20)
//! ```
//!
//! Source: International Annealed Copper Standard (IEC 60028), both constants from memory. The
//! older form R2/R1 = (234.5 + T2)/(234.5 + T1) is the same line.
//! Holds: −50…150 °C. Leaves out: alloys, tinning, copper-clad aluminium (about 1.5–1.6 times the
//! resistance).

/// Relative rise of resistance per kelvin at 20 °C [1/K]. IEC 60028 (from memory).
pub const PER_KELVIN: f64 = 0.00393;

/// Resistivity of annealed copper at 20 °C [nΩ·m], which is also Ω·mm²/km. IEC 60028 (from memory).
pub const RESISTIVITY_NANOHM_M: f64 = 17.241;

/// Temperature at which tables quote resistance [°C].
pub const REFERENCE_C: f64 = 20.0;

/// Resistance at `copper_c` over resistance at 20 °C.
pub fn factor(copper_c: f64) -> f64 {
    1.0 + PER_KELVIN * (copper_c - REFERENCE_C)
}

/// Temperature [°C] for a value of [`factor`]: a warm coil's resistance tells its temperature this way.
pub fn temperature_c(factor: f64) -> f64 {
    REFERENCE_C + (factor - 1.0) / PER_KELVIN
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factors_follow_the_standard_line() {
        // 1 + 0.00393·(T − 20), worked by hand.
        let table = [
            (-25.0, 0.8232),
            (-10.0, 0.8821),
            (0.0, 0.9214),
            (10.0, 0.9607),
            (20.0, 1.0),
            (28.0, 1.0314),
            (40.0, 1.0786),
            (60.0, 1.1572),
            (75.0, 1.2162),
            (85.0, 1.2555),
        ];
        for (copper_c, expected) in table {
            assert!((factor(copper_c) - expected).abs() < 6e-5, "{copper_c} °C");
            assert!((temperature_c(factor(copper_c)) - copper_c).abs() < 1e-9);
        }
    }

    #[test]
    fn agrees_with_the_older_form_of_relay_makers() {
        // Relay application notes: 320 Ω at 25 °C is 443.3 Ω at 125 °C; 16 V at 25 °C becomes 19.7
        // V at 85 °C, 20.6 V at 100 °C and 12.9 V at −25 °C.
        for (cold, cold_c, hot_c, hot) in [
            (320.0, 25.0, 125.0, 443.3),
            (13.0, 25.0, 125.0, 18.0),
            (16.0, 25.0, 85.0, 19.7),
            (16.0, 25.0, 100.0, 20.6),
            (16.0, 25.0, -25.0, 12.9),
            (290.0, 25.0, 125.0, 401.8),
        ] {
            let ours = cold * factor(hot_c) / factor(cold_c);
            assert!(
                (ours / hot - 1.0).abs() < 0.004,
                "{cold} at {cold_c} °C is {ours} at {hot_c} °C"
            );
        }
    }
}
