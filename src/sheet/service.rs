//! For the people who live with it: power cuts, forcing, shutting down, maintenance.

use maud::{Markup, html};

use crate::chain::{self, Course, LitZones, Outage, wiring};
use crate::link::Aspect;
use crate::site::{OnDoubtfulClock, Site, SupplyKind, Switching, ZoneId};

use super::{Sheet, blank, cell, table};

fn named(site: &Site, zones: impl IntoIterator<Item = ZoneId>) -> String {
    let names: Vec<&str> = zones
        .into_iter()
        .map(|zone| site[zone].name.as_str())
        .collect();
    names.join(", ")
}

/// So many zones are named one by one, whatever the rest does.
const FEW: usize = 4;

fn lit(site: &Site, zones: &LitZones) -> String {
    if zones.0.is_empty() {
        "all dark".into()
    } else if zones.0.len() == site.zones.len() {
        "all lit".into()
    } else if 2 * zones.0.len() > site.zones.len() && zones.0.len() > FEW {
        let dark = (0..site.zones.len()).map(ZoneId);
        let dark = dark.filter(|zone| !zones.0.contains(zone));
        format!("lit: all but {}", named(site, dark))
    } else {
        format!("lit: {}", named(site, zones.0.iter().copied()))
    }
}

fn zones(site: &Site) -> impl Iterator<Item = ZoneId> {
    (0..site.zones.len()).map(ZoneId)
}

/// Timed zones that no board switches.
fn timers(site: &Site) -> Vec<ZoneId> {
    zones(site)
        .filter(|zone| chain::is_timer(site, *zone))
        .collect()
}

/// `the timer of porch`.
fn timers_said(site: &Site, timers: &[ZoneId]) -> String {
    let plural = if timers.len() == 1 { "" } else { "s" };
    format!(
        "the timer{plural} of {}",
        named(site, timers.iter().copied())
    )
}

/// What fails, in words.
fn failed(site: &Site, outage: Outage) -> String {
    match outage {
        Outage::Supply(supply) => {
            let on_it = zones(site).filter(|zone| site[*zone].supply == supply);
            format!(
                "mains of supply {} ({})",
                site[supply].name,
                named(site, on_it)
            )
        }
        Outage::All => "mains of the whole yard".into(),
        Outage::Board => "the board".into(),
        Outage::Timers => timers_said(site, &timers(site)),
    }
}

/// `15 min`, `90 s`.
fn wait(seconds: f64) -> String {
    if seconds < 120.0 {
        format!("{seconds:.0} s")
    } else {
        format!("{:.0} min", seconds / 60.0)
    }
}

/// Timers that are likely to lose their time in an outage: an outlet of the yard feeds them.
fn lost_timers(site: &Site, outage: Outage) -> Vec<ZoneId> {
    let mut timers = timers(site);
    match outage {
        Outage::Supply(supply) => timers.retain(|zone| site[*zone].supply == supply),
        Outage::All => {}
        Outage::Board | Outage::Timers => timers.clear(),
    }
    timers
}

/// What is lit when it is back, for timers that keep their time and those that do not.
fn back(site: &Site, lit: &str, lost: &[ZoneId]) -> Markup {
    if lost.is_empty() {
        return cell(lit);
    }
    html! {
        "photocell, or timer with a battery: " (lit) "; without: " (named(site, lost.iter().copied()))
        " at wrong hours until set"
        @if zones(site).any(|zone| site.master_of(zone).is_some_and(|master| lost.contains(&master))) { ", and what follows" }
    }
}

/// Links whose relay, its coil warm, may not pull in again at low mains with parts at their worst.
fn hot_restarts(sheet: &Sheet<'_>) -> Vec<ZoneId> {
    let links = sheet.site.links.iter().zip(&sheet.check.links);
    links
        // Of one that may not pull in at dusk more is said elsewhere.
        .filter(|(_, judgement)| {
            let left = |aspect| judgement.judged.margin(aspect).fraction;
            left(Aspect::HotRestart) < 0.0 && left(Aspect::Dusk) >= 0.0
        })
        .map(|(link, _)| link.slave)
        .collect()
}

/// Zones that are lit again only if a relay pulls in which may not while its coil is warm.
fn not_surely(site: &Site, course: &Course, hot: &[ZoneId]) -> Vec<ZoneId> {
    let let_go = |zone: ZoneId| {
        hot.contains(&zone)
            && site
                .master_of(zone)
                .is_some_and(|master| !course.meanwhile.0.contains(&master))
    };
    let above = |zone| std::iter::successors(Some(zone), |zone| site.master_of(*zone));
    let again = course.after.0.iter().copied();
    again
        .filter(|zone| course.before.0.contains(zone) && above(*zone).any(let_go))
        .collect()
}

fn course_row(site: &Site, course: &Course, hot: &[ZoneId]) -> Vec<Markup> {
    let unsure = not_surely(site, course, hot);
    let waited = course.waited.iter().map(|(seconds, zones)| {
        format!(
            "after {} without its master, by plan: {}",
            wait(*seconds),
            lit(site, zones)
        )
    });
    let meanwhile: Vec<String> = [lit(site, &course.meanwhile)]
        .into_iter()
        .chain(waited)
        .collect();
    vec![
        cell(failed(site, course.outage)),
        cell(if course.by_night {
            "by night"
        } else {
            "by day"
        }),
        cell(lit(site, &course.before)),
        cell(meanwhile.join("; ")),
        html! {
            (back(site, &lit(site, &course.after), &lost_timers(site, course.outage)))
            @if !unsure.is_empty() { "; on a hot evening " (named(site, unsure)) " not surely (S20)" }
        },
    ]
}

/// Zones that go with others on their supply, which the table above counts with (S51).
fn shared_supplies(sheet: &Sheet<'_>) -> Vec<String> {
    let site = sheet.site;
    let wiring = wiring(site, &sheet.check.links);
    let shared = zones(site).zip(&wiring).filter_map(|(zone, wired)| {
        let name = &site[zone].name;
        let supply = &site[wired.supply].name;
        let wakers = &wired.wakers;
        if !wired.wakes {
            let lit = if wakers.len() == 1 { "is" } else { "one of them is" };
            return (!wakers.is_empty()).then(|| {
                format!(
                    "{name} is lit only while {} {lit}, whatever its own times say: supply {supply} sleeps without it (S51).",
                    named(site, wakers.iter().copied())
                )
            });
        }
        // Each pair once.
        let before = wakers.iter().find(|waker| **waker < zone)?;
        Some(format!(
            "{} and {name} are lit while either is: each wakes supply {supply} (S51).",
            site[*before].name
        ))
    });
    shared.collect()
}

fn outages_of(sheet: &Sheet<'_>) -> Vec<Vec<Markup>> {
    let site = sheet.site;
    let courses = chain::outages(site, &wiring(site, &sheet.check.links));
    let (nights, days): (Vec<Course>, Vec<Course>) =
        courses.into_iter().partition(|course| course.by_night);
    let dark = |zones: &LitZones| zones.0.is_empty();
    let hot = hot_restarts(sheet);
    let mut rows: Vec<Vec<Markup>> = nights
        .iter()
        .map(|course| course_row(site, course, &hot))
        .collect();
    if days
        .iter()
        .all(|day| dark(&day.before) && dark(&day.meanwhile) && dark(&day.after))
    {
        rows.push(vec![
            cell("any of them"),
            cell("by day"),
            cell("all dark"),
            cell("all dark"),
            back(
                site,
                "all dark, nothing that was missed is made up for",
                &timers(site),
            ),
        ]);
    } else {
        rows.extend(days.iter().map(|course| course_row(site, course, &hot)));
    }
    rows
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
    let unstated: Vec<ZoneId> = site
        .outputs
        .iter()
        .filter(|output| output.dark_at_reset.is_none())
        .map(|output| output.zone)
        .collect();
    let timers = timers(site);
    let hot = hot_restarts(sheet);
    html! {
        (table("What is lit when the power fails, and when it is back", &["what fails", "when", "before", "meanwhile", "when it is back"], &outages_of(sheet)))
        ul {
            @if !hot.is_empty() {
                li { "After a blip on a hot evening, at low mains, the relay of " (named(site, hot)) " may stay out: a warm coil needs more than at dusk (S20). Switch its master off until the coil has cooled, half an hour as a rule, then on again." }
            }
            @if !timers.is_empty() {
                li { (if site.outputs.is_empty() { "No board switches this yard" } else { "The board does not switch every timed zone" }) ": a plug-in timer without a battery loses its time in a cut, and switches at wrong hours until it is set. Kind and outlet of " (timers_said(site, &timers)) ": " (blank()) }
            }
            @if !site.outputs.is_empty() {
                li { "Which supply feeds the board is not in the site file. If the board hangs on one of these supplies, it fails with it: then both rows hold. It hangs on: " (blank()) }
                @if !unstated.is_empty() {
                    li { "What the lines of " (named(site, unstated)) " do while the board is dead is not stated; the table takes them for dark." }
                }
                li { "A board that comes back looks at its clock and makes every line what the plan says for that moment; zones go on " (format!("{:.0}", site.daemon.stagger_s)) " s after one another." }
                li { "Until its clock is known to be right, from a battery or the network, " (doubt) "; " code { "pilotwire status" } " and the page say so." }
                li { "A hold that was asked for lasts over a cut for the rest of its time." }
            }
            @for said in shared_supplies(sheet) { li { (said) } }
            @if !desktop.is_empty() {
                li { "If " (desktop.join(" or ")) " shut itself down after an overload it stays off until its remote-on line was open for 0.1 s, or its mains was off for a minute." }
            }
        }
    }
}

pub(super) fn control(sheet: &Sheet<'_>) -> Markup {
    let site = sheet.site;
    let driven: Vec<ZoneId> = site.outputs.iter().map(|output| output.zone).collect();
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
    let desktop = site
        .supplies
        .iter()
        .any(|supply| supply.kind == SupplyKind::DesktopPc);
    html! {
        h3 { "Light now, dark now" }
        ul {
            @if driven.is_empty() {
                li { "No board switches this yard: use the timers of the timed zones." }
            } @else {
                @for (zone, id) in driven.iter().map(|id| (&site[*id].name, *id)) {
                    li { code { "pilotwire force " (zone) " on --for 2h" } ", " code { "pilotwire force " (zone) " off --for 2h" } ", " code { "pilotwire release " (zone) }
                        @if let Some(link) = site.link_to(id) {
                            ". It follows " (site[link.master].name) " over its pair as well: on helps only while that is lit"
                        }
                        "."
                    }
                }
                @if let Some(listen) = &site.daemon.listen {
                    li { "Or on the page of the board, at port " (listen.port()) "." }
                }
                li { "A hold ends by itself." }
                @for zone in site.zones_in_order() {
                    @if matches!(site[zone].switching, Switching::Timed(_)) && site.output_of(zone).is_none() {
                        li { (site[zone].name) " is not switched by the board: use its own timer or photocell." }
                    }
                }
            }
            @for link in &site.links {
                li { "By hand: take the fuse of the pair to " (site[link.slave].name) " out where it is tapped from " (site[link.master].name)
                    ". " (site[link.slave].name) " goes dark, and every zone that follows it; put back, it follows again." }
            }
        }
        h3 { "Everything off" }
        ol {
            @if !driven.is_empty() {
                li { code { "systemctl stop pilotwire" } ": the board lets all its lines go, and its drivers are off if they are wired so that nothing lights while a line is not driven. The next start of the board brings it back." }
            }
            li { "Unplug every supply, also those whose zones are dark: a desktop-PC supply is live whenever it is plugged in. Tag the plugs, so that nobody puts them back." }
            li { "Wait some minutes. Then see with the meter that nothing is left: "
                @if desktop { "TP9 of every desktop-PC supply, then " }
                "TP1 or TP6 of every zone. Dark lamps prove nothing: at noon they are dark with everything plugged in."
            }
        }
        (table("Supplies and their outlets", &["supply", "feeds", "outlet, and where it is switched off", "protection tested on"], &rows))
        p { "Never open a supply: it keeps a charge at the level of the mains." }
    }
}

/// The month of the yearly look: autumn, before the long nights.
fn autumn(site: &Site) -> &'static str {
    if site.place.latitude_deg() < 0.0 {
        "April"
    } else {
        "October"
    }
}

/// When what is due counts from the day the yard was built and from months of the calendar. No site file has that
/// day, and the day of the print will not do: a sheet is printed again whenever the file changes, and each print would
/// put everything off.
pub(super) fn maintenance(sheet: &Sheet<'_>) -> Markup {
    let site = sheet.site;
    let autumn = autumn(site);
    let years = |count: u32| format!("{autumn}, {count} years after it was built");
    let capacitors = |fed_with_ac: bool| {
        let links = site.links.iter().filter(|link| link.capacitor.is_some());
        let links = links.filter(|link| site.feeding(link).is_ac() == fed_with_ac);
        links
            .map(|link| site[link.slave].name.as_str())
            .collect::<Vec<_>>()
            .join(", ")
    };
    let mut rows = Vec::new();
    let mut row = |due: String, what: &str, compare: &str| {
        rows.push(vec![cell(due), cell(what), cell(compare), blank()]);
    };
    let linked = !site.links.is_empty();
    row(
        "a month after it was built".into(),
        if linked {
            "all lamps; TP3 and TP8 again; the box on the next warm evening"
        } else {
            "all lamps; TP8 again"
        },
        "the commissioning sheet",
    );
    row(
        "every 3 months".into(),
        "test button of the outlet's RCD or GFCI, or as local rules say",
        "it trips",
    );
    row(
        format!("every year in {autumn}"),
        "every point of the commissioning sheet; fan inlet, insects, lid gasket; plants; cables that have come up",
        if linked {
            "TP3 within 5 %, TP8 within 0.3 V of the commissioning sheet"
        } else {
            "TP8 within 0.3 V of the commissioning sheet"
        },
    );
    if linked {
        row(
            years(3),
            "where TP2 has moved by more than 0.2 V: the splices of that pair",
            "TP2 moves when a splice is pressed: make that splice again",
        );
        row(
            years(5),
            "relay of every link: TP4, on and off ten times",
            "below 1 ohm every time it is on",
        );
    }
    let (with_ac, with_dc) = (capacitors(true), capacitors(false));
    if !with_ac.is_empty() {
        row(
            years(5),
            &format!("capacitor of {with_ac}"),
            "TP3 on AC twice what it was: half its value is left, replace it",
        );
    }
    if !with_dc.is_empty() {
        row(
            years(5),
            &format!("capacitor of {with_dc}, whose pair carries DC"),
            "no ripple tells its age: measure its value off the circuit, or replace it",
        );
    }
    row(
        "7 to 10 years after it was built".into(),
        if linked {
            "capacitors, relays, fans, desktop-PC supplies: replace them, also those that still work"
        } else {
            "fans, desktop-PC supplies, relays of driver boards: replace them, also those that still work"
        },
        "life halves for every 10 K (rule of the trade)",
    );
    html! {
        p { "Built in (month and year): " (blank()) }
        (table("Maintenance calendar", &["due", "what", "compare with", "done on, by"], &rows))
        ul {
            li { "A filament at 5 % too many volts lasts about half as long; 10 % too few, four times as long, at 70 % of the light (lamp rerating, exponents 13 and 3.4)." }
            li { "Date every lamp, relay and capacitor when it goes in." }
        }
    }
}
