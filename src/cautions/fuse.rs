//! Cautions of a fuse at the source end of a run: S06, S08, S09, S10.
//!
//! A fuse that the file does not state is only a note: absence from the file is not absence from the yard.
//! `fuse = "none"` says that there is none, and stops.

use crate::circuit::supply::{BLOWS_AT, LOAD_HEADROOM};
use crate::fuse_size::{Fit, Guards, RunFuse};
use crate::site::Fuse;
use crate::text::{amps, fuse_advice};

use super::{Code, Level, Notes};

/// The caution that this fuse calls for.
pub(crate) fn fuse_caution(run: &RunFuse) -> Option<(Code, Level)> {
    match run.fit() {
        Fit::Missing => Some((
            match run.guards {
                Guards::Pair => Code::S08,
                Guards::Trunk => Code::S06,
            },
            // What the file leaves out may still be in the yard: a warning, not a stop.
            if run.fuse == Fuse::None {
                Level::Stop
            } else {
                Level::Note
            },
        )),
        Fit::TooSmall | Fit::TooLarge => Some((Code::S10, Level::Stop)),
        Fit::Blind => Some((Code::S09, Level::Warn)),
        Fit::NoVoltage | Fit::Spared | Fit::LoadNotKnown | Fit::WireNotKnown | Fit::Fits => None,
    }
}

/// Says what is wrong with a fuse that is fitted, and what to do.
pub(super) fn say_unfit(run: &RunFuse, notes: &mut Notes, place: &str) {
    let (Some((code, level)), Fuse::Rated(rating)) = (fuse_caution(run), run.fuse) else {
        return;
    };
    let (fuse, load) = match run.guards {
        Guards::Pair => ("fuse", "the pair's"),
        Guards::Trunk => ("trunk fuse", "the load of"),
    };
    let known = |value: Option<f64>| amps(value.unwrap_or_default());
    let why = match run.fit() {
        Fit::TooSmall => format!(
            "{fuse} {} is below {LOAD_HEADROOM} times {load} {} (common practice)",
            amps(rating),
            known(run.load_a)
        ),
        Fit::TooLarge => format!(
            "{fuse} {} is above the {} that the wire carries ({})",
            amps(rating),
            known(run.carries_a()),
            run.carries.map_or("", |carries| carries.basis.source())
        ),
        _ => format!(
            "a short at the far end draws {}, {fuse} {} needs {} to blow promptly ({BLOWS_AT} times its rating: IEC 60127-2, from memory)",
            known(run.short_a),
            amps(rating),
            amps(rating * BLOWS_AT)
        ),
    };
    notes.add(code, level, format!("{place}{why}: {}", fuse_advice(run)));
}
