//! What the README shows is what the program prints.
//!
//! Every block that begins with `$ pilotwire …` is run and compared. With `README=write` in the
//! environment the blocks are written anew.

use std::path::Path;

use crate::support::kept;
use crate::support::program::program;
use crate::support::scratch::scratch;

/// What the program prints for a command line of the README, both streams as a terminal shows them.
fn printed(line: &str) -> String {
    let words = line
        .strip_prefix("$ pilotwire")
        .expect("a command of this program");
    // What stands between quotes is one word.
    let words = words.split('"').enumerate().flat_map(|(index, part)| {
        if index % 2 == 1 {
            vec![part]
        } else {
            part.split_whitespace().collect()
        }
    });
    let output = program().args(words).output().expect("the program runs");
    let text = [output.stderr, output.stdout].concat();
    String::from_utf8(text).expect("the program prints UTF-8")
}

/// The text with every shown command's output as it is today.
fn renewed(text: &str) -> (String, usize) {
    let mut out = String::new();
    let mut lines = text.lines();
    let mut commands = 0;
    while let Some(line) = lines.next() {
        out.push_str(line);
        out.push('\n');
        if line.starts_with("$ pilotwire") {
            commands += 1;
            out.push_str(printed(line).trim_end());
            out.push('\n');
            let rest = lines.by_ref().skip_while(|line| !line.starts_with("```"));
            out.extend(rest.take(1).flat_map(|fence| [fence, "\n"]));
        }
    }
    (out, commands)
}

#[test]
fn the_readme_shows_what_the_program_prints() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let text = std::fs::read_to_string(&path).expect("the README is there");
    let (today, commands) = renewed(&text);
    assert!(commands >= 5, "only {commands} commands are shown");
    if kept::write("README") {
        std::fs::write(&path, today).expect("the README can be written");
        return;
    }
    kept::assert_same("README.md", &today, &text);
}

/// The pictures of the README: each has its command in a comment above it, the last word of which is the
/// file that it writes.
#[test]
fn the_readmes_pictures_are_what_the_program_draws() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = include_str!("../README.md");
    let commands = readme
        .lines()
        .filter_map(|line| line.strip_prefix("<!-- $ pilotwire ")?.strip_suffix(" -->"));
    let mut pictures = 0;
    for command in commands {
        let (words, file) = command.rsplit_once(' ').expect("a file comes last");
        assert!(
            readme.contains(&format!("]({file})")),
            "{file} is not shown"
        );
        let drawn = scratch(&file.replace('/', "-"));
        let status = program()
            .args(words.split_whitespace())
            .arg(&drawn)
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::null())
            .status()
            .expect("the program runs");
        assert!(status.success(), "{command}");
        let today = std::fs::read_to_string(&drawn).expect("the picture was written");
        if kept::write("README") {
            std::fs::write(root.join(file), &today).expect("the picture can be written");
        }
        let shown = std::fs::read_to_string(root.join(file)).unwrap_or_default();
        assert!(
            shown == today,
            "{file} is not what `pilotwire {command}` draws; README=write writes it"
        );
        pictures += 1;
    }
    assert_eq!(pictures, 2);
}

#[test]
fn every_line_of_the_readmes_outputs_fits_a_terminal() {
    let text = include_str!("../README.md");
    let mut inside = false;
    for line in text.lines() {
        if line.starts_with("```") {
            inside = !inside;
        }
        assert!(!inside || line.chars().count() <= 80, "{line}");
    }
}
