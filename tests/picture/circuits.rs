//! Diagram, ladders, lamps and chains, compared with the yard and the core's results.

use std::num::NonZeroU32;

use pilotwire::chain::chain;
use pilotwire::check::check;
use pilotwire::commissioning::points;
use pilotwire::lamp_run::{TrunkEnds, trunk_ends};
use pilotwire::link::{BoxTemperature, Draw, LinkJudgement, MainsLevel, judge};
use pilotwire::picture::ladder::{ladder_svg, ladder_text};
use pilotwire::picture::yard::{yard_svg, yard_text};
use pilotwire::picture::{chain::chain_svg, lamps::lamps_svg};
use pilotwire::report::check_text;
use pilotwire::site::{LinkId, Site, Switching, ZoneId};
use roxmltree::{Document, Node};

use crate::support::read::read;
use crate::support::yards::CONFIG;

use super::drawing;
use super::yards::{all, great};

const ONE_BUILD: Draw = Draw {
    seed: 1,
    builds: NonZeroU32::MIN,
};

fn texts(svg: &str) -> String {
    let document = Document::parse(svg).unwrap();
    let all = document
        .descendants()
        .filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "text")));
    all.filter_map(|node| node.text())
        .collect::<Vec<_>>()
        .join(" ")
}

fn with_class<'a>(document: &'a Document<'a>, class: &str) -> Vec<Node<'a, 'a>> {
    let is = |node: &Node<'_, '_>| {
        node.attribute("class")
            .is_some_and(|c| c.split(' ').any(|c| c == class))
    };
    document.descendants().filter(is).collect()
}

fn number(node: &Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name).unwrap().parse().unwrap()
}

#[test]
fn a_diagram_names_every_part_of_its_yard() {
    for (name, site) in all() {
        let svg = yard_svg(&site).file();
        drawing::check(name, &svg);
        drawing::check_room(name, &svg);
        let said = texts(&svg);
        let mut wanted: Vec<String> = site
            .zones
            .iter()
            .map(|zone| format!("{},", zone.name))
            .collect();
        wanted.extend(
            site.zones
                .iter()
                .map(|zone| format!("{}:", site[zone.supply].name)),
        );
        let lengths = site
            .zones
            .iter()
            .flat_map(|zone| &zone.trunks)
            .filter_map(|trunk| trunk.cable);
        let lengths = lengths.chain(site.links.iter().filter_map(|link| link.cable));
        wanted.extend(lengths.map(|cable| format!("{}, {:.1} m", cable.gauge, cable.length_m)));
        wanted.extend(
            site.links
                .iter()
                .map(|link| format!("relay {}", link.relay.name)),
        );
        // A yard of many zones explains once where test points are.
        let full = !said.contains("the same in every zone");
        assert_eq!(full, site.zones.len() < 8, "{name}");
        // A long name goes on in the next line.
        let close = said.replace(' ', "");
        for part in wanted {
            let part = part.replace(' ', "");
            assert!(close.contains(&part), "{name}: {part} in {said}");
        }
        // As many relays as links, each with the coil's test point; fuses where they are rated.
        let coils = if full { site.links.len() } else { 0 };
        assert_eq!(said.matches("[coil TP3,").count(), coils, "{name}");
        let senses = |zone: &&pilotwire::site::Zone| matches!(zone.switching, Switching::Senses(_));
        let boards = site.zones.iter().filter(senses).count();
        assert_eq!(said.matches("board: input").count(), boards, "{name}");
    }
}

/// Yards for finding labels and test points: every kind of supply, timed and following zones, board lines, and
/// different numbers of runs.
fn labelled() -> Vec<(&'static str, Site)> {
    let mut all = all();
    for (name, text) in [
        ("whole-site", include_str!("../data/whole-site.toml")),
        ("two-runs", include_str!("../data/two_runs.toml")),
    ] {
        all.push((name, read(text)));
    }
    let plain = CONFIG[0]
        .1
        .replace("kind = \"desktop-pc\"", "kind = \"dc\"");
    assert_ne!(plain, CONFIG[0].1);
    all.push(("plain-dc", read(&plain)));
    all
}

/// The text of every zone in a diagram, without spaces, from its name on; and the key below.
fn blocks(svg: &str) -> (Vec<String>, String) {
    let document = Document::parse(svg).unwrap();
    let mut blocks: Vec<String> = Vec::new();
    let mut key = None;
    let mut named = false;
    for node in document
        .descendants()
        .filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "text")))
    {
        let text = node.text().unwrap();
        let name = node.attribute("class") == Some("name");
        if text == "supply" {
            key = Some(String::new());
        }
        match (&mut key, blocks.last_mut()) {
            (Some(key), _) => {
                key.push_str(text);
                key.push(' ');
            }
            (None, _) if name && !named => blocks.push(text.replace(' ', "")),
            (None, Some(block)) => block.push_str(&text.replace(' ', "")),
            (None, None) => {}
        }
        named = name;
    }
    (blocks, key.unwrap())
}

/// The block of a zone.
fn block_of<'a>(blocks: &'a [String], zone: &str) -> &'a str {
    let begin = format!("{zone},");
    blocks
        .iter()
        .find(|block| block.starts_with(&begin))
        .unwrap_or_else(|| panic!("{zone} in {blocks:?}"))
}

/// Numbers of test points in a text.
fn test_points(text: &str) -> Vec<u32> {
    let mut found: Vec<u32> = text
        .match_indices("TP")
        .filter_map(|(at, _)| {
            let digits = text[at + 2..].chars().take_while(char::is_ascii_digit);
            digits.collect::<String>().parse().ok()
        })
        .collect();
    found.sort_unstable();
    found.dedup();
    found
}

/// The wiring schedule leads to the place in the diagram: every zone has the labels of its own runs.
#[test]
fn a_diagram_has_the_labels_of_the_wiring_schedule() {
    let label = regex::Regex::new("[PT][0-9]+:").unwrap();
    for (name, site) in labelled() {
        let svg = yard_svg(&site).file();
        drawing::check_room(name, &svg);
        let (blocks, key) = blocks(&svg);
        assert_eq!(blocks.len(), site.zones.len(), "{name}");
        // Trunks are numbered zone by zone, each after its master.
        let mut next = 1..;
        let mut trunks = 0;
        for id in site.zones_in_order() {
            let zone = &site[id];
            let mut wanted = Vec::new();
            if let Switching::Follows(link) = zone.switching {
                wanted.push(format!("P{}:", link.0 + 1));
            }
            let cables = zone.trunks.iter().filter(|trunk| trunk.cable.is_some());
            wanted.extend(cables.filter_map(|_| next.next()).map(|n| format!("T{n}:")));
            let block = block_of(&blocks, &zone.name);
            let shown: Vec<&str> = label.find_iter(block).map(|found| found.as_str()).collect();
            assert_eq!(shown, wanted, "{name}: {block}");
            trunks += zone.trunks.len();
        }
        let said = |what: &str| key.contains(what);
        assert_eq!(said("P: pilot wires"), !site.links.is_empty(), "{name}");
        assert_eq!(said("T: lamp cables"), trunks > 0, "{name}");
    }
}

/// Exactly the test points that the commissioning sheet lists, zone by zone; in a yard of many zones their
/// kinds, in the key.
#[test]
fn a_diagram_has_the_test_points_of_the_commissioning_sheet() {
    for (name, site) in labelled() {
        let points = points(&site).unwrap();
        let listed = |zone: Option<ZoneId>| {
            let mine = points
                .iter()
                .filter(|point| zone.is_none_or(|zone| point.zone == zone));
            let names: Vec<String> = mine.map(|point| format!("{} ", point.name)).collect();
            test_points(&names.concat())
        };
        let (blocks, key) = blocks(&yard_svg(&site).file());
        if key.contains("the same in every zone") {
            assert_eq!(test_points(&key), listed(None), "{name}: {key}");
        } else {
            for (index, zone) in site.zones.iter().enumerate() {
                let block = block_of(&blocks, &zone.name);
                let shown = test_points(block);
                assert_eq!(shown, listed(Some(ZoneId(index))), "{name}: {block}");
            }
        }
        let tree = yard_text(&site, 80, false);
        let tree = tree.split("[~] supply").next().unwrap();
        assert_eq!(test_points(tree), listed(None), "{name}: {tree}");
    }
}

/// A number keeps its unit, a fuse its amperes, brackets their test points.
#[test]
fn no_line_of_a_diagram_breaks_inside_what_belongs_together() {
    for (name, site) in all() {
        let svg = yard_svg(&site).file();
        let document = Document::parse(&svg).unwrap();
        let lines = document
            .descendants()
            .filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "text")))
            .filter_map(|node| node.text());
        for line in lines {
            let last = line.split(' ').next_back().unwrap();
            assert!(
                last != "fuse"
                    && last != "relay"
                    && !last.ends_with(|c: char| c.is_ascii_digit() && !last.contains('-'))
                    || line.ends_with("TP4")
                    || last.starts_with(|c: char| c.is_ascii_alphabetic()),
                "{name}: {line}"
            );
            let open = line.matches('[').count() > line.matches(']').count();
            assert!(!open || line.ends_with(','), "{name}: {line}");
            assert!(
                !line.ends_with("[TP7,") && !line.ends_with("[TP10,"),
                "{name}: {line}"
            );
        }
    }
}

/// On a page of A4, 24 cm high and 18 cm wide, no letter is smaller than 7 pt; a longer picture continues on
/// the next page at the same size.
#[test]
fn thirty_zones_are_legible_on_a_page_of_paper() {
    for (name, site) in great() {
        let chain = chain_of(&site);
        for svg in [yard_svg(&site).file(), chain_svg(&site, &chain).file()] {
            let document = Document::parse(&svg).unwrap();
            let root = document.root_element();
            let high: f64 = root.attribute("height").unwrap().parse().unwrap();
            let (letter, most) = match root.attribute("class") {
                Some("pwp") => (9.5, 240.0),
                Some("pwp tall") => (11.5, 240.0),
                _ => (9.5, f64::INFINITY),
            };
            let pt = (most / high).min(180.0 / 420.0) / 25.4 * 72.0;
            assert!(letter * pt >= 7.0, "{name}: {:.1} pt", letter * pt);
            drawing::check(name, &svg);
            drawing::check_room(name, &svg);
        }
    }
}

/// One line runs from the height of every master to the height of each of its slaves.
#[test]
fn a_diagram_joins_every_slave_to_its_master() {
    for (name, site) in great() {
        let svg = yard_svg(&site).file();
        let document = Document::parse(&svg).unwrap();
        let ends: usize = with_class(&document, "wire")
            .iter()
            .filter_map(|node| node.attribute("d"))
            // Down a lane: out of the master's supply, then once into every slave.
            .filter(|d| d.contains('V'))
            .map(|d| d.matches('H').count() - 1)
            .sum();
        assert_eq!(ends, site.links.len(), "{name}");
    }
}

/// Lines of threshold and limit give the scale; every disc must then stand at its coil's voltage.
#[test]
fn a_ladder_puts_the_coil_where_the_simulation_does() {
    for (name, text) in CONFIG {
        let site = read(text);
        let judged = judge(&site, ONE_BUILD).unwrap();
        let links: Vec<(LinkId, &LinkJudgement)> = judged
            .iter()
            .enumerate()
            .map(|(n, j)| (LinkId(n), j))
            .collect();
        let svg = ladder_svg(&site, &links).file();
        drawing::check(name, &svg);
        drawing::check_room(name, &svg);
        for (id, judgement) in links {
            let svg = ladder_svg(&site, &[(id, judgement)]).file();
            let document = Document::parse(&svg).unwrap();
            // Release, hold, operate, limit, from below.
            let levels: Vec<f64> = with_class(&document, "level")
                .iter()
                .map(|node| {
                    let d = node.attribute("d").unwrap();
                    d.split([' ', 'H']).nth(1).unwrap().parse().unwrap()
                })
                .collect();
            assert_eq!(levels.len(), 4, "{name}");
            let case = judgement.case(MainsLevel::Nominal, BoxTemperature::Typical);
            let limit_v = site[id].relay.max_coil_v;
            let per_volt = (levels[0] - levels[3]) / (limit_v - case.release_v);
            let place = |volts: f64| levels[0] - (volts - case.release_v) * per_volt;
            for (level, volts) in
                levels
                    .iter()
                    .zip([case.release_v, case.hold_v, case.operate_v, limit_v])
            {
                assert!(
                    (level - place(volts)).abs() < 0.2,
                    "{name}: {level} {volts}"
                );
            }
            let coils = MainsLevel::ALL
                .map(|level| judgement.case(level, BoxTemperature::Typical).dusk.coil_v);
            let wanted = std::iter::once(case.residual_v).chain(coils);
            let discs = with_class(&document, "solid");
            for (disc, volts) in discs.iter().zip(wanted) {
                assert!(
                    (number(disc, "cy") - place(volts)).abs() < 0.2,
                    "{name}: {volts} V"
                );
            }
        }
    }
}

/// Its heading is the result of `check` with its case, not a result for the evening drawn.
#[test]
fn a_ladder_is_headed_by_what_check_says() {
    let from = "2027-01-01".parse().unwrap();
    let mut not_at_the_worst = 0;
    // So long that it works only on an ordinary evening.
    let far = CONFIG[0].1.replace("\"240 ft\"", "\"1900 ft\"");
    for (name, text) in CONFIG.into_iter().chain([("far", far.as_str())]) {
        let site = read(text);
        let check = check(&site, from, ONE_BUILD).unwrap();
        let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let report = words(&check_text(&site, &check, false));
        for (index, judgement) in check.links.iter().enumerate() {
            let id = LinkId(index);
            let said = words(&texts(&ladder_svg(&site, &[(id, judgement)]).file()));
            let (does, rest) = said.split_once("; least margin ").unwrap();
            let (least, _) = rest.split_once(" drawn: ").unwrap();
            let does = does.split_once(" bears ").unwrap().1;
            let line = report.split(&site.link_name(&site[id])).nth(1).unwrap();
            assert!(line.contains(&format!(", {does}: dusk ")), "{name}: {does}");
            assert!(line.contains(&format!("least {least}")), "{name}: {least}");
            not_at_the_worst += usize::from(does.ends_with(", not at the worst"));
            let characters = words(&ladder_text(&site, &[(id, judgement)], 80, false));
            assert!(
                characters.contains(&format!("{does}; least margin {least}")),
                "{name}"
            );
        }
    }
    assert!(not_at_the_worst > 0);
}

#[test]
fn a_lamp_strip_has_every_lamp_at_its_volts() {
    for (name, site) in all() {
        let svg = lamps_svg(&site).file();
        drawing::check(name, &svg);
        drawing::check_room(name, &svg);
        let document = Document::parse(&svg).unwrap();
        let mut said: Vec<String> = with_class(&document, "solid")
            .into_iter()
            .chain(with_class(&document, "hollow"))
            .filter_map(|node| node.first_element_child()?.text().map(str::to_owned))
            .collect();
        let mut wanted = Vec::new();
        for (zone, of) in site.zones.iter().enumerate() {
            for trunk in of.trunks.iter().filter(|trunk| !trunk.lamps.is_empty()) {
                let ends = trunk_ends(&site, ZoneId(zone), trunk, MainsLevel::Nominal);
                if let TrunkEnds::Lit { lamp_v, .. } = ends {
                    wanted.extend(lamp_v.iter().enumerate().map(|(lamp, v)| {
                        let v = format!("{v:.2}");
                        format!("lamp {}: {} V", lamp + 1, v.strip_suffix('0').unwrap_or(&v))
                    }));
                }
            }
        }
        said.sort();
        wanted.sort();
        assert_eq!(said, wanted, "{name}");
    }
}

fn chain_of(site: &Site) -> pilotwire::chain::Chain {
    chain(site, &judge(site, ONE_BUILD).unwrap())
}

#[test]
fn a_chain_says_when_every_zone_is_lit_and_dark() {
    let yards: Vec<_> = CONFIG
        .iter()
        .map(|(name, text)| (*name, read(text)))
        .collect();
    for (name, site) in yards.into_iter().chain(great().into_iter().skip(2)) {
        let chain = chain_of(&site);
        let svg = chain_svg(&site, &chain).file();
        drawing::check(name, &svg);
        drawing::check_room(name, &svg);
        let said = texts(&svg);
        for zone in chain.zones.iter().filter(|zone| zone.master.is_some()) {
            for seconds in [zone.lit_after.typical_s, zone.dark_after.typical_s]
                .into_iter()
                .flatten()
            {
                assert!(
                    said.contains(&format!("{seconds:.2} s")),
                    "{name}: {seconds}"
                );
            }
            assert_eq!(
                zone.lit_after.typical_s.is_none(),
                said.contains("stays dark"),
                "{name}"
            );
        }
    }
}

/// Names of any length appear in full, one after another, and touch nothing.
#[test]
fn a_chain_has_its_names_in_full() {
    let long = "the-gate-at-the-end-of-the-lower-garden-where-the-old-wall-stood";
    assert_eq!(long.len(), 64);
    for names in [
        ["orchard", "walk"],
        ["lower-garden-wall", "front-walk"],
        ["behind-the-old-glasshouse", "front-walk-at-the-pond"],
        [long, "the-walk"],
        [&long.replace('-', "_"), "walk"],
    ] {
        let text = CONFIG[0]
            .1
            .replace("\"orchard\"", &format!("{:?}", names[0]));
        let text = text.replace("\"walk\"", &format!("{:?}", names[1]));
        let site = read(&text);
        let svg = chain_svg(&site, &chain_of(&site)).file();
        drawing::check(names[0], &svg);
        drawing::check_room(names[0], &svg);
        let said = texts(&svg).replace(' ', "");
        for name in names {
            assert_eq!(said.matches(name).count(), 2, "{name}: {said}");
        }
    }
    for (name, site) in great() {
        let svg = chain_svg(&site, &chain_of(&site)).file();
        let said = texts(&svg).replace(' ', "");
        for zone in &site.zones {
            assert!(
                said.matches(&zone.name).count() >= 2,
                "{name}: {}",
                zone.name
            );
        }
    }
}

/// A bar begins where its zone is lit: places on the axis are proportional to the seconds.
#[test]
fn bars_of_a_chain_begin_in_proportion() {
    let site = read(CONFIG[1].1);
    let chain = chain_of(&site);
    let svg = chain_svg(&site, &chain).file();
    let document = Document::parse(&svg).unwrap();
    let bars: Vec<f64> = with_class(&document, "bar")
        .iter()
        .map(|node| number(node, "x"))
        .collect();
    let seconds: Vec<f64> = chain
        .zones
        .iter()
        .filter_map(|zone| zone.lit_after.typical_s)
        .collect();
    let zero = bars[0];
    assert!(seconds[0].abs() < 1e-9);
    let ratio = (bars[2] - zero) / (bars[1] - zero);
    assert!((ratio - seconds[2] / seconds[1]).abs() < 0.01, "{ratio}");
}
