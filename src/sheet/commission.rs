//! For whoever measures it: test points with an empty column.

use maud::{Markup, html};

use crate::commissioning::{Expected, Meter, Point};
use crate::site::{Switching, ZoneId};

use super::{Sheet, blank, cell, table};

/// A value with as many digits as its meter shows.
pub(super) fn value(value: f64, meter: Meter) -> String {
    match meter {
        Meter::AcVolts | Meter::DcVolts if value < 10.0 => format!("{value:.2}"),
        Meter::AcVolts | Meter::DcVolts => format!("{value:.1}"),
        Meter::Ohms | Meter::Megohms => format!("{value:.0}"),
    }
}

/// `14.7 (14.0 to 15.4) V DC`.
pub(super) fn expected(expected: &Expected, meter: Meter) -> String {
    let unit = meter.name();
    let say = |at: f64| value(at, meter);
    let band = match (expected.least, expected.most) {
        (Some(least), Some(most)) => format!("{} to {}", say(least), say(most)),
        (Some(least), None) => format!("above {}", say(least)),
        (None, Some(most)) => format!("below {}", say(most)),
        (None, None) => String::new(),
    };
    match expected.typical {
        Some(typical) => format!("{} ({band}) {unit}", say(typical)),
        None => format!("{band} {unit}"),
    }
}

fn row(point: &Point) -> Vec<Markup> {
    let moves = point
        .expected
        .with
        .as_ref()
        .filter(|with| with.per_volt.abs() > 0.05);
    vec![
        cell(&point.name),
        html! { (point.at) " " span .state { (point.state) } },
        cell(point.meter.name()),
        html! {
            b { (expected(&point.expected, point.meter)) }
            @if let Some(with) = moves {
                span .moves { " with " (with.of) " at " (value(with.there_v, Meter::AcVolts))
                    "; " (format!("{:+.1}", with.per_volt)) " V for each volt more there" }
            }
        },
        blank(),
        cell(&point.wrong),
    ]
}

pub(super) fn commissioning(sheet: &Sheet<'_>) -> Markup {
    let site = sheet.site;
    let of = |zone: ZoneId| sheet.points.iter().filter(move |point| point.zone == zone);
    html! {
        ul {
            li { "These are extra-low-voltage points. Keep away from mains terminals, and let nobody open a supply." }
            li { "Pairs apart first (TP11), then dark (TP10), then lit. Leave it lit for a quarter of an hour before you write anything down." }
            li { "The supply first, TP1 or TP6: what stands behind it goes up and down with it. Bands hold for parts within their tolerance, the box at any temperature of the year, an ordinary meter, true RMS on AC." }
            li { "TP3 with the coil connected: without it the meter shows the same whatever the wire is." }
        }
        table .signed {
            caption { "Measured" }
            tbody {
                @for what in ["By, on", "Meter", "Air, box, weather"] {
                    tr { th scope="row" { (what) } td { span .blank { } } }
                }
            }
        }
        @for zone in site.zones_in_order() {
            @let how = match site[zone].switching {
                Switching::Timed(_) => "timed".to_owned(),
                Switching::Follows(link) => format!("follows {}", site[site[link].master].name),
                Switching::Senses(sensing) => format!("follows the input of {}", site[sensing.master].name),
            };
            @let rows: Vec<Vec<Markup>> = of(zone).map(row).collect();
            (table(&format!("{}, {how}", site[zone].name), &["point", "where, and when", "meter", "expected", "reading", "if it is not"], &rows))
        }
    }
}
