//! The whole chain as one course of events: who is lit when, and what stays dark if a part fails.
//!
//! ```text
//! head switched ─► pair live ─ pull-in ─► contact closes ─ bounce ─► remote-on line low
//!                                                                        │ start, rise
//!                  next pair live ◄────────────── supply up: zone lit ◄──┘
//!
//! head off ─► pair dead ─ drop-out ─► contact opens: line high ─ hold-up ─► supply down: dark ─► …
//! ```
//!
//! What happens next is always the earliest thing that is due ([`Yard`]). A relay whose pair comes
//! back before its drop-out time is over notices nothing: the capacitor has carried it. Every stage
//! has its own pull-in and drop-out times ([`super::Times`]), on a pair that its master's supply feeds
//! with AC or with DC.
//!
//! Source: the times are those of the simulation of each link; power-on time, rise and hold-up of
//! supplies are the site file's, or the limits of the ATX12V design guides (up to 500 ms, up to 20 ms,
//! at least 16 ms). Holds: trees of links, any number of heads. Leaves out: what a dip that is ridden
//! through takes from the capacitor (a second one soon after finds it less than full), and the half
//! charge of one that is switched on too briefly. A head counts as lit when it is switched: what its
//! own supply takes comes before.

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

/// How fast everything goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// All that may hasten it does. What a sheet gives as a limit, a supply's start and hold-up and a
    /// contact's bounce, takes no time.
    Quickest,
    /// Rated parts on an ordinary evening.
    Typical,
    /// All that may delay it does.
    Slowest,
}

impl Pace {
    pub const ALL: [Self; 3] = [Self::Quickest, Self::Typical, Self::Slowest];
}

/// What may be broken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Failure {
    /// A supply has no mains, or is spent; it runs on for its hold-up.
    SupplyDead(SupplyId),
    /// A supply has shut itself down after an overload. It starts again when it is let go for as long
    /// as it needs, or loses its mains for a while. One that is off forgets it when it is told to go on.
    SupplyLatched(SupplyId),
    /// The pair to this slave is cut.
    PairOpen(ZoneId),
    /// The relay of this slave stays out: coil or armature.
    StaysOut(ZoneId),
    /// The contact of this slave is welded.
    StaysIn(ZoneId),
    /// The closed contact of this slave has so many ohms.
    DirtyContact(ZoneId, f64),
}

/// What is done to a yard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Input {
    /// A zone is switched; see [`Yard::switch`].
    Switch(ZoneId, bool),
    Fail(Failure),
    /// It is whole again.
    Mend(Failure),
}

/// Why nobody can say what a supply does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// Let go for less than it needs to start again. It is taken to do as it is told.
    ShortOff,
    /// Its remote-on line lies between the levels. It is taken to stay off.
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
    /// The pair is live again before its relay noticed.
    RodeThrough,
    /// Its relay closes, and bounces.
    RelayCloses,
    /// Its contact has come to rest.
    BounceOver,
    RelayOpens,
    /// Its supply is told to go on.
    AskedOn,
    /// Its supply is told to go off.
    AskedOff,
    /// Told to go off, it is held on by the contact of a zone further down its chain, which is fed by
    /// the same supply.
    HeldOn,
    /// Nobody can say what its supply does.
    Unsure(Doubt),
    /// Something of it breaks.
    Fails,
    /// Something of it is whole again.
    Mended,
    /// Its supply is up: lit.
    Lit,
    /// Its supply is down: dark.
    Dark,
}

/// What happens when, and where.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Event {
    /// Since the beginning.
    pub at: Duration,
    /// To this zone.
    pub zone: ZoneId,
    pub what: What,
}

/// From lit to dark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// Lit since.
    pub from: Duration,
    /// Dark again; `None` if it still is lit at the end.
    pub until: Option<Duration>,
}

/// A yard from beginning to end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Timeline {
    /// In the order in which they happen.
    pub events: Vec<Event>,
    /// When each zone is lit.
    pub lit: Vec<Vec<Stretch>>,
}

/// What becomes of these inputs, up to and including `until`. Inputs of one instant are taken in the
/// order given.
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
