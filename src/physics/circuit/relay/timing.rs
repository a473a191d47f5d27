//! How long the capacitor holds the relay in, and how long it takes to pull it in.

use std::f64::consts::PI;

/// Time [s] from switching off to the contact opening, with a capacitor across the coil.
///
/// Behind a rectifier: nothing but the coil of `coil_ohm` [Ω] empties it. `coil_v`: at the moment of
/// switching off [V]; `release_v`: of the warm coil [V]; the guaranteed one gives the latest
/// time, the typical one the usual; `mechanical_s`: release time on the sheet [s].
pub fn release_time_s(
    coil_ohm: f64,
    capacitance_f: f64,
    coil_v: f64,
    release_v: f64,
    mechanical_s: f64,
) -> f64 {
    if coil_v <= release_v {
        return mechanical_s;
    }
    coil_ohm * capacitance_f * (coil_v / release_v).ln() + mechanical_s
}

/// Time [s] from switching a direct voltage on to the coil reaching its operate voltage,
/// `R_s`·C·ln(V/(V − `V_op`)); `None` if it never does.
///
/// `coil_v`: steady coil voltage [V]. An upper bound: the coil beside the capacitor shortens the
/// time constant.
pub fn charge_time_dc_s(
    source_ohm: f64,
    capacitance_f: f64,
    coil_v: f64,
    operate_v: f64,
) -> Option<f64> {
    (coil_v > operate_v).then(|| source_ohm * capacitance_f * (coil_v / (coil_v - operate_v)).ln())
}

/// A rectifier that charges a capacitor from AC.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Charging {
    /// Resistance before the rectifier [Ω].
    pub source_ohm: f64,
    /// Coil at its temperature [Ω].
    pub coil_ohm: f64,
    /// Smoothing capacitor [F].
    pub capacitance_f: f64,
    /// Peak less the diodes' drops [V].
    pub net_peak_v: f64,
    /// Charging pulses per mains period: 2 bridge, 1 single diode.
    pub pulses_per_period: u8,
    /// Mains frequency [Hz].
    pub hz: f64,
}

/// Panels of the midpoint rule below; exact to a percent with a thousandth of margin left.
const PANELS: u32 = 1000;

/// Time [s] from switching AC on to the coil reaching its operate voltage; `None` if it never does.
///
/// The pulse that flows at a capacitor voltage `V_m`·cos φ brings `p·V_m/(π·R_s)·(sin φ − φ·cos φ)`
/// on average, the coil takes `V_m`·cos φ/R, and the capacitor climbs by the difference:
///
/// ```text
///   t = 1/f + R_s·C·∫ sin φ / ((p/π)·(sin φ − φ·cos φ) − (R_s/R)·cos φ) dφ   from φ_op to π/2,  cos φ_op = V_op/V_m
/// ```
///
/// One period is added for the wait for a crest. An upper bound, to 4 %, against a step-by-step
/// integration. The short form `1/f + R_s·C·ln(V/(V − V_op))` is not a bound: as the pulses
/// shorten, a bridge takes up to 1.8 times and a single diode up to 2.8 times as long (large
/// capacitor, little margin).
pub fn charge_time_ac_s(charging: &Charging, operate_v: f64) -> Option<f64> {
    let share = f64::from(charging.pulses_per_period) / PI;
    let ratio = charging.source_ohm / charging.coil_ohm;
    let climb = |phi: f64| share * (phi.sin() - phi * phi.cos()) - ratio * phi.cos();
    if operate_v >= charging.net_peak_v {
        return None;
    }
    let operate_phi = (operate_v / charging.net_peak_v).acos();
    // The climb falls with the voltage, so it ends before the operate voltage or not at all.
    if climb(operate_phi) <= 0.0 {
        return None;
    }
    let panel = (PI / 2.0 - operate_phi) / f64::from(PANELS);
    let integral: f64 = (0..PANELS)
        .map(|k| operate_phi + (f64::from(k) + 0.5) * panel)
        .map(|phi| phi.sin() / climb(phi) * panel)
        .sum();
    Some(1.0 / charging.hz + charging.source_ohm * charging.capacitance_f * integral)
}

#[cfg(test)]
mod tests {
    use super::super::super::rectifier::half_conduction_angle;
    use super::*;

    #[test]
    fn release_takes_the_capacitors_time_constant() {
        // 464 Ω warm, 220 µF, 14.92 V; release guaranteed 1.2 V and typical 3.6 V at 20 °C, warm
        // ×1.16.
        let latest = release_time_s(464.0, 220e-6, 14.92, 1.2 * 1.16, 0.005);
        let typical = release_time_s(464.0, 220e-6, 14.92, 3.6 * 1.16, 0.005);
        assert!((latest - 0.247).abs() < 0.002, "{latest}");
        assert!((typical - 0.135).abs() < 0.002, "{typical}");
    }

    #[test]
    fn a_relay_that_was_hardly_in_lets_go_at_once() {
        assert!((release_time_s(400.0, 220e-6, 1.0, 1.2, 0.005) - 0.005).abs() < 1e-12);
    }

    #[test]
    fn release_agrees_with_circuit_simulation() {
        // ngspice 39, 1N4007 bridge, 14.446 V mean on 400 Ω and 220 µF, release 1.8 V, 3 ms
        // mechanical: 182.4 ms. The coil's inductance and the place in the ripple take two percent
        // off.
        let release_s = release_time_s(400.0, 220e-6, 14.446, 1.8, 0.003);
        assert!((1.0..1.03).contains(&(release_s / 0.1824)), "{release_s}");
    }

    fn charging(
        source_ohm: f64,
        coil_ohm: f64,
        capacitance_f: f64,
        net_peak_v: f64,
        pulses_per_period: u8,
    ) -> Charging {
        Charging {
            source_ohm,
            coil_ohm,
            capacitance_f,
            net_peak_v,
            pulses_per_period,
            hz: 60.0,
        }
    }

    #[test]
    fn a_relay_that_never_operates_has_no_charge_time() {
        assert_eq!(charge_time_dc_s(6.5, 220e-6, 8.0, 9.0), None);
        // 6.5 Ω before 400 Ω: cos θ = 0.915.
        assert_eq!(
            charge_time_ac_s(&charging(6.5, 400.0, 220e-6, 10.0, 2), 9.2),
            None
        );
        assert_eq!(
            charge_time_ac_s(&charging(6.5, 400.0, 220e-6, 10.0, 2), 10.2),
            None
        );
        let healthy_s = charge_time_ac_s(&charging(6.5, 400.0, 220e-6, 16.2, 2), 8.8).unwrap();
        assert!((0.018..0.021).contains(&healthy_s), "{healthy_s}");
        assert!(charge_time_dc_s(6.5, 220e-6, 14.7, 8.8).unwrap() < 0.002);
    }

    #[test]
    fn charge_time_bounds_a_step_by_step_integration() {
        // 12 V RMS 60 Hz, exponential diodes, worst of six phases: R_s, coil, farad, pulses,
        // V_op/V, seconds.
        for (source_ohm, coil_ohm, capacitance_f, pulses, share, slowest_s) in [
            (6.5, 400.0, 1000e-6, 2, 0.60, 0.0136),
            (6.5, 400.0, 1000e-6, 2, 0.90, 0.0390),
            (6.5, 400.0, 1000e-6, 2, 0.95, 0.0500),
            (28.0, 720.0, 220e-6, 2, 0.60, 0.0111),
            (28.0, 720.0, 220e-6, 2, 0.90, 0.0309),
            (28.0, 720.0, 220e-6, 2, 0.95, 0.0396),
            (28.0, 720.0, 1000e-6, 2, 0.60, 0.0463),
            (28.0, 720.0, 1000e-6, 2, 0.90, 0.1312),
            (28.0, 720.0, 1000e-6, 2, 0.95, 0.1773),
            (100.0, 160.0, 1000e-6, 2, 0.60, 0.0696),
            (100.0, 160.0, 1000e-6, 2, 0.90, 0.1817),
            (100.0, 160.0, 1000e-6, 2, 0.95, 0.2407),
            (6.5, 400.0, 1000e-6, 1, 0.60, 0.0296),
            (6.5, 400.0, 1000e-6, 1, 0.90, 0.0645),
            (6.5, 400.0, 1000e-6, 1, 0.95, 0.0833),
            (28.0, 720.0, 220e-6, 1, 0.60, 0.0174),
            (28.0, 720.0, 220e-6, 1, 0.90, 0.0480),
            (28.0, 720.0, 220e-6, 1, 0.95, 0.0626),
            (28.0, 720.0, 1000e-6, 1, 0.60, 0.0806),
            (28.0, 720.0, 1000e-6, 1, 0.90, 0.2147),
            (28.0, 720.0, 1000e-6, 1, 0.95, 0.2818),
            (100.0, 160.0, 1000e-6, 1, 0.60, 0.0954),
            (100.0, 160.0, 1000e-6, 1, 0.90, 0.2159),
            (100.0, 160.0, 1000e-6, 1, 0.95, 0.2681),
        ] {
            let theta = half_conduction_angle(PI / f64::from(pulses) * source_ohm / coil_ohm);
            let charging = charging(source_ohm, coil_ohm, capacitance_f, 16.0, pulses);
            let ours_s = charge_time_ac_s(&charging, share * 16.0 * theta.cos()).unwrap();
            let period_s = 1.0 / charging.hz;
            assert!(
                ours_s > 0.96 * slowest_s,
                "{source_ohm} Ω {coil_ohm} Ω {share}: {ours_s} s, slowest {slowest_s} s"
            );
            assert!(
                ours_s < 1.15 * slowest_s + period_s,
                "{source_ohm} Ω {coil_ohm} Ω {share}: {ours_s} s, {slowest_s} s"
            );
        }
    }
}
