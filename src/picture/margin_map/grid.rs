//! Two axes: a table of margins, the edge of what works drawn through it.

use std::fmt::Write;
use std::ops::Range;

use maud::{Markup, html};

use super::{Axis, Map, is_safe};
use crate::picture::document::Picture;
use crate::picture::look::{
    EDGE, Hatch, LINE, WIDE, broken_in, cut, heading, key, mark, number, plain, shade, width,
};

/// Widest column of names.
const NAMES: f64 = 110.0;

/// Narrowest and widest cell.
const CELL: (f64, f64) = (38.0, 76.0);

/// Height of a cell.
const HIGH: f64 = 34.0;

pub(super) fn svg(map: &Map, y: &Axis) -> Picture {
    let (head, mut top) = heading(&map.title, &map.summary());
    let names: Vec<Vec<String>> = (0..y.len())
        .map(|row| broken_in(&y.label(row), NAMES, 2))
        .collect();
    let head_lines = broken_in(&y.head(), NAMES, 3);
    let widest = names
        .iter()
        .flatten()
        .chain(&head_lines)
        .map(|line| width(line))
        .fold(0.0, f64::max);
    let left = EDGE + widest + 8.0;
    let room = WIDE - EDGE - left;
    let word = (0..map.x.len())
        .flat_map(|column| {
            let label = map.x.label(column);
            label.split(' ').map(width).collect::<Vec<_>>()
        })
        .fold(0.0, f64::max);
    let least = (word + 6.0).clamp(CELL.0, CELL.1);
    let at_most = crate::picture::scale::whole((room / least).floor()).max(1);
    let blocks = map.x.len().div_ceil(at_most).max(1);
    let columns = map.x.len().div_ceil(blocks).max(1);
    let cell = (room / columns as f64).min(CELL.1);
    let mut drawn = Vec::new();
    for first in (0..map.x.len()).step_by(columns) {
        let block = Block {
            map,
            names: &names,
            head: &head_lines,
            columns: first..(first + columns).min(map.x.len()),
            left,
            cell,
        };
        let (markup, bottom) = block.draw(top + 10.0);
        drawn.push(markup);
        top = bottom;
    }
    let body = html! {
        (head)
        // Drawn once, and styled where it is used, because style sheets only reach there.
        defs {
            @for hatch in [Hatch::Falling, Hatch::Crossed] {
                path id=(name(hatch, cell)) d=(hatch.path(0.0, 0.0, cell, HIGH)) {}
            }
        }
        @for block in &drawn { (block) }
        (key(EDGE, top + LINE + 6.0))
        line class="bold" x1=(number(WIDE - 142.0)) x2=(number(WIDE - 142.0))
            y1=(number(top + LINE - 4.0)) y2=(number(top + LINE + 8.0)) {}
        text class="quiet" x=(number(WIDE - 134.0)) y=(number(top + LINE + 6.0)) {
            "edge of what works"
        }
    };
    Picture::new(&map.title, &map.described(), top + LINE + 16.0, body)
}

/// The id of a hatched cell; pictures on one page share it if the cell is the same.
fn name(hatch: Hatch, wide: f64) -> String {
    let strokes = if hatch == Hatch::Crossed {
        "not"
    } else {
        "caution"
    };
    format!("pwp-{strokes}-{}", number(wide))
}

/// Some of the columns, all of the rows.
struct Block<'a> {
    map: &'a Map,
    names: &'a [Vec<String>],
    head: &'a [String],
    columns: Range<usize>,
    left: f64,
    cell: f64,
}

impl Block<'_> {
    fn x(&self, column: usize) -> f64 {
        self.left + (column - self.columns.start) as f64 * self.cell
    }

    /// Draws it from `top`; returns where it ends.
    fn draw(&self, top: f64) -> (Markup, f64) {
        let labels: Vec<Vec<String>> = self
            .columns
            .clone()
            .map(|column| broken_in(&self.map.x.label(column), self.cell - 4.0, 3))
            .collect();
        let head_lines = labels.iter().map(Vec::len).max().unwrap_or(1);
        let head_lines = head_lines.max(self.head.len().saturating_sub(1));
        let cells_top = top + LINE * (head_lines + 1) as f64 + 5.0;
        let bottom = cells_top + HIGH * self.names.len() as f64;
        // Labels are on the table.
        let line_y =
            |lines: usize, line: usize| number(cells_top - 5.0 - LINE * (lines - 1 - line) as f64);
        let markup = html! {
            text class="name" x=(number(self.left + 2.0)) y=(number(top + LINE - 3.0)) {
                (cut(&plain(&self.map.x.head()), 40))
            }
            @for (line, text) in self.head.iter().enumerate() {
                text class="name" x=(EDGE) y=(line_y(self.head.len(), line)) { (text) }
            }
            @for (column, lines) in self.columns.clone().zip(&labels) {
                @for (line, text) in lines.iter().enumerate() {
                    text class="quiet" text-anchor="middle"
                        x=(number(self.x(column) + self.cell / 2.0))
                        y=(line_y(lines.len(), line)) { (text) }
                }
            }
            @for (row, name) in self.names.iter().enumerate() {
                @let y = cells_top + HIGH * row as f64;
                @for (line, text) in name.iter().enumerate() {
                    text class="quiet" x=(EDGE) y=(number(
                        y + HIGH / 2.0 + 4.0 + LINE * (line as f64 - 0.5 * (name.len() - 1) as f64)
                    )) { (text) }
                }
                @for column in self.columns.clone() {
                    (self.cell(row * self.map.x.len() + column, self.x(column), y))
                }
            }
            (self.edge(cells_top))
        };
        (markup, bottom)
    }

    fn cell(&self, index: usize, x: f64, y: f64) -> Markup {
        let cell = &self.map.cells[index];
        let middle = x + self.cell / 2.0;
        html! {
            g {
                title { (plain(&self.map.told(index))) }
                @if let Some(verdict) = cell.known() {
                    @match Hatch::of(verdict) {
                        None => (shade(verdict, x, y, self.cell, HIGH)),
                        Some(hatch) => use class="hatch" href={ "#" (name(hatch, self.cell)) } x=(number(x))
                            y=(number(y)) {},
                    }
                }
                path class="axis" fill="none" d={ "M" (number(x)) " " (number(y))
                    "h" (number(self.cell)) "v" (number(HIGH)) "h" (number(-self.cell)) "z" } {}
                @if let Some(verdict) = cell.known() { (mark(verdict, middle, y + 9.0)) }
                text class="halo" text-anchor="middle" x=(number(middle))
                    y=(number(y + HIGH - 6.0)) { (cell.number()) }
            }
        }
    }

    /// A line between neighbours where only one of the two may be built.
    fn edge(&self, top: f64) -> Markup {
        let wide = self.map.x.len();
        let rows = self.names.len();
        let safe = |row: usize, column: usize| is_safe(&self.map.cells[row * wide + column]);
        let mut path = String::new();
        let mut add = |x: f64, y: f64, how: &str, long: f64| {
            let _ = write!(path, "M{} {}{how}{}", number(x), number(y), number(long));
        };
        for row in 0..rows {
            let y = top + HIGH * row as f64;
            for column in self.columns.clone() {
                let here = safe(row, column);
                if column + 1 < wide && here != safe(row, column + 1) {
                    add(self.x(column) + self.cell, y, "v", HIGH);
                }
                // The edge between this block and the one before.
                if column == self.columns.start && column > 0 && here != safe(row, column - 1) {
                    add(self.x(column), y, "v", HIGH);
                }
                if row + 1 < rows && here != safe(row + 1, column) {
                    add(self.x(column), y + HIGH, "h", self.cell);
                }
            }
        }
        html! { @if !path.is_empty() { path class="bold" d=(path) {} } }
    }
}
