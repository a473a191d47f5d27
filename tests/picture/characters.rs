//! Pictures in characters: their width, their letters, the places of their parts.

use std::num::NonZeroU32;

use pilotwire::chain::chain;
use pilotwire::lamp_run::{TrunkEnds, trunk_ends};
use pilotwire::link::{BoxTemperature, Draw, LinkJudgement, MainsLevel, judge};
use pilotwire::picture::chain::chain_text;
use pilotwire::picture::ladder::ladder_text;
use pilotwire::picture::lamps::lamps_text;
use pilotwire::picture::yard::yard_text;
use pilotwire::site::{LinkId, Site, ZoneId};

use crate::support::read::read;
use crate::support::yards::CONFIG;

use super::yards::{all, great};

/// A text without a terminal's colour sequences.
pub(crate) fn without_colours(text: &str) -> String {
    let sequences = ["\u{1b}[1;33m", "\u{1b}[1m", "\u{1b}[2m", "\u{1b}[0m"];
    let plain = sequences
        .iter()
        .fold(text.to_owned(), |text, sequence| text.replace(sequence, ""));
    assert!(!plain.contains('\u{1b}'));
    plain
}

fn judged(site: &Site) -> Vec<LinkJudgement> {
    let draw = Draw {
        seed: 1,
        builds: NonZeroU32::MIN,
    };
    judge(site, draw).unwrap()
}

fn links(judged: &[LinkJudgement]) -> Vec<(LinkId, &LinkJudgement)> {
    judged
        .iter()
        .enumerate()
        .map(|(n, judgement)| (LinkId(n), judgement))
        .collect()
}

/// Every picture of a yard, by name.
fn drawn(site: &Site, columns: usize, colour: bool) -> Vec<(&'static str, String)> {
    let judged = judged(site);
    vec![
        ("yard", yard_text(site, columns, colour)),
        (
            "ladder",
            ladder_text(site, &links(&judged), columns, colour),
        ),
        ("lamps", lamps_text(site, columns, colour)),
        (
            "chain",
            chain_text(site, &chain(site, &judged), columns, colour),
        ),
    ]
}

#[test]
fn pictures_keep_to_their_width_and_need_no_colour() {
    for (name, site) in all() {
        for columns in [1, 40, 80, 120, 1000] {
            let plain = drawn(&site, columns, false);
            let coloured = drawn(&site, columns, true);
            for ((what, plain), (_, coloured)) in plain.iter().zip(&coloured) {
                let bound = columns.clamp(40, 200);
                for line in plain.lines() {
                    assert!(
                        line.chars().count() <= bound,
                        "{name}, {what}, {columns}: {line}"
                    );
                    assert_eq!(line, line.trim_end(), "{name}, {what}");
                }
                assert!(!plain.contains(['\u{1b}', '\u{a0}']), "{name}, {what}");
                assert!(coloured.contains('\u{1b}'), "{name}, {what}");
                assert_eq!(&without_colours(coloured), plain, "{name}, {what}");
            }
        }
    }
}

/// A text joined into one line.
fn one_line(text: &str) -> String {
    let words = |line: &str| line.trim_start_matches(['|', ':', ' ', '+']).to_owned();
    text.lines().map(words).collect::<Vec<_>>().join(" ")
}

#[test]
fn a_tree_names_every_part_of_its_yard() {
    for (name, site) in all() {
        for columns in [40, 80, 120] {
            let tree = yard_text(&site, columns, false);
            let said = one_line(&tree);
            let mut wanted: Vec<String> = site
                .zones
                .iter()
                .map(|zone| format!("{}:", site[zone.supply].name))
                .collect();
            let runs = site.zones.iter().flat_map(|zone| &zone.trunks);
            let cables = runs.filter_map(|trunk| trunk.cable);
            let cables = cables.chain(site.links.iter().filter_map(|link| link.cable));
            wanted.extend(cables.map(|cable| format!("{:.1} m", cable.length_m)));
            wanted.extend(
                site.links
                    .iter()
                    .map(|link| format!("relay {}", link.relay.name)),
            );
            wanted.extend(site.zones.iter().map(|zone| format!("{},", zone.name)));
            let said = said.replace(' ', "");
            for part in wanted {
                // A long name goes on in the next line.
                assert!(
                    said.contains(&part.replace(' ', "")),
                    "{name}, {columns}: {part} in {tree}"
                );
            }
            let told = site
                .zones
                .iter()
                .filter(|zone| !matches!(zone.switching, pilotwire::site::Switching::Timed(_)));
            assert_eq!(tree.matches(">[").count(), told.count(), "{name}");
        }
    }
}

/// From the relay of every slave its wire leads, to the left and up, to the supply of its master.
#[test]
fn wires_of_a_tree_lead_from_every_slave_to_its_master() {
    for (name, site) in great() {
        for columns in [40, 120] {
            let tree = yard_text(&site, columns, false);
            let grid: Vec<Vec<char>> = tree.lines().map(|line| line.chars().collect()).collect();
            let at = |row: usize, column: usize| grid[row].get(column).copied().unwrap_or(' ');
            let relay = |row: &&Vec<char>| row.iter().collect::<String>().contains(">[/]");
            let relay = grid.iter().find(relay).unwrap();
            let left = relay.iter().position(|c| *c == '[').unwrap();
            // The zone that a row belongs to: the nearest row above it that starts text below a blank row.
            let zone_of = |row: usize| {
                let named = (0..row).rev().find(|&row| {
                    (left..left + 3).all(|column| row == 0 || at(row - 1, column) == ' ')
                        && at(row, left) != ' '
                });
                let line: String = grid[named.unwrap()][left..].iter().collect();
                line.split([',', '…']).next().unwrap().to_owned()
            };
            let mut found = Vec::new();
            for row in 0..grid.len() {
                if at(row, left - 1) != '>' || at(row, left) != '[' {
                    continue;
                }
                let lane = (0..left).rev().find(|&c| at(row, c) == '+').unwrap();
                let mut up = row - 1;
                while !(at(up, lane) == '+' && at(up, left - 1) == '-') {
                    assert!("|+-".contains(at(up, lane)), "{name}: {up} {lane}\n{tree}");
                    up -= 1;
                }
                found.push((zone_of(up), zone_of(row)));
            }
            let mut wanted: Vec<(String, String)> = site
                .links
                .iter()
                .map(|link| {
                    (
                        site[link.master].name.clone(),
                        site[link.slave].name.clone(),
                    )
                })
                .collect();
            let same = |a: &str, b: &str| a.starts_with(b) || b.starts_with(a);
            assert_eq!(found.len(), wanted.len(), "{name}");
            for (master, slave) in found {
                let index = wanted
                    .iter()
                    .position(|wanted| wanted.0 == master && wanted.1 == slave)
                    .or_else(|| {
                        wanted
                            .iter()
                            .position(|wanted| same(&wanted.0, &master) && same(&wanted.1, &slave))
                    });
                let index = index.unwrap_or_else(|| panic!("{name}: {master} > {slave}\n{tree}"));
                wanted.remove(index);
            }
        }
    }
}

/// Columns, counted from zero volts, are in proportion to volts: for the coil's letter and for the start of
/// "too much".
#[test]
fn a_ladder_in_characters_is_to_scale() {
    for (name, text) in CONFIG {
        let site = read(text);
        let judged = judged(&site);
        for (id, judgement) in links(&judged) {
            for columns in [40, 80, 120] {
                let ladder = ladder_text(&site, &[(id, judgement)], columns, false);
                let limit_v = site[id].relay.max_coil_v;
                for level in MainsLevel::ALL {
                    let row = ladder
                        .lines()
                        .find(|line| line.trim_start().starts_with(level.name()))
                        .unwrap();
                    let column = |letter: char| row[11..].find(letter).unwrap() as f64;
                    let case = judgement.case(level, BoxTemperature::Typical);
                    let unit = column('x') / limit_v;
                    assert!(
                        (column('o') - case.dusk.coil_v * unit).abs() <= 1.5,
                        "{name}, {columns}: {row}"
                    );
                    let said = format!("{:.1}", case.dusk.coil_v);
                    let said = &said[..said.len() - 2];
                    assert!(
                        one_line(&ladder)
                            .contains(&format!("{}: {said}", level_said(&site, id, level))),
                        "{ladder}"
                    );
                }
                for word in ["too much", "pulls in", "stays in", "may let go", "lets go"] {
                    assert!(ladder.contains(word), "{name}: {word}");
                }
            }
        }
    }
}

fn level_said(site: &Site, id: LinkId, level: MainsLevel) -> String {
    let ac = site[site[site[id].master].supply].is_ac();
    format!("{} {}", level.name(), if ac { "mains" } else { "supply" })
}

#[test]
fn lamps_in_characters_have_their_volts() {
    for (name, text) in CONFIG {
        let site = read(text);
        for columns in [40, 80, 120] {
            let strip = lamps_text(&site, columns, false);
            let mut wanted = Vec::new();
            for (zone, of) in site.zones.iter().enumerate() {
                for trunk in of.trunks.iter().filter(|trunk| !trunk.lamps.is_empty()) {
                    let ends = trunk_ends(&site, ZoneId(zone), trunk, MainsLevel::Nominal);
                    if let TrunkEnds::Lit { lamp_v, .. } = ends {
                        wanted.extend(lamp_v.iter().enumerate().map(|(lamp, v)| {
                            let v = format!("{v:.2}");
                            (lamp + 1, format!("{} V", v.strip_suffix('0').unwrap_or(&v)))
                        }));
                    }
                }
            }
            let mut said: Vec<(usize, String)> = strip
                .lines()
                .filter_map(|line| {
                    let lamp = line.get(..4)?.trim().parse().ok()?;
                    let words: Vec<&str> = line.split(' ').collect();
                    Some((lamp, words[words.len() - 2..].join(" ")))
                })
                .collect();
            wanted.sort();
            said.sort();
            assert_eq!(said, wanted, "{name}, {columns}");
        }
    }
}

#[test]
fn a_run_of_many_lamps_shows_both_ends_and_counts_the_rest() {
    let many = CONFIG[0].1.replace("count = 8", "count = 40");
    assert_ne!(many, CONFIG[0].1);
    let site = read(&many);
    let strip = lamps_text(&site, 80, false);
    assert!(strip.contains("... 28 more, "), "{strip}");
    assert!(strip.contains("\n  40 "), "{strip}");
}

#[test]
fn a_chain_in_characters_says_when_every_zone_is_lit_and_dark() {
    for (name, site) in all() {
        let judged = judged(&site);
        let chain = chain(&site, &judged);
        for columns in [40, 80, 120] {
            let text = chain_text(&site, &chain, columns, false);
            for zone in chain.zones.iter().filter(|zone| zone.master.is_some()) {
                for total in [zone.lit_after, zone.dark_after] {
                    if let Some(seconds) = total.typical_s {
                        let said = format!("{seconds:.2} s");
                        assert!(text.contains(&said), "{name}, {columns}: {said}");
                    }
                }
            }
        }
    }
}

/// Lit from where it goes on, dark from where it goes off, in proportion to the seconds.
#[test]
fn bars_in_characters_are_to_scale() {
    let site = read(CONFIG[1].1);
    let judged = judged(&site);
    let chain = chain(&site, &judged);
    let text = chain_text(&site, &chain, 120, false);
    let (dusk, end) = text.split_once("at the end").unwrap();
    let row = |half: &str, name: &str| {
        let line = half
            .lines()
            .find(|line| line.trim_start().starts_with(name));
        line.unwrap()[14..94].to_owned()
    };
    let zones: Vec<(&str, f64, f64)> = chain.zones[1..]
        .iter()
        .map(|zone| {
            let name = site[zone.zone].name.as_str();
            (
                name,
                zone.lit_after.typical_s.unwrap(),
                zone.dark_after.typical_s.unwrap(),
            )
        })
        .collect();
    let on: Vec<f64> = zones
        .iter()
        .map(|(name, _, _)| row(dusk, name).find('#').unwrap() as f64)
        .collect();
    assert!(
        (on[1] / on[0] - zones[1].1 / zones[0].1).abs() < 0.06,
        "{text}"
    );
    let off: Vec<f64> = zones
        .iter()
        .map(|(name, _, _)| row(end, name).rfind(['#', '=', '|']).unwrap() as f64)
        .collect();
    assert!(
        (off[1] / off[0] - zones[1].2 / zones[0].2).abs() < 0.15,
        "{text}"
    );
}
