//! The relay: its coil warm and cold, when it pulls in, when it lets go.
//!
//! ```text
//!   ●──┬───────┐      R(T)      = R20·k(T)                       k(T) = 1 + 0.00393·(T − 20)
//!     ═╪═ C    ▭ R    V_op(T)   = V_op20·k(T)                    the thresholds are currents
//!   ●──┴───────┘      T_coil    = T_box + R_th·V²/R(T_coil)      in closed form below
//!                     t_release = R·C·ln(V/V_release) + mechanical
//!                     t_charge  ≤ R_s·C·ln(V/(V − V_op))       DC; AC: charge_time_ac_s
//! ```
//!
//! Source: IEC 61810-1 for the words; relay makers' application notes (coil voltage moves with
//! copper's resistance); self-heating x = (`x_a` + √(`x_a²` + `4·α·R_th·V²/R20))/2` with x =
//! `k(T_coil)`, `x_a` = `k(T_box)`, which solves the line above.
//! Holds: DC coils of copper. Leaves out: the inductance where there is a capacitor (−1…−2 % of the
//! release time, +2 ms of pull-in), contact bounce, and the ageing of springs.
//!
//! Four thresholds, as sheets and the trade know them: pulls in (`operate_voltage`, guaranteed), surely not
//! in (`non_operate_voltage`, 40 % of rated), surely stays in (`holding_voltage`, 50 %), surely out
//! (`release_voltage`). The must-release voltage is never a hold limit. All are currents, so they do not
//! move with temperature; a coil's tolerance changes only the current that it takes, because the guaranteed
//! voltage includes it.

use super::copper;

mod timing;

pub use timing::{Charging, charge_time_ac_s, charge_time_dc_s, release_time_s};

/// Coil resistance [Ω] at `coil_c`, from its resistance at 20 °C.
pub fn coil_ohm(ohm_20c: f64, coil_c: f64) -> f64 {
    ohm_20c * copper::factor(coil_c)
}

/// Coil resistance at 20 °C [Ω] of a coil measured at `coil_c`.
pub fn coil_ohm_20c(ohm: f64, coil_c: f64) -> f64 {
    ohm / copper::factor(coil_c)
}

/// Operate or release voltage [V] at `coil_c`, from its value at 20 °C.
///
/// The relay answers to ampere-turns, a current; the voltage for that current moves with the coil's
/// resistance.
pub fn threshold_v(volts_20c: f64, coil_c: f64) -> f64 {
    volts_20c * copper::factor(coil_c)
}

/// Margin of `coil_v` over the operate voltage, as a fraction of it: 0.15 is 15 % in hand; negative is too
/// little.
pub fn operate_margin(coil_v: f64, operate_v: f64) -> f64 {
    coil_v / operate_v - 1.0
}

/// Coil temperature [°C] at a fixed coil voltage, in closed form.
///
/// `ohm_20c`: coil resistance at 20 °C [Ω]; `box_c`: surroundings [°C]; `kelvin_per_watt`: coil to
/// surroundings.
pub fn coil_temperature_c(ohm_20c: f64, coil_v: f64, box_c: f64, kelvin_per_watt: f64) -> f64 {
    let cold = copper::factor(box_c);
    let heating = 4.0 * copper::PER_KELVIN * kelvin_per_watt * coil_v * coil_v / ohm_20c;
    copper::temperature_c(f64::midpoint(cold, (cold * cold + heating).sqrt()))
}

/// A coil after it has been on long enough to reach its final temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WarmCoil {
    /// Coil temperature [°C].
    pub coil_c: f64,
    /// Coil resistance at that temperature [Ω].
    pub coil_ohm: f64,
    /// Coil voltage at that resistance [V].
    pub coil_v: f64,
    /// Heat in the coil [W].
    pub power_w: f64,
}

/// Rounds of voltage and temperature; each shrinks the error at least fivefold in any link that
/// works.
const ROUNDS: u32 = 200;

/// The warm coil when its voltage itself depends on its resistance: `coil_v_at` gives the voltage at a
/// resistance.
///
/// Iterates [`coil_temperature_c`] with the voltage at the last resistance, starting cold, until it
/// moves less than `settled_k` [K].
///
/// # Errors
/// The first error of `coil_v_at`.
pub fn warm_coil<E>(
    ohm_20c: f64,
    box_c: f64,
    kelvin_per_watt: f64,
    settled_k: f64,
    coil_v_at: impl Fn(f64) -> Result<f64, E>,
) -> Result<WarmCoil, E> {
    let mut coil_c = box_c;
    for _ in 0..ROUNDS {
        let coil_v = coil_v_at(coil_ohm(ohm_20c, coil_c))?;
        let next_c = coil_temperature_c(ohm_20c, coil_v, box_c, kelvin_per_watt);
        let moved_k = (next_c - coil_c).abs();
        coil_c = next_c;
        if moved_k < settled_k {
            break;
        }
    }
    let ohm = coil_ohm(ohm_20c, coil_c);
    let coil_v = coil_v_at(ohm)?;
    Ok(WarmCoil {
        coil_c,
        coil_ohm: ohm,
        coil_v,
        power_w: coil_v * coil_v / ohm,
    })
}

/// Highest coil voltage [V] that keeps the coil at or below `limit_c` in a box at `box_c`.
///
/// A sheet's "maximum continuous voltage" may be lower and then rules.
pub fn thermal_limit_v(ohm_20c: f64, box_c: f64, kelvin_per_watt: f64, limit_c: f64) -> f64 {
    ((limit_c - box_c).max(0.0) / kelvin_per_watt * coil_ohm(ohm_20c, limit_c)).sqrt()
}

#[cfg(test)]
mod tests {
    use std::convert::Infallible;

    use super::*;

    #[test]
    fn coil_and_threshold_move_together() {
        // Relay application note: 320 Ω at 25 °C is 443.3 Ω at 125 °C, and 13.0 V becomes 18.0 V.
        let cold_ohm_20c = coil_ohm_20c(320.0, 25.0);
        assert!((coil_ohm(cold_ohm_20c, 125.0) - 443.3).abs() < 0.5);
        let operate_20c = 13.0 / copper::factor(25.0);
        assert!((threshold_v(operate_20c, 125.0) - 18.0).abs() < 0.03);
    }

    #[test]
    fn self_heating_settles_where_the_worked_example_says() {
        // Worked beforehand from T = T_box + R_th·V²/R(T): 400 Ω, 90 K/W, 14.73 V.
        let warm_c = coil_temperature_c(400.0, 14.73, 20.0, 90.0);
        assert!((warm_c - 61.9).abs() < 0.05, "{warm_c}");
        assert!((coil_ohm(400.0, warm_c) - 466.0).abs() < 0.5);
        assert!((threshold_v(9.0, warm_c) - 10.48).abs() < 0.01);
        let warm_c = coil_temperature_c(400.0, 14.73, 50.0, 90.0);
        assert!((warm_c - 88.5).abs() < 0.05, "{warm_c}");
        assert!((threshold_v(9.0, warm_c) - 11.42).abs() < 0.01);
    }

    #[test]
    fn closed_form_satisfies_its_own_balance() {
        for (volts, box_c, kelvin_per_watt) in
            [(0.0, -20.0, 97.0), (10.7, 60.0, 97.0), (16.4, 35.0, 150.0)]
        {
            let warm_c = coil_temperature_c(400.0, volts, box_c, kelvin_per_watt);
            let balance = box_c + kelvin_per_watt * volts * volts / coil_ohm(400.0, warm_c);
            assert!((warm_c - balance).abs() < 1e-9);
        }
    }

    #[test]
    fn warm_coil_finds_voltage_and_temperature_together() {
        // 24.18 Ω before a 90 Ω coil: the warm coil gets more volts than the cold one.
        let coil_v_at = |ohm: f64| Ok::<_, Infallible>(10.0 / (1.0 + 24.18 / ohm));
        let Ok(warm) = warm_coil(90.0, 28.0, 35.0, 1e-9, coil_v_at);
        let Ok(again_v) = coil_v_at(warm.coil_ohm);
        let Ok(cold_v) = coil_v_at(coil_ohm(90.0, 28.0));
        assert!((warm.coil_v - again_v).abs() < 1e-9);
        assert!((warm.coil_c - (28.0 + 35.0 * warm.power_w)).abs() < 1e-6);
        assert!(warm.coil_v > cold_v);
    }

    #[test]
    fn thermal_limit_falls_with_a_hotter_box() {
        // 105 °C limit, 400 Ω, 90 K/W, worked from the same balance.
        for (box_c, volts) in [(20.0, 22.4), (50.0, 18.1), (60.0, 16.3)] {
            assert!(
                (thermal_limit_v(400.0, box_c, 90.0, 105.0) - volts).abs() < 0.06,
                "{box_c} °C"
            );
        }
    }

    #[test]
    fn margin_is_a_fraction_of_the_operate_voltage() {
        assert!((operate_margin(10.35, 9.0) - 0.15).abs() < 1e-12);
        assert!(operate_margin(8.0, 9.0) < 0.0);
    }
}
