//! The waveforms in plain characters.

use std::fmt::Write;

use super::{Stretch, Trace, contact, time};
use crate::picture::look::plain;
use crate::picture::scale::{Scale, round_step, said, whole};
use crate::transient::Sample;
use crate::wording::wrapped;

/// Rows of a plot that is read: a label at every second.
const ROWS: usize = 9;

/// Rows of one that is glanced at.
const FEW_ROWS: usize = 5;

/// Columns for labels of the value axis, the axis included.
const LEFT: usize = 8;

/// Columns for the names of the levels.
const RIGHT: usize = 10;

/// Between the stretches.
const GAP: &str = " : ";

/// Narrowest sketch [columns].
const NARROWEST: usize = 40;

/// Below zero, of what is above: not worth rows of its own.
const LITTLE: f64 = -0.08;

/// Events with a letter, in one stretch.
const LETTERS: usize = 5;

/// A stretch and its columns.
struct Part<'a> {
    stretch: Stretch<'a>,
    first: usize,
    wide: usize,
}

impl Part<'_> {
    fn column(&self, at_s: f64) -> usize {
        let scale = Scale::new(
            (self.stretch.begin_s(), self.stretch.end_s()),
            (0.0, self.wide.saturating_sub(1) as f64),
        );
        self.first + whole(scale.place(at_s)).min(self.wide.saturating_sub(1))
    }
}

/// The pair's voltage, the capacitor's, the coil current with its thresholds, armature, contact and the
/// marks, no line wider than `columns`
/// (80 is usual; below 40 it is drawn as for 40).
pub fn waveform_sketch(trace: &Trace, columns: usize) -> String {
    let columns = columns.max(NARROWEST);
    let mut out = String::new();
    let mut paragraph = |text: &str| {
        for line in wrapped(&plain(text), columns).lines() {
            let line: String = line.chars().take(columns).collect();
            out.push_str(line.trim_end());
            out.push('\n');
        }
    };
    paragraph(&trace.title);
    paragraph(&trace.subtitle);
    if trace.samples.len() < 2 {
        paragraph("nothing recorded");
        return out;
    }
    let plot = columns - LEFT - RIGHT;
    let parts = parts(trace, plot);
    let t = &trace.thresholds;
    let mut levels = vec![
        ("lets go", t.release_a * 1e3),
        ("stays in", t.hold_a * 1e3),
        ("pulls in", t.operate_a * 1e3),
    ];
    levels.extend(t.limit_a.map(|limit_a| ("limit", limit_a * 1e3)));
    let most_a = trace.samples.iter().map(|s| s.coil_a).fold(0.0, f64::max);
    let reach = t.reach_a(most_a) * 1e3;
    out.push('\n');
    plot_text(
        &mut out,
        "pair at the far end, V",
        trace,
        &parts,
        FEW_ROWS,
        |s| s.far_v,
        &[],
        0.0,
    );
    out.push('\n');
    plot_text(
        &mut out,
        "coil current, mA",
        trace,
        &parts,
        ROWS,
        |s| s.coil_a * 1e3,
        &levels,
        reach,
    );
    out.push('\n');
    plot_text(
        &mut out,
        "across the capacitor, V",
        trace,
        &parts,
        ROWS,
        |s| s.dc_v,
        &[],
        0.0,
    );
    out.push('\n');
    armature_text(&mut out, trace, &parts);
    contact_text(&mut out, trace, &parts);
    let marks = marks_text(&mut out, trace, &parts);
    axis_text(&mut out, &parts);
    out.push('\n');
    let mut paragraph = |text: &str| {
        for line in wrapped(&plain(text), columns).lines() {
            let line: String = line.chars().take(columns).collect();
            out.push_str(line.trim_end());
            out.push('\n');
        }
    };
    paragraph(&marks);
    paragraph(&trace.thresholds_said());
    out
}

fn parts(trace: &Trace, plot: usize) -> Vec<Part<'_>> {
    let stretches = trace.stretches();
    let count = stretches.len();
    let wide = (plot - GAP.len() * (count - 1)) / count;
    stretches
        .into_iter()
        .enumerate()
        .map(|(index, stretch)| Part {
            stretch,
            first: index * (wide + GAP.len()),
            wide,
        })
        .collect()
}

/// A line of a plot: label, axis, cells, name.
fn line(out: &mut String, label: &str, axis: char, cells: &str, name: &str) {
    let text = format!("{label:>6} {axis}{cells} {name}");
    out.push_str(text.trim_end());
    out.push('\n');
}

/// Cells of one line, blank but for the gap.
fn blank(parts: &[Part<'_>]) -> Vec<char> {
    let wide = parts.last().map_or(0, |part| part.first + part.wide);
    let mut cells = vec![' '; wide];
    for part in parts.iter().skip(1) {
        cells[part.first - 2] = ':';
    }
    cells
}

fn plot_text(
    out: &mut String,
    name: &str,
    trace: &Trace,
    parts: &[Part<'_>],
    count: usize,
    value: impl Fn(&Sample) -> f64,
    levels: &[(&str, f64)],
    reach: f64,
) {
    let (least, most) = trace
        .samples
        .iter()
        .map(&value)
        .fold((0.0_f64, reach), |(least, most), v| {
            (least.min(v), most.max(v))
        });
    // All steps up from zero, or half of them on either side of it.
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
        // Two levels in one row: the lower makes way. Their currents stand below the sketch.
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
            // No row is left blank between a column and the one before.
            if let Some(end) = before {
                top = top.min(end + 1);
                foot = foot.max(end.saturating_sub(1));
            }
            if foot == top + 1 {
                // One step: where most of the column is.
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

/// A fairly round step at or above `least`, so that a quarter of the rows is not left empty.
fn quarter(least: f64) -> f64 {
    let ten = round_step(least, 1.0).log10().ceil();
    [1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0]
        .into_iter()
        .map(|round| round * 10.0_f64.powf(ten - 1.0))
        .find(|&step| step >= least * (1.0 - 1e-9))
        .unwrap_or(10.0_f64.powf(ten))
}

/// `#` while closed, `_` while open.
fn contact_text(out: &mut String, trace: &Trace, parts: &[Part<'_>]) {
    let mut cells = blank(parts);
    for (sample, closed) in trace.samples.iter().zip(contact(&trace.samples)) {
        for part in parts {
            if part.stretch.covers(sample.at_s) {
                cells[part.column(sample.at_s)] = if closed { '#' } else { '_' };
            }
        }
    }
    named(out, "contact ", &cells, "# closed");
}

/// `_` out, `/` on its way in, `=` in, `\` on its way out.
fn armature_text(out: &mut String, trace: &Trace, parts: &[Part<'_>]) {
    let mut cells = blank(parts);
    let mut before = 0.0;
    for sample in &trace.samples {
        let position = sample.position;
        let sign = if position >= 1.0 {
            '='
        } else if position <= 0.0 {
            '_'
        } else if position > before {
            '/'
        } else {
            '\\'
        };
        before = position;
        for part in parts {
            if part.stretch.covers(sample.at_s) {
                cells[part.column(sample.at_s)] = sign;
            }
        }
    }
    named(out, "armature", &cells, "= in");
}

/// A line of signs whose label is as wide as the axis.
fn named(out: &mut String, label: &str, cells: &[char], name: &str) {
    let cells: String = cells.iter().collect();
    out.push_str(format!("{label}{cells} {name}").trim_end());
    out.push('\n');
}

/// Letters under what happened; returns what they stand for.
fn marks_text(out: &mut String, trace: &Trace, parts: &[Part<'_>]) -> String {
    let mut cells = blank(parts);
    let mut said = Vec::new();
    let marks = trace.marks();
    let mut letters = 'a'..;
    for part in parts {
        let (shown, more) = part.stretch.foremost(&marks, LETTERS);
        for (mark, letter) in shown.into_iter().zip(&mut letters) {
            let at = part.column(mark.at_s);
            let end = part.first + part.wide;
            // The next free column, or the last before.
            let free = (at..end)
                .find(|&column| cells[column] == ' ')
                .or_else(|| (part.first..at).rev().find(|&column| cells[column] == ' '));
            if let Some(column) = free {
                cells[column] = letter;
            }
            said.push(format!("{letter} {}", mark.said(part.stretch.zero_s)));
        }
        if more > 0 {
            said.push(format!("{more} more"));
        }
    }
    let cells: String = cells.iter().collect();
    line(out, "", ' ', &cells, "");
    said.join("; ")
}

fn axis_text(out: &mut String, parts: &[Part<'_>]) {
    let (mut numbers, mut names) = (blank(parts), blank(parts));
    for part in parts {
        let (from_s, to_s) = (part.stretch.begin_s(), part.stretch.end_s());
        let zero_s = part.stretch.zero_s;
        let (unit, unit_s) = time::unit(to_s - from_s);
        let (ticks, step) = crate::picture::scale::ticks(
            (from_s - zero_s) / unit_s,
            (to_s - zero_s) / unit_s,
            (part.wide as f64 / 7.0).floor().max(1.0),
        );
        let mut free = part.first;
        for tick in ticks {
            let label = said(tick, step);
            let long = label.chars().count();
            let middle = part.column(zero_s + tick * unit_s);
            let end = part.first + part.wide;
            let first = middle.saturating_sub(long / 2).max(part.first);
            let first = first.min(end.saturating_sub(long));
            if first >= free && first + long <= end {
                write_at(&mut numbers, first, &label);
                free = first + long + 1;
            }
        }
        let what = if zero_s == 0.0 { "on" } else { "off" };
        let name = format!("{unit} after {what}");
        write_at(&mut names, part.first, &name);
    }
    for cells in [numbers, names] {
        let cells: String = cells.iter().collect();
        line(out, "", ' ', &cells, "");
    }
}

fn write_at(cells: &mut [char], first: usize, text: &str) {
    for (cell, letter) in cells.iter_mut().skip(first).zip(text.chars()) {
        *cell = letter;
    }
}
