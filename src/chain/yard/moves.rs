//! What follows from each event in a yard.
//!
//! ```text
//! failure ─ set ─┬─► pair ─► drive ┄ pull-in, drop-out ┄► contact ┄ bounce ┄► rest
//!                ├─► stick ───────────────────────────────┘   │               │
//!                └─► line ◄───────────────────────────────────┴───────────────┘
//!                     └─► ask ─► supply ┄ start, hold-up ┄► supply_turns ─► pair of every slave
//! ```

use std::time::Duration;

use crate::chain::remote_on::{self, Reading};
use crate::chain::{Doubt, Failure, Pace, What};
use crate::site::ZoneId;

use super::{Contact, Due, Stuck, Told, Yard, Zone};

impl Yard {
    pub(super) fn set(&mut self, failure: Failure, broken: bool) {
        let zones = match failure {
            Failure::SupplyDead(supply) | Failure::SupplyLatched(supply) => {
                let fed = |zone: &ZoneId| self.zones[zone.0].wiring.supply == supply;
                self.by_rank.iter().copied().filter(fed).collect()
            }
            Failure::PairOpen(zone)
            | Failure::StaysOut(zone)
            | Failure::StaysIn(zone)
            | Failure::DirtyContact(zone, _) => vec![zone],
        };
        for zone in zones {
            if self.set_zone(zone, failure, broken) {
                self.say(zone, if broken { What::Fails } else { What::Mended });
                match failure {
                    Failure::SupplyDead(_) | Failure::SupplyLatched(_) => self.supply(zone),
                    Failure::PairOpen(_) => self.pair(zone),
                    Failure::StaysOut(_) | Failure::StaysIn(_) => self.stick(zone),
                    Failure::DirtyContact(..) => self.line(zone),
                }
            }
        }
    }

    /// Sets a zone's part broken or whole; true if that changes anything.
    fn set_zone(&mut self, zone: ZoneId, failure: Failure, broken: bool) -> bool {
        let state = &mut self.zones[zone.0];
        let flag = |flag: &mut bool| std::mem::replace(flag, broken) != broken;
        let stuck = |stuck: &mut Option<Stuck>, how| {
            let before = *stuck;
            if broken {
                *stuck = Some(how);
            } else if before == Some(how) {
                *stuck = None;
            }
            *stuck != before
        };
        match failure {
            Failure::SupplyDead(_) => {
                let changes = flag(&mut state.supply.dead);
                // Losing its mains clears a supply's overload shut-down.
                state.supply.latched &= !changes || broken;
                changes
            }
            Failure::SupplyLatched(_) => flag(&mut state.supply.latched),
            Failure::PairOpen(_) => flag(&mut state.relay.pair_open),
            Failure::StaysOut(_) => stuck(&mut state.relay.stuck, Stuck::Out),
            Failure::StaysIn(_) => stuck(&mut state.relay.stuck, Stuck::In),
            Failure::DirtyContact(_, ohm) => {
                let ohm = if broken { ohm } else { 0.0 };
                std::mem::replace(&mut state.relay.contact_ohm, ohm).to_bits() != ohm.to_bits()
            }
        }
    }

    /// The relay has just got stuck, or free.
    fn stick(&mut self, zone: ZoneId) {
        self.drop_due(zone, Due::Contact);
        let relay = &self.zones[zone.0].relay;
        match (relay.stuck, relay.is_in()) {
            (Some(Stuck::In), false) => self.contact_to(zone, true),
            (Some(Stuck::Out), true) => self.contact_to(zone, false),
            (Some(_), _) => {}
            (None, _) => self.drive(zone),
        }
    }

    /// The pair to a slave may have gone live or dead.
    fn pair(&mut self, zone: ZoneId) {
        let state = &self.zones[zone.0];
        let stage = state.wiring.stage.expect("only a slave has a pair");
        let live = !state.relay.pair_open && self.zones[stage.master.0].supply.up;
        if live == state.relay.pair_live {
            return;
        }
        self.zones[zone.0].relay.pair_live = live;
        self.say(zone, if live { What::PairLive } else { What::PairDead });
        let moving = self.drop_due(zone, Due::Contact);
        if moving && live {
            self.say(zone, What::RodeThrough);
        }
        self.drive(zone);
    }

    /// Starts the contact moving to where the pair wants it.
    pub(super) fn drive(&mut self, zone: ZoneId) {
        let state = &self.zones[zone.0];
        let stage = state.wiring.stage.expect("only a slave has a relay");
        let relay = &state.relay;
        if relay.stuck.is_some() || relay.is_in() == relay.pair_live {
            return;
        }
        let delays = if relay.pair_live {
            stage.pull_in
        } else {
            stage.drop_out
        };
        if let Some(by) = delays.at(self.pace) {
            self.put_off(zone, Due::Contact, by);
        }
    }

    pub(super) fn contact(&mut self, zone: ZoneId) {
        let closes = !self.zones[zone.0].relay.is_in();
        self.contact_to(zone, closes);
    }

    fn contact_to(&mut self, zone: ZoneId, closed: bool) {
        let state = &mut self.zones[zone.0];
        if closed {
            state.relay.contact = Contact::Bouncing;
            let stage = state.wiring.stage.expect("only a slave has a relay");
            let by = self.unless_quickest(stage.bounce_s);
            self.say(zone, What::RelayCloses);
            self.put_off(zone, Due::Rest, by);
        } else {
            state.relay.contact = Contact::Open;
            self.drop_due(zone, Due::Rest);
            self.say(zone, What::RelayOpens);
            self.line(zone);
        }
    }

    pub(super) fn rest(&mut self, zone: ZoneId) {
        self.zones[zone.0].relay.contact = Contact::Closed;
        self.say(zone, What::BounceOver);
        self.line(zone);
    }

    /// A time that the data sheet gives as an upper limit: at the quickest it is zero.
    fn unless_quickest(&self, seconds: f64) -> Duration {
        match self.pace {
            Pace::Quickest => Duration::ZERO,
            Pace::Typical | Pace::Slowest => Duration::from_secs_f64(seconds),
        }
    }

    /// What a zone's own switch, or contact, asks of its supply.
    fn tells(&self, zone: ZoneId) -> Reading {
        let state = &self.zones[zone.0];
        let closed = state.wiring.stage.is_none() || state.relay.contact == Contact::Closed;
        match (state.switched && closed, state.wiring.remote_on) {
            (false, _) => Reading::Off,
            (true, false) => Reading::On,
            (true, true) => remote_on::reading(remote_on::line_v(state.relay.contact_ohm)),
        }
    }

    /// What tells a zone's supply to go on or off may have changed, and with it what this zone holds and wakes.
    pub(super) fn line(&mut self, zone: ZoneId) {
        let between = self.tells(zone) == Reading::Either;
        let doubt = &mut self.zones[zone.0].doubt;
        if between && *doubt != Some(Doubt::BetweenLevels) {
            *doubt = Some(Doubt::BetweenLevels);
            self.say(zone, What::Unsure(Doubt::BetweenLevels));
        } else if !between && *doubt == Some(Doubt::BetweenLevels) {
            *doubt = None;
        }
        self.ask(zone);
        if let Some(held) = self.zones[zone.0]
            .wiring
            .stage
            .and_then(|stage| stage.holds)
        {
            self.ask(held);
        }
        for woken in self.zones[zone.0].woken.clone() {
            self.ask(woken);
        }
    }

    fn ask(&mut self, zone: ZoneId) {
        let on = |zone: &ZoneId| self.tells(*zone) == Reading::On;
        let Zone {
            wiring, holders, ..
        } = &self.zones[zone.0];
        let awake = wiring.wakers.iter().any(on);
        let told = if on(&zone) && (wiring.wakes || wiring.wakers.is_empty() || awake) {
            Told::On
        } else if (wiring.wakes && awake) || holders.iter().any(on) {
            Told::Held
        } else {
            Told::Off
        };
        let now = self.now;
        let state = &mut self.zones[zone.0];
        let before = std::mem::replace(&mut state.supply.told, told);
        let slave = state.wiring.stage.is_some();
        match (before, told) {
            (Told::Off, Told::On | Told::Held) => {
                let off_for = state.supply.let_go.map(|since| now.saturating_sub(since));
                let short = off_for.is_some_and(|off| off.as_secs_f64() < state.wiring.restart_s);
                state.doubt = short.then_some(Doubt::ShortOff);
                // Released for long enough, the supply clears its overload.
                state.supply.latched &= short;
                if slave {
                    self.say(zone, What::AskedOn);
                }
                if short {
                    self.say(zone, What::Unsure(Doubt::ShortOff));
                }
            }
            (Told::On | Told::Held, Told::Off) => {
                state.supply.let_go = Some(now);
                if slave {
                    self.say(zone, What::AskedOff);
                }
            }
            (Told::On, Told::Held) => self.say(zone, What::HeldOn),
            _ => return,
        }
        self.supply(zone);
    }

    /// Starts the supply moving to what it is asked to do and can do.
    fn supply(&mut self, zone: ZoneId) {
        let Zone {
            wiring,
            supply,
            due,
            ..
        } = &self.zones[zone.0];
        let wanted = supply.told != Told::Off && !supply.dead && !supply.latched;
        // An overload shuts the supply down at once.
        let at_once = supply.latched && supply.up;
        if wanted == supply.up {
            self.drop_due(zone, Due::Supply);
        } else if due[Due::Supply as usize].is_none() || at_once {
            let by = match &wiring.stage {
                None => Duration::ZERO,
                Some(_) if at_once => Duration::ZERO,
                Some(stage) if wanted => self.unless_quickest(stage.start_s),
                Some(stage) => self.unless_quickest(stage.hold_up_s),
            };
            self.put_off(zone, Due::Supply, by);
        }
    }

    pub(super) fn supply_turns(&mut self, zone: ZoneId) {
        let supply = &mut self.zones[zone.0].supply;
        supply.up = !supply.up;
        let what = if supply.up { What::Lit } else { What::Dark };
        self.say(zone, what);
        for slave in self.zones[zone.0].slaves.clone() {
            self.pair(slave);
        }
    }
}
