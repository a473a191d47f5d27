//! A zone in two lines: its pilot wire, then its supply and its run.
//!
//! Two columns of zones would not do: on a telephone they are half as large, and wires would cross from one
//! into the other. Two lines a zone are one page of A4 with letters of 7 pt for thirty zones, and the same
//! picture fits a telephone.

use super::words::{board_said, far_end_said, labelled, output_said, pair_said, trunk_brief};
use super::{Block, Piece, Symbol};
use crate::picture::look::{EDGE, WIDE, bold_width, broken};
use crate::site::{Fuse, RunLabels, Site, Switching, Trunk, ZoneId};

/// Distance from one line of text to the next.
const PITCH: f64 = 13.0;

/// Left edge of text after a relay, and after a supply with its run.
const BEHIND: (f64, f64) = (22.0, 37.0);

/// Left edge of a run beside its supply.
const BESIDE: f64 = 16.0;

/// The parts at the far end of every pilot wire, if all are the same.
pub(super) fn common(site: &Site) -> Option<String> {
    let mut ends = site.links.iter().map(|link| far_end_said(link, false));
    let first = ends.next()?;
    ends.all(|end| end == first).then_some(first)
}

/// A zone at this height; `common`: what all links have in common is printed elsewhere.
pub(super) fn block(
    site: &Site,
    labels: &RunLabels,
    id: ZoneId,
    (top, left): (f64, f64),
    common: bool,
) -> Block {
    let zone = &site[id];
    let right = WIDE - EDGE;
    let (symbol, told) = match zone.switching {
        Switching::Timed(_) => (None, "timed".into()),
        Switching::Follows(link) => {
            let mut said = pair_said(&site[link], false);
            if !common {
                said = format!("{said}; {}", far_end_said(&site[link], false));
            }
            let label = RunLabels::pair(link);
            (Some(Symbol::Relay), labelled(Some(&label), &said))
        }
        Switching::Senses(_) => (Some(Symbol::Board), board_said(site, id, false)),
    };
    let name_x = symbol.map_or(0.0, |_| BEHIND.0);
    let name = broken(&format!("{},", zone.name), (right - left - name_x) / 1.1);
    let mut y = top + PITCH * name.len() as f64;
    let mut pieces = Vec::new();
    // Beside the name if all of it fits there, else below.
    let beside = name_x + name.last().map_or(0.0, |line| bold_width(line)) + 9.0;
    let text_x = match broken(&told, right - left - beside).as_slice() {
        [_] => beside,
        _ => name_x,
    };
    let lines = broken(&told, right - left - text_x);
    let first = if text_x > name_x { y } else { y + PITCH };
    pieces.push(Piece {
        symbol: symbol.unwrap_or(Symbol::Nothing),
        x: 0.0,
        y: top + PITCH - 7.0,
        text: (text_x, first - 7.0),
        lamps: Vec::new(),
        lines,
    });
    let told_lines = pieces[0].lines.len() as f64;
    y = first + PITCH * (told_lines - 1.0);
    let supply = &site[zone.supply];
    let fed = format!(
        "{}: {}",
        supply.name,
        output_said(supply).replacen(".0", "", 1)
    );
    let fused = |trunk: &Trunk| matches!(trunk.fuse, Fuse::Rated(_));
    let mut runs = labels.trunks(site, id);
    let brief = |(label, trunk): (Option<&str>, &Trunk)| labelled(label, &trunk_brief(trunk));
    let (text, run) = match runs.next() {
        Some((label, trunk)) => (
            format!("{fed}; {}", brief((label, trunk))),
            Some(Symbol::ShortRun {
                fused: fused(trunk),
            }),
        ),
        None => (fed, None),
    };
    let mut row = |symbols: &[(Symbol, f64)], text: &str| {
        y += PITCH;
        let lines = broken(text, right - left - BEHIND.1);
        let count = lines.len() as f64;
        let mut lines = Some(lines);
        for (symbol, x) in symbols {
            pieces.push(Piece {
                symbol: *symbol,
                x: *x,
                y: y - 7.0,
                lines: lines.take().unwrap_or_default(),
                text: (BEHIND.1, y - 7.0),
                lamps: Vec::new(),
            });
        }
        y += PITCH * (count - 1.0);
    };
    let mut symbols = vec![(Symbol::Supply, 0.0)];
    symbols.extend(run.map(|run| (run, BESIDE)));
    row(&symbols, &text);
    for (label, trunk) in runs {
        row(
            &[(
                Symbol::ShortRun {
                    fused: fused(trunk),
                },
                BESIDE,
            )],
            &brief((label, trunk)),
        );
    }
    Block {
        zone: id,
        name,
        name_x,
        top,
        pieces,
        pitch: PITCH,
        bottom: y + 3.0,
    }
}
