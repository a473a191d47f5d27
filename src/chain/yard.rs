//! The yard as it runs: whatever is due next happens next.

use std::collections::BTreeSet;
use std::time::Duration;

use crate::site::ZoneId;

use super::stage::{Stage, Wiring};
use super::{Doubt, Event, Failure, Input, Pace, What};

mod moves;

/// What may be due at a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Due {
    /// The contact closes or opens.
    Contact,
    /// The contact comes to rest.
    Rest,
    /// The supply comes up or goes down.
    Supply,
}

/// Ordered by time. At one instant the ends of the chains come first: what was due there happens before news
/// from further up arrives. Then ordered by name, so that the order of the file does not matter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Entry {
    at: Duration,
    rank: usize,
    due: Due,
}

/// A relay that does not move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stuck {
    Out,
    In,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Contact {
    Open,
    Bouncing,
    Closed,
}

/// The far end of a pair.
#[derive(Debug, Clone)]
struct Relay {
    pair_open: bool,
    pair_live: bool,
    stuck: Option<Stuck>,
    contact: Contact,
    contact_ohm: f64,
}

impl Relay {
    fn is_in(&self) -> bool {
        self.contact != Contact::Open
    }
}

/// What a supply is asked to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Told {
    Off,
    On,
    /// On, by another zone alone: one further down the chain, or one on the same supply.
    Held,
}

#[derive(Debug, Clone)]
struct Supply {
    told: Told,
    let_go: Option<Duration>,
    dead: bool,
    latched: bool,
    up: bool,
}

#[derive(Debug, Clone)]
struct Zone {
    wiring: Wiring,
    /// Place in the order of events at one instant.
    rank: usize,
    slaves: Vec<ZoneId>,
    /// Zones whose contact keeps this one on.
    holders: Vec<ZoneId>,
    /// Zones on the same supply that this one wakes.
    woken: Vec<ZoneId>,
    /// Of a timed zone its switch; of a slave what a board has in line with the contact.
    switched: bool,
    /// The relay of a timed zone never moves.
    relay: Relay,
    supply: Supply,
    /// Why the state of the supply cannot be predicted, if so.
    doubt: Option<Doubt>,
    /// When each kind of thing is due.
    due: [Option<Duration>; 3],
}

/// A yard as time goes on. It has no clock of its own: the caller advances it.
#[derive(Debug, Clone)]
pub struct Yard {
    zones: Vec<Zone>,
    /// Zones by rank.
    by_rank: Vec<ZoneId>,
    queue: BTreeSet<Entry>,
    pace: Pace,
    now: Duration,
    events: Vec<Event>,
}

impl Yard {
    /// Starts with every zone dark and whole, at time zero. `wiring` has every zone, in the order of their ids.
    pub fn new(wiring: &[Wiring], pace: Pace) -> Self {
        let depth = |zone: usize| {
            let up = |zone: &usize| wiring[*zone].stage.map(|stage| stage.master.0);
            std::iter::successors(Some(zone), up).count()
        };
        let mut by_rank: Vec<ZoneId> = (0..wiring.len()).map(ZoneId).collect();
        by_rank.sort_by(|a, b| {
            let deepest_first = depth(b.0).cmp(&depth(a.0));
            deepest_first.then_with(|| wiring[a.0].name.cmp(&wiring[b.0].name))
        });
        let those = |is: &dyn Fn(&Stage) -> bool| -> Vec<ZoneId> {
            let stage_is = |zone: &ZoneId| wiring[zone.0].stage.as_ref().is_some_and(is);
            by_rank.iter().copied().filter(stage_is).collect()
        };
        let zones = wiring
            .iter()
            .enumerate()
            .map(|(index, wired)| Zone {
                rank: by_rank
                    .iter()
                    .position(|zone| zone.0 == index)
                    .expect("every zone has a rank"),
                slaves: those(&|stage| stage.master.0 == index),
                holders: those(&|stage| stage.holds == Some(ZoneId(index))),
                woken: by_rank
                    .iter()
                    .copied()
                    .filter(|zone| wiring[zone.0].wakers.contains(&ZoneId(index)))
                    .collect(),
                switched: wired.stage.is_some(),
                wiring: wired.clone(),
                relay: Relay {
                    pair_open: false,
                    pair_live: false,
                    stuck: None,
                    contact: Contact::Open,
                    contact_ohm: 0.0,
                },
                supply: Supply {
                    told: Told::Off,
                    let_go: None,
                    dead: false,
                    latched: false,
                    up: false,
                },
                doubt: None,
                due: [None; 3],
            })
            .collect();
        Self {
            zones,
            by_rank,
            queue: BTreeSet::new(),
            pace,
            now: Duration::ZERO,
            events: Vec::new(),
        }
    }

    /// Sets the pace from now on; events that are due already keep their time.
    pub fn set_pace(&mut self, pace: Pace) {
        self.pace = pace;
    }

    /// The time that it has reached.
    pub fn now(&self) -> Duration {
        self.now
    }

    pub fn lit(&self, zone: ZoneId) -> bool {
        self.zones[zone.0].supply.up
    }

    /// Why the state of a zone cannot be predicted, if so.
    pub fn doubt(&self, zone: ZoneId) -> Option<Doubt> {
        self.zones[zone.0].doubt
    }

    /// When the next event comes if the caller does nothing; `None` if everything has come to rest.
    pub fn next_event_at(&self) -> Option<Duration> {
        self.queue.first().map(|entry| entry.at)
    }

    /// The events since the last call.
    pub fn take_events(&mut self) -> Vec<Event> {
        std::mem::take(&mut self.events)
    }

    /// Makes everything happen that is due up to and including `at`. Time that has passed stays passed.
    pub fn advance_to(&mut self, at: Duration) {
        while let Some(entry) = self.queue.first().copied().filter(|entry| entry.at <= at) {
            self.queue.remove(&entry);
            self.now = entry.at;
            let zone = self.by_rank[entry.rank];
            self.zones[zone.0].due[entry.due as usize] = None;
            match entry.due {
                Due::Contact => self.contact(zone),
                Due::Rest => self.rest(zone),
                Due::Supply => self.supply_turns(zone),
            }
        }
        self.now = self.now.max(at);
    }

    /// Makes everything happen that is due.
    pub fn come_to_rest(&mut self) {
        while let Some(at) = self.next_event_at() {
            self.advance_to(at);
        }
    }

    /// Switches a zone at `at`. A slave is on only while its contact is closed too; for a slave this sets the
    /// board's switch in line with the contact, which is closed at the start.
    pub fn switch(&mut self, zone: ZoneId, on: bool, at: Duration) {
        self.advance_to(at);
        if self.zones[zone.0].switched != on {
            self.zones[zone.0].switched = on;
            self.say(
                zone,
                if on {
                    What::SwitchedOn
                } else {
                    What::SwitchedOff
                },
            );
            self.line(zone);
        }
        self.advance_to(self.now);
    }

    /// Breaks something at `at`. A head has no pair and no relay to break.
    pub fn fail(&mut self, failure: Failure, at: Duration) {
        self.advance_to(at);
        self.set(failure, true);
        self.advance_to(self.now);
    }

    /// Repairs it at `at`.
    pub fn mend(&mut self, failure: Failure, at: Duration) {
        self.advance_to(at);
        self.set(failure, false);
        self.advance_to(self.now);
    }

    /// Replaces what lies between the pair and the supply of a slave at `at`: other delays, or none. A relay
    /// that is in stays in; events that are due already keep their time.
    pub fn rewire(&mut self, zone: ZoneId, stage: Stage, at: Duration) {
        self.advance_to(at);
        let state = &mut self.zones[zone.0];
        let before = state.wiring.stage.replace(stage);
        assert!(before.is_some(), "only a slave has something to exchange");
        if state.due[Due::Contact as usize].is_none() {
            self.drive(zone);
        }
        self.advance_to(self.now);
    }

    /// Whether the supply of a zone has shut itself down.
    pub fn latched(&self, zone: ZoneId) -> bool {
        self.zones[zone.0].supply.latched
    }

    pub fn put(&mut self, input: Input, at: Duration) {
        match input {
            Input::Switch(zone, on) => self.switch(zone, on, at),
            Input::Fail(failure) => self.fail(failure, at),
            Input::Mend(failure) => self.mend(failure, at),
        }
    }

    fn say(&mut self, zone: ZoneId, what: What) {
        self.events.push(Event {
            at: self.now,
            zone,
            what,
        });
    }

    fn put_off(&mut self, zone: ZoneId, due: Due, by: Duration) {
        self.drop_due(zone, due);
        let state = &mut self.zones[zone.0];
        let at = self.now.saturating_add(by);
        state.due[due as usize] = Some(at);
        let rank = state.rank;
        self.queue.insert(Entry { at, rank, due });
    }

    /// Removes an event that is due; true if there was one.
    fn drop_due(&mut self, zone: ZoneId, due: Due) -> bool {
        let state = &mut self.zones[zone.0];
        let rank = state.rank;
        state.due[due as usize]
            .take()
            .is_some_and(|at| self.queue.remove(&Entry { at, rank, due }))
    }
}
