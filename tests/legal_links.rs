//! Whatever the site file allows is judged: no link has no answer.

use std::fmt::Write as _;

use pilotwire::link::{Aspect, judgement};
use proptest::prelude::*;
use proptest::sample::select;

use crate::support::cases::cases;
use crate::support::read::read;

/// Anything from one number to the other, every factor of ten as often as the next.
fn any_size(from: f64, to: f64) -> impl Strategy<Value = f64> + Clone {
    (from.ln()..to.ln()).prop_map(f64::exp)
}

/// `key = "value unit"` and the like, or nothing: then the default.
fn stated(
    key: &'static str,
    unit: &'static str,
    from: f64,
    to: f64,
) -> impl Strategy<Value = String> {
    prop::option::of(any_size(from, to)).prop_map(move |value| {
        value.map_or(String::new(), |value| {
            format!("{key} = \"{value:.9}{unit}\"\n")
        })
    })
}

/// Three numbers in order.
fn in_order(of: impl Strategy<Value = f64> + Clone) -> impl Strategy<Value = [f64; 3]> {
    [of.clone(), of.clone(), of].prop_map(|mut values| {
        values.sort_by(f64::total_cmp);
        values
    })
}

/// A supply, and the most that it gives [V].
fn supplies() -> impl Strategy<Value = (String, f64)> {
    prop_oneof![
        3 => (any_size(1.0, 250.0), any_size(1.0, 250.0), any_size(1.0, 10_000.0)).prop_map(
            |(one_v, other_v, rated_va)| {
                let text = format!(
                    "kind = \"transformer\"\nno_load_voltage = \"{:.6} V\"\nfull_load_voltage = \"{:.6} V\"\nrated_load = \"{rated_va:.6} VA\"\n",
                    one_v.max(other_v),
                    one_v.min(other_v),
                );
                (text, one_v.max(other_v))
            }
        ),
        1 => in_order(any_size(1.0, 250.0)).prop_map(|[lowest_v, voltage_v, highest_v]| {
            let text = format!(
                "kind = \"dc\"\nlowest_voltage = \"{lowest_v:.6} V\"\nvoltage = \"{voltage_v:.6} V\"\nhighest_voltage = \"{highest_v:.6} V\"\n"
            );
            (text, highest_v)
        }),
    ]
}

fn relays() -> impl Strategy<Value = String> {
    (
        any_size(1.0, 100_000.0),
        in_order(any_size(0.05, 100.0)),
        prop::option::of(2.1e-4..0.049_f64),
        (
            stated("thermal_resistance", " K/W", 1e-3, 1000.0),
            stated("operate_time", " s", 1e-5, 1.0),
            stated("release_time", " s", 1e-5, 1.0),
            0.0..50.0_f64,
        ),
    )
        .prop_map(|(coil_ohm, [release_v, typical_v, operate_v], tau_s, (thermal, operate, release, tolerance))| {
            let inductance = tau_s.map_or(String::new(), |tau_s| {
                format!("coil_inductance = \"{:.9} H\"\n", tau_s * coil_ohm)
            });
            format!(
                "coil_resistance = \"{coil_ohm:.6} ohm\"\ncoil_tolerance = \"{tolerance:.3} %\"\nrelease_voltage = \"{release_v:.6} V\"\ntypical_release_voltage = \"{:.6} V\"\noperate_voltage = \"{:.6} V\"\nmax_coil_voltage = \"100 V\"\n{inductance}{thermal}{operate}{release}",
                typical_v.max(release_v + 1e-3),
                operate_v.max(release_v + 2e-3).min(100.0),
            )
        })
}

fn links() -> impl Strategy<Value = String> {
    let capacitor = prop_oneof![
        1 => Just("capacitor = \"none\"\n".to_owned()),
        4 => (any_size(1e-3, 1e5), 0.0..90.0_f64).prop_map(|(micro, tolerance)| format!(
            "capacitor = \"{micro:.6} uF\"\ncapacitor_tolerance = \"{tolerance:.3} %\"\n"
        )),
    ];
    (
        any_size(0.01, 10_000.0),
        stated("series_resistor", " ohm", 1e-3, 10_000.0),
        select(vec!["bridge", "single-diode", "none"]),
        select(vec!["1N4007", "1N5819", "own"]),
        capacitor,
        any::<bool>(),
    )
        .prop_map(|(loop_ohm, series, rectifier, diode, capacitor, flyback)| {
            format!(
                "loop_resistance = \"{loop_ohm:.6} ohm\"\nrectifier = \"{rectifier}\"\ndiode = \"{diode}\"\nflyback_diode = {flyback}\n{series}{capacitor}"
            )
        })
}

/// A yard of one link, each key of supply, link, relay, diode and temperature anywhere in its legal range.
fn any_legal_yard() -> impl Strategy<Value = String> {
    (
        (45.0..65.0_f64, 0.0..30.0_f64),
        in_order(-70.0..90.0_f64),
        supplies(),
        (links(), prop::option::of(0.0..1.0_f64)),
        relays(),
        (any_size(1e-9, 1e7), 0.9..4.0_f64, stated("series_resistance", " ohm", 1e-3, 100.0)),
        prop::option::of(any_size(0.1, 1000.0)),
    )
        .prop_map(|((hz, mains), [coldest, typical, hottest], (supply, most_v), (link, off), relay, diode, lamp_w)| {
            let (saturation_na, emission, diode_ohm) = diode;
            // Up to what the supply gives, and 100 V; every factor of ten as often as the next.
            let off = off.map_or(String::new(), |part| {
                let most_v: f64 = (most_v * (1.0 - 1e-6)).min(100.0);
                let off_v = 1e-3 * (most_v / 1e-3).powf(part);
                format!("off_state_voltage = \"{off_v:.9} V\"\n")
            });
            let mut yard = format!(
                "[site]\nname = \"Any Yard\"\nlatitude = 50.0\nlongitude = 8.0\ntimezone = \"Europe/Berlin\"\nregion = \"iec\"\nfrequency = \"{hz:.6} Hz\"\nmains_tolerance = \"{mains:.3} %\"\n\
                 [temperature]\ncoldest = \"{coldest:.3} C\"\ntypical = \"{typical:.3} C\"\nhottest = \"{hottest:.3} C\"\n\
                 [[supply]]\nname = \"near\"\n{supply}[[supply]]\nname = \"far\"\nkind = \"dc\"\n\
                 [[zone]]\nname = \"walk\"\nsupply = \"near\"\non = \"sunset\"\noff = \"23:00\"\n[[zone]]\nname = \"pond\"\nsupply = \"far\"\n\
                 [[diode]]\nname = \"own\"\nsaturation_current = \"{saturation_na:.12} nA\"\nemission_coefficient = {emission:.6}\n{diode_ohm}\
                 [[relay]]\nname = \"any\"\n{relay}[[link]]\nmaster = \"walk\"\nslave = \"pond\"\nrelay = \"any\"\n{link}{off}"
            );
            if let Some(watt) = lamp_w {
                write!(yard, "[[lamp]]\nzone = \"walk\"\npower = \"{watt:.3} W\"\n").expect("a text grows");
            }
            yard
        })
}

proptest! {
    #![proptest_config(cases(8))]

    #[test]
    fn every_legal_link_is_judged(yard in any_legal_yard()) {
        let site = read(&yard);
        match judgement(&site, &site.links[0]) {
            Err(undecided) => prop_assert!(false, "{undecided}\n{yard}"),
            Ok(judged) => for aspect in Aspect::ALL {
                prop_assert!(!judged.margin(aspect).fraction.is_nan(), "{}\n{yard}", aspect.name());
            }
        }
    }
}
