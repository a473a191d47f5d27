//! What of a link works when one thing changes, or two: the limit in words, the table, the picture.

use std::fmt::Write;

use crate::link::{Judgement, Undecided, Verdict};
use crate::picture::margin_map::{
    Along, Axis, Cell as MapCell, Map, Turn, margin_map_svg, margin_map_text,
};
use crate::site::Site;
use crate::sweep::{Cell, Edge, Parameter, Points, Sweep, Variation, verdict_of};
use crate::text::{celsius, finding_text, least_text, trouble_text, wrap};

use super::check::FOOTER;

mod limits;
mod table;

pub use table::{sweep_csv, sweep_json};

use limits::{Row, quantity};

/// What a sweep leaves to `check`.
const NOT_SWEPT: &str = "Low and high mains with parts at their worst. Fuse, contact, and the ratings of capacitor and diodes are no part of this table: `pilotwire check` the yard you choose.";

/// The limit first, then the table, then why.
pub fn sweep_text(site: &Site, sweep: &Sweep) -> String {
    let mut out = String::new();
    wrap(&mut out, "", "  ", &answer(site, sweep));
    if let Some(y) = &sweep.y {
        for row in 0..sweep.rows() {
            let line = format!("{}: {}", said(y, row), Row::of(sweep, row).said());
            wrap(&mut out, "  ", "    ", &line);
        }
    }
    out.push('\n');
    out.push_str(&margin_map_text(&map(site, sweep, heading(sweep))));
    if let Some(y) = &sweep.y {
        out.push_str("\nwhy\n");
        for row in 0..sweep.rows() {
            let column = telling(sweep.row(row));
            let line = format!(
                "{}, {}: {}",
                said(y, row),
                said(&sweep.x, column),
                why(site, sweep, &sweep.row(row)[column])
            );
            wrap(&mut out, "  ", "    ", &line);
        }
    }
    out.push('\n');
    wrap(&mut out, "", "", NOT_SWEPT);
    out.push('\n');
    wrap(&mut out, "", "", FOOTER);
    out
}

/// The table as a picture.
pub fn sweep_svg(site: &Site, sweep: &Sweep) -> String {
    let name = site.link_name(&site[sweep.link]);
    let title = match &sweep.y {
        None => format!("{name}: {}", Row::of(sweep, 0).extent()),
        Some(y) => format!(
            "{name}: {} by {}",
            sweep.x.parameter.about(),
            y.parameter.about()
        ),
    };
    margin_map_svg(&map(site, sweep, title))
}

/// `front > fence, 22 AWG, relay r400: works up to 142 m (466 ft); beyond that the hot restart fails
/// first`.
fn answer(site: &Site, sweep: &Sweep) -> String {
    let name = fixed(site, sweep);
    if sweep.y.is_none() {
        return format!("{name}: {}", Row::of(sweep, 0).said());
    }
    let count = |wanted| {
        sweep
            .cells
            .iter()
            .filter(|cell| verdict_of(cell) == wanted)
            .count()
    };
    let mut said = format!(
        "{name}: of {} combinations {} work, {} with caution, {} do not",
        sweep.cells.len(),
        count(Some(Verdict::Go)),
        count(Some(Verdict::Caution)),
        count(Some(Verdict::NoGo))
    );
    let unknown = count(None);
    if unknown > 0 {
        let _ = write!(said, ", {unknown} without an answer");
    }
    said
}

/// The link with what stays as it is.
fn fixed(site: &Site, sweep: &Sweep) -> String {
    let link = &site[sweep.link];
    let varied = |parameter| {
        sweep.x.parameter == parameter || sweep.y.as_ref().is_some_and(|y| y.parameter == parameter)
    };
    let mut parts = vec![site.link_name(link)];
    if !varied(Parameter::Loop) {
        match (link.measured_loop_ohm, link.cable) {
            (Some(ohm), _) => parts.push(format!("loop {} ohm", plain(ohm))),
            (None, Some(cable)) => {
                if !varied(Parameter::Wire) {
                    parts.push(cable.gauge.to_string());
                }
                if !varied(Parameter::Length) {
                    parts.push(quantity(Parameter::Length, cable.length_m, "m"));
                }
            }
            (None, None) => {}
        }
    }
    if !varied(Parameter::Relay) {
        parts.push(format!("relay {}", link.relay.name));
    }
    parts.join(", ")
}

/// A number with four digits at most.
fn plain(value: f64) -> String {
    crate::text::with_minus(&crate::picture::margin_map::shortest(value))
}

/// `margin by pair length (one way) and relay`.
fn heading(sweep: &Sweep) -> String {
    let about = |axis: &Variation| match axis.parameter {
        Parameter::Length => "pair length (one way)".to_owned(),
        other => other.about().to_owned(),
    };
    let x = about(&sweep.x);
    match &sweep.y {
        None => format!("margin by {x}"),
        Some(y) => format!("margin by {x} and {}", about(y)),
    }
}

/// One value of an axis with its unit.
fn said(axis: &Variation, index: usize) -> String {
    match &axis.points {
        Points::Numbers(values) => quantity(axis.parameter, values[index], axis.unit),
        Points::Things(things) => things[index].0.clone(),
    }
}

/// The cell of a row that tells most: the first that is worse than the best next to one of these, or
/// else the one with the least margin.
fn telling(row: &[Cell]) -> usize {
    let best = row.iter().filter_map(verdict_of).min();
    let is_best = |cell: &Cell| verdict_of(cell) == best;
    let beside = |index: &usize| {
        !is_best(&row[*index])
            && ((*index > 0 && is_best(&row[index - 1])) || row.get(index + 1).is_some_and(is_best))
    };
    let margin = |index: &usize| row[*index].as_ref().map_or(f64::INFINITY, least);
    (0..row.len())
        .find(beside)
        .or_else(|| (0..row.len()).min_by(|a, b| margin(a).total_cmp(&margin(b))))
        .unwrap_or_default()
}

fn map(site: &Site, sweep: &Sweep, title: String) -> Map {
    Map {
        title,
        x: axis(&sweep.x),
        y: sweep.y.as_ref().map(axis),
        cells: sweep
            .cells
            .iter()
            .map(|cell| MapCell {
                margin: cell.as_ref().ok().map(least),
                verdict: verdict_of(cell).unwrap_or(Verdict::NoGo),
                why: why(site, sweep, cell),
            })
            .collect(),
        turns: if sweep.y.is_none() {
            sweep.edges[0].iter().filter_map(turn).collect()
        } else {
            Vec::new()
        },
    }
}

fn turn(edge: &Edge) -> Option<Turn> {
    Some(Turn {
        before: edge.before,
        at: f64::midpoint(edge.last_good?, edge.first_bad?),
        to: if edge.better_below {
            edge.worse?
        } else {
            edge.better?
        },
    })
}

fn axis(variation: &Variation) -> Axis {
    Axis {
        name: variation.parameter.about().into(),
        unit: limits::unit(variation.parameter, variation.unit).into(),
        along: match &variation.points {
            Points::Numbers(values) => Along::Values(values.clone()),
            Points::Things(things) => {
                Along::Labels(things.iter().map(|(name, _)| name.clone()).collect())
            }
        },
    }
}

/// What is in hand of a cell, as a fraction.
fn least(judged: &Judgement) -> f64 {
    judged.least().fraction
}

/// Why a cell is what it is, in one sentence.
fn why(site: &Site, sweep: &Sweep, cell: &Cell) -> String {
    match cell {
        Ok(judged) => reason(site, sweep, judged),
        Err(Undecided { case, why, .. }) => format!(
            "no answer at {} mains, box {}: {why}",
            case.mains.name(),
            celsius(case.box_c)
        ),
    }
}

/// What is wrong with a cell and its least margin, or that margin alone.
fn reason(site: &Site, sweep: &Sweep, judged: &Judgement) -> String {
    let link = &site[sweep.link];
    match judged.findings().first() {
        None => least_text(link, judged),
        Some(found) if found.margin.as_ref() == Some(judged.least()) => {
            finding_text("it", link, judged, found)
        }
        Some(found) => format!(
            "{}; {}",
            trouble_text("it", found.trouble),
            least_text(link, judged)
        ),
    }
}
