//! The heart of the service: on every wake compute, compare, act, read back, record.
//!
//! The order of things is the order of their harm: lines first, then the record of them, then answers.
//! A hold is the other way round: it is on the disk before anybody is told that it holds. Whatever
//! breaks off in between, the next start computes the same anew.

use std::collections::HashMap;
use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};

use crate::cautions::Caution;
use crate::civil_time::SiteZone;
use crate::link::LinkJudgement;
use crate::link::{Following, FollowingByMonth};
use crate::site::{Site, Switching, ZoneId};

use super::controller::{Command, Held, LineState, Sense, View, decide};
use super::lines::{LineFault, Lines};
use super::moment::{Again, CORRECTION, ClockQuality, Now};
use super::planned::Planned;
use super::store::{Entry, Event, Hold, Kind, Store, Trouble, ZoneRecord};
use super::watch::{Condition, Slowest, condition};

mod answers;
mod forced;
mod holds;
mod measured;
pub mod seen;
pub mod status;
#[cfg(test)]
mod tests;

/// A step of the wall clock is told from the slow correction of the network time service by this
/// [ms]: that moves a clock by at most 0.5 ms a second, which in a minute is 30 ms.
const STEP_MS: i64 = 200;

/// A line that has just been lost is sought again after this.
const LOOK_AGAIN: Duration = Duration::from_secs(1);

/// Lit hours are kept at least so often: a power cut loses no more.
const KEEP_LIT_EVERY: Duration = Duration::from_secs(600);

/// While all is dark, the newest time is kept so often.
const KEEP_DARK_EVERY: Duration = Duration::from_secs(3600);

/// What happens to a zone more often than this within an hour is no more recorded: a card does not last
/// ten years of that. An input that changes so often means nothing any more.
const OFTEN: u32 = 60;

const HOUR: Duration = Duration::from_secs(3600);

/// One that stays lost is sought so often.
const SEEK_EVERY: Duration = Duration::from_secs(5);

/// Records that wait for a store that does not take them; more are lost, and counted.
const MOST_PENDING: usize = 1000;

/// What is known of one zone.
#[derive(Debug, Clone)]
struct ZoneState {
    command: Option<Command>,
    line: Option<LineState>,
    line_fault: Option<LineFault>,
    /// What it should have been when it did not read back as it was driven.
    failed_at: Option<bool>,
    sense: Option<Sense>,
    sense_fault: Option<LineFault>,
    condition: Option<Condition>,
    condition_since: DateTime<Utc>,
    /// Lit or dark since.
    since: DateTime<Utc>,
    lit_s: f64,
    operations: u64,
    hold: Option<Hold>,
    /// What it did when that was last said, of one that nobody looks at.
    predicted: Option<bool>,
    /// How often its input changed since then.
    chatter: (Duration, u32),
    /// What its line was when the clock was last good.
    last: bool,
}

/// What a wake came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Woken {
    /// When to look again.
    pub again: Again,
    /// Every line that was not known to be lost reads back as it is driven.
    pub sound: bool,
}

/// The yard in hand.
pub struct Engine<L, S> {
    site: Site,
    boot_id: String,
    lines: L,
    store: S,
    zones: Vec<ZoneState>,
    following: Vec<FollowingByMonth>,
    links: Option<Vec<LinkJudgement>>,
    checked: Option<status::Checked>,
    meters: measured::Meters,
    slowest: Option<Vec<Slowest>>,
    planned: Option<Planned>,
    started: Now,
    last: Now,
    last_on: Option<Duration>,
    newest: Option<DateTime<Utc>>,
    kept_at: Duration,
    /// What the store has not taken yet.
    pending: Vec<Entry>,
    lost: u64,
    store_trouble: Option<Trouble>,
    store_failed: bool,
    /// What was put aside at the start: told of until the service starts anew.
    store_aside: Option<Trouble>,
    reload_trouble: Option<String>,
    page_trouble: Option<String>,
    /// What zones do that nobody looks at is said as well.
    predicts: bool,
    /// What is to be said of what happened, oldest first.
    said: Vec<Event>,
    /// How often each kind of thing was said of each zone, since then.
    said_often: HashMap<(Kind, String), u32>,
    said_since: Duration,
    /// The owner has said that the clock is right; until it steps.
    clock_trusted: bool,
}

impl<L: Lines, S: Store> Engine<L, S> {
    /// Takes a yard in hand: the lines are taken to be dark, as they were requested.
    ///
    /// What every slave does comes later ([`Self::set_links`]): nothing that is driven needs it, and
    /// the lights do not wait for it.
    pub fn new(
        site: Site,
        boot_id: String,
        lines: L,
        (store, trouble): (S, Option<Trouble>),
        now: Now,
    ) -> Self {
        let kept = store.load();
        let mut engine = Self {
            zones: Vec::new(),
            following: Vec::new(),
            links: None,
            checked: None,
            meters: measured::Meters::new(kept.points),
            slowest: None,
            planned: None,
            started: now,
            last: now,
            last_on: None,
            newest: kept.newest,
            kept_at: now.boot,
            pending: Vec::new(),
            lost: 0,
            store_trouble: trouble.clone().filter(|_| store.is_in_memory()),
            store_failed: false,
            store_aside: trouble.clone().filter(|_| !store.is_in_memory()),
            reload_trouble: None,
            page_trouble: None,
            predicts: false,
            said: Vec::new(),
            said_often: HashMap::new(),
            said_since: now.boot,
            clock_trusted: false,
            site,
            boot_id,
            lines,
            store,
        };
        let zones = (0..engine.site.zones.len()).map(ZoneId);
        engine.zones = zones
            .map(|zone| engine.fresh(zone, &kept.zones, now))
            .collect();
        engine.forget_links();
        engine.say(
            now,
            Kind::Service,
            None,
            "started",
            &format!("clock {}", now.quality),
        );
        if let Some(Trouble(why)) = trouble {
            engine.say(now, Kind::Fault, None, "store", &why);
        }
        engine.take_holds(kept.holds, now);
        engine
    }

    /// A zone of which nothing is known but what was kept.
    fn fresh(&self, zone: ZoneId, kept: &[ZoneRecord], now: Now) -> ZoneState {
        let record = kept
            .iter()
            .find(|record| record.zone == self.site[zone].name);
        ZoneState {
            command: None,
            line: self.site.output_of(zone).map(|_| LineState {
                lit: false,
                since: now.boot,
                lost: false,
            }),
            line_fault: None,
            failed_at: None,
            sense: self.site.input_of(zone).map(|_| Sense {
                lit: None,
                since: now.boot,
                from_start: true,
                chatters_until: None,
            }),
            sense_fault: None,
            condition: None,
            condition_since: now.utc,
            since: now.utc,
            lit_s: record.map_or(0.0, |record| record.lit_s),
            operations: record.map_or(0, |record| record.operations),
            hold: None,
            predicted: None,
            chatter: (now.boot, 0),
            last: record.is_some_and(|record| record.lit),
        }
    }

    /// The yard.
    pub fn site(&self) -> &Site {
        &self.site
    }

    /// The lines.
    pub fn lines(&mut self) -> &mut L {
        &mut self.lines
    }

    /// The newest time that was surely right.
    pub fn newest(&self) -> Option<DateTime<Utc>> {
        self.newest
    }

    /// What a zone does, if somebody looks.
    pub fn condition(&self, zone: ZoneId) -> Option<Condition> {
        self.zones[zone.0].condition
    }

    /// The store, when all else is over.
    pub fn into_store(self) -> S {
        self.store
    }

    /// What happened since this was last asked, oldest first.
    pub fn take_said(&mut self) -> Vec<Event> {
        std::mem::take(&mut self.said)
    }

    /// What the links do, once that is worked out.
    pub fn set_links(&mut self, links: Vec<LinkJudgement>) {
        self.following = links.iter().map(|judged| judged.following).collect();
        self.slowest = Some(Slowest::of(&links));
        self.links = Some(links);
        self.planned = None;
    }

    /// What the check of this yard says. The lights go on with a STOP as well: darkness on the path of whoever
    /// has not read it would be the worse answer, but nobody is to be told that all is well.
    pub fn set_cautions(&mut self, cautions: &[Caution], now: Now) {
        let checked = status::Checked::of(&self.site, cautions);
        for stop in &checked.stops {
            self.say(now, Kind::Service, None, "check says NO-GO", stop);
        }
        self.checked = Some(checked);
    }

    /// The rules of the yard's clocks have changed.
    pub fn set_timezone(&mut self, timezone: SiteZone, why: &str, now: Now) {
        self.site.timezone = timezone;
        self.planned = None;
        self.say(now, Kind::Service, None, "time zone rules read anew", why);
    }

    fn forget_links(&mut self) {
        // Until they are worked out no slave is predicted; what is driven does not depend on it.
        self.following =
            vec![FollowingByMonth::all_year(Following::StaysDark); self.site.links.len()];
        self.links = None;
        self.checked = None;
        self.meters.forget_sheet();
        self.slowest = None;
        self.planned = None;
    }

    /// Has the yard described anew. Holds, hours and senses of zones that keep their name are kept;
    /// `lines` are those of the new description, taken dark, or `None` if they are the same.
    pub fn replace(&mut self, site: Site, lines: Option<L>, now: Now) {
        let old = std::mem::replace(&mut self.site, site);
        let states = std::mem::take(&mut self.zones);
        let same_lines = lines.is_none();
        let kept = self.store.load().zones;
        if let Some(lines) = lines {
            self.lines = lines;
        }
        let zones = (0..self.site.zones.len()).map(ZoneId);
        self.zones = zones
            .map(|zone| {
                let fresh = self.fresh(zone, &kept, now);
                let name = &self.site[zone].name;
                let before = old.zones.iter().position(|zone| zone.name == *name);
                let Some(before) = before.map(|index| states[index].clone()) else {
                    return fresh;
                };
                if same_lines {
                    return before;
                }
                ZoneState {
                    line: fresh.line,
                    line_fault: None,
                    sense: fresh.sense,
                    sense_fault: None,
                    ..before
                }
            })
            .collect();
        self.forget_links();
        for (zone, state) in old.zones.iter().zip(&states) {
            if state.hold.is_none() {
                continue;
            }
            let here = self.site.zones.iter().position(|it| it.name == zone.name);
            if here.is_some_and(|index| self.zones[index].line.is_some()) {
                continue;
            }
            if let Some(index) = here {
                self.zones[index].hold = None;
            }
            self.drop_hold(&zone.name, "the zone has no line any more", now);
        }
        self.reload_trouble = None;
        self.say(
            now,
            Kind::Service,
            None,
            "site file read anew",
            &self.site.name.clone(),
        );
    }

    /// Says that the site file could not be read anew; the old one stays in force.
    pub fn reload_failed(&mut self, why: String, now: Now) {
        self.say(
            now,
            Kind::Fault,
            None,
            "new site file not taken, the old one stays in force",
            &why,
        );
        self.reload_trouble = Some(why);
    }

    /// Says that there is no page though there should be; the lights go on.
    pub fn no_page(&mut self, why: &str, now: Now) {
        self.say(now, Kind::Fault, None, "no page", why);
        self.page_trouble = Some(why.to_owned());
    }

    /// From now on it is also said, though not recorded, what zones do that have neither line nor input.
    pub fn say_predictions(&mut self) {
        self.predicts = true;
    }

    /// Says what zones do by prediction alone, where that has changed.
    fn predict(&mut self, now: Now) {
        for zone in self.site.zones_in_order() {
            let state = &self.zones[zone.0];
            if !self.predicts || state.line.is_some() || state.sense.is_some() {
                continue;
            }
            let (lit, _) = self.shown(zone, now);
            let before = std::mem::replace(&mut self.zones[zone.0].predicted, lit);
            let Some(lit) = lit.filter(|lit| before != Some(*lit)) else {
                continue;
            };
            if before.is_none() && !lit {
                continue;
            }
            self.said.push(Event {
                at: now.utc,
                boot: now.boot,
                kind: Kind::Sensed,
                zone: Some(self.site[zone].name.clone()),
                what: if lit { "lit" } else { "dark" }.to_owned(),
                why: format!("predicted: {}", self.zone_status(zone, now).why),
            });
        }
    }

    /// Looks at everything anew.
    pub fn wake(&mut self, now: Now) -> Woken {
        let elapsed = now.boot.saturating_sub(self.last.boot);
        self.clock_moved(now);
        self.plan(now);
        self.end_holds(now);
        self.count(elapsed);
        self.sense(now);
        let held = self.held();
        let (commands, mut again) = self.view(now, &held, decide);
        self.drive(now, commands);
        let sound = self.read_back(now);
        if !sound {
            again.after(now.boot + LOOK_AGAIN);
        }
        again.or(self.watch(now, &held));
        if self.zones.iter().any(|zone| zone.line_fault.is_some()) {
            again.after(now.boot + SEEK_EVERY);
        }
        self.last = now;
        self.predict(now);
        self.record(now);
        Woken { again, sound }
    }

    /// Drives everything dark and records it: the service ends.
    pub fn stop(&mut self, now: Now, why: &str) {
        self.all_dark(now, why);
        self.say(now, Kind::Service, None, "stopped", why);
        self.kept_at = Duration::ZERO;
        self.record(now);
    }

    /// Whether the owner has said that the clock is right, and it has not stepped since.
    pub fn clock_trusted(&self) -> bool {
        self.clock_trusted
    }

    /// Whether nothing is kept over a restart.
    pub fn keeps_nothing(&self) -> bool {
        self.store.is_in_memory()
    }

    /// Takes another store, which can keep, in the place of one that could not.
    pub fn take_store(&mut self, store: S, now: Now) {
        self.store = store;
        let there = self.store.load().points;
        let besides = self.meters.join(there);
        self.pending.extend(besides);
        self.store_trouble = None;
        self.store_failed = false;
        self.say(now, Kind::Mended, None, "store", "it keeps records again");
        for zone in &self.site.zones {
            self.pending.push(Entry::Released(zone.name.clone()));
        }
        let holds = self.zones.iter().filter_map(|zone| zone.hold.clone());
        self.pending.extend(holds.map(Entry::Hold));
        self.record(now);
    }

    /// Drives every line dark and records it.
    pub fn all_dark(&mut self, now: Now, why: &str) {
        let levels: Vec<(ZoneId, bool)> = self.outputs().map(|zone| (zone, false)).collect();
        let _ = self.lines.drive(&levels);
        for (zone, _) in levels {
            let state = &mut self.zones[zone.0];
            if state.line.is_some_and(|line| line.lit) {
                state.line = Some(LineState {
                    lit: false,
                    since: now.boot,
                    lost: false,
                });
                self.switched(now, zone, false, why);
            }
        }
    }

    fn outputs(&self) -> impl Iterator<Item = ZoneId> + use<'_, L, S> {
        self.site.outputs.iter().map(|output| output.zone)
    }

    /// Notices steps of the wall clock and changes of its quality.
    fn clock_moved(&mut self, now: Now) {
        let by_boot =
            TimeDelta::from_std(now.boot.saturating_sub(self.last.boot)).unwrap_or_default();
        let step = (now.utc - self.last.utc) - by_boot;
        if step.num_milliseconds().abs() >= STEP_MS {
            let why = format!(
                "from {} to {}",
                self.say_time(self.last.utc + by_boot),
                self.say_time(now.utc)
            );
            let what = format!("clock stepped by {:+.1} s", step.as_seconds_f64());
            self.say(now, Kind::Service, None, &what, &why);
            self.clock_trusted = false;
            self.move_holds(now);
        }
        if now.quality != self.last.quality {
            let kind = if now.quality == ClockQuality::Good {
                Kind::Mended
            } else {
                Kind::Fault
            };
            let why = format!("was {}", self.last.quality);
            self.say(now, kind, None, &format!("clock {}", now.quality), &why);
        }
        if now.quality == ClockQuality::Good {
            if self
                .newest
                .is_some_and(|newest| now.utc < newest - CORRECTION)
            {
                // Set from the network, so what was thought right before was not.
                self.keep_later(Entry::NewestIs(now.utc));
            }
            self.newest = Some(now.utc);
        }
    }

    fn say_time(&self, utc: DateTime<Utc>) -> String {
        let zone = &self.site.timezone;
        format!(
            "{} {}",
            zone.to_local(utc).format("%Y-%m-%d %H:%M:%S"),
            zone.offset_at(utc).abbreviation
        )
    }

    fn plan(&mut self, now: Now) {
        let good = |planned: &Planned| planned.covers(now.utc);
        if !self.planned.as_ref().is_some_and(good) {
            self.planned = Planned::around(&self.site, now.utc, &self.following).ok();
        }
    }

    /// Reads the inputs.
    fn sense(&mut self, now: Now) {
        for (zone, level) in self.lines.senses() {
            let name = self.site[zone].name.clone();
            let state = &mut self.zones[zone.0];
            let Some(before) = state.sense else { continue };
            let (lit, fault) = match level {
                Ok(lit) => (Some(lit), None),
                Err(fault) => (None, Some(fault)),
            };
            let news = fault
                .clone()
                .filter(|fault| state.sense_fault.as_ref() != Some(fault));
            let mended = fault.is_none() && state.sense_fault.is_some();
            state.sense_fault = fault;
            if lit != before.lit {
                // One that cannot be read counts as dark, so from that to dark nothing changes; and what
                // it was before anybody looked, nobody knows.
                let still_dark = lit != Some(true) && before.lit != Some(true);
                state.sense = Some(Sense {
                    lit,
                    since: if still_dark { before.since } else { now.boot },
                    from_start: before.from_start && (still_dark || before.lit.is_none()),
                    chatters_until: before.chatters_until,
                });
                let has_line = self.site.output_of(zone).is_some();
                if !has_line {
                    self.zones[zone.0].since = now.utc;
                    if lit == Some(true) && before.lit == Some(false) {
                        self.zones[zone.0].operations += 1;
                    }
                }
                if let (Some(lit), Some(_)) = (lit, before.lit) {
                    self.sensed(now, zone, lit);
                }
            }
            if let Some(fault) = news {
                self.say(
                    now,
                    Kind::Fault,
                    Some(&name),
                    "input lost",
                    &fault.to_string(),
                );
            } else if mended {
                self.say(
                    now,
                    Kind::Mended,
                    Some(&name),
                    "input back",
                    "it can be read again",
                );
            }
        }
    }

    /// Says what an input says, unless it does so all the time.
    fn sensed(&mut self, now: Now, zone: ZoneId, lit: bool) {
        let (from, count) = &mut self.zones[zone.0].chatter;
        if now.boot.saturating_sub(*from) >= HOUR {
            (*from, *count) = (now.boot, 0);
        }
        *count += 1;
        let (from, count) = (*from, *count);
        let name = self.site[zone].name.clone();
        let what = if lit { "lit" } else { "dark" };
        if count == OFTEN + 1 {
            if let Some(sense) = &mut self.zones[zone.0].sense {
                sense.chatters_until = Some(from + HOUR);
            }
            let why = format!("more than {OFTEN} changes within an hour");
            self.say(now, Kind::Fault, Some(&name), "input chatters", &why);
        }
        self.say(now, Kind::Sensed, Some(&name), what, "its input says so");
    }

    /// Counts the time lit since the last wake.
    fn count(&mut self, elapsed: Duration) {
        for index in 0..self.zones.len() {
            let (lit, _) = self.shown(ZoneId(index), self.last);
            if lit == Some(true) {
                self.zones[index].lit_s += elapsed.as_secs_f64();
            }
        }
    }

    /// Has a function look at all that is known.
    fn view<T>(&self, now: Now, held: &[Option<Held>], look: impl FnOnce(&View<'_>) -> T) -> T {
        let lines: Vec<_> = self.zones.iter().map(|zone| zone.line).collect();
        let senses: Vec<_> = self.zones.iter().map(|zone| zone.sense).collect();
        let last: Vec<_> = self.zones.iter().map(|zone| zone.last).collect();
        look(&View {
            site: &self.site,
            planned: self.planned.as_ref(),
            now,
            held,
            lines: &lines,
            senses: &senses,
            last: &last,
            last_on: self.last_on,
        })
    }

    /// Drives the lines where they are not as they should be.
    fn drive(&mut self, now: Now, commands: Vec<Option<Command>>) {
        let mut levels = Vec::new();
        let mut differs = false;
        for (index, command) in commands.iter().enumerate() {
            let Some(command) = command else { continue };
            let state = &self.zones[index];
            levels.push((ZoneId(index), command.lit));
            differs |=
                state.line_fault.is_some() || state.line.is_none_or(|line| line.lit != command.lit);
        }
        for (state, command) in self.zones.iter_mut().zip(commands) {
            state.command = command;
        }
        if !differs {
            return;
        }
        let faults = self.lines.drive(&levels);
        for (zone, lit) in levels {
            let fault = faults.iter().find(|(faulty, _)| *faulty == zone);
            match fault {
                Some((_, fault)) => self.line_lost(now, zone, fault.clone()),
                // One that was lost is back when it reads back.
                None if self.zones[zone.0].line_fault.is_some() => {}
                None => self.driven(now, zone, lit),
            }
        }
    }

    fn line_lost(&mut self, now: Now, zone: ZoneId, fault: LineFault) {
        let state = &mut self.zones[zone.0];
        let since = state.line.filter(|line| !line.lit);
        // Whatever it was, nobody holds it now.
        let since = since.map_or(now.boot, |line| line.since);
        state.line = Some(LineState {
            lit: false,
            since,
            lost: true,
        });
        if state.line_fault.as_ref() != Some(&fault) {
            let why = fault.to_string();
            state.line_fault = Some(fault);
            let name = self.site[zone].name.clone();
            self.say(now, Kind::Fault, Some(&name), "line lost", &why);
        }
    }

    fn driven(&mut self, now: Now, zone: ZoneId, lit: bool) {
        let state = &mut self.zones[zone.0];
        if let Some(line) = &mut state.line
            && line.lit == lit
        {
            line.lost = false;
            return;
        }
        state.line = Some(LineState {
            lit,
            since: now.boot,
            lost: false,
        });
        if lit {
            self.last_on = Some(now.boot);
        }
        let why = state
            .command
            .map_or_else(String::new, |command| command.wish.why.say(&self.site));
        self.switched(now, zone, lit, &why);
    }

    fn switched(&mut self, now: Now, zone: ZoneId, lit: bool, why: &str) {
        let name = self.site[zone].name.clone();
        let state = &mut self.zones[zone.0];
        state.since = now.utc;
        state.operations += u64::from(lit);
        self.say(
            now,
            Kind::Switched,
            Some(&name),
            if lit { "on" } else { "off" },
            why,
        );
    }

    /// Whether every line that is not known to be lost reads as it was driven.
    fn read_back(&mut self, now: Now) -> bool {
        let mut sound = true;
        for (zone, level) in self.lines.read_back() {
            let state = &self.zones[zone.0];
            let Some(command) = state.command else {
                continue;
            };
            let lost = state.line_fault.is_some();
            let fault = match level {
                // That it is dark as told says nothing of one that would not go on.
                Ok(lit) if lit == command.lit && state.failed_at.is_some_and(|at| at != lit) => {
                    continue;
                }
                Ok(lit) if lit == command.lit => {
                    if lost {
                        self.zones[zone.0].line_fault = None;
                        self.zones[zone.0].failed_at = None;
                        let name = self.site[zone].name.clone();
                        let why = "it can be driven again";
                        self.say(now, Kind::Mended, Some(&name), "line back", why);
                        self.driven(now, zone, lit);
                    }
                    continue;
                }
                // The board has said why already.
                Err(_) if lost => continue,
                Ok(_) => {
                    self.zones[zone.0].failed_at = Some(command.lit);
                    LineFault {
                        what: "its line does not read back as it is driven".into(),
                        remedy: "look for a short or another driver on it".into(),
                    }
                }
                Err(fault) => fault,
            };
            sound &= lost;
            self.line_lost(now, zone, fault);
        }
        sound
    }

    /// Looks whether every zone does what it should.
    fn watch(&mut self, now: Now, held: &[Option<Held>]) -> Again {
        let mut again = Again::default();
        let conditions: Vec<_> = self.view(now, held, |view| {
            (0..self.zones.len())
                .map(|index| condition(view, self.slowest.as_deref(), ZoneId(index), &mut again))
                .collect()
        });
        for (index, condition) in conditions.into_iter().enumerate() {
            let state = &mut self.zones[index];
            let before = std::mem::replace(&mut state.condition, condition);
            if before == condition {
                continue;
            }
            state.condition_since = now.utc;
            let was_fault = before.is_some_and(Condition::is_fault);
            let Some(condition) = condition else { continue };
            let (kind, why) = match (was_fault, condition.is_fault()) {
                (false, false) => continue,
                (_, true) => (Kind::Fault, self.why_condition(ZoneId(index), condition)),
                (true, false) => (
                    Kind::Mended,
                    before.map_or_else(String::new, |before| format!("it was: {before}")),
                ),
            };
            // The input itself has said so already.
            if condition != Condition::Unknown && before != Some(Condition::Unknown) {
                let name = self.site.zones[index].name.clone();
                self.say(now, kind, Some(&name), condition.name(), &why);
            }
        }
        again
    }

    fn why_condition(&self, zone: ZoneId, condition: Condition) -> String {
        let master = self
            .site
            .master_of(zone)
            .map(|master| &self.site[master].name);
        let cause = match (self.site[zone].switching.clone(), master) {
            (Switching::Follows(_), Some(master)) => master.clone(),
            (_, _) if self.site.output_of(zone).is_some() => "its line".into(),
            _ => "its plan".into(),
        };
        match condition {
            Condition::Late => format!("longer after {cause} than the slowest that was simulated"),
            Condition::DoesNotFollow => format!("{cause} is on, it is dark"),
            Condition::DoesNotRelease => format!("{cause} is off, it is lit"),
            Condition::LitByDay => format!("{cause} is off and the sun is up"),
            Condition::Unknown => "its input cannot be read".into(),
            Condition::Lit | Condition::Dark => String::new(),
        }
    }

    fn zone_record(&self, zone: ZoneId) -> ZoneRecord {
        let state = &self.zones[zone.0];
        ZoneRecord {
            zone: self.site[zone].name.clone(),
            lit: state.last,
            since: state.since,
            lit_s: state.lit_s,
            operations: state.operations,
        }
    }

    fn begin_hour(&mut self, now: Now) {
        if now.boot.saturating_sub(self.said_since) >= HOUR {
            self.said_since = now.boot;
            self.said_often.clear();
        }
    }

    /// Whether nothing more of this kind would be recorded of a zone in this hour.
    fn said_enough(&mut self, now: Now, kind: Kind, zone: &str) -> bool {
        self.begin_hour(now);
        let count = self.said_often.get(&(kind, zone.to_owned()));
        count.is_some_and(|count| *count >= OFTEN)
    }

    fn say(&mut self, now: Now, kind: Kind, zone: Option<&str>, what: &str, why: &str) {
        self.begin_hour(now);
        let of = (kind, zone.unwrap_or_default().to_owned());
        let count = self.said_often.entry(of).or_insert(0);
        *count += 1;
        if *count > OFTEN {
            if *count == OFTEN + 1 {
                let why = format!("more than {OFTEN} times within an hour; not each is recorded");
                let what = format!("again and again: {what}");
                self.tell(now, Kind::Fault, zone, &what, &why);
            }
            return;
        }
        self.tell(now, kind, zone, what, why);
    }

    fn tell(&mut self, now: Now, kind: Kind, zone: Option<&str>, what: &str, why: &str) {
        let event = Event {
            at: now.utc,
            boot: now.boot,
            kind,
            zone: zone.map(str::to_owned),
            what: what.to_owned(),
            why: why.to_owned(),
        };
        self.said.push(event.clone());
        self.keep_later(Entry::Event(event));
    }

    fn keep_later(&mut self, entry: Entry) {
        if self.pending.len() >= MOST_PENDING {
            // What is held must not be forgotten; what happened may be.
            let may_go = |entry: &Entry| matches!(entry, Entry::Event(_) | Entry::Reading(..));
            if let Some(oldest) = self.pending.iter().position(may_go) {
                self.pending.remove(oldest);
                self.lost += 1;
            }
        }
        self.pending.push(entry);
    }

    /// Keeps what waits, and the hours now and then; whether all of it would survive a power cut.
    fn record(&mut self, now: Now) -> bool {
        if now.quality == ClockQuality::Good {
            for state in &mut self.zones {
                // A hold says nothing of what it would be without.
                state.last = state.command.map_or(state.last, |command| command.unheld);
            }
        }
        let lit = |zone: &ZoneState| zone.line.is_some_and(|line| line.lit);
        let every = if self.zones.iter().any(lit) {
            KEEP_LIT_EVERY
        } else {
            KEEP_DARK_EVERY
        };
        if self.pending.is_empty() && now.boot.saturating_sub(self.kept_at) < every {
            return !self.store.is_in_memory();
        }
        self.kept_at = now.boot;
        let mut pending = std::mem::take(&mut self.pending);
        pending.retain(|entry| !matches!(entry, Entry::Zone(_) | Entry::Newest(_)));
        for zone in (0..self.zones.len()).map(ZoneId) {
            if self.zones[zone.0].line.is_some() || self.zones[zone.0].sense.is_some() {
                pending.push(Entry::Zone(self.zone_record(zone)));
            }
        }
        pending.extend(self.newest.map(Entry::Newest));
        match self.store.keep(&pending) {
            Ok(()) => {
                if self.store_failed {
                    self.store_failed = false;
                    self.store_trouble = None;
                    self.say(now, Kind::Mended, None, "store", "it takes records again");
                }
                !self.store.is_in_memory()
            }
            Err(trouble) => {
                self.pending = pending;
                self.store_refused(trouble, now);
                false
            }
        }
    }

    fn store_refused(&mut self, trouble: Trouble, now: Now) {
        if !self.store_failed {
            self.say(now, Kind::Fault, None, "store", &trouble.0);
        }
        self.store_failed = true;
        self.store_trouble = Some(trouble);
    }
}
