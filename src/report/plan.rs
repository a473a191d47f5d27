//! The plan: what switches when, and why.

use std::fmt::Write;

use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;

use crate::schedule::{Evening, Plan, Row, clock};
use crate::site::Site;

use super::{csv_field, json, utc};
use crate::text::wrap;

/// One row of the JSON.
#[derive(Serialize)]
pub(super) struct EveningJson {
    date: String,
    zone: String,
    on: Option<String>,
    off: Option<String>,
    reason_on: String,
    reason_off: String,
    follows: Option<bool>,
}

pub(super) fn evenings(site: &Site, plan: &Plan) -> Vec<EveningJson> {
    let row_json = |row: &Row| EveningJson {
        date: row.evening.to_string(),
        zone: site[row.zone].name.clone(),
        on: row.on.map(utc),
        off: row.off.map(utc),
        reason_on: row.why_on.say(site),
        reason_off: row.why_off.say(site),
        follows: row.follows,
    };
    plan.rows.iter().map(row_json).collect()
}

/// `{site, evenings: [...]}`.
pub fn rows_json(site: &Site, plan: &Plan) -> String {
    #[derive(Serialize)]
    struct Document<'a> {
        site: &'a str,
        evenings: Vec<EveningJson>,
    }
    json(&Document {
        site: &site.name,
        evenings: evenings(site, plan),
    })
}

/// One line per row, under `date,zone,on,off,reason_on,reason_off,follows`.
pub fn rows_csv(site: &Site, plan: &Plan) -> String {
    csv(site, plan, None)
}

/// A column after those of the plan: its name, and its field in a row.
pub(super) type Column<'a> = (&'a str, &'a dyn Fn(&Row) -> String);

/// The rows, and one more column if there is one.
pub(super) fn csv(site: &Site, plan: &Plan, more: Option<Column<'_>>) -> String {
    let mut out = String::from("date,zone,on,off,reason_on,reason_off,follows");
    if let Some((name, _)) = more {
        out.push(',');
        out.push_str(name);
    }
    out.push('\n');
    for (row, of_plan) in evenings(site, plan).into_iter().zip(&plan.rows) {
        let fields = [
            row.date,
            row.zone,
            row.on.unwrap_or_default(),
            row.off.unwrap_or_default(),
            csv_field(&row.reason_on),
            csv_field(&row.reason_off),
            row.follows
                .map(|follows| follows.to_string())
                .unwrap_or_default(),
        ];
        out.push_str(&fields.join(","));
        if let Some((_, field)) = more {
            out.push(',');
            out.push_str(&csv_field(&field(of_plan)));
        }
        out.push('\n');
    }
    out
}

/// `Tue 2026-11-24`.
pub(super) fn day(date: NaiveDate) -> String {
    date.format("%a %Y-%m-%d").to_string()
}

/// `Tue 17:13:07 CST`.
fn moment(site: &Site, at: DateTime<Utc>) -> String {
    let local = site.timezone.to_local(at);
    format!(
        "{} {}",
        local.format("%a %H:%M:%S"),
        site.timezone.offset_at(at).abbreviation
    )
}

/// One sentence on an evening: who is lit from when to when, and who is not.
pub(super) fn summary(site: &Site, rows: &[Row]) -> String {
    let from = rows.iter().filter_map(|row| row.on).min();
    let until = rows.iter().filter_map(|row| row.off).max();
    let dark: Vec<&str> = site
        .zones_in_order()
        .into_iter()
        .filter(|zone| {
            rows.iter()
                .filter(|row| row.zone == *zone)
                .all(|row| row.on.is_none())
        })
        .map(|zone| site[zone].name.as_str())
        .collect();
    let lit = site.zones.len() - dark.len();
    let zones = |count: usize| format!("{count} zone{}", if count == 1 { "" } else { "s" });
    // After midnight it is another day of the week, and said so.
    let at = |at: DateTime<Utc>| {
        let local = site.timezone.to_local(at);
        let same = rows.first().is_some_and(|row| row.evening == local.date());
        let day = if same {
            String::new()
        } else {
            local.format("%a ").to_string()
        };
        format!("{day}{}", clock(&site.timezone, at))
    };
    let mut said = match (from, until) {
        (Some(from), Some(until)) => {
            format!("{} lit from {} to {}", zones(lit), at(from), at(until))
        }
        (Some(from), None) => format!("{} lit from {} without end", zones(lit), at(from)),
        _ => "no lights".into(),
    };
    if lit > 0 && !dark.is_empty() {
        let _ = write!(said, "; dark: {}", dark.join(", "));
    }
    said
}

/// Evening by evening, with the reason of every switching.
pub fn rows_text(site: &Site, plan: &Plan) -> String {
    let mut out = String::new();
    let evenings: Vec<&[Row]> = plan.rows.chunk_by(|a, b| a.evening == b.evening).collect();
    if let [first, .., last] = evenings.as_slice() {
        let lit = evenings
            .iter()
            .filter(|rows| rows.iter().any(|row| row.on.is_some()))
            .count();
        let span = format!(
            "{}: lights on {lit} of {} evenings, {} to {}",
            site.name,
            evenings.len(),
            first[0].evening,
            last[0].evening
        );
        wrap(&mut out, "", "  ", &span);
        out.push('\n');
    }
    let names = site
        .zones
        .iter()
        .map(|zone| zone.name.chars().count())
        .max()
        .unwrap_or(0);
    for (index, rows) in evenings.iter().enumerate() {
        let Some(first) = rows.first() else { continue };
        if index > 0 {
            out.push('\n');
        }
        let answer = format!("{}: {}", day(first.evening), summary(site, rows));
        let answer = if evenings.len() == 1 {
            format!("{}, {answer}", site.name)
        } else {
            answer
        };
        wrap(&mut out, "", "  ", &answer);
        clock_change(site, first.evening, &mut out);
        let width = moment_columns(site, first.evening);
        let mut before: Option<&Row> = None;
        for row in *rows {
            // Windows that are dark for the same reason are dark once.
            let again = row.on.is_none()
                && before.is_some_and(|before| {
                    (before.zone, before.on, before.why_on) == (row.zone, None, row.why_on)
                });
            if !again {
                let lit_too = rows
                    .iter()
                    .any(|other| other.zone == row.zone && other.on.is_some());
                switching(site, row, lit_too, (names, width), &mut out);
            }
            before = Some(row);
        }
    }
    out
}

fn clock_change(site: &Site, evening: NaiveDate, out: &mut String) {
    let evening = Evening::of(site, evening);
    for change in site
        .timezone
        .transitions_between(evening.begins, evening.ends)
    {
        if change.shift_s() != 0 {
            let way = if change.shift_s() > 0 {
                "forward"
            } else {
                "back"
            };
            let minutes = change.shift_s().abs() / 60;
            let said = format!(
                "clocks go {way} {minutes} min: {} to {} at {}",
                change.before.abbreviation,
                change.after.abbreviation,
                clock(&site.timezone, change.at)
            );
            wrap(out, "  ", "    ", &said);
        }
    }
}

/// Columns of the moments of an evening: summer time may have a longer name than winter time.
fn moment_columns(site: &Site, evening: NaiveDate) -> usize {
    let evening = Evening::of(site, evening);
    let name = |at| site.timezone.offset_at(at).abbreviation.as_str().len();
    "Tue 17:13:07 ".len() + name(evening.begins).max(name(evening.ends))
}

/// Longest zone name that stands before its times; where one is longer, all stand above [columns].
const NAME_COLUMNS: usize = 20;

/// One row; `lit_too` says that its zone has light in another window of the evening.
fn switching(
    site: &Site,
    row: &Row,
    lit_too: bool,
    (mut names, width): (usize, usize),
    out: &mut String,
) {
    let mut name = site[row.zone].name.as_str();
    if names > NAME_COLUMNS {
        let _ = writeln!(out, "  {name}");
        (name, names) = ("", 0);
    }
    let blank = " ".repeat(names);
    let Some(on) = row.on else {
        let (state, what) = if lit_too {
            ("skip", "one window: ")
        } else {
            ("dark", "")
        };
        let first = format!("  {name:names$}  {state}  ");
        let rest = format!("  {blank}        ");
        wrap(
            out,
            &first,
            &rest,
            &format!("{what}{}", row.why_on.say(site)),
        );
        return;
    };
    let on = moment(site, on);
    let rest = format!("  {blank}       {}  ", " ".repeat(width));
    wrap(
        out,
        &format!("  {name:names$}  on   {on:width$}  "),
        &rest,
        &row.why_on.say(site),
    );
    let off = row
        .off
        .map_or_else(|| "never".into(), |off| moment(site, off));
    wrap(
        out,
        &format!("  {blank}  off  {off:width$}  "),
        &rest,
        &row.why_off.say(site),
    );
}
