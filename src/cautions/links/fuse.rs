//! The fuse of the thin pair: S08, S09, S10.

use crate::chain::LinkJudgement;
use crate::circuit::wire::ampacity;
use crate::site::{Fuse, Link};
use crate::wording::amps;

use super::super::Notes;
use super::super::fuse::{Fit, Guards, RunFuse};

/// The fuse of a pair, and the one that it should have.
pub(crate) fn pair_fuse(link: &Link, judgement: &LinkJudgement) -> RunFuse {
    RunFuse::new(
        Guards::Pair,
        link.fuse,
        Some(judgement.ordinary.dusk.pair_rms_a),
        Some(judgement.sagging_short_a),
        // A thin pair has a fuse, whatever feeds it (rule of the trade).
        (link.cable.map(|cable| ampacity(cable.gauge).amps), None),
    )
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
}
