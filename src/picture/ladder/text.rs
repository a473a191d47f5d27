//! The ladders in characters: a voltage axis across, one row per state of the mains.
//!
//! ```text
//!   off      o_~~~~~~~~~~--------                        xxxxxxxx
//!   low      ___~~~~~~~~~--------    |     ow            xxxxxxxx
//!   nominal  ___~~~~~~~~~--------     |        o w       xxxxxxxx
//!            0         5         10        15        20 V
//! ```

use super::{Band, Shown, shown};
use crate::link::LinkJudgement;
use crate::picture::characters::{Ink, Page, Row, axis};
use crate::picture::look::kept;
use crate::picture::scale::{Scale, whole};
use crate::site::{LinkId, Site};
use crate::text::volts;

/// Columns before the picture.
const LEFT: usize = 11;

/// A letter per band, from the bottom; where the relay pulls in, the paper stays blank.
const LETTERS: [char; 5] = ['_', '~', '-', ' ', 'x'];

/// The ladders of some links in characters, no line wider than `columns`; `colour` adds a terminal's colour
/// sequences.
pub fn ladder_text(
    site: &Site,
    links: &[(LinkId, &LinkJudgement)],
    columns: usize,
    colour: bool,
) -> String {
    let mut page = Page::new(columns, colour);
    let title = format!(
        "{}: what the coil of each link gets, needs and bears",
        site.name
    );
    page.paragraph(0, &title, Ink::Bold);
    if links.is_empty() {
        page.paragraph(0, "no pilot wire in this yard", Ink::Plain);
        return page.finished();
    }
    for (id, judgement) in links {
        page.blank();
        ladder(&mut page, &shown(site, *id, judgement));
    }
    page.blank();
    let signs = [
        "o coil at dusk",
        "w coil after hours",
        "| what it needs then",
    ];
    page.paragraph(0, &signs.map(kept).join(", "), Ink::Plain);
    page.finished()
}

fn ladder(page: &mut Page, shown: &Shown) {
    page.paragraph(0, &shown.name, Ink::Bold);
    page.paragraph(2, &shown.heading, Ink::Bold);
    page.paragraph(2, &shown.about, Ink::Plain);
    let scale = Scale::new(
        (0.0, shown.most_v),
        (LEFT as f64, (page.columns - 3) as f64),
    );
    for column in &shown.columns {
        let mut row = Row::default();
        row.put(2, column.name, Ink::Plain);
        bands(&mut row, &shown.bands, scale);
        let mut mark =
            |volts: f64, letter: &str, ink| row.put(whole(scale.place(volts)), letter, ink);
        if let Some((warm_v, needed_v)) = column.warm {
            mark(needed_v, "|", Ink::Bold);
            mark(warm_v, "w", Ink::Lit);
        }
        mark(column.dusk_v, "o", Ink::Lit);
        page.row(&row);
    }
    page.row(&axis(scale, "V", page.columns));
    for (band, letter) in shown.bands.iter().zip(LETTERS).rev() {
        page.paragraph(2, &format!("{letter} {}", band.name), Ink::Plain);
    }
    for column in &shown.columns {
        let supply = if column.warm.is_some() {
            shown.supply
        } else {
            "master"
        };
        let mut said = match column.warm {
            Some(_) => format!("{} {supply}: {} V", column.name, volts(column.dusk_v)),
            None => format!("{supply} {}: {} V", column.name, volts(column.dusk_v)),
        };
        if let Some((warm_v, needed_v)) = column.warm {
            said = format!(
                "{said} at dusk; after hours {} V, needs {} V",
                volts(warm_v),
                volts(needed_v)
            );
        }
        page.paragraph(2, &said, Ink::Plain);
    }
}

/// Writes each band's letter from where the band begins.
fn bands(row: &mut Row, bands: &[Band], scale: Scale) {
    for (band, letter) in bands.iter().zip(LETTERS) {
        let columns = whole(scale.place(band.from_v))..whole(scale.place(band.to_v)) + 1;
        row.fill(columns, letter, Ink::Faint);
    }
}
