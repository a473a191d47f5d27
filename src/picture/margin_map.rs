//! The margin that is left when one thing about a link changes, or two.
//!
//! ```text
//!   + ●─●─●╲              18 AWG │ +45  +31 ┃  −4
//!   0 ──────╲◇─────       16 AWG │ +52  +44  +23
//!   −        ╲✕─✕                   30   60   90 m     ┃ edge of what works
//! ```

use crate::link::Verdict;
use crate::text::with_minus;

mod curve;
mod grid;
mod rows;
mod text;

pub use text::margin_map_text;

#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// Its name: `pair length`.
    pub name: String,
    /// Its unit; empty if it has none.
    pub unit: String,
    pub along: Along,
}

/// The values of an axis.
#[derive(Debug, Clone, PartialEq)]
pub enum Along {
    /// Numbers in the unit of the axis; drawn to scale if they rise.
    Values(Vec<f64>),
    Labels(Vec<String>),
}

#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// Margin of the worst case, as a fraction; `None` if there is no answer.
    pub margin: Option<f64>,
    /// Whether to build it.
    pub verdict: Verdict,
    pub why: String,
}

/// A known change of verdict between two values of a numeric axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// Between this value and the next.
    pub before: usize,
    /// Its place, in the unit of the axis.
    pub at: f64,
    /// The verdict above it.
    pub to: Verdict,
}

/// Margins along one axis, or two.
#[derive(Debug, Clone, PartialEq)]
pub struct Map {
    pub title: String,
    /// Across.
    pub x: Axis,
    /// Down.
    pub y: Option<Axis>,
    /// Row by row, as many as `x` times `y`.
    pub cells: Vec<Cell>,
    /// Along one axis, the known changes of verdict, from left to right; elsewhere the verdict is drawn to
    /// change where the margin passes zero, or halfway.
    pub turns: Vec<Turn>,
}

/// The map as SVG: a curve over numbers, bars over things, a table over two axes.
pub fn margin_map_svg(map: &Map) -> String {
    map.assert_whole();
    let picture = match (&map.y, map.x.rising()) {
        (Some(y), _) => grid::svg(map, y),
        (None, Some(values)) => curve::svg(map, values),
        (None, None) => rows::svg(map),
    };
    picture.file()
}

impl Axis {
    fn len(&self) -> usize {
        match &self.along {
            Along::Values(values) => values.len(),
            Along::Labels(labels) => labels.len(),
        }
    }

    /// One value, without its unit.
    fn label(&self, index: usize) -> String {
        match &self.along {
            Along::Values(values) => with_minus(&shortest(values[index])),
            Along::Labels(labels) => crate::picture::look::plain(&labels[index]),
        }
    }

    /// One value with its unit.
    fn said(&self, index: usize) -> String {
        let label = self.label(index);
        match self.unit.as_str() {
            "" => label,
            unit => format!("{label} {unit}"),
        }
    }

    /// `pair length, m`.
    fn head(&self) -> String {
        match self.unit.as_str() {
            "" => self.name.clone(),
            unit => format!("{}, {unit}", self.name),
        }
    }

    /// Its numbers, if there are two or more and each is greater than the one before.
    fn rising(&self) -> Option<&[f64]> {
        match &self.along {
            Along::Values(values)
                if values.len() > 1
                    && values.iter().all(|value| value.is_finite())
                    && values.windows(2).all(|pair| pair[0] < pair[1]) =>
            {
                Some(values)
            }
            _ => None,
        }
    }
}

impl Map {
    fn assert_whole(&self) {
        let rows = self.y.as_ref().map_or(1, Axis::len);
        assert_eq!(
            self.cells.len(),
            self.x.len() * rows,
            "a map has one cell for every value of its axes"
        );
    }

    /// What hovering shows: a cell's setting, margin, verdict and reason.
    fn told(&self, index: usize) -> String {
        let cell = &self.cells[index];
        let x = self.x.said(index % self.x.len());
        let place = match &self.y {
            Some(y) => format!("{}, {x}", y.said(index / self.x.len())),
            None => x,
        };
        match cell.margin {
            Some(_) => format!("{place}: {}, {}. {}", cell.percent(), cell.word(), cell.why),
            None => format!("{place}: {}. {}", cell.word(), cell.why),
        }
    }

    /// One row in words, or how many cells of how many work.
    fn summary(&self) -> String {
        if self.y.is_some() {
            let count = |verdict| {
                self.cells
                    .iter()
                    .filter(|cell| cell.known() == Some(verdict))
                    .count()
            };
            let said = format!(
                "of {}: {} work, {} with caution, {} do not",
                self.cells.len(),
                count(Verdict::Go),
                count(Verdict::Caution),
                count(Verdict::NoGo)
            );
            let unknown = self.cells.iter().filter(|cell| cell.margin.is_none());
            return match unknown.count() {
                0 => said,
                unknown => format!("{said}, {unknown} have no answer"),
            };
        }
        self.runs(0)
    }

    /// One row in words: `works 10 to 60 m; caution at 75 m; does not 90 to 120 m`.
    fn runs(&self, row: usize) -> String {
        let cells = &self.cells[row * self.x.len()..][..self.x.len()];
        let mut parts = Vec::new();
        let mut first = 0;
        for run in cells.chunk_by(|a, b| a.known() == b.known()) {
            let last = first + run.len() - 1;
            let word = run[0].word();
            let what = if first == last {
                format!("{word} at {}", self.x.said(first))
            } else if self.x.rising().is_some() {
                format!("{word} {} to {}", self.x.label(first), self.x.said(last))
            } else {
                let names: Vec<String> = (first..=last).map(|index| self.x.said(index)).collect();
                format!("{word}: {}", names.join(", "))
            };
            parts.push(what);
            first = last + 1;
        }
        parts.join("; ")
    }

    /// The map in sentences, for readers who cannot see the picture.
    fn described(&self) -> String {
        let details: Vec<String> = match &self.y {
            None => (0..self.cells.len())
                .map(|index| self.told(index))
                .collect(),
            Some(y) => (0..y.len())
                .map(|row| format!("{}: {}.", y.said(row), self.runs(row)))
                .collect(),
        };
        format!(
            "Worst-case margin. {}. {}",
            self.summary(),
            details.join(" ")
        )
    }
}

impl Cell {
    fn known(&self) -> Option<Verdict> {
        self.margin.map(|_| self.verdict)
    }

    fn word(&self) -> &'static str {
        self.known().map_or("no answer", word)
    }

    /// `+23 %`, or `no answer`.
    fn percent(&self) -> String {
        match self.margin {
            Some(_) => format!("{} %", self.number()),
            None => "no answer".into(),
        }
    }

    /// `+23`, `−0.4`, `?`.
    fn number(&self) -> String {
        let Some(margin) = self.margin.filter(|margin| margin.is_finite()) else {
            return "?".into();
        };
        let percent = 100.0 * margin;
        if percent.abs() < 0.05 {
            "0".into()
        } else if percent.abs() < 0.95 {
            crate::text::signed(percent, 1)
        } else {
            crate::text::signed(percent, 0)
        }
    }
}

fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Go => "works",
        Verdict::Caution => "caution",
        Verdict::NoGo => "does not",
    }
}

/// Whether it may be built, as far as is known.
fn is_safe(cell: &Cell) -> bool {
    may_be_built(cell.known())
}

/// The same for a verdict; `None` for no answer.
fn may_be_built(verdict: Option<Verdict>) -> bool {
    verdict.is_some_and(|verdict| verdict != Verdict::NoGo)
}

/// A number with at most four digits, no trailing zeros.
pub(crate) fn shortest(value: f64) -> String {
    let whole = value.abs().max(1e-12).log10().floor();
    let decimals = crate::picture::scale::whole((3.0 - whole).clamp(0.0, 6.0));
    let text = format!("{:.decimals$}", value + 0.0);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn margins_near_nothing_keep_their_sign() {
        for (margin, expected) in [
            (Some(0.234), "+23"),
            (Some(-0.12), "−12"),
            (Some(0.004), "+0.4"),
            (Some(-0.004), "−0.4"),
            (Some(0.0), "0"),
            (None, "?"),
        ] {
            let cell = Cell {
                margin,
                verdict: Verdict::Go,
                why: String::new(),
            };
            assert_eq!(cell.number(), expected);
        }
    }

    #[test]
    fn numbers_are_as_short_as_they_can_be() {
        for (value, expected) in [
            (45.0, "45"),
            (0.75, "0.75"),
            (4700.0, "4700"),
            (12.6, "12.6"),
            (0.0, "0"),
            (20.9478, "20.95"),
        ] {
            assert_eq!(shortest(value), expected);
        }
    }
}
