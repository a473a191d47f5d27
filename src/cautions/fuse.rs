//! The fuse at the source end of a run: what it must carry, and must see.
//!
//! The caution and the row of the sheet are said from one [`RunFuse::fit`], so that they agree.

use crate::circuit::supply::{BLOWS_AT, LOAD_HEADROOM, largest_blown_a};
use crate::site::Fuse;
use crate::wording::amps;

use super::{Code, Level, Notes};

/// Fuses that a shop has on the shelf [A] (common practice): glass ones up to 10 A, blades above. It ends
/// where NEC 411 ends a secondary circuit.
const STOCKED_FUSES_A: [f64; 13] = [
    0.1, 0.16, 0.25, 0.5, 1.0, 2.0, 3.15, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0,
];

/// The largest time-lag fuse of glass on that shelf [A] (common practice).
const LARGEST_TIME_LAG_A: f64 = 10.0;

/// What a fuse guards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Guards {
    /// The thin pair of a link, from its tapping point on.
    Pair,
    /// A lamp cable, from its supply on.
    Trunk,
}

/// The fuse of a run, and what it must carry and see.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct RunFuse {
    guards: Guards,
    fuse: Fuse,
    /// In the run, lit [A RMS or A DC]; `None` where it browns out.
    pub(crate) load_a: Option<f64>,
    /// In the run, shorted at its far end [A]; `None` where its cable is not stated.
    pub(crate) short_a: Option<f64>,
    /// What its wire carries [A], if that is stated.
    pub(crate) carries_a: Option<f64>,
    /// What its supply gives into any short [A], if that is what spares the wire.
    limited_a: Option<f64>,
    /// The largest that its wire bears and a far-end short blows [A].
    pub(crate) most_a: f64,
    /// A common one that does all of it [A], if there is one.
    pub(crate) stocked_a: Option<f64>,
}

/// Whether a fuse does what it is there for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Fit {
    /// There is no voltage, and so no current to judge it by.
    NoVoltage,
    /// There is none, or none is stated.
    Missing,
    /// There is none, or it does not see a far-end short, and its wire carries all that the supply gives.
    Spared,
    /// It blows in service.
    TooSmall,
    /// The wire is too thin for it.
    TooLarge,
    /// A short at the far end may not blow it.
    Blind,
    /// Nothing is wrong, but the run browns out, and nobody knows its load.
    LoadNotKnown,
    /// Nothing is wrong, but its cable is not stated.
    WireNotKnown,
    /// It carries the load, spares the wire and sees a short.
    Fits,
}

impl RunFuse {
    /// `gives_a`: the most that its supply gives [A], if that counts and is known.
    pub(super) fn new(
        guards: Guards,
        fuse: Fuse,
        load_a: Option<f64>,
        short_a: Option<f64>,
        (carries_a, gives_a): (Option<f64>, Option<f64>),
    ) -> Self {
        let most_a = carries_a
            .unwrap_or(f64::INFINITY)
            .min(short_a.map_or(f64::INFINITY, largest_blown_a));
        let on_the_shelf_a = match guards {
            Guards::Pair => most_a.min(LARGEST_TIME_LAG_A),
            Guards::Trunk => most_a,
        };
        let carries = |rating: f64| load_a.is_none_or(|load_a| rating >= LOAD_HEADROOM * load_a);
        Self {
            guards,
            fuse,
            load_a,
            short_a,
            carries_a,
            limited_a: gives_a
                .zip(carries_a)
                .filter(|(gives_a, carries_a)| gives_a <= carries_a)
                .map(|(gives_a, _)| gives_a),
            most_a,
            // How large it may be nobody knows without its wire.
            stocked_a: short_a.and_then(|_| {
                let mut fitting = STOCKED_FUSES_A
                    .into_iter()
                    .filter(|rating| *rating <= on_the_shelf_a && carries(*rating));
                match guards {
                    // The smallest sees most. A pair's coil takes little, and a capacitor charges
                    // through its fuse every evening: there the largest lasts.
                    Guards::Trunk if load_a.is_some() => fitting.next(),
                    Guards::Trunk | Guards::Pair => fitting.next_back(),
                }
            }),
        }
    }

    /// Whether it does what it is there for.
    pub(crate) fn fit(&self) -> Fit {
        if self.short_a.is_some_and(|short_a| short_a <= 0.0) {
            return Fit::NoVoltage;
        }
        let Fuse::Rated(rating) = self.fuse else {
            return if self.short_a.is_none() {
                Fit::WireNotKnown
            } else if self.limited_a.is_some() {
                Fit::Spared
            } else {
                Fit::Missing
            };
        };
        if self
            .load_a
            .is_some_and(|load_a| rating < LOAD_HEADROOM * load_a)
        {
            Fit::TooSmall
        } else if self.carries_a.is_some_and(|carries_a| rating > carries_a) {
            // Whatever the supply gives today: it is exchanged for a larger one sooner than the cable.
            Fit::TooLarge
        } else if self
            .short_a
            .is_some_and(|short_a| rating * BLOWS_AT > short_a)
        {
            if self.limited_a.is_some() {
                Fit::Spared
            } else {
                Fit::Blind
            }
        } else if self.load_a.is_none() {
            Fit::LoadNotKnown
        } else if self.short_a.is_none() {
            Fit::WireNotKnown
        } else {
            Fit::Fits
        }
    }

    /// The caution that this calls for.
    pub(crate) fn caution(&self) -> Option<(Code, Level)> {
        match self.fit() {
            Fit::Missing => Some((
                match self.guards {
                    Guards::Pair => Code::S08,
                    Guards::Trunk => Code::S06,
                },
                // What the file leaves out is there as often as not.
                if self.fuse == Fuse::None {
                    Level::Stop
                } else {
                    Level::Note
                },
            )),
            Fit::TooSmall | Fit::TooLarge => Some((Code::S10, Level::Stop)),
            Fit::Blind => Some((Code::S09, Level::Warn)),
            Fit::NoVoltage | Fit::Spared | Fit::LoadNotKnown | Fit::WireNotKnown | Fit::Fits => {
                None
            }
        }
    }

    /// Which fuse to fit, or what to do where no common one will do.
    pub(super) fn advice(&self) -> String {
        let (place, remedy) = match self.guards {
            Guards::Pair => (
                " time-lag at the tapping point",
                "use thicker wire, or a relay with more ohms",
            ),
            Guards::Trunk => (
                " at the supply",
                "use thicker wire, or hang fewer lamps on it",
            ),
        };
        let run = match self.guards {
            Guards::Pair => "the pair's",
            Guards::Trunk => "its",
        };
        match (self.stocked_a, self.load_a) {
            (Some(rating), Some(_)) => format!("fit {}{place}", amps(rating)),
            (Some(rating), None) => format!(
                "fit {} or less{place}: what it must carry is not known while the run browns out",
                amps(rating)
            ),
            (None, Some(load_a)) if self.short_a.is_none() => STOCKED_FUSES_A
                .into_iter()
                .find(|rating| *rating >= LOAD_HEADROOM * load_a)
                .map_or_else(
                    || {
                        format!(
                            "no common fuse carries {run} {}: make it several runs",
                            amps(load_a)
                        )
                    },
                    |rating| format!("fit {} or more{place}, if the wire bears it", amps(rating)),
                ),
            (None, Some(load_a)) => format!(
                "no common fuse carries {run} {} and is at most {}: {remedy}",
                amps(load_a),
                amps(self.most_a)
            ),
            (None, None) => format!("no common fuse is at most {}: {remedy}", amps(self.most_a)),
        }
    }

    /// What is wrong with a fuse that is there, in words, and what to do.
    pub(super) fn say_unfit(&self, notes: &mut Notes, place: &str) {
        let (Some((code, level)), Fuse::Rated(rating)) = (self.caution(), self.fuse) else {
            return;
        };
        let (fuse, load) = match self.guards {
            Guards::Pair => ("fuse", "the pair's"),
            Guards::Trunk => ("trunk fuse", "the load of"),
        };
        let known = |value: Option<f64>| amps(value.unwrap_or_default());
        let why = match self.fit() {
            Fit::TooSmall => format!(
                "{fuse} {} is below {LOAD_HEADROOM} times {load} {}",
                amps(rating),
                known(self.load_a)
            ),
            Fit::TooLarge => format!(
                "{fuse} {} is above the {} that the wire carries",
                amps(rating),
                known(self.carries_a)
            ),
            _ => format!(
                "a short at the far end draws {}, {fuse} {} needs {} to blow promptly",
                known(self.short_a),
                amps(rating),
                amps(rating * BLOWS_AT)
            ),
        };
        notes.add(code, level, format!("{place}{why}: {}", self.advice()));
    }

    /// Whether it does what it is there for, for a row of a table.
    pub(crate) fn said(&self) -> String {
        let (limited_a, carries_a) = (self.limited_a, self.carries_a);
        let spares = || match limited_a.zip(carries_a) {
            Some((limited_a, carries_a)) => format!(
                "the supply gives at most {} and the wire carries {}",
                amps(limited_a),
                amps(carries_a)
            ),
            None => String::new(),
        };
        let said = match (self.fit(), self.fuse) {
            (Fit::NoVoltage, _) => "no voltage to judge it by".into(),
            (Fit::Missing, Fuse::None) => format!("missing: {}", self.advice()),
            (Fit::Missing, _) => format!("not stated: {}", self.advice()),
            (Fit::Spared, Fuse::Rated(_)) => {
                let load = if self.load_a.is_some() {
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
                match self.stocked_a {
                    Some(_) => format!("{spared}. To end it, {}", self.advice()),
                    None => format!("{spared}, and no common fuse would see it"),
                }
            }
            (Fit::TooSmall, _) => format!("too small, it blows in service: {}", self.advice()),
            (Fit::TooLarge, _) => format!("too large for the wire: {}", self.advice()),
            (Fit::Blind, _) => format!(
                "a short at the far end may not blow it, too little flows: {}",
                self.advice()
            ),
            (Fit::LoadNotKnown, _) => {
                "load not known: the run browns out; spares the wire, sees a short at the far end"
                    .into()
            }
            (Fit::WireNotKnown, Fuse::Rated(_)) if self.load_a.is_none() => {
                "load not known: the run browns out; its wire is not stated".into()
            }
            (Fit::WireNotKnown, Fuse::Rated(_)) => {
                "carries the load; its wire is not stated".into()
            }
            (Fit::WireNotKnown, _) if self.load_a.is_none() => {
                "neither load nor wire is known".into()
            }
            (Fit::WireNotKnown, _) => format!("its wire is not stated: {}", self.advice()),
            (Fit::Fits, _) => {
                "carries the load, spares the wire, sees a short at the far end".into()
            }
        };
        match self.caution() {
            Some((code, level)) => format!("{} {code}: {said}", level.name()),
            None => said,
        }
    }
}
