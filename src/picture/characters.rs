//! The building blocks of pictures in characters: rows of letters, each with its ink.
//!
//! They are ASCII in every locale: a console, a log and a forum post show them unchanged, and every font has
//! them. Letters tell everything; ink only repeats it.
//!
//! A second set for other locales would be a second picture to keep right. The text beside the pictures uses
//! `−`, `×`, `²` and `µ` like every other text.

use std::ops::Range;

use super::look::in_columns;
use super::scale::{Scale, said, ticks, whole};

/// Narrowest and widest picture [columns].
pub(super) const COLUMNS: Range<usize> = 40..200;

/// How a letter looks on a terminal with colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    Plain,
    /// For names.
    Bold,
    /// What is lit, and the voltage of a coil or lamp: bold and yellow.
    Lit,
    /// Lines and marks that only help to read the rest.
    Faint,
}

impl Ink {
    /// The terminal sequence before such letters.
    fn sequence(self) -> &'static str {
        match self {
            Self::Plain => "",
            Self::Bold => "\u{1b}[1m",
            Self::Lit => "\u{1b}[1;33m",
            Self::Faint => "\u{1b}[2m",
        }
    }
}

/// The terminal sequence after letters with ink.
const BACK: &str = "\u{1b}[0m";

/// One line of a picture.
#[derive(Debug, Clone, Default)]
pub(super) struct Row(Vec<(char, Ink)>);

impl Row {
    /// Overwrites from a column on.
    pub(super) fn put(&mut self, column: usize, text: &str, ink: Ink) {
        for (index, letter) in text.chars().enumerate() {
            let at = column + index;
            if self.0.len() <= at {
                self.0.resize(at + 1, (' ', Ink::Plain));
            }
            self.0[at] = (letter, ink);
        }
    }

    /// Overwrites these columns with one letter.
    pub(super) fn fill(&mut self, columns: Range<usize>, letter: char, ink: Ink) {
        for column in columns {
            self.put(column, letter.encode_utf8(&mut [0; 4]), ink);
        }
    }

    pub(super) fn end(&self) -> usize {
        self.0.len()
    }

    /// Appends the line, without trailing blanks.
    pub(super) fn write(&self, out: &mut String, colour: bool) {
        let end = self.0.iter().rposition(|(letter, _)| *letter != ' ');
        let cells = &self.0[..end.map_or(0, |end| end + 1)];
        for run in cells.chunk_by(|a, b| a.1 == b.1) {
            let sequence = if colour { run[0].1.sequence() } else { "" };
            out.push_str(sequence);
            out.extend(run.iter().map(|(letter, _)| letter));
            if !sequence.is_empty() {
                out.push_str(BACK);
            }
        }
        out.push('\n');
    }
}

/// Round values under an axis that runs across, as many as fit, with the unit after the last; nothing beyond
/// `columns`.
pub(super) fn axis(scale: Scale, unit: &str, columns: usize) -> Row {
    let (from, to) = scale.places;
    let parts = ((to - from) / 7.0).max(1.0);
    let (values, step) = ticks(scale.values.0, scale.values.1, parts);
    let end = columns - unit.chars().count() - 1;
    let mut row = Row::default();
    for value in values {
        let label = said(value, step);
        let long = label.chars().count();
        let first = whole(scale.place(value)).saturating_sub(long / 2);
        if (row.end() == 0 || row.end() < first) && first + long <= end {
            row.put(first, &label, Ink::Faint);
        }
    }
    row.put(row.end() + 1, unit, Ink::Faint);
    row
}

/// A picture while it is written.
pub(super) struct Page {
    pub(super) columns: usize,
    colour: bool,
    out: String,
}

impl Page {
    /// Starts a page this wide, within [`COLUMNS`].
    pub(super) fn new(columns: usize, colour: bool) -> Self {
        Self {
            columns: columns.clamp(COLUMNS.start, COLUMNS.end),
            colour,
            out: String::new(),
        }
    }

    pub(super) fn row(&mut self, row: &Row) {
        row.write(&mut self.out, self.colour);
    }

    pub(super) fn blank(&mut self) {
        self.out.push('\n');
    }

    /// A text in as many lines as it needs, indented.
    pub(super) fn paragraph(&mut self, indent: usize, text: &str, ink: Ink) {
        for line in in_columns(text, self.columns - indent) {
            let mut row = Row::default();
            row.put(indent, &line, ink);
            self.row(&row);
        }
    }

    pub(super) fn finished(self) -> String {
        self.out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ink_is_only_there_where_colours_are() {
        let mut row = Row::default();
        row.put(2, "walk", Ink::Bold);
        row.put(8, "lit  ", Ink::Plain);
        let mut plain = String::new();
        row.write(&mut plain, false);
        assert_eq!(plain, "  walk  lit\n");
        let mut coloured = String::new();
        row.write(&mut coloured, true);
        assert_eq!(coloured, "  \u{1b}[1mwalk\u{1b}[0m  lit\n");
    }
}
