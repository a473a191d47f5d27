//! The yard as a one-line diagram: supplies, runs, lamps, pilot wires, relays, test points.
//!
//! ```text
//!   ┬ house            timed
//!   ├─▣ supply, TP1
//!   │ └▭────●────○────●
//!   │      run, fuse, TP7, TP8
//!   │ fence            follows house
//!   └─▢ pilot wire, relay, TP2 TP3 TP4
//!     ▣ supply, TP6
//!     └▭──●──○──○─────●
//! ```
//!
//! Zones are below one another, masters before slaves; pilot wires run down lanes at the left. So a chain or a
//! star of any size is as wide as a telephone. Among the slaves of one zone, the one with the longest tail
//! comes last: this needs no more lanes than the logarithm of the number of zones.
//!
//! A yard too long for a page of paper gets two lines per zone instead, and what all its links have in common
//! is printed once.
//!
//! Test points have the numbers of the zone's commissioning sheet.

use std::fmt::Write;

use maud::html;

use super::document::{Part, Picture, TALLEST};
use super::look::{EDGE, LINE, WIDE, broken, heading};
use crate::site::{Fuse, RunLabels, Site, Switching, Trunk, ZoneId};

mod drawn;
mod lanes;
mod points;
mod rows;
mod tree;
mod words;

pub use tree::yard_text;

use drawn::{block_drawn, key, wire_drawn};
use lanes::{assigned, lanes_needed, order, spans};
use words::{board_said, labelled, link_said, supply_said, trunk_said};

/// Distance between two lanes.
const LANE: f64 = 7.0;

/// Width of a symbol and the space after it.
const SYMBOL: f64 = 34.0;

/// The symbol at the left of a piece of text.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Symbol {
    /// Coil and contact at the end of a pilot wire.
    Relay,
    /// Input and output of a board.
    Board,
    /// A source of 12 V.
    Supply,
    /// A fuse, if there is one, and lamps.
    Run {
        fused: bool,
    },
    /// The same without individual lamps.
    ShortRun {
        fused: bool,
    },
    Nothing,
}

impl Symbol {
    fn run(trunk: &Trunk) -> Self {
        let fused = matches!(trunk.fuse, Fuse::Rated(_));
        Self::Run { fused }
    }
}

/// A part of a zone, and its text.
struct Told {
    symbol: Symbol,
    text: String,
    /// Places of a run's lamps from the supply on, as fractions of the run.
    lamps: Vec<f64>,
}

/// A symbol with its text.
struct Piece {
    symbol: Symbol,
    /// From the left edge of the symbols.
    x: f64,
    /// Middle of the symbol.
    y: f64,
    lines: Vec<String>,
    /// Left edge of the text, from the left edge of the symbols, and the middle of its first line.
    text: (f64, f64),
    lamps: Vec<f64>,
}

/// A zone and its place.
struct Block {
    zone: ZoneId,
    name: Vec<String>,
    /// Left edge of its name, from the left edge of the symbols.
    name_x: f64,
    top: f64,
    pieces: Vec<Piece>,
    /// Distance from one line of text to the next.
    pitch: f64,
    bottom: f64,
}

impl Block {
    /// Height of its supply.
    fn supply_y(&self) -> f64 {
        let supply = self
            .pieces
            .iter()
            .find(|piece| piece.symbol == Symbol::Supply);
        supply.map_or(self.top, |piece| piece.y)
    }

    /// Height of the relay, or the board, that switches it.
    fn told_y(&self) -> Option<f64> {
        let told = |piece: &&Piece| matches!(piece.symbol, Symbol::Relay | Symbol::Board);
        self.pieces.iter().find(told).map(|piece| piece.y)
    }
}

/// A wire from a zone to its followers.
struct Wire {
    from_y: f64,
    to: Vec<f64>,
    board: bool,
    lane: usize,
}

/// The diagram of a yard.
pub fn yard_svg(site: &Site) -> Picture {
    let order = order(site);
    let left = EDGE + lanes_needed(site, &order) as f64 * LANE + 4.0;
    let full = drawn(site, &order, left, Detail::Full);
    if full.high() <= TALLEST {
        return full;
    }
    drawn(site, &order, left, Detail::Rows)
}

/// How much of a zone is printed, and how.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Detail {
    /// Everything, with test points.
    Full,
    /// Only the differences, in two lines.
    Rows,
}

fn drawn(site: &Site, order: &[ZoneId], left: f64, detail: Detail) -> Picture {
    let title = format!("{}: the yard", site.name);
    let common = rows::common(site);
    let labels = RunLabels::of(site);
    let mut subtitle = String::from("one line for every pair of wires; lengths one way");
    if let (Detail::Rows, Some(common)) = (detail, &common) {
        let _ = write!(subtitle, "; every pilot wire ends in {common}");
    }
    let (head, top) = heading(&title, &subtitle);
    let mut y = top + 8.0;
    let mut blocks = Vec::new();
    for zone in order {
        let block = match detail {
            Detail::Full => block(site, &labels, *zone, y, left),
            Detail::Rows => rows::block(site, &labels, *zone, (y, left), common.is_some()),
        };
        y = block.bottom;
        blocks.push(block);
    }
    let wires = wires(site, &blocks);
    let mut said = key_said(site, order, detail);
    if detail == Detail::Full {
        said.push_str("; TP7 and TP8 are the first and the last lamp, filled");
    }
    let (key, end) = key(y + 4.0, &said);
    let mut parts = vec![Part {
        drawn: head,
        until: top,
    }];
    parts.extend(blocks.iter().map(|block| Part {
        drawn: block_drawn(block, left),
        until: block.bottom,
    }));
    parts.push(Part {
        drawn: key,
        until: end + 2.0,
    });
    Picture::of_parts(&title, &described(site, &labels, order), parts)
        .crossed(html! { @for wire in &wires { (wire_drawn(wire, left)) } })
}

/// Explains labels and test points.
fn key_said(site: &Site, order: &[ZoneId], detail: Detail) -> String {
    let mut runs = Vec::new();
    if !site.links.is_empty() {
        runs.push("P: pilot wires");
    }
    if site.zones.iter().any(|zone| !zone.trunks.is_empty()) {
        runs.push("T: lamp cables");
    }
    let mut said = runs.join(", ");
    if !runs.is_empty() {
        said.push_str(", by the labels of the wiring schedule; ");
    }
    if detail == Detail::Full {
        said.push_str("TP: test points of the commissioning sheet, counted anew in every zone");
        return said;
    }
    let has: Vec<u32> = order
        .iter()
        .flat_map(|zone| points::of_zone(site, *zone))
        .collect();
    let places: Vec<String> = points::PLACES
        .iter()
        .filter(|(number, _)| has.contains(number))
        .map(|(number, place)| format!("TP{number} {place}"))
        .collect();
    let _ = write!(
        said,
        "test points of the commissioning sheet are the same in every zone: {}",
        places.join(", ")
    );
    said
}

fn wires(site: &Site, blocks: &[Block]) -> Vec<Wire> {
    let order: Vec<ZoneId> = blocks.iter().map(|block| block.zone).collect();
    let of = |zone: ZoneId| blocks.iter().find(|block| block.zone == zone);
    let mut wires: Vec<Wire> = spans(site, &order)
        .into_iter()
        .map(|(master, to, board)| Wire {
            from_y: of(master).map_or(0.0, |block| {
                block.supply_y() + if board { 3.0 } else { 0.0 }
            }),
            to: to
                .into_iter()
                .filter_map(|zone| of(zone)?.told_y())
                .collect(),
            board,
            lane: 0,
        })
        .collect();
    let spans: Vec<(f64, f64)> = wires
        .iter()
        .map(|wire| (wire.from_y, wire.to.iter().copied().fold(0.0, f64::max)))
        .collect();
    for (wire, lane) in wires.iter_mut().zip(assigned(&spans)) {
        wire.lane = lane;
    }
    wires
}

/// All parts of a zone, in the order in which power and signal reach its lamps.
fn parts(site: &Site, labels: &RunLabels, id: ZoneId) -> Vec<Told> {
    let zone = &site[id];
    let part = |symbol, text| Told {
        symbol,
        text,
        lamps: Vec::new(),
    };
    let mut parts = Vec::new();
    match zone.switching {
        // Its own timer switches it.
        Switching::Timed(_) if site.output_of(id).is_none() => {}
        Switching::Follows(link) => {
            let label = RunLabels::pair(link);
            let said = labelled(Some(&label), &link_said(&site[link]));
            parts.push(part(Symbol::Relay, said));
        }
        Switching::Timed(_) | Switching::Senses(_) => {
            parts.push(part(Symbol::Board, board_said(site, id, true)));
        }
    }
    parts.push(part(Symbol::Supply, supply_said(site, id)));
    let has_lamps = |trunk: &&Trunk| !trunk.lamps.is_empty();
    let several = zone.trunks.iter().filter(has_lamps).count() > 1;
    let mut numbers = 1..;
    parts.extend(labels.trunks(site, id).map(|(label, trunk)| {
        let number = numbers.by_ref();
        let number = Some(trunk).filter(has_lamps).and_then(|_| number.next());
        Told {
            symbol: Symbol::run(trunk),
            text: labelled(label, &trunk_said(trunk, number.filter(|_| several))),
            lamps: lamp_places(trunk),
        }
    }));
    parts
}

fn block(site: &Site, labels: &RunLabels, id: ZoneId, top: f64, left: f64) -> Block {
    let zone = &site[id];
    let room = WIDE - EDGE - left - SYMBOL;
    let name = broken(
        &format!("{}, {}", zone.name, site.how_switched(id)),
        WIDE - EDGE - left - 8.0,
    );
    let mut y = top + LINE * name.len() as f64;
    let mut pieces = Vec::new();
    for part in parts(site, labels, id) {
        let middle = y + LINE - 4.0;
        let below = match part.symbol {
            Symbol::Run { .. } => LINE,
            _ => 0.0,
        };
        let lines = broken(&part.text, room);
        y += LINE * lines.len() as f64 + below + 2.0;
        pieces.push(Piece {
            symbol: part.symbol,
            x: 0.0,
            y: middle,
            lines,
            text: (SYMBOL, middle + below),
            lamps: part.lamps,
        });
    }
    Block {
        zone: id,
        name,
        name_x: 0.0,
        top,
        pieces,
        pitch: LINE,
        bottom: y + LINE - 4.0,
    }
}

/// Lamps along a run, as fractions of its length; evenly spread where no cable is stated.
fn lamp_places(trunk: &Trunk) -> Vec<f64> {
    let count = trunk.distances_m.len() as f64;
    let even = |lamp: usize| (lamp as f64 + 1.0) / count;
    trunk
        .distances_m
        .iter()
        .enumerate()
        .map(|(lamp, distance_m)| match trunk.cable {
            Some(cable) if cable.length_m > 0.0 => (distance_m / cable.length_m).min(1.0),
            _ => even(lamp),
        })
        .collect()
}

/// The diagram in words.
fn described(site: &Site, labels: &RunLabels, order: &[ZoneId]) -> String {
    let mut out = String::new();
    for zone in order {
        let _ = write!(out, "{}, {}: ", site[*zone].name, site.how_switched(*zone));
        for part in parts(site, labels, *zone) {
            let _ = write!(out, "{}; ", part.text);
        }
    }
    if site.zones.is_empty() {
        out.push_str("No zones.");
    }
    out
}
