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
//! One zone below the other, each after its master; pilot wires run down lanes at the left. So a chain
//! and a star of any size are as wide as a telephone. Of the slaves of one zone the one with the longest
//! tail comes last, which keeps the lanes few: no more than the logarithm of the zones.
//!
//! Test points have the numbers of the commissioning sheet in every zone.

use std::fmt::Write;

use maud::{Markup, html};

use super::lamps::run_said;
use super::look::{EDGE, LETTER, LINE, Picture, WIDE, broken, heading, number};
use crate::circuit::rectifier::Rectifier;
use crate::site::{
    Cable, Fuse, Line, Link, Sensing, Site, Supply, SupplyKind, SupplyOutput, Switching, Trunk,
    Zone, ZoneId,
};
use crate::wording::{amps, volts};

/// Between two lanes.
const LANE: f64 = 9.0;

/// Width of a symbol.
const SYMBOL: f64 = 34.0;

/// Between two lamps of a run, at least; those nearer are not drawn one by one.
const LAMP: f64 = 7.0;

/// Feet in a metre.
const FEET: f64 = 1.0 / 0.3048;

/// What stands at the left of a piece of text.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Symbol {
    /// Coil and contact at the end of a pilot wire.
    Relay,
    /// Input and output of a board.
    Board,
    /// A source of 12 V.
    Supply,
    /// A fuse, if there is one, and lamps.
    Run { fused: bool },
}

/// A symbol with its text.
struct Piece {
    symbol: Symbol,
    lines: Vec<String>,
    /// Middle of the symbol.
    y: f64,
    /// Middle of the first line of text: beside the symbol, or below a run.
    text_y: f64,
    /// Where the lamps of a run are, from the supply on, as a part of the run.
    lamps: Vec<f64>,
}

/// A zone and where it is drawn.
struct Block {
    zone: ZoneId,
    name: Vec<String>,
    top: f64,
    pieces: Vec<Piece>,
}

impl Block {
    /// Where its supply is.
    fn supply_y(&self) -> f64 {
        let supply = self
            .pieces
            .iter()
            .find(|piece| piece.symbol == Symbol::Supply);
        supply.map_or(self.top, |piece| piece.y)
    }

    /// Where it is told to go on: a relay, or a board.
    fn told_y(&self) -> Option<(f64, Symbol)> {
        let told = |piece: &&Piece| matches!(piece.symbol, Symbol::Relay | Symbol::Board);
        self.pieces
            .iter()
            .find(told)
            .map(|piece| (piece.y, piece.symbol))
    }
}

/// A wire from a zone to those that follow it.
struct Wire {
    from_y: f64,
    to: Vec<f64>,
    board: bool,
    lane: usize,
}

/// The diagram of a yard.
pub fn yard_svg(site: &Site) -> Picture {
    let title = format!("{}: the yard", site.name);
    let (head, top) = heading(&title, "one line for every pair of wires; lengths one way");
    let order = order(site);
    let lanes = lanes_needed(site, &order);
    let left = EDGE + lanes as f64 * LANE + 4.0;
    let mut y = top + 8.0;
    let mut blocks = Vec::new();
    for zone in &order {
        let block = block(site, *zone, y, left);
        y = block
            .pieces
            .iter()
            .map(|piece| piece.text_y + LINE * (piece.lines.len() as f64 - 1.0))
            .fold(block.top, f64::max)
            + LINE
            + 2.0;
        blocks.push(block);
    }
    let wires = wires(site, &blocks);
    let (key, end) = key(y + 4.0);
    let body = html! {
        (head)
        @for wire in &wires { (wire_drawn(wire, left)) }
        @for block in &blocks { (block_drawn(block, left)) }
        (key)
    };
    Picture::new(&title, &described(site, &blocks), end + 2.0, body)
}

/// Those that follow a zone.
fn followers(site: &Site, master: ZoneId) -> impl Iterator<Item = ZoneId> {
    (0..site.zones.len())
        .map(ZoneId)
        .filter(move |zone| site.master_of(*zone) == Some(master))
}

/// How many zones hang on a zone, itself counted.
fn weight(site: &Site, zone: ZoneId) -> usize {
    1 + followers(site, zone)
        .map(|zone| weight(site, zone))
        .sum::<usize>()
}

/// Every zone after its master; of siblings the heaviest last.
fn order(site: &Site) -> Vec<ZoneId> {
    fn visit(site: &Site, zone: ZoneId, order: &mut Vec<ZoneId>) {
        order.push(zone);
        let mut slaves: Vec<ZoneId> = followers(site, zone).collect();
        slaves.sort_by_key(|slave| weight(site, *slave));
        for slave in slaves {
            visit(site, slave, order);
        }
    }
    let mut order = Vec::new();
    let heads = (0..site.zones.len()).map(ZoneId);
    for head in heads.filter(|zone| site.master_of(*zone).is_none()) {
        visit(site, head, &mut order);
    }
    order
}

fn is_board(site: &Site, zone: ZoneId) -> bool {
    matches!(site[zone].switching, Switching::Senses(_))
}

/// Lanes that the wires of an order need.
fn lanes_needed(site: &Site, order: &[ZoneId]) -> usize {
    let place = |zone: ZoneId| order.iter().position(|at| *at == zone).unwrap_or(0) as f64;
    let spans: Vec<(f64, f64)> = spans(site, order)
        .into_iter()
        .map(|(master, to, _)| {
            let last = to.iter().map(|zone| place(*zone)).fold(0.0, f64::max);
            (place(master) + 0.5, last)
        })
        .collect();
    assigned(&spans)
        .into_iter()
        .max()
        .map_or(0, |lane| lane + 1)
}

/// Every zone with followers: pilot wires and board wires apart.
fn spans(site: &Site, order: &[ZoneId]) -> Vec<(ZoneId, Vec<ZoneId>, bool)> {
    let mut spans = Vec::new();
    for master in order {
        for board in [false, true] {
            let to: Vec<ZoneId> = followers(site, *master)
                .filter(|zone| is_board(site, *zone) == board)
                .collect();
            if !to.is_empty() {
                spans.push((*master, to, board));
            }
        }
    }
    spans
}

/// A lane for every span, so that no two in one lane meet.
fn assigned(spans: &[(f64, f64)]) -> Vec<usize> {
    let mut busy: Vec<f64> = Vec::new();
    spans
        .iter()
        .map(|(from, to)| {
            let free = busy.iter().position(|until| until < from);
            let lane = free.unwrap_or(busy.len());
            if free.is_none() {
                busy.push(*to);
            }
            busy[lane] = *to;
            lane
        })
        .collect()
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
                .filter_map(|zone| of(zone)?.told_y().map(|(y, _)| y))
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

fn block(site: &Site, id: ZoneId, top: f64, left: f64) -> Block {
    let zone = &site[id];
    let room = WIDE - EDGE - left - SYMBOL;
    let how = match zone.switching {
        Switching::Timed(_) => "timed".into(),
        Switching::Follows(link) => format!("follows {}", site[site[link].master].name),
        Switching::Senses(sensing) => format!("follows the input of {}", site[sensing.master].name),
    };
    let name = broken(&format!("{}, {how}", zone.name), WIDE - EDGE - left - 8.0);
    let mut y = top + LINE * name.len() as f64;
    let mut pieces = Vec::new();
    let mut piece = |symbol: Symbol, text: &str, lamps: Vec<f64>| {
        let middle = y + LINE - 4.0;
        let below = if matches!(symbol, Symbol::Run { .. }) {
            LINE
        } else {
            0.0
        };
        let lines = broken(text, room);
        y += LINE * lines.len() as f64 + below + 2.0;
        pieces.push(Piece {
            symbol,
            lines,
            y: middle,
            text_y: middle + below,
            lamps,
        });
    };
    match zone.switching {
        Switching::Timed(_) => {}
        Switching::Follows(link) => piece(Symbol::Relay, &link_said(&site[link]), Vec::new()),
        Switching::Senses(sensing) => {
            piece(Symbol::Board, &board_said(site, id, &sensing), Vec::new());
        }
    }
    let mine = |other: &&Zone| other.supply == zone.supply;
    let shared = site.zones.iter().filter(mine).count() > 1;
    let supply = supply_said(site, &site[zone.supply], shared);
    piece(Symbol::Supply, &supply, Vec::new());
    for trunk in &zone.trunks {
        let fused = matches!(trunk.fuse, Fuse::Rated(_));
        piece(
            Symbol::Run { fused },
            &trunk_said(trunk),
            lamp_places(trunk),
        );
    }
    Block {
        zone: id,
        name,
        top,
        pieces,
    }
}

/// Lamps along a run, as parts of its length; evenly spread where no cable is stated.
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

/// Places of the lamps to draw, from far to near: those that would touch the one behind move up, as far as
/// there is room.
fn lamps_drawn(lamps: &[f64], from: f64, to: f64) -> Vec<f64> {
    let mut places: Vec<f64> = Vec::new();
    for lamp in lamps.iter().rev() {
        let place = from + lamp * (to - from);
        let place = places.last().map_or(place, |last| place.min(last - LAMP));
        if place < from {
            break;
        }
        places.push(place);
    }
    places
}

/// `22 AWG, 73.2 m (240 ft)`.
fn cable_said(cable: &Cable) -> String {
    format!(
        "{}, {:.1} m ({:.0} ft)",
        cable.gauge,
        cable.length_m,
        cable.length_m * FEET
    )
}

fn fuse_said(fuse: Fuse) -> String {
    match fuse {
        Fuse::NotStated => "fuse not stated".into(),
        Fuse::None => "no fuse".into(),
        Fuse::Rated(rated_a) => format!("fuse {}", amps(rated_a)),
    }
}

fn link_said(link: &Link) -> String {
    let mut said = String::from("pilot wire ");
    match (&link.cable, link.measured_loop_ohm) {
        (Some(cable), _) => said.push_str(&cable_said(cable)),
        (None, Some(ohm)) => {
            let _ = write!(said, "of {ohm} ohm, measured");
        }
        (None, None) => said.push_str("not stated"),
    }
    let _ = write!(said, ", {}", fuse_said(link.fuse));
    if link.splices > 0 {
        let plural = if link.splices == 1 { "" } else { "s" };
        let _ = write!(said, ", {} splice{plural}", link.splices);
    }
    said.push_str(" [TP10, TP11]; ");
    if link.series_ohm > 0.0 {
        let _ = write!(said, "{} ohm, ", link.series_ohm);
    }
    match link.rectifier {
        Rectifier::Bridge => said.push_str("bridge [TP2], "),
        Rectifier::SingleDiode => said.push_str("one diode [TP2], "),
        Rectifier::None => said.push_str("no rectifier [TP2], "),
    }
    if let Some(capacitor) = link.capacitor {
        let _ = write!(said, "{:.0} µF, ", capacitor.farad * 1e6);
    }
    let _ = write!(said, "relay {} [coil TP3, contact TP4]", link.relay.name);
    said
}

fn line_said(line: &Line) -> String {
    match line {
        Line::Offset(offset) => format!("line {offset}"),
        Line::Named(name) => name.clone(),
    }
}

fn board_said(site: &Site, zone: ZoneId, sensing: &Sensing) -> String {
    let input = site.input_of(sensing.master).map_or_else(
        || "input".into(),
        |input| format!("input {} {}", input.chip, line_said(&input.line)),
    );
    let output = site.output_of(zone).map_or_else(
        || "output".into(),
        |output| format!("output {} {}", output.chip, line_said(&output.line)),
    );
    format!("board: {input} [TP10], {output} [TP4]")
}

fn supply_said(site: &Site, supply: &Supply, shared: bool) -> String {
    let kind = match supply.kind {
        SupplyKind::Transformer => "transformer",
        SupplyKind::Dc => "DC supply",
        SupplyKind::DesktopPc => "desktop-PC supply",
    };
    let output = match supply.output {
        SupplyOutput::Ac {
            full_load_v,
            rated_va,
            ..
        } => format!("{} V AC, {rated_va:.0} VA", volts(full_load_v)),
        SupplyOutput::Dc {
            voltage_v,
            max_a: Some(max_a),
            ..
        } => format!("{} V DC, {}", volts(voltage_v), amps(max_a)),
        SupplyOutput::Dc { voltage_v, .. } => format!("{} V DC", volts(voltage_v)),
    };
    let points = match supply.kind {
        SupplyKind::Transformer => "[TP1]",
        SupplyKind::Dc => "[TP6]",
        SupplyKind::DesktopPc => "[remote-on TP5, rail TP6, standby TP9]",
    };
    let shared = if shared { ", shared" } else { "" };
    let mains = format!("{:.0} V mains", site.mains.voltage_v);
    format!(
        "{}: {kind}{shared}, {mains} to {output} {points}",
        supply.name
    )
}

fn trunk_said(trunk: &Trunk) -> String {
    let lamps: u32 = trunk.lamps.iter().map(|group| group.count).sum();
    if lamps == 0 {
        let cable = trunk.cable.as_ref().map_or_else(String::new, cable_said);
        return format!("{cable}, {}, no lamps", fuse_said(trunk.fuse));
    }
    let points = if lamps > 1 { "[TP7, TP8]" } else { "[TP7]" };
    let feet = trunk.cable.map_or_else(String::new, |cable| {
        format!(" ({:.0} ft)", cable.length_m * FEET)
    });
    format!(
        "{}{feet}, {} {points}",
        run_said(trunk),
        fuse_said(trunk.fuse)
    )
}

fn wire_drawn(wire: &Wire, left: f64) -> Markup {
    let x = EDGE + wire.lane as f64 * LANE + 4.0;
    let last = wire.to.iter().copied().fold(wire.from_y, f64::max);
    let mut path = format!(
        "M{} {}H{}V{}",
        number(left),
        number(wire.from_y),
        number(x),
        number(last)
    );
    for y in &wire.to {
        let _ = write!(path, "M{} {}H{}", number(x), number(*y), number(left));
    }
    let class = if wire.board { "wire dashes" } else { "wire" };
    html! {
        path class=(class) d=(path) {}
        @for y in wire.to.iter().filter(|y| **y < last) {
            circle class="solid" cx=(number(x)) cy=(number(*y)) r="1.8" {}
        }
    }
}

fn block_drawn(block: &Block, left: f64) -> Markup {
    let spine = left + 8.0;
    let supply_y = block.supply_y();
    let last = block.pieces.last().map_or(supply_y, |piece| piece.y);
    html! {
        @for (index, line) in block.name.iter().enumerate() {
            text class="name" x=(number(left)) y=(number(block.top + LINE * (index + 1) as f64 - 3.0)) {
                (line)
            }
        }
        @if last > supply_y {
            path class="feed" d={ "M" (number(spine)) " " (number(supply_y)) "V" (number(last)) } {}
        }
        @if let Some((told_y, _)) = block.told_y() {
            path class="mark dots" fill="none" d={ "M" (number(spine)) " " (number(told_y)) "V"
                (number(supply_y)) } {}
        }
        @for piece in &block.pieces {
            (symbol(piece.symbol, left, piece.y))
            (lamps(piece, left))
            @for (index, line) in piece.lines.iter().enumerate() {
                text class="quiet" x=(number(left + SYMBOL))
                    y=(number(piece.text_y + 4.0 + LINE * index as f64)) { (line) }
            }
        }
    }
}

/// A run with its lamps; those at which volts are measured, the first and the last, are filled.
fn lamps(piece: &Piece, left: f64) -> Markup {
    let (from, to) = (left + SYMBOL, WIDE - EDGE - 4.0);
    let places = lamps_drawn(&piece.lamps, from, to);
    html! {
        @if let Some(last) = places.first() {
            path class="feed" d={ "M" (number(left + 28.0)) " " (number(piece.y)) "H" (number(*last)) } {}
        }
        @for (index, x) in places.iter().enumerate() {
            @let end = index == 0 || index + 1 == places.len();
            circle class={ @if end { "solid" } @else { "hollow" } } cx=(number(*x))
                cy=(number(piece.y)) r="2.6" {}
        }
    }
}

/// A symbol from `left` on, about the height `y`.
fn symbol(symbol: Symbol, left: f64, y: f64) -> Markup {
    let box_at = |x: f64, wide: f64, high: f64| {
        html! {
            rect class="part" x=(number(x)) y=(number(y - high / 2.0)) width=(number(wide))
                height=(number(high)) {}
        }
    };
    html! {
        @match symbol {
            Symbol::Relay => {
                (box_at(left, 16.0, 9.0))
                path class="wire" d={ "M" (number(left + 4.0)) " " (number(y + 4.5)) "l8 -9" } {}
            }
            Symbol::Board => {
                (box_at(left, 16.0, 9.0))
                path class="wire" d={ "M" (number(left + 4.0)) " " (number(y)) "h8m-3 -2.5l3 2.5l-3 2.5" } {}
            }
            Symbol::Supply => {
                (box_at(left, 16.0, 10.0))
                path class="wire" d={ "M" (number(left + 3.0)) " " (number(y))
                    "c2.5 -5 3.5 -5 5 0c1.5 5 2.5 5 5 0" } {}
            }
            Symbol::Run { fused } => {
                path class="feed" d={ "M" (number(left + 8.0)) " " (number(y)) "h22" } {}
                @if fused { (box_at(left + 12.0, 9.0, 5.0)) }
            }
        }
    }
}

fn key(top: f64) -> (Markup, f64) {
    let y = top + LETTER;
    let entries = [
        (Symbol::Supply, "supply"),
        (Symbol::Relay, "relay"),
        (Symbol::Board, "board"),
        (Symbol::Run { fused: true }, "fused run"),
    ];
    let lines = broken(
        "TP: test points of the commissioning sheet, counted anew in every zone; TP7 and TP8 are the first and the last lamp, filled",
        WIDE - 2.0 * EDGE,
    );
    let markup = html! {
        @for (index, (of, word)) in entries.into_iter().enumerate() {
            @let x = EDGE + index as f64 * 90.0;
            (symbol(of, x, y - 4.0))
            text class="quiet" x=(number(x + SYMBOL)) y=(number(y)) { (word) }
        }
        @for (index, line) in lines.iter().enumerate() {
            text class="quiet" x=(EDGE) y=(number(y + LINE * (index + 1) as f64 + 2.0)) { (line) }
        }
    };
    (markup, y + LINE * lines.len() as f64 + 8.0)
}

/// The diagram in words.
fn described(site: &Site, blocks: &[Block]) -> String {
    let mut out = String::new();
    for block in blocks {
        let _ = write!(out, "{}: ", block.name.join(" "));
        for piece in &block.pieces {
            let _ = write!(out, "{}; ", piece.lines.join(" "));
        }
    }
    if site.zones.is_empty() {
        out.push_str("No zones.");
    }
    out
}
