//! The almanac on paper.

use std::cmp::Ordering;
use std::fmt::Write;

use chrono::{DateTime, NaiveDate, Utc};
use serde_json::{Map, Value, json as value};

use crate::almanac::{Half, Occurrence, Place, SolarDay, SunEvent};
use crate::civil_time::SiteZone;
use crate::schedule::clock;

use super::{json, utc};
use crate::text::with_minus;
use crate::text::wrap;

/// Solar days of a place, in the order of their dates.
#[derive(Debug, Clone)]
pub struct SunDays {
    /// Where.
    pub place: Place,
    /// Local solar date and day.
    pub days: Vec<(NaiveDate, SolarDay)>,
    /// A further altitude to give the passages of [°].
    pub altitude_deg: Option<f64>,
}

impl SunDays {
    /// Names and occurrences of one day: the eight events, then the passages of the further altitude.
    fn events(&self, day: &SolarDay) -> Vec<(&'static str, Occurrence)> {
        let mut events: Vec<_> = SunEvent::ALL
            .into_iter()
            .map(|event| (event.name(), day.event(event)))
            .collect();
        if let Some(altitude) = self.altitude_deg {
            events.push(("altitude_rising", day.passage(Half::Morning, altitude)));
            events.push(("altitude_setting", day.passage(Half::Evening, altitude)));
        }
        events
    }
}

/// One line per event, under `solar_date,event,utc`; empty where it does not occur.
pub fn sun_csv(sun: &SunDays) -> String {
    let mut out = String::from("solar_date,event,utc\n");
    for (date, day) in &sun.days {
        for (name, occurrence) in sun.events(day) {
            let at = occurrence.at().map(utc).unwrap_or_default();
            let _ = writeln!(out, "{date},{name},{at}");
        }
    }
    out
}

fn state(occurrence: Occurrence) -> &'static str {
    match occurrence {
        Occurrence::At(_) => "at",
        Occurrence::StaysAbove => "stays above",
        Occurrence::StaysBelow => "stays below",
    }
}

/// `{latitude, longitude, days: [{solar_date, solar_noon, events}]}`.
pub fn sun_json(sun: &SunDays) -> String {
    let day_json = |(date, day): &(NaiveDate, SolarDay)| {
        let events: Map<String, Value> = sun
            .events(day)
            .into_iter()
            .map(|(name, occurrence)| {
                (
                    name.into(),
                    value!({ "state": state(occurrence), "utc": occurrence.at().map(utc) }),
                )
            })
            .collect();
        value!({ "solar_date": date.to_string(), "solar_noon": utc(day.solar_noon()), "events": events })
    };
    json(&value!({
        "latitude": sun.place.latitude_deg(),
        "longitude": sun.place.longitude_deg(),
        "days": sun.days.iter().map(day_json).collect::<Vec<_>>(),
    }))
}

/// Events as columns of the table, in the order of the day.
const COLUMNS: [(&str, Option<SunEvent>); 9] = [
    ("astron", Some(SunEvent::AstronomicalDawn)),
    ("naut", Some(SunEvent::NauticalDawn)),
    ("civil", Some(SunEvent::CivilDawn)),
    ("rise", Some(SunEvent::Sunrise)),
    ("noon", None),
    ("set", Some(SunEvent::Sunset)),
    ("civil", Some(SunEvent::CivilDusk)),
    ("naut", Some(SunEvent::NauticalDusk)),
    ("astron", Some(SunEvent::AstronomicalDusk)),
];

/// A table of local times, or of UTC where there is no zone.
pub fn sun_text(sun: &SunDays, zone: Option<&SiteZone>) -> String {
    let full = |at| {
        zone.map_or_else(
            || format!("{} UTC", at_utc(at, "%H:%M")),
            |zone| clock(zone, at),
        )
    };
    // A time of another date than the solar one is marked.
    let hm = |date: NaiveDate, at: DateTime<Utc>| {
        let local = zone.map_or_else(|| at.naive_utc(), |zone| zone.to_local(at));
        let mark = match local.date().cmp(&date) {
            Ordering::Less => "−",
            Ordering::Equal => "",
            Ordering::Greater => "+",
        };
        format!("{}{mark}", local.format("%H:%M"))
    };
    let mut out = String::new();
    if let Some((date, day)) = sun.days.first() {
        let said = |event: SunEvent| match day.event(event) {
            Occurrence::At(at) => full(at),
            other => format!("none (sun {})", state(other)),
        };
        let first = format!(
            "Sun at {}, {} on {date}: sunrise {}, sunset {}",
            with_minus(&sun.place.latitude_deg().to_string()),
            with_minus(&sun.place.longitude_deg().to_string()),
            said(SunEvent::Sunrise),
            said(SunEvent::Sunset)
        );
        wrap(&mut out, "", "  ", &first);
    }
    let times = zone.map_or("UTC", SiteZone::name);
    let _ = writeln!(out, "{:10}{:^28}{:7}{:>16}", "", "dawn", "", "dusk");
    let _ = write!(out, "{:10}", "solar date");
    for (name, _) in COLUMNS {
        let _ = write!(out, "{name:>7}");
    }
    out.push('\n');
    for (date, day) in &sun.days {
        let _ = write!(out, "{date}");
        for (_, event) in COLUMNS {
            let cell = match event.map(|event| day.event(event)) {
                None => hm(*date, day.solar_noon()),
                Some(Occurrence::At(at)) => hm(*date, at),
                Some(Occurrence::StaysAbove) => "above".into(),
                Some(Occurrence::StaysBelow) => "below".into(),
            };
            let _ = write!(out, "{cell:>7}");
        }
        out.push('\n');
        if let Some(altitude) = sun.altitude_deg {
            let passage = |half| match day.passage(half, altitude) {
                Occurrence::At(at) => full(at),
                other => state(other).into(),
            };
            let _ = writeln!(
                out,
                "          sun at {}°: rising {}, setting {}",
                with_minus(&altitude.to_string()),
                passage(Half::Morning),
                passage(Half::Evening)
            );
        }
    }
    let note = format!(
        "times: {times}; + and −: of a date after or before. above, below: the sun does not pass that height. Sunrise and sunset at −50′, twilights at −6°, −12° and −18° of its centre, without refraction, at sea level"
    );
    wrap(&mut out, "", "", &note);
    out
}

fn at_utc(at: chrono::DateTime<chrono::Utc>, format: &str) -> String {
    at.format(format).to_string()
}
