//! A cell agrees with `check` of a yard whose site file has the same change.

use pilotwire::cautions::{Code, Level, Place, verdict};
use pilotwire::link::Verdict;
use pilotwire::sweep::Sweep;

use crate::support::yards::{changed, checked};

use super::{PAIR, PLAIN, swept};

/// The codes about the relay; fuse, contact and ratings are not swept.
const OF_THE_RELAY: [Code; 6] = [
    Code::S18,
    Code::S19,
    Code::S20,
    Code::S21,
    Code::S22,
    Code::S50,
];

/// Asserts that a cell of the first link agrees with the changed file; returns its verdict.
fn agrees(sweep: &Sweep, cell: usize, text: &str) -> Verdict {
    let (_, check) = checked(text);
    let judged = &check.links[0];
    let place = format!("{:?}, cell {cell}", sweep.x.parameter);
    let cell = sweep.cells[cell].as_ref().unwrap();
    let of_relay = check.cautions.iter().filter(|caution| {
        caution.place == Place::Link(pilotwire::site::LinkId(0))
            && OF_THE_RELAY.contains(&caution.code)
    });
    let of_relay: Vec<_> = of_relay.cloned().collect();
    let expected = verdict(&of_relay);
    let place = format!("{place}: {of_relay:?}");
    assert_eq!(cell.verdict(), expected, "{place}");
    assert_eq!(
        cell.findings().is_empty(),
        of_relay.iter().all(|caution| caution.level == Level::Note),
        "{place}"
    );
    assert_eq!(*cell, judged.judged, "{place}");
    expected
}

/// Compares every value of a word with the file in which that passage is replaced.
fn all_agree(text: &str, word: &str, old: &str, new: &[&str]) -> Vec<Verdict> {
    let (_, sweep) = swept(text, &[word], 2);
    assert_eq!(sweep.cells.len(), new.len());
    let files = new.iter().map(|new| changed(text, &[(old, new)]));
    files
        .enumerate()
        .map(|(cell, text)| agrees(&sweep, cell, &text))
        .collect()
}

#[test]
fn lengths() {
    let verdicts = all_agree(
        PAIR,
        "length=20,250,900,3000m",
        "length = \"100 m\"",
        &[
            "length = \"20 m\"",
            "length = \"250 m\"",
            "length = \"900 m\"",
            "length = \"3000 m\"",
        ],
    );
    assert_eq!(verdicts[1], Verdict::Go);
    assert_eq!(verdicts[3], Verdict::NoGo);
}

#[test]
fn wires_of_both_kinds() {
    all_agree(
        PAIR,
        "wire=20AWG,0.75mm2",
        "wire = \"0.5 mm2\"",
        &["wire = \"20 AWG\"", "wire = \"0.75 mm2\""],
    );
}

#[test]
fn a_stated_stranding_stays() {
    let text = changed(
        PAIR,
        &[(
            "wire = \"0.5 mm2\"",
            "stranding = \"solid\"\nwire = \"0.5 mm2\"",
        )],
    );
    all_agree(
        &text,
        "wire=22AWG,1.5mm2",
        "wire = \"0.5 mm2\"",
        &["wire = \"22 AWG\"", "wire = \"1.5 mm2\""],
    );
}

#[test]
fn relays() {
    all_agree(
        PAIR,
        "relay=all",
        "relay = \"r400\"",
        &["relay = \"r720\"", "relay = \"r400\"", "relay = \"r90\""],
    );
}

#[test]
fn capacitors_and_none() {
    let verdicts = all_agree(
        PAIR,
        "capacitor=4.7,10,220uF",
        "capacitor = \"220 uF\"",
        &[
            "capacitor = \"4.7 uF\"",
            "capacitor = \"10 uF\"",
            "capacitor = \"220 uF\"",
        ],
    );
    assert_eq!(verdicts[0], Verdict::NoGo);
    // The defaults of a file without rating and tolerance.
    all_agree(
        PLAIN,
        "capacitor=none,47uF",
        "capacitor = \"none\"",
        &["capacitor = \"none\"", "capacitor = \"47 uF\""],
    );
}

#[test]
fn box_temperatures() {
    let at = |c: i32| format!("coldest = \"{c} C\"\ntypical = \"{c} C\"\nhottest = \"{c} C\"");
    let old = "coldest = \"-10 C\"\ntypical = \"15 C\"\nhottest = \"38 C\"";
    let files = [at(-20), at(25), at(70)];
    let files: Vec<&str> = files.iter().map(String::as_str).collect();
    all_agree(PAIR, "temperature=-20,25,70C", old, &files);
}

#[test]
fn series_resistors_and_splices() {
    all_agree(
        PAIR,
        "series=0,47,150ohm",
        "series_resistor = \"10 ohm\"",
        &[
            "series_resistor = \"0 ohm\"",
            "series_resistor = \"47 ohm\"",
            "series_resistor = \"150 ohm\"",
        ],
    );
    all_agree(
        PAIR,
        "splices=0,9",
        "splices = 2",
        &["splices = 0", "splices = 9"],
    );
}

#[test]
fn rectifiers() {
    let verdicts = all_agree(
        PAIR,
        "rectifier=all",
        "rectifier = \"bridge\"",
        &[
            "rectifier = \"bridge\"",
            "rectifier = \"single-diode\"",
            "rectifier = \"none\"",
        ],
    );
    assert_eq!(verdicts[2], Verdict::NoGo);
}

#[test]
fn a_measured_loop_counts_instead_of_the_cable() {
    all_agree(
        PAIR,
        "loop=5,60,200ohm",
        "splices = 2",
        &[
            "loop_resistance = \"5 ohm\"",
            "loop_resistance = \"60 ohm\"",
            "loop_resistance = \"200 ohm\"",
        ],
    );
}

#[test]
fn mains_that_stands_off_its_nominal_voltage() {
    let old = [
        "mains_tolerance = \"10 %\"",
        "no_load_voltage = \"13.0 V\"",
        "full_load_voltage = \"12.0 V\"",
    ];
    let (_, sweep) = swept(PAIR, &["mains=-20,15%"], 2);
    for (cell, part) in [0.8, 1.15].into_iter().enumerate() {
        let new = [
            "mains_tolerance = \"0 %\"".to_owned(),
            format!("no_load_voltage = \"{} V\"", 13.0 * part),
            format!("full_load_voltage = \"{} V\"", 12.0 * part),
        ];
        let changes: Vec<(&str, &str)> = old
            .into_iter()
            .zip(new.iter().map(String::as_str))
            .collect();
        agrees(&sweep, cell, &changed(PAIR, &changes));
    }
}

#[test]
fn a_supply_keeps_its_stated_range_and_gets_the_usual_one() {
    let stated = "voltage = \"12.0 V\"\nlowest_voltage = \"12.0 V\"\nhighest_voltage = \"12.0 V\"";
    let both = |volts: &str| {
        format!(
            "voltage = \"{volts}\"\nlowest_voltage = \"{volts}\"\nhighest_voltage = \"{volts}\""
        )
    };
    let files = [both("9.0 V"), both("13.5 V")];
    let files: Vec<&str> = files.iter().map(String::as_str).collect();
    all_agree(PLAIN, "voltage=9,13.5V", stated, &files);
    let usual = changed(PLAIN, &[(stated, "voltage = \"12.0 V\"")]);
    all_agree(
        &usual,
        "voltage=9,12.6,13.5V",
        "voltage = \"12.0 V\"",
        &[
            "voltage = \"9.0 V\"",
            "voltage = \"12.6 V\"",
            "voltage = \"13.5 V\"",
        ],
    );
}

#[test]
fn two_things_at_once() {
    let (_, sweep) = swept(PAIR, &["relay=r720,r90", "length=60,600m"], 2);
    assert_eq!(sweep.x.len(), 2);
    let mut cell = 0;
    for relay in ["relay = \"r720\"", "relay = \"r90\""] {
        for length in ["length = \"60 m\"", "length = \"600 m\""] {
            let changes = [("relay = \"r400\"", relay), ("length = \"100 m\"", length)];
            agrees(&sweep, cell, &changed(PAIR, &changes));
            cell += 1;
        }
    }
}

#[test]
fn the_number_of_threads_changes_nothing() {
    let words = ["length=50..900m/5", "relay=all"];
    let (_, one) = swept(PAIR, &words, 1);
    for threads in [2, 5, 64] {
        let (_, many) = swept(PAIR, &words, threads);
        assert_eq!(many.cells, one.cells);
        assert_eq!(many.edges, one.edges);
    }
}
