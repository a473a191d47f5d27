//! Trunks against closed forms, worked examples and a plain backward/forward sweep.

use super::*;

fn led(watt: f64) -> Lamp {
    Lamp::Led {
        watt,
        volt_ampere: watt,
    }
}

fn trunk(supply_v: f64, loop_ohm_per_m: f64, taps: &[(f64, Lamp)]) -> Trunk {
    Trunk {
        supply_v,
        supply_ohm: 0.0,
        current: Current::Direct,
        loop_ohm_per_m,
        taps: taps
            .iter()
            .map(|&(distance_m, lamp)| Tap { distance_m, lamp })
            .collect(),
    }
}

fn lamp_volts(trunk: &Trunk) -> Vec<f64> {
    match trunk.state() {
        TrunkState::Lit { lamps, .. } => lamps.into_iter().map(|lamp| lamp.volts).collect(),
        brown_out @ TrunkState::BrownOut { .. } => panic!("{brown_out:?}"),
    }
}

#[test]
fn one_constant_power_load_follows_the_closed_form() {
    // 12 V behind 1 Ω, from the quadratic: 32.4 W 7.8974 V, 35.64 W 6.6 V, nothing beyond 36 W.
    for (watt, volts) in [(32.4, 7.8974), (35.64, 6.6)] {
        assert!((single_load_v(12.0, 1.0, watt).unwrap() - volts).abs() < 1e-4);
        let ours = lamp_volts(&trunk(12.0, 0.1, &[(10.0, led(watt))]));
        assert!((ours[0] - volts).abs() < 1e-4, "{watt} W: {}", ours[0]);
    }
    assert_eq!(single_load_v(12.0, 1.0, 36.01), None);
}

#[test]
fn brown_out_reports_the_load_it_could_carry() {
    // The limit behind 1 Ω is 12²/4 = 36 W.
    for watt in [36.01, 72.0, 720.0] {
        let TrunkState::BrownOut { load_margin } = trunk(12.0, 0.1, &[(10.0, led(watt))]).state()
        else {
            panic!("{watt} W should not be carried");
        };
        assert!((load_margin - 36.0 / watt).abs() < 1e-9, "{load_margin}");
    }
    let in_hand = trunk(12.0, 0.1, &[(10.0, led(12.0))])
        .load_margin()
        .unwrap();
    assert!((in_hand - 3.0).abs() < 1e-9, "{in_hand}");
}

#[test]
fn filament_lamps_never_brown_out() {
    let far = trunk(12.0, 0.1, &[(10.0, Lamp::Filament { watt: 100.0 })]);
    assert_eq!(far.load_margin(), None);
    assert!(lamp_volts(&far)[0] > 0.0);
}

#[test]
fn lamps_keep_the_order_they_were_given_in() {
    let lamps = lamp_volts(&trunk(
        12.0,
        0.02,
        &[(30.0, led(5.0)), (10.0, led(5.0)), (20.0, led(5.0))],
    ));
    assert!(
        lamps[0] < lamps[2] && lamps[2] < lamps[1] && lamps[1] < 12.0,
        "{lamps:?}"
    );
}

#[test]
fn an_empty_trunk_is_lit_and_carries_nothing() {
    let empty = trunk(12.0, 0.02, &[]);
    assert_eq!(
        empty.state(),
        TrunkState::Lit {
            lamps: Vec::new(),
            supply_a: 0.0
        }
    );
    assert_eq!(empty.load_margin(), None);
}

#[test]
fn supply_resistance_counts_for_all_lamps() {
    let mut with = trunk(12.0, 0.0, &[(5.0, led(6.0)), (10.0, led(6.0))]);
    with.supply_ohm = 1.0;
    let expected = single_load_v(12.0, 1.0, 12.0).unwrap();
    for volts in lamp_volts(&with) {
        assert!((volts - expected).abs() < 1e-9);
    }
}

#[test]
fn evenly_spread_lamps_drop_about_half_of_the_lumped_figure() {
    // With tiny drops the current is constant: (n + 1)/(2n) of lumped.
    for lamps in [1, 2, 5, 12] {
        let each_w = 0.01;
        let taps: Vec<(f64, Lamp)> = (1..=lamps)
            .map(|k| (f64::from(k) * 60.0 / f64::from(lamps), led(each_w)))
            .collect();
        let spread_v = 12.0 - lamp_volts(&trunk(12.0, 0.01, &taps)).last().unwrap();
        let lumped_v = f64::from(lamps) * each_w / 12.0 * 60.0 * 0.01;
        let share = spread_v / lumped_v;
        assert!(
            (share - evenly_spread_share(lamps)).abs() < 1e-3,
            "{lamps} lamps: {share}"
        );
    }
}

#[test]
fn a_lamp_voltage_agrees_with_a_worked_site() {
    // Twelve 4 W LED on 60 ft of 12 AWG at 12.0 V: last lamp at 11.59 V (0.41 V: all current for
    // (n+1)/(2n) of the way); constant power takes a few millivolts more.
    let loop_ohm_per_m = 2.0 * 0.005_211;
    let taps: Vec<(f64, Lamp)> = (1..=12)
        .map(|k| (f64::from(k) * 60.0 * 0.3048 / 12.0, led(4.0)))
        .collect();
    let last_v = *lamp_volts(&trunk(12.0, loop_ohm_per_m, &taps))
        .last()
        .unwrap();
    assert!((last_v - 11.59).abs() < 0.02, "{last_v}");
}
