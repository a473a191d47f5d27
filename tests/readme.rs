//! The README and the papers in `docs/` show exactly what the program prints.
//!
//! Every block that begins with `$ pilotwire …` is run and compared. With `README=write` in the environment the
//! test rewrites the blocks.

use std::path::{Path, PathBuf};

use crate::support::kept;
use crate::support::program::program;
use crate::support::scratch::scratch;

/// A paper: its path from the root of the repository, and its text.
struct Paper {
    path: PathBuf,
    text: String,
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The README, then the papers of `docs/` by name.
fn papers() -> Vec<Paper> {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(root().join("docs"))
        .expect("docs/ is there")
        .map(|entry| Path::new("docs").join(entry.expect("docs/ can be read").file_name()))
        .filter(|path| path.extension().is_some_and(|end| end == "md"))
        .collect();
    paths.sort();
    paths.insert(0, "README.md".into());
    let read = |path: PathBuf| {
        let text = std::fs::read_to_string(root().join(&path)).expect("a paper can be read");
        Paper { path, text }
    };
    paths.into_iter().map(read).collect()
}

/// The output for a command line of a paper, both streams as a terminal shows them.
fn printed(line: &str) -> String {
    let words = line
        .strip_prefix("$ pilotwire")
        .expect("a command of this program");
    // A quoted text is one word.
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

/// The text with today's output of every command shown.
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
fn the_papers_show_what_the_program_prints() {
    let mut shown = 0;
    for Paper { path, text } in papers() {
        let (today, commands) = renewed(&text);
        shown += commands;
        if kept::write("README") {
            std::fs::write(root().join(path), today).expect("a paper can be written");
        } else {
            kept::assert_same(&path.display().to_string(), &today, &text);
        }
    }
    assert!(shown >= 12, "only {shown} commands are shown");
}

/// The pictures of the papers: a comment above each has its command, whose last word is the file it writes.
#[test]
fn the_papers_pictures_are_what_the_program_draws() {
    let mut pictures = 0;
    for Paper { path, text } in papers() {
        let commands = text
            .lines()
            .filter_map(|line| line.strip_prefix("<!-- $ pilotwire ")?.strip_suffix(" -->"));
        for command in commands {
            let (words, file) = command.rsplit_once(' ').expect("a file comes last");
            // The path is relative to the paper's own folder.
            let folder = path.parent().expect("a paper lies in a folder");
            let link = Path::new(file).strip_prefix(folder);
            let link = link.expect("a picture lies beside its paper, or below it");
            assert!(
                text.contains(&format!("]({})", link.display())),
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
                std::fs::write(root().join(file), &today).expect("the picture can be written");
            }
            let shown = std::fs::read_to_string(root().join(file)).unwrap_or_default();
            assert!(
                shown == today,
                "{file} is not what `pilotwire {command}` draws; README=write writes it"
            );
            pictures += 1;
        }
    }
    assert_eq!(pictures, 2);
}

#[test]
fn every_line_of_the_papers_outputs_fits_a_terminal() {
    for Paper { path, text } in papers() {
        let mut inside = false;
        for line in text.lines() {
            if line.starts_with("```") {
                inside = !inside;
            }
            let fits = !inside || line.chars().count() <= 80;
            assert!(fits, "{}: {line}", path.display());
        }
    }
}
