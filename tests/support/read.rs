//! A site file read as the program reads it, with the time zones of the machine.

use pilotwire::civil_time::ZoneInfo;
use pilotwire::site::{self, Site};

/// The site of a text without mistakes.
pub(crate) fn read(text: &str) -> Site {
    let zones = ZoneInfo::from_environment();
    site::read(text.as_bytes(), "yard.toml", &|zone| zones.open(zone))
        .unwrap_or_else(|problems| panic!("{}", problems.render(false)))
}
