//! The shapes of a diagram.

use std::fmt::Write;

use maud::{Markup, html};

use super::{Block, LANE, Piece, SYMBOL, Symbol, Wire};
use crate::picture::look::{EDGE, LETTER, LINE, WIDE, broken, number, width};

/// Smallest distance between two lamps of a run; closer ones are not drawn one by one.
const LAMP: f64 = 7.0;

/// Places of the lamps to draw, from far to near: a lamp that would touch the one behind it moves up, as long
/// as there is room for `apart` between lamps.
pub(super) fn lamps_drawn(lamps: &[f64], from: f64, to: f64, apart: f64) -> Vec<f64> {
    let mut places: Vec<f64> = Vec::new();
    for lamp in lamps.iter().rev() {
        let place = from + lamp * (to - from);
        let place = places.last().map_or(place, |last| place.min(last - apart));
        if place < from {
            break;
        }
        places.push(place);
    }
    places
}

pub(super) fn wire_drawn(wire: &Wire, left: f64) -> Markup {
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

pub(super) fn block_drawn(block: &Block, left: f64) -> Markup {
    let spine = left + 8.0;
    let supply_y = block.supply_y();
    let last = block.pieces.last().map_or(supply_y, |piece| piece.y);
    html! {
        @for (index, line) in block.name.iter().enumerate() {
            text class="name" x=(number(left + block.name_x)) y=(number(block.top + block.pitch * (index + 1) as f64 - 3.0)) {
                (line)
            }
        }
        @if last > supply_y {
            path class="feed" d={ "M" (number(spine)) " " (number(supply_y)) "V" (number(last)) } {}
        }
        @if let Some(told_y) = block.told_y() {
            path class="mark dots" fill="none" d={ "M" (number(spine)) " " (number(told_y)) "V"
                (number(supply_y)) } {}
        }
        @for piece in &block.pieces {
            (symbol(piece.symbol, left + piece.x, piece.y))
            (lamps(piece, left))
            @for (index, line) in piece.lines.iter().enumerate() {
                text class="quiet" x=(number(left + piece.text.0))
                    y=(number(piece.text.1 + 4.0 + block.pitch * index as f64)) { (line) }
            }
        }
    }
}

/// A run with its lamps; the first and the last, where volts are measured, are filled.
fn lamps(piece: &Piece, left: f64) -> Markup {
    let (from, to) = (left + SYMBOL, WIDE - EDGE - 4.0);
    let places = lamps_drawn(&piece.lamps, from, to, LAMP);
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

/// A symbol from `left` on, centred at the height `y`.
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
            Symbol::Nothing => {}
            Symbol::ShortRun { fused } => {
                path class="feed" d={ "M" (number(left)) " " (number(y)) "h14" } {}
                @if fused { (box_at(left + 4.0, 7.0, 5.0)) }
                circle class="hollow" cx=(number(left + 16.0)) cy=(number(y)) r="2.6" {}
            }
            Symbol::Run { fused } => {
                path class="feed" d={ "M" (number(left + 8.0)) " " (number(y)) "h22" } {}
                @if fused { (box_at(left + 12.0, 9.0, 5.0)) }
            }
        }
    }
}

pub(super) fn key(top: f64, said: &str) -> (Markup, f64) {
    let y = top + LETTER;
    let entries = [
        (Symbol::Supply, "supply"),
        (Symbol::Relay, "relay"),
        (Symbol::Board, "board"),
        (Symbol::ShortRun { fused: true }, "run with its fuse"),
    ];
    let mut x = EDGE;
    let places = entries.map(|(symbol, word)| {
        let behind = match symbol {
            Symbol::ShortRun { .. } => 23.0,
            _ => 20.0,
        };
        let at = (x, x + behind);
        x += behind + width(word) + 14.0;
        at
    });
    let lines = broken(said, WIDE - 2.0 * EDGE);
    let markup = html! {
        @for ((of, word), (x, text_x)) in entries.into_iter().zip(places) {
            (symbol(of, x, y - 4.0))
            text class="quiet" x=(number(text_x)) y=(number(y)) { (word) }
        }
        @for (index, line) in lines.iter().enumerate() {
            text class="quiet" x=(EDGE) y=(number(y + LINE * (index + 1) as f64 + 2.0)) { (line) }
        }
    };
    (markup, y + LINE * lines.len() as f64 + 8.0)
}
