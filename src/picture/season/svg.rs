//! The season as SVG.

use std::fmt::Write;

use chrono::{Datelike, Days};
use maud::{Markup, html};

use super::bands::{Run, edge, outline, runs};
use super::notes::{Note, Sort, notes};
use super::{DAY, Group, clock_said, groups, wall};
use crate::picture::document::{Backdrop, Part, Picture};
use crate::picture::labels::{flags, on_one_line};
use crate::picture::look::{EDGE, Hatch, LETTER, LINE, WIDE, broken, heading, number, width};
use crate::picture::scale::{Scale, whole};
use crate::schedule::Sky;
use crate::season::Season;
use crate::site::Site;

/// Left edge of the panels: hours are to the left of it.
const LEFT: f64 = 42.0;

/// Height of the strip below a panel that shows unusual nights.
const STRIP: f64 = 7.0;

/// Smallest distance between two strokes of the lit area.
const APART: f64 = 4.0;

/// Most notes that are drawn below a panel; the rest are counted.
const MOST_NOTES: usize = 9;

/// Longest season that is divided by months [evenings].
const MONTHS_UP_TO: i64 = 800;

/// The sky from day to night, and the lit area. A copy made by `use` is out of reach of a rule that begins with
/// the picture's own class.
pub(in crate::picture) const STYLE: &str = "\
.pwp-day{fill:#fcfbf7}\
.pwp-civil{fill:#dfe5e6}\
.pwp-nautical{fill:#bcc8cd}\
.pwp-astronomical{fill:#95a5af}\
.pwp-night{fill:#6c7d8b}\
.pwp-rim{stroke:#55645f;stroke-width:.4}\
.pwp .lit{fill:#ffd667;stroke:#3c2f05;stroke-width:.8;stroke-linejoin:round}\
.pwp .seam{stroke:#20302e;stroke-width:1;stroke-dasharray:4 2.5}\
.pwp .bare{fill:none;stroke:none;pointer-events:all}\
.pwp .rest{pointer-events:all}\
.pwp .risk{fill:none;stroke:#8a4b0f;stroke-width:.9}\
.pwp .glow{fill:none;stroke:#3c2f05;stroke-width:.5;stroke-opacity:.55}\
@media screen and (prefers-color-scheme:dark){\
.pwp-day{fill:#4d5f69}\
.pwp-civil{fill:#3a4a53}\
.pwp-nautical{fill:#2b373f}\
.pwp-astronomical{fill:#1d262c}\
.pwp-night{fill:#0d1215}\
.pwp-rim{stroke:#8b9993}\
.pwp .lit{fill:#e9b93c;stroke:#fff3c8}\
.pwp .risk{stroke:#e0a768}\
.pwp .glow{stroke:#3c2f05}\
.pwp .seam{stroke:#e4e8e2}}";

/// Sky classes, from bright to dark.
const BRIGHT: [(&str, &str); 4] = [
    ("pwp-day", "day"),
    ("pwp-civil", "civil twilight"),
    ("pwp-nautical", "nautical"),
    ("pwp-astronomical", "astronomical"),
];

/// The place of one panel.
struct Panel {
    top: f64,
    /// Units per hour.
    hour: f64,
    evenings: usize,
}

impl Panel {
    fn x(&self, evening: f64) -> f64 {
        Scale::new((0.0, self.evenings as f64), (LEFT, WIDE - EDGE)).place(evening)
    }

    fn y(&self, hours: f64) -> f64 {
        self.top + hours * self.hour
    }

    fn bottom(&self) -> f64 {
        self.y(DAY)
    }
}

/// Daylight, twilights and every zone's lit time in a season; `skies` are those of its evenings.
pub fn season_svg(site: &Site, season: &Season, skies: &[Sky]) -> Picture {
    let title = format!("{}, {} to {}", site.name, season.from, season.to);
    let (head, mut y) = heading(
        &title,
        "when it is lit: noon to noon, by the clock on the wall",
    );
    let groups = groups(site, season, skies);
    let hour = match groups.len() {
        1 => 9.0,
        2 => 7.0,
        3..=8 => 5.0,
        _ => 3.0,
    };
    let (seam_labels, end) = seams_said(season, skies.len(), y + 4.0);
    y = end;
    let mut parts = vec![Part {
        drawn: html! { (head) (seam_labels) },
        until: y,
    }];
    let mut described = String::new();
    let mut tops = Vec::new();
    for group in &groups {
        y += 4.0;
        let name = format!("{} ({})", group.name(site), group.how(site));
        let names = broken(&name, WIDE - 2.0 * EDGE);
        let names_top = y;
        y += names.len() as f64 * LINE + 9.0;
        let panel = Panel {
            top: y,
            hour,
            evenings: skies.len(),
        };
        let notes = notes(site, season, group);
        let _ = write!(described, "{} ", said(group, site));
        let strip = panel.bottom() + 2.0;
        let (letters, letters_end) = letters(&panel, &notes, strip + STRIP);
        let (lines, lines_end) = note_lines(&notes, season, letters_end + LINE + 3.0);
        let drawn = html! {
            @for (index, line) in names.iter().enumerate() {
                text class="name" x=(EDGE) y=(number(names_top + (index + 1) as f64 * LINE - 2.0)) {
                    (line)
                }
            }
            (frame(&panel, season))
            @for run in runs(&group.lit) { (band(&panel, &run, group, site, season)) }
            (seams(&panel, season, strip + STRIP))
            (months_bare(&panel, group, site, season))
            (strips(&panel, &notes, season, strip))
            (letters)
            (month_names(&panel, season, letters_end + LETTER))
            (lines)
        };
        parts.push(Part {
            drawn,
            until: lines_end,
        });
        for note in &notes {
            let _ = write!(described, "{}. ", note.said(season.from));
        }
        tops.push(panel.top);
        y = lines_end;
    }
    for (evening, change) in &season.clock_changes {
        let _ = write!(
            described,
            "Clocks change in the night of {evening}, {} to {}. ",
            change.before.abbreviation, change.after.abbreviation
        );
    }
    let (key, end) = key(y + 6.0);
    parts.push(Part {
        drawn: key,
        until: end + 4.0,
    });
    let picture = Picture::of_parts(&title, &described, parts).styled(STYLE);
    let Some(&top) = tops.first() else {
        return picture;
    };
    let evenings = skies.len();
    picture.before(Backdrop {
        drawn: sky(
            &Panel {
                top,
                hour,
                evenings,
            },
            site,
            skies,
        ),
        tops,
    })
}

/// A group in a sentence.
fn said(group: &Group, site: &Site) -> String {
    let nights = group.lit.iter().filter(|bands| !bands.is_empty()).count();
    let hours: f64 = group.lit.iter().flatten().map(|(on, off)| off - on).sum();
    format!(
        "{}: lit on {nights} of {} nights, {hours:.0} hours.",
        group.name(site),
        group.lit.len()
    )
}

/// The sky behind a panel.
fn sky(panel: &Panel, site: &Site, skies: &[Sky]) -> Markup {
    let at = |sky: &Sky, instant| wall(site, sky.evening.date, instant);
    let part = |mark: usize, morning: bool| {
        let noon = if morning { DAY } else { 0.0 };
        let hours: Vec<f64> = skies
            .iter()
            .map(|sky| {
                let (sets, rises) = sky.brighter[mark];
                match morning {
                    true if rises >= sky.evening.ends => DAY,
                    true => at(sky, rises),
                    // Where it stays brighter all night, evening and morning must join without a seam.
                    false if sets == rises => at(sky, sets) + 0.1,
                    false => at(sky, sets),
                }
            })
            .collect();
        if hours.iter().all(|at| (at - noon).abs() < 1e-9) {
            return String::new();
        }
        let line = edge(|x| panel.x(x), |y| panel.y(y), 0, &hours);
        let ends = [
            (panel.x(skies.len() as f64), panel.y(noon)),
            (panel.x(0.0), panel.y(noon)),
        ];
        let mut points: Vec<(f64, f64)> = line.into_iter().chain(ends).collect();
        // Both parts run in the same direction, so that they do not cancel where they overlap.
        if morning {
            points.reverse();
        }
        outline(points)
    };
    html! {
        rect class="pwp-night" x=(LEFT) y=(number(panel.top)) width=(number(WIDE - EDGE - LEFT))
            height=(number(DAY * panel.hour)) {}
        @for (mark, (class, _)) in BRIGHT.iter().enumerate().rev() {
            path class=(class) d={ (part(mark, false)) (part(mark, true)) } {}
        }
    }
}

/// Hours and months as a grid, with the names of the hours.
fn frame(panel: &Panel, season: &Season) -> Markup {
    let (left, right) = (panel.x(0.0), panel.x(panel.evenings as f64));
    let mut grid = String::new();
    for hours in [6.0, 12.0, 18.0] {
        let _ = write!(
            grid,
            "M{} {}H{}",
            number(left),
            number(panel.y(hours)),
            number(right)
        );
    }
    for (evening, _) in month_starts(season) {
        let _ = write!(
            grid,
            "M{} {}V{}",
            number(panel.x(evening as f64)),
            number(panel.top),
            number(panel.bottom())
        );
    }
    html! {
        path class="grid" fill="none" stroke-opacity=".55" d=(grid) {}
        rect class="axis" fill="none" x=(number(left)) y=(number(panel.top))
            width=(number(right - left)) height=(number(panel.bottom() - panel.top)) {}
        @for hours in [0.0, 6.0, 12.0, 18.0, 24.0] {
            text class="quiet" text-anchor="end" x=(LEFT - 4.0) y=(number(panel.y(hours) + 4.0)) {
                (clock_said(hours))
            }
        }
    }
}

/// Whether a season is too long to tell its months apart: it is divided by years.
fn by_years(season: &Season) -> bool {
    (season.to - season.from).num_days() > MONTHS_UP_TO
}

/// First evenings of the months, or years, that begin inside the season, counted from its first, with their
/// dates.
fn month_starts(season: &Season) -> Vec<(usize, chrono::NaiveDate)> {
    let nights = usize::try_from((season.to - season.from).num_days() + 1).unwrap_or(0);
    let years = by_years(season);
    (1..nights)
        .map(|index| (index, season.from + Days::new(index as u64)))
        .filter(|(_, date)| date.day() == 1 && (!years || date.month() == 1))
        .collect()
}

/// Months, or years, as spans of evenings.
fn month_spans(season: &Season) -> Vec<(usize, usize)> {
    let nights = usize::try_from((season.to - season.from).num_days() + 1).unwrap_or(0);
    let mut starts: Vec<usize> = std::iter::once(0)
        .chain(month_starts(season).into_iter().map(|(index, _)| index))
        .collect();
    starts.push(nights);
    starts.windows(2).map(|pair| (pair[0], pair[1])).collect()
}

fn month_names(panel: &Panel, season: &Season, y: f64) -> Markup {
    let spans = month_spans(season);
    let lone = spans.len() == 1;
    let years = by_years(season);
    let names: Vec<(f64, String)> = spans
        .into_iter()
        .map(|(from, to)| {
            let date = season.from + Days::new(from as u64);
            let name = date.format(if years { "%Y" } else { "%b" }).to_string();
            let (left, right) = (panel.x(from as f64), panel.x(to as f64));
            (left, right, name)
        })
        // A month of few evenings leaves the space to its neighbour.
        .filter(|(left, right, name)| lone || right - left >= width(name))
        .map(|(left, right, name)| {
            let half = width(&name) / 2.0;
            let middle = f64::midpoint(left, right);
            (middle.clamp(LEFT + half, WIDE - EDGE - half), name)
        })
        .collect();
    let spots: Vec<(f64, f64)> = names.iter().map(|(x, name)| (*x, width(name))).collect();
    let keep = on_one_line(&spots, 4.0);
    html! {
        @for ((x, name), _) in names.iter().zip(&keep).filter(|(_, keep)| **keep) {
            text class="quiet" text-anchor="middle" x=(number(*x)) y=(number(y)) { (name) }
        }
    }
}

fn band(panel: &Panel, run: &Run, group: &Group, site: &Site, season: &Season) -> Markup {
    let at = |of: fn(&(f64, f64)) -> f64| {
        let hours: Vec<f64> = run.lit.iter().map(of).collect();
        edge(|x| panel.x(x), |y| panel.y(y), run.first, &hours)
    };
    let (on, mut off) = (at(|band| band.0), at(|band| band.1));
    off.reverse();
    let date = |index: usize| season.from + Days::new(index as u64);
    let (from, to) = (date(run.first), date(run.first + run.lit.len() - 1));
    let when = if from == to {
        from.to_string()
    } else {
        format!("{from} to {to}")
    };
    html! {
        path class="lit" d=(outline(on.into_iter().chain(off))) {
            title { (group.name(site)) ", " (when) ": " (spans(&run.lit)) }
        }
        path class="glow" d=(strokes(panel, run)) {}
    }
}

/// Strokes through a band, so that lit and twilight differ without colour: one every so many evenings, from the
/// hour it goes on to the hour it goes off.
fn strokes(panel: &Panel, run: &Run) -> String {
    let step = (APART / (panel.x(1.0) - panel.x(0.0))).ceil().max(1.0);
    let mut path = String::new();
    for (index, (on, off)) in run.lit.iter().enumerate() {
        let evening = run.first + index;
        if evening.is_multiple_of(whole(step)) {
            let _ = write!(
                path,
                "M{} {}V{}",
                number(panel.x(evening as f64 + 0.5)),
                number(panel.y(*on)),
                number(panel.y(*off))
            );
        }
    }
    path
}

/// `on 16:57 to 19:40, off 23:15`.
fn spans(lit: &[(f64, f64)]) -> String {
    let span = |of: fn(&(f64, f64)) -> f64| {
        let least = lit.iter().map(of).fold(f64::INFINITY, f64::min);
        let most = lit.iter().map(of).fold(0.0, f64::max);
        let (least, most) = (clock_said(least), clock_said(most));
        if least == most {
            least
        } else {
            format!("{least} to {most}")
        }
    };
    format!("on {}, off {}", span(|band| band.0), span(|band| band.1))
}

/// Invisible areas that give a pointer the text of a month, or a year.
fn months_bare(panel: &Panel, group: &Group, site: &Site, season: &Season) -> Markup {
    let format = if by_years(season) { "%Y" } else { "%B %Y" };
    html! {
        @for (from, to) in month_spans(season) {
            @let bands = &group.lit[from..to];
            @let lit = bands.iter().filter(|bands| !bands.is_empty()).count();
            @let all: Vec<(f64, f64)> = bands.iter().flatten().copied().collect();
            @let hours: f64 = all.iter().map(|(on, off)| off - on).sum();
            @let month = (season.from + Days::new(from as u64)).format(format).to_string();
            rect class="bare" x=(number(panel.x(from as f64))) y=(number(panel.top))
                width=(number(panel.x(to as f64) - panel.x(from as f64)))
                height=(number(panel.bottom() - panel.top)) {
                title {
                    (group.name(site)) ", " (month) ": lit " (lit) " of " (to - from) " nights, "
                    (format!("{hours:.0} h"))
                    @if !all.is_empty() { "; " (spans(&all)) }
                }
            }
        }
    }
}

/// Evening of a clock change, counted from the first of the season.
fn seam_places(season: &Season) -> Vec<(usize, String)> {
    season
        .clock_changes
        .iter()
        .filter_map(|(evening, change)| {
            let index = usize::try_from((*evening - season.from).num_days()).ok()?;
            let minutes = change.shift_s() / 60;
            let by = match minutes.abs() % 60 {
                0 => format!("{} h", minutes.abs() / 60),
                _ => format!("{} min", minutes.abs()),
            };
            let sign = if minutes < 0 { '−' } else { '+' };
            Some((
                index,
                format!("night of {}: clocks {sign}{by}", evening.format("%-d %b")),
            ))
        })
        .collect()
}

/// Most clock changes that are named above the picture; more than these are only drawn.
const MOST_SEAMS: usize = 4;

/// What happens at the clock changes, above the first panel; returns where that ends.
fn seams_said(season: &Season, evenings: usize, top: f64) -> (Markup, f64) {
    let panel = Panel {
        top,
        hour: 1.0,
        evenings,
    };
    let mut places = seam_places(season);
    if places.len() > MOST_SEAMS {
        places.clear();
    }
    let marks: Vec<(f64, f64)> = places
        .iter()
        .map(|(evening, label)| (panel.x(*evening as f64 + 0.5), width(label) + 4.0))
        .collect();
    let flags = flags(&marks, WIDE - EDGE);
    // Two labels that fit side by side share a line.
    let one_line = marks.len() == 2
        && !flags[0].to_the_left
        && (flags[1].to_the_left && marks[0].0 + marks[0].1 + marks[1].1 + 8.0 < marks[1].0
            || !flags[1].to_the_left && marks[0].0 + marks[0].1 + 8.0 < marks[1].0);
    let row = |row: usize| if one_line { 0 } else { row };
    let rows = flags
        .iter()
        .map(|flag| row(flag.row) + 1)
        .max()
        .unwrap_or(0);
    let markup = html! {
        @for ((flag, (x, _)), (_, label)) in flags.iter().zip(&marks).zip(&places) {
            text class="quiet" text-anchor=[flag.to_the_left.then_some("end")]
                x=(number(if flag.to_the_left { x - 3.0 } else { x + 3.0 }))
                y=(number(top + row(flag.row) as f64 * LINE + LETTER)) { (label) }
            path class="seam" fill="none" d={ "M" (number(*x)) " "
                (number(top + row(flag.row) as f64 * LINE + 2.0)) "V"
                (number(top + rows as f64 * LINE)) } {}
        }
    };
    (markup, top + rows as f64 * LINE)
}

fn seams(panel: &Panel, season: &Season, bottom: f64) -> Markup {
    let mut path = String::new();
    for (evening, _) in seam_places(season) {
        let x = number(panel.x(evening as f64 + 0.5));
        let _ = write!(path, "M{x} {}V{}", number(panel.top - 4.0), number(bottom));
    }
    html! { @if !path.is_empty() { path class="seam" fill="none" d=(path) {} } }
}

/// Marks below a panel: dark nights as a bar, other times as an outline, nights at risk hatched.
fn strips(panel: &Panel, notes: &[Note], season: &Season, top: f64) -> Markup {
    html! {
        @for note in notes {
            (strip_path(note.sort, note.runs.iter().map(|&(first, last)| {
                let (left, right) = (panel.x(first as f64), panel.x((last + 1) as f64));
                (left, top, (right - left).max(1.2), STRIP)
            }), &note.said(season.from)))
        }
    }
}

fn strip_path(sort: Sort, areas: impl Iterator<Item = (f64, f64, f64, f64)>, told: &str) -> Markup {
    let mut path = String::new();
    for (left, top, wide, high) in areas {
        let left = left.min(WIDE - EDGE - wide);
        if sort == Sort::AtRisk {
            path.push_str(&Hatch::Falling.path(left, top, wide, high));
        }
        let _ = write!(
            path,
            "M{} {}h{}v{}h-{}z",
            number(left),
            number(top),
            number(wide),
            number(high),
            number(wide)
        );
    }
    let class = match sort {
        Sort::Dark => "ink",
        Sort::Other => "level rest",
        Sort::AtRisk => "risk rest",
    };
    html! { path class=(class) d=(path) { @if !told.is_empty() { title { (told) } } } }
}

/// A letter under the first run of every note, in as many rows as they need, and under later runs where there is
/// room; and where that ends.
fn letters(panel: &Panel, notes: &[Note], top: f64) -> (Markup, f64) {
    /// Between the middles of two letters of a row: the widest, and as much again as makes it one word no more.
    const BETWEEN: f64 = 10.0;
    let middle = |&(first, last): &(usize, usize)| {
        let middle = panel.x((first + last + 1) as f64 / 2.0);
        middle.clamp(LEFT + 4.0, WIDE - EDGE - 4.0)
    };
    let lettered = || notes.iter().take(MOST_NOTES).zip('a'..);
    let firsts = lettered().filter_map(|(note, letter)| Some((note.runs.first()?, letter)));
    let later = lettered().flat_map(|(note, letter)| {
        // Of nights that come week by week one letter is enough.
        let runs = note
            .runs
            .iter()
            .skip(1)
            .filter(|(first, last)| last - first >= 3);
        runs.map(move |run| (run, letter))
    });
    let mut rows: Vec<Vec<(f64, char)>> = Vec::new();
    let room = |rows: &[Vec<(f64, char)>], x: f64| {
        let clear = |row: &Vec<(f64, char)>| row.iter().all(|(at, _)| (at - x).abs() >= BETWEEN);
        rows.iter().position(clear)
    };
    for (run, letter) in firsts {
        let x = middle(run);
        let row = room(&rows, x).unwrap_or_else(|| {
            rows.push(Vec::new());
            rows.len() - 1
        });
        rows[row].push((x, letter));
    }
    for (run, letter) in later {
        let x = middle(run);
        if let Some(row) = room(&rows, x) {
            rows[row].push((x, letter));
        }
    }
    let foot = |row: usize| top + LETTER + row as f64 * LINE;
    let markup = html! {
        @for (row, letters) in rows.iter().enumerate() {
            @for (x, letter) in letters {
                text text-anchor="middle" x=(number(*x)) y=(number(foot(row) - 1.0)) { (letter) }
            }
        }
    };
    let ends = rows.len().checked_sub(1).map_or(top - 2.0, foot);
    (markup, ends)
}

/// What the letters mean; returns where that ends.
fn note_lines(notes: &[Note], season: &Season, top: f64) -> (Markup, f64) {
    let mut y = top;
    let room = WIDE - 2.0 * EDGE - 14.0;
    let mut lines: Vec<(Option<char>, String, f64)> = Vec::new();
    for (note, letter) in notes.iter().take(MOST_NOTES).zip('a'..) {
        for (index, line) in broken(&note.said(season.from), room)
            .into_iter()
            .enumerate()
        {
            y += LINE;
            lines.push(((index == 0).then_some(letter), line, y - 3.0));
        }
    }
    if notes.len() > MOST_NOTES {
        y += LINE;
        let more = format!("and {} more, see season", notes.len() - MOST_NOTES);
        lines.push((None, more, y - 3.0));
    }
    let markup = html! {
        @for (letter, line, y) in &lines {
            @if let Some(letter) = letter { text x=(EDGE) y=(number(*y)) { (letter) } }
            text class="quiet" x=(number(EDGE + 14.0)) y=(number(*y)) { (line) }
        }
    };
    (markup, y + 4.0)
}

/// What shades and marks mean; returns where that ends.
fn key(top: f64) -> (Markup, f64) {
    const BOX: f64 = 16.0;
    let entries: [(&str, Option<Sort>, &str); 9] = [
        ("lit", None, "lit"),
        ("", Some(Sort::Dark), "no light"),
        ("", Some(Sort::Other), "other times"),
        (BRIGHT[0].0, None, BRIGHT[0].1),
        (BRIGHT[1].0, None, BRIGHT[1].1),
        (BRIGHT[2].0, None, BRIGHT[2].1),
        (BRIGHT[3].0, None, BRIGHT[3].1),
        ("pwp-night", None, "night"),
        ("", Some(Sort::AtRisk), "at risk"),
    ];
    let placed: Vec<_> = entries
        .into_iter()
        .enumerate()
        .map(|(index, (class, sort, word))| {
            let (row, column) = (index / 3, index % 3);
            let x = EDGE + column as f64 * (WIDE - 2.0 * EDGE) / 3.0;
            (x, top + row as f64 * (LINE + 3.0), class, sort, word)
        })
        .collect();
    let y = top + 2.0 * (LINE + 3.0);
    let markup = html! {
        @for (x, y, class, sort, word) in &placed {
            @match sort {
                None => {
                    rect class={ (class) " pwp-rim" } x=(number(*x)) y=(number(*y)) width=(BOX)
                        height="10" {}
                    @if *class == "lit" {
                        path class="glow" d={ "M" (number(x + 4.0)) " " (number(*y)) "v10m4 0v-10m4 0v10" } {}
                    }
                }
                Some(sort) => (strip_path(*sort, std::iter::once((*x, y + 1.5, BOX, STRIP)), "")),
            }
            text class="quiet" x=(number(x + BOX + 4.0)) y=(number(y + 9.0)) { (word) }
        }
    };
    (markup, y + LINE)
}
