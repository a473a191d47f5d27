//! A site file read as the program reads it, with the time zones of the machine.

use pilotwire::civil_time::ZoneInfo;
use pilotwire::site::{self, Site};

/// The time zones of the machine. Without them no yard can be read, and every test would fail in a different
/// way.
pub(crate) fn time_zones() -> ZoneInfo {
    let zones = ZoneInfo::from_environment();
    if let Err(why) = zones.open("Europe/London") {
        panic!("{why}");
    }
    zones
}

/// The site of a text without mistakes.
pub(crate) fn read(text: &str) -> Site {
    let zones = time_zones();
    site::read(text.as_bytes(), "yard.toml", &|zone| zones.open(zone))
        .unwrap_or_else(|problems| panic!("{problems}"))
}
