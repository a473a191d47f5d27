//! What people and scripts read: text of 80 columns, JSON, CSV.
//!
//! The first line is the answer; then comes the reason; then the detail. Text is in local time, JSON
//! and CSV are in UTC.

mod check;
mod explain;
mod overview;
mod plan;
mod season;
mod sun;
mod wrap;

pub use check::{check_json, check_text};
pub use overview::overview_text;
pub use plan::{rows_csv, rows_json, rows_text};
pub use season::{season_json, season_text};
pub use sun::{SunDays, sun_csv, sun_json, sun_text};

use chrono::{DateTime, SecondsFormat, Utc};

/// Widest line of a text [columns].
pub const WIDTH: usize = 80;

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

/// Gives negative numbers in a text their real minus sign; hyphens and dates keep theirs.
fn with_minus(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = ' ';
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        let number = rest.peek().is_some_and(char::is_ascii_digit) && !before.is_alphanumeric();
        out.push(if c == '-' && number { '−' } else { c });
        before = c;
    }
    out
}

/// A signed number with a real minus sign, for text.
pub(crate) fn signed(value: f64, digits: usize) -> String {
    with_minus(&format!("{value:+.digits$}"))
}

/// Volts with as many decimals as they have, at least one and at most two, for text.
pub(crate) fn volts(value: f64) -> String {
    let text = format!("{value:.2}");
    text.strip_suffix('0').unwrap_or(&text).to_owned()
}

/// A temperature, for text.
pub(crate) fn celsius(value: f64) -> String {
    with_minus(&format!("{value:.0} °C"))
}
