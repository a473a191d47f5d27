//! One plot of a sketch.

use std::fmt::Write;

use super::{Part, blank, line};
use crate::picture::scale::{Scale, round_step, said, whole};
use crate::picture::waveform::Trace;
use crate::transient::Sample;

/// Rows of a detailed plot: a label at every second row.
pub(super) const ROWS: usize = 9;

/// Rows of a coarse plot.
pub(super) const FEW_ROWS: usize = 5;

/// Values below zero smaller than this fraction of those above get no rows of their own.
const LITTLE: f64 = -0.08;

pub(super) struct Plot<'a> {
    pub(super) name: &'a str,
    pub(super) rows: usize,
    /// Levels, named at the right.
    pub(super) levels: &'a [(&'a str, f64)],
    /// Value that the axis must include.
    pub(super) reach: f64,
}

/// Plots one value over time.
pub(super) fn plot_text(
    out: &mut String,
    trace: &Trace,
    parts: &[Part<'_>],
    plot: &Plot<'_>,
    value: impl Fn(&Sample) -> f64,
) {
    let Plot {
        name,
        rows: count,
        levels,
        reach,
    } = *plot;
    let (least, most) = trace
        .samples
        .iter()
        .map(&value)
        .fold((0.0_f64, reach), |(least, most), v| {
            (least.min(v), most.max(v))
        });
    // All steps above zero, or half of them on either side.
    let last = (count - 1) as f64;
    let steps = last / 2.0;
    let two_sided = least < LITTLE * most;
    let step = if two_sided {
        quarter(2.0 * most.max(-least) / steps)
    } else {
        quarter(most / steps)
    };
    let bottom = if two_sided { -steps / 2.0 * step } else { 0.0 };
    let rows = Scale::new((bottom, bottom + steps * step), (last, 0.0));
    let mut grid = vec![blank(parts); count];
    let mut names = vec![""; count];
    for &(level_name, level) in levels.iter().rev() {
        let place = rows.place(level);
        if place < -0.5 {
            continue;
        }
        let near = whole(place).min(count - 1);
        // If two levels share a row, the lower moves. Their currents are listed below the sketch.
        let Some(row) = (near..count).find(|&row| names[row].is_empty()) else {
            continue;
        };
        names[row] = level_name;
        for part in parts {
            for column in (0..part.wide).filter(|column| column % 2 == 0) {
                grid[row][part.first + column] = '·';
            }
        }
    }
    for part in parts {
        let mut before: Option<usize> = None;
        for column in part
            .stretch
            .samples
            .chunk_by(|a, b| part.column(a.at_s) == part.column(b.at_s))
        {
            let at = part.column(column[0].at_s);
            let low = column.iter().map(&value).fold(f64::INFINITY, f64::min);
            let high = column.iter().map(&value).fold(f64::NEG_INFINITY, f64::max);
            let row = |value| whole(rows.place(value)).min(count - 1);
            let (mut top, mut foot) = (row(high), row(low));
            // Fills the rows between a column and the one before.
            if let Some(end) = before {
                top = top.min(end + 1);
                foot = foot.max(end.saturating_sub(1));
            }
            if foot == top + 1 {
                // A single step: draws it where most of the column is.
                let mean = column.iter().map(&value).sum::<f64>() / column.len() as f64;
                top = row(mean).clamp(top, foot);
                foot = top;
            }
            for cells in &mut grid[top..=foot] {
                cells[at] = if top == foot { '─' } else { '│' };
            }
            before = column.last().map(|last| row(value(last)));
        }
    }
    let _ = writeln!(out, "{name}");
    for (row, (cells, level)) in grid.iter().zip(&names).enumerate() {
        let cells: String = cells.iter().collect();
        if row % 2 == 0 {
            let tick = bottom + (steps - row as f64 / 2.0) * step;
            line(out, &said(tick, step), '┤', &cells, level);
        } else {
            line(out, "", '│', &cells, level);
        }
    }
}

/// A fairly round step at or above `least`, so that no quarter of the rows stays empty.
fn quarter(least: f64) -> f64 {
    let ten = round_step(least, 1.0).log10().ceil();
    [1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0]
        .into_iter()
        .map(|round| round * 10.0_f64.powf(ten - 1.0))
        .find(|&step| step >= least * (1.0 - 1e-9))
        .unwrap_or(10.0_f64.powf(ten))
}
