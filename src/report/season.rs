//! The season: sums by zone and month, and every evening on request.

use std::collections::BTreeMap;
use std::fmt::Write;

use chrono::{DateTime, Datelike, NaiveDate, Utc};
use serde::Serialize;

use crate::civil_time::ClockChange;
use crate::schedule::{Row, clock};
use crate::season::{Month, Season, ZoneSeason};
use crate::site::{Site, Switching, ZoneId};

use super::plan::{EveningJson, csv, evenings};
use super::{counted, json, rows_text, utc};
use crate::text::wrap;

mod nights;

pub(crate) use nights::nights_at_risk;

use nights::NightsJson;

/// Columns of the month table that hold one zone: nights, hours, kilowatt-hours.
const ZONE_COLUMNS: usize = 18;

/// Zones of one month table, so that it fits the width.
const ZONES_PER_TABLE: usize = 4;

/// The season in words and tables; `every_night` adds the plan.
pub fn season_text(site: &Site, season: &Season, every_night: bool) -> String {
    let mut out = String::new();
    wrap(&mut out, "", "  ", &season_summary(site, season));
    nights::reasons(site, season, &mut out);
    for (index, sum) in season.zones.iter().enumerate() {
        zone_text(site, ZoneId(index), sum, &mut out);
    }
    if site.zones.len() > 1 {
        together(site, season, &mut out);
    }
    clock_changes(site, season, &mut out);
    for first in (0..site.zones.len()).step_by(ZONES_PER_TABLE) {
        let last = (first + ZONES_PER_TABLE).min(site.zones.len());
        month_table(site, season, first..last, &mut out);
    }
    nights::tables(site, season, &mut out);
    if every_night {
        out.push('\n');
        out.push_str(&rows_text(site, &season.plan));
    }
    out
}

/// The answer in one sentence.
pub(super) fn season_summary(site: &Site, season: &Season) -> String {
    let rows = &season.plan.rows;
    let nights = rows.chunk_by(|a, b| a.evening == b.evening).count() as u64;
    let failing: Vec<String> = season
        .zones
        .iter()
        .enumerate()
        .filter(|(_, sum)| sum.nights_not_following > 0)
        .map(|(index, sum)| {
            format!(
                "{} does not follow on {}",
                site.zones[index].name,
                counted(sum.nights_not_following, "night")
            )
        })
        .collect();
    let at_risk = nights_at_risk(site, season);
    let any_follows = season.plan.rows.iter().any(|row| row.follows.is_some());
    let mut follow = match (failing.is_empty(), !any_follows) {
        (false, _) => failing.join(", "),
        (true, true) => "no zone follows another".into(),
        (true, false) if !at_risk.is_empty() => "every slave follows on typical evenings".into(),
        (true, false) if season.nights.is_some() => {
            "every slave follows every night, none at risk".into()
        }
        (true, false) => "every slave follows every night".into(),
    };
    for link in at_risk {
        follow = format!("{follow}; {link}");
    }
    let kwh: f64 = season
        .zones
        .iter()
        .map(|sum| sum.lit_kwh + sum.standby_kwh)
        .sum();
    let cost = cost(site, kwh).map(|cost| format!(", {cost}"));
    format!(
        "{}, {} {} to {}: {follow}; {kwh:.0} kWh{}",
        site.name,
        counted(nights, "night"),
        season.from,
        season.to,
        cost.unwrap_or_default()
    )
}

/// `17:04 CST on 2026-12-06`.
fn at(site: &Site, moment: DateTime<Utc>) -> String {
    let zone = &site.timezone;
    format!(
        "{} on {}",
        clock(zone, moment),
        zone.to_local(moment).date()
    )
}

/// `5 h 47 min`.
pub(crate) fn hours(seconds: f64) -> String {
    let minutes = (seconds / 60.0).round();
    let whole = (minutes / 60.0).floor();
    format!("{whole} h {:02} min", minutes - whole * 60.0)
}

fn night(longest: Option<(NaiveDate, f64)>) -> String {
    longest.map_or_else(
        || "none".into(),
        |(date, lit_s)| format!("{} on {date}", hours(lit_s)),
    )
}

fn zone_text(site: &Site, id: ZoneId, sum: &ZoneSeason, out: &mut String) {
    let zone = &site[id];
    let how = site.how_switched(id);
    let _ = write!(out, "\nzone {} ({how})\n", zone.name);
    let mut line =
        |label: &str, text: &str| wrap(out, &format!("  {label:9}"), "           ", text);
    let on = match (sum.earliest_on, sum.latest_on) {
        (Some(earliest), Some(latest)) => {
            format!(
                "earliest {}, latest {}",
                at(site, earliest),
                at(site, latest)
            )
        }
        _ if sum.nights_lit > 0 => "lit without end".into(),
        _ => "never".into(),
    };
    line("on", &on);
    line(
        "lit",
        &format!(
            "{:.0} h on {}; longest {}, shortest {}",
            sum.lit_s / 3600.0,
            counted(sum.nights_lit, "night"),
            night(sum.longest),
            night(sum.shortest)
        ),
    );
    for (why, nights) in &sum.nights_dark {
        line("dark", &format!("{}: {why}", counted(*nights, "night")));
    }
    if sum.nights_not_following > 0 {
        line(
            "follows",
            &format!(
                "not on {}: see `check`",
                counted(sum.nights_not_following, "night")
            ),
        );
    }
    let relay = match zone.switching {
        Switching::Timed(_) | Switching::Senses(_) => String::new(),
        Switching::Follows(_) => format!(", {} relay operations", sum.relay_operations),
    };
    line("switched", &format!("{} times{relay}", sum.switchings));
    let cost = cost(site, sum.lit_kwh + sum.standby_kwh).map(|cost| format!(" = {cost}"));
    line(
        "energy",
        &format!(
            "{:.1} kWh lit + {:.1} kWh standby{}",
            sum.lit_kwh,
            sum.standby_kwh,
            cost.unwrap_or_default()
        ),
    );
}

/// What the whole yard takes.
fn together(site: &Site, season: &Season, out: &mut String) {
    let lit: f64 = season.zones.iter().map(|sum| sum.lit_kwh).sum();
    let standby: f64 = season.zones.iter().map(|sum| sum.standby_kwh).sum();
    let cost = cost(site, lit + standby).map(|cost| format!(" = {cost}"));
    let text = format!(
        "{lit:.1} kWh lit + {standby:.1} kWh standby{}",
        cost.unwrap_or_default()
    );
    out.push_str("\nall zones\n");
    wrap(out, "  energy   ", "           ", &text);
}

/// `13.93 USD`, where the file gives a tariff.
fn cost(site: &Site, kwh: f64) -> Option<String> {
    let tariff = site.tariff.as_ref()?;
    Some(
        format!("{:.2} {}", kwh * tariff.per_kwh, tariff.currency)
            .trim_end()
            .to_owned(),
    )
}

fn clock_changes(site: &Site, season: &Season, out: &mut String) {
    if season.clock_changes.is_empty() {
        out.push_str("\nclocks do not change in this season\n");
        return;
    }
    out.push('\n');
    for (evening, change) in &season.clock_changes {
        let said = format!(
            "clocks change on {} (evening of {evening}): {} to {} at {}",
            site.timezone.to_local(change.at).date(),
            change.before.abbreviation,
            change.after.abbreviation,
            clock(&site.timezone, change.at)
        );
        wrap(out, "", "  ", &said);
    }
}

fn month_table(site: &Site, season: &Season, zones: std::ops::Range<usize>, out: &mut String) {
    let months = season
        .zones
        .get(zones.start)
        .map_or(&[][..], |sum| &sum.months);
    let changes = |month: &Month| {
        let of = |date: NaiveDate| (date.year(), date.month());
        season
            .clock_changes
            .iter()
            .any(|(evening, _)| of(*evening) == of(month.first))
    };
    out.push_str("\n        ");
    for zone in zones.clone() {
        let name: String = site.zones[zone]
            .name
            .chars()
            .take(ZONE_COLUMNS - 1)
            .collect();
        let _ = write!(out, "{name:>ZONE_COLUMNS$}");
    }
    out.push_str("\nmonth   ");
    for _ in zones.clone() {
        let _ = write!(out, "{:>7}{:>5}{:>6}", "nights", "h", "kWh");
    }
    out.push('\n');
    let row = |label: String, cells: Vec<(u32, f64, f64)>, out: &mut String| {
        let _ = write!(out, "{label:8}");
        for (nights, lit_s, kwh) in cells {
            let _ = write!(out, "{nights:>7}{:>5.0}{kwh:>6.1}", lit_s / 3600.0);
        }
        out.push('\n');
    };
    for (index, month) in months.iter().enumerate() {
        let mark = if changes(month) { "*" } else { "" };
        let cells = zones.clone().map(|zone| {
            let month = &season.zones[zone].months[index];
            (month.nights_lit, month.lit_s, month.lit_kwh)
        });
        row(
            format!("{}{mark}", month.first.format("%Y-%m")),
            cells.collect(),
            out,
        );
    }
    let sums = zones.map(|zone| &season.zones[zone]);
    row(
        "all".into(),
        sums.map(|sum| (sum.nights_lit, sum.lit_s, sum.lit_kwh))
            .collect(),
        out,
    );
    if !season.clock_changes.is_empty() {
        out.push_str("* the clocks change; kWh: while lit\n");
    }
}

/// The rows of the plan; where the site file has temperatures by month, a last column `at_risk` says
/// what may go wrong with the slave that evening.
pub fn season_csv(site: &Site, season: &Season) -> String {
    let Some(nights) = &season.nights else {
        return csv(site, &season.plan, None);
    };
    let at_risk = |row: &Row| match site[row.zone].switching {
        Switching::Timed(_) | Switching::Senses(_) => String::new(),
        Switching::Follows(link) => nights::on(&nights[link.0], row.evening),
    };
    csv(site, &season.plan, Some(("at_risk", &at_risk)))
}

/// `{site, from, to, zones, clock_changes, evenings}`, and `nights_at_risk` where the site file has
/// temperatures by month.
pub fn season_json(site: &Site, season: &Season) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        site: &'a str,
        from: String,
        to: String,
        currency: Option<&'a str>,
        clock_changes: Vec<ClockChangeJson>,
        zones: Vec<ZoneJson<'a>>,
        #[serde(skip_serializing_if = "Option::is_none")]
        nights_at_risk: Option<Vec<NightsJson<'a>>>,
        evenings: Vec<EveningJson>,
    }
    let zones = season
        .zones
        .iter()
        .enumerate()
        .map(|(index, sum)| ZoneJson::of(site, ZoneId(index), sum));
    let of_link = |nights| NightsJson::of(site, nights);
    let nights_at_risk = season.nights.as_ref();
    json(&Document {
        nights_at_risk: nights_at_risk.map(|links| links.iter().map(of_link).collect()),
        site: &site.name,
        from: season.from.to_string(),
        to: season.to.to_string(),
        currency: site.tariff.as_ref().map(|tariff| tariff.currency.as_str()),
        clock_changes: season
            .clock_changes
            .iter()
            .map(ClockChangeJson::of)
            .collect(),
        zones: zones.collect(),
        evenings: evenings(site, &season.plan),
    })
}

#[derive(Serialize)]
struct ZoneJson<'a> {
    zone: &'a str,
    nights_lit: u32,
    nights_dark: &'a BTreeMap<String, u32>,
    nights_not_following: u32,
    earliest_on: Option<String>,
    latest_on: Option<String>,
    longest: Option<NightJson>,
    shortest: Option<NightJson>,
    hours_lit: f64,
    switchings: u32,
    relay_operations: u32,
    lit_kwh: f64,
    standby_kwh: f64,
    cost: Option<f64>,
    months: Vec<MonthJson>,
}

#[derive(Serialize)]
struct ClockChangeJson {
    /// The evening during which it happens.
    evening: String,
    /// The instant.
    at: String,
    from: String,
    to: String,
}

impl ClockChangeJson {
    fn of((evening, change): &(NaiveDate, ClockChange)) -> Self {
        Self {
            evening: evening.to_string(),
            at: utc(change.at),
            from: change.before.abbreviation.to_string(),
            to: change.after.abbreviation.to_string(),
        }
    }
}

#[derive(Serialize)]
struct NightJson {
    date: String,
    hours: f64,
}

#[derive(Serialize)]
struct MonthJson {
    month: String,
    nights_lit: u32,
    hours_lit: f64,
    lit_kwh: f64,
}

impl<'a> ZoneJson<'a> {
    fn of(site: &'a Site, id: ZoneId, sum: &'a ZoneSeason) -> Self {
        let night = |night: Option<(NaiveDate, f64)>| {
            night.map(|(date, lit_s)| NightJson {
                date: date.to_string(),
                hours: lit_s / 3600.0,
            })
        };
        let month = |month: &Month| MonthJson {
            month: month.first.format("%Y-%m").to_string(),
            nights_lit: month.nights_lit,
            hours_lit: month.lit_s / 3600.0,
            lit_kwh: month.lit_kwh,
        };
        Self {
            zone: &site[id].name,
            nights_lit: sum.nights_lit,
            nights_dark: &sum.nights_dark,
            nights_not_following: sum.nights_not_following,
            earliest_on: sum.earliest_on.map(utc),
            latest_on: sum.latest_on.map(utc),
            longest: night(sum.longest),
            shortest: night(sum.shortest),
            hours_lit: sum.lit_s / 3600.0,
            switchings: sum.switchings,
            relay_operations: sum.relay_operations,
            lit_kwh: sum.lit_kwh,
            standby_kwh: sum.standby_kwh,
            cost: site.tariff.as_ref().map(|tariff| sum.cost(tariff.per_kwh)),
            months: sum.months.iter().map(month).collect(),
        }
    }
}
