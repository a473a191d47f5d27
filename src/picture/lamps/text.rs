//! Voltage at the lamps in characters: one lamp per line, volts across.
//!
//! ```text
//!    1   2.6 m  ///|    ---o---             |///  12.25 V
//!    2   5.2 m  ///|   ---o---              |///  12.09 V
//!               8     10    12    14     16 V
//! ```

use super::{Strip, inside, run_said, window_said};
use crate::picture::characters::{Ink, Page, Row, axis};
use crate::picture::look::kept;
use crate::picture::scale::{Scale, whole};
use crate::site::Site;
use crate::text::volts;

/// Columns before the picture, and after it.
const BESIDE: (usize, usize) = (13, 10);

/// Most lamps of a run that get a line each; of a longer run, half as many at either end.
const MOST: usize = 16;
const ENDS: usize = 6;

/// Voltage at the lamps of every run in characters, no line wider than `columns`; `colour` adds a terminal's
/// colour sequences.
pub fn lamps_text(site: &Site, columns: usize, colour: bool) -> String {
    let mut page = Page::new(columns, colour);
    page.paragraph(0, &format!("{}: volts at the lamps", site.name), Ink::Bold);
    let mut any = false;
    for zone in site.zones_in_order() {
        let trunks = site[zone].trunks.iter();
        for trunk in trunks.filter(|trunk| !trunk.lamps.is_empty()) {
            any = true;
            page.blank();
            let name = format!("{}: {}", site[zone].name, run_said(trunk));
            page.paragraph(0, &name, Ink::Bold);
            match Strip::of(site, zone, trunk) {
                Ok(strip) => drawn(&mut page, &strip),
                Err(browns_out) => page.paragraph(2, &browns_out, Ink::Plain),
            }
        }
    }
    if !any {
        page.paragraph(0, "no lamps in this yard", Ink::Plain);
        return page.finished();
    }
    page.blank();
    let signs = [
        "o lit, nominal mains or supply",
        "- from low to high",
        "| window",
        "/ outside it",
        "X a lamp outside it",
    ];
    page.paragraph(0, &signs.map(kept).join(", "), Ink::Plain);
    page.finished()
}

fn drawn(page: &mut Page, strip: &Strip) {
    let window = format!("window {}", window_said(strip.least_v, strip.most_v));
    page.paragraph(2, &window, Ink::Plain);
    let right = page.columns - BESIDE.1;
    let scale = Scale::new(strip.axis_v, (BESIDE.0 as f64, right as f64));
    let count = strip.nominal_v.len();
    for lamp in 0..count {
        if count > MOST && (ENDS..count - ENDS).contains(&lamp) {
            if lamp == ENDS {
                page.paragraph(2, &between(strip), Ink::Plain);
            }
            continue;
        }
        page.row(&row(strip, lamp, scale, right));
    }
    page.row(&axis(scale, "V", page.columns));
}

/// Describes the lamps left out.
fn between(strip: &Strip) -> String {
    let inner = &strip.nominal_v[ENDS..strip.nominal_v.len() - ENDS];
    let least = inner.iter().copied().fold(f64::INFINITY, f64::min);
    let most = inner.iter().copied().fold(0.0, f64::max);
    format!(
        "... {} more, {} to {} V",
        inner.len(),
        volts(most),
        volts(least)
    )
}

fn row(strip: &Strip, lamp: usize, scale: Scale, right: usize) -> Row {
    let mut row = Row::default();
    row.put(0, &format!("{:>4}", lamp + 1), Ink::Plain);
    if let Some(distance_m) = strip.distances_m.get(lamp) {
        row.put(5, &format!("{distance_m:>5.1} m"), Ink::Faint);
    }
    let column = |volts: f64| whole(scale.place(volts)).clamp(BESIDE.0, right);
    if let Some(least_v) = strip.least_v {
        row.fill(BESIDE.0..column(least_v), '/', Ink::Faint);
        row.put(column(least_v), "|", Ink::Plain);
    }
    if let Some(most_v) = strip.most_v {
        row.fill(column(most_v) + 1..right + 1, '/', Ink::Faint);
        row.put(column(most_v), "|", Ink::Plain);
    }
    let [low_v, high_v] = strip.reach_v(lamp);
    let nominal_v = strip.nominal_v[lamp];
    row.fill(column(low_v)..column(high_v) + 1, '-', Ink::Plain);
    let letter = if inside(nominal_v, strip.least_v, strip.most_v) {
        "o"
    } else {
        "X"
    };
    row.put(column(nominal_v), letter, Ink::Lit);
    row.put(right + 2, &format!("{} V", volts(nominal_v)), Ink::Plain);
    row
}
