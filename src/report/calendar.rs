//! The plan as a calendar (iCalendar, RFC 5545): one event per lit window, in UTC.
//!
//! Written by hand rather than by the `icalendar` crate: what is needed is a dozen kinds of lines and
//! two rules (folding, escaping), and the crate brings random identifiers and a clock of its own along,
//! neither of which a plan that is the same every time can use.
//!
//! The stamp is the noon of the plan's first evening: "now" would make every file another, the version's
//! date would make a plan of next year as old as this one's, and programs that take a calendar in again keep
//! the newer of two. An identity is that of site, zone, evening and place in the evening; times may move
//! under it.

use std::fmt::Write;

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};

use crate::schedule::{Evening, Plan, Row, clock};
use crate::site::Site;

/// Octets of a line, its end not counted (RFC 5545, 3.1).
const LINE: usize = 75;

/// The plan as a calendar.
///
/// An event keeps its identity when the plan is made anew: it is that of the site's name, the zone, the
/// evening and the window's place in it. Its stamp is the noon at which the plan's first evening begins,
/// so that the same plan is the same file, and one made later counts as newer.
///
/// A plan without light is a calendar with one journal entry that says so: a calendar must not be empty.
pub fn rows_ics(site: &Site, plan: &Plan) -> String {
    let mut out = String::new();
    let mut line = |name: &str, value: &str| content_line(&mut out, name, value);
    line("BEGIN", "VCALENDAR");
    line("VERSION", "2.0");
    let product = concat!(
        "-//pilotwire//pilotwire ",
        env!("CARGO_PKG_VERSION"),
        "//EN"
    );
    line("PRODID", product);
    line("NAME", &text(&site.name));
    // As calendars call it that do not know RFC 7986.
    line("X-WR-CALNAME", &text(&site.name));
    let stamp = plan.rows.first().map_or(DateTime::UNIX_EPOCH, |row| {
        Evening::of(site, row.evening).begins
    });
    let mut place = 0;
    let mut before: Option<&Row> = None;
    let mut events = 0;
    for row in &plan.rows {
        let same = |before: &Row| (before.evening, before.zone) == (row.evening, row.zone);
        place = if before.is_some_and(same) {
            place + 1
        } else {
            1
        };
        before = Some(row);
        let Some((on, until)) = row.on.zip(row.lit_until(site)) else {
            continue;
        };
        events += 1;
        let zone = &site[row.zone].name;
        line("BEGIN", "VEVENT");
        line("UID", &identity(site, zone, row.evening, place));
        line("DTSTAMP", &moment(stamp));
        line("DTSTART", &moment(on));
        // An event ends after it begins, by the second.
        let least =
            DateTime::from_timestamp(on.timestamp(), 0).unwrap_or(on) + TimeDelta::seconds(1);
        line("DTEND", &moment(until.max(least)));
        line("SUMMARY", &text(&format!("{zone} lit")));
        line("DESCRIPTION", &text(&described(site, row)));
        // Whoever is lit may still be invited.
        line("TRANSP", "TRANSPARENT");
        line("END", "VEVENT");
    }
    if events == 0 {
        dark(site, plan, stamp, &mut line);
    }
    line("END", "VCALENDAR");
    out
}

/// Why it goes on and off when it does, with the times on the wall.
fn described(site: &Site, row: &Row) -> String {
    let at = |at: Option<DateTime<Utc>>| {
        at.map_or_else(|| "never".into(), |at| clock(&site.timezone, at))
    };
    format!(
        "on {}: {}\noff {}: {}",
        at(row.on),
        row.why_on.say(site),
        at(row.off),
        row.why_off.say(site)
    )
}

/// A journal entry on a plan without light.
fn dark(site: &Site, plan: &Plan, stamp: DateTime<Utc>, line: &mut impl FnMut(&str, &str)) {
    let mut reasons: Vec<String> = Vec::new();
    for row in &plan.rows {
        let said = format!("{}: {}", site[row.zone].name, row.why_on.kind(site));
        if !reasons.contains(&said) {
            reasons.push(said);
        }
    }
    let evening = plan.rows.first().map_or(NaiveDate::MIN, |row| row.evening);
    line("BEGIN", "VJOURNAL");
    line("UID", &identity(site, "no lights", evening, 0));
    line("DTSTAMP", &moment(stamp));
    line("DTSTART;VALUE=DATE", &stamp.format("%Y%m%d").to_string());
    line("SUMMARY", "no lights");
    line("DESCRIPTION", &text(&reasons.join("\n")));
    line("END", "VJOURNAL");
}

/// `2026-12-31-1-walk@hazel%20bank.pilotwire`: unique, and of no letters that any calendar trips over.
fn identity(site: &Site, zone: &str, evening: NaiveDate, place: usize) -> String {
    format!(
        "{evening}-{place}-{}@{}.pilotwire",
        plain_letters(zone),
        plain_letters(&site.name)
    )
}

/// Letters, digits, dot and hyphen; of all else its octets, as in an address on the web.
fn plain_letters(name: &str) -> String {
    let mut out = String::new();
    for octet in name.bytes() {
        if octet.is_ascii_alphanumeric() || matches!(octet, b'.' | b'-') {
            out.push(char::from(octet));
        } else {
            let _ = write!(out, "%{octet:02X}");
        }
    }
    out
}

/// An instant in UTC, to the second.
fn moment(at: DateTime<Utc>) -> String {
    at.format("%Y%m%dT%H%M%SZ").to_string()
}

/// A value of type TEXT (RFC 5545, 3.3.11): no control characters but the line ends that it may have.
fn text(value: &str) -> String {
    let mut out = String::with_capacity(value.len());
    for letter in value.chars() {
        match letter {
            '\\' | ';' | ',' => out.extend(['\\', letter]),
            '\n' => out.push_str("\\n"),
            control if control.is_control() => out.push(' '),
            other => out.push(other),
        }
    }
    out
}

/// A line in pieces of at most 75 octets, none of which parts a character.
fn content_line(out: &mut String, name: &str, value: &str) {
    let mut octets = 0;
    for letter in name.chars().chain([':']).chain(value.chars()) {
        if octets + letter.len_utf8() > LINE {
            out.push_str("\r\n ");
            octets = 1;
        }
        out.push(letter);
        octets += letter.len_utf8();
    }
    out.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folded(value: &str) -> String {
        let mut out = String::new();
        content_line(&mut out, "SUMMARY", value);
        out
    }

    #[test]
    fn a_line_of_75_octets_is_whole_and_one_of_76_is_folded() {
        let fits = "x".repeat(75 - "SUMMARY:".len());
        assert_eq!(folded(&fits), format!("SUMMARY:{fits}\r\n"));
        assert_eq!(
            folded(&format!("{fits}y")),
            format!("SUMMARY:{fits}\r\n y\r\n")
        );
    }

    #[test]
    fn folding_parts_no_character() {
        // From the second line on a space takes one of the 75 octets.
        for letter in ["ü", "湖", "🜂"] {
            let folded = folded(&letter.repeat(100));
            for line in folded.split_terminator("\r\n") {
                assert!(line.len() <= 75, "{line}");
            }
            assert_eq!(
                folded.replace("\r\n ", ""),
                format!("SUMMARY:{}\r\n", letter.repeat(100))
            );
        }
    }

    #[test]
    fn text_is_escaped_as_rfc_5545_says() {
        // The first is the RFC's own example, 3.3.11.
        for (plain, escaped) in [
            (
                "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.",
                "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.",
            ),
            ("a;b,c\\d:e\"f", "a\\;b\\,c\\\\d:e\"f"),
            ("\u{1b}[2J\t\r", " [2J  "),
        ] {
            assert_eq!(text(plain), escaped);
        }
    }
}
