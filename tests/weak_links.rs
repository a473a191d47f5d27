//! Links that are slow, weak, hot or hardly off, found by trying to break the judge.

use pilotwire::check::check;
use pilotwire::link::{
    Aspect, Draw, LinkJudgement, Outcome, Trouble, Verdict, judge_link, judgement,
};
use pilotwire::site::Site;

use crate::support::read::read;
use crate::support::yards::{QUIET, changed};

const HOT_WALL: &str = include_str!("../config/hot-wall.toml");

/// A yard with some of its text replaced.
fn yard(text: &str, changes: &[(&str, &str)]) -> Site {
    read(&changed(text, changes))
}

fn judged(site: &Site) -> LinkJudgement {
    judge_link(site, &site.links[0], Draw::default()).unwrap()
}

/// The data sheet allows up to a second: the link is watched until the armature arrives.
#[test]
fn a_slow_relay_is_waited_for() {
    for (old, new) in [
        (
            "release_voltage = \"0.6 V\"",
            "release_voltage = \"0.6 V\"\noperate_time = \"900 ms\"",
        ),
        (
            "release_voltage = \"0.6 V\"",
            "release_voltage = \"0.6 V\"\nrelease_time = \"1 s\"",
        ),
    ] {
        let judgement = judged(&yard(QUIET, &[(old, new)]));
        assert_eq!(judgement.outcome(), Outcome::Follows, "{new}");
        assert!(judgement.times.drop_out.is_some(), "{new}");
        assert!(judgement.builds.follow_probability() > 0.99, "{new}");
    }
}

/// A quarter of a volt across each of two diodes passes microamperes: the coil gets nothing.
#[test]
fn an_off_state_voltage_below_the_diodes_knee_leaves_nothing() {
    for volts in ["0.2 V", "0.3 V", "0.4 V", "0.5 V"] {
        let site = yard(
            HOT_WALL,
            &[(
                "relay = \"r400\"",
                &format!("relay = \"r400\"\noff_state_voltage = \"{volts}\""),
            )],
        );
        let judgement = judged(&site);
        assert!(judgement.ordinary().residual_v < 0.01, "{volts}");
        assert_eq!(judgement.outcome(), Outcome::Follows, "{volts}");
    }
}

/// The quickest release is that of a relay which lets go as soon as it may, even if a corner of the link does
/// not pull in at all: `R·C·ln(V/V_hold)` = 400 Ω × 220 µF × ln(10.5/6) is 49 ms, and less with an aged
/// capacitor.
#[test]
fn a_weak_link_rides_through_no_more_than_its_quickest_relay() {
    let times = judged(&yard(HOT_WALL, &[])).times;
    let through_s = times.ride_through_s().unwrap();
    assert!(through_s < 0.049, "{through_s}");
    assert!(through_s < 0.6 * times.drop_out.unwrap().typical_s);
}

/// 24 V on a coil for 12 V: (24 V)² / 720 Ω × 150 K/W is above 100 K.
#[test]
fn a_coil_that_cooks_on_an_ordinary_evening_stops() {
    let site = yard(
        QUIET,
        &[(
            "kind = \"transformer\"\nno_load_voltage = \"13.0 V\"\nfull_load_voltage = \"12.0 V\"\nrated_load = \"100 VA\"",
            "kind = \"dc\"\nvoltage = \"25.0 V\"",
        )],
    );
    let from = chrono::NaiveDate::from_ymd_opt(2027, 1, 1).unwrap();
    let check = check(&site, from, Draw::default()).unwrap();
    assert_eq!(check.verdict, Verdict::NoGo);
    assert!(check.links[0].ordinary().warm.coil_c > 105.0);
    // A sweep judges a cell as `check` does.
    let judged = judgement(&site, &site.links[0]).unwrap();
    assert_eq!(judged.verdict(), Verdict::NoGo);
    assert_eq!(judged.trouble(), Some(Trouble::Cooks));
}

/// Builds release between their guaranteed release and holding voltages, so a relay that releases high chatters
/// in the verdict and in the builds alike: without a capacitor its current falls below two thirds of the mean
/// between two pulses (textbook coil behind a bridge, ωL/R as here), from 9.8 V to less than 7.8 V. One failed
/// start while a capacitor charges is no chatter.
#[test]
fn builds_and_verdict_agree_on_chatter() {
    let with = |farad: &str| {
        judged(&yard(
            QUIET,
            &[
                (
                    "capacitor = \"220 uF\"",
                    &format!("capacitor = \"{farad}\""),
                ),
                (
                    "typical_release_voltage = \"3.0 V\"",
                    "typical_release_voltage = \"7.8 V\"\nholding_voltage = \"8.2 V\"",
                ),
            ],
        ))
    };
    let bare = with("none");
    assert_eq!(bare.outcome(), Outcome::Chatters);
    assert!(
        bare.builds.chatter > bare.builds.drawn / 10,
        "{:?}",
        bare.builds
    );
    let small = with("4.7 uF");
    assert_eq!(small.outcome(), Outcome::Follows);
    assert!(small.builds.chatter > 0 && small.builds.follow_probability() > 0.8);
    assert!(with("220 uF").builds.chatter < small.builds.chatter);
}

/// The proposed resistor replaces the existing one.
#[test]
fn a_resistor_is_proposed_in_place_of_another() {
    let relay = "max_coil_voltage = \"18 V\"";
    let limited = "max_coil_voltage = \"14.5 V\"";
    let proposed = |link: &str| {
        let site = yard(QUIET, &[(relay, limited), ("fuse = \"1 A\"", link)]);
        let from = chrono::NaiveDate::from_ymd_opt(2027, 1, 1).unwrap();
        let check = check(&site, from, Draw::default()).unwrap();
        let text = check
            .cautions
            .iter()
            .find(|caution| caution.code.to_string() == "S22")
            .map(|caution| caution.text.clone())
            .unwrap();
        let (_, rest) = text.split_once("it a series resistor of ").unwrap();
        let ohm: f64 = rest.split(' ').next().unwrap().parse().unwrap();
        (ohm, text)
    };
    let (alone, _) = proposed("fuse = \"1 A\"");
    let (instead, text) = proposed("fuse = \"1 A\"\nseries_resistor = \"10 ohm\"");
    assert!((alone - instead).abs() < 1e-9, "{alone} {instead}");
    assert!(text.contains("in place of the 10 ohm"), "{text}");
}

/// One diode, no capacitor and no flyback diode, a coil of an ohm behind a transformer of 450 ohm: some periods make
/// a departure grow, and so many of them at once are no number. (Found by a legal link drawn at random.)
#[test]
fn a_coil_of_an_ohm_behind_a_weak_transformer_has_numbers() {
    let site = read(
        &"[site]
        name = \"Any Yard\"
        latitude = 50.0
        longitude = 8.0
        timezone = \"Europe/Berlin\"
        frequency = \"61.711703 Hz\"
        mains_tolerance = \"0 %\"
        [temperature]
        coldest = \"0 C\"
        typical = \"0 C\"
        hottest = \"0 C\"
        [[supply]]
        name = \"near\"
        kind = \"transformer\"
        no_load_voltage = \"42.731723 V\"
        full_load_voltage = \"18.470048 V\"
        rated_load = \"1 VA\"
        [[supply]]
        name = \"far\"
        kind = \"dc\"
        [[zone]]
        name = \"walk\"
        supply = \"near\"
        on = \"sunset\"
        off = \"23:00\"
        [[zone]]
        name = \"pond\"
        supply = \"far\"
        [[diode]]
        name = \"own\"
        saturation_current = \"2.035628068053 nA\"
        emission_coefficient = 2.033250
        [[relay]]
        name = \"any\"
        coil_resistance = \"1 ohm\"
        coil_tolerance = \"32.097 %\"
        release_voltage = \"1 V\"
        typical_release_voltage = \"1.001 V\"
        operate_voltage = \"11.724365 V\"
        max_coil_voltage = \"100 V\"
        [[link]]
        master = \"walk\"
        slave = \"pond\"
        relay = \"any\"
        loop_resistance = \"1 ohm\"
        rectifier = \"single-diode\"
        diode = \"own\"
        flyback_diode = false
        capacitor = \"none\""
            .replace("        ", ""),
    );
    let judged = judgement(&site, &site.links[0]).unwrap();
    // Half a sine of 60 V over 450 ohm is 43 mA on average: 0.04 V on an ohm.
    let dusk = judged.margin(Aspect::Dusk);
    assert!((0.0..0.05).contains(&dusk.volts), "{dusk:?}");
}
