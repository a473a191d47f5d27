//! Every caution: a yard that raises it, one that just does not, and the numbers in its text.

use crate::support::yards::{QUIET, changed, checked};

mod board;
mod links;
mod supplies_and_lamps;
mod times;

/// The same with its master on DC and without diodes: R = 2 × 50 m × 26 Ω/km = 2.6 Ω, coil 720 Ω, so V = supply
/// / (1 + 2.6/720).
fn direct() -> String {
    changed(
        QUIET,
        &[
            (
                "kind = \"transformer\"\nno_load_voltage = \"13.0 V\"\nfull_load_voltage = \"12.0 V\"\nrated_load = \"100 VA\"",
                "kind = \"dc\"\nvoltage = \"12.0 V\"",
            ),
            ("rectifier = \"bridge\"", "rectifier = \"none\""),
            (
                "thermal_resistance = \"150 K/W\"",
                "thermal_resistance = \"0 K/W\"",
            ),
        ],
    )
}

/// Cautions with this code: `LEVEL place: text`.
fn said(text: &str, code: &str) -> Vec<String> {
    let (site, check) = checked(text);
    check
        .cautions
        .iter()
        .filter(|caution| caution.code.to_string() == code)
        .map(|caution| {
            format!(
                "{} {}: {}",
                caution.level.name(),
                caution.place.say(&site),
                caution.text
            )
        })
        .collect()
}

/// Checks that the yard raises the code once, at this level and place, with all of these words.
fn raises(text: &str, code: &str, at: &str, words: &[&str]) {
    let said = said(text, code);
    assert_eq!(said.len(), 1, "{code}: {said:#?}");
    assert!(said[0].starts_with(at), "{}", said[0]);
    for word in words {
        assert!(said[0].contains(word), "no {word:?} in {}", said[0]);
    }
}

/// Checks that the yard does not raise the code.
fn quiet(text: &str, code: &str) {
    let said = said(text, code);
    assert!(said.is_empty(), "{said:#?}");
}

#[test]
fn the_quiet_yards_raise_nothing() {
    for text in [QUIET, &direct()] {
        let (_, check) = checked(text);
        assert!(check.cautions.is_empty(), "{:#?}", check.cautions);
    }
}
