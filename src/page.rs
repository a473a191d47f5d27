//! The page: the yard at a glance, for a person who stands in the wet with a phone.
//!
//! Plain functions from what is seen to markup. It reads without a script; one small script keeps it
//! live and sends what its buttons say. Every meaning is in a word, a shape says it again, and colour only
//! repeats.

use chrono::{DateTime, Utc};
use maud::{DOCTYPE, Markup, html};

use crate::daemon::controller::Rule;
use crate::daemon::engine::seen::{LinkSeen, Seen};
use crate::daemon::engine::status::{Checked, ZoneStatus};
use crate::daemon::store::{Event, Kind};
use crate::daemon::watch::Condition;
use crate::schedule::clock;

mod readings;
mod timeline;

pub use readings::form;

/// Its style sheet.
pub const STYLE: &str = include_str!("page/page.css");

/// Its script.
pub const SCRIPT: &str = include_str!("page/page.js");

/// The script of the form that takes readings.
pub const FORM_SCRIPT: &str = include_str!("page/readings.js");

/// Which page somebody is on.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Here {
    Yard,
    Readings,
}

/// The way from one page to the other.
fn nav(here: Here) -> Markup {
    let current = |page: Here| (here == page).then_some("page");
    html! {
        nav aria-label="Pages" {
            a href="/" aria-current=[current(Here::Yard)] { "Yard" }
            a href="/readings" aria-current=[current(Here::Readings)] { "Readings" }
        }
    }
}

/// The whole page.
pub fn page(seen: &Seen) -> String {
    frame(
        &title(seen),
        Some("/page.js"),
        &html! {
            (nav(Here::Yard))
            main id="yard" { (yard(seen)) }
            p #link .quiet role="status" aria-live="polite" { }
            noscript { p .quiet { "Without its script this page shows the yard as it was when it was loaded. Reload it to look again; to force a zone, use " code { "pilotwire force" } " on the board." } }
        },
    )
    .into_string()
}

/// What stands on its tab.
pub fn title(seen: &Seen) -> String {
    format!("{} · {}", headline(seen).0, seen.status.site)
}

/// The page that asks for the password.
pub fn sign_in(wrong: bool) -> String {
    frame(
        "pilotwire",
        None,
        &html! {
            main {
                h1 { "Sign in" }
                @if wrong { p .bad role="alert" { "Wrong password." } }
                form method="post" action="/sign-in" {
                    label for="password" { "Password" }
                    input #password name="password" type="password" autocomplete="current-password" required;
                    button { "Sign in" }
                }
                p .quiet { "The password is in the file that the site file names as " code { "page_token" } "." }
            }
        },
    )
    .into_string()
}

fn frame(title: &str, script: Option<&str>, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width,initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) }
                link rel="stylesheet" href="/page.css";
                link rel="icon" href="data:,";
                @if let Some(script) = script { script src=(script) defer { } }
            }
            body { (body) }
        }
    }
}

/// One or two words, and whether that is fine.
fn headline(seen: &Seen) -> (String, bool) {
    match seen.status.alarms.len() {
        0 if seen.readings.off => ("Readings are off".into(), false),
        0 => ("All as it should be".into(), true),
        1 => ("1 alarm".into(), false),
        count => (format!("{count} alarms"), false),
    }
}

/// What the script puts anew whenever something happens.
pub fn yard(seen: &Seen) -> Markup {
    let status = &seen.status;
    let (headline, fine) = headline(seen);
    let at = clock(&seen.timezone, status.at);
    html! {
        header {
            p .site { (status.site) }
            h1 class=[(!fine).then_some("bad")] { (shape(if fine { Shape::Fine } else { Shape::Fault })) (headline) }
            @if !status.alarms.is_empty() {
                ul .alarms { @for alarm in &status.alarms { li { (alarm) } } }
            }
            // What the board does not see, somebody with a meter has.
            @if seen.readings.off {
                p .bad { (shape(Shape::Fault)) a href="/readings" { "Readings" } ": " (seen.readings.in_short()) "." }
            }
            @if let Some(warns) = status.check.as_ref().and_then(Checked::warns) { p .quiet { "Check: " (warns) "." } }
            p .quiet {
                "Looked at " (at) "; the board's clock is " (status.clock) "."
                @if let Some(next) = &status.next {
                    " Next: " (next.zone) " " (next.what()) " at " (when(seen, next.at)) "."
                }
            }
        }
        section aria-labelledby="zones" {
            h2 #zones { "Now" }
            @if seen.driven.len() > 1 {
                (act(None, "900", status.zones.iter().any(|zone| zone.held.is_some())))
            }
            @for zone in &status.zones { (zone_now(seen, zone)) }
        }
        section aria-labelledby="tonight" {
            h2 #tonight { (if seen.tonight.is_over(status.at) { "Last night" } else { "Tonight" }) }
            (timeline::picture(seen))
            ul .plan {
                @for (zone, stretches) in status.zones.iter().zip(&seen.tonight.zones) {
                    @for lit in stretches {
                        li { b { (zone.zone) } " " (clock(&seen.timezone, lit.from)) " to " (clock(&seen.timezone, lit.until))
                             span .quiet { " on: " (lit.why_on) "; off: " (lit.why_off) } }
                    }
                    @if stretches.is_empty() { li { b { (zone.zone) } " dark" } }
                }
            }
        }
        @if !seen.links.is_empty() {
            section aria-labelledby="links" {
                h2 #links { "Links" }
                @for link in &seen.links { (link_now(link)) }
            }
        }
        section aria-labelledby="past" {
            h2 #past { "What happened" }
            @if seen.recent.is_empty() { p { "Nothing yet." } }
            ol .past { @for event in &seen.recent { (happened(seen, event)) } }
        }
        footer .quiet { "pilotwire " (status.version) ", running since " (clock(&seen.timezone, status.since)) ". An aid for extra-low-voltage wiring; mains and anything at water are for licensed people." }
    }
}

/// What says again what the word beside it says.
#[derive(Clone, Copy)]
enum Shape {
    /// A full disc.
    Lit,
    /// An open one.
    Dark,
    /// A tick.
    Fine,
    /// A lozenge.
    Unknown,
    /// A triangle.
    Fault,
}

impl From<Condition> for Shape {
    fn from(condition: Condition) -> Self {
        match condition {
            Condition::Lit => Self::Lit,
            Condition::Dark => Self::Dark,
            Condition::Unknown => Self::Unknown,
            Condition::Late
            | Condition::DoesNotFollow
            | Condition::DoesNotRelease
            | Condition::LitByDay => Self::Fault,
        }
    }
}

fn shape(of: Shape) -> Markup {
    html! {
        svg .shape viewBox="0 0 16 16" aria-hidden="true" {
            @match of {
                Shape::Lit => circle cx="8" cy="8" r="6.5" class="full" { },
                Shape::Dark => circle cx="8" cy="8" r="6" class="open" { },
                Shape::Fine => path d="M2 8.5l4 4 8-9" class="line" { },
                Shape::Unknown => path d="M8 1.5l6.5 6.5L8 14.5 1.5 8z" class="open" { },
                Shape::Fault => path d="M8 1.5L15 14.5H1z" class="warn" { },
            }
        }
    }
}

fn zone_now(seen: &Seen, zone: &ZoneStatus) -> Markup {
    let names_master = zone.rule == Some(Rule::Master);
    html! {
        article class="zone" aria-label=(zone.zone) {
            h3 { (shape(zone.condition.into())) span .name { (zone.zone) } " " span .word { (zone.condition) (zone.known.said_behind()) } }
            p {
                (zone.why)
                @if let Some(waits) = &zone.waits { "; waits: " (waits) }
            }
            p .quiet {
                @if let Some(master) = zone.follows.as_ref().filter(|_| !names_master) { "Follows " (master) ". " }
                @if let Some(since) = zone.since { "Since " (when(seen, since)) ". " }
                @if let Some(next) = zone.next_change() {
                    b { (if next.lit { "On" } else { "Off" }) " at " (when(seen, next.at)) } ". "
                }
                @if zone.known.by_the_board() { "Lit " (format!("{:.0}", zone.lit_h)) " h in all." }
            }
            // Where somebody stands before a dark zone, what to do next.
            @if zone.condition.is_fault() && zone.condition != Condition::Unknown && zone.follows.is_some() {
                p { a href={ "/readings#" (zone.zone) ".sheet" } { "Measure it" } }
            }
            @match to_light(seen, zone) {
                None => {},
                Some(ToLight::Hold(head)) => p .quiet { "To light it, hold " (head) "." },
                Some(ToLight::Never(slave)) => p .quiet { "No hold lights it: the relay of " (slave) " does not pull in." },
            }
            @if seen.driven.contains(&zone.zone) { (act(Some(&zone.zone), "3600", zone.held.is_some())) }
        }
    }
}

/// For how long a zone is held.
const TIMES: [(&str, &str); 4] = [
    ("900", "for 15 min"),
    ("3600", "for 1 h"),
    ("14400", "for 4 h"),
    ("next", "until the plan next switches it"),
];

/// The buttons that force a zone, or all of them.
fn act(zone: Option<&str>, first: &str, held: bool) -> Markup {
    html! {
        div .act role="group" aria-label={ "Force " (zone.unwrap_or("all zones")) } data-zone=[zone] data-all[zone.is_none()] {
            @if zone.is_none() { b { "All zones" } }
            label { "Hold "
                select {
                    @for (value, text) in TIMES { option value=(value) selected[value == first] { (text) } }
                }
            }
            button type="button" data-do="on" { "On" }
            button type="button" data-do="off" { "Off" }
            @if held { button type="button" data-do="release" { "Release" } }
        }
    }
}

/// `23:19 CST`, with the day of the week where it is not today.
fn when(seen: &Seen, at: DateTime<Utc>) -> String {
    let zone = &seen.timezone;
    let (local, now) = (zone.to_local(at), zone.to_local(seen.status.at));
    if local.date() == now.date() {
        clock(zone, at)
    } else {
        format!("{} {}", local.format("%a"), clock(zone, at))
    }
}

/// How a zone is lit that cannot be held itself, or not to any use.
enum ToLight<'a> {
    /// By holding the nearest up its chain that can be held.
    Hold(&'a str),
    /// Not at all: the relay of this one stays out.
    Never(&'a str),
}

fn to_light<'a>(seen: &'a Seen, zone: &'a ZoneStatus) -> Option<ToLight<'a>> {
    let of = |name: &str| seen.status.zones.iter().find(|zone| zone.zone == name);
    let chain = std::iter::successors(Some(zone.zone.as_str()), |name| {
        of(name)?.follows.as_deref()
    });
    // A chain is no longer than the yard.
    for (index, name) in chain.take(seen.status.zones.len()).enumerate() {
        let mut links = seen.links.iter();
        if links.any(|link| link.slave == name && link.stays_dark) {
            return Some(ToLight::Never(name));
        }
        if seen.driven.iter().any(|driven| driven == name) {
            return (index > 0).then_some(ToLight::Hold(name));
        }
    }
    None
}

fn link_now(link: &LinkSeen) -> Markup {
    let is = |lit: Option<bool>| match lit {
        Some(true) => "lit",
        Some(false) => "dark",
        None => "unknown",
    };
    html! {
        article .link {
            h3 { (shape(link.condition.into())) span .name { (link.link) } " " span .word { (link.condition) @if link.condition != Condition::Unknown { (link.known.said_behind()) } } }
            p { "master " (is(link.master)) ", slave " (is(link.sensed)) @if link.sensed.is_none() { (if link.has_input { " (its input cannot be read)" } else { " (no input)" }) } }
            p .quiet { (link.predicted.as_deref().unwrap_or("not worked out yet")) }
        }
    }
}

fn happened(seen: &Seen, event: &Event) -> Markup {
    let zone = &seen.timezone;
    let local = zone.to_local(event.at).format("%a %H:%M:%S").to_string();
    html! {
        li class=[(event.kind == Kind::Fault).then_some("bad")] {
            time datetime=(event.at.to_rfc3339()) { (local) } " "
            @if event.kind == Kind::Fault { (shape(Shape::Fault)) }
            @if let Some(zone) = &event.zone { b { (zone) } " " }
            (event.what) span .quiet { " " (event.why) }
        }
    }
}
