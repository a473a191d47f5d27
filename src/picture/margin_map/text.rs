//! The map in plain characters, at most 80 columns wide.

use std::fmt::Write;

use super::{Axis, Map, word};
use crate::link::Verdict;
use crate::picture::look::{cut, plain};
use crate::text::{WIDTH, wrap, wrapped};

/// Widest row name [columns].
const NAME: usize = 24;

/// Widest column name [columns].
const COLUMN: usize = 12;

/// Along one axis a line for every value, with its reason; along two a table in blocks of columns.
pub fn margin_map_text(map: &Map) -> String {
    map.assert_whole();
    let mut out = String::new();
    paragraph(&mut out, "", &map.title);
    paragraph(&mut out, "  ", &map.summary());
    match &map.y {
        None => list(&mut out, map),
        Some(y) => table(&mut out, map, y),
    }
    out
}

/// Wraps a text, and cuts words wider than a line.
fn paragraph(out: &mut String, first: &str, text: &str) {
    let text: Vec<String> = plain(text)
        .split(' ')
        .map(|word| cut(word, WIDTH - 30))
        .collect();
    let rest = " ".repeat(first.chars().count().max(2));
    wrap(out, first, &rest, &text.join(" "));
}

fn list(out: &mut String, map: &Map) {
    let names: Vec<String> = (0..map.x.len())
        .map(|index| cut(&map.x.said(index), NAME))
        .collect();
    let head = cut(&plain(&map.x.name), NAME);
    let wide = names
        .iter()
        .chain([&head])
        .map(|name| name.chars().count())
        .max()
        .unwrap_or(0);
    let _ = writeln!(out, "\n  {head:wide$}  {:>9}", "margin");
    for (name, cell) in names.iter().zip(&map.cells) {
        let first = format!(
            "  {name:wide$}  {:>9}  {:8}  ",
            cell.percent(),
            cell.margin.map_or("", |_| word(cell.verdict))
        );
        let mut line = String::new();
        paragraph(&mut line, &first, &cell.why);
        if line.is_empty() {
            line = format!("{}\n", first.trim_end());
        }
        out.push_str(&line);
    }
}

fn table(out: &mut String, map: &Map, y: &Axis) {
    let names: Vec<String> = (0..y.len()).map(|row| cut(&y.label(row), NAME)).collect();
    let head = cut(&plain(&y.head()), NAME);
    let name_wide = names
        .iter()
        .chain([&head])
        .map(|name| name.chars().count())
        .max()
        .unwrap_or(0);
    let labels: Vec<Vec<String>> = (0..map.x.len())
        .map(|column| {
            wrapped(&map.x.label(column), COLUMN)
                .lines()
                .map(|line| cut(line, COLUMN))
                .collect()
        })
        .collect();
    let numbers: Vec<String> = map
        .cells
        .iter()
        .map(|cell| {
            let mark = match cell.verdict {
                _ if cell.margin.is_none() => "",
                Verdict::Go => "",
                Verdict::Caution => "~",
                Verdict::NoGo => "x",
            };
            format!("{mark}{}", cell.number())
        })
        .collect();
    let column_wide = labels
        .iter()
        .flatten()
        .chain(&numbers)
        .map(|text| text.chars().count())
        .max()
        .unwrap_or(0);
    let in_block = ((WIDTH - 2 - name_wide) / (column_wide + 2)).max(1);
    let blocks = map.x.len().div_ceil(in_block).max(1);
    let in_block = map.x.len().div_ceil(blocks).max(1);
    for first in (0..map.x.len()).step_by(in_block) {
        let columns = first..(first + in_block).min(map.x.len());
        let pad = " ".repeat(name_wide);
        let x_head = cut(&plain(&map.x.head()), WIDTH - name_wide - 6);
        let _ = writeln!(out, "\n  {pad}  {x_head}");
        let high = labels[columns.clone()]
            .iter()
            .map(Vec::len)
            .max()
            .unwrap_or(1);
        for line in 0..high {
            let last = line + 1 == high;
            let mut text = format!("  {:name_wide$}", if last { head.as_str() } else { "" });
            for label in &labels[columns.clone()] {
                // Labels are on the table.
                let shown = (line + label.len())
                    .checked_sub(high)
                    .and_then(|line| label.get(line))
                    .map_or("", String::as_str);
                let _ = write!(text, "  {shown:>column_wide$}");
            }
            let _ = writeln!(out, "{}", text.trim_end());
        }
        for (row, name) in names.iter().enumerate() {
            let _ = write!(out, "  {name:name_wide$}");
            for number in &numbers[row * map.x.len()..][columns.clone()] {
                let _ = write!(out, "  {number:>column_wide$}");
            }
            out.push('\n');
        }
    }
    out.push('\n');
    paragraph(
        out,
        "",
        "Worst-case margin in %; ~ caution, x does not, ? no answer.",
    );
}
