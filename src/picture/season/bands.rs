//! Lit bands as few outlines, and the sky behind them.
//!
//! One shape for consecutive evenings takes a hundredth of the bytes of a shape for each. It is divided where a
//! switching jumps by 18 minutes, so that a step is not drawn as a slope. A pointer gets its text month by
//! month.

use crate::picture::line::straightened;
use crate::picture::look::number;

/// Furthest a band may move from one evening to the next and still be the same band [h].
const JUMP: f64 = 0.3;

/// One band over consecutive evenings.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Run {
    /// Index of its first evening.
    pub(super) first: usize,
    /// Start and end of its light, per evening [h after noon].
    pub(super) lit: Vec<(f64, f64)>,
}

/// The bands of a group, joined over consecutive evenings.
pub(super) fn runs(lit: &[Vec<(f64, f64)>]) -> Vec<Run> {
    let mut done = Vec::new();
    let mut open: Vec<Run> = Vec::new();
    for (evening, bands) in lit.iter().enumerate() {
        let mut going = Vec::new();
        for band in bands {
            let goes_on = open.iter().position(|run| {
                let last = run.lit[run.lit.len() - 1];
                (last.0 - band.0).abs() < JUMP && (last.1 - band.1).abs() < JUMP
            });
            let mut run = goes_on.map_or(
                Run {
                    first: evening,
                    lit: Vec::new(),
                },
                |index| open.swap_remove(index),
            );
            run.lit.push(*band);
            going.push(run);
        }
        done.append(&mut open);
        open = going;
    }
    done.append(&mut open);
    done.sort_by_key(|run| run.first);
    done
}

/// A line over evenings, from the left edge of the first to the right edge of the last.
pub(super) fn edge(
    x: impl Fn(f64) -> f64,
    y: impl Fn(f64) -> f64,
    first: usize,
    hours: &[f64],
) -> Vec<(f64, f64)> {
    let first = first as f64;
    let mut points: Vec<(f64, f64)> = hours
        .iter()
        .enumerate()
        .map(|(index, &hours)| (x(first + index as f64 + 0.5), y(hours)))
        .collect();
    if let (Some(&(_, from)), Some(&(_, to))) = (points.first(), points.last()) {
        points.insert(0, (x(first), from));
        points.push((x(first + hours.len() as f64), to));
    }
    straightened(&points)
}

pub(super) fn outline(points: impl IntoIterator<Item = (f64, f64)>) -> String {
    let mut out = String::new();
    for (index, (x, y)) in points.into_iter().enumerate() {
        out.push(match index {
            0 => 'M',
            1 => 'L',
            _ => ' ',
        });
        out.push_str(&number(x));
        out.push(' ');
        out.push_str(&number(y));
    }
    out.push('Z');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_band_that_moves_slowly_is_one_run_and_one_that_jumps_is_two() {
        let mut lit: Vec<Vec<(f64, f64)>> = (0..100)
            .map(|n| vec![(5.0 + f64::from(n) * 0.02, 11.0)])
            .collect();
        assert_eq!(runs(&lit).len(), 1);
        lit[50][0].1 = 13.5;
        let parts = runs(&lit);
        assert_eq!(parts.len(), 3);
        assert_eq!((parts[1].first, parts[1].lit.len()), (50, 1));
        lit[20].clear();
        assert_eq!(runs(&lit).len(), 4);
    }

    #[test]
    fn two_windows_are_two_runs() {
        let lit = vec![vec![(5.0, 11.0), (18.0, 19.0)]; 7];
        let parts = runs(&lit);
        assert_eq!(parts.len(), 2);
        assert!(parts.iter().all(|run| run.first == 0 && run.lit.len() == 7));
    }
}
