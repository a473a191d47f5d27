//! Lines of at most 80 columns.

/// Widest line of a text [columns].
pub(crate) const WIDTH: usize = 80;

/// Units that stay on one line with their number.
const UNITS: [&str; 17] = [
    "V", "A", "mA", "W", "VA", "kWh", "%", "°C", "ohm", "ohm/km", "m", "ft", "s", "ms", "uF", "Hz",
    "AWG",
];

/// Appends `text` to `out`, wrapped at words; `first` begins the first line and `rest` the others.
pub(crate) fn wrap(out: &mut String, first: &str, rest: &str, text: &str) {
    let room = |beginning: &str| WIDTH.saturating_sub(beginning.chars().count());
    for (number, line) in broken(text, room(first), room(rest)).lines().enumerate() {
        let line = format!("{}{line}", if number == 0 { first } else { rest });
        out.push_str(line.trim_end());
        out.push('\n');
    }
}

/// `text` in lines of at most `columns`.
pub(crate) fn wrapped(text: &str, columns: usize) -> String {
    broken(text, columns, columns)
}

/// `text` with its lines broken: the first after `first` columns, the others after `rest`.
fn broken(text: &str, first: usize, rest: usize) -> String {
    let mut out = String::new();
    let (mut used, mut columns) = (0, first);
    for (number, word) in words(text).into_iter().enumerate() {
        let wide = word.chars().count();
        if number > 0 {
            if used + 1 + wide > columns {
                out.push('\n');
                (used, columns) = (0, rest);
            } else {
                out.push(' ');
                used += 1;
            }
        }
        out.push_str(word);
        used += wide;
    }
    out
}

/// The words of a text; a number and its unit count as one, and so does what stands in back-quotes.
fn words(text: &str) -> Vec<&str> {
    let mut words = Vec::new();
    let mut start = 0;
    let mut quoted = false;
    for (at, letter) in text.char_indices() {
        match letter {
            '`' => quoted = !quoted,
            ' ' if !quoted && !parts_a_unit(&text[start..at], &text[at + 1..]) => {
                words.push(&text[start..at]);
                start = at + 1;
            }
            _ => {}
        }
    }
    words.push(&text[start..]);
    words
}

/// Whether a space between these two parts a number from its unit.
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
