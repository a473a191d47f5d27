//! Diagram, ladders, lamps and chains, against the yard and what the core says of it.

use std::num::NonZeroU32;

use pilotwire::cautions::{TrunkEnds, trunk_ends};
use pilotwire::chain::timeline::chain;
use pilotwire::chain::{BoxTemperature, Draw, LinkJudgement, MainsLevel, judge};
use pilotwire::picture::{chain::chain_svg, ladder::ladder_svg, lamps::lamps_svg, yard::yard_svg};
use pilotwire::site::{LinkId, Site, Switching, ZoneId};
use roxmltree::{Document, Node};

use super::drawing;
use super::yards::{CONFIG, all, great, read};

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
        // A yard of many zones says once where test points are.
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

/// On a page of A4, 24 cm of it and 18 cm across, no letter is smaller than 7 pt; what is longer goes on on
/// the next page, as large as any.
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

fn chain_of(site: &Site) -> pilotwire::chain::timeline::Chain {
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
