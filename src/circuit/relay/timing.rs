//! How long the capacitor holds the relay in, and how long it takes to pull it in.

/// Time [s] from switching off to the contact opening, with a capacitor across the coil.
///
/// `discharge_ohm`: what empties the capacitor [Ω], see [`discharge_ohm`]; `coil_v`: at the moment of switching off
/// [V]; `release_v`: of the warm coil [V]; the guaranteed one gives the latest time, the typical one the usual;
/// `mechanical_s`: release time on the sheet [s].
pub fn release_time_s(
    discharge_ohm: f64,
    capacitance_f: f64,
    coil_v: f64,
    release_v: f64,
    mechanical_s: f64,
) -> f64 {
    if coil_v <= release_v {
        return mechanical_s;
    }
    discharge_ohm * capacitance_f * (coil_v / release_v).ln() + mechanical_s
}

/// What empties the capacitor [Ω]: the coil, and without diodes also the way back through the pair to the lamps.
///
/// `back_ohm`: pair plus whatever lies across its near end [Ω]; `None` behind a rectifier.
pub fn discharge_ohm(coil_ohm: f64, back_ohm: Option<f64>) -> f64 {
    back_ohm.map_or(coil_ohm, |back_ohm| 1.0 / (1.0 / coil_ohm + 1.0 / back_ohm))
}

/// Time [s] from switching off to the contact opening without a capacitor: the current dies in the inductance
/// through the diode across the coil.
///
/// `inductance_h`: of the closed relay [H]; `diode_v`: drop of that diode [V].
pub fn inductive_release_s(
    coil_ohm: f64,
    inductance_h: f64,
    coil_v: f64,
    release_v: f64,
    diode_v: f64,
    mechanical_s: f64,
) -> f64 {
    if coil_v <= release_v {
        return mechanical_s;
    }
    inductance_h / coil_ohm * ((coil_v + diode_v) / (release_v + diode_v)).ln() + mechanical_s
}

/// Time [s] from switching on to the coil reaching its operate voltage; `None` if it never does.
///
/// `mains_hz`: `None` on DC. The first AC term is the wait for a crest, one whole period to be safe. An upper bound on
/// DC; on AC it is one as long as `coil_v` is a tenth above `operate_v` (compared with a step-by-step integration).
pub fn charge_time_s(
    source_ohm: f64,
    capacitance_f: f64,
    coil_v: f64,
    operate_v: f64,
    mains_hz: Option<f64>,
) -> Option<f64> {
    (coil_v > operate_v).then(|| {
        mains_hz.map_or(0.0, |hz| 1.0 / hz)
            + source_ohm * capacitance_f * (coil_v / (coil_v - operate_v)).ln()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn release_takes_the_capacitors_time_constant() {
        // 464 Ω warm, 220 µF, 14.92 V; release guaranteed 1.2 V and typical 3.6 V at 20 °C, warm ×1.16.
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
    fn lamps_empty_the_capacitor_of_a_link_without_diodes() {
        // ngspice 39: 400 Ω, 220 µF, 12.1 V DC with 3 Ω of lamps at the near end: 13 ms instead of about 180 ms.
        let through_lamps =
            release_time_s(discharge_ohm(400.0, Some(5.0)), 220e-6, 12.0, 1.8, 0.003);
        let behind_diodes = release_time_s(discharge_ohm(400.0, None), 220e-6, 12.0, 1.8, 0.003);
        assert!(through_lamps < 0.013, "{through_lamps}");
        assert!(behind_diodes > 0.15, "{behind_diodes}");
    }

    #[test]
    fn without_capacitor_the_inductance_holds_for_milliseconds() {
        let release_s = inductive_release_s(400.0, 1.6, 12.0, 1.8, 0.7, 0.003);
        assert!((0.008..0.011).contains(&release_s), "{release_s}");
    }

    #[test]
    fn a_relay_that_never_operates_has_no_charge_time() {
        assert_eq!(charge_time_s(6.5, 220e-6, 8.0, 9.0, Some(60.0)), None);
        let on_ac = charge_time_s(6.5, 220e-6, 14.7, 8.8, Some(60.0)).unwrap();
        let on_dc = charge_time_s(6.5, 220e-6, 14.7, 8.8, None).unwrap();
        assert!((on_ac - on_dc - 1.0 / 60.0).abs() < 1e-12);
        assert!(on_dc < 0.002);
    }
}
