//! The TOML reader's complaints, reworded for a reader who has never heard of TOML.

use std::ops::Range;

use toml::de::Error;

use super::keys::is_single;
use super::problem::Problem;

/// The complaints about a text, and which lines they make uncertain.
pub(super) struct Complaints {
    /// One per faulty line; complaints that only follow from another are left out.
    pub(super) problems: Vec<Problem>,
    /// Whether a complaint leaves open which table the lines below it belong to.
    pub(super) tables_unsure: bool,
    lines: Vec<Range<usize>>,
}

impl Complaints {
    /// Whether a complaint is about the line that contains `at`.
    pub(super) fn cover(&self, at: usize) -> bool {
        self.lines
            .iter()
            .any(|line| (line.start..=line.end).contains(&at))
    }
}

/// Explains what is wrong with the lines of `text` that could not be read.
pub(super) fn complaints(text: &str, errors: &[Error]) -> Complaints {
    let mut found = Complaints {
        problems: Vec::new(),
        tables_unsure: false,
        lines: Vec::new(),
    };
    let mut errors: Vec<(&Error, Range<usize>)> = errors
        .iter()
        .map(|error| (error, within(text, error.span().unwrap_or(0..0))))
        .collect();
    errors.sort_by_key(|(_, span)| span.start);
    for (error, span) in errors {
        let line = line_at(text, span.start);
        let duplicate = error.message().starts_with("duplicate key");
        // Without its table's name a key lands in the table above, where the same key may exist already.
        if found.cover(span.start) || (duplicate && found.tables_unsure) {
            continue;
        }
        let written = text[line.clone()].trim();
        let of_table = written.starts_with('[') || error.message().starts_with("recursion limit");
        let open = ["unclosed", "missing comma"]
            .iter()
            .any(|start| error.message().starts_with(start));
        found.tables_unsure |= (of_table && !duplicate) || open;
        if let Some(list) = open.then(|| open_list(text, &line, span.start)).flatten() {
            found.problems.push(Problem::new(
                list,
                "the list is not closed",
                "write `]` after its last entry",
            ));
            // Everything below was read as part of it.
            break;
        }
        found.problems.push(if duplicate {
            twice(text, span, &line)
        } else {
            let (message, remedy) = said(written, error.message());
            Problem::new(span, message, remedy)
        });
        found.lines.push(line);
    }
    found
}

/// `span` cut to the text, for an error at its very end.
fn within(text: &str, span: Range<usize>) -> Range<usize> {
    let boundary = |at: usize| {
        let back = (0..=at.min(text.len())).rev();
        back.into_iter()
            .find(|at| text.is_char_boundary(*at))
            .unwrap_or(0)
    };
    let start = boundary(span.start);
    start..boundary(span.end).max(start)
}

/// The line that contains `at`, without its line ending.
fn line_at(text: &str, at: usize) -> Range<usize> {
    let start = text[..at].rfind('\n').map_or(0, |end| end + 1);
    let end = text[at..].find('\n').map_or(text.len(), |end| at + end);
    start..end
}

/// The list that was begun above `line` and is still open there.
fn open_list(text: &str, line: &Range<usize>, at: usize) -> Option<Range<usize>> {
    let header = text[line.clone()].trim_start().starts_with('[');
    if text[line.start..at].contains('[') && !header {
        return None;
    }
    let above = &text[..line.start];
    let begins = ["= [", "=["].iter().filter_map(|begin| above.rfind(begin));
    let start = begins.max()?;
    let start = start + text[start..].find('[')?;
    Some(start..line_at(text, start).end)
}

/// A key or table that exists already; points to the first one as well.
fn twice(text: &str, span: Range<usize>, line: &Range<usize>) -> Problem {
    let written = text[line.clone()].trim();
    let key_of = |line: &str| line.split_once('=').map(|(key, _)| key.trim().to_owned());
    let mut before = Vec::new();
    let mut start = 0;
    for earlier in text[..line.start].split_inclusive('\n') {
        before.push((start, earlier));
        start += earlier.len();
    }
    if written.starts_with('[') {
        let name = table_name(written);
        let header = before
            .iter()
            .find(|(_, line)| line.trim().starts_with('[') && table_name(line.trim()) == name);
        let problem = Problem::new(
            span,
            format!("the table `{name}` is there already"),
            if is_single(name) {
                format!("keep one `[{name}]` with all its keys")
            } else {
                format!("write `[[{name}]]` for each of them")
            },
        );
        return match header {
            Some((start, line)) => {
                problem.and_see(*start..*start + line.trim_end().len(), "the first one")
            }
            None => problem,
        };
    }
    let key = text[span.clone()].to_owned();
    let problem = Problem::new(
        span,
        format!("`{key}` is there twice in one table"),
        "keep one of the two lines",
    );
    let first = before
        .iter()
        .rev()
        .take_while(|(_, line)| !line.trim_start().starts_with('['))
        .find(|(_, line)| key_of(line).is_some_and(|earlier| earlier == key));
    match first {
        Some((start, line)) => {
            let indent = line.len() - line.trim_start().len();
            let at = start + indent;
            problem.and_see(at..at + key.len(), "the first one")
        }
        None => problem,
    }
}

/// The name in `[site]` or `[[zone]]`, however its brackets are closed.
fn table_name(line: &str) -> &str {
    let name = line.trim_start_matches(['[', ' ']);
    let end = name.find([']', '[', '#', ' ', '=']).unwrap_or(name.len());
    &name[..end]
}

/// Message and remedy for a line, from its text and the reader's complaint.
fn said(line: &str, complaint: &str) -> (String, String) {
    if complaint.starts_with("recursion limit") {
        return (
            "lists or tables stand in one another without end".into(),
            "a site file has tables of keys, and lists of words; nothing deeper".into(),
        );
    }
    if line.contains(['“', '”', '„', '‘', '’']) {
        let straight = line.replace(['“', '”', '„', '‘', '’'], "\"");
        return (
            "the quotes are a word processor's".into(),
            format!("write plain ones: `{straight}`"),
        );
    }
    if line.starts_with('[') {
        let name = table_name(line);
        let whole = if is_single(name) {
            format!("write `[{name}]`")
        } else {
            format!("write `[[{name}]]`")
        };
        return (
            format!("the brackets of the table `{name}` are not in pairs"),
            whole,
        );
    }
    let name_like = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    let key_end = line.find(|c| !name_like(c)).unwrap_or(line.len());
    let (key, rest) = line.split_at(key_end);
    if let Some(value) = rest.trim_start().strip_prefix(':') {
        return (
            "there is a `:` where `=` belongs".into(),
            format!("write `{key} = {}`", value.trim()),
        );
    }
    let Some(value) = rest.trim_start().strip_prefix('=') else {
        return (
            format!("`{key}` has no `=`"),
            "write `key = value`, or put `#` in front of a comment".into(),
        );
    };
    let value = value.split(" #").next().unwrap_or_default().trim();
    of_value(key, value, complaint)
}

fn of_value(key: &str, value: &str, complaint: &str) -> (String, String) {
    if value.is_empty() {
        return (
            format!("`{key}` has no value"),
            "write it after the `=`, or take the line out".into(),
        );
    }
    if complaint.starts_with("invalid date") {
        return (
            format!("`{value}` is not in the calendar"),
            "write a date such as `2027-12-24`".into(),
        );
    }
    if let Some(list) = value.strip_prefix('[') {
        let (message, end) = if list.contains(']') {
            ("the list cannot be read", "")
        } else {
            ("the list is not closed", " and `]` at its end")
        };
        return (
            message.into(),
            format!("write its entries in quotes, with commas between{end}"),
        );
    }
    let quotes = value.matches('"').count();
    if value.starts_with('"') && quotes == 1 {
        return (
            "the quotes are not closed".into(),
            format!("write `{key} = {value}\"`"),
        );
    }
    if !value.starts_with(['"', '\'', '{']) {
        let point = value.replacen(',', ".", 1);
        if value.contains(',') && point.parse::<f64>().is_ok() {
            return (
                format!("`{value}` has a decimal comma"),
                format!("write a point: `{key} = {point}`"),
            );
        }
        let small = value.to_ascii_lowercase();
        if ["true", "false"].contains(&small.as_str()) {
            return (
                format!("`{value}` has a capital letter"),
                format!("write `{key} = {small}`"),
            );
        }
        if value.parse::<f64>().is_err() && quotes <= 1 {
            let bare = value.trim_matches('"');
            return (
                format!("`{bare}` is not in quotes"),
                format!("write `{key} = \"{bare}\"`"),
            );
        }
    }
    if complaint.starts_with("unexpected key or value") {
        return (
            "there is more on the line than one value".into(),
            "write one `key = value` to a line; a comment begins with `#`".into(),
        );
    }
    (
        complaint.lines().collect::<Vec<_>>().join("; "),
        "write `key = value`, one to a line, with text in quotes".into(),
    )
}
