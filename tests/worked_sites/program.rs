//! The program, run on a site file and its variants.

use serde_json::Value;

use crate::support::program::{given, program};
use crate::support::yards::changed;

pub(crate) const COPPERLEAF: &str = include_str!("copperleaf.toml");
pub(crate) const FJORDSTRAND: &str = include_str!("fjordstrand.toml");
pub(crate) const LOS_TEROS: &str = include_str!("los-teros.toml");
pub(crate) const OCOTILLO: &str = include_str!("ocotillo.toml");

/// What the program printed, and its exit code.
pub(crate) struct Printed {
    pub(crate) text: String,
    pub(crate) code: i32,
}

/// `pilotwire check` with a site file on standard input, the year beginning 2027-01-01.
pub(crate) fn check(site: &str, arguments: &[&str]) -> Printed {
    let mut program = program();
    program
        .args(["check", "-", "--date", "2027-01-01"])
        .args(arguments);
    let output = given(&mut program, site.as_bytes());
    let notes = String::from_utf8(output.stderr).unwrap();
    assert!(notes.is_empty(), "{notes}");
    Printed {
        text: String::from_utf8(output.stdout).unwrap(),
        code: output.status.code().unwrap(),
    }
}

/// The JSON of a check.
pub(crate) fn judged(site: &str) -> Value {
    let printed = check(site, &["--format", "json"]);
    let json: Value = serde_json::from_str(&printed.text).unwrap();
    assert_eq!(printed.code, i32::from(json["verdict"] == "no-go"));
    json
}

/// The site file with one passage replaced; it must occur exactly once.
pub(crate) fn with(site: &str, old: &str, new: &str) -> String {
    changed(site, &[(old, new)])
}

/// The link of a judgement, as `master>slave`.
pub(crate) fn link<'a>(json: &'a Value, name: &str) -> &'a Value {
    let (master, slave) = name.split_once('>').unwrap();
    json["links"]
        .as_array()
        .unwrap()
        .iter()
        .find(|link| link["master"] == master && link["slave"] == slave)
        .unwrap()
}

pub(crate) fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value}"))
}

/// Codes and levels of the cautions at a place, as `S22 WARN`.
pub(crate) fn codes(json: &Value, place: &str) -> Vec<String> {
    cautions(json, place)
        .map(|caution| {
            format!(
                "{} {}",
                caution["code"].as_str().unwrap(),
                caution["level"].as_str().unwrap()
            )
        })
        .collect()
}

/// The cautions at a place.
pub(crate) fn cautions<'a>(json: &'a Value, place: &'a str) -> impl Iterator<Item = &'a Value> {
    json["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .filter(move |caution| caution["place"] == place)
}

/// The text of the first caution with this code at a place.
pub(crate) fn caution_text<'a>(json: &'a Value, place: &'a str, code: &str) -> &'a str {
    cautions(json, place)
        .find(|caution| caution["code"] == code)
        .unwrap_or_else(|| panic!("no {code} at {place}"))["text"]
        .as_str()
        .unwrap()
}

/// The printed report without its line breaks and indents.
pub(crate) fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
