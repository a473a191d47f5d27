//! Which of a yard's parts are on the shelf. A shelf part is used once, and only if it surely fits.

use crate::circuit::wire::Gauge;
use crate::site::{
    Capacitance, Current, Power, Resistance, ShelfKind, ShelfPart, TIME_DELAY, VoltsDc, parse_gauge,
};

use super::{Amount, Is, Part};

/// Whether a shelf part can be used.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Fit {
    Yes,
    No,
    /// The value is right, but this is not marked on it.
    Without(&'static str),
}

/// Lengths closer than this are the same [m].
const SAME_M: f64 = 1e-6;

/// Takes what fits from the shelf: first for the yard, then for spares.
pub(super) fn take(parts: &mut [Part], shelf: &[ShelfPart]) {
    take_wire(parts, shelf);
    for at_hand in shelf {
        let mut left = at_hand.count;
        for part in parts.iter_mut() {
            let Amount::Pieces(missing) = part.to_buy() else {
                continue;
            };
            if fit(part, at_hand) == Fit::Yes {
                let taken = left.min(missing);
                part.at_hand = part.at_hand.and(Amount::Pieces(taken));
                left -= taken;
            }
        }
        for part in parts.iter_mut() {
            if fit(part, at_hand) == Fit::Yes {
                let taken = left.min(part.spares);
                part.spares -= taken;
                left -= taken;
            }
        }
    }
    for part in parts.iter_mut().filter(|part| !part.to_buy().is_none()) {
        for at_hand in shelf.iter().filter(|at_hand| at_hand.count > 0) {
            if let Fit::Without(what) = fit(part, at_hand) {
                part.tips.push(format!(
                    "on the shelf: {} without {what}: check it",
                    at_hand.item.trim()
                ));
            }
        }
    }
}

/// Cuts runs from drums: the longest run first, from the shortest drum that has it in one piece.
fn take_wire(parts: &mut [Part], shelf: &[ShelfPart]) {
    let mut runs: Vec<(usize, usize)> = parts
        .iter()
        .enumerate()
        .flat_map(|(at, part)| (0..part.runs.len()).map(move |run| (at, run)))
        .collect();
    let length_m = |parts: &[Part], (at, run): (usize, usize)| parts[at].runs[run].length_m;
    runs.sort_by(|a, b| length_m(parts, *b).total_cmp(&length_m(parts, *a)));
    let mut drums: Vec<(Gauge, f64)> = Vec::new();
    for at_hand in shelf.iter().filter(|part| part.kind == ShelfKind::Wire) {
        if let (Ok(gauge), Some(length_m)) = (parse_gauge(at_hand.item.trim()), at_hand.length_m) {
            // At most one drum is begun for each run.
            let count = (at_hand.count as usize).min(runs.len());
            drums.extend(std::iter::repeat_n((gauge, length_m), count));
        }
    }
    for (at, run) in runs {
        let part = &mut parts[at];
        let length_m = part.runs[run].length_m;
        let drum = drums
            .iter_mut()
            .filter(|(gauge, left_m)| part.is_of(*gauge) && *left_m >= length_m - SAME_M)
            .min_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((_, left_m)) = drum {
            *left_m -= length_m;
            part.runs[run].from_shelf = true;
            part.at_hand = part.at_hand.and(Amount::Metres(length_m));
        }
    }
    for part in parts.iter_mut().filter(|part| !part.to_buy().is_none()) {
        let left = drums.iter().filter(|(gauge, _)| part.is_of(*gauge));
        if let Some(left_m) = left
            .map(|(_, left_m)| *left_m)
            .reduce(f64::max)
            .filter(|left_m| *left_m > SAME_M)
        {
            part.tips.push(format!(
                "the longest piece left on the shelf, {left_m:.1} m, is too short"
            ));
        }
    }
}

impl Part {
    /// Solid or stranded is seldom marked on a drum.
    fn is_of(&self, drum: Gauge) -> bool {
        match self.is {
            Is::Wire(gauge, _) => {
                (drum.area_mm2() - gauge.area_mm2()).abs() < 1e-3 * gauge.area_mm2()
            }
            _ => false,
        }
    }
}

fn fit(part: &Part, at_hand: &ShelfPart) -> Fit {
    if part.kind != Some(at_hand.kind) {
        return Fit::No;
    }
    let written = at_hand.item.trim();
    match &part.is {
        Is::Named(name) if written.eq_ignore_ascii_case(name) => Fit::Yes,
        Is::Capacitor { farad, rating_v } => {
            let (value, rating) = halves(written);
            let rating = rating.and_then(|rating| rating.parse::<VoltsDc>().ok());
            match value.parse::<Capacitance>() {
                Ok(value) if near(value.0, *farad) => {
                    rated(rating.map(|rating| rating.0), *rating_v)
                }
                _ => Fit::No,
            }
        }
        Is::Resistor { ohm, rating_w } => {
            let (value, rating) = halves(written);
            match value.parse::<Resistance>() {
                Ok(value) if near(value.0, *ohm) => rated(rating.and_then(watts), *rating_w),
                _ => Fit::No,
            }
        }
        Is::Fuse { rating_a, time_lag } => match fuse(written) {
            Some((value_a, lags)) if near(value_a, *rating_a) => {
                if lags || !time_lag {
                    Fit::Yes
                } else {
                    Fit::Without("\"time-lag\" or \"T\"")
                }
            }
            _ => Fit::No,
        },
        Is::Named(_) | Is::Wire(..) | Is::Other => Fit::No,
    }
}

/// Compares a marked rating with the load that the part must withstand.
fn rated(rating: Option<f64>, least: f64) -> Fit {
    match rating {
        None => Fit::Without("a rating"),
        Some(rating) if rating >= least || near(rating, least) => Fit::Yes,
        Some(_) => Fit::No,
    }
}

fn near(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-6 * other.abs()
}

/// `0.5 W`, `1/4 W`.
fn watts(written: &str) -> Option<f64> {
    if let Ok(power) = written.parse::<Power>() {
        return Some(power.0);
    }
    let (over, under) = written.split_once('/')?;
    let over: f64 = over.trim().parse().ok()?;
    let under = under.parse::<Power>().ok()?;
    Some(over / under.0).filter(|watts| watts.is_finite())
}

/// `500 mA`, `T500mA`, `0.5 A time-lag`: its amperes, and whether it is marked time-lag.
fn fuse(written: &str) -> Option<(f64, bool)> {
    let mut lags = false;
    let mut words: Vec<&str> = Vec::new();
    for word in written.split([' ', ',']).filter(|word| !word.is_empty()) {
        let after_t = word.strip_prefix(['T', 't']);
        if TIME_DELAY.iter().any(|lag| word.eq_ignore_ascii_case(lag)) {
            lags = true;
        } else if let Some(value) =
            after_t.filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
        {
            lags = true;
            words.push(value);
        } else {
            words.push(word);
        }
    }
    let amperes = |text: &str| text.parse::<Current>().ok().map(|value| value.0);
    let alone = words.iter().find_map(|word| amperes(word));
    let value_a = alone.or_else(|| words.windows(2).find_map(|pair| amperes(&pair.join(" "))))?;
    Some((value_a, lags))
}

/// `220 uF 50 V`, `22 ohm, 0.5 W`: a value and its rating.
fn halves(written: &str) -> (&str, Option<&str>) {
    let words: Vec<(usize, &str)> = written
        .split([' ', ','])
        .filter(|word| !word.is_empty())
        .map(|word| (word.as_ptr() as usize - written.as_ptr() as usize, word))
        .collect();
    // The second number starts the second half.
    let second = words
        .iter()
        .skip(1)
        .find(|(_, word)| word.starts_with(|c: char| c.is_ascii_digit()));
    match second {
        Some((at, _)) => (
            written[..*at].trim_end_matches([' ', ',']),
            Some(written[*at..].trim()),
        ),
        None => (written, None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_told_from_what_it_is_rated_for() {
        for (written, value, rating) in [
            ("220 uF", "220 uF", None),
            ("220 uF 50 V", "220 uF", Some("50 V")),
            ("220uF, 63V", "220uF", Some("63V")),
            ("22 ohm 0.5 W", "22 ohm", Some("0.5 W")),
            ("", "", None),
        ] {
            assert_eq!(halves(written), (value, rating), "{written}");
        }
    }

    #[test]
    fn a_fuse_says_what_it_carries_and_whether_it_is_slow() {
        for (written, expected) in [
            ("500 mA", Some((0.5, false))),
            ("0.5 A quick", Some((0.5, false))),
            ("F500mA", None),
            ("T500mA", Some((0.5, true))),
            ("T 0.5 A", Some((0.5, true))),
            ("500 mA T", Some((0.5, true))),
            ("500mA, time-lag", Some((0.5, true))),
            ("0.5 A slow-blow", Some((0.5, true))),
            ("0.5 A time-delay", Some((0.5, true))),
            ("", None),
        ] {
            assert_eq!(fuse(written), expected, "{written}");
        }
    }

    #[test]
    fn watts_are_read_as_they_are_printed() {
        assert_eq!(watts("0.5 W"), Some(0.5));
        assert_eq!(watts("1/4 W"), Some(0.25));
        assert_eq!(watts("1/4"), None);
        assert_eq!(watts("strong"), None);
    }
}
