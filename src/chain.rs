//! The whole chain as one course of events: which zone is lit when, and which stays dark if a part fails.
//!
//! ```text
//! head switched ─► pair live ─ pull-in ─► contact closes ─ bounce ─► remote-on line low
//!                                                                        │ start, rise
//!                  next pair live ◄────────────── supply up: zone lit ◄──┘
//!
//! head off ─► pair dead ─ drop-out ─► contact opens: line high ─ hold-up ─► supply down: dark ─► …
//! ```
//!
//! The earliest thing due always happens next ([`Yard`]). A relay whose pair comes back before its drop-out
//! time is over does not move: the capacitor carries it through. Every stage has its own pull-in and drop-out
//! times ([`super::Times`]), on a pair that its master's supply feeds with AC or with DC.
//!
//! Source: the times come from the simulation of each link. Power-on time, rise and hold-up of supplies come
//! from the site file, or are the limits of the ATX12V design guides (up to 500 ms, up to 20 ms, at least 16
//! ms). Holds: trees of links, any number of heads. Leaves out: the charge that a short dip takes from the
//! capacitor (a second dip soon after finds it less than full), and the half charge of a capacitor that is
//! switched on too briefly. A head counts as lit when it is switched: its own supply's start comes before that.

use std::time::Duration;

use crate::site::{SupplyId, ZoneId};

mod delays;
mod outages;
pub mod remote_on;
mod stage;
mod yard;

#[cfg(test)]
mod cases;
#[cfg(test)]
mod laws;

pub use delays::{Chain, ChainZone, Total, chain};
pub use outages::{Course, LitZones, Outage, is_timer, outages};
pub use stage::{Delays, Fed, Stage, Wiring, wiring};
pub use yard::Yard;

/// How fast everything happens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// Everything is at its fastest. Times that a data sheet gives as an upper limit (supply start, hold-up,
    /// contact bounce) count as zero.
    Quickest,
    /// Rated parts on an ordinary evening.
    Typical,
    /// Everything is at its slowest.
    Slowest,
}

impl Pace {
    pub const ALL: [Self; 3] = [Self::Quickest, Self::Typical, Self::Slowest];
}

/// A fault of one part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Failure {
    /// A supply has lost its mains or has died; it runs on for its hold-up time.
    SupplyDead(SupplyId),
    /// A supply has shut down after an overload. It starts again after its remote-on line was released for its
    /// restart time, or after its mains was away for a while. A supply that is off clears the shut-down when it
    /// is switched on again.
    SupplyLatched(SupplyId),
    /// The pair to this slave is cut.
    PairOpen(ZoneId),
    /// The relay of this slave stays out: coil or armature.
    StaysOut(ZoneId),
    /// The contact of this slave is welded.
    StaysIn(ZoneId),
    /// The closed contact of this slave has this resistance [Ω].
    DirtyContact(ZoneId, f64),
}

/// What is done to a yard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Input {
    /// A zone is switched; see [`Yard::switch`].
    Switch(ZoneId, bool),
    Fail(Failure),
    /// The fault is repaired.
    Mend(Failure),
}

/// Why the state of a supply cannot be predicted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// The line was released for less than the supply's restart time. Assumed: the supply starts as asked.
    ShortOff,
    /// The remote-on line lies between the two levels. Assumed: the supply stays off.
    BetweenLevels,
}

/// What happens to a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    SwitchedOn,
    SwitchedOff,
    /// The pair to it comes live.
    PairLive,
    /// The pair to it goes dead.
    PairDead,
    /// The pair is live again before the relay let go.
    RodeThrough,
    /// Its relay closes, and bounces.
    RelayCloses,
    /// Its contact has come to rest.
    BounceOver,
    RelayOpens,
    /// Its remote-on line asks the supply to go on.
    AskedOn,
    /// Its remote-on line asks the supply to go off.
    AskedOff,
    /// Told to go off, it is held on by another zone that the same supply feeds: by the contact of one further
    /// down its chain, or by one that wakes that supply too.
    HeldOn,
    /// The state of its supply cannot be predicted.
    Unsure(Doubt),
    /// One of its parts fails.
    Fails,
    /// A failed part is repaired.
    Mended,
    /// Its supply is up: lit.
    Lit,
    /// Its supply is down: dark.
    Dark,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Event {
    /// Since the beginning.
    pub at: Duration,
    pub zone: ZoneId,
    pub what: What,
}

/// From lit to dark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// Lit since.
    pub from: Duration,
    /// Dark from then on; `None` if it is still lit at the end.
    pub until: Option<Duration>,
}

/// A yard's events from beginning to end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Timeline {
    /// In the order in which they happen.
    pub events: Vec<Event>,
    /// When each zone is lit.
    pub lit: Vec<Vec<Stretch>>,
}

/// Works out the events that these inputs cause, up to and including `until`. Inputs at the same instant are
/// taken in the order given.
pub fn timeline(
    wiring: &[Wiring],
    pace: Pace,
    inputs: &[(Duration, Input)],
    until: Duration,
) -> Timeline {
    let mut yard = Yard::new(wiring, pace);
    let mut inputs = inputs.to_vec();
    inputs.sort_by_key(|(at, _)| *at);
    for (at, input) in inputs.into_iter().filter(|(at, _)| *at <= until) {
        yard.put(input, at);
    }
    yard.advance_to(until);
    let events = yard.take_events();
    let lit = stretches(wiring.len(), &events);
    Timeline { events, lit }
}

fn stretches(zones: usize, events: &[Event]) -> Vec<Vec<Stretch>> {
    let mut lit = vec![Vec::new(); zones];
    for event in events {
        let stretches = &mut lit[event.zone.0];
        match event.what {
            What::Lit => stretches.push(Stretch {
                from: event.at,
                until: None,
            }),
            What::Dark => {
                let last = stretches.last_mut().expect("dark comes after lit");
                last.until = Some(event.at);
            }
            _ => {}
        }
    }
    lit
}
