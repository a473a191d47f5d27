//! The nights at risk: named in the answer, explained after it, month by month in the detail.

use std::fmt::Write;

use chrono::NaiveDate;
use serde::Serialize;

use crate::link::{Aspect, MainsLevel, MonthRisk, Risk};
use crate::season::{LinkNights, Period, Season};
use crate::site::{Link, Site};
use crate::text::{celsius, margin_at, signed, with_minus, wrap};

use super::super::{counted, supply_level};

/// Stretches of one link's nights that the answer names; a season of years has more.
const NAMED: usize = 2;

/// `fence: 31 nights at risk, 2027-07-01 to 2027-07-31: hot restart` for each link with such nights.
pub(crate) fn nights_at_risk(site: &Site, season: &Season) -> Vec<String> {
    let links = season.nights.iter().flatten();
    links
        .filter(|nights| !nights.at_risk.is_empty())
        .map(|nights| {
            let stretches = nights.stretches();
            let when = match stretches.as_slice() {
                few if few.len() <= NAMED => {
                    let few: Vec<String> = few.iter().map(|(from, to)| dates(*from, *to)).collect();
                    few.join(" and ")
                }
                many => format!(
                    "in {} stretches from {} to {}",
                    many.len(),
                    many[0].0,
                    many[many.len() - 1].1
                ),
            };
            let mut what: Vec<(Risk, bool)> = nights
                .periods
                .iter()
                .map(|period| (period.risk, !period.certain))
                .collect();
            what.sort_unstable();
            what.dedup();
            let what = what
                .iter()
                .map(|(risk, uncertain)| short(*risk, !uncertain));
            format!(
                "{}: {} at risk, {when}: {}",
                site[site[nights.link].slave].name,
                counted(nights.at_risk.len() as u64, "night"),
                what.collect::<Vec<_>>().join(", ")
            )
        })
        .collect()
}

fn dates(from: NaiveDate, to: NaiveDate) -> String {
    if from == to {
        from.to_string()
    } else {
        format!("{from} to {to}")
    }
}

/// In as few words as a table has room for.
fn short(risk: Risk, certain: bool) -> &'static str {
    match (risk, certain) {
        (Risk::StaysDark, true) => "stays dark",
        (Risk::StaysDark, false) => "may be dark",
        (Risk::StaysLit, true) => "stays lit",
        (Risk::StaysLit, false) => "may be lit",
        (Risk::HotRestart, _) => "hot restart",
        (Risk::CoilHeat, _) => "coil too hot",
    }
}

/// Why the nights are at risk.
pub(super) fn reasons(site: &Site, season: &Season, out: &mut String) {
    for nights in season.nights.iter().flatten() {
        let link = &site[nights.link];
        for period in &nights.periods {
            let text = format!(
                "{}, {}, {}: {}",
                site.link_name(link),
                dates(period.from, period.to),
                counted(period.nights, "night"),
                reason(site, link, period)
            );
            wrap(out, "  ", "    ", &text);
        }
    }
}

fn percent(margin: f64) -> String {
    format!("{} %", signed(margin * 100.0, 1))
}

/// `, and gate with it`: the zones behind a slave.
fn behind(site: &Site, link: &Link) -> String {
    let mut zones = vec![link.slave];
    let mut next = 0;
    while let Some(&master) = zones.get(next) {
        let links = site.links.iter().filter(|link| link.master == master);
        zones.extend(links.map(|link| link.slave));
        next += 1;
    }
    let names: Vec<&str> = zones[1..]
        .iter()
        .map(|zone| site[*zone].name.as_str())
        .collect();
    match names.as_slice() {
        [] => String::new(),
        names => format!(", and {} with it", names.join(", ")),
    }
}

fn reason(site: &Site, link: &Link, period: &Period) -> String {
    let month = &period.worst;
    let behind = behind(site, link);
    let Some(least) = month.least(period.risk) else {
        return format!("stays lit{behind}: its own contact holds its relay on");
    };
    let name = month.month.name();
    let typical = format!("box {}", celsius(month.temperatures.typical_c));
    let worst = format!("{name}, box {}", celsius(least.case.box_c));
    let low = supply_level(site, link.master, MainsLevel::Low);
    let supply = if site.feeding(link).is_ac() {
        low
    } else {
        format!("supply at {low} DC")
    };
    let margins = |typical_margin: f64| {
        format!(
            "margin {} at worst ({worst}, {supply}, parts at their worst), {} on its typical evening ({typical})",
            percent(least.fraction),
            percent(typical_margin)
        )
    };
    match (period.risk, period.certain) {
        (Risk::StaysDark, true) => format!(
            "stays dark{behind}: margin {} on a typical evening ({name}, {typical})",
            percent(month.judged.ordinary.margin_dusk)
        ),
        (Risk::StaysDark, false) => {
            format!(
                "may stay dark{behind}: {}",
                margins(month.judged.ordinary.margin_dusk)
            )
        }
        (Risk::HotRestart, _) => format!(
            "may not come back after a power blip{behind}: {}",
            margins(month.judged.ordinary.margin_restart)
        ),
        (Risk::CoilHeat, _) => format!(
            "the coil may get too hot: {} at worst ({name})",
            margin_at(link, least)
        ),
        (Risk::StaysLit, certain) => format!(
            "{}{behind}: with {} off its coil keeps {:.0} % of its release voltage at worst ({worst}){}",
            if certain { "stays lit" } else { "may stay lit" },
            site[link.master].name,
            (1.0 - least.fraction) * 100.0,
            if certain {
                ", and too much of it on a typical evening"
            } else {
                ""
            }
        ),
    }
}

/// A table of months for every link.
pub(super) fn tables(site: &Site, season: &Season, out: &mut String) {
    for nights in season.nights.iter().flatten() {
        out.push('\n');
        let heading = format!(
            "{} by month, margins in %: on a typical evening, and the least at the month's coldest and hottest. dusk, restart: over pull-in; let go: under release; coil: under its limit",
            site.link_name(&site[nights.link])
        );
        wrap(out, "", "  ", &heading);
        out.push_str("          box °C       typical                    least         nights\n");
        out.push_str("month cold typ hot  dusk restart   dusk restart let go coil at risk\n");
        for month in &nights.months {
            row(month, nights, out);
        }
    }
}

fn row(month: &MonthRisk, nights: &LinkNights, out: &mut String) {
    let celsius = |value: f64| with_minus(&format!("{value:.0}"));
    let percent = |margin: f64, digits| signed(margin * 100.0, digits);
    let of = &month.temperatures;
    let at_risk = nights.nights_in(month.month);
    let what = match month.risks().first() {
        None => "",
        Some(_) if at_risk == 0 => "master dark",
        Some(risk) => short(*risk, month.is_certain(*risk)),
    };
    let line = format!(
        "{:5}{:>5}{:>4}{:>4}{:>6}{:>8}{:>7}{:>8}{:>7}{:>5}{:>8}  {what}",
        &month.month.name()[..3],
        celsius(of.coldest_c),
        celsius(of.typical_c),
        celsius(of.hottest_c),
        percent(month.judged.ordinary.margin_dusk, 1),
        percent(month.judged.ordinary.margin_restart, 1),
        percent(month.judged.margin(Aspect::Dusk).fraction, 1),
        percent(month.judged.margin(Aspect::HotRestart).fraction, 1),
        percent(month.judged.margin(Aspect::Release).fraction, 0),
        percent(month.judged.margin(Aspect::CoilVoltage).fraction, 0),
        at_risk,
    );
    let _ = writeln!(out, "{}", line.trim_end());
}

/// What may go wrong on an evening, for one field.
pub(super) fn on(nights: &LinkNights, evening: NaiveDate) -> String {
    nights.on(evening).map_or_else(String::new, |month| {
        let risks = month.risks();
        let words = risks
            .iter()
            .map(|risk| reason_word(*risk, month.is_certain(*risk)));
        words.collect::<Vec<_>>().join("; ")
    })
}

fn reason_word(risk: Risk, certain: bool) -> String {
    match risk {
        Risk::HotRestart | Risk::CoilHeat => risk.to_string(),
        _ if certain => risk.to_string(),
        Risk::StaysDark => "may stay dark".into(),
        Risk::StaysLit => "may stay lit".into(),
    }
}

/// One link of the JSON.
#[derive(Serialize)]
pub(super) struct NightsJson<'a> {
    master: &'a str,
    slave: &'a str,
    nights: usize,
    periods: Vec<PeriodJson>,
    months: Vec<RiskJson>,
}

#[derive(Serialize)]
struct PeriodJson {
    from: String,
    to: String,
    nights: u32,
    reason: String,
    /// The month with the least margin, its number.
    month: u32,
    margin: Option<f64>,
    box_c: Option<f64>,
}

#[derive(Serialize)]
struct RiskJson {
    month: u32,
    coldest_c: f64,
    typical_c: f64,
    hottest_c: f64,
    outcome: String,
    margin_dusk: f64,
    margin_restart: f64,
    worst_dusk: f64,
    worst_restart: f64,
    worst_release: f64,
    worst_coil: f64,
    nights_at_risk: usize,
}

impl<'a> NightsJson<'a> {
    pub(super) fn of(site: &'a Site, nights: &LinkNights) -> Self {
        let link = &site[nights.link];
        let period = |period: &Period| {
            let least = period.worst.least(period.risk);
            PeriodJson {
                from: period.from.to_string(),
                to: period.to.to_string(),
                nights: period.nights,
                reason: reason_word(period.risk, period.certain),
                month: period.worst.month.number_from_month(),
                margin: least.map(|least| least.fraction),
                box_c: least.map(|least| least.case.box_c),
            }
        };
        let month = |month: &MonthRisk| RiskJson {
            month: month.month.number_from_month(),
            coldest_c: month.temperatures.coldest_c,
            typical_c: month.temperatures.typical_c,
            hottest_c: month.temperatures.hottest_c,
            outcome: month.outcome().to_string(),
            margin_dusk: month.judged.ordinary.margin_dusk,
            margin_restart: month.judged.ordinary.margin_restart,
            worst_dusk: month.judged.margin(Aspect::Dusk).fraction,
            worst_restart: month.judged.margin(Aspect::HotRestart).fraction,
            worst_release: month.judged.margin(Aspect::Release).fraction,
            worst_coil: month.judged.margin(Aspect::CoilVoltage).fraction,
            nights_at_risk: nights.nights_in(month.month),
        };
        Self {
            master: &site[link.master].name,
            slave: &site[link.slave].name,
            nights: nights.at_risk.len(),
            periods: nights.periods.iter().map(period).collect(),
            months: nights.months.iter().map(month).collect(),
        }
    }
}
