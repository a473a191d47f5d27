//! One parameter varied, or two: the limit, the table, the picture, and agreement with `check` of the same
//! yard.

use pilotwire::site::{LinkId, Site};
use pilotwire::sweep::{Sweep, axes, sweep};

use crate::support::read::read;

mod agreement;
mod limits;
mod program;
mod words;

/// A transformer, a pair, three relays.
const PAIR: &str = include_str!("sweep/pair.toml");

/// Two links in a chain, the first on DC, every evening at 20 °C, where all factors of copper are 1; parts
/// without tolerance and a coil that stays cool leave nothing but Ohm's law.
const PLAIN: &str = include_str!("sweep/plain.toml");

/// The first link of a yard, varied as `words` ask for.
fn swept(text: &str, words: &[&str], threads: usize) -> (Site, Sweep) {
    let site = read(text);
    let words: Vec<String> = words.iter().map(|word| (*word).to_owned()).collect();
    let axes = axes(&site, &site.links[0], &words).unwrap();
    let sweep = sweep(&site, LinkId(0), axes, threads);
    (site, sweep)
}
