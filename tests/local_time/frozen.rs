//! A tz database of our own, so that expected times do not move with the machine's.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use pilotwire::civil_time::{SiteZone, ZoneInfo};

use crate::support::scratch::empty_folder;

/// The zones of the cases with the rules that the tz database had for 2026 to 2028 (tz 2026b), as
/// the POSIX `TZ` strings of their `TZif` footers.
const ZONES: [(&str, &str); 12] = [
    ("America/New_York", "EST5EDT,M3.2.0,M11.1.0"),
    ("America/Denver", "MST7MDT,M3.2.0,M11.1.0"),
    ("America/Santiago", "<-04>4<-03>,M9.1.6/24,M4.1.6/24"),
    ("Antarctica/Troll", "<+00>0<+02>-2,M3.5.0/1,M10.5.0/3"),
    ("Asia/Shanghai", "CST-8"),
    ("Atlantic/Reykjavik", "GMT0"),
    (
        "Australia/Lord_Howe",
        "<+1030>-10:30<+11>-11,M10.1.0,M4.1.0",
    ),
    ("Europe/Berlin", "CET-1CEST,M3.5.0,M10.5.0/3"),
    ("Europe/Dublin", "IST-1GMT0,M10.5.0,M3.5.0/1"),
    ("Europe/London", "GMT0BST,M3.5.0/1,M10.5.0"),
    ("Europe/Oslo", "CET-1CEST,M3.5.0,M10.5.0/3"),
    ("Pacific/Kiritimati", "<+14>-14"),
];

/// A zone with the rules of 2026, whatever the machine has.
pub(crate) fn zone(name: &str) -> SiteZone {
    static DIRECTORY: OnceLock<PathBuf> = OnceLock::new();
    let directory = DIRECTORY.get_or_init(|| {
        let directory = empty_directory("frozen");
        for (name, rule) in ZONES {
            put(&directory, name, &tzif(rule));
        }
        directory
    });
    ZoneInfo::new([directory]).open(name).unwrap()
}

/// A directory of one test, emptied of what an earlier run left.
pub(crate) fn empty_directory(test: &str) -> PathBuf {
    empty_folder(&format!("local_time/{test}"))
}

/// Writes a file of a database.
pub(crate) fn put(directory: &Path, name: &str, bytes: &[u8]) {
    let path = directory.join(name);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, bytes).unwrap();
}

/// A `TZif` file without transitions, whose footer is `rule`.
pub(crate) fn tzif(rule: &str) -> Vec<u8> {
    tzif_with_transitions(&[(0, false, "UTC")], &[], rule)
}

/// A `TZif` file of version 3 (RFC 9636, section 3), which allows the hours beyond a day that Nuuk
/// and Santiago need. A local time type is an offset in seconds, whether it is daylight saving, and
/// a designation of three characters; a transition is a Unix time and the type that it begins.
pub(crate) fn tzif_with_transitions(
    types: &[(i32, bool, &str)],
    transitions: &[(i64, u8)],
    rule: &str,
) -> Vec<u8> {
    let mut file = header(0, 1);
    // Readers of versions after the first skip this part.
    file.extend([0; 6]);
    file.extend(b"UTC\0");

    file.extend(header(transitions.len(), types.len()));
    file.extend(transitions.iter().flat_map(|(at, _)| at.to_be_bytes()));
    file.extend(transitions.iter().map(|(_, begins)| begins));
    for (place, &(offset, is_dst, _)) in (0_u8..).zip(types) {
        file.extend(offset.to_be_bytes());
        file.extend([u8::from(is_dst), 4 * place]);
    }
    file.extend(
        types
            .iter()
            .flat_map(|(.., name)| format!("{name}\0").into_bytes()),
    );
    file.extend(format!("\n{rule}\n").bytes());
    file
}

fn header(transitions: usize, types: usize) -> Vec<u8> {
    let mut header = b"TZif3".to_vec();
    header.extend([0; 15]);
    for count in [0, 0, 0, transitions, types, 4 * types] {
        header.extend(u32::try_from(count).unwrap().to_be_bytes());
    }
    header
}
