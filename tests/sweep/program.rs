//! The same through the program.

use std::process::Output;

use pilotwire::link::{BoxTemperature, Case, MainsLevel, Parts, Undecided};
use pilotwire::report::{sweep_csv, sweep_json, sweep_svg, sweep_text};
use pilotwire::transient::CannotConclude;
use serde_json::Value;

use crate::support::program::program;
use crate::support::scratch::scratch;

use super::{PAIR, swept};

const PAIR_FILE: &str = "tests/sweep/pair.toml";
const PLAIN_FILE: &str = "tests/sweep/plain.toml";

fn run(words: &[&str]) -> Output {
    program()
        .arg("sweep")
        .args(words)
        .output()
        .expect("the program runs")
}

fn printed(words: &[&str]) -> String {
    let output = run(words);
    assert!(output.status.success(), "{words:?}: {output:?}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_answer_comes_first() {
    let text = printed(&[PLAIN_FILE, "fence", "--vary", "loop=100..500ohm"]);
    let answer = text.split("\n\n").next().unwrap().replace("\n  ", " ");
    assert_eq!(
        answer,
        "front > fence, relay r720: works up to 174 ohm; beyond that less than 15 % is left over pull-in; from 309 ohm up it stays dark"
    );
    // The limit belongs to the link: it does not depend on how many values are tried.
    let other = printed(&[PLAIN_FILE, "fence", "--vary", "loop=50..450ohm/3"]);
    let other = other.split("\n\n").next().unwrap().replace("\n  ", " ");
    assert!(other.contains("works up to 173 ohm") || other.contains("works up to 174 ohm"));
}

#[test]
fn all_or_none_are_said_as_such() {
    let text = printed(&[PLAIN_FILE, "fence", "--vary", "length=10..100m"]);
    assert!(
        text.starts_with(
            "front > fence, 0.75 mm², relay r720: works at all 10 values from 10 m to 100 m\n  (328 ft)\n"
        ),
        "{text}"
    );
    let output = run(&[PLAIN_FILE, "fence", "--vary", "voltage=2..6V"]);
    assert_eq!(output.status.code(), Some(1));
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(
        text.starts_with(
            "front > fence, 0.75 mm², 50 m, relay r720: works at none of 9 values from 2 V to\n  6 V; it stays dark\n"
        ),
        "{text}"
    );
}

#[test]
fn wrong_words_exit_with_64_and_say_what_to_write() {
    for (words, said) in [
        (
            &[PLAIN_FILE, "--vary", "relay=all"][..],
            "pilotwire: there are 2 links; say which: `front > fence` or `fence > gate`\n",
        ),
        (
            &[PAIR_FILE, "--vary", "relay=r40"],
            "pilotwire: --vary relay=r40: there is no relay called `r40`; did you mean `r400`?\n",
        ),
        (
            &[PLAIN_FILE, "gate", "--vary", "length=20..200m"],
            "pilotwire: --vary length=20..200m: the loop of fence > gate is measured, which counts instead of its length; vary `loop`, or take `loop_resistance` out of the site file\n",
        ),
    ] {
        let output = run(words);
        assert_eq!(output.status.code(), Some(64), "{words:?}");
        assert_eq!(String::from_utf8(output.stderr).unwrap(), said);
        assert!(output.stdout.is_empty());
    }
    assert_eq!(run(&[PAIR_FILE]).status.code(), Some(64));
}

#[test]
fn a_word_alone_is_a_file_or_a_link() {
    let output = run(&["orchard", "--vary", "series=10,22ohm"]);
    assert!(output.status.success());
    let notes = String::from_utf8(output.stderr).unwrap();
    assert!(notes.contains("built-in yard"), "{notes}");
    let output = run(&[PAIR_FILE, "--vary", "series=10,22ohm"]);
    assert!(output.status.success() && output.stderr.is_empty());
}

#[test]
fn csv_has_a_line_for_every_cell_with_units_in_the_names() {
    let csv = printed(&[
        PAIR_FILE,
        "walk:pond",
        "--vary",
        "relay=all",
        "--vary",
        "length=100,600ft",
        "--format",
        "csv",
    ]);
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(
        lines[0],
        "length_m,relay,verdict,outcome,margin,limited_by,margin_dusk,margin_hot_restart,margin_hold,margin_release,margin_coil_voltage,margin_coil_heat,pair_ohm,coil_v,why"
    );
    assert_eq!(lines.len(), 1 + 6);
    assert!(lines[1].starts_with("30.48,r720,"), "{}", lines[1]);
    assert!(lines[6].starts_with("182.88,r90,"), "{}", lines[6]);
}

#[test]
fn json_says_the_limits_and_every_cell() {
    let text = printed(&[
        PLAIN_FILE,
        "front>fence",
        "--vary",
        "loop=100,500ohm",
        "--format",
        "json",
    ]);
    let json: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(json["master"], "front");
    assert_eq!(json["varied"][0]["key"], "loop_ohm");
    assert_eq!(
        json["varied"][0]["values"],
        serde_json::json!([100.0, 500.0])
    );
    let edge = &json["rows"][0]["edges"][1];
    assert_eq!(edge["worse"], "no-go");
    assert_eq!(edge["limited_by"], "dusk");
    let (good, bad) = (
        edge["last_good"].as_f64().unwrap(),
        edge["first_bad"].as_f64().unwrap(),
    );
    assert!(good <= 308.58 && 308.57 <= bad, "{edge}");
    let cell = &json["cells"][0];
    assert_eq!(cell["loop_ohm"], 100.0);
    assert_eq!(cell["verdict"], "go");
    // 12 V/(1 + 100/720) over 8.4 V.
    let margin = cell["margin"].as_f64().unwrap();
    assert!(
        (margin - (12.0 / (1.0 + 100.0 / 720.0) / 8.4 - 1.0)).abs() < 1e-3,
        "{margin}"
    );
}

#[test]
fn files_are_written_and_pictures_are_sound() {
    for (name, vary) in [
        ("curve", &["length=20..400m"][..]),
        ("bars", &["relay=all"]),
        ("grid", &["length=20..400m", "wire=18,20,22AWG"]),
    ] {
        let (svg, csv) = (
            scratch(&format!("{name}.svg")),
            scratch(&format!("{name}.csv")),
        );
        let mut words = vec![PAIR_FILE, "pond"];
        for vary in vary {
            words.extend(["--vary", vary]);
        }
        words.extend([
            "--svg",
            svg.to_str().unwrap(),
            "--csv",
            csv.to_str().unwrap(),
        ]);
        let output = run(&words);
        assert!(output.status.success(), "{output:?}");
        let notes = String::from_utf8(output.stderr).unwrap();
        assert_eq!(notes.matches("pilotwire: written: ").count(), 2, "{notes}");
        let svg = std::fs::read_to_string(&svg).unwrap();
        let document = roxmltree::Document::parse(&svg).unwrap();
        assert_eq!(document.root_element().tag_name().name(), "svg");
        words.truncate(words.len() - 4);
        words.extend(["--format", "csv"]);
        assert_eq!(std::fs::read_to_string(&csv).unwrap(), printed(&words));
    }
    let output = run(&[
        PAIR_FILE,
        "--vary",
        "relay=all",
        "--svg",
        "no/such/folder.svg",
    ]);
    assert_eq!(output.status.code(), Some(74));
    // The table is there all the same.
    assert_eq!(
        String::from_utf8(output.stdout).unwrap(),
        printed(&[PAIR_FILE, "--vary", "relay=all"])
    );
    let one = scratch("sweep-one-name");
    let one = one.to_str().unwrap();
    let output = run(&[PAIR_FILE, "--vary", "relay=all", "--svg", one, "--csv", one]);
    assert_eq!(output.status.code(), Some(64));
    assert!(output.stdout.is_empty() && !std::path::Path::new(one).exists());
}

#[test]
fn no_line_is_wider_than_a_terminal() {
    for words in [
        &["length=20..2000m"][..],
        &["length=20..2000ft", "relay=all"],
        &["capacitor=1..4700uF", "series=0..200ohm"],
        &["temperature=-40..80C", "mains=-15..15%"],
        &["capacitor=none,10uF", "rectifier=all"],
        &["wire=30AWG,22AWG,0.75mm2", "splices=0..9"],
    ] {
        let mut all = vec![PAIR_FILE];
        for vary in words {
            all.extend(["--vary", vary]);
        }
        for line in printed(&all).lines() {
            assert!(line.chars().count() <= 80, "{words:?}: {line}");
            assert_eq!(line, line.trim_end());
        }
    }
}

#[test]
fn threads_change_nothing() {
    let words = ["--vary", "length=20..2000m/7", "--vary", "relay=all"];
    let with = |threads| {
        let mut all = vec![PAIR_FILE, "--threads", threads, "--format", "json"];
        all.extend(words);
        printed(&all)
    };
    assert_eq!(with("1"), with("5"));
}

#[test]
fn a_cell_without_an_answer_says_so_and_has_no_number() {
    let (site, mut sweep) = swept(PAIR, &["length=100,200,300m"], 1);
    sweep.cells[1] = Err(Undecided {
        link: "walk > pond".into(),
        case: Case {
            mains: MainsLevel::Low,
            box_c: BoxTemperature::Typical.celsius(&site),
            parts: Parts::Nominal,
        },
        why: CannotConclude::TooManySteps { at_s: 0.25 },
    });
    let why = "no answer at low mains, box 15 °C: gave up 0.250000 s after switch-on: too much happens in too short a time";
    let json: Value = serde_json::from_str(&sweep_json(&site, &sweep)).unwrap();
    let cell = &json["cells"][1];
    assert_eq!(cell["verdict"], Value::Null);
    assert_eq!(cell["margin"], Value::Null);
    assert_eq!(cell["why"], why);
    let csv = sweep_csv(&site, &sweep);
    assert!(
        csv.lines().nth(2).unwrap().starts_with("200.0,,,,,,"),
        "{csv}"
    );
    let text = sweep_text(&site, &sweep);
    assert!(text.contains("no answer at 200 m"), "{text}");
    assert!(
        text.contains("200 m        no answer            no answer at low mains"),
        "{text}"
    );
    assert!(!text.contains("caution at 200 m") && !text.contains("does not at 200 m"));
    assert!(sweep_svg(&site, &sweep).contains("200 m: no answer. no answer at low mains"));
}
