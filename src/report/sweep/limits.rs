//! One row of a sweep in words: from where to where it works, and what fails beyond.

use crate::link::{Judgement, Verdict};
use crate::picture::margin_map::shortest;
use crate::sweep::{Edge, Parameter, Points, Sweep, Variation, verdict_of};
use crate::text::{FT_PER_M, trouble_text, with_minus};

/// A unit as texts write it.
pub(super) fn unit(parameter: Parameter, unit: &'static str) -> &'static str {
    match (parameter, unit) {
        (Parameter::Temperature, "C") => "°C",
        (Parameter::Temperature, "F") => "°F",
        (Parameter::Voltage, "V DC" | "VDC") => "V",
        (_, "Ω") => "ohm",
        (_, "µF" | "μF") => "uF",
        (_, unit) => unit,
    }
}

/// A value with its unit.
pub(super) fn quantity(parameter: Parameter, value: f64, of: &'static str) -> String {
    let number = with_minus(&shortest(value));
    match (parameter, unit(parameter, of)) {
        (Parameter::Splices, _) if (value - 1.0).abs() < 0.5 => "1 splice".into(),
        (Parameter::Splices, _) => format!("{number} splices"),
        (Parameter::Mains, unit) if value > 0.0 => format!("+{number} {unit}"),
        (_, unit) => format!("{number} {unit}"),
    }
}

/// The same, lengths in both unit systems.
fn both(x: &Variation, value: f64) -> String {
    let said = quantity(x.parameter, value, x.unit);
    match (x.parameter, x.unit) {
        (Parameter::Length, "m") => format!("{said} ({:.0} ft)", value * FT_PER_M),
        (Parameter::Length, "ft") => format!("{said} ({:.1} m)", value / FT_PER_M),
        _ => said,
    }
}

/// Where a stretch of one verdict ends.
#[derive(Clone, Copy)]
enum End<'a> {
    /// With the axis.
    Axis,
    /// At an edge.
    Edge(&'a Edge),
}

/// A stretch of one verdict.
struct Stretch<'a> {
    verdict: Option<Verdict>,
    from: End<'a>,
    to: End<'a>,
}

/// One row of a sweep.
pub(super) struct Row<'a> {
    sweep: &'a Sweep,
    row: usize,
}

impl<'a> Row<'a> {
    pub(super) fn of(sweep: &'a Sweep, row: usize) -> Self {
        Self { sweep, row }
    }

    /// `works up to 142 m (466 ft); beyond that it may not come back while warm`.
    pub(super) fn said(&self) -> String {
        let mut parts = vec![self.extent()];
        parts.extend(self.reasons());
        parts.join("; ")
    }

    /// The best verdict of the row; `None` without any answer.
    fn best(&self) -> Option<Verdict> {
        let row = self.sweep.row(self.row);
        row.iter().filter_map(verdict_of).min()
    }

    /// `works up to 142 m (466 ft)`.
    pub(super) fn extent(&self) -> String {
        let x = &self.sweep.x;
        let Some(best) = self.best() else {
            return "no answer".into();
        };
        let works = match best {
            Verdict::Go => "works",
            Verdict::Caution => "works with caution",
            Verdict::NoGo => "does not work",
        };
        let numbers = match &x.points {
            Points::Numbers(numbers) => numbers,
            Points::Things(things) => {
                let with: Vec<&str> = things
                    .iter()
                    .zip(self.sweep.row(self.row))
                    .filter(|(_, cell)| verdict_of(cell) == Some(best))
                    .map(|((name, _), _)| name.as_str())
                    .collect();
                return match (best, with.len() == things.len(), things.len()) {
                    (_, _, 1) => format!("{works} with {}", with[0]),
                    (Verdict::NoGo, true, many) => format!("{works} with any of {many}"),
                    (_, true, many) => format!("{works} with all {many}"),
                    _ => format!("{works} with {}", with.join(", ")),
                };
            }
        };
        let (first, last) = (numbers[0], numbers[numbers.len() - 1]);
        let stretches: Vec<String> = self
            .stretches()
            .iter()
            .filter(|stretch| stretch.verdict == Some(best))
            .map(|stretch| match (stretch.from, stretch.to) {
                (End::Axis, End::Axis) if numbers.len() == 1 => format!("at {}", both(x, first)),
                (End::Axis, End::Axis) => {
                    let all = if best == Verdict::NoGo {
                        "at none of"
                    } else {
                        "at all"
                    };
                    format!(
                        "{all} {} values from {} to {}",
                        numbers.len(),
                        quantity(x.parameter, first, x.unit),
                        both(x, last)
                    )
                }
                (End::Axis, End::Edge(to)) => format!("up to {}", both(x, self.inside(to, best))),
                (End::Edge(from), End::Axis) => {
                    format!("from {} up", both(x, self.inside(from, best)))
                }
                (End::Edge(from), End::Edge(to)) => format!(
                    "from {} to {}",
                    quantity(x.parameter, self.inside(from, best), x.unit),
                    both(x, self.inside(to, best))
                ),
            })
            .collect();
        if best == Verdict::NoGo && self.edges().is_empty() && numbers.len() > 1 {
            return format!("works {}", stretches.join(" and "));
        }
        format!("{works} {}", stretches.join(" and "))
    }

    fn edges(&self) -> &'a [Edge] {
        &self.sweep.edges[self.row]
    }

    /// The row from left to right.
    fn stretches(&self) -> Vec<Stretch<'a>> {
        let first = verdict_of(&self.sweep.row(self.row)[0]);
        let mut from = End::Axis;
        let mut verdict = first;
        let mut list = Vec::new();
        for edge in self.edges() {
            list.push(Stretch {
                verdict,
                from,
                to: End::Edge(edge),
            });
            from = End::Edge(edge);
            verdict = if edge.better_below {
                edge.worse
            } else {
                edge.better
            };
        }
        list.push(Stretch {
            verdict,
            from,
            to: End::Axis,
        });
        list
    }

    /// The value at an edge on the side of a verdict, rounded away from the edge.
    fn inside(&self, edge: &Edge, verdict: Verdict) -> f64 {
        let numbers = self.sweep.x.numbers().unwrap_or_default();
        let good = edge.better == Some(verdict);
        let below = good == edge.better_below;
        let found = if good { edge.last_good } else { edge.first_bad };
        let Some(value) = found else {
            return numbers[edge.before + usize::from(!below)];
        };
        if self.sweep.x.parameter.is_whole() {
            return value;
        }
        // Three digits, or as many as the axis has.
        let span = numbers[numbers.len() - 1] - numbers[0];
        let size = value.abs().max(span / 10.0).log10().floor();
        let step = 10_f64.powf(size - 2.0);
        let steps = value / step;
        // A hair of slack: a value that is round stays as it is.
        let rounded = if below {
            (steps + 1e-6).floor()
        } else {
            (steps - 1e-6).ceil()
        };
        // Not beyond the value that is known.
        let known = if below {
            numbers[edge.before]
        } else {
            numbers[edge.before + 1]
        };
        let rounded = rounded * step;
        if below {
            rounded.max(known)
        } else {
            rounded.min(known)
        }
    }

    /// What fails beyond, and where it does not work at all.
    fn reasons(&self) -> Vec<String> {
        let Some(best) = self.best() else {
            return Vec::new();
        };
        let row = self.sweep.row(self.row);
        if let Points::Things(things) = &self.sweep.x.points {
            let with = |verdict: Option<Verdict>| {
                let names: Vec<&str> = things
                    .iter()
                    .zip(row)
                    .filter(|(_, cell)| verdict_of(cell) == verdict)
                    .map(|((name, _), _)| name.as_str())
                    .collect();
                (!names.is_empty() && verdict > Some(best)).then(|| names.join(", "))
            };
            let caution = with(Some(Verdict::Caution)).map(|it| format!("with caution with {it}"));
            let not = with(Some(Verdict::NoGo)).map(|it| format!("does not work with {it}"));
            return caution.into_iter().chain(not).collect();
        }
        if self.edges().is_empty() {
            // What is wrong with the best of them; with nothing wrong there is nothing to say.
            let most = row
                .iter()
                .filter_map(|cell| cell.as_ref().ok())
                .filter(|judged| judged.verdict() == best)
                .max_by(|a, b| a.least().fraction.total_cmp(&b.least().fraction))
                .and_then(Judgement::trouble);
            return most
                .map(|trouble| trouble_text("it", trouble))
                .into_iter()
                .collect();
        }
        let mut parts = Vec::new();
        let stretches = self.stretches();
        let bests: Vec<usize> = (0..stretches.len())
            .filter(|index| stretches[*index].verdict == Some(best))
            .collect();
        let alone = bests.len() == 1;
        for &index in &bests {
            let stretch = &stretches[index];
            for (end, beyond) in [(stretch.from, "below that"), (stretch.to, "beyond that")] {
                let End::Edge(edge) = end else { continue };
                let place = if alone {
                    beyond.to_owned()
                } else {
                    let side = beyond.trim_end_matches(" that");
                    let value = self.inside(edge, best);
                    format!(
                        "{side} {}",
                        quantity(self.sweep.x.parameter, value, self.sweep.x.unit)
                    )
                };
                parts.push(match (edge.worse, edge.trouble) {
                    (None, _) => format!("{place} there is no answer"),
                    (_, Some(trouble)) => format!("{place} {}", trouble_text("it", trouble)),
                    (_, None) => continue,
                });
            }
        }
        parts.extend(self.failures(&stretches, best));
        let unknown = row.iter().filter(|cell| cell.is_err()).count();
        if unknown > 0 {
            parts.push(format!("no answer at {unknown} of {} values", row.len()));
        }
        parts
    }

    /// Where it does not work at all, if that does not begin where the best ends.
    fn failures(&self, stretches: &[Stretch<'_>], best: Verdict) -> Vec<String> {
        if best != Verdict::Go {
            return Vec::new();
        }
        let x = &self.sweep.x;
        let own = |end: End<'_>| match end {
            End::Edge(edge) if edge.better != Some(best) && edge.worse == Some(Verdict::NoGo) => {
                Some((both(x, self.inside(edge, Verdict::NoGo)), edge.trouble))
            }
            _ => None,
        };
        stretches
            .iter()
            .filter(|stretch| stretch.verdict == Some(Verdict::NoGo))
            .filter_map(|stretch| {
                let (place, trouble) = match (own(stretch.from), own(stretch.to)) {
                    (Some((from, trouble)), _) => (format!("from {from} up"), trouble),
                    (None, Some((to, trouble))) => (format!("up to {to}"), trouble),
                    (None, None) => return None,
                };
                Some(match trouble {
                    Some(trouble) => format!("{place} {}", trouble_text("it", trouble)),
                    None => format!("{place} it does not work"),
                })
            })
            .collect()
    }
}
