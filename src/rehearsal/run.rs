//! One rehearsal: what happens next happens next, to the end.

use std::cell::RefCell;
use std::path::Path;
use std::rc::Rc;
use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};

use crate::chain::{Failure, What as Happens, Yard};
use crate::daemon::control::Reply;
use crate::daemon::moment::{Again, ClockQuality, Evidence};
use crate::site::{Site, Switching, ZoneId};
use crate::text::with_minus;

use super::dice::Dice;
use super::disk::SimStore;
use super::fault::{BootClock, Fails, Who};
use super::judge::Judge;
use super::oracle::Life;
use super::service::{Board, Service};
use super::world::{SimLines, World};
use super::{Chip, Rehearsed, Script, Seen, Ticks};

/// From the power to the first instruction of the kernel, where the boot clock begins.
const POWER_TO_KERNEL: Duration = Duration::from_secs(10);

/// From there to the service.
const KERNEL_TO_SERVICE: Duration = Duration::from_secs(20);

/// `RestartSec=` of the unit file.
const RESTART: Duration = Duration::from_secs(1);

/// From the death of the service till `outputs safe` has run.
const MADE_SAFE: Duration = Duration::from_millis(50);

/// `WatchdogSec=` of the unit file.
const WATCHDOG: Duration = Duration::from_secs(180);

/// The safety tick.
const TICK: Duration = Duration::from_secs(60);

/// Where nothing has happened for long, one tick of so many is tried in a campaign.
const QUIET_TICKS: u32 = 10;

/// So long after something happened nothing is called quiet.
const BUSY: Duration = Duration::from_secs(180);

/// From the start of the service till its links are worked out.
const LINKS: Duration = Duration::from_secs(2);

/// From the start of the board till the network answers, where nothing else is said.
const NETWORK: Duration = Duration::from_secs(60);

/// What a finding of a wake too many begins with.
pub(super) const TWICE: &str = "woken twice at one instant, the service";

/// What becomes of the service.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
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

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Edge {
    Ends,
    Begins,
}

pub(super) struct Run<'a, S> {
    script: &'a Script<'a>,
    site: &'a Site,
    folder: &'a Path,
    world: Rc<RefCell<World>>,
    judge: Judge<'a>,
    start: &'a dyn Fn(Board) -> S,
    service: Option<S>,
    state: State,
    started: Duration,
    boots: u32,
    again: Again,
    last_tick: Duration,
    /// Something was to wake the service at this very instant.
    edge: bool,
    last_busy: Duration,
    links_at: Option<Duration>,
    network_at: Option<Duration>,
    network_after: Duration,
    battery: bool,
    boot_clock: BootClock,
    /// What the board would begin with, without a battery clock.
    saved: DateTime<Utc>,
    /// Faults by when they begin or end, the soonest last.
    edges: Vec<(Duration, Edge, usize)>,
    in_force: Vec<bool>,
    missed: u32,
    spurious: u32,
    /// Requests, the soonest last.
    asks: Vec<(Duration, usize)>,
    /// Switchings of timers of their own, the soonest last.
    timers: Vec<(Duration, ZoneId, bool)>,
    dead_supplies: Vec<u32>,
    wakes: u64,
    seen: Vec<Seen>,
    end: Duration,
    dice: Dice,
    /// From one wake that nobody asked for to the next.
    spread: Duration,
}

impl<'a, S: Service> Run<'a, S> {
    pub(super) fn new(
        script: &'a Script<'a>,
        judge: Judge<'a>,
        folder: &'a Path,
        start: &'a dyn Fn(Board) -> S,
    ) -> Self {
        let site = script.site;
        let begins = script.start();
        let since = |at: DateTime<Utc>| (at - begins).to_std().unwrap_or_default();
        let end = since(script.end());
        let yard = Yard::new(&script.links.wiring, script.pace);
        let world = World::new(site, yard, begins, script.chip);
        let mut edges = Vec::new();
        for (index, fault) in script.faults.iter().enumerate() {
            if fault.at < begins || fault.at >= script.end() {
                continue;
            }
            edges.push((since(fault.at), Edge::Begins, index));
            if let Some(lasts) = fault.lasts {
                edges.push((since(fault.at + lasts), Edge::Ends, index));
            }
        }
        edges.sort_by(|a, b| b.cmp(a));
        let mut asks: Vec<_> = script
            .asks
            .iter()
            .enumerate()
            .filter(|(_, ask)| ask.at >= begins)
            .map(|(index, ask)| (since(ask.at), index))
            .collect();
        asks.sort_by(|a, b| b.cmp(a));
        let mut timers = Vec::new();
        for (zone, stretches) in judge.oracle.plans() {
            let timed = matches!(site[zone].switching, Switching::Timed(_));
            if !timed || site.output_of(zone).is_some() {
                continue;
            }
            for stretch in stretches.iter().filter(|stretch| stretch.end > begins) {
                timers.push((since(stretch.start), zone, true));
                timers.push((since(stretch.end), zone, false));
            }
        }
        timers.sort_by(|a, b| b.cmp(a));
        Self {
            site,
            script,
            folder,
            world: Rc::new(RefCell::new(world)),
            judge,
            start,
            service: None,
            state: State::Boots(Duration::ZERO),
            started: Duration::ZERO,
            boots: 1,
            again: Again::default(),
            last_tick: Duration::ZERO,
            edge: false,
            last_busy: Duration::ZERO,
            links_at: None,
            network_at: None,
            network_after: NETWORK,
            battery: true,
            boot_clock: BootClock::Saved,
            saved: begins,
            edges,
            in_force: vec![false; script.faults.len()],
            missed: 0,
            spurious: 0,
            asks,
            timers,
            dead_supplies: vec![0; site.supplies.len()],
            wakes: 0,
            seen: Vec::new(),
            end,
            dice: Dice::new(script.seed, 0),
            spread: Duration::ZERO,
        }
    }

    pub(super) fn go(mut self) -> Rehearsed {
        loop {
            let at = self.next_stop().min(self.end);
            self.world.borrow_mut().now = at;
            let life = self.life();
            self.judge.before(&self.world.borrow(), life);
            if at >= self.end {
                break;
            }
            let woken = self.wakes;
            self.happen(at);
            let life = self.life();
            let world = self.world.clone();
            self.judge.hasty(&mut world.borrow_mut());
            self.judge.after(&world.borrow(), life);
            let service = self.service.as_ref();
            let broken = |zone| {
                service
                    .and_then(|service| service.condition(zone))
                    .is_some_and(crate::daemon::watch::Condition::is_fault)
            };
            let woken = self.wakes != woken;
            self.judge.alarms(&world.borrow(), life, broken, woken);
            if self.judge.findings.len() >= self.script.most_findings {
                break;
            }
        }
        Rehearsed {
            seen: self.seen,
            findings: self.judge.findings,
            wakes: self.wakes,
        }
    }

    fn life(&self) -> Life {
        let world = self.world.borrow();
        let quality = self
            .service
            .as_ref()
            .map_or(ClockQuality::Impossible, |service| {
                world.moment(service.newest()).quality
            });
        Life {
            alive: self.service.is_some(),
            hung: matches!(self.state, State::Hung(_)),
            since: self.started,
            quality,
        }
    }

    fn tick_at(&self) -> Duration {
        let world = self.world.borrow();
        let quiet = self.script.ticks == Ticks::Sparse
            && self.last_tick.saturating_sub(self.last_busy) > BUSY
            && self.missed == 0
            && !world.has_lost();
        self.last_tick + if quiet { TICK * QUIET_TICKS } else { TICK }
    }

    /// When something happens next.
    fn next_stop(&mut self) -> Duration {
        let world = self.world.borrow();
        let mut next = self.end;
        let mut at = |when: Option<Duration>| next = next.min(when.unwrap_or(Duration::MAX));
        at(world.next_at());
        at(self.edges.last().map(|edge| edge.0));
        at(self.asks.last().map(|ask| ask.0));
        at(self.timers.last().map(|timer| timer.0));
        at(self.network_at);
        match self.state {
            State::Runs => {
                at(Some(self.tick_at()));
                at(self.links_at);
                if self.missed == 0 {
                    at(self.due(&world));
                }
                if self.spurious > 0 {
                    at(Some(world.now + self.spread));
                }
            }
            State::Hung(until) | State::Off(until) | State::Boots(until) => at(Some(until)),
            State::Dead(safe, until) => {
                at(safe);
                at(Some(until));
            }
        }
        next.max(world.now)
    }

    /// When the service wants to be woken.
    fn due(&self, world: &World) -> Option<Duration> {
        let utc = self.again.utc.map(|utc| world.when(utc));
        let boot = self.again.boot.map(|boot| world.when_boot(boot));
        let due = utc.into_iter().chain(boot).min()?;
        // A timer that is due already runs out a little later.
        Some(due.max(world.now + Duration::from_micros(50)))
    }

    fn happen(&mut self, now: Duration) {
        let due = {
            let world = self.world.borrow();
            self.due(&world)
        };
        self.yard_moves(now);
        while let Some(&(_, zone, lit)) = self.timers.last().filter(|timer| timer.0 <= now) {
            self.timers.pop();
            self.world.borrow_mut().yard.switch(zone, lit, now);
            self.last_busy = now;
        }
        while let Some(&(_, edge, index)) = self.edges.last().filter(|edge| edge.0 <= now) {
            self.edges.pop();
            self.last_busy = now;
            match edge {
                Edge::Begins => self.begins(index, now),
                Edge::Ends => self.ends(index, now),
            }
            self.judge_impaired();
        }
        self.lives(now);
        if self.network_at.is_some_and(|at| at <= now) {
            self.network_at = None;
            self.network_answers();
        }
        while let Some(&(_, index)) = self.asks.last().filter(|ask| ask.0 <= now) {
            self.asks.pop();
            self.last_busy = now;
            self.ask(index);
        }
        self.yard_moves(now);
        if self.state != State::Runs {
            self.edge = false;
            return;
        }
        if self.links_at.is_some_and(|at| at <= now) {
            self.links_at = None;
            self.judge.links_since = Some(now);
            if let Some(service) = &mut self.service {
                service.set_links(self.script.links.judged.clone());
            }
            self.edge = true;
        }
        let edge = std::mem::take(&mut self.edge);
        // `due` was asked for before: it lies at least a little ahead, or is this very instant.
        let timer = due.is_some_and(|due| due <= now + Duration::from_micros(50));
        let tick = self.tick_at() <= now;
        if tick {
            self.last_tick = now;
        }
        if self.missed > 0 {
            self.judge.missed(now);
        }
        let spurious = self.spurious > 0;
        if spurious {
            self.next_spurious();
        }
        if tick || spurious || ((edge || timer) && self.missed == 0) {
            self.wake();
            if timer && !edge && !tick && !spurious {
                self.judge.wakes_at_once(&self.world.borrow());
            }
            self.yard_moves(now);
        }
    }

    /// From half a second to seven and a half till the next.
    fn next_spurious(&mut self) {
        self.spread = Duration::from_millis(500 + self.dice.of(7_000) as u64);
    }

    /// The yard and the inputs move on.
    fn yard_moves(&mut self, now: Duration) {
        let mut world = self.world.borrow_mut();
        world.yard.advance_to(now);
        let events = world.yard.take_events();
        if world.look() {
            self.edge = true;
            self.last_busy = now;
        }
        if events.is_empty() {
            return;
        }
        self.last_busy = now;
        let start = world.start;
        drop(world);
        for event in events {
            let what = match event.what {
                Happens::Lit => "lights up",
                Happens::Dark => "goes dark",
                _ => continue,
            };
            if self.script.watch {
                self.seen.push(Seen {
                    at: start + TimeDelta::from_std(event.at).unwrap_or_default(),
                    who: Seen::YARD,
                    zone: Some(event.zone),
                    what: what.into(),
                });
            }
        }
        if self
            .script
            .faults
            .iter()
            .any(|it| matches!(it.fails, Fails::SupplyLatched(_)))
        {
            self.judge_impaired();
        }
    }

    fn see(&mut self, who: &'static str, what: String) {
        if self.script.watch {
            let world = self.world.borrow();
            self.seen.push(Seen {
                at: world.utc(world.now),
                who,
                zone: None,
                what,
            });
        }
    }

    /// The states of board and service that end by themselves.
    fn lives(&mut self, now: Duration) {
        match self.state {
            State::Hung(until) if until <= now => {
                self.see(Seen::WORLD, "the watchdog ends the service".into());
                self.dies(now);
            }
            State::Dead(Some(safe), until) if safe <= now => {
                self.world.borrow_mut().all_dark();
                self.state = State::Dead(None, until);
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
    fn boots_at(&mut self, now: Duration) {
        self.boots += 1;
        self.last_busy = now;
        let mut world = self.world.borrow_mut();
        world.booted = now + POWER_TO_KERNEL;
        world.uptime = Duration::ZERO;
        world.evidence = Evidence {
            set_from_network: false,
            kept_by_battery: self.battery,
        };
        if !self.battery {
            let begins = match self.boot_clock {
                BootClock::Saved => self.saved,
                BootClock::Epoch => DateTime::UNIX_EPOCH,
            };
            world.offset = begins - world.utc(now + POWER_TO_KERNEL);
        }
        let service = now + POWER_TO_KERNEL + KERNEL_TO_SERVICE;
        self.network_at = Some(service + self.network_after);
        self.state = State::Boots(service);
    }

    fn network_answers(&mut self) {
        let mut world = self.world.borrow_mut();
        let stepped = world.offset != TimeDelta::zero() || !world.evidence.set_from_network;
        world.offset = TimeDelta::zero();
        world.evidence.set_from_network = true;
        self.edge |= stepped;
        self.last_busy = world.now;
    }

    /// The service starts.
    fn starts(&mut self, now: Duration) {
        self.last_busy = now;
        self.started = now;
        self.last_tick = now;
        self.state = State::Runs;
        self.links_at = Some(now + LINKS);
        self.judge.links_since = None;
        {
            let mut world = self.world.borrow_mut();
            world.all_dark();
            world.effects.revive();
            world.look();
        }
        let board = Board {
            site: self.site.clone(),
            boot_id: format!("boot-{}", self.boots),
            lines: SimLines(self.world.clone()),
            store: SimStore::open(self.folder, self.world.clone()),
            // The service looks at the clock before it knows what is in the store.
            now: self.world.borrow().moment(None),
        };
        self.service = Some((self.start)(board));
        self.edge = false;
        self.wake();
    }

    fn wake(&mut self) {
        self.wakes += 1;
        let Some(service) = &mut self.service else {
            return;
        };
        let moment = self.world.borrow().moment(service.newest());
        self.again = service.wake(moment);
        self.after_call();
        // A wake too many changes nothing.
        let now = self.world.borrow().now;
        if self.wakes.is_multiple_of(8) && !self.judge.unsettled(now) {
            let Some(service) = &mut self.service else {
                return;
            };
            let before = self.world.borrow().levels.clone();
            let moment = self.world.borrow().moment(service.newest());
            self.again = service.wake(moment);
            let said = service.take_said();
            let same = self.world.borrow().levels == before;
            let dead = self.world.borrow().effects.dead;
            if !dead && (!same || !said.is_empty()) {
                let what = match said.first() {
                    Some(event) => format!("{TWICE} says: {} {}", event.what, event.why),
                    None => format!("{TWICE} switches again"),
                };
                self.judge.find(&self.world.borrow(), None, what);
            }
            self.after_call();
        }
    }

    /// After everything that the service has been told or asked: is it still alive, what does it say.
    fn after_call(&mut self) {
        let (dead, torn) = {
            let world = self.world.borrow();
            let effects = &world.effects;
            (effects.dead, effects.torn)
        };
        let now = self.world.borrow().now;
        if dead {
            if torn {
                self.see(
                    Seen::WORLD,
                    "the power fails in the middle of a write".into(),
                );
                self.power_off(now, None);
                self.torn();
            } else {
                self.see(Seen::WORLD, "the service dies".into());
                self.dies(now);
            }
            return;
        }
        let Some(service) = &mut self.service else {
            return;
        };
        let said = service.take_said();
        if !self.script.watch || said.is_empty() {
            return;
        }
        let at = self.world.borrow().utc(now);
        for event in said {
            let zone = event
                .zone
                .map(|zone| format!("{zone}: "))
                .unwrap_or_default();
            let why = if event.why.is_empty() {
                String::new()
            } else {
                format!(" ({})", event.why)
            };
            self.seen.push(Seen {
                at,
                who: Seen::SERVICE,
                zone: None,
                what: with_minus(&format!("{zone}{}{why}", event.what)),
            });
        }
    }

    /// The service has died.
    fn dies(&mut self, now: Duration) {
        self.last_busy = now;
        let life = self.life();
        self.judge.died(&self.world.borrow(), life, false);
        self.world.borrow_mut().effects.dead = true;
        self.is_killed();
        let safe = match self.script.chip {
            Chip::Keeps => Some(now + MADE_SAFE),
            Chip::LetsGo => None,
        };
        self.state = State::Dead(safe, now + RESTART);
    }

    fn is_killed(&mut self) {
        if let Some(service) = self.service.take() {
            service.killed();
        }
    }

    /// The board has no power for a while; to the end if nobody says how long.
    fn power_off(&mut self, now: Duration, lasts: Option<Duration>) {
        self.last_busy = now;
        let until = lasts.map_or(self.end + Duration::from_secs(1), |lasts| now + lasts);
        let until = match self.state {
            State::Off(longer) => longer.max(until),
            _ => until,
        };
        if !matches!(self.state, State::Off(_)) {
            let life = self.life();
            let mut world = self.world.borrow_mut();
            self.judge.died(&world, life, true);
            world.effects.dead = true;
            // The clock is saved once a minute.
            let wall = world.wall(now);
            self.saved = wall - TimeDelta::milliseconds(wall.timestamp_millis().rem_euclid(60_000));
            world.all_dark();
        }
        self.is_killed();
        self.network_at = None;
        self.state = State::Off(until);
    }

    /// The power has failed in the middle of a write.
    fn torn(&mut self) {
        let lasts = self
            .script
            .faults
            .iter()
            .find(|fault| fault.fails == Fails::TornWrite)
            .and_then(|fault| fault.lasts)
            .and_then(|lasts| lasts.to_std().ok())
            .unwrap_or(Duration::from_secs(60));
        let now = self.world.borrow().now;
        self.state = State::Off(now + lasts);
    }

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
            let failure = Failure::SupplyDead(crate::site::SupplyId(index));
            let count = &mut self.dead_supplies[index];
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
        self.in_force
            .iter()
            .zip(&self.script.faults)
            .any(|(in_force, fault)| *in_force && fault.fails == fails)
    }

    fn begins(&mut self, index: usize, now: Duration) {
        let fault = &self.script.faults[index];
        self.see(Seen::WORLD, fault.what(self.site));
        self.in_force[index] = true;
        let lasts = fault.lasts.and_then(|lasts| lasts.to_std().ok());
        let powered = !matches!(self.state, State::Off(_));
        match fault.fails {
            Fails::ClockStep(by) => {
                // Without power it is the battery clock that is wrong.
                self.world.borrow_mut().offset += by;
                self.edge |= powered;
            }
            Fails::NoBatteryClock(begins) => {
                self.battery = false;
                self.boot_clock = begins;
                self.network_after = lasts.unwrap_or(NETWORK);
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
                if self.state == State::Runs {
                    self.state = State::Hung(now + lasts.unwrap_or(WATCHDOG).min(WATCHDOG));
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
                let seed = self.dice.of(1 << 30) as u64;
                self.world.borrow_mut().effects.tears = Some(seed);
            }
            Fails::MissedWakes => self.missed += 1,
            Fails::SpuriousWakes => {
                self.spurious += 1;
                self.next_spurious();
            }
            other => self.breaks(other, true, now),
        }
    }

    fn ends(&mut self, index: usize, now: Duration) {
        let fault = &self.script.faults[index];
        self.in_force[index] = false;
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
                if matches!(self.state, State::Runs | State::Hung(_) | State::Dead(..)) {
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
                self.missed -= 1;
            }
            Fails::SpuriousWakes => self.spurious -= 1,
            Fails::NoBatteryClock(_) | Fails::Crash { .. } | Fails::Hang | Fails::TornWrite => {}
            other if !still => self.breaks(other, false, now),
            _ => {}
        }
    }

    fn input(&mut self, zone: ZoneId, change: impl Fn(&mut super::world::Sense)) {
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
    fn judge_impaired(&mut self) {
        let world = self.world.borrow();
        let broken = |zone: ZoneId| {
            let supply = self.site[zone].supply;
            self.dead_supplies[supply.0] > 0
                || world.yard.latched(zone)
                || self
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

    /// The owner asks for something.
    fn ask(&mut self, index: usize) {
        let ask = &self.script.asks[index];
        if self.state != State::Runs {
            self.see(Seen::OWNER, format!("{}: no answer", ask.say(self.site)));
            return;
        }
        let Some(service) = &mut self.service else {
            return;
        };
        let moment = self.world.borrow().moment(service.newest());
        let reply = service.answer(ask.request(self.site), moment);
        let answered = self.world.borrow_mut().effects.next();
        let reply = reply.filter(|_| answered);
        self.judge
            .asked(&ask.what, reply.as_ref(), &self.world.borrow());
        let said = match &reply {
            Some(Reply::Done(done)) if done.kept => done.what.clone(),
            Some(Reply::Done(done)) => format!("{}, but not on the disk", done.what),
            Some(Reply::Refused(refusal)) => format!("{}; {}", refusal.why, refusal.remedy),
            Some(Reply::Status(status)) if status.alarms.is_empty() => "no alarms".into(),
            Some(Reply::Status(status)) => status.alarms.join("; "),
            Some(Reply::History(_) | Reply::Readings(_) | Reply::Measured(_)) => String::new(),
            None => "no answer".into(),
        };
        self.see(Seen::OWNER, format!("{}: {said}", ask.say(self.site)));
        self.after_call();
        self.edge = true;
    }
}
