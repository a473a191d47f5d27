//! The fuse of the thin pair: S08, S09, S10.

use crate::chain::LinkJudgement;
use crate::circuit::supply::{BLOWS_AT, LOAD_HEADROOM, largest_blown_a};
use crate::circuit::wire::ampacity;
use crate::site::{Fuse, Link};
use crate::wording::amps;

use super::super::{Code, Level, Notes};

/// Time-lag fuses that a shop has on the shelf [A] (common practice).
const STOCKED_FUSES_A: [f64; 10] = [0.1, 0.16, 0.25, 0.5, 1.0, 2.0, 3.15, 5.0, 7.5, 10.0];

/// What the fuse of a pair must carry, and must see.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct PairFuse {
    /// In the pair, lit [A RMS].
    pub(crate) load_a: f64,
    /// In the pair, shorted at its far end [A].
    pub(crate) short_a: f64,
    /// What its wire carries [A], if that is stated.
    pub(crate) carries_a: Option<f64>,
    /// The largest that its wire bears and a far-end short blows [A].
    pub(crate) most_a: f64,
    /// A common one that does all of it [A], if there is one.
    pub(crate) stocked_a: Option<f64>,
}

/// The fuse that a pair should have.
pub(crate) fn pair_fuse(link: &Link, judgement: &LinkJudgement) -> PairFuse {
    let short_a = judgement.sagging_short_a;
    let load_a = judgement.ordinary.dusk.pair_rms_a;
    let carries_a = link.cable.map(|cable| ampacity(cable.gauge).amps);
    let most_a = carries_a
        .unwrap_or(f64::INFINITY)
        .min(largest_blown_a(short_a));
    PairFuse {
        load_a,
        short_a,
        carries_a,
        most_a,
        stocked_a: STOCKED_FUSES_A
            .into_iter()
            .rev()
            .find(|rating| *rating <= most_a && *rating >= LOAD_HEADROOM * load_a),
    }
}

pub(super) fn cautions(link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let PairFuse {
        load_a,
        short_a,
        carries_a,
        most_a,
        stocked_a,
    } = pair_fuse(link, judgement);
    let advice = stocked_a.map_or_else(
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
