//! Lines of at most 80 columns.

use super::WIDTH;

/// Appends `text` to `out`, wrapped at words; `first` begins the first line and `rest` the others.
pub(super) fn wrap(out: &mut String, first: &str, rest: &str, text: &str) {
    let mut line = first.to_owned();
    let mut columns = first.chars().count();
    let mut empty = true;
    for word in text.split(' ') {
        let word_columns = word.chars().count();
        if !empty && columns + 1 + word_columns > WIDTH {
            out.push_str(line.trim_end());
            out.push('\n');
            rest.clone_into(&mut line);
            columns = rest.chars().count();
            empty = true;
        }
        if !empty {
            line.push(' ');
            columns += 1;
        }
        line.push_str(word);
        columns += word_columns;
        empty = false;
    }
    out.push_str(line.trim_end());
    out.push('\n');
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
}
