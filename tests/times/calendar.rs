//! The plan as a calendar, checked by an independent parser and by the rules of RFC 5545.

use std::collections::BTreeSet;

use ical::parser::ical::component::IcalEvent;
use ical::property::Property;
use pilotwire::report::rows_ics;
use pilotwire::schedule::{Plan, Row, clock, plan};
use pilotwire::site::Site;

use super::yard::{BERLIN, TROMSO, Where, date, yard, zone};

fn planned(place: Where, zones: &str, from: &str, to: &str) -> (Site, Plan) {
    let site = yard(place, zones);
    let plan = plan(&site, date(from)..=date(to), &[]).unwrap();
    (site, plan)
}

/// A whole year with a clock change each way, a second window, and a yard's name that needs escaping.
fn year() -> (Site, Plan) {
    let windows = format!(
        "{}\n[[window]]\nzone = \"walk\"\non = \"06:00\"\noff = \"sunrise\"\ndays = [\"mon\"]\n",
        zone("walk", "on = \"civil_dusk\"\noff = \"00:30\"")
    );
    let (mut site, plan) = planned(BERLIN, &windows, "2026-11-01", "2027-10-31");
    site.name =
        "Höfchen; pond, \"old\" \\ mill:\tby the very long wall that runs down to the lake 湖"
            .into();
    (site, plan)
}

fn events(ics: &str) -> Vec<IcalEvent> {
    // Unfolded here (RFC 5545, 3.1): the parser takes white space beside a fold for the fold's own.
    let unfolded = ics.replace("\r\n ", "");
    let calendars: Vec<_> = ical::IcalParser::new(unfolded.as_bytes())
        .collect::<Result<_, _>>()
        .unwrap();
    assert_eq!(calendars.len(), 1);
    calendars.into_iter().next().unwrap().events
}

fn value(properties: &[Property], name: &str) -> String {
    let all: Vec<&Property> = properties.iter().filter(|of| of.name == name).collect();
    assert_eq!(all.len(), 1, "{name}");
    all[0].value.clone().unwrap()
}

/// Undoes the escapes of a TEXT value; fails at an unescaped character that needs an escape.
fn unescaped(text: &str) -> String {
    let mut out = String::new();
    let mut letters = text.chars();
    while let Some(letter) = letters.next() {
        match letter {
            '\\' => match letters.next() {
                Some('n' | 'N') => out.push('\n'),
                Some(kept @ ('\\' | ';' | ',')) => out.push(kept),
                other => panic!("no such escape: {other:?} in {text}"),
            },
            ';' | ',' => panic!("{letter} stands bare in {text}"),
            other => out.push(other),
        }
    }
    out
}

fn lit(plan: &Plan) -> Vec<&Row> {
    plan.rows.iter().filter(|row| row.on.is_some()).collect()
}

#[test]
fn every_lit_window_is_one_event_with_its_times_and_reasons() {
    let (site, plan) = year();
    let ics = rows_ics(&site, &plan);
    let events = events(&ics);
    let rows = lit(&plan);
    assert!(rows.len() > 380);
    assert_eq!(events.len(), rows.len());
    let mut identities = BTreeSet::new();
    for (event, row) in events.iter().zip(rows) {
        let of = |name| value(&event.properties, name);
        let (on, off) = (row.on.unwrap(), row.off.unwrap());
        assert_eq!(of("DTSTART"), on.format("%Y%m%dT%H%M%SZ").to_string());
        assert_eq!(of("DTEND"), off.format("%Y%m%dT%H%M%SZ").to_string());
        assert!(of("DTEND") > of("DTSTART"));
        assert_eq!(unescaped(&of("SUMMARY")), "walk lit");
        let said = unescaped(&of("DESCRIPTION"));
        let expected = format!(
            "on {}: {}\noff {}: {}",
            clock(&site.timezone, on),
            row.why_on.say(&site),
            clock(&site.timezone, off),
            row.why_off.say(&site)
        );
        assert_eq!(said, expected);
        let identity = of("UID");
        assert!(
            identity.starts_with(&format!("{}-", row.evening)),
            "{identity}"
        );
        assert!(identity.is_ascii(), "{identity}");
        assert!(identities.insert(identity), "an identity twice");
        // Noon of the first evening, in Berlin's winter.
        assert_eq!(of("DTSTAMP"), "20261101T110000Z");
    }
}

#[test]
fn the_same_plan_is_the_same_file_and_an_event_keeps_its_identity() {
    let (site, plan) = year();
    let ics = rows_ics(&site, &plan);
    assert_eq!(ics, rows_ics(&site, &plan));
    let identities = |ics: &str| -> BTreeSet<String> {
        events(ics)
            .iter()
            .map(|event| value(&event.properties, "UID"))
            .collect()
    };
    // A month of the year, planned on its own.
    let all = identities(&ics);
    let mut part = plan.clone();
    part.rows
        .retain(|row| row.evening >= date("2027-02-01") && row.evening < date("2027-03-01"));
    let part = rows_ics(&site, &part);
    assert!(part.contains("DTSTAMP:20270201T110000Z\r\n"));
    let part = identities(&part);
    assert!(part.len() >= 28 && part.is_subset(&all));
}

#[test]
fn lines_are_those_of_rfc_5545() {
    let (site, plan) = year();
    let ics = rows_ics(&site, &plan);
    assert!(ics.ends_with("END:VCALENDAR\r\n"));
    let bare = ics.replace("\r\n", "");
    assert!(!bare.contains(['\r', '\n']), "every line ends with CR LF");
    assert!(!bare.chars().any(char::is_control));
    for line in ics.split_terminator("\r\n") {
        assert!(line.len() <= 75 && !line.is_empty(), "{line}");
    }
    let unfolded = ics.replace("\r\n ", "");
    let lines: Vec<&str> = unfolded.split_terminator("\r\n").collect();
    // VERSION and PRODID must occur once (3.6).
    for (start, times) in [("VERSION:2.0", 1), ("PRODID:", 1), ("BEGIN:VCALENDAR", 1)] {
        assert_eq!(
            lines.iter().filter(|line| line.starts_with(start)).count(),
            times,
            "{start}"
        );
    }
    let name = lines
        .iter()
        .find_map(|line| line.strip_prefix("NAME:"))
        .unwrap();
    assert_eq!(unescaped(name), site.name.replace('\t', " "));
    // What an event must contain, and what it must not contain twice.
    let begins = lines.iter().filter(|line| **line == "BEGIN:VEVENT").count();
    for name in [
        "UID",
        "DTSTAMP",
        "DTSTART",
        "DTEND",
        "SUMMARY",
        "DESCRIPTION",
        "TRANSP",
    ] {
        let start = format!("{name}:");
        assert_eq!(
            lines.iter().filter(|line| line.starts_with(&start)).count(),
            begins,
            "{name}"
        );
    }
}

#[test]
fn a_plan_without_light_says_why_rather_than_nothing() {
    let keys = "on = \"civil_dusk\"\noff = \"23:00\"";
    let (site, plan) = planned(TROMSO, &zone("quay", keys), "2027-06-10", "2027-06-12");
    assert!(lit(&plan).is_empty());
    let ics = rows_ics(&site, &plan);
    assert!(events(&ics).is_empty());
    assert!(ics.contains("BEGIN:VJOURNAL\r\n"));
    assert!(ics.contains("DESCRIPTION:quay: no sunset\r\n"), "{ics}");
    assert!(ics.contains("DTSTART;VALUE=DATE:20270610\r\n"), "{ics}");
}
