//! The waveforms as SVG: four panels over one time axis.

use maud::{Markup, html};

use super::{Stretch, Trace, contact, time};
use crate::picture::document::Picture;
use crate::picture::labels::{Area, flags, freest, on_one_line};
use crate::picture::line::{path, straightened, thinned};
use crate::picture::look::{EDGE, Hatch, LETTER, LINE, WIDE, cut, heading, number, width};
use crate::picture::scale::{Scale, outward, said, ticks};
use crate::text::amps;
use crate::transient::Sample;

/// Left edge of the panels: labels of the value axis are to the left of it.
const LEFT: f64 = 54.0;

/// Width between the two stretches.
const GAP: f64 = 16.0;

/// Most events with a label in one stretch.
const LABELLED: usize = 4;

/// Distance between a line and its label.
const BESIDE: f64 = 3.0;

/// Most letters of a label.
const LABEL_LETTERS: usize = 24;

/// Height of the panels of far end, capacitor, coil, armature.
const HIGH: [f64; 4] = [76.0, 76.0, 148.0, 34.0];

/// Values below zero smaller than this fraction of those above get no axis of their own.
const LITTLE: f64 = -0.08;

/// Height of the contact's bar.
const BAR: f64 = 15.0;

/// A stretch and its place in the picture.
struct Column<'a> {
    stretch: Stretch<'a>,
    time: Scale,
}

#[derive(Clone, Copy)]
struct Panel {
    top: f64,
    bottom: f64,
}

/// Pair, capacitor, coil current with its thresholds, armature and contact, from switch-on until the
/// relay has settled and from switch-off until it has let go.
pub fn waveform_svg(trace: &Trace) -> Picture {
    let (head, mut y) = heading(&trace.title, &trace.subtitle);
    if trace.samples.len() < 2 {
        let body = html! { (head) text x=(EDGE) y=(number(y + LINE)) { "nothing recorded" } };
        return Picture::new(&trace.title, "Nothing recorded.", y + 2.0 * LINE, body);
    }
    let columns = columns(trace);
    y += 8.0;
    let marks = event_marks(trace, &columns, y);
    y = marks.end;
    let mut panels = Vec::new();
    for high in HIGH {
        y += LINE + 8.0;
        panels.push(Panel {
            top: y,
            bottom: y + high,
        });
        y += high;
    }
    let bar = Panel {
        top: y + 6.0,
        bottom: y + 6.0 + BAR,
    };
    let foot = bar.bottom + 4.0;
    let body = html! {
        (head)
        (time_axis(trace, &columns, panels[0].top, foot))
        (coil_bands(trace, &columns, panels[2]))
        (event_lines(&marks, foot))
        (volts_panel(trace, &columns, panels[0], "pair at the far end, V", |s| s.far_v))
        (volts_panel(trace, &columns, panels[1], "across the capacitor, V", |s| s.dc_v))
        (coil_panel(trace, &columns, panels[2]))
        (armature_panel(&columns, panels[3]))
        (contact_bar(&columns, &trace.samples, bar))
    };
    Picture::new(
        &trace.title,
        &trace.described(),
        foot + 2.0 * LINE + 12.0,
        body,
    )
}

fn columns(trace: &Trace) -> Vec<Column<'_>> {
    let stretches = trace.stretches();
    let right = WIDE - EDGE;
    let count = stretches.len() as f64;
    let wide = (right - LEFT - GAP * (count - 1.0)) / count;
    stretches
        .into_iter()
        .zip(0_u8..)
        .map(|(stretch, index)| {
            let left = LEFT + f64::from(index) * (wide + GAP);
            Column {
                stretch,
                time: Scale::new((stretch.begin_s(), stretch.end_s()), (left, left + wide)),
            }
        })
        .collect()
}

/// A line down from a label.
struct Mark {
    place: f64,
    switching: bool,
    label: String,
    /// Left end of the label, and the top of its line of text.
    label_left: f64,
    label_top: f64,
    /// Upper end of the line.
    top: f64,
}

/// The labels over their lines, the remark about those left out, and where the labels end.
struct Marks {
    lines: Vec<Mark>,
    more: Vec<(f64, f64, String)>,
    end: f64,
}

fn event_marks(trace: &Trace, columns: &[Column<'_>], top: f64) -> Marks {
    let all = trace.marks();
    let mut out = Marks {
        lines: Vec::new(),
        more: Vec::new(),
        end: top,
    };
    for column in columns {
        let (left, right) = column.time.places;
        let (shown, more) = column.stretch.foremost(&all, LABELLED);
        let labels: Vec<(f64, String)> = shown
            .iter()
            .map(|mark| {
                let label = cut(&mark.said(column.stretch.zero_s), LABEL_LETTERS);
                (column.time.place(mark.at_s), label)
            })
            .collect();
        let places: Vec<(f64, f64)> = labels
            .iter()
            .map(|(place, label)| (*place, width(label) + BESIDE))
            .collect();
        let flags = flags(&places, right + GAP / 2.0);
        for ((mark, (place, label)), flag) in shown.iter().zip(labels).zip(flags) {
            let label_top = top + flag.row as f64 * LINE;
            let wide = width(&label);
            let (label_left, under) = match flag.to_the_left {
                false => (place + BESIDE, false),
                true if place - BESIDE - wide >= left => (place - BESIDE - wide, false),
                // There is no room on either side: the line begins under the label.
                true => ((right - wide).max(left), true),
            };
            out.lines.push(Mark {
                place,
                switching: mark.is_switching(),
                label,
                label_left,
                label_top,
                top: label_top + if under { LINE } else { 2.0 },
            });
        }
        let mut end = top + shown.len() as f64 * LINE;
        if more > 0 {
            out.more
                .push((left + BESIDE, end, format!("and {more} more")));
            end += LINE;
        }
        out.end = out.end.max(end);
    }
    out
}

/// Lines from their labels down to `foot`.
fn event_lines(marks: &Marks, foot: f64) -> Markup {
    html! {
        @for mark in &marks.lines {
            line class={ "mark" @if !mark.switching { " dots" } } x1=(number(mark.place))
                x2=(number(mark.place)) y1=(number(mark.top)) y2=(number(foot)) {}
        }
        @for mark in &marks.lines {
            @let to_the_left = mark.label_left < mark.place;
            @let x = if to_the_left {
                mark.label_left + width(&mark.label)
            } else {
                mark.label_left
            };
            text class="halo" text-anchor=[to_the_left.then_some("end")] x=(number(x))
                y=(number(mark.label_top + LETTER - 0.5)) { (mark.label) }
        }
        @for (x, top, more) in &marks.more {
            text class="halo quiet" x=(number(*x)) y=(number(top + LETTER - 0.5)) { (more) }
        }
    }
}

/// Grid, labels and names of the time axis, and the gap.
fn time_axis(trace: &Trace, columns: &[Column<'_>], top: f64, foot: f64) -> Markup {
    let parted = columns.len() > 1;
    html! {
        @for (index, column) in columns.iter().enumerate() {
            @let (from_s, to_s) = column.time.values;
            @let (left, right) = column.time.places;
            @let (unit, unit_s) = time::unit(to_s - from_s);
            @let zero_s = column.stretch.zero_s;
            @let (values, step) = ticks((from_s - zero_s) / unit_s, (to_s - zero_s) / unit_s, 5.0);
            @let places: Vec<f64> = values
                .iter()
                .map(|value| column.time.place(zero_s + value * unit_s))
                .collect();
            @let labels: Vec<String> = values.iter().map(|&value| said(value, step)).collect();
            @let spots: Vec<(f64, f64)> = places
                .iter()
                .zip(&labels)
                .map(|(&place, label)| (place, width(label)))
                .collect();
            @let keep = on_one_line(&spots, 3.0);
            @for ((place, label), keep) in places.iter().zip(&labels).zip(keep) {
                line class="grid" x1=(number(*place)) x2=(number(*place)) y1=(number(top))
                    y2=(number(foot)) {}
                @if keep {
                    text class="quiet" text-anchor="middle" x=(number(*place))
                        y=(number(foot + LINE)) { (label) }
                }
            }
            line class="axis" x1=(number(left)) x2=(number(right)) y1=(number(foot))
                y2=(number(foot)) {}
            @let name = format!("{unit} after switch-{}", if zero_s == 0.0 { "on" } else { "off" });
            @if index == 0 {
                text x=(number(left)) y=(number(foot + 2.0 * LINE + 3.0)) { (name) }
            } @else {
                text text-anchor="end" x=(number(right)) y=(number(foot + 2.0 * LINE + 3.0)) {
                    (name)
                }
            }
        }
        @if parted {
            @let middle = columns[0].time.places.1 + GAP / 2.0;
            path class="axis" fill="none" d={ "M" (number(middle - 5.0)) " " (number(foot + 4.0))
                "L" (number(middle - 1.0)) " " (number(foot - 4.0))
                "M" (number(middle + 1.0)) " " (number(foot + 4.0))
                "L" (number(middle + 5.0)) " " (number(foot - 4.0)) } {}
            text class="quiet" text-anchor="middle" x=(number(middle))
                y=(number(foot + 2.0 * LINE + 3.0)) {
                (time::said(columns[1].time.values.0 - columns[0].time.values.1)) " left out"
            }
        }
        @if !parted && trace.off_at_s > columns[0].time.values.1 {
            text class="quiet" text-anchor="end" x=(number(columns[0].time.places.1))
                y=(number(foot + 2.0 * LINE + 3.0)) { "on until " (time::said(trace.off_at_s)) }
        }
    }
}

/// Name of a panel, with its value axis and grid.
fn frame(columns: &[Column<'_>], panel: Panel, name: &str, scale: Scale) -> Markup {
    let (values, step) = ticks(
        scale.values.0,
        scale.values.1,
        ((panel.bottom - panel.top) / 24.0).floor(),
    );
    html! {
        text class="name halo" x=(LEFT) y=(number(panel.top - 6.0)) { (name) }
        @for value in values {
            @let y = scale.place(value);
            text class="quiet" text-anchor="end" x=(number(LEFT - 5.0)) y=(number(y + 4.0)) {
                (said(value, step))
            }
            @for column in columns {
                line class={ @if value == 0.0 { "axis" } @else { "grid" } }
                    x1=(number(column.time.places.0)) x2=(number(column.time.places.1))
                    y1=(number(y)) y2=(number(y)) {}
            }
        }
    }
}

/// Points of a curve, thinned to what the width can show.
fn points(column: &Column<'_>, scale: Scale, value: impl Fn(&Sample) -> f64) -> Vec<(f64, f64)> {
    let all: Vec<(f64, f64)> = column
        .stretch
        .samples
        .iter()
        .map(|sample| (column.time.place(sample.at_s), scale.place(value(sample))))
        .collect();
    thinned(&all)
}

fn curve(points: &[(f64, f64)]) -> Markup {
    html! { path class="curve" d=(path(&straightened(points))) {} }
}

fn extremes(samples: &[Sample], value: impl Fn(&Sample) -> f64) -> (f64, f64) {
    samples
        .iter()
        .map(value)
        .fold((0.0, 0.0), |(least, most), v| (least.min(v), most.max(v)))
}

fn volts_panel(
    trace: &Trace,
    columns: &[Column<'_>],
    panel: Panel,
    name: &str,
    value: fn(&Sample) -> f64,
) -> Markup {
    let (least, most) = extremes(&trace.samples, value);
    // The small reverse current of a diode does not deserve an axis below zero.
    let least = if least > LITTLE * most { 0.0 } else { least };
    let scale = Scale::new(outward(least, most, 3.0), (panel.bottom, panel.top));
    html! {
        (frame(columns, panel, name, scale))
        @for column in columns { (curve(&points(column, scale, value))) }
    }
}

/// The scale of the coil's current [mA].
fn coil_scale(trace: &Trace, panel: Panel) -> Scale {
    let (least, most) = extremes(&trace.samples, |s| s.coil_a);
    let least = if least > LITTLE * most { 0.0 } else { least };
    let most = trace.thresholds.reach_a(most);
    Scale::new(
        outward(least * 1e3, most * 1e3, 6.0),
        (panel.bottom, panel.top),
    )
}

/// Where the relay surely lets go, and where the coil's current is too high.
fn coil_bands(trace: &Trace, columns: &[Column<'_>], panel: Panel) -> Markup {
    let scale = coil_scale(trace, panel);
    let release_y = scale.place(trace.thresholds.release_a * 1e3);
    let zero_y = scale.place(0.0);
    let limit_y = trace
        .thresholds
        .limit_a
        .map(|limit_a| scale.place(limit_a * 1e3));
    html! {
        @for column in columns {
            @let (left, right) = column.time.places;
            path class="hatch" d=(Hatch::Level.path(
                left, release_y, right - left, zero_y - release_y
            )) {}
            @if let Some(limit_y) = limit_y && limit_y > panel.top {
                path class="hatch" d=(Hatch::Crossed.path(
                    left, panel.top, right - left, limit_y - panel.top
                )) {}
            }
        }
    }
}

fn coil_panel(trace: &Trace, columns: &[Column<'_>], panel: Panel) -> Markup {
    let scale = coil_scale(trace, panel);
    let curves: Vec<Vec<(f64, f64)>> = columns
        .iter()
        .map(|column| points(column, scale, |s| s.coil_a * 1e3))
        .collect();
    let mut taken: Vec<Area> = curves
        .iter()
        .flat_map(|curve| curve.windows(2))
        .map(|pair| Area {
            left: pair[0].0 - 1.0,
            top: pair[0].1.min(pair[1].1) - 1.0,
            right: pair[1].0 + 1.0,
            bottom: pair[0].1.max(pair[1].1) + 1.0,
        })
        .collect();
    let levels: Vec<(String, f64, &str)> = trace
        .thresholds
        .levels()
        .into_iter()
        .map(|(name, level_a)| {
            let class = match name {
                "stays in above" => "level dashes",
                "coil limit" | "pulls in at" => "level",
                _ => "level dots",
            };
            let label = format!("{name} {}", amps(level_a));
            (label, scale.place(level_a * 1e3), class)
        })
        .collect();
    // A label must not cover another level either.
    taken.extend(levels.iter().map(|&(_, y, _)| Area {
        left: LEFT,
        top: y - 0.5,
        right: WIDE - EDGE,
        bottom: y + 0.5,
    }));
    let mut labels = Vec::new();
    // A label above the whole drawing has only one possible place, so it goes first.
    let (above, inside): (Vec<_>, Vec<_>) = levels.iter().partition(|level| level.1 < panel.top);
    for (label, y, _) in above.into_iter().chain(inside) {
        if *y < panel.top {
            let label = format!("{label}, above this");
            let area = Area {
                left: WIDE - EDGE - width(&label),
                top: panel.top,
                right: WIDE - EDGE,
                bottom: panel.top + LETTER,
            };
            // Leaves some space below it.
            taken.push(Area {
                bottom: panel.top + LINE + 2.0,
                ..area
            });
            labels.push((label, area));
        } else if let Some(area) = freest(places(label, *y, columns, panel), &taken) {
            taken.push(area);
            labels.push((label.clone(), area));
        }
    }
    let ten_v = 10e-3 * trace.coil_ohm;
    let name = format!(
        "coil current, mA ({:.0} ohm: 10 mA at {ten_v:.1} V)",
        trace.coil_ohm
    );
    html! {
        (frame(columns, panel, &name, scale))
        @for (_, y, class) in levels.iter().filter(|level| level.1 >= panel.top) {
            @for column in columns {
                line class=(class) x1=(number(column.time.places.0))
                    x2=(number(column.time.places.1)) y1=(number(*y)) y2=(number(*y)) {}
            }
        }
        @for points in &curves { (curve(points)) }
        @for (label, area) in &labels {
            text class="halo" text-anchor="end" x=(number(area.right))
                y=(number(area.bottom - 2.0)) { (label) }
        }
    }
}

/// Possible places for the label of a level: close above or below it, from the right.
fn places(label: &str, y: f64, columns: &[Column<'_>], panel: Panel) -> Vec<Area> {
    let wide = width(label);
    let mut places = Vec::new();
    for column in columns.iter().rev() {
        let (left, right) = column.time.places;
        for step in 0_u8..24 {
            let right = right - 2.0 - 8.0 * f64::from(step);
            if right - wide < left + 2.0 {
                break;
            }
            for top in [y - LETTER - 1.5, y + 1.5] {
                let bottom = top + LETTER;
                if top >= panel.top - 2.0 && bottom <= panel.bottom {
                    places.push(Area {
                        left: right - wide,
                        top,
                        right,
                        bottom,
                    });
                }
            }
        }
    }
    places
}

fn armature_panel(columns: &[Column<'_>], panel: Panel) -> Markup {
    let scale = Scale::new((0.0, 1.0), (panel.bottom, panel.top));
    html! {
        text class="name halo" x=(LEFT) y=(number(panel.top - 6.0)) { "armature and contact" }
        @for (value, name) in [(0.0, "out"), (1.0, "in")] {
            text class="quiet" text-anchor="end" x=(number(LEFT - 5.0))
                y=(number(scale.place(value) + 4.0)) { (name) }
            @for column in columns {
                line class="grid" x1=(number(column.time.places.0))
                    x2=(number(column.time.places.1)) y1=(number(scale.place(value)))
                    y2=(number(scale.place(value))) {}
            }
        }
        @for column in columns { (curve(&points(column, scale, |s| s.position))) }
    }
}

/// A bar while the contact is closed, a line while it is open.
fn contact_bar(columns: &[Column<'_>], samples: &[Sample], bar: Panel) -> Markup {
    let states: Vec<(f64, bool)> = samples
        .iter()
        .map(|sample| sample.at_s)
        .zip(contact(samples))
        .collect();
    let middle = f64::midpoint(bar.top, bar.bottom);
    html! {
        text class="quiet" text-anchor="end" x=(number(LEFT - 5.0)) y=(number(middle + 4.0)) {
            "contact"
        }
        @for column in columns {
            @let inside: Vec<(f64, bool)> = states
                .iter()
                .copied()
                .filter(|state| column.stretch.covers(state.0))
                .collect();
            @for run in inside.chunk_by(|a, b| a.1 == b.1) {
                @let from = column.time.place(run[0].0);
                @let next = inside.iter().find(|s| s.0 > run[run.len() - 1].0);
                @let to = column.time.place(next.map_or(run[run.len() - 1].0, |s| s.0));
                @let word = if run[0].1 { "closed" } else { "open" };
                @if run[0].1 {
                    rect class="tint" x=(number(from)) y=(number(bar.top))
                        width=(number(to - from)) height=(number(bar.bottom - bar.top)) {}
                    @for y in [bar.top, bar.bottom] {
                        line class="curve" x1=(number(from)) x2=(number(to)) y1=(number(y))
                            y2=(number(y)) {}
                    }
                } @else {
                    line class="curve" x1=(number(from)) x2=(number(to)) y1=(number(middle))
                        y2=(number(middle)) {}
                }
                @if to - from > width(word) + 8.0 {
                    text class={ @if !run[0].1 { "halo" } } text-anchor="middle"
                        x=(number(f64::midpoint(from, to))) y=(number(middle + 4.0)) { (word) }
                }
            }
        }
    }
}
