//! Holds: zones that somebody forced lit or dark for a while.
//!
//! Within one boot a hold ends by the time since boot, so that no step of the wall clock makes it
//! longer. Over a restart of the board only the wall clock is left; it counts once it is good, and
//! then no hold lasts longer than it was asked for.

use std::time::Duration;

use chrono::TimeDelta;

use crate::daemon::controller::Held;
use crate::daemon::lines::Lines;
use crate::daemon::moment::{ClockQuality, Now};
use crate::daemon::store::{Entry, Hold, Kind, Store};
use crate::site::{Site, ZoneId};

use super::forced::{LONGEST_HOLD_S, on_or_off};
use super::journal::Journal;
use super::{Engine, say_time};

/// Zones that are held.
#[derive(Debug)]
pub(super) struct Holds {
    pub(super) boot_id: String,
    pub(super) zones: Vec<Option<Hold>>,
}

fn span(hold: &Hold) -> Duration {
    (hold.until - hold.since).to_std().unwrap_or_default()
}

fn after(now: Now, left: Duration) -> chrono::DateTime<chrono::Utc> {
    let left = TimeDelta::from_std(left).unwrap_or_default();
    now.utc.checked_add_signed(left).unwrap_or(now.utc)
}

impl Holds {
    /// Takes over the holds of an earlier run. Which of them are over is seen with the first wake: only
    /// then is the clock held against what was kept of it.
    pub(super) fn new<S: Store>(
        site: &Site,
        boot_id: String,
        holds: Vec<Hold>,
        journal: &mut Journal<S>,
        now: Now,
    ) -> Self {
        let mut all = Self {
            boot_id,
            zones: vec![None; site.zones.len()],
        };
        for hold in holds {
            let named = |zone: &crate::site::Zone| zone.name == hold.zone;
            let zone = site.zones.iter().position(named).map(ZoneId);
            match zone {
                Some(zone) if site.output_of(zone).is_some() => {
                    // No hold is longer than a week; one that is was damaged on its way.
                    let week = Duration::from_secs(u64::from(LONGEST_HOLD_S));
                    let left = hold.until_boot.saturating_sub(now.boot);
                    let sane = span(&hold) <= week && (left <= week || !all.of_this_boot(&hold));
                    if sane {
                        all.zones[zone.0] = Some(hold);
                    } else {
                        drop_hold(
                            journal,
                            &hold.zone,
                            "what was kept of it makes no sense",
                            now,
                        );
                    }
                }
                _ => drop_hold(journal, &hold.zone, NO_LINE, now),
            }
        }
        all
    }

    /// Those of another description, in which zones that keep their name are held on if they have a line.
    pub(super) fn replace<S: Store>(&mut self, site: &Site, journal: &mut Journal<S>, now: Now) {
        let before = std::mem::take(&mut self.zones);
        self.zones = vec![None; site.zones.len()];
        for hold in before.into_iter().flatten() {
            let zone = site.zones.iter().position(|zone| zone.name == hold.zone);
            match zone.filter(|zone| site.output_of(ZoneId(*zone)).is_some()) {
                Some(zone) => self.zones[zone] = Some(hold),
                None => drop_hold(journal, &hold.zone, NO_LINE, now),
            }
        }
    }

    /// Whether a hold is of this boot, so that its end is sure.
    fn of_this_boot(&self, hold: &Hold) -> bool {
        hold.boot_id == self.boot_id
    }

    /// Puts a changed hold in the place of the one before.
    fn change<S: Store>(&mut self, index: usize, hold: Hold, journal: &mut Journal<S>) {
        self.zones[index] = Some(hold.clone());
        journal.keep_later(Entry::Hold(hold));
    }

    /// Gives holds of an earlier boot an end in this one, once the clock is good.
    fn adopt<S: Store>(&mut self, journal: &mut Journal<S>, now: Now) {
        for index in 0..self.zones.len() {
            let Some(hold) = self.zones[index].clone() else {
                continue;
            };
            if self.of_this_boot(&hold) || now.quality != ClockQuality::Good {
                continue;
            }
            // A clock that shows less than when it was asked for was wrong then.
            let left = (hold.until - now.utc).to_std().unwrap_or_default();
            let left = left.min(span(&hold));
            let adopted = Hold {
                boot_id: self.boot_id.clone(),
                until_boot: now.boot + left,
                until: after(now, left),
                since: hold.since.min(now.utc),
                ..hold
            };
            self.change(index, adopted, journal);
        }
    }

    /// After a step of the wall clock: what lasts its time ends by the new clock accordingly.
    pub(super) fn clock_stepped<S: Store>(&mut self, journal: &mut Journal<S>, now: Now) {
        for index in 0..self.zones.len() {
            let Some(hold) = self.zones[index].clone() else {
                continue;
            };
            // One that ends with a time of day keeps it: the clock may step back again.
            if !self.of_this_boot(&hold) || hold.by_clock {
                continue;
            }
            let moved = Hold {
                until: after(now, hold.until_boot.saturating_sub(now.boot)),
                since: hold.since.min(now.utc),
                ..hold
            };
            self.change(index, moved, journal);
        }
    }

    /// Lets go of holds that are over.
    pub(super) fn end<S: Store>(&mut self, journal: &mut Journal<S>, now: Now) {
        self.adopt(journal, now);
        for index in 0..self.zones.len() {
            let Some(hold) = &self.zones[index] else {
                continue;
            };
            let over = if self.of_this_boot(hold) {
                let good = now.quality == ClockQuality::Good;
                now.boot >= hold.until_boot || hold.by_clock && good && now.utc >= hold.until
            } else {
                // However wrong the clock is, the board has been up for longer than was asked for.
                now.boot >= span(hold)
            };
            if over && let Some(hold) = self.zones[index].take() {
                drop_hold(journal, &hold.zone, "its time is over", now);
            }
        }
    }

    /// Who is held, as the controller sees it.
    pub(super) fn held(&self) -> Vec<Option<Held>> {
        let held = |hold: &Option<Hold>| {
            let hold = hold.as_ref()?;
            Some(Held {
                lit: hold.lit,
                until: hold.until,
                until_boot: hold.until_boot,
                by_clock: hold.by_clock,
                unsure: !self.of_this_boot(hold),
            })
        };
        self.zones.iter().map(held).collect()
    }

    /// The hold that another takes the place of before its time; a longer one of the same kind takes nothing away.
    pub(super) fn cut_short(&self, zone: ZoneId, by: &Hold) -> Option<&Hold> {
        let before = self.zones[zone.0].as_ref()?;
        (before.lit != by.lit || before.until > by.until).then_some(before)
    }
}

const NO_LINE: &str = "the zone has no line any more";

fn drop_hold<S: Store>(journal: &mut Journal<S>, zone: &str, why: &str, now: Now) {
    journal.say(now, Kind::Held, Some(zone), "released", why);
    journal.keep_later(Entry::Released(zone.to_owned()));
}

impl<L: Lines, S: Store> Engine<L, S> {
    /// Holds zones in one stroke; `true` if that would survive a power cut.
    pub(super) fn hold(&mut self, holds: Vec<(ZoneId, Hold)>, now: Now) -> bool {
        for (zone, hold) in holds {
            let what = if hold.lit { "held on" } else { "held off" };
            let mut why = format!("until {}", say_time(&self.site, hold.until));
            if let Some(before) = self.holds.cut_short(zone, &hold) {
                let (how, end) = (on_or_off(before.lit), say_time(&self.site, before.until));
                why = format!("{why}, before {how} until {end}");
            }
            self.holds.change(zone.0, hold, &mut self.journal);
            self.journal.say_of(now, Kind::Held, zone, what, &why);
        }
        self.record(now)
    }

    /// Lets zones go in one stroke; `true` if that would survive a power cut.
    pub(super) fn release(&mut self, zones: &[ZoneId], now: Now) -> bool {
        for zone in zones {
            self.holds.zones[zone.0] = None;
            let name = &self.site[*zone].name;
            drop_hold(&mut self.journal, name, "asked for", now);
        }
        self.record(now)
    }
}
