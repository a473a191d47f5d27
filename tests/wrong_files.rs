//! Every mistake has its message.
//!
//! Beside each wrong site file in `wrong_files/` is the report that it causes. With `WRONG_FILES=write` in the
//! environment the test rewrites the reports: read the changes as if you had just made that mistake.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use crate::support::kept;
use crate::support::program::{self, given};

/// Wrong configuration (`EX_CONFIG` of sysexits.h).
const CONFIG: i32 = 78;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/wrong_files")
}

fn program() -> Command {
    let mut program = program::program();
    program.current_dir(folder()).env_remove("TZDIR");
    program
}

/// The output of `check` for a file of the folder.
fn checked(file: &str) -> Output {
    let mut program = program();
    program.args(["check", file, "--date", "2027-01-01"]);
    program.output().expect("the program runs")
}

/// The output of `check` for a text on standard input.
fn checked_text(text: &[u8]) -> Output {
    checked_with(text, &[])
}

/// The same, with these environment variables.
fn checked_with(text: &[u8], environment: &[(&str, &str)]) -> Output {
    let mut program = program();
    program.args(["check", "-", "--date", "2027-01-01"]);
    program.envs(environment.iter().copied());
    given(&mut program, text)
}

/// The report on a text that is refused.
fn refused(text: &[u8]) -> String {
    let output = checked_text(text);
    let report = String::from_utf8(output.stderr).expect("a report is UTF-8");
    assert_eq!(output.status.code(), Some(CONFIG), "{report}");
    assert!(
        output.stdout.is_empty(),
        "nothing is printed but the report"
    );
    fits_a_terminal(&report);
    report
}

fn fits_a_terminal(report: &str) {
    for line in report.lines() {
        assert!(line.chars().count() <= 80, "wider than 80 columns: {line}");
    }
}

fn wrong_files() -> Vec<String> {
    let entries = fs::read_dir(folder()).expect("the folder is there");
    let paths = entries.map(|entry| entry.expect("a file").path());
    let mut files: Vec<String> = paths
        .filter(|path| path.extension().is_some_and(|kind| kind == "toml"))
        .filter_map(|path| Some(path.file_name()?.to_str()?.to_owned()))
        .collect();
    files.sort_unstable();
    files
}

#[test]
fn every_wrong_file_brings_its_report() {
    let files = wrong_files();
    assert!(files.len() >= 150, "only {} files are there", files.len());
    let write = kept::write("WRONG_FILES");
    for file in files {
        let expected = folder().join(&file).with_extension("txt");
        let output = checked(&file);
        let report = String::from_utf8(output.stderr).expect("a report is UTF-8");
        assert_eq!(output.status.code(), Some(CONFIG), "{file}:\n{report}");
        assert!(
            output.stdout.is_empty(),
            "{file} prints more than its report"
        );
        fits_a_terminal(&report);
        if write {
            fs::write(&expected, report).expect("the report can be written");
        } else {
            let kept = fs::read_to_string(&expected).unwrap_or_default();
            kept::assert_same(&file, &report, &kept);
        }
    }
}

#[test]
fn no_report_is_left_without_its_file() {
    for entry in fs::read_dir(folder()).expect("the folder is there") {
        let path = entry.expect("a file").path();
        assert!(path.with_extension("toml").exists(), "{}", path.display());
        assert!(path.with_extension("txt").exists(), "{}", path.display());
    }
}

/// A yard of one zone, without mistakes.
const YARD: &str = "[site]
latitude = 44.05
longitude = -89.60
timezone = \"America/Chicago\"

[[supply]]
name = \"house\"
kind = \"transformer\"
no_load_voltage = \"13.0 V\"
rated_load = \"150 VA\"

[[zone]]
name = \"walk\"
supply = \"house\"
on = \"civil_dusk\"
off = \"23:15\"
";

#[test]
fn text_that_is_not_utf8_is_pointed_to() {
    let latin1 = [b"# Caf\xe9 corner\n", YARD.as_bytes()].concat();
    let expected = "\
standard input: 1 problem, nothing was done

standard input, line 1
    # Caf\u{fffd} corner
         =
  byte 6 is not UTF-8 text
  → save the file as UTF-8 in your editor
";
    assert_eq!(refused(&latin1), expected);
}

#[test]
fn a_file_beyond_a_mebibyte_is_not_read() {
    let text = [YARD.as_bytes(), &b"#".repeat(1 << 20)].concat();
    let report = refused(&text);
    assert!(report.contains("larger than 1 MiB"), "{report}");
}

#[test]
fn more_zones_than_a_yard_has_are_refused() {
    let zone = "[[zone]]\nname = \"zN\"\nsupply = \"house\"\non = \"sunset\"\noff = \"22:00\"\n";
    let zones: Vec<String> = (0..257)
        .map(|number| zone.replace('N', &number.to_string()))
        .collect();
    let zones = zones.concat();
    let (site, _) = YARD.split_once("[[zone]]").expect("the yard has a zone");
    let report = refused(format!("{site}{zones}").as_bytes());
    assert!(
        report.contains("the file has 257 zones, more than 256"),
        "{report}"
    );
    assert!(report.contains("split the yard"), "{report}");
}

#[test]
fn more_lamps_than_a_zone_has_are_refused_before_they_are_counted_out() {
    let lamp = "[[lamp]]\nzone = \"walk\"\ncount = 1000\npower = \"4 W\"\n";
    for trunk in [
        "",
        "[[trunk]]\nzone = \"walk\"\nwire = \"12 AWG\"\nlength = \"60 ft\"\n",
    ] {
        let report = refused(format!("{YARD}{trunk}{}", lamp.repeat(4_000)).as_bytes());
        assert!(report.starts_with("standard input: 1 problem,"), "{report}");
        assert!(
            report.contains("its zone would have more than 10000 lamps"),
            "{report}"
        );
    }
}

#[test]
fn a_report_stops_after_fifty_problems() {
    let keys: Vec<String> = (0..20_000)
        .map(|number| format!("k{number} = 1\n"))
        .collect();
    let keys = keys.concat();
    let report = refused(format!("[site]\n{keys}").as_bytes());
    assert!(
        report.starts_with("standard input: 20004 problems,"),
        "{report}"
    );
    assert!(
        report.ends_with("19954 more, shown when these are mended\n"),
        "{report}"
    );
    let trunks = "[[trunk]]\n".repeat(40_000);
    let report = refused(format!("{YARD}{trunks}").as_bytes());
    assert!(
        report.contains("more than 4096 tables of one kind"),
        "{report}"
    );
}

#[test]
fn control_characters_of_a_file_do_not_reach_the_terminal() {
    let report = refused("[site]\nname = \"a\u{85}b\u{9b}31mc\"\n".as_bytes());
    assert!(
        !report.contains(|c: char| c.is_control() && c != '\n'),
        "{report:?}"
    );
}

#[test]
fn values_within_values_within_values_end_in_an_ordinary_report() {
    const DEEP: usize = 10_000;
    let bombs = [
        format!("{YARD}lamps = {}{}\n", "[".repeat(DEEP), "]".repeat(DEEP)),
        format!("{YARD}lamps = {}\n", "[".repeat(DEEP)),
        format!(
            "{YARD}a = {}1{}\n",
            "{ a = ".repeat(DEEP),
            " }".repeat(DEEP)
        ),
        format!("{YARD}a{} = 1\n", ".a".repeat(DEEP)),
        format!("{YARD}[a{}]\nb = 1\n", ".a".repeat(DEEP)),
        format!("{YARD}[[a{}]]\nb = 1\n", ".a".repeat(DEEP)),
        (1..=400).fold(YARD.to_owned(), |text, depth| {
            format!("{text}[a{}]\n", ".a".repeat(depth))
        }),
    ];
    for bomb in bombs {
        let report = refused(bomb.as_bytes());
        assert!(report.starts_with("standard input: "), "{report}");
        assert!(report.len() < 20_000, "a report of {} bytes", report.len());
    }
}

#[test]
fn lines_may_end_as_on_windows_and_a_file_may_begin_with_a_mark() {
    let plain = checked_text(YARD.as_bytes());
    assert_eq!(plain.status.code(), Some(0));
    let windows = format!("\u{feff}{}", YARD.replace('\n', "\r\n"));
    assert_eq!(checked_text(windows.as_bytes()), plain);
}

#[test]
fn a_mistake_is_found_in_the_same_column_of_a_file_from_windows() {
    let wrong = YARD.replace("= \"house\"\non", "= \"huose\"\non");
    let windows = format!("\u{feff}{}", wrong.replace('\n', "\r\n"));
    assert_eq!(refused(windows.as_bytes()), refused(wrong.as_bytes()));
}

/// The report on a text, in lines of so many columns.
fn report_in(columns: usize, text: &str) -> String {
    let report = checked_with(text.as_bytes(), &[("COLUMNS", &columns.to_string())]).stderr;
    String::from_utf8(report).expect("a report is UTF-8")
}

#[test]
fn a_report_fits_a_phone() {
    let wrong = YARD
        .replace("= \"house\"\non", "= \"huose\"\non")
        .replace(
            "off = \"23:15\"",
            &format!("off = 23  # {}", "no quotes ".repeat(20)),
        )
        .replace("44.05", &format!("{}x", " ".repeat(90)));
    for columns in [50, 60, 80] {
        let report = report_in(columns, &wrong);
        assert!(report.contains(", line 16\n"), "{report}");
        for line in report.lines() {
            assert!(line.chars().count() <= columns, "{columns}: {line}");
        }
    }
}

#[test]
fn marks_stand_under_the_wrong_entries_of_a_list_and_nothing_else() {
    let list = "days = [\"mon\", \"friday\",   \"sat\", \"stu\"]\n";
    let report = refused(format!("{YARD}{list}").as_bytes());
    let marks = "
    days = [\"mon\", \"friday\",   \"sat\", \"stu\"]
                   ========           =====
";
    assert!(report.contains(marks), "{report}");
    let over_lines = "days = [\n  \"mon\",\n  \"fryday\",\n]\n";
    let report = refused(format!("{YARD}{over_lines}").as_bytes());
    let marks = ", line 19\n      \"fryday\",\n      ========\n";
    assert!(report.contains(marks), "{report}");
}

#[test]
fn marks_stand_under_what_they_mean_behind_tabs_and_wide_letters() {
    let text = YARD.replace("off = \"23:15\"", "\toff\t= \"25:15\"");
    let marks = "\n     off = \"25:15\"\n           =======\n";
    let report = refused(text.as_bytes());
    assert!(report.contains(marks), "{report}");
    let text = YARD.replace("timezone = ", "name = \"門\"; timezone = ");
    let report = refused(text.as_bytes());
    let lines: Vec<&str> = report.lines().collect();
    let at = lines
        .iter()
        .position(|line| line.contains('門'))
        .expect("the line is shown");
    // The letter takes two columns but is one character.
    let spot = lines[at + 1].find('=').expect("a spot is marked");
    assert_eq!(lines[at].chars().nth(spot - 1), Some(';'), "{report}");
}
