//! Built-in yards to rehearse: those of the demo files, with lines and inputs on a board.

use crate::civil_time::{SiteZone, ZoneError};
use crate::site::{
    Bias, IfSilent, Input, Line, OnDoubtfulClock, Output, Sensing, Site, Switching, ZoneId, read,
};

/// The built-in yards and what is special about each, in 46 letters at most.
pub const NAMES: [(&str, &str); 9] = [
    ("pair", "walk has a line; orchard follows, with input"),
    (
        "pair-own-line",
        "orchard has a line of its own, and a curfew",
    ),
    (
        "pair-no-line",
        "walk has a timer of its own; both have inputs",
    ),
    ("far-board", "board at orchard follows the input of walk"),
    (
        "far-board-plan",
        "the same; if that input is silent, by plan",
    ),
    ("pair-slow", "long least times; by plan with clock in doubt"),
    ("chain", "three: the head has a line, the others inputs"),
    (
        "chain-own-line",
        "the last has line and curfew; doubt: as it was",
    ),
    (
        "two-heads",
        "both have lines, and go on one after the other",
    ),
];

const PAIR: &str = include_str!("../../config/linked-pair.toml");
const CHAIN: &str = include_str!("../../config/chain-of-three.toml");

fn zone(site: &Site, name: &str) -> ZoneId {
    let index = site.zones.iter().position(|zone| zone.name == name);
    ZoneId(index.expect("a zone of the demo yard"))
}

/// Gives every zone that is switched by the clock and has no line one, and every other zone an input.
pub fn wire(site: &mut Site) {
    for zone in (0..site.zones.len()).map(ZoneId) {
        match site[zone].switching {
            Switching::Timed(_) if site.output_of(zone).is_none() => output(site, zone),
            Switching::Follows(_) if site.input_of(zone).is_none() => input(site, zone),
            _ => {}
        }
    }
}

fn output(site: &mut Site, zone: ZoneId) {
    site.outputs.push(Output {
        zone,
        chip: "rehearsal".into(),
        line: Line::Offset(u32::try_from(zone.0).unwrap_or(0)),
        active_low: false,
        dark_at_reset: None,
    });
}

fn input(site: &mut Site, zone: ZoneId) {
    site.inputs.push(Input {
        zone,
        chip: "rehearsal".into(),
        line: Line::Offset(64 + u32::try_from(zone.0).unwrap_or(0)),
        active_low: false,
        bias: Bias::PullUp,
        debounce_s: 0.02,
    });
}

/// A built-in yard; `None` if there is none of that name.
///
/// # Panics
/// If the demo files do not resolve, which their tests forbid.
pub fn yard(name: &str, open: &dyn Fn(&str) -> Result<SiteZone, ZoneError>) -> Option<Site> {
    let (kind, _) = NAMES.iter().find(|(known, _)| *known == name)?;
    let text = if kind.starts_with("chain") {
        CHAIN
    } else {
        PAIR
    };
    let mut site = read(text.as_bytes(), name, open).ok()?;
    let curfew = |hour, minute| chrono::NaiveTime::from_hms_opt(hour, minute, 0);
    if kind.starts_with("chain") {
        wire(&mut site);
        if *kind == "chain-own-line" {
            let gate = zone(&site, "gate");
            output(&mut site, gate);
            site.zones[gate.0].curfew = curfew(22, 30);
            site.daemon.on_doubtful_clock = OnDoubtfulClock::Last;
        }
        return Some(site);
    }
    let (walk, orchard) = (zone(&site, "walk"), zone(&site, "orchard"));
    match *kind {
        "pair-own-line" => {
            wire(&mut site);
            input(&mut site, walk);
            output(&mut site, orchard);
            site.zones[orchard.0].curfew = curfew(22, 0);
        }
        "pair-no-line" => {
            input(&mut site, walk);
            input(&mut site, orchard);
        }
        "far-board" | "far-board-plan" => {
            site.links.clear();
            site.zones[orchard.0].switching = Switching::Senses(Sensing {
                master: walk,
                on_delay_s: 2.0,
                off_delay_s: 5.0,
                if_silent: if *kind == "far-board" {
                    IfSilent::Dark
                } else {
                    IfSilent::Schedule
                },
                silent_after_s: 600.0,
            });
            input(&mut site, walk);
            output(&mut site, orchard);
        }
        "pair-slow" => {
            wire(&mut site);
            site.daemon.on_doubtful_clock = OnDoubtfulClock::Schedule;
            site.daemon.stagger_s = 3.0;
            for zone in &mut site.zones {
                zone.minimum_lit_s = 20.0;
                zone.minimum_dark_s = 15.0;
            }
        }
        "two-heads" => {
            site.links.clear();
            site.zones[orchard.0].switching = site[walk].switching.clone();
            wire(&mut site);
            input(&mut site, walk);
            site.daemon.stagger_s = 2.0;
        }
        _ => wire(&mut site),
    }
    Some(site)
}
