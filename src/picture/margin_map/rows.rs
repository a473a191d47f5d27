//! One axis of things: one bar each.

use maud::html;

use super::Map;
use crate::picture::document::Picture;
use crate::picture::look::{
    EDGE, LINE, WIDE, broken_in, heading, key, mark, number, plain, shade, width,
};
use crate::picture::scale::Scale;

/// Widest column of names.
const NAMES: f64 = 150.0;

/// Room for `+123 %` on either side of a bar.
const PERCENT: f64 = 46.0;

pub(super) fn svg(map: &Map) -> Picture {
    let (head, y) = heading(&map.title, &map.summary());
    let names: Vec<Vec<String>> = (0..map.x.len())
        .map(|index| broken_in(&map.x.said(index), NAMES, 3))
        .collect();
    let left = EDGE + 10.0 + names.iter().flatten().map(|n| width(n)).fold(0.0, f64::max);
    let (least, most) = map
        .cells
        .iter()
        .filter_map(|cell| cell.margin)
        .fold((-0.05_f64, 0.05_f64), |(a, b), m| (a.min(m), b.max(m)));
    let scale = Scale::new(
        (least, most),
        (left + 16.0 + PERCENT, WIDE - EDGE - PERCENT),
    );
    let zero = scale.place(0.0);
    let top = y + 10.0 + LINE;
    let mut bottom = top;
    let mut rows = Vec::new();
    for name in &names {
        let high = 10.0 + LINE * name.len().max(1) as f64;
        rows.push((bottom, high));
        bottom += high;
    }
    let body = html! {
        (head)
        text class="name" x=(EDGE) y=(number(top - 4.0)) {
            (crate::picture::look::cut(&plain(&map.x.name), 24))
        }
        text class="quiet" text-anchor="middle" x=(number(zero)) y=(number(top - 4.0)) { "0 %" }
        @for (index, (cell, &(row, high))) in map.cells.iter().zip(&rows).enumerate() {
            @let middle = row + high / 2.0;
            g {
                title { (plain(&map.told(index))) }
                @if let Some(verdict) = cell.known() {
                    (shade(verdict, left, row, WIDE - EDGE - left, high))
                    (mark(verdict, left + 9.0, middle))
                }
                line class="grid" x1=(EDGE) x2=(number(WIDE - EDGE)) y1=(number(row))
                    y2=(number(row)) {}
                @for (line, name) in names[index].iter().enumerate() {
                    text x=(EDGE) y=(number(row + 2.0 + LINE * (line + 1) as f64)) { (name) }
                }
                @let end = cell.margin.map_or(zero, |margin| scale.place(margin));
                @if cell.margin.is_some() {
                    rect class="solid" x=(number(zero.min(end))) y=(number(middle - 3.0))
                        width=(number((end - zero).abs())) height="6" {}
                }
                @if end < zero {
                    text class="halo" text-anchor="end" x=(number(end - 4.0))
                        y=(number(middle + 4.0)) { (cell.percent()) }
                } @else {
                    text class="halo" x=(number(end + 4.0)) y=(number(middle + 4.0)) {
                        @if cell.margin.is_some() { (cell.percent()) } @else { "?" }
                    }
                }
            }
        }
        line class="level wide" x1=(number(zero)) x2=(number(zero)) y1=(number(top))
            y2=(number(bottom)) {}
        (key(EDGE, bottom + LINE + 4.0))
    };
    Picture::new(&map.title, &map.described(), bottom + LINE + 14.0, body)
}
