//! The walls of the house: which room may import which. Read from the `crate::` paths of the sources.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Source files of a folder, without those of tests.
fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    let mut entries: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    entries.sort();
    for path in entries {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() && name != "tests" && name != "physics" {
            sources(&path, into);
        } else if path.extension().is_some_and(|it| it == "rs") && name != "tests.rs" {
            into.push(path);
        }
    }
}

/// The code of a file: no comments, nothing below its own tests.
fn code(path: &Path) -> String {
    let text = fs::read_to_string(path).unwrap();
    let text = text.split("#[cfg(test)]\nmod tests").next().unwrap();
    text.lines()
        .map(|line| line.split("//").next().unwrap())
        .collect::<Vec<_>>()
        .join("\n")
}

/// The room of a file: its folder below `src`, or its own name.
fn room(path: &Path) -> String {
    let inside = path.strip_prefix("src").unwrap();
    let first = inside.iter().next().unwrap().to_string_lossy();
    first.trim_end_matches(".rs").to_owned()
}

/// What a code imports of this crate, by its first name: `link` of `crate::link::Verdict`.
fn imports(code: &str) -> BTreeSet<String> {
    let paths = ["crate::", "pilotwire::"];
    let after = paths.iter().flat_map(|path| code.split(path).skip(1));
    after
        .map(|rest| {
            rest.chars()
                .take_while(|c| c.is_ascii_lowercase() || *c == '_')
                .collect()
        })
        .filter(|name: &String| !name.is_empty())
        .collect()
}

/// Who imports whom, with the files that do.
fn house() -> BTreeMap<(String, String), BTreeSet<String>> {
    let mut files = Vec::new();
    sources(Path::new("src"), &mut files);
    let mut house: BTreeMap<(String, String), BTreeSet<String>> = BTreeMap::new();
    for path in files {
        let from = room(&path);
        if from == "lib" || from == "main" {
            continue;
        }
        for to in imports(&code(&path)) {
            if to != from && to != "cases" {
                let file = path.display().to_string();
                house.entry((from.clone(), to)).or_default().insert(file);
            }
        }
    }
    house
}

/// Who must not import whom, and why.
const WALLS: [(&str, &[&str], &str); 10] = [
    (
        "civil_time",
        &["site", "link", "schedule"],
        "clocks know no yard",
    ),
    (
        "site",
        &["link", "chain", "schedule"],
        "the file is read before anything is worked out",
    ),
    (
        "link",
        &["chain", "schedule", "cautions"],
        "one link knows neither the yard's course nor its hours",
    ),
    (
        "chain",
        &["schedule", "cautions"],
        "a course of events is the same at any hour",
    ),
    (
        "picture",
        &["cautions", "report"],
        "a picture draws what was judged, it does not judge",
    ),
    (
        "commissioning",
        &["cautions"],
        "a meter shows what is there, whatever was warned of",
    ),
    (
        "parts",
        &["cautions"],
        "what is bought follows from the circuit",
    ),
    (
        "daemon",
        &["cautions", "report", "page", "picture"],
        "the daemon takes a verdict, it makes none",
    ),
    (
        "text",
        &["cautions", "report", "schedule", "daemon"],
        "words stand below those who lay them out",
    ),
    (
        "lamp_run",
        &["cautions"],
        "calculators stand below the rules",
    ),
];

#[test]
fn the_walls_stand() {
    let house = house();
    for (from, forbidden, why) in WALLS {
        for to in forbidden {
            let through = house.get(&(from.to_owned(), (*to).to_owned()));
            assert!(through.is_none(), "{from} imports {to}: {through:?}; {why}");
        }
    }
}

/// The physics is a package of its own: it cannot import a room of this one, and does not ask for it.
#[test]
fn the_physics_stands_alone() {
    let manifest = fs::read_to_string("src/physics/Cargo.toml").unwrap();
    let depends = manifest.split("[dependencies]").nth(1).unwrap();
    assert!(!depends.contains("pilotwire"), "{depends}");
}

/// No room imports a room above it: there is an order of all rooms in which every arrow points down.
#[test]
fn no_two_rooms_import_each_other() {
    let mut arrows: BTreeSet<(String, String)> = house().into_keys().collect();
    loop {
        // Rooms that import none of those left stand at the bottom of them.
        let above: BTreeSet<String> = arrows.iter().map(|(from, _)| from.clone()).collect();
        let before = arrows.len();
        arrows.retain(|(_, to)| above.contains(to));
        if arrows.is_empty() {
            return;
        }
        assert!(arrows.len() < before, "a circle among {arrows:?}");
    }
}

/// A room of which nothing was read would pass every wall.
#[test]
fn the_walls_are_seen() {
    let house = house();
    for (from, to) in [("cautions", "link"), ("link", "site"), ("site", "circuit")] {
        assert!(house.contains_key(&(from.into(), to.into())), "{from} {to}");
    }
    let rooms: BTreeSet<&String> = house.keys().map(|(from, _)| from).collect();
    for (from, _, _) in WALLS {
        assert!(
            from == "civil_time" || rooms.contains(&from.to_owned()),
            "{from}"
        );
    }
}
