//! Kirchhoff's laws and the junction law, in networks drawn at random.

use proptest::prelude::*;

use super::*;
use crate::cases::cases;
use crate::circuit::diode::Diode;
use crate::transient::network::Feed;
use crate::transient::{Capacitor, Coil, Link, Source};

/// Permissible remainder of a law, as a fraction of its largest term: a tenth of the tolerance of a step.
const EXACT: f64 = 1e-6;

/// Leakage that counts as blocking [A]: of two diodes, and a little more.
const BLOCKED_A: f64 = 3e-6;

/// Uncertainty of the current in the wire where almost none flows [A].
const UNSURE_A: f64 = 1e-10;

#[derive(Debug, Clone)]
struct Draw {
    network: Network,
    /// Two source voltages in turn [V].
    source_v: [f64; 2],
    capacitor_v: f64,
    coil_a: f64,
}

fn draws() -> impl Strategy<Value = Draw> {
    (
        (
            prop_oneof![
                3 => Just(Rectifier::Bridge),
                3 => Just(Rectifier::SingleDiode),
                1 => Just(Rectifier::None),
            ],
            any::<bool>(),
            any::<bool>(),
            any::<bool>(),
        ),
        (-40.0..100.0_f64, -1.7..9.0_f64, 0.0..30.0_f64),
        prop_oneof![Just(0.0), 0.01..3.0_f64],
        (-30.0..30.0_f64, -30.0..30.0_f64, -2.0..30.0_f64),
        prop_oneof![0.0..0.5_f64, 0.0..1e-3_f64, Just(0.0)],
    )
        .prop_map(
            |((rectifier, cap, fly, schottky), (celsius, feed, ohm), esr_ohm, volts, coil_a)| {
                let kind = if schottky {
                    Diode::named("1N5819").unwrap()
                } else {
                    Diode::usual()
                };
                let diode = kind.junction_at(celsius);
                let link = Link {
                    source: Source::Dc { volts: 1.0 },
                    source_ohm: 0.0,
                    switch_on_ohm: 0.0,
                    switch_off_ohm: 1e9,
                    lamps_ohm: None,
                    wire_ohm: 1.0,
                    rectifier,
                    diode,
                    capacitor: cap.then_some(Capacitor {
                        farad: 2e-4,
                        esr_ohm,
                        leak_ohm: None,
                    }),
                    series_ohm: if ohm > 15.0 { ohm } else { 0.0 },
                    coil: Coil {
                        ohm: 400.0,
                        open_h: 0.9,
                        closed_h: 1.6,
                        operate_a: 0.02,
                        release_a: 0.005,
                        close_s: 4e-3,
                        open_s: 3e-3,
                    },
                    flyback: fly.then(|| Diode::usual().junction_at(celsius)),
                    on_for_s: 1.0,
                    off_for_s: 1.0,
                };
                let feed = Feed {
                    peak_v: 30.0,
                    ohm: 10.0_f64.powf(feed),
                };
                Draw {
                    network: Network::new(&link, feed),
                    source_v: [volts.0, volts.1],
                    capacitor_v: if cap { volts.2 } else { 0.0 },
                    coil_a,
                }
            },
        )
}

/// Current of a junction with its own series resistance [A].
fn carried_a(junction: &Junction, volts: f64) -> f64 {
    let y = junction_y(
        volts,
        junction.series_ohm,
        junction.slope_v,
        junction.saturation_a,
        f64::MAX,
    );
    junction.saturation_a * (y.exp() - 1.0)
}

/// The law that a flow breaks, and by how much.
fn broken(draw: &Draw, source_v: f64, flow: &Flow) -> Option<String> {
    let network = &draw.network;
    let idle_v = network.idle_node_v(draw.capacitor_v, draw.coil_a);
    let far_v = source_v - network.feed.ohm * flow.ac_a;
    let (i1, i2) = if network.rectifier == Rectifier::Bridge {
        (
            f64::midpoint(flow.dc_a, flow.ac_a),
            f64::midpoint(flow.dc_a, -flow.ac_a),
        )
    } else {
        (flow.dc_a, 0.0)
    };
    let all_a = i1.abs() + i2.abs() + flow.flyback_a.abs();
    // The far end is known to a fraction of the drop in the wire.
    let unsure_v = network.feed.ohm * (EXACT * flow.ac_a.abs() + UNSURE_A);
    let pair = |carried_a_now: f64, volts: f64, share: f64| {
        let bound = |by: f64| carried_a(&network.bridge, share * (volts + by));
        let (low, high) = (bound(-unsure_v), bound(unsure_v));
        (low - carried_a_now).max(carried_a_now - high).max(0.0)
    };
    let mut laws = Vec::new();
    match network.rectifier {
        Rectifier::Bridge => {
            let (first, second) = (
                pair(i1, far_v - flow.node_v, 0.5),
                pair(i2, -far_v - flow.node_v, 0.5),
            );
            laws.push(("first pair", first, all_a + 1e-3));
            laws.push(("second pair", second, all_a + 1e-3));
        }
        Rectifier::SingleDiode => {
            laws.push(("diode", pair(i1, far_v - flow.node_v, 1.0), all_a + 1e-3));
        }
        Rectifier::None => laws.push(("wire", far_v - flow.node_v, 1.0)),
    }
    if let Some(fly) = &network.flyback {
        let mut carried = carried_a(fly, -flow.coil_v);
        if network.rectifier == Rectifier::None && carried.abs() < BLOCKED_A {
            // There, a diode that counts as blocking carries nothing.
            carried = flow.flyback_a;
        }
        laws.push(("flyback", flow.flyback_a - carried, all_a + 1e-3));
    }
    let lift_v = network.inner_ohm * (flow.dc_a + flow.flyback_a);
    laws.push((
        "node",
        flow.node_v - idle_v - lift_v,
        1.0 + idle_v.abs() + network.inner_ohm * (all_a + 1e-3),
    ));
    let coil_v = flow.node_v - network.series_ohm * (draw.coil_a - flow.flyback_a);
    laws.push((
        "coil",
        flow.coil_v - coil_v,
        1.0 + network.series_ohm * (draw.coil_a.abs() + flow.flyback_a.abs()),
    ));
    laws.into_iter()
        .find(|(_, off, scale)| off.is_nan() || off.abs() > EXACT * scale)
        .map(|(law, off, _)| format!("{law}: {off:.2e}, {flow:?}"))
}

proptest! {
    #![proptest_config(cases(20_000))]

    #[test]
    fn kirchhoffs_laws_hold_in_any_network(draw in draws()) {
        let Draw { ref network, source_v, capacitor_v, coil_a } = draw;
        let idle_v = network.idle_node_v(capacitor_v, coil_a);
        let mut guess = Guess::default();
        let mut warm = Guess::default();
        for source_v in source_v {
            let found = network.solve(source_v, capacitor_v, coil_a, &mut warm);
            if network.rectifier == Rectifier::None {
                prop_assert_eq!(broken(&draw, source_v, &found), None);
                continue;
            }
            let together = Together::of(network, source_v, idle_v, coil_a);
            let sure = together.flow(together.sure());
            let either = together.flow(together.solve(&mut guess));
            prop_assert_eq!(broken(&draw, source_v, &sure), None);
            prop_assert_eq!(broken(&draw, source_v, &either), None);
            // Diodes that count as blocking carry their whole reverse current there.
            let blocked_a = BLOCKED_A + 2.0 * network.bridge.saturation_a;
            let off_a = (found.dc_a - sure.dc_a).abs().max((found.flyback_a - sure.flyback_a).abs());
            prop_assert!(off_a < blocked_a + 1e-3 * sure.dc_a.abs(), "{:?} {:?}", found, sure);
        }
    }
}

/// Behind kilohms and megohms almost no current flows in the wire while amperes freewheel.
///
/// Expected: each network's own equations by bisection with 60 digits; ngspice 39 (operating point, reltol
/// 1e-10) agrees to all of these digits in the wire, and to 1e-6 in the diodes.
#[test]
fn small_currents_beside_large_ones_are_exact() {
    let usual = |saturation_a, slope_v| Junction {
        saturation_a,
        slope_v,
        series_ohm: 0.0341512,
    };
    let schottky = Junction {
        saturation_a: 1.292_626_647_868_557e-6,
        slope_v: 0.030_774_962_677_177_83,
        series_ohm: 0.051,
    };
    let icy = usual(1.864_882_220_152_965_4e-11, 0.037_823_700_747_923_565);
    let cool = usual(5.611_283_141_916_223e-9, 0.046_353_247_582_649_01);
    let cold = usual(1.455_797_447_640_423_7e-10, 0.040_525_896_408_752_975);
    let together = |bridge, flyback, at: [f64; 3], ohm: [f64; 2]| Together {
        is_bridge: bridge == flyback,
        source_v: at[0],
        idle_v: at[1],
        inner_ohm: 0.0,
        feed_ohm: ohm[0],
        bridge,
        flyback: Some(flyback),
        series_ohm: ohm[1],
        coil_a: at[2],
    };
    for (together, wire_a, flyback_a, coil_v) in [
        (
            together(
                icy,
                icy,
                [
                    23.308_812_236_108_047,
                    -1.974_055_147_621_069_7,
                    0.448_224_335_705_866_7,
                ],
                [29_408.697_539_147_29, 19.839_300_819_467_645],
            ),
            7.925_805_480_607e-4,
            0.501_080_776_336_9,
            -0.925_420_321_694_8,
        ),
        (
            together(
                cool,
                cool,
                [
                    -20.557_579_742_829_983,
                    -1.854_922_684_138_282_9,
                    0.487_017_435_517_735_9,
                ],
                [1_344_907.415_710_198, 0.0],
            ),
            -1.528_549_725_592e-5,
            24.203_446_605_08,
            -1.854_922_684_138,
        ),
        (
            together(
                schottky,
                cold,
                [
                    -18.182_540_227_799_52,
                    -1.585_987_305_537_127_6,
                    0.165_490_573_263_676_25,
                ],
                [894_134_011.998_905_1, 27.082_731_867_153_512],
            ),
            -1.856_109_664_890e-8,
            0.192_381_928_566_2,
            -0.857_695_940_333_6,
        ),
    ] {
        for y in [together.solve(&mut Guess::default()), together.sure()] {
            let flow = together.flow(y);
            for (found, exact) in [
                (flow.ac_a, wire_a),
                (flow.flyback_a, flyback_a),
                (flow.coil_v, coil_v),
            ] {
                assert!((found / exact - 1.0).abs() < 1e-7, "{found} {exact}");
            }
        }
    }
}
