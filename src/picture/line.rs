//! Curves with no more points than the width can show, and no peak lost.

use super::look::Pen;
use super::scale::whole;

/// Width of a column in which only the extremes are kept.
const COLUMN: f64 = 0.5;

/// A point closer to the curve than this can be left out.
const STRAIGHT: f64 = 0.06;

/// Lowest and highest value of every column, in the order in which they come.
pub(super) fn thinned(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut kept = Vec::new();
    let column_of = |point: &(f64, f64)| whole((point.0 / COLUMN).floor());
    for column in points.chunk_by(|a, b| column_of(a) == column_of(b)) {
        let extreme = |sign: f64| {
            column
                .iter()
                .enumerate()
                .max_by(|a, b| (sign * a.1.1).total_cmp(&(sign * b.1.1)))
                .map_or(0, |(index, _)| index)
        };
        let mut indices = [0, extreme(1.0), extreme(-1.0), column.len() - 1];
        indices.sort_unstable();
        for (n, &index) in indices.iter().enumerate() {
            if n == 0 || indices[n - 1] != index {
                kept.push(column[index]);
            }
        }
    }
    kept
}

/// Drops points that lie on the line between their neighbours (Douglas and Peucker 1973).
pub(super) fn straightened(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let Some(last) = points.len().checked_sub(1) else {
        return Vec::new();
    };
    let mut keep = vec![false; points.len()];
    keep[0] = true;
    keep[last] = true;
    let mut stretches = vec![(0, last)];
    while let Some((from, to)) = stretches.pop() {
        let (a, b) = (points[from], points[to]);
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let long = dx.hypot(dy).max(1e-9);
        let farthest = (from + 1..to)
            .map(|k| {
                let (x, y) = (points[k].0 - a.0, points[k].1 - a.1);
                let along = ((x * dx + y * dy) / (long * long)).clamp(0.0, 1.0);
                ((x - along * dx).hypot(y - along * dy), k)
            })
            .max_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((away, k)) = farthest
            && away > STRAIGHT
        {
            keep[k] = true;
            stretches.push((from, k));
            stretches.push((k, to));
        }
    }
    points
        .iter()
        .zip(keep)
        .filter_map(|(&point, keep)| keep.then_some(point))
        .collect()
}

/// A path through the points.
pub(super) fn path(points: &[(f64, f64)]) -> String {
    let mut pen = Pen::default();
    if let [first, rest @ ..] = points {
        pen.go(*first);
        pen.lines(rest.iter().copied());
    }
    pen.finished()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_peak_is_lost() {
        let mut points: Vec<(f64, f64)> = (0..10_000)
            .map(|n| (f64::from(n) * 0.02, (f64::from(n) * 0.01).sin()))
            .collect();
        points[3777].1 = 50.0;
        points[7333].1 = -50.0;
        let curve = straightened(&thinned(&points));
        assert!(curve.len() < 1700, "{}", curve.len());
        for extreme in [50.0, -50.0] {
            assert!(curve.iter().any(|point| (point.1 - extreme).abs() < 1e-12));
        }
    }

    #[test]
    fn a_straight_line_needs_two_points() {
        let points: Vec<(f64, f64)> = (0..100).map(|n| (f64::from(n), 3.0)).collect();
        assert_eq!(path(&straightened(&points)), "M0 3l99 0");
    }
}
