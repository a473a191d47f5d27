//! What meters should show at the test points, and what they showed: words for the terminal and the page.

use chrono::{DateTime, Utc};

use crate::civil_time::SiteZone;
use crate::commissioning::Found;
use crate::daemon::control::Measured;
use crate::daemon::readings::{Fit, LinkReading, PointReading, Readings, ZoneReadings};
use crate::daemon::store::Taken;
use crate::text::{volts, wrap};

use super::json;

/// The document as it came.
pub fn readings_json(readings: &Readings) -> String {
    json(readings)
}

/// How many are off, and what fits; then every reading beside what it should be and what it was.
pub fn readings_text(zone: &SiteZone, readings: &Readings) -> String {
    let mut out = String::new();
    wrap(&mut out, "", "  ", &readings.in_short());
    for of in &readings.zones {
        of_zone(&mut out, zone, of);
    }
    out
}

fn of_zone(out: &mut String, zone: &SiteZone, of: &ZoneReadings) {
    out.push('\n');
    wrap(out, "", "  ", &of.zone);
    if let Some(first) = &of.first {
        wrap(out, "  ! ", "    ", first);
    }
    let width = of.points.iter().map(|point| point.name.len()).max();
    let width = width.unwrap_or(0);
    for point in &of.points {
        let (Some(last), Some(found)) = (&point.last, point.found) else {
            continue;
        };
        let first = format!("  {:width$}  ", point.name);
        let mut text = format!("{} {}", reading(last, &point.unit), loud(found));
        text = format!("{text}; expected {}", expected(point));
        if let Some(then) = then(point) {
            text = format!("{text}, {then}");
        }
        text = format!("{text}; {}", dates(zone, point));
        let rest = " ".repeat(width + 4);
        wrap(out, &first, &rest, &text);
        if let Some(says) = &point.says {
            wrap(&mut *out, &rest, &rest, says);
        }
        if matches!(found, Found::Low | Found::High) {
            wrap(out, &rest, &rest, &point.wrong);
        }
    }
    if let Some(link) = &of.link {
        for line in fits(zone, link) {
            wrap(out, "  ", "    ", &line);
        }
    }
    let missing = of.points.iter().filter(|point| point.last.is_none());
    let missing: Vec<&str> = missing.map(|point| point.name.as_str()).collect();
    if !missing.is_empty() {
        let text = format!("not measured yet: {}", missing.join(", "));
        wrap(out, "  ", "    ", &text);
    }
}

/// What was taken, how it is, and whether it would survive a power cut.
pub fn measured_text(measured: &Measured) -> String {
    let mut out = String::new();
    wrap(&mut out, "", "  ", &measured.what);
    if !measured.kept {
        let text = "not on the disk: a power cut would forget it; see `pilotwire status`";
        wrap(&mut out, "  ! ", "    ", text);
    }
    if let Some(note) = &measured.note {
        wrap(&mut out, "  ", "  ", note);
    }
    out
}

fn loud(found: Found) -> &'static str {
    match found {
        Found::Within => "within",
        Found::Low => "LOW",
        Found::High => "HIGH",
        Found::Kept => "kept, not judged: compare it with later ones",
        Found::Unsure => "not judged: read its supply again, and this in one go with it",
    }
}

/// A reading with its unit: `14.7 V DC`, `OL`.
pub(crate) fn reading(taken: &Taken, unit: &str) -> String {
    if taken.value.is_finite() {
        format!("{} {unit}", taken.value)
    } else {
        "OL".into()
    }
}

/// A limit: two digits after its point at most.
fn number(value: f64, unit: &str) -> String {
    if unit.contains('Ω') {
        value.to_string()
    } else {
        volts(value)
    }
}

/// `13.9 to 15.3 V DC`, `at most 1 Ω`.
fn band(least: Option<f64>, most: Option<f64>, unit: &str) -> String {
    let said = |value| number(value, unit);
    match (least, most) {
        (Some(least), Some(most)) => format!("{} to {} {unit}", said(least), said(most)),
        (Some(least), None) => format!("at least {} {unit}", said(least)),
        (None, Some(most)) => format!("at most {} {unit}", said(most)),
        (None, None) => "no value is known".into(),
    }
}

/// What a meter should show: `14.7 V DC (13.9 to 15.3)`.
pub(crate) fn expected(point: &PointReading) -> String {
    should_show(point.typical, [point.least, point.most], &point.unit)
}

/// The same of a value and its band, for paper as for the page: with the digits by which a reading is judged.
pub(crate) fn should_show(
    typical: Option<f64>,
    [least, most]: [Option<f64>; 2],
    unit: &str,
) -> String {
    match typical {
        Some(typical) => {
            let band = band(least, most, "");
            format!("{} {unit} ({})", number(typical, unit), band.trim_end())
        }
        None => band(least, most, unit),
    }
}

/// What was right then, where the supply moves it: `13.2 to 14.6 V DC with walk/TP1 at 11.9 V`.
pub(crate) fn then(point: &PointReading) -> Option<String> {
    let then = point.then.as_ref()?;
    let band = band(then.least, then.most, &point.unit);
    Some(format!("{band} with {} at {} V", then.of, then.volts))
}

/// When it was read, and what it was at first: `2027-04-02; first 14.7 V DC on 2026-04-03`.
pub(crate) fn dates(zone: &SiteZone, point: &PointReading) -> String {
    let Some(last) = &point.last else {
        return String::new();
    };
    let mut text = date(zone, last.at);
    if point.old {
        text.push_str(OLD);
    }
    if let Some(first) = point.first.as_ref().filter(|first| *first != last) {
        let (value, on) = (reading(first, &point.unit), date(zone, first.at));
        text = format!("{text}; first {value} on {on}");
    }
    text
}

/// What is said of readings of more than a year ago.
const OLD: &str = " (older than a year: measure again)";

fn date(zone: &SiteZone, at: DateTime<Utc>) -> String {
    zone.to_local(at).format("%Y-%m-%d").to_string()
}

/// By when the readings were taken that a verdict rests on: `, read 2027-04-02`.
fn rests_on(zone: &SiteZone, link: &LinkReading) -> String {
    let (Some(oldest), Some(newest)) = (link.oldest, link.newest) else {
        return String::new();
    };
    let old = if link.old { OLD } else { "" };
    match (date(zone, oldest), date(zone, newest)) {
        (oldest, newest) if oldest == newest => format!(", read {newest}{old}"),
        (oldest, newest) => format!(", read {oldest} to {newest}{old}"),
    }
}

/// What the readings say of a link, best first, and when they were taken; what it looks like to the owner.
pub(crate) fn fits(zone: &SiteZone, link: &LinkReading) -> Vec<String> {
    let read = rests_on(zone, link);
    let Some(said) = link.said() else {
        return match link.fits.first() {
            Some(best) => vec![format!("{}: {}{read}", link.link, best.fault)],
            None => Vec::new(),
        };
    };
    let mut lines = vec![format!("{} fits: {said}{read}", link.link)];
    match link.fits.first() {
        None => {}
        Some(best) if link.fits.iter().all(|fit| fit.seen == best.seen) => {
            lines.push(format!("what you see of it: {}", best.seen));
        }
        Some(_) => {
            let seen = |fit: &Fit| format!("what you see of {}: {}", fit.fault, fit.seen);
            lines.extend(link.fits.iter().map(seen));
        }
    }
    lines
}
