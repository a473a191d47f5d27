//! Rectifier against the exact angle, and against circuit simulation.

use super::*;
use std::f64::consts::SQRT_2;

/// 12.0 V RMS, 60 Hz, bridge of 1N4007 at 27 °C.
fn bench(source_ohm: f64, coil_ohm: f64, capacitance_f: f64) -> Input {
    Input {
        feed: Feed::Ac {
            rms_v: 12.0,
            hz: 60.0,
        },
        rectifier: Rectifier::Bridge,
        diode: Diode::usual(),
        diode_c: 27.0,
        source_ohm,
        coil_ohm,
        capacitance_f: Some(capacitance_f),
    }
}

/// A diode without any drop.
const IDEAL: Diode = Diode::custom(1e30, 1.0, 0.0, 1000.0);

#[test]
fn angle_solves_its_equation_for_any_ratio() {
    for exponent in -9..=6 {
        for mantissa in [1.0, 2.0, 5.0] {
            let x = mantissa * 10_f64.powi(exponent);
            let theta = half_conduction_angle(x);
            assert!(
                (theta.tan() - theta - x).abs() <= 1e-9 * x.max(1e-6),
                "x {x}: θ {theta}"
            );
        }
    }
    assert!(half_conduction_angle(0.0).abs() < 1e-15);
}

#[test]
fn ideal_diodes_follow_the_large_capacitor_table() {
    // R_s/R, V/V_peak, θ in degrees, I_peak/I: numeric integration at ωCR = 2000, which agrees with
    // the closed form.
    for (ratio, volts, degrees, peak) in [
        (0.002, 0.9780, 12.03, 11.23),
        (0.01, 0.9376, 20.34, 6.65),
        (0.02, 0.9035, 25.37, 5.34),
        (0.05, 0.8322, 33.67, 4.03),
        (0.1, 0.7518, 41.25, 3.30),
        (0.2, 0.6455, 49.80, 2.75),
        (0.5, 0.4728, 61.78, 2.23),
        (1.0, 0.3365, 70.34, 1.97),
    ] {
        let state = steady_state(&Input {
            diode: IDEAL,
            ..bench(400.0 * ratio, 400.0, 1.0)
        });
        assert!(
            (state.coil_v / (12.0 * SQRT_2) - volts).abs() < 1e-4,
            "{ratio}"
        );
        assert!(
            (state.theta_rad.to_degrees() - degrees).abs() < 0.01,
            "{ratio}"
        );
        assert!((state.peak_a / state.coil_a - peak).abs() < 0.01, "{ratio}");
    }
}

#[test]
fn healthy_links_agree_with_circuit_simulation() {
    // ngspice 39, 12.0 V RMS 60 Hz, 220 µF: R_s, coil, mean V, least V, peak A, pair A RMS.
    for (source_ohm, coil_ohm, mean_v, least_v, peak_a, rms_a) in [
        (2.0, 400.0, 14.60, 14.04, 0.278, 0.089),
        (5.0, 400.0, 14.19, 13.68, 0.213, 0.077),
        (10.0, 400.0, 13.63, 13.17, 0.169, 0.067),
        (20.0, 400.0, 12.77, 12.38, 0.130, 0.057),
        (40.0, 400.0, 11.53, 11.21, 0.097, 0.047),
        (10.0, 720.0, 14.22, 13.94, 0.116, 0.042),
    ] {
        let state = steady_state(&bench(source_ohm, coil_ohm, 220e-6));
        assert_eq!(state.outside, [], "{source_ohm} Ω");
        let error_v = state.coil_v - mean_v;
        assert!(
            (-0.02..0.12).contains(&error_v),
            "{source_ohm} Ω: {error_v:+.3} V"
        );
        assert!(
            (state.coil_least_v - least_v).abs() < 0.2,
            "{source_ohm} Ω: least {}",
            state.coil_least_v
        );
        assert!(
            (state.peak_a / peak_a - 1.0).abs() < 0.12,
            "{source_ohm} Ω: peak {}",
            state.peak_a
        );
        assert!(
            (state.pair_rms_a / rms_a - 1.0).abs() < 0.09,
            "{source_ohm} Ω: rms {}",
            state.pair_rms_a
        );
    }
}

#[test]
fn loaded_transformers_and_warm_coils_agree_with_circuit_simulation() {
    // ngspice 39, the source reduced to its open voltage and resistance: V RMS, Hz, R_s, coil, µF,
    // diode °C, mean V.
    for (rms_v, hz, source_ohm, coil_ohm, microfarad, diode_c, mean_v) in LINKS {
        let input = Input {
            feed: Feed::Ac { rms_v, hz },
            diode_c,
            ..bench(source_ohm, coil_ohm, microfarad * 1e-6)
        };
        let state = steady_state(&input);
        let error_v = state.coil_v - mean_v;
        let allowed_v = if state.outside.is_empty() { 0.11 } else { 0.3 };
        assert!(
            (-0.03..allowed_v).contains(&error_v),
            "{rms_v} V {source_ohm} Ω: {error_v:+.3} V"
        );
    }
}

#[test]
fn dried_out_capacitor_is_flagged_because_the_answer_is_high() {
    // ngspice 39: R_s 2 Ω, coil 160 Ω, 47 µF gives 11.74 V.
    let state = steady_state(&bench(2.0, 160.0, 47e-6));
    assert!(state.coil_v - 11.74 > 2.0);
    assert!(
        matches!(state.outside[..], [OutsideRange::CapacitorTooSmall { intervals, .. }] if intervals < 1.0)
    );
}

#[test]
fn stiff_source_is_flagged() {
    let state = steady_state(&bench(0.5, 400.0, 220e-6));
    assert!(matches!(
        state.outside[..],
        [OutsideRange::SourceTooStiff { .. }]
    ));
    let no_wire_at_all = steady_state(&bench(0.0, 400.0, 220e-6));
    assert!(no_wire_at_all.peak_a.is_finite() && !no_wire_at_all.outside.is_empty());
}

#[test]
fn single_diode_needs_twice_the_capacitor() {
    let half = |source_ohm, microfarad: f64| Input {
        rectifier: Rectifier::SingleDiode,
        diode_c: 20.0,
        ..bench(source_ohm, 400.0, microfarad * 1e-6)
    };
    assert!(matches!(
        steady_state(&half(2.0, 220.0)).outside[..],
        [OutsideRange::CapacitorTooSmall { .. }]
    ));
    // Step-by-step integration of the exponential diode, 60 Hz, 400 Ω, 470 µF: R_s, mean V, least
    // V, peak A.
    for (source_ohm, mean_v, least_v, peak_a) in [
        (1.0, 15.29, 14.68, 0.601),
        (2.0, 15.00, 14.42, 0.487),
        (5.0, 14.28, 13.75, 0.354),
        (20.0, 12.10, 11.68, 0.202),
    ] {
        let state = steady_state(&half(source_ohm, 470.0));
        assert_eq!(state.outside, [], "{source_ohm} Ω");
        assert!(
            (0.0..0.17).contains(&(state.coil_v - mean_v)),
            "{source_ohm} Ω: {}",
            state.coil_v
        );
        assert!(
            (state.coil_least_v - least_v).abs() < 0.1,
            "{source_ohm} Ω: {}",
            state.coil_least_v
        );
        assert!(
            (state.peak_a / peak_a - 1.0).abs() < 0.08,
            "{source_ohm} Ω: {}",
            state.peak_a
        );
    }
}

#[test]
fn direct_voltage_loses_two_drops_and_the_divider() {
    let input = Input {
        feed: Feed::Dc { volts: 12.0 },
        diode_c: 20.0,
        ..bench(1.238, 400.0, 220e-6)
    };
    let state = steady_state(&input);
    assert!((state.coil_v - 10.57).abs() < 0.08, "{}", state.coil_v);
    let bare = steady_state(&Input {
        rectifier: Rectifier::None,
        ..input
    });
    assert!((bare.coil_v - 12.0 / (1.0 + 1.238 / 400.0)).abs() < 1e-9);
}

#[test]
fn direct_voltage_agrees_with_circuit_simulation() {
    // ngspice 39: 11.9802 V behind 7.2987 Ω, 400 Ω coil, 15 °C.
    let input = Input {
        feed: Feed::Dc { volts: 11.9802 },
        diode_c: 15.0,
        ..bench(7.2987, 400.0, 100e-6)
    };
    for (rectifier, coil_v) in [(Rectifier::None, 11.7655), (Rectifier::Bridge, 10.3377)] {
        let ours = steady_state(&Input { rectifier, ..input }).coil_v;
        assert!((ours - coil_v).abs() < 2e-4, "{rectifier:?}: {ours}");
    }
}

#[test]
fn single_diode_must_withstand_twice_the_peak() {
    assert!(Rectifier::SingleDiode.reverse_v(21.0) < Diode::usual().reverse_v);
    let smallest = Diode::named("1N4001").unwrap();
    assert!(Rectifier::Bridge.reverse_v(26.0) < smallest.reverse_v);
    assert!(Rectifier::SingleDiode.reverse_v(26.0) > smallest.reverse_v);
}

#[test]
fn missing_capacitor_leaves_two_thirds_of_the_voltage() {
    // ngspice 39, 12.6 V tap under load 11.95 V, 2 Ω, 400 Ω, inductive coil: 9.3–9.6 V instead of
    // 14.4 V.
    let input = Input {
        capacitance_f: None,
        ..bench(2.0, 400.0, 0.0)
    };
    let state = steady_state(&Input {
        feed: Feed::Ac {
            rms_v: 11.95,
            hz: 60.0,
        },
        ..input
    });
    assert!((9.2..9.6).contains(&state.coil_v), "{}", state.coil_v);
    assert_eq!(state.outside, [OutsideRange::NoCapacitor]);
    assert!(state.coil_v < 0.7 * steady_state(&bench(2.0, 400.0, 220e-6)).coil_v);
}

#[test]
fn alternating_voltage_on_a_bare_coil_has_no_mean() {
    let state = steady_state(&Input {
        rectifier: Rectifier::None,
        ..bench(2.0, 400.0, 220e-6)
    });
    assert!(state.coil_v.abs() < 1e-12);
    assert_eq!(state.outside, [OutsideRange::NoRectifierOnAc]);
}

/// V RMS, Hz, `R_s`, coil, µF, diode °C, mean V.
const LINKS: [(f64, f64, f64, f64, f64, f64, f64); 11] = [
    (11.9526, 60.0, 1.972, 400.0, 220.0, 15.0, 14.446),
    (12.2857, 50.0, 2.736, 169.4, 470.0, 15.0, 14.159),
    (11.9526, 60.0, 20.732, 400.0, 220.0, 25.0, 12.629),
    (10.6245, 60.0, 28.373, 167.2, 220.0, 40.0, 8.941),
    (11.9526, 60.0, 1.972, 400.0, 4700.0, 15.0, 14.627),
    (11.5731, 60.0, 6.081, 513.2, 220.0, 50.0, 13.738),
    (12.6000, 60.0, 1.978, 400.0, 220.0, 15.0, 15.305),
    (12.1081, 60.0, 1.973, 400.0, 220.0, 15.0, 14.652),
    (12.5217, 60.0, 10.508, 82.4, 1000.0, 15.0, 11.359),
    (11.9526, 50.0, 24.891, 52.0, 470.0, 15.0, 7.161),
    (10.0000, 60.0, 5.903, 400.0, 220.0, 15.0, 11.435),
];
