//! When it switches: in words, and over twelve months.

use chrono::{Datelike, NaiveDate, NaiveTime, TimeDelta};
use maud::{Markup, html};

use crate::almanac::SunEvent;
use crate::civil_time::LocalOffset;
use crate::picture::season::season_svg;
use crate::report::{hours, nights_at_risk};
use crate::schedule::{event_name, span};
use crate::site::{
    Change, Days, IfSilent, Moment, NoTwilight, Off, Site, SunMark, Switching, Window, ZoneId,
};

use super::{Sheet, cell, table};

fn time(time: NaiveTime) -> String {
    time.format("%H:%M").to_string()
}

fn mark(mark: SunMark) -> String {
    match mark {
        SunMark::Event(event) => event_name(event).into(),
        SunMark::Altitude(degrees) => format!("the sun at {degrees}°").replace('-', "−"),
    }
}

fn moment(moment: Moment) -> String {
    match moment {
        Moment::Clock(at) => time(at),
        Moment::Sun { mark: of, offset_s } => match offset_s {
            0 => mark(of),
            later if later > 0 => format!("{} after {}", span(later), mark(of)),
            sooner => format!("{} before {}", span(-sooner), mark(of)),
        },
    }
}

fn days(days: Days) -> String {
    use chrono::Weekday::{Fri, Mon, Sat, Sun, Thu, Tue, Wed};
    let week = [
        (Mon, "Monday"),
        (Tue, "Tuesday"),
        (Wed, "Wednesday"),
        (Thu, "Thursday"),
        (Fri, "Friday"),
        (Sat, "Saturday"),
        (Sun, "Sunday"),
    ];
    if days == Days::ALL {
        return "every evening".into();
    }
    let named: Vec<&str> = week
        .into_iter()
        .filter(|(day, _)| days.contain(*day))
        .map(|(_, name)| name)
        .collect();
    format!("on the evenings of {}", named.join(", "))
}

/// A window in words.
fn window(window: &Window) -> String {
    let mut on = vec![format!("on at {}", moment(window.on))];
    on.extend(
        window
            .not_before
            .map(|at| format!("never before {}", time(at))),
    );
    on.extend(
        window
            .not_after
            .map(|at| format!("never after {}", time(at))),
    );
    let off = match window.off {
        Off::At(at) => format!("off at {}", moment(at)),
        Off::For(seconds) => format!("off {} later", span(seconds)),
    };
    let mut said = vec![on.join(", "), off, days(window.days)];
    let has_none = [
        Some(window.on),
        match window.off {
            Off::At(at) => Some(at),
            Off::For(_) => None,
        },
    ];
    if has_none.into_iter().flatten().any(twilight) {
        let instead = match window.if_no_twilight {
            NoTwilight::Sunset => "sunset or sunrise stands in".into(),
            NoTwilight::Skip => "dark".into(),
            NoTwilight::Clock(at) => time(at),
        };
        said.push(format!("where the night has no such twilight, {instead}"));
    }
    said.join("; ")
}

/// Whether there may be nights without it.
fn twilight(moment: Moment) -> bool {
    let Moment::Sun { mark, .. } = moment else {
        return false;
    };
    !matches!(mark, SunMark::Event(SunEvent::Sunset | SunEvent::Sunrise))
}

/// The rules of a zone in words.
fn rules(sheet: &Sheet<'_>, id: ZoneId) -> Vec<String> {
    let site = sheet.site;
    let zone = &site[id];
    let mut rules: Vec<String> = match &zone.switching {
        Switching::Timed(windows) => windows.iter().map(window).collect(),
        Switching::Follows(link) => {
            let judgement = &sheet.check.links[link.0];
            let master = &site[site[*link].master].name;
            vec![match (judgement.outcome(), judgement.on_delay_s) {
                (crate::link::Outcome::Follows, Some(delay_s)) => {
                    format!("follows {master}, lit {delay_s:.1} s after it")
                }
                (outcome, _) => {
                    format!("is meant to follow {master}; by the simulation it {outcome}")
                }
            }]
        }
        Switching::Senses(sensing) => {
            let master = &site[sensing.master].name;
            let silent = match sensing.if_silent {
                IfSilent::Dark => "it stays dark",
                IfSilent::Schedule => "it keeps the plan of its master",
            };
            vec![format!(
                "follows {master} by the board's input; if that stays silent for {:.0} min on a lit evening, {silent}",
                sensing.silent_after_s / 60.0
            )]
        }
    };
    if let Some(curfew) = zone.curfew {
        rules.push(format!(
            "dark from {} till the next evening, whatever else",
            time(curfew)
        ));
    }
    rules
}

/// `on`, `off`, `dark` of an exception.
fn change(change: Change) -> String {
    match change {
        Change::Dark => "dark".into(),
        Change::Moments { on, off } => {
            let parts = [
                on.map(|at| format!("on at {}", moment(at))),
                off.map(|at| format!("off at {}", moment(at))),
            ];
            parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
        }
    }
}

/// The first evening of every ten or so, month by month.
const SHOWN: [u32; 3] = [1, 11, 21];

/// When a zone is lit on an evening.
fn lit_on(sheet: &Sheet<'_>, zone: ZoneId, date: NaiveDate) -> String {
    let site = sheet.site;
    let local = |at| site.timezone.to_local(at).format("%H:%M").to_string();
    if date < sheet.season.from || date > sheet.season.to {
        return "·".into();
    }
    let rows = &sheet.season.plan.rows;
    let from = rows.partition_point(|row| row.evening < date);
    let lit: Vec<String> = rows[from..]
        .iter()
        .take_while(|row| row.evening == date)
        .filter(|row| row.zone == zone)
        .filter_map(|row| {
            let (on, until) = (row.on?, row.lit_until(site)?);
            Some(if (until - on).num_hours() >= 23 {
                "day and night".into()
            } else {
                format!("{}–{}", local(on), local(until))
            })
        })
        .collect();
    if lit.is_empty() {
        "dark".into()
    } else {
        lit.join(", ")
    }
}

fn months(sheet: &Sheet<'_>, zone: ZoneId) -> Markup {
    let season = sheet.season;
    let sums = &season.zones[zone.0];
    let rows: Vec<Vec<Markup>> = sums
        .months
        .iter()
        .map(|month| {
            let mut cells = vec![cell(month.first.format("%B %Y").to_string())];
            cells.extend(SHOWN.map(|day| {
                cell(
                    month
                        .first
                        .with_day(day)
                        .map_or_else(|| "·".into(), |date| lit_on(sheet, zone, date)),
                )
            }));
            cells.push(cell(month.nights_lit.to_string()));
            cells.push(cell(format!("{:.0} h", month.lit_s / 3600.0)));
            cells
        })
        .collect();
    table(
        &format!(
            "{}, evening of the month, local time",
            sheet.site[zone].name
        ),
        &["month", "1st", "11th", "21st", "nights lit", "lit"],
        &rows,
    )
}

/// Zones whose times are worth a table of their own: those that no link ties to another.
fn with_times(site: &Site) -> impl Iterator<Item = ZoneId> {
    site.zones_in_order()
        .into_iter()
        .filter(|zone| !matches!(site[*zone].switching, Switching::Follows(_)))
}

pub(super) fn schedule(sheet: &Sheet<'_>) -> Markup {
    let (site, season) = (sheet.site, sheet.season);
    html! {
        dl .rules {
            @for zone in site.zones_in_order() {
                div {
                    dt { (site[zone].name) }
                    @for rule in rules(sheet, zone) { dd { (rule) "." } }
                    @let sums = &season.zones[zone.0];
                    dd .quiet {
                        (sums.nights_lit) " nights lit until " (season.to) ", " (format!("{:.0}", sums.lit_s / 3600.0)) " h"
                        @if let Some((date, lit_s)) = sums.longest { "; longest " (hours(lit_s)) " on " (date) }
                        @if let Some((date, lit_s)) = sums.shortest { ", shortest " (hours(lit_s)) " on " (date) }
                        @for (why, nights) in &sums.nights_dark { "; dark on " (nights) ": " (why) }
                        "."
                    }
                }
            }
        }
        @let to_come: Vec<_> = site.exceptions.iter().filter(|exception| exception.to >= season.from).collect();
        @if !to_come.is_empty() {
            h3 { "Days out of the ordinary" }
            ul {
                @for exception in to_come {
                    li {
                        (exception.from)
                        @if exception.to != exception.from { " to " (exception.to) }
                        ": " (exception.zone.map_or_else(|| "all timed zones".into(), |zone| site[zone].name.clone()))
                        " " (change(exception.change))
                        @if matches!(exception.change, Change::Moments { .. }) { "; further windows of the zone stay as they are" }
                        "."
                    }
                }
            }
        }
        @let at_risk = nights_at_risk(site, season);
        @if !at_risk.is_empty() {
            h3 { "Nights at risk" }
            ul { @for link in at_risk { li { (link) "." } } }
        }
        h3 { "Clock changes" }
        @if season.clock_changes.is_empty() { p { "None in these twelve months." } }
        @else {
            ul {
                @for (_, changed) in &season.clock_changes {
                    @let at = |offset: &LocalOffset| changed.at.naive_utc() + TimeDelta::seconds(i64::from(offset.utc_offset_s));
                    @let (old, new) = (at(&changed.before), at(&changed.after));
                    li {
                        (old.format("%-d %B %Y")) ": " (old.format("%H:%M")) " becomes " (new.format("%H:%M"))
                        @if changed.shift_s() > 0 { "; the times in between do not exist that night, and one of them in the site file means the same moment by the old time" }
                        @else if changed.shift_s() < 0 { "; the times in between come twice that night, and one of them in the site file means the first" }
                        "."
                    }
                }
            }
        }
        (season_svg(site, season, sheet.skies).inline("season"))
        @for zone in with_times(site) { (months(sheet, zone)) }
        p .quiet { "A time before noon belongs to the morning after. Zones that follow over a link go with their masters. " code { "pilotwire plan" } " and " code { "pilotwire season --every-night" } " have every evening; " code { "--format ics" } " makes a calendar of them." }
    }
}
