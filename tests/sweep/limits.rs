//! Limits by hand. On DC without diodes, capacitor, tolerance or heat, V = U/(1 + R/Rc); with U = 12 V, Rc =
//! 720 Ω and pull-in at 8.4 V: R = Rc·(U/8.4 V − 1) = 308.6 Ω for no margin, and R = Rc·(U/(1.15 · 8.4 V) − 1)
//! = 174.4 Ω for a margin of 15 %.

use pilotwire::circuit::diode::Diode;
use pilotwire::link::{Trouble, Verdict};
use pilotwire::sweep::Edge;

use crate::support::yards::changed;

use super::{PLAIN, swept};

/// Where the margin becomes thin, and where the relay stops pulling in.
fn edges(text: &str, word: &str) -> [Edge; 2] {
    let (_, sweep) = swept(text, &[word], 2);
    let [thin, dark] = sweep.edges[0][..] else {
        panic!("{word}: {:?}", sweep.edges);
    };
    assert_eq!(thin.better, Some(Verdict::Go));
    assert_eq!(thin.trouble, Some(Trouble::Thin));
    assert_eq!(dark.worse, Some(Verdict::NoGo));
    assert_eq!(dark.trouble, Some(Trouble::StaysDark));
    [thin, dark]
}

/// Asserts that the limit lies between the last good value and the first bad one, and that these are within 1
/// %.
fn holds(edge: &Edge, limit: f64) {
    let (good, bad) = (edge.last_good.unwrap(), edge.first_bad.unwrap());
    let (low, high) = (good.min(bad), good.max(bad));
    assert!(low <= limit && limit <= high, "{edge:?}, by hand {limit}");
    assert!(high - low <= 0.01 * limit, "{edge:?}");
    assert_eq!(edge.better_below, good < bad);
}

#[test]
fn a_loop_ends_where_ohms_law_says() {
    let [thin, dark] = edges(PLAIN, "loop=100..500ohm");
    holds(&thin, 720.0 * (12.0 / (1.15 * 8.4) - 1.0));
    holds(&dark, 720.0 * (12.0 / 8.4 - 1.0));
}

#[test]
fn a_gap_from_go_to_no_go_has_the_strip_of_caution_in_it() {
    let [thin, dark] = edges(PLAIN, "loop=100,500ohm");
    assert_eq!((thin.before, dark.before), (0, 0));
    holds(&thin, 720.0 * (12.0 / (1.15 * 8.4) - 1.0));
    holds(&dark, 720.0 * (12.0 / 8.4 - 1.0));
}

#[test]
fn a_length_ends_where_its_copper_has_those_ohms() {
    // 0.75 mm² flexible: 26.0 Ω/km at 20 °C (IEC 60228), there and back 52 Ω/km.
    let [thin, dark] = edges(PLAIN, "length=1..9km");
    holds(&thin, 174.41 / 52.0);
    holds(&dark, 308.57 / 52.0);
}

#[test]
fn a_supply_has_its_limit_from_below() {
    // V = U/(1 + 2.6/720): 50 m of 0.75 mm².
    let (_, sweep) = swept(PLAIN, &["voltage=7..14V"], 2);
    let [dark, thin] = sweep.edges[0][..] else {
        panic!("{:?}", sweep.edges);
    };
    holds(&dark, 8.4 * (1.0 + 2.6 / 720.0));
    holds(&thin, 1.15 * 8.4 * (1.0 + 2.6 / 720.0));
    assert!(!dark.better_below && !thin.better_below);
}

#[test]
fn two_diodes_take_their_volts() {
    // V = (U − 2·Vd)/(1 + R/Rc), Vd of a 1N4007 at the coil's 8.4 V/720 Ω.
    let text = changed(PLAIN, &[("rectifier = \"none\"", "rectifier = \"bridge\"")]);
    let diode_v = Diode::usual().forward_v(8.4 / 720.0, 20.0);
    assert!((0.5..0.75).contains(&diode_v), "{diode_v}");
    let [_, dark] = edges(&text, "loop=50..400ohm");
    holds(&dark, 720.0 * ((12.0 - 2.0 * diode_v) / 8.4 - 1.0));
}
