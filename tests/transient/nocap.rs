//! Links without a capacitor: the coil alone carries the current over the source's zeros.

use std::f64::consts::{PI, TAU};

use pilotwire::circuit::diode::{Diode, Junction};
use pilotwire::circuit::rectifier::Rectifier;
use pilotwire::transient::{Coil, Link, Source, record, simulate, steady_state};
use proptest::prelude::*;

use crate::support::cases::cases;

/// A link without a capacitor, behind a bridge or a single diode.
fn links() -> impl Strategy<Value = Link> {
    (
        (6.0..24.0_f64, prop::bool::ANY, 0.0..TAU),
        (0.02..0.5_f64, prop::option::of(1.2..8.0_f64), 0.1..40.0_f64),
        (prop::bool::ANY, prop::bool::ANY, prop::bool::ANY),
        (50.0..1200.0_f64, 0.3e-3..6e-3_f64, 1.1..2.2_f64),
        (1.0..9.0_f64, 0.05..0.7_f64),
        (-20.0..60.0_f64, 2.48..9.0_f64),
    )
        .prop_map(|(source, line, kind, coil, relay, (celsius, leak))| {
            let diode = Diode::usual().junction_at(celsius);
            Link {
                source: Source::Ac {
                    rms_v: source.0,
                    hz: if source.1 { 50.0 } else { 60.0 },
                    phase_rad: source.2,
                },
                source_ohm: line.0,
                switch_on_ohm: 0.01,
                switch_off_ohm: 10.0_f64.powf(leak),
                lamps_ohm: line.1,
                wire_ohm: line.2,
                rectifier: if kind.0 {
                    Rectifier::Bridge
                } else {
                    Rectifier::SingleDiode
                },
                diode,
                capacitor: None,
                series_ohm: if kind.1 { 0.1 * coil.0 } else { 0.0 },
                coil: Coil {
                    ohm: coil.0,
                    open_h: coil.0 * coil.1,
                    closed_h: coil.0 * coil.1 * coil.2,
                    operate_a: relay.0 / coil.0,
                    release_a: relay.0 * relay.1 / coil.0,
                    close_s: 4e-3,
                    open_s: 3e-3,
                },
                // A bridge freewheels by itself.
                flyback: (kind.2 || !kind.0).then_some(diode),
                on_for_s: 0.4,
                off_for_s: 0.2,
            }
        })
}

proptest! {
    #![proptest_config(cases(2_000))]

    #[test]
    fn every_link_without_a_capacitor_concludes(link in links()) {
        let transient = simulate(&link);
        prop_assert!(transient.is_ok(), "{}", transient.unwrap_err());
    }

    /// The periodic state, compared with the end of a long on-time.
    #[test]
    fn steady_state_without_a_capacitor_is_where_a_long_run_ends(mut link in links()) {
        let steady = steady_state(&link);
        prop_assert!(steady.is_ok(), "{}", steady.unwrap_err());
        let steady = steady.unwrap().window;
        // The armature has no effect.
        link.coil.open_h = link.coil.closed_h;
        link.on_for_s = 0.1 + (12.0 * link.coil.closed_h / link.coil.ohm * 50.0).ceil() / 50.0;
        link.off_for_s = 0.0;
        let whole = record(&link, [], |_| {}).unwrap().window;
        let mean_a = whole.coil_mean_a;
        // Extremes and RMS to the bounds of the reference figures; the parabola through the last samples may
        // end below zero where the current ends sharply.
        for (what, steady, whole, unit, bound) in [
            ("mean voltage", steady.coil_mean_v, whole.coil_mean_v, whole.coil_mean_v, 5e-4),
            ("mean current", steady.coil_mean_a, mean_a, mean_a, 5e-4),
            ("least current", steady.coil_least_a.max(0.0), whole.coil_least_a.max(0.0), whole.coil_most_a, 2e-3),
            ("greatest current", steady.coil_most_a, whole.coil_most_a, whole.coil_most_a, 2e-3),
            ("in the wire", steady.wire_rms_a, whole.wire_rms_a, whole.wire_rms_a, 2e-3),
        ] {
            prop_assert!(
                (steady - whole).abs() <= bound * unit.abs() + 2e-6,
                "{what}: {steady} {whole}"
            );
        }
    }
}

/// A large inductance behind a bridge.
#[test]
fn a_slow_coil_has_a_periodic_state() {
    for (volts, lamps_ohm) in [
        (12.0, Some(2.4)),
        (13.0, Some(2.4)),
        (13.0, None),
        (14.0, Some(5.0)),
    ] {
        let diode = Diode::usual().junction_at(20.0);
        let link = Link {
            source: Source::Ac {
                rms_v: volts,
                hz: 50.0,
                phase_rad: 0.0,
            },
            source_ohm: 0.5,
            switch_on_ohm: 0.05,
            switch_off_ohm: 1e9,
            lamps_ohm,
            wire_ohm: 2.6,
            rectifier: Rectifier::Bridge,
            diode,
            capacitor: None,
            series_ohm: 0.0,
            coil: Coil {
                ohm: 720.0,
                open_h: 1.8,
                closed_h: 3.15,
                operate_a: 8.4 / 720.0,
                release_a: 1.2 / 720.0,
                close_s: 8e-3,
                open_s: 4e-3,
            },
            flyback: Some(diode),
            on_for_s: 1.0,
            off_for_s: 0.5,
        };
        let steady = steady_state(&link).unwrap().window;
        let whole = record(&link, [], |_| {}).unwrap();
        assert!(!whole.chatters());
        let off = steady.coil_mean_v / whole.window.coil_mean_v - 1.0;
        assert!(off.abs() < 5e-4, "{volts} V, {lamps_ohm:?} ohm: {off:.1e}");
    }
}

/// Drop of both diodes in the textbook's examples [V].
const DROPS_V: f64 = 1.4;

/// Least and mean coil current of a coil behind a bridge of diodes with a constant drop [A], by the
/// textbook:
///
/// ```text
///   i(t) = (V/Z)·sin(ωt − φ) + K·e^(−t/τ) − V_d/R      φ = atan(ωL/R)
///   K = 2·(V/Z)·sin φ/(1 − e^(−T/2τ))
/// ```
fn textbook(peak_v: f64, ohm: f64, henry: f64, hz: f64) -> (f64, f64) {
    let omega = TAU * hz;
    let phi = (omega * henry / ohm).atan();
    let swing_a = peak_v / ohm.hypot(omega * henry);
    let tau_s = henry / ohm;
    let k = 2.0 * swing_a * phi.sin() / -(-0.5 / hz / tau_s).exp_m1();
    let at = |t: f64| swing_a * (omega * t - phi).sin() + k * (-t / tau_s).exp() - DROPS_V / ohm;
    let least_a = (0..20_000)
        .map(|n| at(f64::from(n) / 20_000.0 * 0.5 / hz))
        .fold(f64::INFINITY, f64::min);
    (least_a, (2.0 * peak_v / PI - DROPS_V) / ohm)
}

#[test]
fn a_coil_behind_a_bridge_follows_the_textbook() {
    // Ohm, henry, hertz, and least over mean current.
    for (ohm, henry, hz, ratio) in [
        (400.0, 1.6, 60.0, 0.75),
        (400.0, 0.9, 60.0, 0.58),
        (360.0, 0.22, 50.0, 0.085),
    ] {
        let peak_v = 17.0;
        let (least_a, mean_a) = textbook(peak_v, ohm, henry, hz);
        assert!(
            (least_a / mean_a - ratio).abs() < 0.005,
            "{ohm} ohm, {henry} H"
        );
        // A knee of 2 mV, so that the drop hardly depends on the current.
        let slope_v = 2e-3;
        let diode = Junction {
            saturation_a: mean_a * (-0.5 * DROPS_V / slope_v).exp(),
            slope_v,
            series_ohm: 0.0,
        };
        let link = Link {
            source: Source::Ac {
                rms_v: peak_v / std::f64::consts::SQRT_2,
                hz,
                phase_rad: 0.0,
            },
            source_ohm: 1e-3,
            switch_on_ohm: 0.0,
            switch_off_ohm: 1e9,
            lamps_ohm: None,
            wire_ohm: 1e-3,
            rectifier: Rectifier::Bridge,
            diode,
            capacitor: None,
            series_ohm: 0.0,
            coil: Coil {
                ohm,
                open_h: 0.8 * henry,
                closed_h: henry,
                operate_a: 1e-2,
                release_a: 1e-4,
                close_s: 4e-3,
                open_s: 3e-3,
            },
            flyback: None,
            on_for_s: 0.4,
            off_for_s: 0.1,
        };
        let window = steady_state(&link).unwrap().window;
        let off = window.coil_mean_a / mean_a - 1.0;
        assert!(off.abs() < 3e-4, "{ohm} ohm, {henry} H: mean {off:.1e}");
        let off = (window.coil_least_a - least_a) / mean_a;
        assert!(off.abs() < 1e-3, "{ohm} ohm, {henry} H: least {off:.1e}");
    }
}
