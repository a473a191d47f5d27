//! What people and scripts read: text of 80 columns, JSON, CSV.
//!
//! The first line is the answer; then comes the reason; then the detail. Text is in local time, JSON
//! and CSV are in UTC.

mod calendar;
mod check;
mod explain;
mod history;
mod lines;
mod link;
mod overview;
mod plan;
pub(crate) mod readings;
mod rehearsal;
mod season;
mod status;
mod sun;
mod sweep;

pub use calendar::rows_ics;
pub(crate) use check::{FOOTER, link_says, summary};
pub use check::{check_json, check_text};
pub use history::{history_csv, history_json, history_text};
pub use lines::{LinesReport, lines_json, lines_text, outputs_safe_text};
pub use link::{LinkReport, link_document, link_text};
pub use overview::{overview_json, overview_text};
pub use plan::{rows_csv, rows_json, rows_text};
pub use readings::{measured_text, readings_json, readings_text};
pub use rehearsal::{campaign_json, campaign_text, rehearsal_json, rehearsal_text, seen_line};
pub(crate) use season::{hours, nights_at_risk};
pub use season::{season_csv, season_json, season_text};
pub use status::{done_text, status_json, status_text};
pub use sun::{SunDays, sun_csv, sun_json, sun_text};
pub use sweep::{sweep_csv, sweep_json, sweep_svg, sweep_text};

use chrono::{DateTime, SecondsFormat, Utc};

use crate::link::MainsLevel;
use crate::site::{Site, SupplyOutput, ZoneId};
use crate::text::volts;

/// `1 night`, `2 nights`.
fn counted(count: impl Into<u64>, what: &str) -> String {
    let count = count.into();
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

/// RFC 3339 in UTC, to the millisecond.
fn utc(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Millis, true)
}

/// Machine-readable output is one document with a line end.
fn json(value: &impl serde::Serialize) -> String {
    let mut text = serde_json::to_string_pretty(value).expect("plain data has no failing part");
    text.push('\n');
    text
}

/// A field of a CSV line, quoted where RFC 4180 asks for it.
fn csv_field(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.into()
    }
}

/// `low mains`, or the volts of a DC supply.
fn supply_level(site: &Site, zone: ZoneId, level: MainsLevel) -> String {
    let SupplyOutput::Dc {
        voltage_v,
        lowest_v,
        highest_v,
        ..
    } = site[site[zone].supply].output
    else {
        return format!("{} mains", level.name());
    };
    let at = match level {
        MainsLevel::Low => lowest_v,
        MainsLevel::Nominal => voltage_v,
        MainsLevel::High => highest_v,
    };
    format!("{} V", volts(at))
}
