//! Labels that do not collide.

/// A rectangle; y runs downward.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
}

impl Area {
    /// The area that two rectangles share.
    fn shared(&self, other: &Self) -> f64 {
        let wide = self.right.min(other.right) - self.left.max(other.left);
        let high = self.bottom.min(other.bottom) - self.top.max(other.top);
        wide.max(0.0) * high.max(0.0)
    }
}

/// The candidate that covers least of the places taken; the first of equals.
pub(super) fn freest(candidates: impl IntoIterator<Item = Area>, taken: &[Area]) -> Option<Area> {
    candidates
        .into_iter()
        .map(|area| {
            let covered: f64 = taken.iter().map(|other| area.shared(other)).sum();
            (covered, area)
        })
        .reduce(|best, next| if next.0 < best.0 - 1e-6 { next } else { best })
        .map(|(_, area)| area)
}

/// A label beside the top of a mark: its row, counted from above, and its side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Flag {
    pub(super) row: usize,
    pub(super) to_the_left: bool,
}

/// One row per label, ordered so that no mark, running down from its label, crosses another label: first the
/// labels that fit only to the left of their mark, the last mark on top; then those to the right, the first on
/// top. `marks` are in rising order: place, and width of the label.
pub(super) fn flags(marks: &[(f64, f64)], right_edge: f64) -> Vec<Flag> {
    let left: Vec<bool> = marks
        .iter()
        .map(|&(place, wide)| place + wide > right_edge)
        .collect();
    let lefts = left.iter().filter(|&&left| left).count();
    let (mut seen_left, mut seen_right) = (0, 0);
    left.into_iter()
        .map(|to_the_left| {
            let row = if to_the_left {
                seen_left += 1;
                lefts - seen_left
            } else {
                seen_right += 1;
                lefts + seen_right - 1
            };
            Flag { row, to_the_left }
        })
        .collect()
}

/// Which of `labels` (their middles and widths, in rising order) fit on one line; the first and the last take
/// precedence.
pub(super) fn on_one_line(labels: &[(f64, f64)], between: f64) -> Vec<bool> {
    let clear = |(a, wide_a): (f64, f64), (b, wide_b): (f64, f64)| {
        b - a >= f64::midpoint(wide_a, wide_b) + between
    };
    let mut keep = vec![false; labels.len()];
    let Some((&last, rest)) = labels.split_last() else {
        return keep;
    };
    keep[labels.len() - 1] = true;
    let mut before = None;
    for (index, &label) in rest.iter().enumerate() {
        if before.is_none_or(|before| clear(before, label)) && clear(label, last) {
            keep[index] = true;
            before = Some(label);
        }
    }
    keep
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_mark_runs_through_the_label_of_another() {
        let marks = [(10.0, 60.0), (15.0, 60.0), (80.0, 60.0), (85.0, 40.0)];
        let flags = flags(&marks, 100.0);
        for (index, flag) in flags.iter().enumerate() {
            let (place, wide) = marks[index];
            let (from, to) = if flag.to_the_left {
                (place - wide, place)
            } else {
                (place, place + wide)
            };
            for (other, mark) in flags.iter().zip(marks) {
                let crosses = mark.0 > from && mark.0 < to && other.row < flag.row;
                assert!(!crosses, "{flag:?} {other:?}");
            }
        }
    }

    #[test]
    fn crowded_labels_are_left_out_between_the_first_and_the_last() {
        let labels: Vec<(f64, f64)> = (0..9).map(|n| (f64::from(n) * 10.0, 18.0)).collect();
        let keep = on_one_line(&labels, 2.0);
        assert_eq!(
            keep,
            [true, false, true, false, true, false, true, false, true]
        );
    }
}
