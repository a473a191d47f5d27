//! Every caution: a yard that raises it, one that just does not, and the numbers it says.

use chrono::NaiveDate;
use pilotwire::check::{Check, check};
use pilotwire::link::Draw;
use pilotwire::schedule::local_time::ZoneInfo;
use pilotwire::site::{self, Site};

#[path = "cautions/board.rs"]
mod board;
#[path = "cautions/links.rs"]
mod links;
#[path = "cautions/supplies_and_lamps.rs"]
mod supplies_and_lamps;
#[path = "cautions/times.rs"]
mod times;

/// A yard with nothing to say about: every evening at 20 °C, where all factors of copper are 1.
const QUIET: &str = include_str!("cautions/quiet.toml");

/// The same, its master on DC and no diodes: R = 2 × 50 m × 26 Ω/km = 2.6 Ω, coil 720 Ω, so V =
/// supply / (1 + 2.6/720).
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

/// The site file with stretches of text, each of which must occur once, replaced.
fn changed(site: &str, changes: &[(&str, &str)]) -> String {
    let mut site = site.to_owned();
    for (old, new) in changes {
        assert_eq!(site.matches(old).count(), 1, "{old}");
        site = site.replacen(old, new, 1);
    }
    site
}

fn judged(text: &str) -> (Site, Check) {
    let zones = ZoneInfo::from_environment();
    let site = site::read(text.as_bytes(), "test", &|zone| zones.open(zone))
        .unwrap_or_else(|problems| panic!("{}", problems.render(false)));
    let from = NaiveDate::from_ymd_opt(2027, 1, 1).unwrap();
    let check = check(&site, from, Draw::default()).unwrap();
    (site, check)
}

/// Cautions with this code: `LEVEL place: text`.
fn said(text: &str, code: &str) -> Vec<String> {
    let (site, check) = judged(text);
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

/// The yard raises the code once, at this level and place, and says all of these words.
fn raises(text: &str, code: &str, at: &str, words: &[&str]) {
    let said = said(text, code);
    assert_eq!(said.len(), 1, "{code}: {said:#?}");
    assert!(said[0].starts_with(at), "{}", said[0]);
    for word in words {
        assert!(said[0].contains(word), "no {word:?} in {}", said[0]);
    }
}

/// The yard does not raise the code.
fn quiet(text: &str, code: &str) {
    let said = said(text, code);
    assert!(said.is_empty(), "{said:#?}");
}

#[test]
fn the_quiet_yards_raise_nothing() {
    for text in [QUIET, &direct()] {
        let (_, check) = judged(text);
        assert!(check.cautions.is_empty(), "{:#?}", check.cautions);
    }
}
