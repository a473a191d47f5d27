//! Spans of time and instants, as they are written in faults and requests.

use std::fmt::Write;

use chrono::{DateTime, Days, NaiveDate, NaiveDateTime, NaiveTime, SecondsFormat, TimeDelta, Utc};

use crate::civil_time::SiteZone;
use crate::site::TimeSpan;

/// What spans are written in, the largest first.
const UNITS: [(&str, i64); 5] = [
    ("y", 365 * 86_400 + 86_400 / 4),
    ("d", 86_400),
    ("h", 3600),
    ("m", 60),
    ("s", 1),
];

/// Longest span that is understood [s]: a century.
const LONGEST_S: f64 = 100.0 * 365.25 * 86_400.0;

/// Reads `40s`, `1h30m`, `56y`.
pub(super) fn parse_span(text: &str) -> Result<TimeDelta, String> {
    let span = TimeSpan::typed(text)
        .filter(|span| span.0.fract() == 0.0)
        .ok_or_else(|| {
            format!("{text:?} is no span of time; write it as 40s, 10m, 2h, 1h30m or 3d")
        })?;
    if span.0 > LONGEST_S {
        return Err(format!("{text:?} is longer than a century"));
    }
    #[expect(clippy::cast_possible_truncation, reason = "at most a century")]
    Ok(TimeDelta::seconds(span.0 as i64))
}

/// Writes a span of whole seconds as it is read.
pub(super) fn say_span(span: TimeDelta) -> String {
    let mut left_s = span.num_seconds().abs();
    let mut text = String::new();
    for (unit, unit_s) in UNITS {
        // A year is no whole number of days: only whole ones are said as years.
        if unit == "y" && left_s % unit_s != 0 {
            continue;
        }
        if left_s >= unit_s {
            let _ = write!(text, "{}{unit}", left_s / unit_s);
            left_s %= unit_s;
        }
    }
    if text.is_empty() {
        text.push_str("0s");
    }
    text
}

fn parse_time(text: &str) -> Option<NaiveTime> {
    NaiveTime::parse_from_str(text, "%H:%M:%S")
        .or_else(|_| NaiveTime::parse_from_str(text, "%H:%M"))
        .ok()
}

/// Reads `2027-03-28 01:30`, `day 3 21:00:10` counted from `first`, both by the yard's clocks, or
/// `2027-03-28T00:30:00Z`.
pub(super) fn parse_instant(
    text: &str,
    first: NaiveDate,
    zone: &SiteZone,
) -> Result<DateTime<Utc>, String> {
    let wrong = || {
        format!(
            "{text:?} is no instant; write it as 2027-03-28 01:30, as day 3 21:00, or in UTC as \
             2027-03-28T00:30:00Z"
        )
    };
    if let Ok(utc) = text.parse::<DateTime<Utc>>() {
        return Ok(utc);
    }
    let local: NaiveDateTime = if let Some(rest) = text.strip_prefix("day ") {
        let (day, time) = rest.split_once(' ').ok_or_else(wrong)?;
        let day: u32 = day.parse().map_err(|_| wrong())?;
        let ahead = day.checked_sub(1).ok_or("days are counted from 1")?;
        let date = first
            .checked_add_days(Days::new(u64::from(ahead)))
            .ok_or_else(wrong)?;
        date.and_time(parse_time(time.trim()).ok_or_else(wrong)?)
    } else {
        let (date, time) = text.split_once(' ').ok_or_else(wrong)?;
        let date = NaiveDate::parse_from_str(date, "%Y-%m-%d").map_err(|_| wrong())?;
        date.and_time(parse_time(time.trim()).ok_or_else(wrong)?)
    };
    Ok(zone.resolve(local).utc)
}

/// Writes an instant so that it is read as the same: by the yard's clocks, unless these show it twice.
pub(super) fn say_instant(at: DateTime<Utc>, zone: &SiteZone) -> String {
    let local = zone.to_local(at);
    let text = local.format("%Y-%m-%d %H:%M:%S").to_string();
    let text = text
        .strip_suffix(":00")
        .map_or_else(|| text.clone(), str::to_owned);
    if same_instant(&text, at, zone) {
        text
    } else {
        at.to_rfc3339_opts(SecondsFormat::AutoSi, true)
    }
}

fn same_instant(text: &str, at: DateTime<Utc>, zone: &SiteZone) -> bool {
    parse_instant(text, NaiveDate::MIN, zone) == Ok(at)
}
