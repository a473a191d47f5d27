//! One axis of numbers: the margin as a curve, what works shaded.

use maud::{Markup, html};

use crate::chain::Verdict;

use super::{Map, is_safe, word};
use crate::picture::labels::{Area, freest, on_one_line};
use crate::picture::line::path;
use crate::picture::look::{
    EDGE, LETTER, LINE, WIDE, document, heading, key, mark, number, shade, width,
};
use crate::picture::scale::{Scale, outward, said, ticks};

/// Left edge of the plot.
const LEFT: f64 = 52.0;

/// Height of the plot.
const HIGH: f64 = 200.0;

/// Height of the strip with the verdicts.
const STRIP: f64 = 16.0;

/// Times longer than the shortest that a step of the axis is when it is drawn on a logarithmic scale.
const UNEVEN: f64 = 8.0;

/// What is said of the zero line.
const ZERO: &str = "no margin left";

pub(super) fn svg(map: &Map, values: &[f64]) -> String {
    let (head, y) = heading(&map.title, &map.summary());
    let right = WIDE - EDGE - 6.0;
    let xs = places(values, LEFT + 8.0, right - 8.0);
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
    let regions = regions(map, &xs, right);
    let body = html! {
        (head)
        @for region in &regions {
            @let wide = region.right - region.left;
            (shade(region.verdict, region.left, strip, wide, STRIP))
            @if region.verdict == Verdict::Go {
                (shade(region.verdict, region.left, top, wide, HIGH))
            } @else {
                g class="faint" { (shade(region.verdict, region.left, top, wide, HIGH)) }
            }
            @let name = word(region.verdict);
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
                    None => {
                        (mark(cell.verdict, xs[index], zero_y))
                        text class="halo" text-anchor="middle" x=(number(xs[index]))
                            y=(number(zero_y - 8.0)) { "?" }
                    },
                }
            }
        }
        (zero_label(&points, &xs, zero_y, right))
        (axis_labels(map, &xs, bottom, right))
        (key(EDGE, bottom + 3.0 * LINE + 14.0))
    };
    document(
        &map.title,
        &map.described(),
        bottom + 3.0 * LINE + 24.0,
        &body,
    )
}

/// Where the values stand: to scale, or by their logarithm where their steps differ much.
fn places(values: &[f64], left: f64, right: f64) -> Vec<f64> {
    let steps: Vec<f64> = values.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let longest = steps.iter().copied().fold(0.0, f64::max);
    let shortest = steps.iter().copied().fold(f64::INFINITY, f64::min);
    let by_logarithm = values[0] > 0.0 && longest > UNEVEN * shortest;
    let shown: Vec<f64> = values
        .iter()
        .map(|value| if by_logarithm { value.ln() } else { *value })
        .collect();
    let scale = Scale::new((shown[0], shown[shown.len() - 1]), (left, right));
    shown.iter().map(|&value| scale.place(value)).collect()
}

/// Neighbours of one verdict.
struct Region {
    verdict: Verdict,
    left: f64,
    right: f64,
}

/// Where one verdict ends and the next begins: where the margin passes zero if that parts them, else
/// halfway between the values.
fn regions(map: &Map, xs: &[f64], right: f64) -> Vec<Region> {
    let mut regions: Vec<Region> = Vec::new();
    for (index, cell) in map.cells.iter().enumerate() {
        if let Some(last) = regions.last_mut() {
            if last.verdict == cell.verdict {
                continue;
            }
            let before = &map.cells[index - 1];
            let (x0, x1) = (xs[index - 1], xs[index]);
            let part = match (before.margin, cell.margin) {
                (Some(m0), Some(m1))
                    if m0 * m1 < 0.0 && is_safe(before.verdict) != is_safe(cell.verdict) =>
                {
                    m0 / (m0 - m1)
                }
                _ => 0.5,
            };
            last.right = x0 + part * (x1 - x0);
        }
        regions.push(Region {
            verdict: cell.verdict,
            left: regions.last().map_or(LEFT, |last| last.right),
            right,
        });
    }
    regions
}

/// The edge of what works.
fn edges(regions: &[Region], top: f64, bottom: f64) -> Markup {
    html! {
        @for pair in regions.windows(2) {
            @if is_safe(pair[0].verdict) != is_safe(pair[1].verdict) {
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

/// What the zero line means, where the curve leaves room for it.
fn zero_label(points: &[Option<(f64, f64)>], xs: &[f64], zero_y: f64, right: f64) -> Markup {
    let mut taken: Vec<Area> = points
        .iter()
        .flatten()
        .collect::<Vec<_>>()
        .windows(2)
        .flat_map(|pair| {
            // The stretch between two points in eighths: its box alone would take too much.
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
