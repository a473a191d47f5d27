//! What pictures in characters are made of: rows of letters, each with its ink.
//!
//! They are drawn in ASCII, whatever the locale: a console, a log and a letter in a forum show it as it is,
//! and no face is without it. Letters say everything; ink only repeats it.
//!
//! A second set for other locales would be a second picture to keep right. What stands beside them (`−`,
//! `×`, `²`, `µ`) is as in every other text.

use std::ops::Range;

use super::look::in_columns;
use super::scale::{Scale, said, ticks, whole};

/// Narrowest and widest picture [columns].
pub(super) const COLUMNS: Range<usize> = 40..200;

/// How a letter looks where a terminal shows colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    Plain,
    /// Names.
    Bold,
    /// What is lit, what a coil or a lamp gets: bold and yellow.
    Lit,
    /// What is only there to read the rest by.
    Faint,
}

impl Ink {
    /// What a terminal is sent before such letters.
    fn sequence(self) -> &'static str {
        match self {
            Self::Plain => "",
            Self::Bold => "\u{1b}[1m",
            Self::Lit => "\u{1b}[1;33m",
            Self::Faint => "\u{1b}[2m",
        }
    }
}

/// What a terminal is sent behind letters with ink.
const BACK: &str = "\u{1b}[0m";

/// One line of a picture.
#[derive(Debug, Clone, Default)]
pub(super) struct Row(Vec<(char, Ink)>);

impl Row {
    /// Writes over what is there, from a column on.
    pub(super) fn put(&mut self, column: usize, text: &str, ink: Ink) {
        for (index, letter) in text.chars().enumerate() {
            let at = column + index;
            if self.0.len() <= at {
                self.0.resize(at + 1, (' ', Ink::Plain));
            }
            self.0[at] = (letter, ink);
        }
    }

    /// The same so many times.
    pub(super) fn fill(&mut self, columns: Range<usize>, letter: char, ink: Ink) {
        for column in columns {
            self.put(column, letter.encode_utf8(&mut [0; 4]), ink);
        }
    }

    /// How long it is.
    pub(super) fn end(&self) -> usize {
        self.0.len()
    }

    /// Appends the line, without blanks at its end.
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

/// Round values under an axis that runs along columns, as many as have room, and their unit behind the last;
/// nothing beyond so many `columns`.
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

/// A picture that is being written.
pub(super) struct Page {
    pub(super) columns: usize,
    colour: bool,
    out: String,
}

impl Page {
    /// One of so many columns, within reason.
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

    /// A text in as many lines as it takes, so many columns in.
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
