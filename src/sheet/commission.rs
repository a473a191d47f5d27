//! For the person who measures it: test points with an empty column.

use maud::{Markup, html};

use crate::commissioning::{Expected, Meter, Point};
use crate::site::ZoneId;

use super::{Sheet, blank, cell, form, table};
use crate::report::readings::should_show;
use crate::text::volts;

/// What a meter should show, and what there is to say besides.
fn expected(expected: &Expected, meter: Meter) -> String {
    let band = [expected.least, expected.most];
    let known = expected.typical.is_some() || band.iter().any(Option::is_some);
    let numbers = known.then(|| should_show(expected.typical, band, meter.name()));
    let said = [numbers, expected.says.clone()];
    said.into_iter().flatten().collect::<Vec<_>>().join("; ")
}

fn row(point: &Point) -> Vec<Markup> {
    let moves = point
        .expected
        .with
        .as_ref()
        .filter(|with| with.per_volt.abs() > 0.05);
    vec![
        cell(&point.name),
        html! { (point.at) ", " span .state { (point.state) } },
        cell(point.meter.name()),
        html! {
            b { (expected(&point.expected, point.meter)) }
            @if let Some(with) = moves {
                span .moves { " when " (with.of) " shows " (volts(with.there_v)) " V; "
                    (format!("{:.1}", with.per_volt.abs())) " V " (if with.per_volt < 0.0 { "less" } else { "more" })
                    " here for each volt more there" }
            }
        },
        blank(),
        cell(&point.wrong),
    ]
}

/// Before anything is buried: this very relay, behind as many ohms as the pair will have.
fn bench(sheet: &Sheet<'_>) -> Markup {
    let site = sheet.site;
    let rows: Vec<Vec<Markup>> = site
        .links
        .iter()
        .zip(&sheet.check.links)
        .map(|(link, judgement)| {
            let relay = &link.relay;
            vec![
                cell(format!("{} of {}", relay.name, site[link.slave].name)),
                cell(format!("{:.0} ohm", judgement.ordinary().loop_ohm)),
                cell(format!(
                    "in at {} V at most, out at {} V at least",
                    volts(relay.operate_v),
                    volts(relay.release_v)
                )),
                blank(),
                blank(),
                blank(),
            ]
        })
        .collect();
    html! {
        (table("On the bench, before anything is buried", &["relay", "behind", "coil at 20 °C", "pulled in at", "let go at", "warmed, pulled in at"], &rows))
        @if !rows.is_empty() {
            p .quiet { "From a variable supply through a resistor in place of the pair, with rectifier and capacitor; warm the relay with a hair dryer for the last column. Volts across the coil. What you measured may take the place of " code { "operate_voltage" } " and " code { "release_voltage" } " in the site file." }
        }
    }
}

pub(super) fn commissioning(sheet: &Sheet<'_>) -> Markup {
    let site = sheet.site;
    let of = |zone: ZoneId| sheet.points.iter().filter(move |point| point.zone == zone);
    html! {
        ul {
            li { "These are extra-low-voltage points. Keep away from mains terminals, and let nobody open a supply." }
            @if !site.links.is_empty() {
                li { "First, with every supply unplugged and the pair off at both ends: TP11. Hands off while an insulation tester is on, and nothing else on the pair: no relay box, no lamp, no supply." }
            }
            li { "Then plugged in and dark; then lit, and left so for a quarter of an hour before anything is written down." }
            li { "The supply first, TP1 or TP6: what stands behind it goes up and down with it. Bands hold for parts within their tolerance, the box at any temperature of the year, an ordinary meter." }
            @if !site.links.is_empty() {
                li { "TP3 with the coil connected: without it the meter shows the same whatever the wire is." }
            }
        }
        (bench(sheet))
        (form("Measured", &["By, on", "Meter", "Air, box, weather"]))
        @for zone in site.zones_in_order() {
            @let rows: Vec<Vec<Markup>> = of(zone).map(row).collect();
            @if let Some(first) = of(zone).find_map(|point| point.first.as_ref()) {
                p .stop { b { (first) } }
            }
            (table(&format!("{}, {}", site[zone].name, site.how_switched(zone)), &["point", "where, and when", "meter", "expected", "reading", "if it is not"], &rows))
        }
    }
}
