//! The season in plain characters: one line per hour, a few nights per column.

use std::ops::Range;

use chrono::{Datelike, Days};

use super::notes::notes;
use super::{Group, clock_said, groups, wall};
use crate::picture::characters::{Ink, Page, Row};
use crate::schedule::Sky;
use crate::season::Season;
use crate::site::Site;

/// Columns before the picture.
const LEFT: usize = 6;

/// A cell lit for at least the first fraction counts as lit; for at least the second, as partly lit.
const LIT: (f64, f64) = (0.6, 0.1);

/// Lit, partly lit, day, twilight, night.
const LETTERS: [char; 5] = ['#', '+', ' ', '.', ':'];

/// The season as strips of characters, no line wider than `columns`; `colour` adds a terminal's colour
/// sequences. Letters alone tell everything.
pub fn season_strip(
    site: &Site,
    season: &Season,
    skies: &[Sky],
    columns: usize,
    colour: bool,
) -> String {
    let mut page = Page::new(columns, colour);
    let wide = (page.columns - LEFT - 1).min(skies.len()).max(1);
    let cells: Vec<Range<usize>> = (0..wide)
        .map(|n| n * skies.len() / wide..(n + 1) * skies.len() / wide)
        .collect();
    let title = format!(
        "{}, {} to {}: when it is lit, noon to noon",
        site.name, season.from, season.to
    );
    page.paragraph(0, &title, Ink::Bold);
    for group in groups(site, season, skies) {
        page.blank();
        let name = format!("{} ({})", group.name(site), group.how(site));
        page.paragraph(0, &name, Ink::Bold);
        for hour in 0..24 {
            page.row(&hour_row(site, (&group, skies), &cells, hour));
        }
        page.row(&months(season, &cells));
        for note in notes(site, season, &group) {
            page.paragraph(0, &note.said(season.from), Ink::Plain);
        }
    }
    page.blank();
    for (evening, change) in &season.clock_changes {
        let said = format!(
            "clocks change in the night of {evening}: {} to {}",
            change.before.abbreviation, change.after.abbreviation
        );
        page.paragraph(0, &said, Ink::Plain);
    }
    let key = "# lit, + partly lit; not lit: blank day, . twilight, : night";
    page.paragraph(0, key, Ink::Plain);
    page.finished()
}

fn hour_row(
    site: &Site,
    (group, skies): (&Group, &[Sky]),
    cells: &[Range<usize>],
    hour: u32,
) -> Row {
    let from = f64::from(hour);
    let mut row = Row::default();
    if hour.is_multiple_of(6) {
        row.put(0, &clock_said(from), Ink::Plain);
    }
    for (column, cell) in cells.iter().enumerate() {
        let letter = letter(site, &group.lit[cell.clone()], &skies[cell.clone()], from);
        let ink = if is_lit(letter) { Ink::Lit } else { Ink::Faint };
        row.fill(LEFT + column..LEFT + column + 1, letter, ink);
    }
    row
}

fn is_lit(letter: char) -> bool {
    LETTERS[..2].contains(&letter)
}

/// The letter for an hour of some evenings.
fn letter(site: &Site, lit: &[Vec<(f64, f64)>], skies: &[Sky], from: f64) -> char {
    let to = from + 1.0;
    let lit_h: f64 = lit
        .iter()
        .flatten()
        .map(|(on, off)| (off.min(to) - on.max(from)).max(0.0))
        .sum();
    let share = lit_h / lit.len().max(1) as f64;
    if share >= LIT.0 {
        return LETTERS[0];
    }
    if share >= LIT.1 {
        return LETTERS[1];
    }
    let Some(sky) = skies.get(skies.len() / 2) else {
        return LETTERS[2];
    };
    let middle = from + 0.5;
    let brighter = |mark: usize| {
        let (sets, rises) = sky.brighter[mark];
        let at = |at| wall(site, sky.evening.date, at);
        middle <= at(sets) || (rises < sky.evening.ends && middle >= at(rises))
    };
    if brighter(0) {
        LETTERS[2]
    } else if brighter(3) {
        LETTERS[3]
    } else {
        LETTERS[4]
    }
}

/// First letters of the months, where a month begins and there is room.
fn months(season: &Season, cells: &[Range<usize>]) -> Row {
    let mut row = Row::default();
    let mut before = None;
    for (column, cell) in cells.iter().enumerate() {
        let date = season.from + Days::new(cell.start as u64);
        let month = (date.year(), date.month());
        if before == Some(month) {
            continue;
        }
        let label = date.format("%b").to_string();
        let column = LEFT + column;
        let long = row.end();
        // The first month may have few evenings: it leaves the space to the next.
        let few = before.is_none() && date.day() > 20;
        if !few && (long == 0 || long < column) && column + 3 <= LEFT + cells.len() {
            row.put(column, &label, Ink::Plain);
        }
        before = Some(month);
    }
    row
}
