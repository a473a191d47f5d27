//! Slow links: a switch that leaks, and direct voltage, on which nothing moves.

use pilotwire::circuit::diode::Diode;
use pilotwire::circuit::rectifier::Rectifier;
use pilotwire::transient::{Capacitor, Coil, Link, Source, record, simulate, steady_state};

/// A small transformer, 60 m of pair, a 12 V relay in a box at `celsius`.
fn link(celsius: f64, farad: f64, coil_ohm: f64, leak_ohm: f64) -> Link {
    let diode = Diode::usual().junction_at(celsius);
    Link {
        source: Source::Ac {
            rms_v: 13.0,
            hz: 60.0,
            phase_rad: 0.0,
        },
        source_ohm: 0.06,
        switch_on_ohm: 0.0,
        switch_off_ohm: leak_ohm,
        lamps_ohm: Some(3.0),
        wire_ohm: 6.7,
        rectifier: Rectifier::Bridge,
        diode,
        capacitor: Some(Capacitor {
            farad,
            esr_ohm: 1.6e-4 / farad,
            leak_ohm: None,
        }),
        series_ohm: 0.0,
        coil: Coil {
            ohm: coil_ohm,
            open_h: 2.5e-3 * coil_ohm,
            closed_h: 4.4e-3 * coil_ohm,
            operate_a: 9.0 / coil_ohm,
            release_a: 3.6 / coil_ohm,
            close_s: 5e-3,
            open_s: 5e-3,
        },
        flyback: Some(diode),
        on_for_s: (0.6 + 12.0 * coil_ohm * farad).ceil(),
        off_for_s: 0.6 + 12.0 * coil_ohm * farad,
    }
}

/// A twentieth of a volt leaks through hot diodes. By hand: `t = R·C·ln(V₀/V_release) + travel`, in which
/// the coil's inductance and the phase of switching off make 3 %.
#[test]
fn a_hot_link_lets_go_of_next_to_nothing() {
    for (celsius, farad, coil_ohm) in [
        (60.0, 240e-6, 400.0),
        (100.0, 240e-6, 1000.0),
        (120.0, 240e-6, 400.0),
        (120.0, 470e-6, 1000.0),
        (120.0, 220e-6, 2000.0),
        (120.0, 1000e-6, 300.0),
    ] {
        let link = link(celsius, farad, coil_ohm, 780.0);
        let found = simulate(&link).unwrap();
        let by_hand_s = coil_ohm * farad * (found.window.dc_mean_v / 3.6).ln() + 5e-3;
        let off = found.drop_out_s.unwrap() / by_hand_s - 1.0;
        assert!(
            off.abs() < 0.03,
            "{celsius} °C, {farad} F, {coil_ohm} ohm: {off:.3}"
        );
    }
}

/// A large capacitor on a coil of many ohms takes a minute to empty: leapt over, not walked, and as exact.
#[test]
fn leaping_over_what_leaks_changes_nothing() {
    for (farad, coil_ohm, leak_ohm) in [
        (2200e-6, 1500.0, 300.0),
        (4700e-6, 1000.0, 90.0),
        (4700e-6, 2000.0, 40.0),
        (1000e-6, 1500.0, 20.0),
    ] {
        let mut link = link(20.0, farad, coil_ohm, leak_ohm);
        link.on_for_s = 2.0;
        let leapt = simulate(&link).unwrap();
        let walked = record(&link, [], |_| {}).unwrap();
        let what = format!("{farad} F, {coil_ohm} ohm, leak {leak_ohm} ohm");
        assert_eq!(leapt.closed_at_end, walked.closed_at_end, "{what}");
        assert_eq!(
            leapt.drop_out_s.is_some(),
            walked.drop_out_s.is_some(),
            "{what}"
        );
        if let Some((leapt_s, walked_s)) = leapt.drop_out_s.zip(walked.drop_out_s) {
            assert!(
                (leapt_s / walked_s - 1.0).abs() < 1e-4,
                "{what}: {leapt_s} {walked_s}"
            );
        }
        let off_v = (leapt.end_dc_v - walked.end_dc_v).abs();
        assert!(off_v < 2e-4 * walked.window.dc_mean_v, "{what}: {off_v}");
    }
}

/// 24 V DC through 10 ohm, a bridge and 2,200 uF to a coil of 1,440 ohm. Expected: ngspice 39, operating point,
/// reltol 1e-9.
#[test]
fn direct_voltage_has_no_ripple() {
    let mut link = link(20.0, 2200e-6, 1440.0, 1e9);
    link.source = Source::Dc { volts: 24.0 };
    link.source_ohm = 0.0;
    link.lamps_ohm = None;
    link.wire_ohm = 10.0;
    for window in [
        steady_state(&link).unwrap().window,
        simulate(&link).unwrap().window,
    ] {
        for (what, found, exact) in [
            ("peak voltage", window.dc_peak_v, 22.452_914),
            ("least voltage", window.dc_trough_v, 22.452_914),
            (
                "current in the diodes",
                window.rectifier_peak_a,
                15.592_302e-3,
            ),
            ("current in the coil", window.coil_mean_a, 15.592_302e-3),
        ] {
            assert!(
                (found / exact - 1.0).abs() < 1e-5,
                "{what}: {found} {exact}"
            );
        }
        assert!(window.capacitor_rms_a < 1e-6);
    }
}
