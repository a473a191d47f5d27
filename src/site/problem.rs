//! Everything wrong with a site file: the line, the spot in it, what is wrong and what to write.
//!
//! ```text
//! config/yard.toml, line 14
//!     length = "210"
//!              =====
//!   link gate > fence: `"210"` has no unit
//!   → write `"210 m"` or `"210 ft"`
//! ```

use std::fmt::{self, Write};
use std::ops::Range;

use textwrap::core::display_width;
use toml::de::DeValue;

use crate::wrap::{WIDTH, wrap_in};

use super::fault::Fault;

/// One thing wrong with the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// What is wrong, naming the table it is in.
    pub message: String,
    /// What to do about it.
    pub remedy: String,
    /// Place in the file [bytes]; `None` for the file as a whole.
    pub span: Option<Range<usize>>,
    /// If `span` is a list and not all of it is wrong: the entries that are.
    entries: Vec<usize>,
    /// A related place, and how it is related.
    pub related: Option<(Range<usize>, String)>,
}

impl Problem {
    pub(crate) fn new(
        span: Range<usize>,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            message: message.into(),
            remedy: remedy.into(),
            span: Some(span),
            entries: Vec::new(),
            related: None,
        }
    }

    pub(crate) fn whole(message: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            remedy: remedy.into(),
            span: None,
            entries: Vec::new(),
            related: None,
        }
    }

    pub(crate) fn fault(span: Range<usize>, place: &str, fault: Fault) -> Self {
        Self::new(span, format!("{place}: {}", fault.message), fault.remedy)
            .of_entries(fault.entries)
    }

    /// Points only to these entries of the list.
    pub(crate) fn of_entries(self, entries: Vec<usize>) -> Self {
        Self { entries, ..self }
    }

    /// Whether it points into the file, to a place for which `which` is true.
    pub(super) fn starts_where(&self, which: impl Fn(usize) -> bool) -> bool {
        self.span.as_ref().is_some_and(|span| which(span.start))
    }

    pub(crate) fn and_see(mut self, span: Range<usize>, label: impl Into<String>) -> Self {
        self.related = Some((span, label.into()));
        self
    }
}

/// All problems of one file, with the text that they point into.
#[derive(Debug, Clone)]
pub struct Problems {
    path: String,
    source: String,
    list: Vec<Problem>,
}

/// Most problems that a report shows: an owner does not correct more in one go, and a file that is not a site
/// file at all would fill the screen.
const MOST_SHOWN: usize = 50;

impl Problems {
    pub(crate) fn new(path: &str, source: &str, mut list: Vec<Problem>) -> Self {
        list.sort_by_key(|problem| problem.span.as_ref().map_or(0, |span| span.start));
        Self {
            path: path.into(),
            // Control characters beyond ASCII would reach the terminal unchanged; the replacement has as many
            // bytes, so that places stay the same.
            source: source.replace(|c: char| c.is_control() && !c.is_ascii(), "¿"),
            list,
        }
    }

    /// The problems, in the order of the file.
    pub fn list(&self) -> &[Problem] {
        &self.list
    }

    fn head(&self) -> String {
        let count = match self.list.len() {
            1 => "1 problem".into(),
            many => format!("{many} problems"),
        };
        format!("{}: {count}, nothing was done", self.path)
    }

    /// The number of problems, and the first one: a status has no room for more.
    pub fn in_short(&self) -> String {
        match self.list.first() {
            Some(first) => format!("{}; the first: {}", self.head(), first.message),
            None => self.head(),
        }
    }

    /// The report, in lines of at most so many columns: first the number of problems, then each with its line.
    pub fn render(&self, columns: usize, colour: bool) -> String {
        let columns = columns.max(NARROWEST);
        let mut report = String::new();
        wrap_in(&mut report, columns, "", "  ", &self.head());
        for problem in self.list.iter().take(MOST_SHOWN) {
            report.push('\n');
            self.place(problem, columns, colour, &mut report);
            wrap_in(&mut report, columns, "  ", "  ", &problem.message);
            wrap_in(&mut report, columns, "  → ", "    ", &problem.remedy);
        }
        if self.list.len() > MOST_SHOWN {
            let more = self.list.len() - MOST_SHOWN;
            let _ = writeln!(report, "\n{more} more, shown when these are mended");
        }
        report
    }

    /// The place of a problem: file and line in words, and the line itself with the spot marked.
    fn place(&self, problem: &Problem, columns: usize, colour: bool, report: &mut String) {
        let Some(span) = &problem.span else {
            wrap_in(report, columns, "", "  ", &self.path);
            return;
        };
        let mut marked: Vec<Range<usize>> = self.entries_of(span, &problem.entries);
        if marked.is_empty() {
            marked.push(span.clone());
        }
        let line = self.line_at(marked[0].start);
        let head = format!("{}, line {}", self.path, self.number(line.start));
        wrap_in(report, columns, "", "  ", &head);
        marked.retain(|span| line.contains(&span.start) || span.start == line.end);
        self.quote(&line, &marked, (columns, colour), report);
        if let Some((span, label)) = &problem.related {
            let line = self.line_at(span.start);
            let head = format!("line {}, {label}", self.number(line.start));
            wrap_in(report, columns, "  ", "  ", &head);
            let spot = std::slice::from_ref(span);
            self.quote(&line, spot, (columns, colour), report);
        }
    }

    /// The places of these entries of the list at `span`.
    fn entries_of(&self, span: &Range<usize>, entries: &[usize]) -> Vec<Range<usize>> {
        let list = self.source.get(span.clone()).map(DeValue::parse);
        let Some(Ok(list)) = list.filter(|_| !entries.is_empty()) else {
            return Vec::new();
        };
        let DeValue::Array(list) = list.get_ref() else {
            return Vec::new();
        };
        let places = entries
            .iter()
            .filter_map(|entry| Some(list.get(*entry)?.span()));
        places
            .map(|at| span.start + at.start..span.start + at.end)
            .collect()
    }

    /// The line that contains `at`, without its line ending.
    fn line_at(&self, at: usize) -> Range<usize> {
        let at = at.min(self.source.len());
        let start = self.source[..at].rfind('\n').map_or(0, |end| end + 1);
        let end = self.source[at..].find('\n');
        let end = end.map_or(self.source.len(), |end| at + end);
        start..end
    }

    /// Its number, from 1.
    fn number(&self, start_of_line: usize) -> usize {
        self.source[..start_of_line].matches('\n').count() + 1
    }

    /// The line, or as much of it around its first spot as fits, and marks under the spots.
    fn quote(
        &self,
        line: &Range<usize>,
        spots: &[Range<usize>],
        (columns, colour): (usize, bool),
        report: &mut String,
    ) {
        // A tab or control character takes one column, so that each mark is under its spot.
        let cells: Vec<(usize, char)> = self.source[line.clone()]
            .char_indices()
            .map(|(at, letter)| match letter {
                '\t' => (line.start + at, ' '),
                letter if letter.is_control() => (line.start + at, '¿'),
                letter => (line.start + at, letter),
            })
            .collect();
        let trimmed = cells
            .iter()
            .rposition(|(_, letter)| !" ¿".contains(*letter));
        let cells = &cells[..trimmed.map_or(0, |last| last + 1)];
        let room = columns.saturating_sub(INDENT.len() + 2 * CUT.len()).max(1);
        let wide = |cell: &(usize, char)| display_width(cell.1.encode_utf8(&mut [0; 4]));
        let width = |cells: &[(usize, char)]| cells.iter().map(wide).sum::<usize>();
        // The number of these cells that fit.
        let fitting = |cells: &mut dyn Iterator<Item = &(usize, char)>, room: usize| {
            let mut used = 0;
            let fits = |cell: &&(usize, char)| {
                used += wide(cell);
                used <= room
            };
            cells.take_while(fits).count()
        };
        let first = cells.partition_point(|(at, _)| *at < spots[0].start);
        let mut shown = 0..cells.len();
        if width(cells) > room + 2 * CUT.len() {
            // A third of the width goes to the text before the spot.
            let before = fitting(&mut cells[..first].iter().rev(), room / 3);
            shown.start = first - before;
            shown.end = shown.start + fitting(&mut cells[shown.start..].iter(), room);
        }
        let [before, behind] =
            [shown.start > 0, shown.end < cells.len()].map(|cut| if cut { CUT } else { "" });
        let text: String = cells[shown.clone()]
            .iter()
            .map(|(_, letter)| letter)
            .collect();
        let _ = writeln!(report, "{INDENT}{before}{text}{behind}");
        let mut marks = " ".repeat(before.len());
        for cell in &cells[shown.clone()] {
            let meant = spots.iter().any(|spot| spot.contains(&cell.0));
            marks.push_str(&if meant { "=" } else { " " }.repeat(wide(cell)));
        }
        // A spot without letters, such as the end of a line, is marked after the text before it.
        if !marks.contains('=') {
            marks.truncate(before.len() + width(&cells[shown.start.min(first)..first]));
            marks.push('=');
        }
        let (bold, plain) = if colour { BOLD } else { ("", "") };
        let _ = writeln!(report, "{INDENT}{bold}{}{plain}", marks.trim_end());
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(WIDTH, false))
    }
}

/// Fewest columns that can show a line of a file and its spot.
const NARROWEST: usize = 50;

/// Before a line of the file, and before the marks under it.
const INDENT: &str = "    ";

/// Replaces the part of a long line that does not fit.
const CUT: &str = "...";

/// The terminal sequences before bold letters and after them.
const BOLD: (&str, &str) = ("\u{1b}[1m", "\u{1b}[0m");
