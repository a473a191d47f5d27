//! The fuse of the thin pair: S08, S09, S10; what it leaves to a series resistor: S48.

use crate::chain::LinkJudgement;
use crate::circuit::supply::largest_blown_a;
use crate::circuit::wire::ampacity;
use crate::site::{Fuse, Link};
use crate::wording::amps;

use super::super::fuse::{Fit, Guards, RunFuse};
use super::super::{Code, Level, Notes};

/// The fuse of a pair, and the one that it should have.
pub(crate) fn pair_fuse(link: &Link, judgement: &LinkJudgement) -> RunFuse {
    let seeing = |short_a| {
        RunFuse::new(
            Guards::Pair,
            link.fuse,
            Some(judgement.ordinary.dusk.pair_rms_a),
            Some(short_a),
            // A thin pair has a fuse, whatever feeds it (rule of the trade).
            (link.cable.map(|cable| ampacity(cable.gauge).amps), None),
        )
    };
    // It is there for the pair. Before a series resistor, one that sees a short behind that as well is better, where
    // there is one.
    let mut pair = seeing(judgement.sagging_short_a);
    if link.series_ohm > 0.0 {
        let both = seeing(judgement.coil_short_a.least).stocked_a;
        pair.stocked_a = both.or(pair.stocked_a);
    }
    pair
}

pub(super) fn cautions(link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let pair = pair_fuse(link, judgement);
    if pair.fit() == Fit::Missing
        && let Some((code, level)) = pair.caution()
    {
        let what = if link.fuse == Fuse::None {
            "the thin pair has no fuse"
        } else {
            "pair fuse not stated"
        };
        notes.add(
            code,
            level,
            format!(
                "{what}; a short at the far end draws {}: {}",
                amps(judgement.sagging_short_a),
                pair.advice()
            ),
        );
    }
    pair.say_unfit(notes, "");
    if let Some(heat_w) = resistor_in_short(link, judgement) {
        let fuse = match link.fuse {
            Fuse::Rated(rating) => format!("the pair's fuse of {} does not end that", amps(rating)),
            Fuse::None | Fuse::NotStated => "no common fuse ends that".into(),
        };
        let mount = pair
            .stocked_a
            .filter(|rating| *rating <= largest_blown_a(judgement.coil_short_a.least))
            .map_or_else(
                || "Mount".into(),
                |rating| format!("Fit {} time-lag, which does, or mount", amps(rating)),
            );
        notes.add(
            Code::S48,
            Level::Note,
            format!(
                "a short in {} leaves up to {} in the pair and {heat_w:.1} W in the series resistor, and {fuse}. {mount} it where so much heat harms nothing, clear of plastic and cables",
                if link.capacitor.is_some() { "coil or capacitor" } else { "the coil" },
                amps(judgement.coil_short_a.most)
            ),
        );
    }
}

/// What a short of the coil leaves to a series resistor [W], where the pair's fuse is not sure to end it, or the
/// one that S08 asks for; `None` where it does, or there is no resistor.
pub(crate) fn resistor_in_short(link: &Link, judgement: &LinkJudgement) -> Option<f64> {
    let short_a = judgement.coil_short_a;
    let rating = match link.fuse {
        Fuse::Rated(rating) => Some(rating),
        Fuse::None | Fuse::NotStated => pair_fuse(link, judgement).stocked_a,
    };
    let ends = rating.is_some_and(|rating| rating <= largest_blown_a(short_a.least));
    (link.series_ohm > 0.0 && !ends).then(|| short_a.resistor_w(link))
}
