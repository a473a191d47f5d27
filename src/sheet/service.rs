//! For whoever lives with it: power cuts, forcing, shutting down, maintenance.

use chrono::{Months, NaiveDate};
use maud::{Markup, html};

use crate::chain::timeline::{self, LitZones, Outage, wiring};
use crate::commissioning::Meter;
use crate::site::{OnDoubtfulClock, Site, SupplyKind};

use super::commission::value;
use super::{Sheet, blank, cell, table};

fn lit(site: &Site, zones: &LitZones) -> String {
    if zones.0.is_empty() {
        return "all dark".into();
    }
    if zones.0.len() == site.zones.len() {
        return "all lit".into();
    }
    let named: Vec<&str> = zones
        .0
        .iter()
        .map(|zone| site[*zone].name.as_str())
        .collect();
    format!("lit: {}", named.join(", "))
}

/// What fails, in words.
fn failed(site: &Site, outage: Outage) -> String {
    match outage {
        Outage::Supply(supply) => {
            let on_it: Vec<&str> = site
                .zones
                .iter()
                .filter(|zone| zone.supply == supply)
                .map(|zone| zone.name.as_str())
                .collect();
            format!(
                "mains of supply {} ({})",
                site[supply].name,
                on_it.join(", ")
            )
        }
        Outage::All => "mains of the whole yard".into(),
        Outage::Switches if site.outputs.is_empty() => "the timers of the timed zones".into(),
        Outage::Switches => "the board".into(),
    }
}

fn outages_of(sheet: &Sheet<'_>) -> Vec<Vec<Markup>> {
    let site = sheet.site;
    let wiring = wiring(site, &sheet.check.links);
    let nights = timeline::outages(&wiring, site.supplies.len())
        .into_iter()
        .map(|course| {
            vec![
                cell(failed(site, course.outage)),
                cell("by night"),
                cell(lit(site, &course.before)),
                cell(lit(site, &course.meanwhile)),
                cell(lit(site, &course.after)),
            ]
        });
    let day = vec![
        cell("any of them"),
        cell("by day"),
        cell("all dark"),
        cell("all dark"),
        cell("all dark: nothing that was missed is made up for"),
    ];
    nights.chain([day]).collect()
}

pub(super) fn outages(sheet: &Sheet<'_>) -> Markup {
    let site = sheet.site;
    let doubt = match site.daemon.on_doubtful_clock {
        OnDoubtfulClock::Dark => "timed zones stay dark",
        OnDoubtfulClock::Last => "timed zones stay as they were",
        OnDoubtfulClock::Schedule => "timed zones keep their plan by the clock as it is",
    };
    let desktop: Vec<&str> = site
        .supplies
        .iter()
        .filter(|supply| supply.kind == SupplyKind::DesktopPc)
        .map(|supply| supply.name.as_str())
        .collect();
    html! {
        (table("What is lit when the power fails, and when it is back", &["what fails", "when", "before", "meanwhile", "when it is back"], &outages_of(sheet)))
        ul {
            @if site.outputs.is_empty() {
                li { "No board switches this yard: a plug-in timer without a battery loses its time in a cut, and switches at wrong hours until it is set." }
            } @else {
                li { "A board that comes back looks at its clock and makes every line what the plan says for that moment; zones go on " (format!("{:.0}", site.daemon.stagger_s)) " s after one another." }
                li { "Until its clock is known to be right, from a battery or the network, " (doubt) "; " code { "pilotwire status" } " and the page say so." }
                li { "A hold that was asked for lasts over a cut for the rest of its time." }
            }
            @if !desktop.is_empty() {
                li { "If " (desktop.join(" or ")) " shut itself down after an overload it stays off until its remote-on line was open for 0.1 s, or its mains was off for a minute." }
            }
        }
    }
}

pub(super) fn control(sheet: &Sheet<'_>) -> Markup {
    let site = sheet.site;
    let driven: Vec<&str> = site
        .outputs
        .iter()
        .map(|output| site[output.zone].name.as_str())
        .collect();
    let rows: Vec<Vec<Markup>> = site
        .supplies
        .iter()
        .map(|supply| {
            let zones: Vec<&str> = site
                .zones
                .iter()
                .filter(|zone| site[zone.supply].name == supply.name)
                .map(|zone| zone.name.as_str())
                .collect();
            vec![cell(&supply.name), cell(zones.join(", ")), blank(), blank()]
        })
        .collect();
    html! {
        h3 { "Light now, dark now" }
        ul {
            @if driven.is_empty() {
                li { "No board switches this yard: use the timers of the timed zones." }
            } @else {
                @for zone in &driven {
                    li { code { "pilotwire force " (zone) " on --for 2h" } ", " code { "pilotwire force " (zone) " off --for 2h" } ", " code { "pilotwire release " (zone) } }
                }
                @if let Some(listen) = &site.daemon.listen {
                    li { "Or on the page of the board, at port " (listen.port()) "." }
                }
                li { "A hold ends by itself." }
            }
            @for link in &site.links {
                li { "Without anything: " (site[link.slave].name) " goes dark when its pair is pulled off at the relay box, and goes with " (site[link.master].name) " again when it is back." }
            }
        }
        h3 { "Everything off" }
        ol {
            @if !driven.is_empty() { li { code { "systemctl stop pilotwire" } ": all its lines go dark and stay so." } }
            li { "Unplug or switch off the mains of every supply, the far ones first:" }
        }
        (table("Supplies and their outlets", &["supply", "feeds", "outlet, and where it is switched off", "protection tested on"], &rows))
        p { "Wait a minute, then see with the meter that TP1 and TP6 are at 0 before anything is taken apart. Never open a supply: it keeps a charge at the level of the mains." }
    }
}

/// A date so many months on.
fn after(made: NaiveDate, months: u32) -> String {
    made.checked_add_months(Months::new(months))
        .map_or_else(|| "·".into(), |date| date.format("%Y-%m").to_string())
}

pub(super) fn maintenance(sheet: &Sheet<'_>) -> Markup {
    let made = sheet.made;
    let ripples = sheet
        .points
        .iter()
        .filter(|point| point.name == "TP3 AC")
        .filter_map(|point| point.expected.typical);
    // The greatest ripple is the one that a dried capacitor doubles first.
    let ripple_v = ripples.fold(f64::NAN, f64::max);
    let ripple = if ripple_v.is_nan() {
        "no link".to_owned()
    } else {
        format!(
            "TP3 on AC twice what it was ({} V now at most): the capacitor has half its value",
            value(ripple_v, Meter::AcVolts)
        )
    };
    let row = |due: String, what: &str, compare: &str| {
        vec![cell(due), cell(what), cell(compare), blank()]
    };
    let rows = [
        row(
            after(made, 1),
            "all lamps; TP3 and TP8; the box on a warm evening",
            "the commissioning sheet",
        ),
        row(
            "every 3 months".into(),
            "test button of the outlet's RCD or GFCI, or as local rules say",
            "it trips",
        ),
        row(
            format!("every autumn, from {}", after(made, 12)),
            "TP1 to TP11; fan inlet, insects, lid gasket; plants; cables that have come up",
            "TP3 within 5 %, TP8 within 0.3 V of the commissioning sheet",
        ),
        row(
            after(made, 36),
            "press on every splice",
            "none moves TP2 by more than 0.2 V",
        ),
        row(
            after(made, 60),
            "relay and capacitor of every link",
            &ripple,
        ),
        row(
            format!("{} to {}", after(made, 84), after(made, 120)),
            "replace capacitors and relays on principle; fans; desktop-PC supplies",
            "life halves for every 10 K (rule of the trade)",
        ),
    ];
    html! {
        (table("Maintenance calendar", &["due", "what", "compare with", "done on, by"], &rows))
        ul {
            li { "A filament at 5 % too many volts lasts about half as long; 10 % too few, four times as long, at 70 % of the light (lamp rerating, exponents 13 and 3.4)." }
            li { "Date every lamp, relay and capacitor when it goes in; keep a relay, a capacitor, fuses and one lamp in ten." }
        }
    }
}
