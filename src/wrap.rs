//! Breaks text into lines of limited width.

use textwrap::{Options, WordSeparator, WordSplitter, WrapAlgorithm};

/// Widest line of a text [columns].
pub(crate) const WIDTH: usize = 80;

/// Units that stay on the same line as their number.
const UNITS: [&str; 17] = [
    "V", "A", "mA", "W", "VA", "kWh", "%", "°C", "ohm", "ohm/km", "m", "ft", "s", "ms", "uF", "Hz",
    "AWG",
];

/// Appends `text` to `out`, wrapped at words; `first` starts the first line and `rest` the others.
pub(crate) fn wrap(out: &mut String, first: &str, rest: &str, text: &str) {
    wrap_in(out, WIDTH, first, rest, text);
}

/// The same in lines of at most `columns`.
pub(crate) fn wrap_in(out: &mut String, columns: usize, first: &str, rest: &str, text: &str) {
    let options = Options::new(columns)
        .initial_indent(first)
        .subsequent_indent(rest)
        .break_words(false)
        .word_separator(WordSeparator::AsciiSpace)
        .word_splitter(WordSplitter::NoHyphenation)
        .wrap_algorithm(WrapAlgorithm::FirstFit);
    for line in textwrap::wrap(&glued(text), options) {
        out.push_str(line.replace(GLUE, " ").trim_end());
        out.push('\n');
    }
}

/// `text` in lines of at most `columns`.
pub(crate) fn wrapped(text: &str, columns: usize) -> String {
    let mut out = String::new();
    wrap_in(&mut out, columns, "", "", text);
    out.truncate(out.trim_end_matches('\n').len());
    out
}

/// A space where no line may break (U+00A0).
const GLUE: char = '\u{a0}';

/// Joins each number to its unit, and the words inside back-quotes, so that no line breaks there.
fn glued(text: &str) -> String {
    let mut quoted = false;
    let glue = |(at, letter): (usize, char)| match letter {
        '`' => {
            quoted = !quoted;
            letter
        }
        ' ' if quoted || parts_a_unit(&text[..at], &text[at + 1..]) => GLUE,
        _ => letter,
    };
    text.char_indices().map(glue).collect()
}

/// Whether a space between these two would part a number from its unit.
fn parts_a_unit(before: &str, after: &str) -> bool {
    let next = after.split(' ').next().unwrap_or_default();
    let unit = next.trim_end_matches([',', ';', '.', ':', ')']);
    before.ends_with(|last: char| last.is_ascii_digit()) && UNITS.contains(&unit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_wider_than_a_terminal() {
        let mut out = String::new();
        wrap(
            &mut out,
            "  reason  ",
            "          ",
            &"word°word ".repeat(40),
        );
        assert!(out.lines().count() > 3);
        assert!(
            out.lines().all(|line| line.chars().count() <= WIDTH),
            "{out}"
        );
        assert!(
            out.lines()
                .skip(1)
                .all(|line| line.starts_with("          w"))
        );
    }

    #[test]
    fn a_number_keeps_its_unit() {
        let mut out = String::new();
        wrap(&mut out, "", "", &"about 12.5 V, ".repeat(12));
        assert!(out.lines().all(|line| !line.starts_with('V')), "{out}");
    }
}
