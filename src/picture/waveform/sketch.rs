//! The waveforms in plain characters.

use super::{Stretch, Trace, contact, time};
use crate::picture::look::plain;
use crate::picture::scale::{Scale, said, whole};

use crate::text::wrapped;
use crate::transient::Sample;

mod plot;

use plot::{FEW_ROWS, Plot, ROWS, plot_text};

/// Columns for labels of the value axis, the axis included.
const LEFT: usize = 8;

/// Columns for the names of the levels.
const RIGHT: usize = 10;

/// Separates the stretches.
const GAP: &str = " : ";

/// Narrowest sketch [columns].
const NARROWEST: usize = 40;

/// Most events with a letter in one stretch.
const LETTERS: usize = 5;

/// The value of a sample that a plot shows.
type Value = fn(&Sample) -> f64;

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

/// The pair's voltage, the capacitor's, the coil current with its thresholds, armature, contact and the marks,
/// no line wider than `columns` (80 is usual; below 40 counts as 40).
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
    let plots: [(Plot<'_>, Value); 3] = [
        (
            Plot {
                name: "pair at the far end, V",
                rows: FEW_ROWS,
                levels: &[],
                reach: 0.0,
            },
            |s| s.far_v,
        ),
        (
            Plot {
                name: "coil current, mA",
                rows: ROWS,
                levels: &levels,
                reach,
            },
            |s| s.coil_a * 1e3,
        ),
        (
            Plot {
                name: "across the capacitor, V",
                rows: ROWS,
                levels: &[],
                reach: 0.0,
            },
            |s| s.dc_v,
        ),
    ];
    for (plot, value) in plots {
        plot_text(&mut out, trace, &parts, &plot, value);
        out.push('\n');
    }
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

/// `_` out, `^` on its way in, `=` in, `v` on its way out.
fn armature_text(out: &mut String, trace: &Trace, parts: &[Part<'_>]) {
    let mut cells = blank(parts);
    let mut before = 0.0;
    for sample in &trace.samples {
        // Compares to a millionth of the travel, so that rounding does not look like movement.
        let position = (sample.position * 1e6).round() / 1e6;
        let sign = if position >= 1.0 {
            '='
        } else if position <= 0.0 {
            '_'
        } else if position > before {
            '^'
        } else {
            'v'
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

/// Letters under the events; returns what they mean.
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
            // The next free column, or the last one before it.
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
