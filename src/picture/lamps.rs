//! Voltage at every lamp against its permissible window, run by run.
//!
//! ```text
//!   15 ▔▔▔▔▔▔▔▔▔▔▔▔▔  most
//!      o  o  o  o  o   from near to far; whiskers from low to high mains
//!   10 ▁▁▁▁▁▁▁▁▁▁▁▁▁  least
//! ```

use std::fmt::Write;

use maud::{Markup, html};

use super::document::{Part, Picture};
use super::look::{EDGE, Hatch, LETTER, LINE, WIDE, broken, heading, kept, number, width};
use super::scale::{Scale, outward, said, ticks};
use crate::lamp_run::{TrunkEnds, trunk_ends};
use crate::link::MainsLevel;
use crate::site::{Cable, LampGroup, Site, Trunk, ZoneId};
use crate::text::volts;

mod text;

pub use text::lamps_text;

/// Left edge of the strips.
const LEFT: f64 = 42.0;

/// Right edge: names of the limits are to the right of it.
const RIGHT: f64 = WIDE - EDGE - 44.0;

/// Height of a strip.
const HIGH: f64 = 78.0;

/// Lamps closer than this get whiskers without end strokes [units].
const CLOSE: f64 = 7.0;

/// Voltage at the lamps of every run.
pub fn lamps_svg(site: &Site) -> Picture {
    let title = format!("{}: volts at the lamps", site.name);
    let (head, mut y) = heading(
        &title,
        "lit, near to far, nominal mains or supply; strokes reach from low to high",
    );
    let mut described = String::new();
    let mut parts = vec![Part {
        drawn: head,
        until: y,
    }];
    for zone in site.zones_in_order() {
        for trunk in site[zone]
            .trunks
            .iter()
            .filter(|trunk| !trunk.lamps.is_empty())
        {
            let (drawn, end) = strip(site, zone, trunk, y + 4.0, &mut described);
            y = end;
            parts.push(Part { drawn, until: y });
        }
    }
    if parts.len() == 1 {
        y += LINE;
        let none = html! { text x=(EDGE) y=(number(y)) { "no lamps in this yard" } };
        parts.push(Part {
            drawn: none,
            until: y + 6.0,
        });
        described.push_str("No lamps in this yard.");
    }
    Picture::of_parts(&title, &described, parts)
}

/// Voltage at every lamp, if the run does not brown out.
fn lit(site: &Site, zone: ZoneId, trunk: &Trunk, level: MainsLevel) -> Result<Vec<f64>, f64> {
    match trunk_ends(site, zone, trunk, level) {
        TrunkEnds::Lit { lamp_v, .. } => Ok(lamp_v),
        TrunkEnds::BrownOut { margin } => Err(margin),
    }
}

/// `8 × 4 W; 12 AWG, 21.3 m`.
pub(super) fn run_said(trunk: &Trunk) -> String {
    let groups: Vec<String> = trunk
        .lamps
        .iter()
        .map(|group| kept(&format!("{} × {} W", group.count, group.power_w)))
        .collect();
    let cable = trunk
        .cable
        .as_ref()
        .map_or_else(|| "no cable stated".into(), cable_short);
    format!("{}; {cable}", groups.join(" + "))
}

/// `12 AWG, 21.3 m`.
pub(super) fn cable_short(cable: &Cable) -> String {
    kept(&format!("{},", cable.gauge)) + " " + &kept(&format!("{:.1} m", cable.length_m))
}

/// What one run shows.
struct Strip {
    /// Voltage at every lamp at nominal mains or supply, from near to far.
    nominal_v: Vec<f64>,
    /// The same at low and high mains; `None` if the run browns out there.
    levels: [Option<Vec<f64>>; 2],
    /// The permissible window of its lamps.
    least_v: Option<f64>,
    most_v: Option<f64>,
    /// Both ends of the axis.
    axis_v: (f64, f64),
    /// Distances of the lamps, if there is a cable.
    distances_m: Vec<f64>,
}

impl Strip {
    /// The strip of a run, or a remark if it browns out.
    fn of(site: &Site, zone: ZoneId, trunk: &Trunk) -> Result<Self, String> {
        let [low, nominal, high] = MainsLevel::ALL.map(|level| lit(site, zone, trunk, level));
        let nominal_v = nominal.map_err(|margin| {
            format!(
                "browns out: the run carries {:.0} % of these lamps",
                100.0 * margin
            )
        })?;
        let levels = [low.ok(), high.ok()];
        let of = |limit: fn(&LampGroup) -> Option<f64>| trunk.lamps.iter().filter_map(limit);
        let least_v = of(|group| group.lowest_v).reduce(|a: f64, b: f64| a.max(b));
        let most_v = of(|group| group.highest_v).reduce(f64::min);
        let all = levels.iter().flatten().flatten().chain(&nominal_v).copied();
        let (low, high) = all
            .chain(least_v)
            .chain(most_v)
            .fold((f64::INFINITY, 0.0_f64), |(low, high), v: f64| {
                (low.min(v), high.max(v))
            });
        Ok(Self {
            nominal_v,
            levels,
            least_v,
            most_v,
            axis_v: outward(low - 0.3, high + 0.3, 4.0),
            distances_m: match trunk.cable {
                Some(_) => trunk.distances_m.clone(),
                None => Vec::new(),
            },
        })
    }

    /// From low to high mains; from the end of the axis if the run browns out there.
    fn reach_v(&self, lamp: usize) -> [f64; 2] {
        let [low, high] = &self.levels;
        let at = |level: &Option<Vec<f64>>| level.as_ref().map(|all| all[lamp]);
        [
            at(low).unwrap_or(self.axis_v.0),
            at(high).unwrap_or(self.nominal_v[lamp]),
        ]
    }
}

fn strip(
    site: &Site,
    zone: ZoneId,
    trunk: &Trunk,
    top: f64,
    described: &mut String,
) -> (Markup, f64) {
    let about = format!("{}: {}", site[zone].name, run_said(trunk));
    let _ = write!(described, "{about}. ");
    let mut y = top;
    let names: Vec<(String, f64)> = broken(&about, WIDE - 2.0 * EDGE)
        .into_iter()
        .map(|line| {
            y += LINE;
            (line, y - 2.0)
        })
        .collect();
    y += 6.0;
    let strip = match Strip::of(site, zone, trunk) {
        Ok(strip) => strip,
        Err(said) => {
            let _ = write!(described, "{said}. ");
            let markup = html! {
                @for (line, y) in &names { text class="name" x=(EDGE) y=(number(*y)) { (line) } }
                text x=(EDGE) y=(number(y + LETTER)) { (said) }
            };
            return (markup, y + LINE + 6.0);
        }
    };
    let (nominal, least_v, most_v) = (&strip.nominal_v, strip.least_v, strip.most_v);
    let (low, high) = strip.axis_v;
    let scale = Scale::new((low, high), (y + HIGH, y));
    let lamps = nominal.len();
    let x = |lamp: usize| LEFT + (lamp as f64 + 0.5) * (RIGHT - LEFT) / lamps as f64;
    let (values, step) = ticks(low, high, 4.0);
    let first_v = nominal[0];
    let last_v = nominal[lamps - 1];
    let _ = write!(
        described,
        "First lamp {} V, last {} V, window {}. ",
        volts(first_v),
        volts(last_v),
        window_said(least_v, most_v)
    );
    let mut whiskers = String::new();
    let foot = if (RIGHT - LEFT) / lamps as f64 > CLOSE {
        2.0
    } else {
        0.0
    };
    for lamp in 0..lamps {
        let [from, to] = strip.reach_v(lamp).map(|volts| scale.place(volts));
        let x = x(lamp);
        let _ = write!(
            whiskers,
            "M{} {}h{}m-{} 0V{}m-{} 0h{}",
            number(x - foot),
            number(from),
            number(2.0 * foot),
            number(foot),
            number(to),
            number(foot),
            number(2.0 * foot)
        );
    }
    let limits = [(most_v, true), (least_v, false)];
    let distance = |lamp: usize| strip.distances_m.get(lamp).copied();
    let markup = html! {
        @for (line, y) in &names { text class="name" x=(EDGE) y=(number(*y)) { (line) } }
        (window(scale, least_v, most_v))
        @for value in &values {
            @let place = scale.place(*value);
            line class="grid" x1=(number(LEFT)) x2=(number(RIGHT)) y1=(number(place))
                y2=(number(place)) {}
            text class="quiet" text-anchor="end" x=(number(LEFT - 4.0)) y=(number(place + 4.0)) {
                (said(*value, step))
                @if values.last() == Some(value) { " V" }
            }
        }
        @for (limit, most) in limits {
            @if let Some(limit_v) = limit {
                @let place = scale.place(limit_v);
                path class="level" d={ "M" (number(LEFT)) " " (number(place)) "H" (number(RIGHT)) } {}
                text class="quiet" x=(number(RIGHT + 4.0)) y=(number(place + 4.0)) {
                    (if most { "most" } else { "least" })
                }
            }
        }
        rect class="axis" fill="none" x=(number(LEFT)) y=(number(y)) width=(number(RIGHT - LEFT))
            height=(number(HIGH)) {}
        path class="mark" fill="none" d=(whiskers) {}
        @for (lamp, lamp_v) in nominal.iter().enumerate() {
            circle class={ @if inside(*lamp_v, least_v, most_v) { "solid" } @else { "hollow" } }
                cx=(number(x(lamp))) cy=(number(scale.place(*lamp_v))) r="2.6" {
                title { "lamp " (lamp + 1) ": " (volts(*lamp_v)) " V" }
            }
        }
        (ends_said((x(0), first_v, distance(0)), (x(lamps - 1), last_v, distance(lamps - 1)), y))
    };
    (markup, y + HIGH + LINE + 8.0)
}

fn inside(lamp_v: f64, least_v: Option<f64>, most_v: Option<f64>) -> bool {
    least_v.is_none_or(|least_v| lamp_v >= least_v) && most_v.is_none_or(|most_v| lamp_v <= most_v)
}

fn window_said(least_v: Option<f64>, most_v: Option<f64>) -> String {
    match (least_v, most_v) {
        (Some(least_v), Some(most_v)) => format!("{} to {} V", volts(least_v), volts(most_v)),
        (Some(least_v), None) => format!("from {} V", volts(least_v)),
        (None, Some(most_v)) => format!("up to {} V", volts(most_v)),
        (None, None) => "not stated".into(),
    }
}

/// The window as a tint, with hatching outside.
fn window(scale: Scale, least_v: Option<f64>, most_v: Option<f64>) -> Markup {
    let (bottom, top) = scale.places;
    let least = least_v.map_or(bottom, |v| scale.place(v));
    let most = most_v.map_or(top, |v| scale.place(v));
    let wide = RIGHT - LEFT;
    html! {
        rect class="tint" x=(number(LEFT)) y=(number(most)) width=(number(wide))
            height=(number((least - most).max(0.0))) {}
        path class="hatch" d={ (Hatch::Falling.path(LEFT, top, wide, most - top))
            (Hatch::Falling.path(LEFT, least, wide, bottom - least)) } {}
    }
}

/// Voltage and distance of the first and last lamp, below the strip.
fn ends_said(
    (first_x, first_v, first_m): (f64, f64, Option<f64>),
    (last_x, last_v, last_m): (f64, f64, Option<f64>),
    top: f64,
) -> Markup {
    let said = |lamp_v: f64, metres: Option<f64>| match metres {
        Some(metres) => format!("{} V at {metres:.1} m", volts(lamp_v)),
        None => format!("{} V", volts(lamp_v)),
    };
    let (first, last) = (said(first_v, first_m), said(last_v, last_m));
    let y = top + HIGH + LINE;
    let left = (first_x - width(&first) / 2.0).max(LEFT);
    let right = (last_x + width(&last) / 2.0).min(RIGHT);
    html! {
        text x=(number(left)) y=(number(y)) { (first) }
        @if last_x > first_x {
            text text-anchor="end" x=(number(right)) y=(number(y)) { (last) }
        }
    }
}
