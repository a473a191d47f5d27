//! The command `picture`: characters to a terminal or a pipe, SVG to a file.

use std::process::Output;

use crate::support::program::program;
use crate::support::scratch::scratch;

fn picture(words: &[&str], environment: &[(&str, &str)]) -> Output {
    let mut command = program();
    command.arg("picture").args(words);
    for (name, value) in environment {
        command.env(name, value);
    }
    command.output().unwrap()
}

const YARD: &str = "config/chain-of-three.toml";

#[test]
fn without_a_file_a_picture_is_drawn_in_characters() {
    for what in ["yard", "ladder", "lamps", "chain"] {
        for (environment, columns) in [
            (vec![], 80),
            (vec![("COLUMNS", "40")], 40),
            (vec![("COLUMNS", "120"), ("NO_COLOR", "1")], 120),
            (vec![("COLUMNS", "nonsense")], 80),
        ] {
            let output = picture(&[what, YARD], &environment);
            assert!(output.status.success());
            assert!(output.stderr.is_empty());
            let text = String::from_utf8(output.stdout).unwrap();
            assert!(!text.contains('\u{1b}'), "colours in a pipe");
            let longest = text.lines().map(|line| line.chars().count()).max().unwrap();
            assert!(
                longest <= columns && longest > columns / 2,
                "{what}: {longest} of {columns}"
            );
        }
    }
}

#[test]
fn with_a_file_a_picture_is_svg() {
    let file = scratch("picture-of-the-program.svg");
    let name = file.to_str().unwrap();
    for what in ["yard", "ladder", "lamps", "chain"] {
        let output = picture(&[what, YARD, "-o", name], &[]);
        assert!(output.status.success() && output.stdout.is_empty());
        let written = std::fs::read_to_string(&file).unwrap();
        assert!(written.starts_with("<svg "));
        let output = picture(&[what, YARD, "-o", "-"], &[]);
        assert_eq!(String::from_utf8(output.stdout).unwrap(), written);
    }
    let output = picture(&["yard", YARD, "-o", "/no/such/folder/yard.svg"], &[]);
    assert_eq!(output.status.code(), Some(74));
}

#[test]
fn a_link_is_of_a_ladder_only() {
    let one = picture(&["ladder", YARD, "gate"], &[]);
    let text = String::from_utf8(one.stdout).unwrap();
    assert!(text.contains("beech-walk > gate") && !text.contains("terrace > beech-walk"));
    assert_eq!(
        picture(&["lamps", YARD, "gate"], &[]).status.code(),
        Some(64)
    );
}
