//! What happened.

use std::fmt::Write;

use chrono::{DateTime, Utc};
use serde::Serialize;

use crate::civil_time::SiteZone;
use crate::daemon::store::{Event, Kind};

use super::plan::day;
use super::{counted, csv_field, json, utc};
use crate::text::WIDTH;

/// One event of the JSON.
#[derive(Serialize)]
struct EventJson<'a> {
    at: String,
    since_boot_s: f64,
    kind: Kind,
    zone: Option<&'a str>,
    what: &'a str,
    why: &'a str,
}

/// `{events: [...]}`.
pub fn history_json(events: &[Event]) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        events: Vec<EventJson<'a>>,
    }
    let events = events.iter().map(|event| EventJson {
        at: utc(event.at),
        since_boot_s: event.boot.as_secs_f64(),
        kind: event.kind,
        zone: event.zone.as_deref(),
        what: &event.what,
        why: &event.why,
    });
    json(&Document {
        events: events.collect(),
    })
}

/// One line per event, under `at,since_boot_s,kind,zone,what,why`.
pub fn history_csv(events: &[Event]) -> String {
    let mut out = String::from("at,since_boot_s,kind,zone,what,why\n");
    for event in events {
        let _ = writeln!(
            out,
            "{},{},{},{},{},{}",
            utc(event.at),
            event.boot.as_secs_f64(),
            event.kind.name(),
            csv_field(&shown(event.zone.as_deref().unwrap_or_default())),
            csv_field(&shown(&event.what)),
            csv_field(&shown(&event.why)),
        );
    }
    out
}

/// Longest zone name in a column of its own; longer ones stand before what happened [columns].
const NAME_COLUMNS: usize = 20;

/// Day by day in the site's time, in the order in which it happened.
pub fn history_text(site_zone: &SiteZone, events: &[Event]) -> String {
    let mut out = String::new();
    lines(&mut out, "", "  ", &answer(site_zone, events));
    let abbreviation = |event: &Event| site_zone.offset_at(event.at).abbreviation;
    let marks = events
        .iter()
        .map(|event| abbreviation(event).as_str().len());
    let mark = marks.max().unwrap_or(0);
    let names = events.iter().filter_map(|event| event.zone.as_deref());
    let names = names.map(|name| shown(name).chars().count()).max();
    let names = names.unwrap_or(0).min(NAME_COLUMNS);
    let mut date = None;
    for event in events {
        let local = site_zone.to_local(event.at);
        if date != Some(local.date()) {
            date = Some(local.date());
            let _ = writeln!(out, "\n{}", day(local.date()));
        }
        let name = shown(event.zone.as_deref().unwrap_or_default());
        let mut first = format!(
            "  {} {:mark$}  ",
            local.format("%H:%M:%S"),
            abbreviation(event).as_str(),
        );
        let mut said = String::new();
        if name.chars().count() > NAME_COLUMNS {
            said = format!("{name}  ");
        } else if names > 0 {
            let _ = write!(first, "{name:names$}  ");
        }
        if event.kind == Kind::Fault {
            said.push_str("FAULT: ");
        }
        said.push_str(&shown(&event.what));
        if !event.why.is_empty() {
            let _ = write!(said, ": {}", shown(&event.why));
        }
        let columns = "  17:13:07 ".len() + mark + 2 + if names == 0 { 0 } else { names + 2 };
        lines(&mut out, &first, &" ".repeat(columns), &said);
    }
    out
}

/// How many, from when to when, how many faults.
fn answer(site_zone: &SiteZone, events: &[Event]) -> String {
    let times = events.iter().map(|event| event.at);
    let Some((first, last)) = times.clone().min().zip(times.max()) else {
        return "no events".into();
    };
    let faults = events.iter().filter(|event| event.kind == Kind::Fault);
    let faults = match faults.count() {
        0 => "no faults".into(),
        count => counted(count as u64, "fault"),
    };
    let said = |at: DateTime<Utc>| {
        let local = site_zone.to_local(at);
        let mark = site_zone.offset_at(at).abbreviation;
        format!("{} {} {mark}", day(local.date()), local.format("%H:%M"))
    };
    let events = counted(events.len() as u64, "event");
    if first == last {
        format!("{events}, {}; {faults}", said(first))
    } else {
        format!("{events}, {} to {}; {faults}", said(first), said(last))
    }
}

/// A text of the store as it is safe to print: a terminal obeys control characters, and those that
/// turn the direction of writing or take no room make a line look like another.
fn shown(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        let hidden = matches!(
            letter,
            '\u{ad}'
                | '\u{61c}'
                | '\u{200b}'..='\u{200f}'
                | '\u{2028}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}'
                | '\u{feff}'
        );
        if hidden || letter.is_control() {
            out.extend(letter.escape_default());
        } else {
            out.push(letter);
        }
    }
    out
}

/// Appends `text` in lines of at most [`WIDTH`]: at its spaces, and within a word that is too long for
/// a line. Nobody has chosen the words of a history so that they fit.
fn lines(out: &mut String, first: &str, rest: &str, text: &str) {
    let mut line = first.to_owned();
    let mut fresh = true;
    for word in text.split(' ') {
        let mut letters: Vec<char> = word.chars().collect();
        if !fresh && line.chars().count() + 1 + letters.len() > WIDTH {
            let _ = writeln!(out, "{}", line.trim_end());
            rest.clone_into(&mut line);
            fresh = true;
        }
        if !fresh {
            line.push(' ');
        }
        fresh = false;
        while line.chars().count() + letters.len() > WIDTH {
            let room = WIDTH.saturating_sub(line.chars().count());
            line.extend(letters.drain(..room));
            let _ = writeln!(out, "{}", line.trim_end());
            rest.clone_into(&mut line);
        }
        line.extend(letters);
    }
    let _ = writeln!(out, "{}", line.trim_end());
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;
    use crate::civil_time::ZoneInfo;

    fn zone() -> SiteZone {
        ZoneInfo::from_environment()
            .open("America/Chicago")
            .unwrap()
    }

    fn event(at: &str, kind: Kind, zone: &str, what: &str, why: &str) -> Event {
        Event {
            at: at.parse().unwrap(),
            boot: Duration::from_millis(1500),
            kind,
            zone: (!zone.is_empty()).then(|| zone.into()),
            what: what.into(),
            why: why.into(),
        }
    }

    fn some() -> Vec<Event> {
        vec![
            event(
                "2026-11-24T23:13:07Z",
                Kind::Switched,
                "porch",
                "on",
                "civil dusk",
            ),
            event(
                "2026-11-24T23:13:08Z",
                Kind::Fault,
                "garden path",
                "does not follow",
                "its input stayed off for 1.0 s after porch went on, and the link should pull in within 40 ms",
            ),
            event("2026-11-25T06:00:00Z", Kind::Service, "", "stopped", ""),
        ]
    }

    #[test]
    fn the_first_line_is_the_answer_and_times_are_local() {
        let expected = "\
3 events, Tue 2026-11-24 17:13 CST to Wed 2026-11-25 00:00 CST; 1 fault

Tue 2026-11-24
  17:13:07 CST  porch        on: civil dusk
  17:13:08 CST  garden path  FAULT: does not follow: its input stayed off for
                             1.0 s after porch went on, and the link should pull
                             in within 40 ms

Wed 2026-11-25
  00:00:00 CST               stopped
";
        assert_eq!(history_text(&zone(), &some()), expected);
        assert_eq!(history_text(&zone(), &[]), "no events\n");
    }

    #[test]
    fn json_and_csv_are_in_utc() {
        let csv = history_csv(&some());
        assert!(csv.starts_with("at,since_boot_s,kind,zone,what,why\n2026-11-24T23:13:07.000Z,1.5,switched,porch,on,civil dusk\n"), "{csv}");
        let json: serde_json::Value = serde_json::from_str(&history_json(&some())).unwrap();
        assert_eq!(json["events"][1]["kind"], "fault");
        assert_eq!(json["events"][2]["zone"], serde_json::Value::Null);
        assert_eq!(json["events"][2]["at"], "2026-11-25T06:00:00.000Z");
    }

    #[test]
    fn no_text_of_the_store_reaches_the_terminal_as_a_command() {
        let bad = "a\u{1b}[2Jb\n\u{9b}c\u{202e}d";
        let events = [event("2026-11-24T23:13:07Z", Kind::Held, bad, bad, bad)];
        for out in [history_text(&zone(), &events), history_csv(&events)] {
            let out = out.replace('\n', "");
            assert!(!out.contains(char::is_control), "{out:?}");
            assert!(out.contains(r"a\u{1b}[2Jb\n\u{9b}c\u{202e}d"), "{out}");
        }
    }

    #[test]
    fn no_line_is_wider_than_a_terminal() {
        for text in [
            "x".repeat(300),
            "`word ".repeat(60),
            "wide name ".repeat(9),
            " ".repeat(200),
        ] {
            let events = [event(
                "2026-11-24T23:13:07Z",
                Kind::Held,
                &text,
                &text,
                &text,
            )];
            let out = history_text(&zone(), &events);
            assert!(
                out.lines().all(|line| line.chars().count() <= WIDTH),
                "{out}"
            );
        }
    }
}
