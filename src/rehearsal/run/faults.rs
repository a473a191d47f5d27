//! Faults that begin and end.

use std::time::Duration;

use crate::chain::Failure;
use crate::rehearsal::Seen;
use crate::rehearsal::fault::{Fails, Who};
use crate::rehearsal::service::Service;
use crate::rehearsal::world::Sense;
use crate::site::{SupplyId, Switching, ZoneId};

use super::Run;
use super::machine::{NETWORK, State, WATCHDOG};

/// What is broken at the moment.
#[derive(Debug)]
pub(super) struct InForce {
    /// By fault of the script.
    pub(super) in_force: Vec<bool>,
    /// By supply: so many faults have cut it off.
    pub(super) dead_supplies: Vec<u32>,
}

impl<S: Service> Run<'_, S> {
    fn supply_dead(&mut self, who: Who, dead: bool, now: Duration) {
        for (index, supply) in self.site.supplies.iter().enumerate() {
            let feeds = |slave: bool| {
                self.site.zones.iter().any(|zone| {
                    zone.supply.0 == index
                        && matches!(zone.switching, Switching::Follows(_)) == slave
                })
            };
            let hit = match who {
                Who::Board => false,
                Who::Master => feeds(false),
                Who::Slave => feeds(true),
                Who::All => true,
                Who::Supply(one) => self.site[one] == *supply && one.0 == index,
            };
            if !hit {
                continue;
            }
            let failure = Failure::SupplyDead(SupplyId(index));
            let count = &mut self.faults.dead_supplies[index];
            let yard = &mut self.world.borrow_mut().yard;
            if dead {
                *count += 1;
                yard.fail(failure, now);
            } else {
                *count -= 1;
                if *count == 0 {
                    yard.mend(failure, now);
                }
            }
        }
    }

    /// Whether another fault in force is the same.
    fn still(&self, index: usize) -> bool {
        let fails = self.script.faults[index].fails;
        self.faults
            .in_force
            .iter()
            .zip(&self.script.faults)
            .any(|(in_force, fault)| *in_force && fault.fails == fails)
    }

    pub(super) fn begins(&mut self, index: usize, now: Duration) {
        let fault = &self.script.faults[index];
        self.see(Seen::WORLD, fault.what(self.site));
        self.faults.in_force[index] = true;
        let lasts = fault.lasts.and_then(|lasts| lasts.to_std().ok());
        let powered = !matches!(self.machine.state, State::Off(_));
        match fault.fails {
            Fails::ClockStep(by) => {
                // Without power it is the battery clock that is wrong.
                self.world.borrow_mut().offset += by;
                self.wakes.edge |= powered;
            }
            Fails::NoBatteryClock(begins) => {
                self.machine.battery = false;
                self.machine.boot_clock = begins;
                self.machine.network_after = lasts.unwrap_or(NETWORK);
            }
            Fails::PowerCut(who) => {
                if matches!(who, Who::Board | Who::All) {
                    self.power_off(now, lasts);
                }
                self.supply_dead(who, true, now);
            }
            Fails::Crash { effect, after } => {
                self.world.borrow_mut().effects.die_at(effect, after);
            }
            Fails::Hang => {
                if self.machine.state == State::Runs {
                    self.machine.state = State::Hung(now + lasts.unwrap_or(WATCHDOG).min(WATCHDOG));
                }
            }
            Fails::StuckInput(zone, lit) => self.input(zone, |sense| sense.stuck = Some(lit)),
            Fails::LineLost(zone) => {
                let mut world = self.world.borrow_mut();
                world.lost[zone.0] = true;
                world.set_level(zone, false);
            }
            Fails::DiskFull => self.world.borrow_mut().effects.full = true,
            Fails::TornWrite => {
                let seed = self.wakes.dice.of(1 << 30) as u64;
                self.world.borrow_mut().effects.tears = Some(seed);
            }
            Fails::MissedWakes => self.wakes.missed += 1,
            Fails::SpuriousWakes => {
                self.wakes.spurious += 1;
                self.wakes.next_spurious();
            }
            other => self.breaks(other, true, now),
        }
    }

    pub(super) fn ends(&mut self, index: usize, now: Duration) {
        let fault = &self.script.faults[index];
        self.faults.in_force[index] = false;
        let over = format!("{}: over", fault.what(self.site));
        if !matches!(
            fault.fails,
            Fails::NoBatteryClock(_) | Fails::Crash { .. } | Fails::Hang | Fails::TornWrite
        ) {
            self.see(Seen::WORLD, over);
        }
        let still = self.still(index);
        match fault.fails {
            Fails::ClockStep(_) => {
                if matches!(
                    self.machine.state,
                    State::Runs | State::Hung(_) | State::Dead(..)
                ) {
                    self.network_answers();
                }
            }
            Fails::PowerCut(who) => self.supply_dead(who, false, now),
            Fails::StuckInput(zone, _) => self.input(zone, |sense| sense.stuck = None),
            Fails::LineLost(zone) => {
                self.world.borrow_mut().lost[zone.0] = still;
                // It is sought again with the next tick.
                self.judge.missed(now);
            }
            Fails::DiskFull => self.world.borrow_mut().effects.full = still,
            Fails::MissedWakes => {
                self.judge.missed(now);
                self.wakes.missed -= 1;
            }
            Fails::SpuriousWakes => self.wakes.spurious -= 1,
            Fails::NoBatteryClock(_) | Fails::Crash { .. } | Fails::Hang | Fails::TornWrite => {}
            other if !still => self.breaks(other, false, now),
            _ => {}
        }
    }

    fn input(&mut self, zone: ZoneId, change: impl Fn(&mut Sense)) {
        let mut world = self.world.borrow_mut();
        if let Some(sense) = world.senses.iter_mut().find(|sense| sense.zone == zone) {
            change(sense);
        }
    }

    /// A part of the yard breaks, or is whole again.
    fn breaks(&mut self, fails: Fails, broken: bool, now: Duration) {
        let failure = match fails {
            Fails::OpenWire(zone) if self.site.link_to(zone).is_some() => Failure::PairOpen(zone),
            Fails::OpenWire(zone) => {
                self.input(zone, |sense| sense.cut = broken);
                return;
            }
            Fails::WeldedContact(zone) => Failure::StaysIn(zone),
            Fails::SupplyLatched(supply) => Failure::SupplyLatched(supply),
            Fails::BadSplice(zone, _) | Fails::DriedCapacitor(zone, _) => {
                let stage = if broken {
                    self.script.links.worn(fails)
                } else {
                    self.script.links.wiring[zone.0].stage
                };
                if let Some(stage) = stage {
                    self.world.borrow_mut().yard.rewire(zone, stage, now);
                }
                return;
            }
            _ => return,
        };
        let yard = &mut self.world.borrow_mut().yard;
        if broken {
            yard.fail(failure, now);
        } else {
            yard.mend(failure, now);
        }
    }

    /// Says to the judge which zones cannot be expected to do anything.
    pub(super) fn judge_impaired(&mut self) {
        let world = self.world.borrow();
        let broken = |zone: ZoneId| {
            let supply = self.site[zone].supply;
            self.faults.dead_supplies[supply.0] > 0
                || world.yard.latched(zone)
                || self
                    .faults
                    .in_force
                    .iter()
                    .zip(&self.script.faults)
                    .any(|(on, fault)| {
                        *on && match fault.fails {
                            Fails::OpenWire(of)
                            | Fails::BadSplice(of, _)
                            | Fails::DriedCapacitor(of, _)
                            | Fails::WeldedContact(of) => of == zone,
                            _ => false,
                        }
                    })
        };
        for zone in (0..self.site.zones.len()).map(ZoneId) {
            let mut up = Some(zone);
            let mut impaired = false;
            while let Some(at) = up {
                impaired |= broken(at);
                up = self.site.link_to(at).map(|link| link.master);
            }
            self.judge.impaired[zone.0] = impaired;
        }
    }
}
