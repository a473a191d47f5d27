//! Laws that hold for any link: random links, compared with themselves.

use std::f64::consts::TAU;

use pilotwire::circuit::diode::Diode;
use pilotwire::circuit::rectifier::Rectifier;
use pilotwire::transient::{Capacitor, Coil, Link, Source, record, simulate, steady_state};
use proptest::prelude::*;

use crate::support::cases::cases;

/// A link with a bridge and a capacitor that pulls in and lets go.
fn links() -> impl Strategy<Value = Link> {
    (
        (10.0..16.0_f64, prop::bool::ANY, 0.0..TAU),
        (0.02..0.4_f64, 1.2..8.0_f64, 0.2..25.0_f64),
        (-4.3..-2.7_f64, 0.05..0.3_f64),
        (60.0..1000.0_f64, 1.5e-3..5e-3_f64, 1.3..1.9_f64),
        (2.0..8.0_f64, 0.1..0.6_f64),
        -20.0..60.0_f64,
    )
        .prop_map(|(source, line, cap, coil, relay, celsius)| {
            let farad = 10.0_f64.powf(cap.0);
            let diode = Diode::usual().junction_at(celsius);
            Link {
                source: Source::Ac {
                    rms_v: source.0,
                    hz: if source.1 { 50.0 } else { 60.0 },
                    phase_rad: source.2,
                },
                source_ohm: line.0,
                switch_on_ohm: 0.01,
                switch_off_ohm: 1e9,
                lamps_ohm: Some(line.1),
                wire_ohm: line.2,
                rectifier: Rectifier::Bridge,
                diode,
                capacitor: Some(Capacitor {
                    farad,
                    esr_ohm: cap.1 * 1e-3 / farad,
                    leak_ohm: None,
                }),
                series_ohm: 0.0,
                coil: Coil {
                    ohm: coil.0,
                    open_h: coil.0 * coil.1,
                    closed_h: coil.0 * coil.1 * coil.2,
                    operate_a: relay.0 / coil.0,
                    release_a: relay.0 * relay.1 / coil.0,
                    close_s: 4e-3,
                    open_s: 3e-3,
                },
                flyback: Some(diode),
                on_for_s: 0.5,
                off_for_s: 0.5,
            }
        })
}

/// Relative error of a periodic mean, measured on the reference cases.
const EXACT: f64 = 2e-4;

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn longer_wire_never_raises_the_coil_voltage(link in links(), more_ohm in 0.1..20.0_f64) {
        let mut longer = link;
        longer.wire_ohm += more_ohm;
        let (short, long) = (steady_state(&link).unwrap(), steady_state(&longer).unwrap());
        prop_assert!(
            long.window.coil_mean_v <= short.window.coil_mean_v * (1.0 + EXACT),
            "{} {}", short.window.coil_mean_v, long.window.coil_mean_v
        );
    }

    #[test]
    fn more_capacitance_never_lowers_the_trough(link in links(), factor in 1.05..5.0_f64) {
        let mut larger = link;
        larger.capacitor.as_mut().unwrap().farad *= factor;
        let (small, large) = (steady_state(&link).unwrap(), steady_state(&larger).unwrap());
        prop_assert!(
            large.window.dc_trough_v >= small.window.dc_trough_v - EXACT * small.window.dc_mean_v,
            "{} {}", small.window.dc_trough_v, large.window.dc_trough_v
        );
    }

    #[test]
    fn leakage_never_helps_release(link in links(), leak_ohm in 300.0..2e4_f64, lamps in prop::bool::ANY) {
        let mut tight = link;
        if !lamps {
            tight.lamps_ohm = None;
        }
        let mut leaky = tight;
        leaky.switch_off_ohm = leak_ohm;
        let (tight, leaky) = (simulate(&tight).unwrap(), simulate(&leaky).unwrap());
        prop_assert_eq!(tight.pull_in_s, leaky.pull_in_s);
        match (tight.drop_out_s, leaky.drop_out_s) {
            (Some(tight), Some(leaky)) => prop_assert!(leaky >= tight - 1e-4, "{tight} {leaky}"),
            (None, Some(leaky)) => prop_assert!(false, "leakage released it after {leaky} s"),
            _ => {}
        }
    }

    /// ½·C·v² + ½·L·i² at the end is the energy that the rectifier delivered less the heat. Integrated by
    /// trapezoids from samples 10 µs apart, the main source of error; the armature is kept still, because its
    /// work is not in the circuit.
    #[test]
    fn energy_is_conserved(mut link in links()) {
        link.coil.operate_a = 1e3;
        link.on_for_s = 0.06;
        link.off_for_s = 0.02;
        let capacitor = link.capacitor.unwrap();
        let step_s = 1e-6;
        let mut brought_j = 0.0;
        let mut heat_j = 0.0;
        let mut last = None;
        let mut inner_v = 0.0;
        let mut coil_a = 0.0;
        record(&link, (1..=79_999).map(|k| f64::from(k) * step_s), |s| {
            // A small capacitor lets the coil freewheel after switch-off.
            let flyback_a = s.capacitor_a - s.rectifier_a + s.coil_a;
            let now = (
                s.rectifier_a * s.dc_v,
                s.coil_a * s.coil_a * link.coil.ohm
                    + s.capacitor_a * s.capacitor_a * capacitor.esr_ohm
                    - s.coil_v * flyback_a,
            );
            if let Some((power, loss)) = last {
                brought_j += f64::midpoint(power, now.0) * step_s;
                heat_j += f64::midpoint(loss, now.1) * step_s;
            }
            last = Some(now);
            inner_v = s.dc_v - s.capacitor_a * capacitor.esr_ohm;
            coil_a = s.coil_a;
        }).unwrap();
        let stored_j = 0.5 * capacitor.farad * inner_v * inner_v
            + 0.5 * link.coil.open_h * coil_a * coil_a;
        let off = (brought_j - heat_j - stored_j) / brought_j;
        prop_assert!(off.abs() < 2e-3, "{brought_j} J in, {heat_j} J heat, {stored_j} J stored: {off:.1e}");
    }

    #[test]
    fn skipping_the_settled_part_changes_nothing(link in links()) {
        let skipped = simulate(&link).unwrap();
        let whole = record(&link, [], |_| {}).unwrap();
        prop_assert_eq!(skipped.pull_in_s.is_some(), whole.pull_in_s.is_some());
        prop_assert_eq!(skipped.chatters(), whole.chatters());
        prop_assert_eq!(skipped.drop_out_s.is_some(), whole.drop_out_s.is_some());
        prop_assert!((skipped.window.dc_mean_v / whole.window.dc_mean_v - 1.0).abs() < 5e-4,
            "{} {}", skipped.window.dc_mean_v, whole.window.dc_mean_v);
        if let Some((a, b)) = skipped.drop_out_s.zip(whole.drop_out_s) {
            prop_assert!((a - b).abs() < 1e-4_f64.max(5e-4 * b), "{a} {b}");
        }
    }

    #[test]
    fn steady_state_is_where_the_transient_ends_up(mut link in links()) {
        link.on_for_s = 4.0;
        link.off_for_s = 0.0;
        let whole = simulate(&link).unwrap();
        prop_assume!(whole.pull_in_s.is_some() && !whole.chatters());
        let steady = steady_state(&link).unwrap().window;
        prop_assert!((steady.dc_mean_v / whole.window.dc_mean_v - 1.0).abs() < EXACT);
        prop_assert!((steady.dc_trough_v - whole.window.dc_trough_v).abs() < 1e-3 * steady.dc_mean_v);
    }
}
