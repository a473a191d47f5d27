//! One rehearsal: what happens next happens next, to the end.

use std::cell::RefCell;
use std::path::Path;
use std::rc::Rc;
use std::time::Duration;

use chrono::TimeDelta;

use crate::chain::{What as Happens, Yard};
use crate::daemon::control::Reply;
use crate::daemon::moment::ClockQuality;
use crate::site::Site;
use crate::text::with_minus;

use super::fault::Fails;
use super::judge::Judge;
use super::oracle::Life;
use super::service::{Board, Service};
use super::world::World;
use super::{Rehearsed, Script, Seen};

mod agenda;
mod faults;
mod machine;
mod wakes;

use self::agenda::{Agenda, Edge};
use self::faults::InForce;
use self::machine::{Machine, State};
use self::wakes::{A_LITTLE, Wakes};

/// What a finding of a wake too many begins with.
pub(super) const TWICE: &str = "woken twice at one instant, the service";

pub(super) struct Run<'a, S> {
    script: &'a Script<'a>,
    site: &'a Site,
    folder: &'a Path,
    start: &'a dyn Fn(Board) -> S,
    world: Rc<RefCell<World>>,
    judge: Judge<'a>,
    service: Option<S>,
    machine: Machine,
    wakes: Wakes,
    agenda: Agenda,
    faults: InForce,
    seen: Vec<Seen>,
    end: Duration,
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
        let yard = Yard::new(&script.links.wiring, script.pace);
        let world = World::new(site, yard, begins, script.chip);
        Self {
            site,
            script,
            folder,
            world: Rc::new(RefCell::new(world)),
            agenda: Agenda::new(script, &judge.oracle),
            judge,
            start,
            service: None,
            machine: Machine::new(begins),
            wakes: Wakes::new(script.ticks, script.seed),
            faults: InForce {
                in_force: vec![false; script.faults.len()],
                dead_supplies: vec![0; site.supplies.len()],
            },
            seen: Vec::new(),
            end: (script.end() - begins).to_std().unwrap_or_default(),
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
            let woken = self.wakes.count;
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
            let woken = self.wakes.count != woken;
            self.judge.alarms(&world.borrow(), life, broken, woken);
            if self.judge.findings.len() >= self.script.most_findings {
                break;
            }
        }
        Rehearsed {
            seen: self.seen,
            findings: self.judge.findings,
            wakes: self.wakes.count,
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
            hung: matches!(self.machine.state, State::Hung(_)),
            since: self.machine.started,
            quality,
        }
    }

    /// When something happens next.
    fn next_stop(&self) -> Duration {
        let world = self.world.borrow();
        let woken = (self.machine.state == State::Runs).then(|| self.wakes.next_at(&world));
        let others = [
            world.next_at(),
            self.agenda.next_at(),
            self.machine.next_at(),
            woken,
        ];
        let next = others.into_iter().flatten().fold(self.end, Duration::min);
        next.max(world.now)
    }

    fn happen(&mut self, now: Duration) {
        let due = self.wakes.due(&self.world.borrow());
        self.yard_moves(now);
        while let Some((zone, lit)) = self.agenda.timer(now) {
            self.world.borrow_mut().yard.switch(zone, lit, now);
            self.wakes.last_busy = now;
        }
        while let Some((edge, index)) = self.agenda.edge(now) {
            self.wakes.last_busy = now;
            match edge {
                Edge::Begins => self.begins(index, now),
                Edge::Ends => self.ends(index, now),
            }
            self.judge_impaired();
        }
        self.lives(now);
        if self.machine.network_at.is_some_and(|at| at <= now) {
            self.machine.network_at = None;
            self.network_answers();
        }
        while let Some(index) = self.agenda.ask(now) {
            self.wakes.last_busy = now;
            self.ask(index);
        }
        self.yard_moves(now);
        if self.machine.state != State::Runs {
            self.wakes.edge = false;
            return;
        }
        if self.machine.links_at.is_some_and(|at| at <= now) {
            self.machine.links_at = None;
            self.judge.links_since = Some(now);
            if let Some(service) = &mut self.service {
                service.set_links(self.script.links.judged.clone());
            }
            self.wakes.edge = true;
        }
        let edge = std::mem::take(&mut self.wakes.edge);
        // `due` was asked for before: it lies at least a little ahead, or is this very instant.
        let timer = due.is_some_and(|due| due <= now + A_LITTLE);
        let tick = self.wakes.tick_at(&self.world.borrow()) <= now;
        if tick {
            self.wakes.last_tick = now;
        }
        if self.wakes.missed > 0 {
            self.judge.missed(now);
        }
        let spurious = self.wakes.spurious > 0;
        if spurious {
            self.wakes.next_spurious();
        }
        if tick || spurious || ((edge || timer) && self.wakes.missed == 0) {
            self.wake();
            if timer && !edge && !tick && !spurious {
                self.judge.wakes_at_once(&self.world.borrow());
            }
            self.yard_moves(now);
        }
    }

    /// The yard and the inputs move on.
    fn yard_moves(&mut self, now: Duration) {
        let mut world = self.world.borrow_mut();
        world.yard.advance_to(now);
        let events = world.yard.take_events();
        if world.look() {
            self.wakes.edge = true;
            self.wakes.last_busy = now;
        }
        if events.is_empty() {
            return;
        }
        self.wakes.last_busy = now;
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

    fn wake(&mut self) {
        self.wakes.count += 1;
        let Some(service) = &mut self.service else {
            return;
        };
        let moment = self.world.borrow().moment(service.newest());
        self.wakes.again = service.wake(moment);
        self.after_call();
        // A wake too many changes nothing.
        let now = self.world.borrow().now;
        if self.wakes.count.is_multiple_of(8) && !self.judge.unsettled(now) {
            let Some(service) = &mut self.service else {
                return;
            };
            let before = self.world.borrow().levels.clone();
            let moment = self.world.borrow().moment(service.newest());
            self.wakes.again = service.wake(moment);
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

    /// The owner asks for something.
    fn ask(&mut self, index: usize) {
        let ask = &self.script.asks[index];
        if self.machine.state != State::Runs {
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
        self.wakes.edge = true;
    }
}
