//! The season in plain characters: an hour a line, a few nights a column.

use std::ops::Range;

use chrono::{Datelike, Days};

use super::notes::notes;
use super::{Group, clock_said, groups, wall};
use crate::picture::look::plain;
use crate::schedule::Sky;
use crate::season::Season;
use crate::site::Site;
use crate::wording::wrapped;

/// Columns before the picture.
const LEFT: usize = 6;

/// Narrowest and widest picture [columns].
const COLUMNS: Range<usize> = 40..200;

/// Lit for at least so much of a cell, it counts as lit; for at least so much, as partly lit.
const LIT: (f64, f64) = (0.6, 0.1);

/// Lit, partly lit, day, twilight, night.
const LETTERS: [char; 5] = ['#', '+', ' ', '.', ':'];

/// What tells lit cells from the sky where a terminal shows colours: bold yellow, faint, and back.
const COLOURS: [&str; 3] = ["\u{1b}[1;33m", "\u{1b}[2m", "\u{1b}[0m"];

/// The season as strips of characters, no line wider than `columns`; `colour` puts in the sequences that
/// a terminal takes for colours. Letters alone say everything.
pub fn season_strip(
    site: &Site,
    season: &Season,
    skies: &[Sky],
    columns: usize,
    colour: bool,
) -> String {
    let columns = columns.clamp(COLUMNS.start, COLUMNS.end);
    let mut out = String::new();
    let wide = (columns - LEFT - 1).min(skies.len()).max(1);
    let cells: Vec<Range<usize>> = (0..wide)
        .map(|n| n * skies.len() / wide..(n + 1) * skies.len() / wide)
        .collect();
    let paragraph = |out: &mut String, text: &str| {
        for line in wrapped(&plain(text), columns).lines() {
            out.push_str(line);
            out.push('\n');
        }
    };
    paragraph(
        &mut out,
        &format!(
            "{}, {} to {}: when it is lit, noon to noon",
            site.name, season.from, season.to
        ),
    );
    for group in groups(site, season, skies) {
        out.push('\n');
        paragraph(
            &mut out,
            &format!("{} ({})", group.name(site), group.how(site)),
        );
        for hour in 0..24 {
            line(&mut out, site, (&group, skies), &cells, hour, colour);
        }
        months(&mut out, season, &cells);
        for note in notes(site, season, &group) {
            paragraph(&mut out, &note.said(season.from));
        }
    }
    out.push('\n');
    for (evening, change) in &season.clock_changes {
        paragraph(
            &mut out,
            &format!(
                "clocks change in the night of {evening}: {} to {}",
                change.before.abbreviation, change.after.abbreviation
            ),
        );
    }
    paragraph(
        &mut out,
        "# lit, + partly lit; not lit: blank day, . twilight, : night",
    );
    out
}

fn line(
    out: &mut String,
    site: &Site,
    (group, skies): (&Group, &[Sky]),
    cells: &[Range<usize>],
    hour: u32,
    colour: bool,
) {
    let from = f64::from(hour);
    let label = if hour.is_multiple_of(6) {
        clock_said(from)
    } else {
        String::new()
    };
    let mut text = format!("{label:>5} ");
    let letters: Vec<char> = cells
        .iter()
        .map(|cell| letter(site, &group.lit[cell.clone()], &skies[cell.clone()], from))
        .collect();
    if colour {
        for run in letters.chunk_by(|a, b| is_lit(*a) == is_lit(*b)) {
            text.push_str(COLOURS[usize::from(!is_lit(run[0]))]);
            text.extend(run);
            text.push_str(COLOURS[2]);
        }
        out.push_str(&text);
    } else {
        text.extend(&letters);
        out.push_str(text.trim_end());
    }
    out.push('\n');
}

fn is_lit(letter: char) -> bool {
    LETTERS[..2].contains(&letter)
}

/// The letter of an hour of some evenings.
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

/// First letters of the months, where they begin and there is room.
fn months(out: &mut String, season: &Season, cells: &[Range<usize>]) {
    let mut text = String::new();
    let mut before = None;
    for (column, cell) in cells.iter().enumerate() {
        let date = season.from + Days::new(cell.start as u64);
        let month = (date.year(), date.month());
        if before == Some(month) {
            continue;
        }
        let label = date.format("%b").to_string();
        let column = LEFT + column;
        let long = text.chars().count();
        // The first month may have few evenings: it leaves the room to the next.
        let few = before.is_none() && date.day() > 20;
        if !few && (text.is_empty() || long < column) && column + 3 <= LEFT + cells.len() {
            text.push_str(&" ".repeat(column - long));
            text.push_str(&label);
        }
        before = Some(month);
    }
    out.push_str(&text);
    out.push('\n');
}
