//! One thing varied, or two: the limit, the table, the picture, and what `check` says of the same yard.

use chrono::NaiveDate;
use pilotwire::check::{Check, check};
use pilotwire::link::Draw;
use pilotwire::schedule::local_time::ZoneInfo;
use pilotwire::site::{self, LinkId, Site};
use pilotwire::sweep::{Sweep, axes, sweep};

mod agreement;
mod limits;
mod program;
mod words;

/// A transformer, a pair, three relays.
const PAIR: &str = include_str!("pair.toml");

/// Two links in a chain, the first on DC, every evening at 20 °C, where all factors of copper are 1;
/// parts without tolerance, a coil that stays cool: all that is left is Ohm's law.
const PLAIN: &str = include_str!("plain.toml");

fn yard(text: &str) -> Site {
    let zones = ZoneInfo::from_environment();
    site::read(text.as_bytes(), "test", &|zone| zones.open(zone))
        .unwrap_or_else(|problems| panic!("{}", problems.render(false)))
}

fn checked(text: &str) -> (Site, Check) {
    let site = yard(text);
    let from = NaiveDate::from_ymd_opt(2027, 1, 1).unwrap();
    let check = check(&site, from, Draw::default()).unwrap();
    (site, check)
}

/// The first link of a yard over what `words` say.
fn swept(text: &str, words: &[&str], threads: usize) -> (Site, Sweep) {
    let site = yard(text);
    let words: Vec<String> = words.iter().map(|word| (*word).to_owned()).collect();
    let axes = axes(&site, &site.links[0], &words).unwrap();
    let sweep = sweep(&site, LinkId(0), axes, threads);
    (site, sweep)
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
