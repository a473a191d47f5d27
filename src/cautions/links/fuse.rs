//! The fuse of the thin pair: S08, S09, S10; what it leaves to a series resistor: S48.
//!
//! A fuse sees a short at the coil if it blows at the lowest mains or supply voltage, all lamps lit; what
//! the short leaves to a series resistor is worked out for the highest. The fuse of a pair is there for the
//! pair: only before a series resistor does the advice take a smaller one that sees both shorts.

use crate::circuit::supply::largest_blown_a;
use crate::fuse_size::{Fit, pair_fuse, resistor_in_short};
use crate::link::LinkJudgement;
use crate::site::{Fuse, Link};
use crate::text::{amps, fuse_advice};

use super::super::fuse::{fuse_caution, say_unfit};
use super::super::{Code, Level, Notes};

pub(super) fn cautions(link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let pair = pair_fuse(link, judgement);
    if pair.fit() == Fit::Missing
        && let Some((code, level)) = fuse_caution(&pair)
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
                fuse_advice(&pair)
            ),
        );
    }
    say_unfit(&pair, notes, "");
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
