//! The margins of a link as a ladder: the coil's voltage, between the least it needs and the most it tolerates.
//!
//! ```text
//!   V │ ////////// too much          ▔ coil limit
//!     │      o  o  works             ▔ pulls in
//!     │  o   ·  ·  stays as it is    ▔ stays in
//!     │            may do either     ▔ lets go
//!     │ o          lets go
//!      off low nom high
//! ```

use std::fmt::Write;

use maud::{Markup, html};

use super::document::{Part, Picture};
use super::look::{EDGE, Hatch, LETTER, LINE, WIDE, broken, heading, number, width};
use super::scale::{Scale, outward, said, ticks};
use crate::link::{BoxTemperature, LinkJudgement, MainsLevel};
use crate::site::{LinkId, Site};
use crate::text::{celsius, dusk, least_text, outcome_text, restart, volts};

mod text;

pub use text::ladder_text;

/// Left edge of the ladder.
const LEFT: f64 = 42.0;

/// Width of a column.
const COLUMN: f64 = 54.0;

/// Height of a ladder.
const HIGH: f64 = 210.0;

/// Left edge of the bands' names.
const BESIDE: f64 = LEFT + 4.0 * COLUMN + 8.0;

/// One band: the voltage where it begins [V], what the relay does there, strokes.
struct Band {
    from_v: f64,
    to_v: f64,
    name: String,
    hatch: Option<Hatch>,
    works: bool,
}

/// The ladders of some links of a yard.
pub fn ladder_svg(site: &Site, links: &[(LinkId, &LinkJudgement)]) -> Picture {
    let title = match links {
        [(id, _)] => format!("{}, {}", site.name, site.link_name(&site[*id])),
        _ => site.name.clone(),
    };
    let (head, mut y) = heading(&title, "what the coil of each link gets, needs and bears");
    let mut described = String::new();
    let mut parts = vec![Part {
        drawn: head,
        until: y,
    }];
    for (id, judgement) in links {
        let (drawn, end) = ladder(
            &shown(site, *id, judgement),
            links.len() > 1,
            y + 4.0,
            &mut described,
        );
        y = end;
        parts.push(Part { drawn, until: y });
    }
    if links.is_empty() {
        y += LINE;
        parts[0].drawn = html! {
            (parts[0].drawn)
            text x=(EDGE) y=(number(y)) { "no pilot wire in this yard" }
        };
        described.push_str("No pilot wire in this yard.");
    }
    let (key, end) = key(y + 4.0, !links.is_empty());
    parts.push(Part {
        drawn: key,
        until: end + 4.0,
    });
    Picture::of_parts(&title, &described, parts)
}

fn bands(site: &Site, id: LinkId, judgement: &LinkJudgement, most_v: f64) -> Vec<Band> {
    let case = judgement.case(MainsLevel::Nominal, BoxTemperature::Typical);
    let limit_v = site[id].relay.max_coil_v;
    let band = |from_v: f64, to_v: f64, name: String, hatch, works| Band {
        from_v,
        to_v,
        name,
        hatch,
        works,
    };
    let (release_v, hold_v, operate_v) = (case.release_v, case.hold_v, case.operate_v);
    vec![
        band(
            0.0,
            release_v,
            format!("lets go: below {} V", volts(release_v)),
            None,
            false,
        ),
        band(
            release_v,
            hold_v,
            "may let go or stay".into(),
            Some(Hatch::Level),
            false,
        ),
        band(
            hold_v,
            operate_v,
            format!("stays in: above {} V", volts(hold_v)),
            Some(Hatch::Falling),
            false,
        ),
        band(
            operate_v,
            limit_v,
            format!("pulls in: from {} V", volts(operate_v)),
            None,
            true,
        ),
        band(
            limit_v,
            most_v,
            format!("too much: above {} V", volts(limit_v)),
            Some(Hatch::Crossed),
            false,
        ),
    ]
}

/// What one column shows: the coil voltage at dusk, after hours, and the voltage that the warm coil needs [V].
struct Column {
    name: &'static str,
    dusk_v: f64,
    warm: Option<(f64, f64)>,
}

/// Everything that a ladder shows.
struct Shown {
    name: String,
    /// What the slave does, with the least margin and its case.
    heading: String,
    /// The evening it is drawn for.
    about: String,
    bands: Vec<Band>,
    /// Upper end of the axis [V].
    most_v: f64,
    columns: Vec<Column>,
    /// The supply that is low, nominal or high.
    supply: &'static str,
}

fn shown(site: &Site, id: LinkId, judgement: &LinkJudgement) -> Shown {
    let link = &site[id];
    let at = |level| judgement.case(level, BoxTemperature::Typical);
    let nominal = at(MainsLevel::Nominal);
    let highest_v = MainsLevel::ALL
        .map(at)
        .iter()
        .map(|case| case.dusk.coil_v.max(case.warm.coil_v))
        .fold(link.relay.max_coil_v, f64::max);
    let (_, most_v) = outward(0.0, 1.12 * highest_v, 8.0);
    let heading = format!(
        "{}; {}",
        outcome_text(&judgement.judged),
        least_text(link, &judgement.judged)
    );
    let about = format!(
        "drawn: relay {}, box {}, parts as rated; at dusk {}, on a hot restart {}",
        link.relay.name,
        celsius(nominal.case.box_c),
        dusk(nominal),
        restart(nominal),
    );
    let mut columns = vec![Column {
        name: "off",
        dusk_v: nominal.residual_v,
        warm: None,
    }];
    columns.extend(MainsLevel::ALL.into_iter().map(|level| {
        let case = at(level);
        Column {
            name: level.name(),
            dusk_v: case.dusk.coil_v,
            warm: Some((case.warm.coil_v, case.operate_warm_v)),
        }
    }));
    Shown {
        name: site.link_name(link),
        heading,
        about,
        bands: bands(site, id, judgement, most_v),
        most_v,
        columns,
        supply: if site.feeding(link).is_ac() {
            "mains"
        } else {
            "supply"
        },
    }
}

fn ladder(shown: &Shown, named: bool, top: f64, described: &mut String) -> (Markup, f64) {
    let Shown {
        name,
        heading,
        about,
        bands,
        most_v,
        columns,
        supply,
    } = shown;
    let most_v = *most_v;
    let names = broken(name, WIDE - 2.0 * EDGE);
    let headings = broken(heading, (WIDE - 2.0 * EDGE) / 1.1);
    let abouts = broken(about, WIDE - 2.0 * EDGE);
    let mut y = top;
    let mut lines: Vec<(f64, &str, &str)> = Vec::new();
    for (class, text) in names
        .iter()
        .filter(|_| named)
        .map(|text| ("name", text))
        .chain(headings.iter().map(|text| ("name", text)))
        .chain(abouts.iter().map(|text| ("quiet", text)))
    {
        y += LINE;
        lines.push((y - 2.0, class, text));
    }
    y += 8.0;
    let scale = Scale::new((0.0, most_v), (y + HIGH, y));
    let right = LEFT + 4.0 * COLUMN;
    let _ = write!(described, "Link {name}: {heading}; {about}. ");
    for band in bands {
        let _ = write!(described, "{}. ", band.name);
    }
    for Column { name, dusk_v, warm } in columns {
        let _ = write!(described, "{name}: {} V", volts(*dusk_v));
        if let Some((warm_v, needed_v)) = warm {
            let _ = write!(
                described,
                ", after hours {} V of {} V needed",
                volts(*warm_v),
                volts(*needed_v)
            );
        }
        described.push_str(". ");
    }
    let (values, step) = ticks(0.0, most_v, 8.0);
    let markup = html! {
        @for (y, class, text) in &lines { text class=(class) x=(EDGE) y=(number(*y)) { (text) } }
        @for band in bands { (band_drawn(band, scale, right)) }
        @for value in &values {
            text class="quiet" text-anchor="end" x=(number(LEFT - 4.0))
                y=(number(scale.place(*value) + 4.0)) { (said(*value, step)) }
        }
        rect class="axis" fill="none" x=(number(LEFT)) y=(number(y))
            width=(number(right - LEFT)) height=(number(HIGH)) {}
        @for (name, y) in spread(bands, scale, y) {
            text class="quiet" x=(number(BESIDE)) y=(number(y)) { (name) }
        }
        @for (index, Column { name, dusk_v, warm }) in columns.iter().enumerate() {
            @let x = LEFT + (index as f64 + 0.5) * COLUMN;
            (column(x, scale, *dusk_v, *warm))
            text text-anchor="middle" x=(number(x)) y=(number(y + HIGH + LINE)) { (name) }
        }
        text class="quiet" text-anchor="end" x=(number(LEFT - 4.0))
            y=(number(y + HIGH + 2.0 * LINE)) {
            "V"
        }
        text class="quiet" text-anchor="middle" x=(number(LEFT + 2.5 * COLUMN))
            y=(number(y + HIGH + 2.0 * LINE)) { (supply) }
        text class="quiet" text-anchor="middle" x=(number(LEFT + 0.5 * COLUMN))
            y=(number(y + HIGH + 2.0 * LINE)) { "master" }
    };
    (markup, y + HIGH + 2.0 * LINE + 8.0)
}

fn band_drawn(band: &Band, scale: Scale, right: f64) -> Markup {
    let (top, bottom) = (scale.place(band.to_v), scale.place(band.from_v));
    let (wide, high) = (right - LEFT, (bottom - top).max(0.0));
    html! {
        @if band.works {
            rect class="tint" x=(number(LEFT)) y=(number(top)) width=(number(wide))
                height=(number(high)) {}
        }
        @if let Some(hatch) = band.hatch {
            path class="hatch" d=(hatch.path(LEFT, top, wide, high)) {}
        }
        @if band.from_v > 0.0 {
            path class="level" d={ "M" (number(LEFT)) " " (number(bottom)) "H" (number(right + 5.0)) } {}
        }
    }
}

/// Names of the bands at their middles, or as close as they can be without touching.
fn spread(bands: &[Band], scale: Scale, top: f64) -> Vec<(String, f64)> {
    let mut names: Vec<(String, f64)> = bands
        .iter()
        .map(|band| {
            let middle = scale.place(f64::midpoint(band.from_v, band.to_v));
            (band.name.clone(), middle + 4.0)
        })
        .collect();
    // From the bottom up, none below the bottom and each above the last; then from the top down.
    let mut limit = top + HIGH;
    for (_, y) in &mut names {
        *y = y.min(limit);
        limit = *y - LINE;
    }
    let mut limit = top + LETTER;
    for (_, y) in names.iter_mut().rev() {
        *y = y.max(limit);
        limit = *y + LINE;
    }
    names
}

fn column(x: f64, scale: Scale, dusk_v: f64, warm: Option<(f64, f64)>) -> Markup {
    let y = scale.place(dusk_v);
    let label = format!("{} V", volts(dusk_v));
    // Above the disc, unless the warm coil's need is drawn there.
    let crossed = warm.is_some_and(|(_, needed_v)| {
        let needed = scale.place(needed_v);
        y - 22.0 < needed && needed < y - 4.0
    });
    let label_y = if crossed { y + 17.0 } else { y - 8.0 };
    html! {
        @if let Some((warm_v, needed_v)) = warm {
            path class="bold" d={ "M" (number(x + 8.0)) " " (number(scale.place(needed_v))) "h16" } {}
            path class="hollow" d={ "M" (number(x + 16.0)) " " (number(scale.place(warm_v) - 4.2))
                "l4.2 4.2l-4.2 4.2l-4.2 -4.2z" } {
                title { (format!("after hours {} V, needs {} V", volts(warm_v), volts(needed_v))) }
            }
        }
        circle class="solid" cx=(number(x)) cy=(number(y)) r="3.6" {}
        text class="halo" text-anchor="middle" x=(number(x)) y=(number(label_y)) { (label) }
    }
}

/// What the marks mean.
fn key(top: f64, any: bool) -> (Markup, f64) {
    if !any {
        return (html! {}, top);
    }
    let y = top + LETTER;
    let mut x = EDGE + 6.0;
    let mut next = |word: &str| {
        let at = x;
        x += width(word) + 34.0;
        at
    };
    let (dusk, warm, needs) = ("at dusk", "coil after hours", "needs then");
    let (at_dusk, at_warm, at_needs) = (next(dusk), next(warm), next(needs));
    let markup = html! {
        circle class="solid" cx=(number(at_dusk)) cy=(number(y - 4.0)) r="3.6" {}
        text class="quiet" x=(number(at_dusk + 8.0)) y=(number(y)) { (dusk) }
        path class="hollow" d={ "M" (number(at_warm)) " " (number(y - 8.2))
            "l4.2 4.2l-4.2 4.2l-4.2 -4.2z" } {}
        text class="quiet" x=(number(at_warm + 8.0)) y=(number(y)) { (warm) }
        path class="bold" d={ "M" (number(at_needs - 6.0)) " " (number(y - 4.0)) "h12" } {}
        text class="quiet" x=(number(at_needs + 11.0)) y=(number(y)) { (needs) }
    };
    (markup, y + 6.0)
}
