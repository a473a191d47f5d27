//! Whether the fuse of a run fits, and which rating does.

use crate::circuit::supply::LOAD_HEADROOM;
use crate::circuit::wire::Ampacity;
use crate::fuse_size::{Fit, Guards, RunFuse, STOCKED_FUSES_A};
use crate::site::Fuse;

use super::amps;

/// `15 A (NEC 240.4(D), from memory)`.
pub(crate) fn wire_carries(carries: Ampacity) -> String {
    format!("{} ({})", amps(carries.amps), carries.basis.source())
}

/// Which fuse to fit, or what to do where no common one will do.
pub(crate) fn fuse_advice(run: &RunFuse) -> String {
    let (place, remedy) = match run.guards {
        Guards::Pair => (
            " time-lag at the tapping point",
            "use thicker wire, or a relay with more ohms",
        ),
        Guards::Trunk => (
            " at the supply",
            "use thicker wire, or hang fewer lamps on it",
        ),
    };
    let whose = match run.guards {
        Guards::Pair => "the pair's",
        Guards::Trunk => "its",
    };
    match (run.stocked_a, run.load_a) {
        (Some(rating), Some(_)) => format!("fit {}{place}", amps(rating)),
        (Some(rating), None) => format!(
            "fit {} or less{place}: what it must carry is not known while the run browns out",
            amps(rating)
        ),
        (None, Some(load_a)) if run.short_a.is_none() => STOCKED_FUSES_A
            .into_iter()
            .find(|rating| *rating >= LOAD_HEADROOM * load_a)
            .map_or_else(
                || {
                    format!(
                        "no common fuse carries {whose} {}: make it several runs",
                        amps(load_a)
                    )
                },
                |rating| format!("fit {} or more{place}, if the wire bears it", amps(rating)),
            ),
        (None, Some(load_a)) => format!(
            "no common fuse carries {whose} {} and is at most {}: {remedy}",
            amps(load_a),
            amps(run.most_a)
        ),
        (None, None) => format!("no common fuse is at most {}: {remedy}", amps(run.most_a)),
    }
}

/// Whether the fuse does its job, for a row of a table.
pub(crate) fn fuse_fit(run: &RunFuse) -> String {
    let (limited_a, carries_a) = (run.limited_a, run.carries_a());
    let spares = || match limited_a.zip(carries_a) {
        Some((limited_a, carries_a)) => format!(
            "the supply gives at most {} and the wire carries {}",
            amps(limited_a),
            amps(carries_a)
        ),
        None => String::new(),
    };
    match (run.fit(), run.fuse) {
        (Fit::NoVoltage, _) => "no voltage to judge it by".into(),
        (Fit::Missing, Fuse::None) => format!("missing: {}", fuse_advice(run)),
        (Fit::Missing, _) => format!("not stated: {}", fuse_advice(run)),
        (Fit::Spared, Fuse::Rated(_)) => {
            let load = if run.load_a.is_some() {
                "carries the load"
            } else {
                "load not known: the run browns out"
            };
            format!(
                "{load}; {}: a short that the fuse does not see heats nothing",
                spares()
            )
        }
        (Fit::Spared, _) => {
            let spared = format!("{}: a short heats nothing", spares());
            match run.stocked_a {
                Some(_) => format!("{spared}. To end it, {}", fuse_advice(run)),
                None => format!("{spared}, and no common fuse would see it"),
            }
        }
        (Fit::TooSmall, _) => format!("too small, it blows in service: {}", fuse_advice(run)),
        (Fit::TooLarge, _) => format!("too large for the wire: {}", fuse_advice(run)),
        (Fit::Blind, _) => format!(
            "a short at the far end may not blow it, too little flows: {}",
            fuse_advice(run)
        ),
        (Fit::LoadNotKnown, _) => {
            "load not known: the run browns out; spares the wire, sees a short at the far end"
                .into()
        }
        (Fit::WireNotKnown, Fuse::Rated(_)) if run.load_a.is_none() => {
            "load not known: the run browns out; its wire is not stated".into()
        }
        (Fit::WireNotKnown, Fuse::Rated(_)) => "carries the load; its wire is not stated".into(),
        (Fit::WireNotKnown, _) if run.load_a.is_none() => "neither load nor wire is known".into(),
        (Fit::WireNotKnown, _) => format!("its wire is not stated: {}", fuse_advice(run)),
        (Fit::Fits, _) => "carries the load, spares the wire, sees a short at the far end".into(),
    }
}
