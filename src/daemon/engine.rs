//! The heart of the service: on every wake compute, compare, act, read back, record.
//!
//! The order of things is the order of their harm: lines first, then the record of them, then answers.
//! A hold is the other way round: it is on the disk before anybody is told that it holds. Whatever
//! breaks off in between, the next start computes the same anew.

use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};

use crate::civil_time::SiteZone;
use crate::link::LinkJudgement;
use crate::link::{Following, FollowingByMonth};
use crate::site::{Site, Zone, ZoneId};

use super::controller::{Held, View, decide};
use super::lines::Lines;
use super::moment::{Again, CORRECTION, ClockQuality, Now};
use super::planned::Planned;
use super::store::{Entry, Event, Kind, Store, Trouble};
use super::watch::{Condition, Slowest, condition};

mod answers;
mod forced;
mod holds;
mod inputs;
mod journal;
mod measured;
mod outputs;
pub mod seen;
pub mod status;
#[cfg(test)]
mod tests;

use self::holds::Holds;
use self::inputs::Inputs;
use self::journal::Journal;
use self::outputs::Outputs;

/// A step of the wall clock is told from the slow correction of the network time service by this
/// [ms]: that moves a clock by at most 0.5 ms a second, which in a minute is 30 ms.
const STEP_MS: i64 = 200;

/// A line that has just been lost is sought again after this.
const LOOK_AGAIN: Duration = Duration::from_secs(1);

/// One that stays lost is sought so often.
const SEEK_EVERY: Duration = Duration::from_secs(5);

/// What a wake came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Woken {
    /// When to look again.
    pub again: Again,
    /// Every line that was not known to be lost reads back as it is driven.
    pub sound: bool,
}

/// What the links do, as far as that is worked out.
#[derive(Debug)]
struct Links {
    /// Until they are worked out no slave is predicted; what is driven does not depend on it.
    following: Vec<FollowingByMonth>,
    judged: Option<Vec<LinkJudgement>>,
    slowest: Option<Vec<Slowest>>,
}

impl Links {
    fn unknown(site: &Site) -> Self {
        let dark = FollowingByMonth::all_year(Following::StaysDark);
        Self {
            following: vec![dark; site.links.len()],
            judged: None,
            slowest: None,
        }
    }

    fn of(judged: Vec<LinkJudgement>) -> Self {
        Self {
            following: judged.iter().map(|judged| judged.following).collect(),
            slowest: Some(Slowest::of(&judged)),
            judged: Some(judged),
        }
    }
}

/// What the wall clock has been like.
#[derive(Debug)]
struct Clock {
    started: Now,
    last: Now,
    /// The newest time that was surely right.
    newest: Option<DateTime<Utc>>,
    /// The owner has said that it is right; until it steps.
    trusted: bool,
}

/// The yard in hand.
pub struct Engine<L, S> {
    site: Site,
    outputs: Outputs<L>,
    inputs: Inputs,
    holds: Holds,
    journal: Journal<S>,
    links: Links,
    planned: Option<Planned>,
    meters: measured::Meters,
    clock: Clock,
    checked: Option<status::Checked>,
    reload_trouble: Option<String>,
    page_trouble: Option<String>,
    /// By zone that has neither line nor input: what it was last predicted to do, where that is reported.
    predicted: Option<Vec<Option<bool>>>,
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
        let mut journal = Journal::new((store, trouble.clone()), now);
        journal.count_zones(&site, now);
        let clock = format!("clock {}", now.quality);
        journal.say(now, Kind::Service, None, "started", &clock);
        if let Some(Trouble(why)) = trouble {
            journal.say(now, Kind::Fault, None, "store", &why);
        }
        Self {
            outputs: Outputs::new(&site, lines, now),
            inputs: Inputs::new(&site, now),
            holds: Holds::new(&site, boot_id, kept.holds, &mut journal, now),
            links: Links::unknown(&site),
            planned: None,
            meters: measured::Meters::new(kept.points),
            clock: Clock {
                started: now,
                last: now,
                newest: kept.newest,
                trusted: false,
            },
            checked: None,
            reload_trouble: None,
            page_trouble: None,
            predicted: None,
            journal,
            site,
        }
    }

    /// The yard.
    pub fn site(&self) -> &Site {
        &self.site
    }

    /// The lines.
    pub fn lines(&mut self) -> &mut L {
        &mut self.outputs.lines
    }

    /// The newest time that was surely right.
    pub fn newest(&self) -> Option<DateTime<Utc>> {
        self.clock.newest
    }

    /// What a zone does, if it has an input.
    pub fn condition(&self, zone: ZoneId) -> Option<Condition> {
        self.inputs.zones[zone.0].condition
    }

    /// The store, when all else is over.
    pub fn into_store(self) -> S {
        self.journal.store
    }

    /// What happened since this was last asked, oldest first.
    pub fn take_said(&mut self) -> Vec<Event> {
        self.journal.take_said()
    }

    /// What the links do, once that is worked out.
    pub fn set_links(&mut self, links: Vec<LinkJudgement>) {
        self.links = Links::of(links);
        self.planned = None;
    }

    /// What the check of this yard says. A NO-GO raises an alarm; it does not stop the lights, because a dark path
    /// is the greater hazard.
    pub fn set_checked(&mut self, checked: status::Checked, now: Now) {
        for stop in &checked.stops {
            self.journal
                .say(now, Kind::Service, None, "check says NO-GO", stop);
        }
        self.checked = Some(checked);
    }

    /// The rules of the yard's clocks have changed.
    pub fn set_timezone(&mut self, timezone: SiteZone, why: &str, now: Now) {
        self.site.timezone = timezone;
        self.planned = None;
        self.journal
            .say(now, Kind::Service, None, "time zone rules read anew", why);
    }

    fn forget_links(&mut self) {
        self.links = Links::unknown(&self.site);
        self.checked = None;
        self.meters.forget_sheet();
        self.planned = None;
    }

    /// Has the yard described anew. Holds, hours and senses of zones that keep their name are kept;
    /// `lines` are those of the new description, taken dark, or `None` if they are the same.
    pub fn replace(&mut self, site: Site, lines: Option<L>, now: Now) {
        // A zone may be gone now, and come back.
        self.journal.keep_all();
        self.record(now);
        let old = std::mem::replace(&mut self.site, site);
        let place = |zone: &Zone| old.zones.iter().position(|before| before.name == zone.name);
        let before: Vec<Option<usize>> = self.site.zones.iter().map(place).collect();
        let same_lines = lines.is_none();
        self.journal.count_zones(&self.site, now);
        self.outputs.replace(&self.site, lines, &before, now);
        self.inputs.replace(&self.site, same_lines, &before, now);
        self.forget_links();
        self.holds.replace(&self.site, &mut self.journal, now);
        if let Some(predicted) = &mut self.predicted {
            let same = |before: &Option<usize>| before.and_then(|before| predicted[before]);
            *predicted = before.iter().map(same).collect();
        }
        self.reload_trouble = None;
        let what = "site file read anew";
        self.journal
            .say(now, Kind::Service, None, what, &self.site.name);
    }

    /// Says that the site file could not be read anew; the old one stays in force.
    pub fn reload_failed(&mut self, why: String, now: Now) {
        let what = "new site file not taken, the old one stays in force";
        self.journal.say(now, Kind::Fault, None, what, &why);
        self.reload_trouble = Some(why);
    }

    /// Says that there is no page though there should be; the lights go on.
    pub fn no_page(&mut self, why: &str, now: Now) {
        self.journal.say(now, Kind::Fault, None, "no page", why);
        self.page_trouble = Some(why.to_owned());
    }

    /// From now on predicted changes of zones with neither line nor input are reported too, though not recorded.
    pub fn say_predictions(&mut self) {
        self.predicted = Some(vec![None; self.site.zones.len()]);
    }

    /// Says what zones do by prediction alone, where that has changed.
    fn predict(&mut self, now: Now) {
        let Some(mut predicted) = self.predicted.take() else {
            return;
        };
        for zone in self.site.zones_in_order() {
            let has_input = self.inputs.zones[zone.0].sense.is_some();
            if self.outputs.has_line(zone) || has_input {
                continue;
            }
            let (lit, _) = self.shown(zone, now);
            let before = std::mem::replace(&mut predicted[zone.0], lit);
            let Some(lit) = lit.filter(|lit| before != Some(*lit)) else {
                continue;
            };
            if before.is_none() && !lit {
                continue;
            }
            let event = Event {
                at: now.utc,
                boot: now.boot,
                kind: Kind::Sensed,
                zone: Some(self.site[zone].name.clone()),
                what: if lit { "lit" } else { "dark" }.to_owned(),
                why: format!("predicted: {}", self.zone_status(zone, now).why),
            };
            self.journal.say_unrecorded(event);
        }
        self.predicted = Some(predicted);
    }

    /// Looks at everything anew.
    pub fn wake(&mut self, now: Now) -> Woken {
        let elapsed = now.boot.saturating_sub(self.clock.last.boot);
        // What readings say grows old, and what zones do rests on it.
        self.readings(now);
        self.clock_moved(now);
        self.plan(now);
        self.holds.end(&mut self.journal, now);
        self.count(elapsed);
        let levels = self.outputs.lines.senses();
        self.inputs.take(&self.site, &mut self.journal, now, levels);
        let held = self.holds.held();
        let (commands, mut again) = self.view(now, &held, decide);
        self.outputs
            .drive(&self.site, &mut self.journal, now, commands);
        let sound = self.outputs.read_back(&self.site, &mut self.journal, now);
        if !sound {
            again.after(now.boot + LOOK_AGAIN);
        }
        again.or(self.watch(now, &held));
        if self.outputs.any_lost() {
            again.after(now.boot + SEEK_EVERY);
        }
        self.clock.last = now;
        self.predict(now);
        self.record(now);
        Woken { again, sound }
    }

    /// Drives everything dark and records it: the service ends.
    pub fn stop(&mut self, now: Now, why: &str) {
        self.all_dark(now, why);
        self.journal.say(now, Kind::Service, None, "stopped", why);
        self.journal.keep_all();
        self.record(now);
    }

    /// Whether the owner has said that the clock is right, and it has not stepped since.
    pub fn clock_trusted(&self) -> bool {
        self.clock.trusted
    }

    /// Whether nothing is kept over a restart.
    pub fn keeps_nothing(&self) -> bool {
        self.journal.store.is_in_memory()
    }

    /// Takes another store, which can keep, in the place of one that could not.
    pub fn take_store(&mut self, store: S, now: Now) {
        let there = store.load().points;
        for entry in self.meters.join(there) {
            self.journal.pending.push(entry);
        }
        self.journal.take_store(store, now);
        for zone in &self.site.zones {
            let released = Entry::Released(zone.name.clone());
            self.journal.pending.push(released);
        }
        let holds = self.holds.zones.iter().flatten().cloned();
        self.journal.pending.extend(holds.map(Entry::Hold));
        self.record(now);
    }

    /// Drives every line dark and records it.
    pub fn all_dark(&mut self, now: Now, why: &str) {
        self.outputs
            .all_dark(&self.site, &mut self.journal, now, why);
    }

    /// Notices steps of the wall clock and changes of its quality.
    fn clock_moved(&mut self, now: Now) {
        let last = self.clock.last;
        let by_boot = TimeDelta::from_std(now.boot.saturating_sub(last.boot)).unwrap_or_default();
        let step = (now.utc - last.utc) - by_boot;
        if step.num_milliseconds().abs() >= STEP_MS {
            let why = format!(
                "from {} to {}",
                self.say_time(last.utc + by_boot),
                self.say_time(now.utc)
            );
            let what = format!("clock stepped by {:+.1} s", step.as_seconds_f64());
            self.journal.say(now, Kind::Service, None, &what, &why);
            self.clock.trusted = false;
            self.holds.clock_stepped(&mut self.journal, now);
        }
        if now.quality != last.quality {
            let kind = if now.quality == ClockQuality::Good {
                Kind::Mended
            } else {
                Kind::Fault
            };
            let what = format!("clock {}", now.quality);
            let why = format!("was {}", last.quality);
            self.journal.say(now, kind, None, &what, &why);
        }
        if now.quality == ClockQuality::Good {
            let newest = self.clock.newest;
            if newest.is_some_and(|newest| now.utc < newest - CORRECTION) {
                // Set from the network, so what was thought right before was not.
                self.journal.keep_later(Entry::NewestIs(now.utc));
            }
            self.clock.newest = Some(now.utc);
        }
    }

    fn say_time(&self, utc: DateTime<Utc>) -> String {
        say_time(&self.site, utc)
    }

    fn plan(&mut self, now: Now) {
        let good = |planned: &Planned| planned.covers(now.utc);
        if !self.planned.as_ref().is_some_and(good) {
            self.planned = Planned::around(&self.site, now.utc, &self.links.following).ok();
        }
    }

    /// Counts the time lit since the last wake.
    fn count(&mut self, elapsed: Duration) {
        for index in 0..self.site.zones.len() {
            let (lit, _) = self.shown(ZoneId(index), self.clock.last);
            if lit == Some(true) {
                self.journal.zones[index].now.lit_s += elapsed.as_secs_f64();
            }
        }
    }

    /// Has a function look at all that is known.
    fn view<T>(&self, now: Now, held: &[Option<Held>], look: impl FnOnce(&View<'_>) -> T) -> T {
        let lines: Vec<_> = self.outputs.zones.iter().map(|zone| zone.line).collect();
        let senses: Vec<_> = self.inputs.zones.iter().map(|zone| zone.sense).collect();
        let last: Vec<_> = self.journal.zones.iter().map(|zone| zone.now.lit).collect();
        look(&View {
            site: &self.site,
            planned: self.planned.as_ref(),
            now,
            held,
            lines: &lines,
            senses: &senses,
            last: &last,
            last_on: self.outputs.last_on,
        })
    }

    /// Looks whether every zone does what it should.
    fn watch(&mut self, now: Now, held: &[Option<Held>]) -> Again {
        let mut again = Again::default();
        let slowest = self.links.slowest.as_deref();
        let conditions: Vec<_> = self.view(now, held, |view| {
            (0..self.site.zones.len())
                .map(|index| condition(view, slowest, ZoneId(index), &mut again))
                .collect()
        });
        self.inputs
            .judge(&self.site, &mut self.journal, now, conditions);
        again
    }

    /// Keeps what happened; whether all of it would survive a power cut.
    fn record(&mut self, now: Now) -> bool {
        if now.quality == ClockQuality::Good {
            for (counted, state) in self.journal.zones.iter_mut().zip(&self.outputs.zones) {
                // A hold says nothing of what it would be without.
                if let Some(command) = state.command {
                    counted.now.lit = command.unheld;
                }
            }
        }
        let lit = self.outputs.any_lit();
        self.journal.record(now, self.clock.newest, lit)
    }
}

/// A time by the yard's clocks.
fn say_time(site: &Site, utc: DateTime<Utc>) -> String {
    let zone = &site.timezone;
    format!(
        "{} {}",
        zone.to_local(utc).format("%Y-%m-%d %H:%M:%S"),
        zone.offset_at(utc).abbreviation
    )
}
