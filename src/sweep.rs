//! Varies one thing about a link, or two: what works, and where it stops working.
//!
//! ```text
//! words ─ vary ─► axes (each point a setting) ─┐
//! Site + link ─────────────────────────────────┴─ every combination, at once ─► cells
//! neighbours that differ ─ bisection, to 1 % ─► edges
//! ```
//!
//! A cell is the whole yard with the link changed, judged by [`crate::link::judgement`]. Cells do not depend on
//! one another, so the number of threads changes nothing but the time.
//!
//! A cell leaves out the random builds, times and limits that take most of the time of a `check`. Fuse,
//! contact and ratings are left out, because they are easier to replace than a wire in the ground. A cell
//! that works has no margin below 0.

use std::fmt;

use crate::link::{Judgement, Undecided, Verdict, judgement};
use crate::parallel;
use crate::site::{Fault, Link, LinkId, Site};

mod edge;
mod named;
mod parameter;
mod range;
mod setting;
mod vary;

pub use edge::Edge;
pub use named::link_named;
pub use parameter::Parameter;
pub use setting::Setting;
pub use vary::{Points, Variation};

/// Most cells of a map.
pub const MOST_CELLS: usize = 2000;

/// A link varied along one axis, or two.
#[derive(Debug, Clone)]
pub struct Sweep {
    pub link: LinkId,
    /// Across.
    pub x: Variation,
    /// Down.
    pub y: Option<Variation>,
    /// Row by row: `x` times `y` cells.
    pub cells: Vec<Cell>,
    /// For each row, where the verdict changes along a numeric axis, from left to right.
    pub edges: Vec<Vec<Edge>>,
}

/// The judgement of a link with its settings, or why there is none.
pub type Cell = Result<Judgement, Undecided>;

/// A cell's verdict; `None` if there is no answer.
pub fn verdict_of(cell: &Cell) -> Option<Verdict> {
    cell.as_ref().ok().map(Judgement::verdict)
}

impl Sweep {
    pub fn row(&self, row: usize) -> &[Cell] {
        &self.cells[row * self.x.len()..][..self.x.len()]
    }

    pub fn rows(&self) -> usize {
        self.y.as_ref().map_or(1, Variation::len)
    }

    /// Whether any cell works, with caution or without.
    pub fn any_works(&self) -> bool {
        self.cells
            .iter()
            .filter_map(verdict_of)
            .any(|verdict| verdict != Verdict::NoGo)
    }
}

#[derive(Debug, Clone, PartialEq)]
pub enum SweepError {
    /// More axes than a map can show.
    Axes(usize),
    /// Two settings of the same quantity.
    Clash(Parameter, Parameter),
    /// More cells than [`MOST_CELLS`].
    Cells(usize),
    /// One of the words is not understood.
    Word { word: String, fault: Fault },
}

impl fmt::Display for SweepError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Axes(count) => write!(
                f,
                "{count} things are varied, a map has two axes; leave out all but two"
            ),
            Self::Clash(a, b) if a == b => {
                write!(f, "`{a}` is varied twice; put all its values into one list")
            }
            Self::Clash(a, b) => {
                let (own, other) = if *a == Parameter::Loop {
                    (b, a)
                } else {
                    (a, b)
                };
                write!(
                    f,
                    "`{other}` stands for the whole pair, `{own}` with it; vary one of the two"
                )
            }
            Self::Cells(cells) => write!(
                f,
                "{cells} combinations are more than {MOST_CELLS}; take fewer values, as in `length=20..200m/10`"
            ),
            Self::Word { word, fault } => write!(f, "--vary {word}: {fault}"),
        }
    }
}

impl std::error::Error for SweepError {}

/// Reads what to vary about a link: one axis or two. If one of two is numeric, it runs across.
///
/// # Errors
/// If a word is not understood, two clash, or there are too many.
pub fn axes(
    site: &Site,
    link: &Link,
    words: &[String],
) -> Result<(Variation, Option<Variation>), SweepError> {
    let mut axes = Vec::new();
    for word in words {
        axes.push(
            Variation::parse(site, link, word).map_err(|fault| SweepError::Word {
                word: word.clone(),
                fault,
            })?,
        );
    }
    if axes.is_empty() || axes.len() > 2 {
        return Err(SweepError::Axes(axes.len()));
    }
    let mut axes = axes.into_iter();
    let first = axes.next().expect("one axis or two");
    let Some(second) = axes.next() else {
        return match first.len() {
            cells if cells > MOST_CELLS => Err(SweepError::Cells(cells)),
            _ => Ok((first, None)),
        };
    };
    if first.parameter.clashes_with(second.parameter) {
        return Err(SweepError::Clash(first.parameter, second.parameter));
    }
    let cells = first.len() * second.len();
    if cells > MOST_CELLS {
        return Err(SweepError::Cells(cells));
    }
    if first.numbers().is_none() && second.numbers().is_some() {
        Ok((second, Some(first)))
    } else {
        Ok((first, Some(second)))
    }
}

/// The yard with settings applied to the link.
fn changed(site: &Site, link: LinkId, settings: &[Setting]) -> Site {
    let mut site = site.clone();
    for setting in settings {
        setting.apply(&mut site, link);
    }
    site
}

fn judged(site: &Site, link: LinkId, settings: &[Setting]) -> Cell {
    let site = changed(site, link, settings);
    judgement(&site, &site[link])
}

/// Judges a link at every combination of two axes, on so many threads, and finds where the verdict changes
/// along `x`.
pub fn sweep(
    site: &Site,
    link: LinkId,
    (x, y): (Variation, Option<Variation>),
    threads: usize,
) -> Sweep {
    let rows = y.as_ref().map_or(1, Variation::len);
    let of_row = |row: usize| y.as_ref().map(|y| y.setting(row));
    let wide = x.len();
    let cells = parallel::in_order(rows * wide, threads, |index| {
        let mut settings = vec![x.setting(index % wide)];
        settings.extend(of_row(index / wide));
        judged(site, link, &settings)
    });
    let mut places = Vec::new();
    if x.numbers().is_some() {
        for row in 0..rows {
            let cells = &cells[row * wide..][..wide];
            for (before, pair) in cells.windows(2).enumerate() {
                if verdict_of(&pair[0]) != verdict_of(&pair[1]) {
                    places.push((row, before));
                }
            }
        }
    }
    let found = parallel::in_order(places.len(), threads, |index| {
        let (row, before) = places[index];
        let at = |value: f64| {
            let mut settings = vec![x.setting_at(value)];
            settings.extend(of_row(row));
            judged(site, link, &settings)
        };
        let first = row * wide + before;
        edge::between(&x, before, (&cells[first], &cells[first + 1]), at)
    });
    let mut edges = vec![Vec::new(); rows];
    for ((row, _), mut found) in places.into_iter().zip(found) {
        if found.first().is_some_and(|edge| !edge.better_below) {
            found.reverse();
        }
        edges[row].extend(found);
    }
    Sweep {
        link,
        x,
        y,
        cells,
        edges,
    }
}
