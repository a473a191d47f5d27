//! Readings of a meter at the yard's test points: as given, as judged, as told.
//!
//! What hangs on a supply is judged by what the supply gives, and a fault by what several points show together,
//! where they were read in one round: a supply that was read last year says nothing of today.
//!
//! Readings belong together within twelve hours; nor do TP2 of spring and TP3 of autumn name a fault. A
//! reading is old after 366 days, because links and supplies have their yearly look. The form says so, and
//! it changes no verdict: nothing better is known. A clock in doubt gives no age.
//!
//! A point is held against its first reading that was as it should be. A first one that was mistyped, or
//! taken with a splice open, would stand beside every later one for ever. Whether it was fine is written
//! down when it is taken: the yard's file, and what is expected, may be another later. Until one was fine
//! the very first stands. Readings from before (store of version 2) count as fine, so that no comparison
//! changes.

use std::collections::BTreeMap;

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};

use crate::commissioning::{Fault, Found, Meter, Point, Sheet, judge, rests_on, suspects};
use crate::site::{LinkId, Site, Switching, ZoneId};

use super::store::{PointRecord, Taken};

/// Readings at most so far apart were taken in one round.
const ROUND: TimeDelta = TimeDelta::hours(12);

/// What was read longer ago is to be read again: links and supplies have their yearly look.
const OLD: TimeDelta = TimeDelta::days(366);

/// The most that is sane: no meter of a gardener's goes further [V], [Ω or MΩ].
/// More than this on a point of extra-low voltage is not its own: the usual limit of it on AC [V].
const MOST_V: f64 = 50.0;
const MOST_OHM: f64 = 1e6;

/// So many readings that are off, or zones, are named in one line.
const NAMED: usize = 3;

/// How a point begins whose probes go where those of the point before it went.
const THE_SAME: &str = "the same";

/// The points by which a fault of a link is told.
const TELL: [&str; 3] = ["TP2", "TP3 DC", "TP3 AC"];

/// A supply that is off by less moves nothing that counts [V].
const MOVES_V: f64 = 0.1;

/// A reading as somebody gives it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Given {
    /// A number, in the unit of the point.
    Number(f64),
    /// As typed: with a point or a comma, or `OL`.
    Text(String),
}

impl Given {
    /// The value that a meter set so showed; infinite for `OL`.
    ///
    /// # Errors
    /// What is wrong with it, and what to do.
    pub fn value(&self, meter: Meter) -> Result<f64, String> {
        let ohms = matches!(meter, Meter::Ohms | Meter::Megohms);
        let value = match self {
            Self::Number(value) => *value,
            Self::Text(text) => {
                let text = text.trim();
                if matches!(
                    text.to_uppercase().as_str(),
                    "OL" | "0L" | "O.L" | "0.L" | "∞"
                ) {
                    if ohms {
                        return Ok(f64::INFINITY);
                    }
                    return Err("above the meter's range: choose a higher one".into());
                }
                number(text).ok_or("not a number: write it as 14.7 or 14,7")?
            }
        };
        match value {
            value if !value.is_finite() => Err("not a number: write it as 14.7".into()),
            value if value < 0.0 && ohms => Err("less than no ohms: measure again".into()),
            value if value < 0.0 => Err("less than nothing: swap the probes".into()),
            value if ohms && value > MOST_OHM => {
                Err(format!("more than {MOST_OHM} {}: write OL", meter.name()))
            }
            value if !ohms && value > MOST_V => Err(format!(
                "more than {MOST_V} V on an extra-low-voltage point: mains may be on this wire. Touch nothing, switch off and unplug, and leave it to a licensed person. If the meter showed millivolts, 300 mV are 0.3"
            )),
            // There is no less than nothing in what is kept, and no more digits than a meter has.
            value => Ok((value.abs() * 1000.0).round() / 1000.0),
        }
    }
}

/// `14.7`, `14,7`, `−3`; not what only programs write.
fn number(text: &str) -> Option<f64> {
    let text = text.replace(',', ".").replace('−', "-");
    let digits = text.strip_prefix(['-', '+']).unwrap_or(&text);
    let plain = digits.chars().all(|c| c.is_ascii_digit() || c == '.');
    text.parse().ok().filter(|_| plain && digits.len() <= 20)
}

/// All test points of a yard with what was read there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Readings {
    /// The yard's name.
    pub site: String,
    /// The name of the yard's time zone.
    pub timezone: String,
    /// Why there are no points, if that is so.
    pub missing: Option<String>,
    /// They are being worked out, and are there when it is asked again.
    pub comes: bool,
    /// A reading is off, or something is wrong with a link.
    pub off: bool,
    /// How many readings are on record, also of points that the site file knows no more.
    pub on_record: usize,
    /// The zones, masters before their slaves.
    pub zones: Vec<ZoneReadings>,
}

/// The test points of a zone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ZoneReadings {
    /// Its name.
    pub zone: String,
    /// What is to be cured before anything is measured.
    pub first: Option<String>,
    /// In the order in which they are measured.
    pub points: Vec<PointReading>,
    /// What the readings say of the link that it follows.
    pub link: Option<LinkReading>,
}

/// A test point, what a meter should show there, and what it showed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PointReading {
    /// `TP3 DC`.
    pub name: String,
    /// Where the probes go.
    pub at: String,
    /// What the yard does meanwhile.
    pub state: String,
    /// What the meter is set to, which is the unit.
    pub unit: String,
    /// On an ordinary evening.
    pub typical: Option<f64>,
    /// At least so much.
    pub least: Option<f64>,
    /// At most so much.
    pub most: Option<f64>,
    /// The first reading that was as it should be, or, until there is one, the first of all.
    pub first: Option<Taken>,
    /// The newest.
    pub last: Option<Taken>,
    /// That was more than a year ago: measure again.
    pub old: bool,
    /// How the newest is.
    pub found: Option<Found>,
    /// What would have been right then, where that is not as above: the supply gave more or less.
    pub then: Option<Then>,
    /// What another value means.
    pub wrong: String,
    /// What there is to say beside the numbers.
    pub says: Option<String>,
}

/// What would have been right when it was read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Then {
    /// At least so much.
    pub least: Option<f64>,
    /// At most so much.
    pub most: Option<f64>,
    /// The point of the supply, `walk/TP1`.
    pub of: String,
    /// What was read there [V].
    pub volts: f64,
}

/// What the readings say of a link.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LinkReading {
    /// `walk > orchard`.
    pub link: String,
    /// Enough was measured to say something.
    pub judged: bool,
    /// When the oldest reading was taken that it rests on.
    pub oldest: Option<DateTime<Utc>>,
    /// When the newest was.
    pub newest: Option<DateTime<Utc>>,
    /// It rests on a reading of more than a year ago: measure again.
    pub old: bool,
    /// What fits, best first.
    pub fits: Vec<Fit>,
    /// What the far zone does whatever its master does, if all that fits says the same.
    pub stays: Option<bool>,
}

/// Something that would show what was read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fit {
    /// What is wrong, in words.
    pub fault: String,
    /// Nothing is wrong.
    pub healthy: bool,
    /// What one sees of it.
    pub seen: String,
}

impl ZoneReadings {
    /// The readings that are not as they should be.
    pub fn off(&self) -> impl Iterator<Item = (&PointReading, Found)> {
        let off = |found: &Found| matches!(found, Found::Low | Found::High);
        let found = move |point: &PointReading| point.found.filter(off);
        self.points
            .iter()
            .filter_map(move |point| Some((point, found(point)?)))
    }

    /// Whether a reading of these points is off, or something is wrong with the link by them.
    pub fn any_off(&self, of: impl Fn(&str) -> bool) -> bool {
        let told = TELL.iter().any(|name| of(name));
        let link = self.link.as_ref().filter(|_| told);
        link.and_then(LinkReading::said).is_some() || self.off().any(|(point, _)| of(&point.name))
    }

    /// When the newest of them was read.
    pub fn newest(&self) -> Option<DateTime<Utc>> {
        let last = self.points.iter().filter_map(|point| point.last.as_ref());
        last.map(|taken| taken.at).max()
    }

    /// How many points were ever measured.
    pub fn measured(&self) -> usize {
        let last = |point: &&PointReading| point.last.is_some();
        self.points.iter().filter(last).count()
    }
}

impl LinkReading {
    /// What is wrong, if the readings say so: `one bridge diode open, or capacitor at 50 %`.
    pub fn said(&self) -> Option<String> {
        match self.fits.first() {
            None if self.judged => {
                Some("no single fault: measure its supply, TP2 and TP3 again".into())
            }
            // One that fits as well as nothing at all is no news.
            Some(_) if !self.fits.iter().any(|fit| fit.healthy) => {
                let all: Vec<&str> = self.fits.iter().map(|fit| fit.fault.as_str()).collect();
                Some(all.join(", or "))
            }
            _ => None,
        }
    }
}

impl Readings {
    /// In one line: how many are off, which, and what fits.
    pub fn in_short(&self) -> String {
        match &self.missing {
            Some(why) => why.clone(),
            None => in_short(&self.zones),
        }
    }
}

/// The first few of them, and how many more there are.
pub(super) fn few(all: &[String]) -> String {
    let named = all[..all.len().min(NAMED)].join(", ");
    match all.len().saturating_sub(NAMED) {
        0 => named,
        more => format!("{named} and {more} more"),
    }
}

/// How many readings of a yard are off, which, and what fits.
fn in_short(zones: &[ZoneReadings]) -> String {
    let points: usize = zones.iter().map(|zone| zone.points.len()).sum();
    let measured: usize = zones.iter().map(ZoneReadings::measured).sum();
    let off: Vec<String> = zones
        .iter()
        .flat_map(|zone| {
            let said = |(point, found): (&PointReading, Found)| {
                format!("{}/{} {found}", zone.zone, point.name)
            };
            zone.off().map(said).collect::<Vec<_>>()
        })
        .collect();
    let mut text = match (measured, off.len()) {
        (0, _) => return format!("nothing is measured yet; {points} points wait"),
        (1, 0) => "the one reading is as it should be".to_owned(),
        (_, 0) => format!("all {measured} readings are as they should be"),
        (1, _) => format!("the one reading is off: {}", off[0]),
        (_, 1) => format!("1 of {measured} readings is off: {}", off[0]),
        (_, count) => format!("{count} of {measured} readings are off: {}", few(&off)),
    };
    for zone in zones {
        if let Some(said) = zone.link.as_ref().and_then(LinkReading::said) {
            text = format!("{text}; {} fits: {said}", zone.zone);
        }
    }
    let old = zones.iter().flat_map(|zone| &zone.points);
    let old = old.filter(|point| point.old).count();
    if old > 0 {
        text = format!("{text}; {old} older than a year: measure again");
    }
    if measured < points {
        text = format!("{text}; {} not measured yet", points - measured);
    }
    text
}

/// How the points of a zone that were just read are, and what fits.
pub(super) fn how(zone: &ZoneReadings, read: impl Fn(&str) -> bool) -> String {
    let off: Vec<String> = zone
        .off()
        .filter(|(point, _)| read(&point.name))
        .map(|(point, found)| format!("{} {found}", point.name))
        .collect();
    let here = zone.points.iter().filter(|point| read(&point.name));
    let (kept, judged): (Vec<&PointReading>, Vec<&PointReading>) =
        here.partition(|point| point.found == Some(Found::Kept));
    let mut said = Vec::new();
    if !off.is_empty() {
        said.push(few(&off));
    } else if !judged.is_empty() {
        said.push("as it should be".to_owned());
    }
    if !kept.is_empty() {
        let names: Vec<String> = kept.iter().map(|point| point.name.clone()).collect();
        said.push(format!(
            "{} kept, what it should be is not known",
            few(&names)
        ));
    }
    let mut text = said.join("; ");
    if let Some(said) = zone.link.as_ref().and_then(LinkReading::said) {
        text = format!("{text}; fits: {said}");
    }
    text
}

/// The readings of these keys that were taken in one round with `at`.
fn round<'a>(
    records: &BTreeMap<String, PointRecord>,
    at: DateTime<Utc>,
    keys: impl IntoIterator<Item = &'a str>,
) -> BTreeMap<String, f64> {
    keys.into_iter()
        .filter_map(|key| {
            let last = records.get(key)?.last;
            ((last.at - at).abs() <= ROUND).then(|| (key.to_owned(), last.value))
        })
        .collect()
}

/// Whether what was read then is to be read again.
fn is_old(at: DateTime<Utc>, now: Option<DateTime<Utc>>) -> bool {
    now.is_some_and(|now| now - at > OLD)
}

/// All points of a zone with what was read there, judged; `now` if it is known, for the age of it.
pub fn of_zone(
    site: &Site,
    sheet: &Sheet,
    records: &BTreeMap<String, PointRecord>,
    zone: ZoneId,
    now: Option<DateTime<Utc>>,
) -> ZoneReadings {
    let mut points: Vec<PointReading> = Vec::new();
    for point in sheet.points.iter().filter(|point| point.zone == zone) {
        let mut reading = of_point(site, records, point, now);
        // Each is told of alone as well.
        if let (Some(rest), Some(before)) = (point.at.strip_prefix(THE_SAME), points.last()) {
            reading.at = format!("{}{rest}", before.at);
        }
        points.push(reading);
    }
    let mut first = sheet.points.iter().filter(|point| point.zone == zone);
    ZoneReadings {
        first: first.find_map(|point| point.first.clone()),
        zone: site[zone].name.clone(),
        points,
        link: match site[zone].switching {
            Switching::Follows(link) => Some(of_link(site, sheet, records, link, now)),
            Switching::Timed(_) | Switching::Senses(_) => None,
        },
    }
}

fn of_point(
    site: &Site,
    records: &BTreeMap<String, PointRecord>,
    point: &Point,
    now: Option<DateTime<Utc>>,
) -> PointReading {
    let key = point.key(site);
    let record = records.get(&key);
    let with = point.expected.with.as_ref();
    let known = record.map(|record| {
        let supply = with.map(|with| with.of.as_str());
        round(
            records,
            record.last.at,
            supply.into_iter().chain([key.as_str()]),
        )
    });
    let judged = known
        .as_ref()
        .and_then(|known| judge(site, std::slice::from_ref(point), known).pop());
    // A supply that was read since, on another day, says nothing of what was read before it; what it gave then
    // is not known any more.
    let supply = with.and_then(|with| records.get(&with.of));
    let outdated = record.zip(supply).is_some_and(|(record, supply)| {
        supply.last.at > record.last.at + ROUND && supply.first != supply.last
    });
    let then = judged.as_ref().zip(with).and_then(|(judged, with)| {
        let volts = *known.as_ref()?.get(&with.of)?;
        ((volts - with.there_v).abs() > MOVES_V).then(|| Then {
            least: judged.least,
            most: judged.most,
            of: with.of.clone(),
            volts,
        })
    });
    PointReading {
        name: point.name.clone(),
        at: point.at.clone(),
        state: point.state.to_string(),
        unit: point.meter.name().to_owned(),
        typical: point.expected.typical,
        least: point.expected.least,
        most: point.expected.most,
        first: record.map(|record| record.first),
        last: record.map(|record| record.last),
        old: record.is_some_and(|record| is_old(record.last.at, now)),
        found: judged.map(|judged| {
            if outdated {
                Found::Unsure
            } else {
                judged.found
            }
        }),
        then,
        wrong: point.wrong.clone(),
        says: point.expected.says.clone(),
    }
}

fn of_link(
    site: &Site,
    sheet: &Sheet,
    records: &BTreeMap<String, PointRecord>,
    id: LinkId,
    now: Option<DateTime<Utc>>,
) -> LinkReading {
    let link = &site[id];
    let across_coil = sheet
        .points
        .iter()
        .find(|point| point.link == Some(id) && point.name == "TP3 DC")
        .and_then(|point| records.get(&point.key(site)));
    let suspected = across_coil.map(|across_coil| {
        let of_these = sheet
            .points
            .iter()
            .filter(|point| point.link == Some(id) || point.zone == link.master);
        let keys: Vec<String> = of_these.map(|point| point.key(site)).collect();
        let known = round(
            records,
            across_coil.last.at,
            keys.iter().map(String::as_str),
        );
        // What is as it should be accuses nobody, though a fault may show next to the same.
        let of_link = sheet.points.iter().filter(|point| point.link == Some(id));
        let own: Vec<Point> = of_link
            .filter(|point| TELL.contains(&point.name.as_str()))
            .cloned()
            .collect();
        let judged = judge(site, &own, &known);
        let fine = judged
            .iter()
            .all(|judged| judged.found.may_be_compared_with());
        suspects(site, id, &sheet.symptoms[id.0], &known)
            .into_iter()
            .map(|suspect| suspect.symptoms)
            .filter(|symptoms| !fine || symptoms.fault == Fault::None)
            .collect::<Vec<_>>()
    });
    let fits = suspected.iter().flatten().map(|symptoms| Fit {
        fault: symptoms.fault.to_string(),
        healthy: symptoms.fault == Fault::None,
        seen: symptoms.seen.to_string(),
    });
    let mut stays = suspected
        .iter()
        .flatten()
        .map(|symptoms| symptoms.seen.stays());
    let first = stays.next().flatten();
    let rests_on = rests_on(site, id);
    let rests_on = across_coil.into_iter().flat_map(|across_coil| {
        let taken = rests_on.iter().filter_map(|key| records.get(key));
        taken
            .map(|record| record.last.at)
            .filter(|at| (*at - across_coil.last.at).abs() <= ROUND)
    });
    let (oldest, newest) = (rests_on.clone().min(), rests_on.max());
    LinkReading {
        link: site.link_name(link),
        judged: suspected.is_some(),
        oldest,
        newest,
        old: oldest.is_some_and(|at| is_old(at, now)),
        fits: fits.collect(),
        stays: first.filter(|first| stays.all(|other| other == Some(*first))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_a_number_with_point_or_comma_or_above_the_range() {
        for (typed, meter, expected) in [
            ("14.7", Meter::DcVolts, Ok(14.7)),
            (" 14,7 ", Meter::DcVolts, Ok(14.7)),
            ("+0,3", Meter::AcVolts, Ok(0.3)),
            (".5", Meter::Ohms, Ok(0.5)),
            ("0", Meter::AcVolts, Ok(0.0)),
            ("-0", Meter::AcVolts, Ok(0.0)),
            ("50", Meter::AcVolts, Ok(50.0)),
            ("1000000", Meter::Megohms, Ok(1e6)),
            ("OL", Meter::Ohms, Ok(f64::INFINITY)),
            ("ol", Meter::Megohms, Ok(f64::INFINITY)),
            ("0L", Meter::Megohms, Ok(f64::INFINITY)),
            ("OL", Meter::DcVolts, Err("higher")),
            ("−14.7", Meter::DcVolts, Err("swap the probes")),
            ("-14.7", Meter::DcVolts, Err("swap the probes")),
            ("-1", Meter::Ohms, Err("measure again")),
            (
                "50.1",
                Meter::DcVolts,
                Err("more than 50 V on an extra-low-voltage point: mains may be on this wire"),
            ),
            ("1000001", Meter::Ohms, Err("write OL")),
            ("", Meter::DcVolts, Err("not a number")),
            ("14.7 V", Meter::DcVolts, Err("not a number")),
            ("1,234.5", Meter::DcVolts, Err("not a number")),
            ("1e2", Meter::DcVolts, Err("not a number")),
            ("inf", Meter::Ohms, Err("not a number")),
            ("NaN", Meter::Ohms, Err("not a number")),
            ("--1", Meter::DcVolts, Err("not a number")),
            (".", Meter::DcVolts, Err("not a number")),
        ] {
            let value = Given::Text(typed.into()).value(meter);
            match expected {
                Ok(expected) => assert_eq!(value, Ok(expected), "{typed}"),
                Err(expected) => {
                    let why = value.expect_err(typed);
                    assert!(why.contains(expected), "{typed}: {why}");
                }
            }
        }
        assert_eq!(Given::Number(14.7).value(Meter::DcVolts), Ok(14.7));
        assert!(Given::Number(f64::NAN).value(Meter::Ohms).is_err());
        assert!(Given::Number(-1.0).value(Meter::DcVolts).is_err());
    }
}
