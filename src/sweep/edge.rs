//! Where the verdict changes between two neighbours.
//!
//! A table of ten lengths is 20 m too coarse. So the limit between the last cell that works and the first that
//! does not is found to 1 %; if a strip of caution lies between go and no-go, both its ends. No region is
//! searched for between two cells that fail alike.

use crate::link::{Judgement, Trouble, Verdict};

use super::{Cell, Variation, verdict_of};

/// A limit is found to this fraction of itself: rounded to three digits, it is then good to 1 %.
const FINE: f64 = 0.005;

/// Or to this fraction of the whole axis, if that is finer; but never finer than a tenth of it.
const OF_AXIS: f64 = 0.005;

/// A change of verdict along an axis of numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// The edge lies between this value of the axis and the next.
    pub before: usize,
    /// Last value on the better side, in the unit of the axis; `None` where a simulation cannot conclude.
    pub last_good: Option<f64>,
    /// First value on the worse side.
    pub first_bad: Option<f64>,
    /// Whether the lower values are the better ones.
    pub better_below: bool,
    /// The better verdict; `None` for no answer.
    pub better: Option<Verdict>,
    pub worse: Option<Verdict>,
    /// What is wrong just beyond it.
    pub trouble: Option<Trouble>,
}

/// Orders verdicts: go, caution, no-go, no answer.
fn rank(verdict: Option<Verdict>) -> u8 {
    verdict.map_or(3, |verdict| verdict as u8)
}

fn trouble(cell: &Cell) -> Option<Trouble> {
    cell.as_ref().ok().and_then(Judgement::trouble)
}

/// The edges between a value and the next, found with `at`: one, or two where a strip of caution lies between
/// go and no-go; from the better side to the worse.
pub(super) fn between(
    x: &Variation,
    before: usize,
    (left, right): (&Cell, &Cell),
    at: impl Fn(f64) -> Cell,
) -> Vec<Edge> {
    let numbers = x.numbers().expect("an axis of numbers");
    let (left_at, right_at) = (numbers[before], numbers[before + 1]);
    let better_below = rank(verdict_of(left)) < rank(verdict_of(right));
    let (good, bad, mut good_at, far_at) = if better_below {
        (left, right, left_at, right_at)
    } else {
        (right, left, right_at, left_at)
    };
    let worst = verdict_of(bad);
    let mut edges = Vec::new();
    let mut better = verdict_of(good);
    while rank(better) < rank(worst) {
        let mut edge = Edge {
            before,
            last_good: None,
            first_bad: None,
            better_below,
            better,
            worse: worst,
            trouble: trouble(bad),
        };
        if worst.is_some() {
            if let Some((last_good, first_bad)) = narrowed(x, (good_at, far_at), &mut edge, &at) {
                edge.last_good = Some(last_good);
                edge.first_bad = Some(first_bad);
                good_at = first_bad;
            } else {
                edge.worse = worst;
                edge.trouble = trouble(bad);
            }
        }
        better = edge.worse;
        edges.push(edge);
    }
    edges
}

/// The last value as good as the edge's better side, and the first that is not, whose verdict goes into the
/// edge; `None` where there is no answer.
fn narrowed(
    x: &Variation,
    (mut good_at, mut bad_at): (f64, f64),
    edge: &mut Edge,
    at: &impl Fn(f64) -> Cell,
) -> Option<(f64, f64)> {
    let numbers = x.numbers()?;
    let of_axis = OF_AXIS * (numbers[numbers.len() - 1] - numbers[0]);
    let fine = |value: f64| (FINE * value.abs()).clamp(0.1 * of_axis, of_axis);
    let whole = x.parameter.is_whole();
    loop {
        let enough = if whole { 1.0 } else { fine(good_at) };
        if (bad_at - good_at).abs() <= enough {
            return Some((good_at, bad_at));
        }
        let middle = f64::midpoint(good_at, bad_at);
        let middle = if whole { middle.floor() } else { middle };
        let cell = at(middle);
        let verdict = verdict_of(&cell);
        verdict?;
        if rank(verdict) <= rank(edge.better) {
            good_at = middle;
        } else {
            bad_at = middle;
            edge.worse = verdict;
            edge.trouble = trouble(&cell);
        }
    }
}
