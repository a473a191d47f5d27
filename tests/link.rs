//! The command `link`: verdict first, cases, pictures, numbers for scripts.

use std::process::Output;

use serde_json::Value;

use crate::support::program::program;
use crate::support::scratch::{empty_folder, scratch};

const COPPERLEAF: &str = "tests/worked_sites/copperleaf.toml";

fn run(words: &[&str]) -> Output {
    program().arg("link").args(words).output().unwrap()
}

fn said(words: &[&str]) -> String {
    String::from_utf8(run(words).stdout).unwrap()
}

fn json(words: &[&str]) -> Value {
    let mut words = words.to_vec();
    words.extend(["--format", "json"]);
    serde_json::from_str(&said(&words)).unwrap()
}

#[test]
fn verdict_and_least_in_hand_come_first() {
    let text = said(&[COPPERLEAF]);
    assert!(
        text.starts_with("GO WITH CAUTION  front > fence: "),
        "{text}"
    );
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("; follows; least margin "), "{text}");
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    assert!(text.trim_end().ends_with("theirs."), "{text}");
}

#[test]
fn a_link_is_named_in_any_of_three_ways() {
    let chain = "config/chain-of-three.toml";
    let whole = said(&[chain, "beech-walk>gate"]);
    assert!(
        whole.starts_with("GO  beech-walk > gate: follows"),
        "{whole}"
    );
    assert_eq!(whole, said(&[chain, "beech-walk:gate"]));
    assert_eq!(whole, said(&[chain, "gate"]));
    let none = run(&[chain]);
    assert_eq!(none.status.code(), Some(64));
    assert_eq!(
        String::from_utf8(none.stderr).unwrap(),
        "pilotwire: there are 2 links; say which: `terrace > beech-walk` or `beech-walk > gate`\n"
    );
    let wrong = run(&[chain, "gate>terrace"]);
    assert_eq!(wrong.status.code(), Some(64));
    assert_eq!(
        String::from_utf8(wrong.stderr).unwrap(),
        "pilotwire: there is no link called `gate>terrace`; the links are `terrace > beech-walk` or `beech-walk > gate`\n"
    );
}

/// The four worked levels of the coil's voltage at an ordinary evening (tests/data/scenarios.csv,
/// ngspice): 13.08, 14.69 and 16.3 V, 0.25 V either way.
#[test]
fn cases_are_those_that_their_words_say() {
    let coil_v = |case: &str| {
        let at = json(&[COPPERLEAF, "--builds", "1", "--case", case]);
        assert_eq!(at["runs"][0]["case"], case);
        at["runs"][0]["coil_v"].as_f64().unwrap()
    };
    for (case, volts) in [
        ("low-mains", 13.08),
        ("nominal-mains", 14.69),
        ("high-mains,all-lamps", 16.3),
    ] {
        assert!((coil_v(case) - volts).abs() <= 0.25, "{case}");
    }
    // Each word moves the voltage its own way.
    let ordinary = coil_v("typical");
    assert!(coil_v("flat-crest") < ordinary);
    assert!(coil_v("no-lamps") > coil_v("masters-lamps").max(ordinary) - 1e-9);
    assert!(coil_v("warm-coil") > ordinary && coil_v("worst-parts") < ordinary);
    assert!(coil_v("aged-capacitor") < ordinary);
    let drop_out_s = |case: &str| {
        let at = json(&[COPPERLEAF, "--builds", "1", "--case", case]);
        at["runs"][0]["drop_out_s"].as_f64().unwrap()
    };
    assert!(drop_out_s("early-release") < drop_out_s("typical"));
    assert!(drop_out_s("late-release") > drop_out_s("typical"));
}

#[test]
fn a_word_that_is_none_brings_the_nearest() {
    let wrong = run(&[COPPERLEAF, "--case", "low-main"]);
    assert_eq!(wrong.status.code(), Some(64));
    let said = String::from_utf8(wrong.stderr).unwrap();
    assert!(
        said.contains("--case does not know \"low-main\", did you mean low-mains?"),
        "{said}"
    );
}

#[test]
fn words_that_exclude_each_other_are_refused() {
    let wrong = run(&[COPPERLEAF, "--case", "low-mains,hottest,high-mains"]);
    assert_eq!(wrong.status.code(), Some(64));
    assert_eq!(
        String::from_utf8(wrong.stderr).unwrap(),
        "pilotwire: --case low-mains,hottest,high-mains: low-mains and high-mains exclude each other; give --case twice for two cases\n"
    );
}

#[test]
fn builds_depend_on_the_seed_alone() {
    let builds = |seed: &str| {
        json(&["tests/worked_sites/ocotillo.toml", "--seed", seed])["link"]["builds"].clone()
    };
    let one = builds("1");
    assert_eq!(one, builds("1"));
    assert_eq!(one["drawn"], 1000);
    let sum = ["follow", "chatter", "stay_dark", "stay_lit"]
        .map(|key| one[key].as_u64().unwrap())
        .iter()
        .sum::<u64>();
    assert_eq!(sum, 1000);
    // A DC link in a box of 60 °C, which by hand misses a hot restart: some builds do not restart warm.
    assert!(one["restart"].as_u64().unwrap() < one["follow"].as_u64().unwrap());
    assert_ne!(one, builds("2"));
}

#[test]
fn pictures_and_samples_are_written_where_they_are_asked_for() {
    let (svg, csv) = (scratch("link.svg"), scratch("link.csv"));
    let done = run(&[
        COPPERLEAF,
        "--builds",
        "1",
        "--svg",
        svg.to_str().unwrap(),
        "--csv",
        csv.to_str().unwrap(),
    ]);
    assert!(done.status.success());
    let picture = std::fs::read_to_string(svg).unwrap();
    assert!(picture.starts_with("<svg") && picture.len() < 80_000);
    let samples = std::fs::read_to_string(csv).unwrap();
    assert!(samples.starts_with("at_s,"), "{}", &samples[..80]);
}

#[test]
fn a_picture_that_cannot_be_written_costs_neither_the_report_nor_the_samples() {
    let csv = empty_folder("link-without-picture").join("a.csv");
    let mut words = vec![COPPERLEAF];
    words.extend(["--builds", "1"]);
    let report = run(&words).stdout;
    words.extend(["--svg", "/no/such/folder/a.svg"]);
    words.extend(["--csv", csv.to_str().unwrap()]);
    let done = run(&words);
    assert_eq!(done.status.code(), Some(74));
    assert_eq!(done.stdout, report);
    let said = String::from_utf8(done.stderr).unwrap();
    assert!(
        said.contains("/no/such/folder/a.svg cannot be written"),
        "{said}"
    );
    assert!(std::fs::read_to_string(csv).unwrap().starts_with("at_s,"));
}

#[test]
fn two_files_of_one_name_are_refused_before_either_is_written() {
    let folder = empty_folder("link-one-name");
    let file = folder.join("a.txt");
    let again = folder.join("..").join("link-one-name").join("a.txt");
    let (file, again) = (file.to_str().unwrap(), again.to_str().unwrap());
    let both = run(&[COPPERLEAF, "--svg", file, "--csv", again]);
    assert_eq!(both.status.code(), Some(64));
    assert!(both.stdout.is_empty());
    let said = String::from_utf8(both.stderr).unwrap();
    for words in ["--svg", "--csv", file, again] {
        assert!(said.contains(words), "{said}");
    }
    let site = folder.join("site.toml");
    std::fs::copy(COPPERLEAF, &site).unwrap();
    let site = site.to_str().unwrap();
    let over = run(&[site, "--svg", site]);
    assert_eq!(over.status.code(), Some(64));
    assert!(String::from_utf8_lossy(&over.stderr).contains("would overwrite the site file"));
    let left: Vec<_> = std::fs::read_dir(&folder).unwrap().collect();
    assert_eq!(left.len(), 1, "{left:?}");
}

#[test]
fn a_link_that_stays_dark_fails_and_says_that_it_hovers() {
    let done = run(&["config/too-far.toml"]);
    assert_eq!(done.status.code(), Some(1));
    let text = String::from_utf8(done.stdout).unwrap();
    let text = text.replace("\n  ", " ");
    assert!(
        text.starts_with(
            "NO-GO  house > dam: stays dark (hovers: would stay in if in, stays out if out)"
        ),
        "{text}"
    );
}
