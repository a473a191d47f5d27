//! The fuse of the thin pair: S08, S09, S10.

use crate::chain::LinkJudgement;
use crate::circuit::supply::{BLOWS_AT, LOAD_HEADROOM, largest_blown_a};
use crate::circuit::wire::ampacity;
use crate::site::{Fuse, Link};

use super::super::{Code, Level, Notes};

/// Time-lag fuses that a shop has on the shelf [A] (common practice).
const STOCKED_FUSES_A: [f64; 10] = [0.1, 0.16, 0.25, 0.5, 1.0, 2.0, 3.15, 5.0, 7.5, 10.0];

pub(super) fn cautions(link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let short_a = judgement.sagging_short_a;
    let load_a = judgement.ordinary.dusk.pair_rms_a;
    let carries_a = link.cable.map(|cable| ampacity(cable.gauge).amps);
    let most_a = carries_a
        .unwrap_or(f64::INFINITY)
        .min(largest_blown_a(short_a));
    let advice = STOCKED_FUSES_A
        .into_iter()
        .rev()
        .find(|rating| *rating <= most_a && *rating >= LOAD_HEADROOM * load_a)
        .map_or_else(
            || {
                format!(
                    "no common fuse carries the pair's {} and is at most {}: use thicker wire, or a relay with more ohms",
                    amps(load_a),
                    amps(most_a)
                )
            },
            |rating| format!("fit {} time-lag at the tapping point", amps(rating)),
        );
    match link.fuse {
        // Without voltage there is no current to judge a fuse by.
        _ if short_a <= 0.0 => {}
        Fuse::NotStated => notes.add(
            Code::S08,
            Level::Note,
            format!(
                "pair fuse not stated; a short at the far end draws {}: {advice}",
                amps(short_a)
            ),
        ),
        Fuse::None => notes.add(
            Code::S08,
            Level::Stop,
            format!(
                "the thin pair has no fuse; a short at the far end draws {}: {advice}",
                amps(short_a)
            ),
        ),
        Fuse::Rated(rating) if rating < LOAD_HEADROOM * load_a => notes.add(
            Code::S10,
            Level::Stop,
            format!(
                "fuse {} is below {LOAD_HEADROOM} times the pair's {}: {advice}",
                amps(rating),
                amps(load_a)
            ),
        ),
        Fuse::Rated(rating) => {
            if let Some(carries_a) = carries_a
                && rating > carries_a
            {
                notes.add(
                    Code::S10,
                    Level::Stop,
                    format!(
                        "fuse {} is above the {} that the wire carries: {advice}",
                        amps(rating),
                        amps(carries_a)
                    ),
                );
            } else if rating * BLOWS_AT > short_a {
                notes.add(
                    Code::S09,
                    Level::Warn,
                    format!(
                        "a short at the far end draws {}, fuse {} needs {} to blow promptly: {advice}",
                        amps(short_a),
                        amps(rating),
                        amps(rating * BLOWS_AT)
                    ),
                );
            }
        }
    }
}

/// `1.6 mA`, `500 mA`, `1.93 A`, `12.5 A`: three digits, no zeros at the end.
pub(crate) fn amps(current_a: f64) -> String {
    let (value, unit) = if current_a < 1.0 {
        (current_a * 1000.0, "mA")
    } else {
        (current_a, "A")
    };
    let decimals = match value {
        small if small < 10.0 => 2,
        small if small < 100.0 => 1,
        _ => 0,
    };
    let text = format!("{value:.decimals$}");
    let text = if decimals > 0 {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    format!("{text} {unit}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn currents_are_said_with_three_digits() {
        for (current_a, said) in [
            (0.0016, "1.6 mA"),
            (0.0784, "78.4 mA"),
            (0.16, "160 mA"),
            (0.5, "500 mA"),
            (1.0, "1 A"),
            (1.926, "1.93 A"),
            (3.15, "3.15 A"),
            (12.5, "12.5 A"),
            (120.0, "120 A"),
        ] {
            assert_eq!(amps(current_a), said);
        }
    }
}
