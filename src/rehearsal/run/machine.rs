//! The board and the service on it: power, start, death, watchdog.

use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};

use crate::daemon::moment::Evidence;
use crate::rehearsal::disk::SimStore;
use crate::rehearsal::fault::{BootClock, Fails};
use crate::rehearsal::service::{Board, Service};
use crate::rehearsal::world::SimLines;
use crate::rehearsal::{Chip, Seen};

use super::Run;

/// From the power to the first instruction of the kernel, where the boot clock begins.
const POWER_TO_KERNEL: Duration = Duration::from_secs(10);

/// From there to the service.
const KERNEL_TO_SERVICE: Duration = Duration::from_secs(20);

/// `RestartSec=` of the unit file.
const RESTART: Duration = Duration::from_secs(1);

/// From the death of the service till `outputs safe` has run.
const MADE_SAFE: Duration = Duration::from_millis(50);

/// `WatchdogSec=` of the unit file.
pub(super) const WATCHDOG: Duration = Duration::from_secs(180);

/// From the start of the service till its links are worked out.
const LINKS: Duration = Duration::from_secs(2);

/// From the start of the board till the network answers, where nothing else is said.
pub(super) const NETWORK: Duration = Duration::from_secs(60);

/// What becomes of the service.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    Runs,
    /// It does nothing; it is ended then.
    Hung(Duration),
    /// It is dead: its lines are made safe at the first, it is started anew at the second.
    Dead(Option<Duration>, Duration),
    /// The board has no power until then.
    Off(Duration),
    /// The board starts; its service at that time.
    Boots(Duration),
}

#[derive(Debug)]
pub(super) struct Machine {
    pub(super) state: State,
    /// When its service was started.
    pub(super) started: Duration,
    boots: u32,
    pub(super) links_at: Option<Duration>,
    pub(super) network_at: Option<Duration>,
    pub(super) network_after: Duration,
    pub(super) battery: bool,
    /// What it begins with, without a battery clock.
    pub(super) boot_clock: BootClock,
    /// The time that it saved last.
    saved: DateTime<Utc>,
}

impl Machine {
    pub(super) fn new(begins: DateTime<Utc>) -> Self {
        Self {
            state: State::Boots(Duration::ZERO),
            started: Duration::ZERO,
            boots: 1,
            links_at: None,
            network_at: None,
            network_after: NETWORK,
            battery: true,
            boot_clock: BootClock::Saved,
            saved: begins,
        }
    }

    /// When its state ends by itself, or is due to have its links worked out.
    pub(super) fn next_at(&self) -> Option<Duration> {
        let of_state = match self.state {
            State::Runs => self.links_at,
            State::Hung(until) | State::Off(until) | State::Boots(until) => Some(until),
            State::Dead(safe, until) => Some(safe.map_or(until, |safe| safe.min(until))),
        };
        of_state.into_iter().chain(self.network_at).min()
    }
}

impl<S: Service> Run<'_, S> {
    /// The states of board and service that end by themselves.
    pub(super) fn lives(&mut self, now: Duration) {
        match self.machine.state {
            State::Hung(until) if until <= now => {
                self.see(Seen::WORLD, "the watchdog ends the service".into());
                self.dies(now);
            }
            State::Dead(Some(safe), until) if safe <= now => {
                self.world.borrow_mut().all_dark();
                self.machine.state = State::Dead(None, until);
            }
            State::Dead(None, until) if until <= now => self.starts(now),
            State::Off(until) if until <= now => {
                self.see(Seen::WORLD, "the board has power again".into());
                self.boots_at(now);
            }
            State::Boots(until) if until <= now => self.starts(now),
            _ => {}
        }
    }

    /// The board gets power.
    pub(super) fn boots_at(&mut self, now: Duration) {
        self.machine.boots += 1;
        self.wakes.last_busy = now;
        let mut world = self.world.borrow_mut();
        world.booted = now + POWER_TO_KERNEL;
        world.uptime = Duration::ZERO;
        world.evidence = Evidence {
            set_from_network: false,
            kept_by_battery: self.machine.battery,
        };
        if !self.machine.battery {
            let begins = match self.machine.boot_clock {
                BootClock::Saved => self.machine.saved,
                BootClock::Epoch => DateTime::UNIX_EPOCH,
            };
            world.offset = begins - world.utc(now + POWER_TO_KERNEL);
        }
        let service = now + POWER_TO_KERNEL + KERNEL_TO_SERVICE;
        self.machine.network_at = Some(service + self.machine.network_after);
        self.machine.state = State::Boots(service);
    }

    pub(super) fn network_answers(&mut self) {
        let mut world = self.world.borrow_mut();
        let stepped = world.offset != TimeDelta::zero() || !world.evidence.set_from_network;
        world.offset = TimeDelta::zero();
        world.evidence.set_from_network = true;
        self.wakes.edge |= stepped;
        self.wakes.last_busy = world.now;
    }

    /// The service starts.
    fn starts(&mut self, now: Duration) {
        self.wakes.last_busy = now;
        self.machine.started = now;
        self.wakes.last_tick = now;
        self.machine.state = State::Runs;
        self.machine.links_at = Some(now + LINKS);
        self.judge.links_since = None;
        {
            let mut world = self.world.borrow_mut();
            world.all_dark();
            world.effects.revive();
            world.look();
        }
        let board = Board {
            site: self.site.clone(),
            boot_id: format!("boot-{}", self.machine.boots),
            lines: SimLines(self.world.clone()),
            store: SimStore::open(self.folder, self.world.clone()),
            // The service looks at the clock before it knows what is in the store.
            now: self.world.borrow().moment(None),
        };
        self.service = Some((self.start)(board));
        self.wakes.edge = false;
        self.wake();
    }

    /// The service has died.
    pub(super) fn dies(&mut self, now: Duration) {
        self.wakes.last_busy = now;
        let life = self.life();
        self.judge.died(&self.world.borrow(), life, false);
        self.world.borrow_mut().effects.dead = true;
        self.is_killed();
        let safe = match self.script.chip {
            Chip::Keeps => Some(now + MADE_SAFE),
            Chip::LetsGo => None,
        };
        self.machine.state = State::Dead(safe, now + RESTART);
    }

    fn is_killed(&mut self) {
        if let Some(service) = self.service.take() {
            service.killed();
        }
    }

    /// The board has no power for a while; to the end if nobody says how long.
    pub(super) fn power_off(&mut self, now: Duration, lasts: Option<Duration>) {
        self.wakes.last_busy = now;
        let until = lasts.map_or(self.end + Duration::from_secs(1), |lasts| now + lasts);
        let until = match self.machine.state {
            State::Off(longer) => longer.max(until),
            _ => until,
        };
        if !matches!(self.machine.state, State::Off(_)) {
            let life = self.life();
            let mut world = self.world.borrow_mut();
            self.judge.died(&world, life, true);
            world.effects.dead = true;
            // The clock is saved once a minute.
            let wall = world.wall(now);
            self.machine.saved =
                wall - TimeDelta::milliseconds(wall.timestamp_millis().rem_euclid(60_000));
            world.all_dark();
        }
        self.is_killed();
        self.machine.network_at = None;
        self.machine.state = State::Off(until);
    }

    /// The power has failed in the middle of a write.
    pub(super) fn torn(&mut self) {
        let lasts = self
            .script
            .faults
            .iter()
            .find(|fault| fault.fails == Fails::TornWrite)
            .and_then(|fault| fault.lasts)
            .and_then(|lasts| lasts.to_std().ok())
            .unwrap_or(Duration::from_secs(60));
        let now = self.world.borrow().now;
        self.machine.state = State::Off(now + lasts);
    }
}
