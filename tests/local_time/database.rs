//! Finding the database and a zone in it, and what to do if either is not there.

use std::ffi::OsStr;
use std::fs;
use std::path::Path;
use std::process::Command;

use pilotwire::civil_time::{ZoneError, ZoneInfo};

use super::frozen::{empty_directory, put, tzif};

const BERLIN: &str = "CET-1CEST,M3.5.0,M10.5.0/3";
const CHICAGO: &str = "CST6CDT,M3.2.0,M11.1.0";

/// A small database with the text form of the tz database beside its files.
fn small_database(test: &str) -> std::path::PathBuf {
    let directory = empty_directory(test);
    put(&directory, "Europe/Berlin", &tzif(BERLIN));
    put(&directory, "America/Chicago", &tzif(CHICAGO));
    put(
        &directory,
        "America/New_York",
        &tzif("EST5EDT,M3.2.0,M11.1.0"),
    );
    put(&directory, "UTC", &tzif("UTC0"));
    put(&directory, "Etc/UTC", &tzif("UTC0"));
    put(&directory, "Etc/GMT+5", &tzif("<-05>5"));
    let source = "# version 2026b\n\
        R d 1916 o - Jun 14 23s 1 S\n\
        Z America/Chicago -5:50:36 - LMT 1883 N 18 18u\n-6 u C%sT\n\
        Z America/New_York -4:56:2 - LMT 1883 N 18 17u\n-5 u E%sT\n\
        Z Europe/Berlin 0:53:28 - LMT 1893 Ap\n1 E CE%sT\n\
        Z Etc/UTC 0 - UTC\nZ Etc/GMT+5 -5 - -05\n\
        L Etc/UTC UTC\nL America/Chicago US/Central\n";
    put(&directory, "tzdata.zi", source.as_bytes());
    directory
}

fn error(directory: &Path, name: &str) -> String {
    ZoneInfo::new([directory])
        .open(name)
        .unwrap_err()
        .to_string()
}

#[test]
fn a_machine_without_a_database_is_told_what_to_install() {
    let directory = empty_directory("missing");
    let info = ZoneInfo::new([directory.clone(), directory.join("nor_here")]);
    let error = info.open("Europe/Berlin").unwrap_err();
    assert!(matches!(error, ZoneError::NoDatabase { .. }));
    assert_eq!(
        error.to_string(),
        format!(
            "this machine has no time zone database (looked in {0}, {0}/nor_here): install it with \
             `apt install tzdata`, or set TZDIR to the directory that holds it",
            directory.display()
        )
    );
    assert_eq!(info.version(), None);
    assert_eq!(info.names(), Vec::<String>::new());
}

#[test]
fn a_misspelt_name_brings_the_name_that_was_meant() {
    let directory = small_database("misspelt");
    for (name, meant) in [
        ("Amercia/Chicago", r#""America/Chicago""#),
        ("America/Chigaco", r#""America/Chicago""#),
        ("america/chicago", r#""America/Chicago""#),
        ("America/New York", r#""America/New_York""#),
        ("New York", r#""America/New_York""#),
        ("Berlin", r#""Europe/Berlin""#),
        ("Asia/Berlin", r#""Europe/Berlin""#),
        // An old name that the database lists but the system has not installed.
        ("US/Central", r#""America/Chicago""#),
        ("utc", r#""UTC" or "Etc/UTC""#),
    ] {
        let expected =
            format!("no time zone \"{name}\" in the machine's database; did you mean {meant}?");
        assert_eq!(error(&directory, name), expected);
    }
}

#[test]
fn a_name_like_no_other_brings_an_example() {
    let directory = small_database("strange");
    for name in [
        "Zzyzx",
        "America",
        "tzdata.zi",
        "Europe/Berlin;ls",
        "EST5EDT",
    ] {
        assert!(
            matches!(
                ZoneInfo::new([&directory]).open(name),
                Err(ZoneError::Unknown { .. })
            ),
            "{name}"
        );
    }
    assert_eq!(
        error(&directory, "Zzyzx"),
        "no time zone \"Zzyzx\" in the machine's database; use a name such as \"Europe/Berlin\" or \
         \"America/Chicago\"; `timedatectl list-timezones` prints them all"
    );
}

#[test]
fn names_are_found_in_whatever_the_database_brings() {
    let directory = small_database("names");
    let expected = [
        "America/Chicago",
        "America/New_York",
        "Etc/UTC",
        "Europe/Berlin",
    ];
    let names = || ZoneInfo::new([&directory]).names();
    assert_eq!(names(), [&expected[..], &["UTC"]].concat());
    // Without its text form, the names of the files count.
    fs::remove_file(directory.join("tzdata.zi")).unwrap();
    put(&directory, "leapseconds", b"not a zone");
    put(&directory, "right/Europe/Berlin", &tzif(BERLIN));
    assert_eq!(names(), [&expected[..], &["UTC"]].concat());
    assert!(error(&directory, "Europe/Berlim").ends_with(r#"did you mean "Europe/Berlin"?"#));
}

#[test]
fn an_offset_is_refused_even_if_the_database_has_it() {
    let directory = small_database("offsets");
    let info = ZoneInfo::new([&directory]);
    for name in [
        "UTC+2",
        "utc +2",
        "+02:00",
        "-5",
        "02:00",
        "GMT-5",
        "GMT0",
        "Etc/GMT+5",
        "UTC\u{2212}3",
        "Z+1",
        "EST5",
        "UTC+5:30",
        "EST5",
        "UTC+5:30",
    ] {
        assert_eq!(
            info.open(name),
            Err(ZoneError::Offset { given: name.into() }),
            "{name}"
        );
    }
    assert_eq!(
        error(&directory, "UTC+2"),
        "the time zone \"UTC+2\" is an offset, which knows nothing of summer time; name the place, \
         such as \"Europe/Berlin\" or \"America/Chicago\" (or \"UTC\")"
    );
    for name in ["UTC", "Etc/UTC"] {
        let zone = info.open(name).unwrap();
        assert_eq!(zone.offset_at(chrono::DateTime::UNIX_EPOCH).utc_offset_s, 0);
        assert_eq!(zone.name(), name);
    }
}

#[test]
fn what_is_not_a_place_is_refused_with_the_reason() {
    let directory = small_database("not_places");
    // These files exist, but must be refused all the same.
    for name in [
        "localtime",
        "Factory",
        "posix/Europe/Berlin",
        "right/Europe/Berlin",
    ] {
        put(&directory, name, &tzif(BERLIN));
    }
    put(directory.parent().unwrap(), "outside", &tzif(BERLIN));
    let absolute = directory.join("Europe/Berlin").display().to_string();
    for (name, reason) in [
        ("../outside", "is a path"),
        ("Europe/../../outside", "is a path"),
        ("Europe/..", "is a path"),
        ("./Europe/Berlin", "is a path"),
        (absolute.as_str(), "is a path"),
        (":Europe/Berlin", "is a path"),
        ("", "is empty"),
        ("local", "is whatever the machine happens to be set to"),
        ("localtime", "is whatever the machine happens to be set to"),
        ("Factory", "is whatever the machine happens to be set to"),
        (
            "posix/Europe/Berlin",
            "is another edition of the database's zone: leave out \"posix/\" or \"right/\"",
        ),
        (
            "right/Europe/Berlin",
            "is another edition of the database's zone: leave out \"posix/\" or \"right/\"",
        ),
    ] {
        let places = r#"name the place, such as "Europe/Berlin" or "America/Chicago""#;
        assert_eq!(
            error(&directory, name),
            format!("the time zone \"{name}\" {reason}; {places}")
        );
    }
}

#[test]
fn a_damaged_file_is_named_with_what_is_wrong_and_how_to_mend_it() {
    let directory = small_database("damaged");
    let whole = tzif(BERLIN);
    let mut leap_seconds = tzif("UTC0");
    // In the second header, after a first part of 54 bytes: one leap second of 12 bytes.
    leap_seconds[54 + 28 + 3] = 1;
    let footer = leap_seconds.len() - "\nUTC0\n".len();
    leap_seconds.splice(
        footer..footer,
        [78_796_800_i64.to_be_bytes().as_slice(), &[0, 0, 0, 1]].concat(),
    );
    for (bytes, reason) in [
        (&b""[..], "invalid TZ file"),
        (b"Europe/Berlin", "invalid TZ file: invalid magic number"),
        (&whole[..60], "invalid TZ file"),
        (&whole[..whole.len() - 9], "invalid TZ file: invalid footer"),
        (&tzif("CET-1CEST,M3.5.0"), "invalid TZ string"),
        (
            &leap_seconds,
            "it counts leap seconds, which the clock of a computer does not",
        ),
    ] {
        put(&directory, "Europe/Berlin", bytes);
        let message = error(&directory, "Europe/Berlin");
        let path = directory.join("Europe/Berlin");
        let start = format!("cannot use the time zone file {}: {reason}", path.display());
        assert!(message.starts_with(&start), "{message}");
        assert!(
            message.ends_with("; reinstall it with `apt install --reinstall tzdata`"),
            "{message}"
        );
    }
}

#[test]
fn a_file_that_is_silent_about_later_years_is_refused() {
    // Version 1 of the format has no footer: one transition on 2001-09-09, from UTC to +01:00.
    let directory = empty_directory("version_1");
    let mut file = b"TZif\0".to_vec();
    file.extend([0; 15]);
    for count in [0_u32, 0, 0, 1, 2, 4] {
        file.extend(count.to_be_bytes());
    }
    file.extend(1_000_000_000_i32.to_be_bytes());
    file.extend([1, 0, 0, 0, 0, 0, 0, 0, 0, 0x0e, 0x10, 0, 0]);
    file.extend(b"XXX\0");
    put(&directory, "Europe/Berlin", &file);
    assert!(
        error(&directory, "Europe/Berlin")
            .contains("does not say what clocks do after the year 2001")
    );
}

#[test]
fn the_first_directory_that_has_the_zone_wins() {
    let (first, second) = (empty_directory("first"), small_database("second"));
    let info = ZoneInfo::new([&first, &second]);
    assert_eq!(
        info.open("Europe/Berlin").unwrap().path(),
        second.join("Europe/Berlin")
    );
    put(&first, "Europe/Berlin", &tzif("UTC0"));
    assert_eq!(
        info.open("Europe/Berlin").unwrap().path(),
        first.join("Europe/Berlin")
    );
}

#[test]
fn the_version_is_read_from_either_place() {
    let directory = small_database("version");
    assert_eq!(ZoneInfo::new([&directory]).version(), Some("2026b"));
    put(&directory, "tzdata.zi", b"");
    put(&directory, "+VERSION", b"2025c\n");
    assert_eq!(ZoneInfo::new([&directory]).version(), Some("2025c"));
}

#[test]
fn a_zone_opened_again_is_equal_until_its_rules_change() {
    let directory = small_database("reopened");
    let info = ZoneInfo::new([&directory]);
    let before = info.open("Europe/Berlin").unwrap();
    assert_eq!(info.open("Europe/Berlin").unwrap(), before);
    put(&directory, "Europe/Berlin", &tzif("CET-1"));
    assert_ne!(info.open("Europe/Berlin").unwrap(), before);
}

#[test]
fn tzdir_replaces_the_usual_directories() {
    let directory = small_database("tzdir");
    let info = ZoneInfo::with_tzdir(Some(directory.as_os_str()));
    assert_eq!(
        info.open("Europe/Berlin").unwrap().path(),
        directory.join("Europe/Berlin")
    );
    // No other directory is searched, even for a name missing from this one.
    assert!(matches!(
        info.open("Asia/Tokyo"),
        Err(ZoneError::Unknown { .. })
    ));
    // An empty variable counts as not set.
    let searched = |tzdir| match ZoneInfo::with_tzdir(tzdir)
        .open("No/Such_Place")
        .unwrap_err()
    {
        ZoneError::Unknown { directory, .. } => vec![directory],
        ZoneError::NoDatabase { searched } => searched,
        other => panic!("{other}"),
    };
    assert_eq!(searched(Some(OsStr::new(""))), searched(None));
}

#[test]
fn tzdir_is_taken_from_the_environment_and_tz_is_not() {
    // A test must not change the environment of the others, so a second process of this program runs the next
    // test alone.
    let directory = small_database("environment");
    let output = Command::new(std::env::current_exe().unwrap())
        .args([
            "--exact",
            "local_time::database::in_an_environment",
            "--ignored",
            "--nocapture",
        ])
        .env("TZDIR", &directory)
        .env("TZ", "Asia/Tokyo")
        .output()
        .unwrap();
    let printed = String::from_utf8_lossy(&output.stdout);
    let expected = format!(
        "opened {} at 7200 s",
        directory.join("Europe/Berlin").display()
    );
    assert!(printed.contains(&expected), "{printed}");
}

#[test]
#[ignore = "run by tzdir_is_taken_from_the_environment_and_tz_is_not"]
fn in_an_environment() {
    let zone = ZoneInfo::from_environment().open("Europe/Berlin").unwrap();
    let summer = "2026-07-01T00:00:00Z".parse().unwrap();
    println!(
        "opened {} at {} s",
        zone.path().display(),
        zone.offset_at(summer).utc_offset_s
    );
}
