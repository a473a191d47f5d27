//! The diagram in characters.
//!
//! ```text
//! walk, timed
//! +-[~] house: transformer, 120 V mains to 12.0 V AC, 200 VA [TP1]
//! |  +-=-----*-----o-----o-----o-----*
//! |      8 × 4 W; 12 AWG, 21.3 m (70 ft), fuse 7.5 A [TP7, TP8]
//! |
//! | orchard, follows walk
//! +>[/] pilot wire 22 AWG, 73.2 m (240 ft), fuse 250 mA
//! ```

use super::drawn::lamps_drawn;
use super::lanes::{assigned, lanes_needed, order, spans};
use super::{Detail, Symbol, key_said, parts};
use crate::picture::characters::{Ink, Page, Row};
use crate::picture::look::{in_columns, kept};
use crate::picture::scale::whole;
use crate::site::{RunLabels, Site, ZoneId};

/// Columns of a lane.
const LANE: usize = 2;

/// Columns of a symbol and the blank after it.
const SYMBOL: usize = 4;

/// Longest run [columns].
const LONGEST: usize = 72;

/// Smallest distance between two lamps [columns].
const LAMP: f64 = 2.0;

/// Rows of a zone where wires end.
struct Ends {
    zone: ZoneId,
    /// Row of the relay, or the board, that switches it.
    told: Option<usize>,
    supply: usize,
}

/// The diagram of a yard in characters, no line wider than `columns`; `colour` adds a terminal's colour
/// sequences.
pub fn yard_text(site: &Site, columns: usize, colour: bool) -> String {
    let mut page = Page::new(columns, colour);
    let order = order(site);
    let left = LANE * lanes_needed(site, &order);
    let labels = RunLabels::of(site);
    let mut rows = Vec::new();
    let mut ends = Vec::new();
    for zone in &order {
        if !rows.is_empty() {
            rows.push(Row::default());
        }
        ends.push(block(site, &labels, *zone, &mut rows, (left, page.columns)));
    }
    wires(site, &order, &ends, &mut rows, left);
    page.paragraph(0, &format!("{}: the yard", site.name), Ink::Bold);
    let about = "one line for every pair of wires; lengths one way";
    page.paragraph(0, about, Ink::Plain);
    page.blank();
    for row in &rows {
        page.row(row);
    }
    page.blank();
    let signs = [
        "[~] supply",
        "[/] relay",
        "[>] board",
        "= fuse",
        "o lamp",
        "* first and last lamp",
    ];
    let key = format!(
        "{}; {}",
        signs.map(kept).join(", "),
        key_said(site, &order, Detail::Full)
    );
    page.paragraph(0, &key, Ink::Plain);
    page.finished()
}

/// Appends the rows of a zone.
fn block(
    site: &Site,
    labels: &RunLabels,
    id: ZoneId,
    rows: &mut Vec<Row>,
    (left, columns): (usize, usize),
) -> Ends {
    let name = format!("{}, {}", site[id].name, site.how_switched(id));
    for line in in_columns(&name, columns - left) {
        let mut row = Row::default();
        row.put(left, &line, Ink::Bold);
        rows.push(row);
    }
    let mut ends = Ends {
        zone: id,
        told: None,
        supply: rows.len(),
    };
    let mut feeds = Vec::new();
    for part in parts(site, labels, id) {
        let at = rows.len();
        let mut row = Row::default();
        let symbol = match part.symbol {
            Symbol::Relay => "[/]",
            Symbol::Board => "[>]",
            Symbol::Supply => "[~]",
            Symbol::Run { .. } | Symbol::ShortRun { .. } | Symbol::Nothing => "",
        };
        row.put(left, symbol, Ink::Plain);
        match part.symbol {
            Symbol::Relay | Symbol::Board => ends.told = Some(at),
            Symbol::Supply => ends.supply = at,
            Symbol::Run { fused } | Symbol::ShortRun { fused } => {
                feeds.push(at);
                rows.push(run(&part.lamps, fused, left, columns));
                row = Row::default();
            }
            Symbol::Nothing => {}
        }
        for line in in_columns(&part.text, columns - left - SYMBOL) {
            row.put(left + SYMBOL, &line, Ink::Plain);
            rows.push(std::mem::take(&mut row));
        }
    }
    // From the relay down to the supply that it switches; from the supply to its runs.
    if let Some(told) = ends.told {
        for row in &mut rows[told + 1..ends.supply] {
            row.put(left + 1, ":", Ink::Faint);
        }
    }
    if let Some(last) = feeds.last() {
        let between = rows
            .iter_mut()
            .enumerate()
            .take(*last)
            .skip(ends.supply + 1);
        for (_, row) in between.filter(|(at, _)| !feeds.contains(at)) {
            row.put(left + 1, "|", Ink::Plain);
        }
    }
    ends
}

/// A run with its fuse and its lamps.
fn run(lamps: &[f64], fused: bool, left: usize, columns: usize) -> Row {
    let (from, to) = (left + SYMBOL + 1, (columns - 1).min(left + LONGEST));
    let mut row = Row::default();
    row.put(left + 1, if fused { "+-=-" } else { "+---" }, Ink::Plain);
    let places = lamps_drawn(lamps, from as f64, to as f64, LAMP);
    if let Some(last) = places.first() {
        row.fill(left + SYMBOL..whole(*last), '-', Ink::Plain);
    }
    for (index, place) in places.iter().enumerate() {
        let end = index == 0 || index + 1 == places.len();
        row.put(whole(*place), if end { "*" } else { "o" }, Ink::Lit);
    }
    row
}

/// Pilot wires, and board wires as dots, down their lanes.
fn wires(site: &Site, order: &[ZoneId], ends: &[Ends], rows: &mut [Row], left: usize) {
    let of = |zone: ZoneId| ends.iter().find(|ends| ends.zone == zone);
    let wires: Vec<(usize, Vec<usize>, bool)> = spans(site, order)
        .into_iter()
        .filter_map(|(master, to, board)| {
            let told = to.into_iter().filter_map(|zone| of(zone)?.told).collect();
            Some((of(master)?.supply, told, board))
        })
        .collect();
    let last = |to: &[usize]| to.iter().copied().max().unwrap_or(0);
    let spans: Vec<(f64, f64)> = wires
        .iter()
        .map(|(from, to, _)| (*from as f64, last(to) as f64))
        .collect();
    let lanes: Vec<usize> = assigned(&spans)
        .into_iter()
        .map(|lane| LANE * lane)
        .collect();
    for ((from, to, board), lane) in wires.iter().zip(&lanes) {
        for row in &mut rows[from + 1..last(to)] {
            row.put(*lane, if *board { ":" } else { "|" }, Ink::Faint);
        }
    }
    // Horizontal wires are drawn over vertical ones: the vertical one passes there, and does not end.
    for ((from, to, board), lane) in wires.iter().zip(&lanes) {
        let across = if *board { '.' } else { '-' };
        rows[*from].fill(lane + 1..left, across, Ink::Faint);
        for at in to {
            rows[*at].fill(lane + 1..left - 1, across, Ink::Faint);
            rows[*at].put(left - 1, ">", Ink::Plain);
        }
    }
    for ((from, to, _), lane) in wires.iter().zip(&lanes) {
        for at in std::iter::once(from).chain(to) {
            rows[*at].put(*lane, "+", Ink::Faint);
        }
    }
}
