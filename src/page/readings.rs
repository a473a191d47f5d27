//! The commissioning sheet as a form: where to measure, what a meter should show, what it showed.
//!
//! It has its own address, because the page's live news replace the yard: over a half-filled form that is
//! either a loss of what was typed, or a script that knows every field.

use maud::{Markup, html};

use crate::commissioning::Found;
use crate::daemon::engine::seen::Seen;
use crate::daemon::readings::{PointReading, ZoneReadings};
use crate::report::readings::{dates, expected, fits, reading, then};

use super::{Here, Shape, frame, nav, shape};

/// The form.
pub fn form(seen: &Seen) -> String {
    let readings = &seen.readings;
    let measured = readings.zones.iter().any(|zone| zone.measured() > 0);
    let how = match (measured, readings.off) {
        (false, _) => Shape::Unknown,
        (true, false) => Shape::Fine,
        (true, true) => Shape::Fault,
    };
    frame(
        &format!("Readings · {}", readings.site),
        Some("/readings.js"),
        &html! {
            (nav(Here::Readings))
            main .sheets {
                header {
                    p .site { (readings.site) }
                    h1 { "Readings" }
                    p #answer data-fresh { (shape(how)) (readings.in_short()) "." }
                }
                section aria-labelledby="before" {
                    h2 #before { "Before you measure" }
                    ul .cautions {
                        li { "Switch mains off and unplug before a cover over mains terminals comes off. What is under it is for licensed people." }
                        li { "Every point below is extra-low voltage. A meter that shows more than 50 V says that mains is where it should not be: stop." }
                        li { "Ohms and megohms only while the yard is as the point says: unplugged, or disconnected at both ends. An insulation tester kills what is still connected." }
                        li { "This is an aid, not an approval. Local code and licensed people decide; anything at water is theirs." }
                    }
                    p .quiet { "Measure the supply first (TP1 or TP6), and all of a zone in one go: the rest is judged by what the supply gives that day. A comma does as well as a point; OL is above the meter's range." }
                }
                noscript { p { "Without its script this page only shows. To keep readings, on the board: " code { "pilotwire measured ZONE \"TP3 DC=14.7\" TP2=12.3" } "." } }
                @if readings.comes { p { "Reload this page in a moment." } }
                @for zone in &readings.zones { @if !zone.points.is_empty() { (sheet(seen, zone)) } }
            }
        },
    )
    .into_string()
}

fn sheet(seen: &Seen, zone: &ZoneReadings) -> Markup {
    let name = &zone.zone;
    let heading = format!("{name}.sheet");
    html! {
        section aria-labelledby=(heading) {
            h2 id=(heading) { (name) @if let Some(link) = &zone.link { span .quiet { " " (link.link) } } }
            @if let Some(first) = &zone.first { p .bad { (shape(Shape::Fault)) (first) } }
            div id={ (name) ".fits" } data-fresh {
                @if let Some(link) = &zone.link {
                    @for (index, line) in fits(&seen.timezone, link).iter().enumerate() {
                        p class=[(index > 0).then_some("quiet")] {
                            @if index == 0 { (shape(if link.said().is_some() { Shape::Fault } else { Shape::Fine })) }
                            (line)
                        }
                    }
                }
            }
            form .sheet data-zone=(name) novalidate {
                ul .points { @for point in &zone.points { (point_of(seen, zone, point)) } }
                div .act {
                    button disabled { "Keep readings of " (name) }
                    p .result role="status" { }
                }
            }
        }
    }
}

fn point_of(seen: &Seen, zone: &ZoneReadings, point: &PointReading) -> Markup {
    let id = format!("{}.{}", zone.zone, point.name.replace(' ', "-"));
    let ohms = point.unit.contains('Ω');
    html! {
        li {
            label for=(id) { b { (point.name) } " " (point.at) }
            p id={ (id) ".how" } .quiet {
                "Meter on " b { (point.unit) } ", yard: " b { (point.state) } ". Expected: " b { (expected(point)) } "."
                @if let Some(says) = &point.says { " " (says) "." }
            }
            div .take {
                input id=(id) name=(point.name) type="text" inputmode="decimal" autocomplete="off" size="8" maxlength="20"
                    aria-describedby={ (id) ".how " (id) ".wrong" };
                span aria-hidden="true" { (point.unit) }
                @if ohms { button type="button" data-for=(id) aria-label={ "OL at " (point.name) } { "OL" } }
            }
            p id={ (id) ".wrong" } .bad { }
            div id={ (id) ".was" } data-fresh { (was(seen, point)) }
        }
    }
}

/// What was read there, and how that is.
fn was(seen: &Seen, point: &PointReading) -> Markup {
    let (Some(last), Some(found)) = (&point.last, point.found) else {
        return html! { p .quiet { (shape(Shape::Unknown)) "not measured yet" } };
    };
    let fine = found == Found::Within;
    let bad = matches!(found, Found::Low | Found::High);
    html! {
        p class=[bad.then_some("bad")] {
            (shape(if fine { Shape::Fine } else if bad { Shape::Fault } else { Shape::Unknown }))
            b { (found) } ": " (reading(last, &point.unit)) " on " (dates(&seen.timezone, point))
        }
        @if let Some(then) = then(point) { p .quiet { "Right then: " (then) } }
        @if bad { p .quiet { (point.wrong) } }
        @if found == Found::Kept { p .quiet { "Not judged: what it should be is not known beforehand. Compare later ones with it." } }
        @if found == Found::Unsure { p .quiet { "Read its supply again, and this in one go with it." } }
    }
}
