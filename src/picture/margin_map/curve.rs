//! One axis of numbers: the margin as a curve, what works shaded.

use maud::{Markup, html};

use crate::link::Verdict;

use super::{Map, may_be_built, word};
use crate::picture::document::Picture;
use crate::picture::labels::{Area, freest, on_one_line};
use crate::picture::line::path;
use crate::picture::look::{EDGE, LETTER, LINE, WIDE, heading, key, mark, number, shade, width};
use crate::picture::scale::{Scale, outward, said, ticks};

/// Left edge of the plot.
const LEFT: f64 = 52.0;

/// Height of the plot.
const HIGH: f64 = 200.0;

/// Height of the strip with the verdicts.
const STRIP: f64 = 16.0;

/// A step this many times the shortest makes the axis logarithmic.
const UNEVEN: f64 = 8.0;

/// Label of the zero line.
const ZERO: &str = "no margin left";

pub(super) fn svg(map: &Map, values: &[f64]) -> Picture {
    let (head, y) = heading(&map.title, &map.summary());
    let right = WIDE - EDGE - 6.0;
    let across = Across::new(values, LEFT + 8.0, right - 8.0);
    let xs: Vec<f64> = values.iter().map(|&value| across.place(value)).collect();
    let strip = y + 10.0;
    let top = strip + STRIP;
    let bottom = top + HIGH;
    let margins = map.cells.iter().filter_map(|cell| cell.margin);
    let (least, most) = margins.fold((-0.05_f64, 0.05_f64), |(least, most), margin| {
        (least.min(margin), most.max(margin))
    });
    // Room for the marks at both ends.
    let scale = Scale::new(outward(105.0 * least, 105.0 * most, 6.0), (bottom, top));
    let zero_y = scale.place(0.0);
    let points: Vec<Option<(f64, f64)>> = xs
        .iter()
        .zip(&map.cells)
        .map(|(&x, cell)| cell.margin.map(|margin| (x, scale.place(100.0 * margin))))
        .collect();
    let regions = regions(map, &across, &xs, right);
    let body = html! {
        (head)
        @for region in &regions {
            @let wide = region.right - region.left;
            @if let Some(verdict) = region.verdict {
                (shade(verdict, region.left, strip, wide, STRIP))
                @if verdict == Verdict::Go {
                    (shade(verdict, region.left, top, wide, HIGH))
                } @else {
                    g class="faint" { (shade(verdict, region.left, top, wide, HIGH)) }
                }
            }
            @let name = region.verdict.map_or("no answer", word);
            @if wide > width(name) + 6.0 {
                text class="halo name" text-anchor="middle" y=(number(strip + STRIP - 4.0))
                    x=(number(f64::midpoint(region.left, region.right))) { (name) }
            }
        }
        (value_axis(scale, right))
        (edges(&regions, strip, bottom))
        @for run in points.split(Option::is_none).filter(|run| run.len() > 1) {
            path class="curve" d=(path(&run.iter().filter_map(|&point| point).collect::<Vec<_>>())) {}
        }
        @for (index, point) in points.iter().enumerate() {
            @let cell = &map.cells[index];
            g {
                title { (crate::picture::look::plain(&map.told(index))) }
                @match point {
                    Some((x, y)) => (mark(cell.verdict, *x, *y)),
                    None => text class="halo" text-anchor="middle" x=(number(xs[index]))
                        y=(number(zero_y - 8.0)) { "?" },
                }
            }
        }
        (zero_label(&points, &xs, zero_y, right))
        (axis_labels(map, &xs, bottom, right))
        (key(EDGE, bottom + 3.0 * LINE + 14.0))
    };
    Picture::new(
        &map.title,
        &map.described(),
        bottom + 3.0 * LINE + 24.0,
        body,
    )
}

/// Places of the values: to scale, or logarithmic where their steps differ much.
struct Across {
    by_logarithm: bool,
    scale: Scale,
}

impl Across {
    fn new(values: &[f64], left: f64, right: f64) -> Self {
        let steps: Vec<f64> = values.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let longest = steps.iter().copied().fold(0.0, f64::max);
        let shortest = steps.iter().copied().fold(f64::INFINITY, f64::min);
        let by_logarithm = values[0] > 0.0 && longest > UNEVEN * shortest;
        let shown = |value: f64| if by_logarithm { value.ln() } else { value };
        let ends = (shown(values[0]), shown(values[values.len() - 1]));
        Self {
            by_logarithm,
            scale: Scale::new(ends, (left, right)),
        }
    }

    fn place(&self, value: f64) -> f64 {
        let shown = if self.by_logarithm { value.ln() } else { value };
        self.scale.place(shown)
    }
}

/// A stretch of neighbours with the same verdict.
struct Region {
    /// `None`: no answer.
    verdict: Option<Verdict>,
    left: f64,
    right: f64,
}

/// Where one verdict ends and the next begins: at a known change, else where the margin passes zero between
/// them, else halfway between the values.
fn regions(map: &Map, across: &Across, xs: &[f64], right: f64) -> Vec<Region> {
    let mut starts: Vec<(f64, Option<Verdict>)> = vec![(LEFT, map.cells[0].known())];
    for (index, pair) in map.cells.windows(2).enumerate() {
        let (before, after) = (pair[0].known(), pair[1].known());
        if before == after {
            continue;
        }
        let turns: Vec<_> = map
            .turns
            .iter()
            .filter(|turn| turn.before == index)
            .map(|turn| (across.place(turn.at), Some(turn.to)))
            .collect();
        if turns.last().is_some_and(|(_, to)| *to == after) {
            starts.extend(turns);
            continue;
        }
        let part = match (pair[0].margin, pair[1].margin) {
            (Some(m0), Some(m1))
                if m0 * m1 < 0.0 && may_be_built(before) != may_be_built(after) =>
            {
                m0 / (m0 - m1)
            }
            _ => 0.5,
        };
        let (x0, x1) = (xs[index], xs[index + 1]);
        starts.push((x0 + part * (x1 - x0), after));
    }
    let ends = starts.iter().skip(1).map(|(x, _)| *x).chain([right]);
    starts
        .iter()
        .zip(ends)
        .map(|(&(left, verdict), right)| Region {
            verdict,
            left,
            right,
        })
        .collect()
}

/// The edge of what works.
fn edges(regions: &[Region], top: f64, bottom: f64) -> Markup {
    html! {
        @for pair in regions.windows(2) {
            @if may_be_built(pair[0].verdict) != may_be_built(pair[1].verdict) {
                line class="bold" x1=(number(pair[1].left)) x2=(number(pair[1].left))
                    y1=(number(top)) y2=(number(bottom)) {}
            }
        }
    }
}

fn value_axis(scale: Scale, right: f64) -> Markup {
    let (values, step) = ticks(scale.values.0, scale.values.1, 6.0);
    html! {
        @for value in values {
            @let y = scale.place(value);
            text class="quiet" text-anchor="end" x=(number(LEFT - 5.0)) y=(number(y + 4.0)) {
                @if value > 0.0 { "+" } (said(value, step)) " %"
            }
            line class={ @if value == 0.0 { "level wide" } @else { "grid" } } x1=(LEFT)
                x2=(number(right)) y1=(number(y)) y2=(number(y)) {}
        }
    }
}

/// The label of the zero line, where the curve leaves room for it.
fn zero_label(points: &[Option<(f64, f64)>], xs: &[f64], zero_y: f64, right: f64) -> Markup {
    let mut taken: Vec<Area> = points
        .iter()
        .flatten()
        .collect::<Vec<_>>()
        .windows(2)
        .flat_map(|pair| {
            // Takes the stretch between two points in eighths: one box around it would block too much.
            let (a, b) = (*pair[0], *pair[1]);
            (0_u8..8).map(move |n| {
                let at = |n: u8| {
                    let part = f64::from(n) / 8.0;
                    (a.0 + part * (b.0 - a.0), a.1 + part * (b.1 - a.1))
                };
                let (from, to) = (at(n), at(n + 1));
                Area {
                    left: from.0 - 4.0,
                    top: from.1.min(to.1) - 4.0,
                    right: to.0 + 4.0,
                    bottom: from.1.max(to.1) + 4.0,
                }
            })
        })
        .collect();
    taken.extend(points.iter().zip(xs).map(|(point, &x)| {
        let y = point.map_or(zero_y, |(_, y)| y);
        Area {
            left: x - 6.0,
            top: y - if point.is_some() { 6.0 } else { 18.0 },
            right: x + 6.0,
            bottom: y + 6.0,
        }
    }));
    let wide = width(ZERO);
    let candidates = (0_u8..30).flat_map(|step| {
        let left = LEFT + 4.0 + 8.0 * f64::from(step);
        [zero_y - LETTER - 3.0, zero_y + 3.0].map(|top| Area {
            left,
            top,
            right: left + wide,
            bottom: top + LETTER,
        })
    });
    let place = freest(candidates.filter(|area| area.right < right), &taken);
    html! {
        @if let Some(area) = place {
            text class="halo" x=(number(area.left)) y=(number(area.bottom - 1.5)) { (ZERO) }
        }
    }
}

fn axis_labels(map: &Map, xs: &[f64], bottom: f64, right: f64) -> Markup {
    let labels: Vec<String> = (0..xs.len()).map(|index| map.x.label(index)).collect();
    let spots: Vec<(f64, f64)> = xs
        .iter()
        .zip(&labels)
        .map(|(&x, label)| (x, width(label)))
        .collect();
    html! {
        line class="axis" x1=(LEFT) x2=(number(right)) y1=(number(bottom)) y2=(number(bottom)) {}
        @for ((x, label), keep) in xs.iter().zip(&labels).zip(on_one_line(&spots, 4.0)) {
            line class="axis" x1=(number(*x)) x2=(number(*x)) y1=(number(bottom))
                y2=(number(bottom + 3.0)) {}
            @if keep {
                text class="quiet" text-anchor="middle" x=(number(*x))
                    y=(number(bottom + LINE + 2.0)) { (label) }
            }
        }
        text x=(LEFT) y=(number(bottom + 2.0 * LINE + 4.0)) {
            (crate::picture::look::cut(&map.x.head(), 50))
        }
    }
}
