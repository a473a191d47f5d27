//! What a meter should show, and what it shows when something is broken.
//!
//! Expected values: the commissioning sheet and the table of faults of a worked site, each from a circuit
//! simulator run on the same circuit by somebody else (meter values to 2 or 3 digits); limits of the
//! remote-on line and the rails: ATX12V design guides.

use std::collections::BTreeMap;

use pilotwire::chain::{Trouble, glance};
use pilotwire::commissioning::{Fault, Found, Point, Seen, judge, points, suspects, symptoms};
use pilotwire::site::{self, LinkId, Site};

fn site_of(text: &str) -> Site {
    let zones = pilotwire::schedule::local_time::ZoneInfo::from_environment();
    site::read(text.as_bytes(), "test", &|zone| zones.open(zone))
        .unwrap_or_else(|problems| panic!("{}", problems.render(false)))
}

fn copperleaf() -> Site {
    site_of(include_str!("worked_sites/copperleaf.toml"))
}

fn named<'a>(site: &Site, points: &'a [Point], key: &str) -> &'a Point {
    points
        .iter()
        .find(|point| point.key(site) == key)
        .unwrap_or_else(|| panic!("no point {key}"))
}

#[test]
fn points_of_the_worked_site_show_what_the_circuit_simulator_shows() {
    let site = copperleaf();
    let points = points(&site).unwrap();
    for (key, volts, tolerance) in [
        ("front/TP1", 12.58, 0.02),
        ("fence/TP2", 12.25, 0.1),
        ("fence/TP3 DC", 14.69, 0.1),
        ("fence/TP3 AC", 0.33, 0.03),
    ] {
        let expected = &named(&site, &points, key).expected;
        let typical = expected.typical.unwrap();
        assert!(
            (typical - volts).abs() <= tolerance,
            "{key}: {typical} V, by the simulator {volts} V"
        );
        assert!(
            expected.least.unwrap() < volts && volts < expected.most.unwrap(),
            "{key}: {expected:?}"
        );
    }
    let tp6 = &named(&site, &points, "fence/TP6").expected;
    // 11.4 to 12.6 V are the guides' rail; the band is wider by what a meter may be off.
    assert!(
        tp6.least.unwrap() > 11.2 && tp6.least.unwrap() <= 11.4,
        "{tp6:?}"
    );
    let tp5 = &named(&site, &points, "fence/TP5 dark").expected;
    assert_eq!((tp5.least, tp5.most), (Some(2.0), Some(5.25)));
    let tp8 = &named(&site, &points, "fence/TP8").expected;
    assert!((tp8.typical.unwrap() - 11.59).abs() < 0.02, "{tp8:?}");
}

#[test]
fn faults_of_the_worked_site_show_what_the_circuit_simulator_shows() {
    let site = copperleaf();
    let all = symptoms(&site, LinkId(0)).unwrap();
    for (fault, tp2, tp3, tp3_ac) in [
        (Fault::None, 12.25, 14.7, 0.33),
        (Fault::DiodeOpen, 12.28, 13.8, 0.67),
        (Fault::Capacitor(0.3), 12.27, 14.2, 1.0),
        (Fault::CapacitorOpen, 12.40, 9.8, 5.3),
        (Fault::DiodeOpenAndCapacitor(0.3), 12.33, 12.4, 2.0),
        (Fault::Splice(25.0), 11.26, 12.6, 0.23),
        (Fault::Splice(100.0), 9.36, 9.5, 0.15),
        (Fault::Splice(200.0), 7.84, 7.4, 0.10),
        (Fault::CoilOpen, 12.58, 16.7, 0.0),
        (Fault::Short, 1.9, 0.07, 0.0),
    ] {
        let symptoms = all
            .iter()
            .find(|symptoms| symptoms.fault == fault)
            .unwrap_or_else(|| panic!("{fault} is missing"));
        for (what, ours, theirs, tolerance) in [
            ("TP2", symptoms.pair_v, tp2, 0.1),
            ("TP3 DC", symptoms.coil_v, tp3, 0.15),
            // Without a capacitor the coil's inductance counts, which their circuit does not tell.
            (
                "TP3 AC",
                symptoms.coil_ac_v,
                tp3_ac,
                0.06_f64.max(0.03 * tp3_ac),
            ),
        ] {
            assert!(
                (ours - theirs).abs() <= tolerance,
                "{fault}: {what} {ours} V, by the simulator {theirs} V"
            );
        }
    }
    let seen = |fault: Fault| {
        all.iter()
            .find(|symptoms| symptoms.fault == fault)
            .unwrap()
            .seen
    };
    // In the words of the simulator's table: nothing; nothing (silent); buzz, chatter; nothing; works cold,
    // fails on warm evenings; dark; dark, high DC; dark.
    for (fault, expected) in [
        (Fault::None, "nothing: it follows"),
        (Fault::DiodeOpen, "nothing: it follows"),
        (
            Fault::CapacitorOpen,
            "buzzes, may fail on hot evenings or low mains",
        ),
        (
            Fault::Splice(25.0),
            "nothing yet: it follows, with little left when hot",
        ),
        (
            Fault::Splice(100.0),
            "follows, may fail on hot evenings or low mains",
        ),
        (Fault::Splice(200.0), "dark"),
        (Fault::CoilOpen, "dark"),
        (Fault::Short, "dark"),
        (Fault::PairOpen, "dark"),
    ] {
        assert_eq!(seen(fault).to_string(), expected, "{fault}");
    }
    // "Hum, trouble when hot": by simulation 3.5 % are left on a hot restart at low mains, and a mains crest as
    // flat as is usual takes 3.8 %.
    assert_eq!(seen(Fault::DiodeOpenAndCapacitor(0.3)), Seen::LittleLeft);
}

/// What is seen of a link as it should be is what its verdict says; a splice of so many ohms, what the verdict
/// says of a pair measured that much higher.
#[test]
fn what_is_seen_of_a_fault_is_what_check_says_of_the_same_yard() {
    let pair_ohm = 7.0;
    let mut kinds = Vec::new();
    for symptoms in symptoms(&with_pair(pair_ohm), LinkId(0)).unwrap() {
        let added = match symptoms.fault {
            Fault::None => 0.0,
            Fault::Splice(ohm) => ohm,
            _ => continue,
        };
        let other = with_pair(pair_ohm + added);
        let glance = glance(&other, &other[LinkId(0)]).unwrap();
        let troubles = glance.troubles();
        let expected = if troubles.contains(&Trouble::StaysDark) {
            Seen::Dark
        } else if troubles.contains(&Trouble::DarkSomeEvenings)
            || troubles.contains(&Trouble::MayStayDark)
        {
            Seen::FailsHot
        } else if troubles.contains(&Trouble::HotRestart) {
            Seen::HotRestart
        } else if troubles.contains(&Trouble::MayChatter) {
            Seen::MayChatter
        } else if glance.answers[0].worst().margin < 0.0 {
            Seen::LittleLeft
        } else {
            Seen::Follows
        };
        assert_eq!(symptoms.seen, expected, "{}: {troubles:?}", symptoms.fault);
        kinds.push(symptoms.seen);
    }
    for kind in [Seen::Follows, Seen::HotRestart, Seen::FailsHot, Seen::Dark] {
        assert!(kinds.contains(&kind), "{kind}: {kinds:?}");
    }
}

/// The worked site, its pair measured.
fn with_pair(ohm: f64) -> Site {
    let cable = "wire = \"22 AWG\"\nstranding = \"solid\"\nlength = \"210 ft\"\nsplices = 2\n";
    let text = include_str!("worked_sites/copperleaf.toml");
    assert!(text.contains(cable));
    site_of(&text.replace(cable, &format!("loop_resistance = \"{ohm} ohm\"\n")))
}

fn readings(of: &[(&str, f64)]) -> BTreeMap<String, f64> {
    of.iter()
        .map(|(key, value)| ((*key).to_owned(), *value))
        .collect()
}

/// What the meters of the simulator's table show, taken for readings.
#[test]
fn the_fault_behind_a_reading_is_named() {
    let site = copperleaf();
    let all = symptoms(&site, LinkId(0)).unwrap();
    for (what, tp1, tp2, tp3, tp3_ac, named) in [
        ("healthy", 12.58, 12.25, 14.7, 0.33, Fault::None),
        ("diode open", 12.58, 12.28, 13.8, 0.67, Fault::DiodeOpen),
        (
            "capacitor at 30 %",
            12.58,
            12.27,
            14.2,
            1.0,
            Fault::Capacitor(0.3),
        ),
        (
            "capacitor open",
            12.58,
            12.40,
            9.8,
            5.3,
            Fault::CapacitorOpen,
        ),
        ("splice +25", 12.58, 11.26, 12.6, 0.23, Fault::Splice(25.0)),
        ("splice +100", 12.58, 9.36, 9.5, 0.15, Fault::Splice(100.0)),
        ("splice +200", 12.58, 7.84, 7.4, 0.10, Fault::Splice(200.0)),
        ("coil open", 12.58, 12.58, 16.7, 0.0, Fault::CoilOpen),
        ("short", 12.58, 1.9, 0.07, 0.0, Fault::Short),
        // The near zone is overloaded, and nothing is wrong with the link.
        ("supply low", 10.8, 10.5, 12.4, 0.27, Fault::None),
    ] {
        let readings = readings(&[
            ("front/TP1", tp1),
            ("fence/TP2", tp2),
            ("fence/TP3 DC", tp3),
            ("fence/TP3 AC", tp3_ac),
        ]);
        let suspects = suspects(&site, LinkId(0), &all, &readings);
        let first = suspects
            .first()
            .unwrap_or_else(|| panic!("{what}: nothing fits"));
        assert_eq!(first.symptoms.fault, named, "{what}: {suspects:#?}");
    }
}

#[test]
fn nothing_is_named_where_nothing_fits_or_too_little_was_measured() {
    let site = copperleaf();
    let all = symptoms(&site, LinkId(0)).unwrap();
    let of = |of: &[(&str, f64)]| suspects(&site, LinkId(0), &all, &readings(of));
    assert_eq!(of(&[]), []);
    assert_eq!(of(&[("fence/TP2", 9.3)]), []);
    // No fault of a link doubles its voltage.
    assert_eq!(of(&[("fence/TP2", 12.2), ("fence/TP3 DC", 30.0)]), []);
}

#[test]
fn what_hangs_on_a_supply_is_judged_by_what_the_supply_gives() {
    let site = copperleaf();
    let points = points(&site).unwrap();
    let found = |of: &[(&str, f64)], key: &str| {
        let readings = readings(of);
        let judged = judge(&site, &points, &readings);
        judged
            .iter()
            .find(|judged| judged.point.key(&site) == key)
            .unwrap()
            .found
    };
    // By the simulator's table: a transformer pulled down to 10.8 V gives the coil 12.4 V.
    assert_eq!(found(&[("fence/TP3 DC", 12.4)], "fence/TP3 DC"), Found::Low);
    assert_eq!(
        found(
            &[("front/TP1", 10.8), ("fence/TP3 DC", 12.4)],
            "fence/TP3 DC"
        ),
        Found::Within
    );
    assert_eq!(found(&[("front/TP1", 10.8)], "front/TP1"), Found::Low);
    assert_eq!(
        found(&[("fence/TP3 AC", 0.67)], "fence/TP3 AC"),
        Found::High
    );
    assert_eq!(
        found(&[("fence/TP4 closed", 0.2)], "fence/TP4 closed"),
        Found::Within
    );
    assert_eq!(
        found(&[("fence/TP4 closed", 800.0)], "fence/TP4 closed"),
        Found::High
    );
    assert_eq!(found(&[("fence/TP11", 0.2)], "fence/TP11"), Found::Low);
}

#[test]
fn every_point_of_every_demo_yard_has_its_own_key_and_a_band_around_its_value() {
    let yards = std::fs::read_dir("config")
        .unwrap()
        .map(|entry| entry.unwrap().path());
    for path in yards.filter(|path| path.extension().is_some_and(|ext| ext == "toml")) {
        let site = site_of(&std::fs::read_to_string(&path).unwrap());
        let points = points(&site).unwrap();
        let mut keys: Vec<String> = points.iter().map(|point| point.key(&site)).collect();
        keys.sort();
        let all = keys.len();
        keys.dedup();
        assert_eq!(keys.len(), all, "{path:?}");
        assert!(all >= 3, "{path:?}");
        for point in &points {
            let expected = &point.expected;
            let name = point.key(&site);
            assert!(
                expected.least.is_some() || expected.most.is_some(),
                "{name}"
            );
            if let Some(typical) = expected.typical {
                assert!(
                    expected.least.is_none_or(|least| least <= typical),
                    "{name}: {expected:?}"
                );
                assert!(
                    expected.most.is_none_or(|most| typical <= most),
                    "{name}: {expected:?}"
                );
            }
            if let Some(with) = &expected.with {
                assert!(keys.contains(&with.of), "{name} goes with {}", with.of);
            }
        }
    }
}
