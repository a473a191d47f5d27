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
use crate::site::ZoneId;

use super::Engine;
use super::forced::LONGEST_HOLD_S;

fn span(hold: &Hold) -> Duration {
    (hold.until - hold.since).to_std().unwrap_or_default()
}

fn after(now: Now, left: Duration) -> chrono::DateTime<chrono::Utc> {
    let left = TimeDelta::from_std(left).unwrap_or_default();
    now.utc.checked_add_signed(left).unwrap_or(now.utc)
}

impl<L: Lines, S: Store> Engine<L, S> {
    /// Takes over the holds of an earlier run. Which of them are over is seen with the first wake: only
    /// then is the clock held against what was kept of it.
    pub(super) fn take_holds(&mut self, holds: Vec<Hold>, now: Now) {
        for hold in holds {
            let zone = self
                .site
                .zones
                .iter()
                .position(|zone| zone.name == hold.zone);
            match zone {
                Some(zone) if self.zones[zone].line.is_some() => {
                    // No hold is longer than a week; one that is was damaged on its way.
                    let week = Duration::from_secs(u64::from(LONGEST_HOLD_S));
                    let left = hold.until_boot.saturating_sub(now.boot);
                    let sane = span(&hold) <= week && (left <= week || !self.of_this_boot(&hold));
                    if sane {
                        self.zones[zone].hold = Some(hold);
                    } else {
                        self.drop_hold(&hold.zone, "what was kept of it makes no sense", now);
                    }
                }
                _ => self.drop_hold(&hold.zone, "the zone has no line any more", now),
            }
        }
    }

    pub(super) fn drop_hold(&mut self, zone: &str, why: &str, now: Now) {
        self.say(now, Kind::Held, Some(zone), "released", why);
        self.keep_later(Entry::Released(zone.to_owned()));
    }

    /// Whether a hold is of this boot, so that its end is sure.
    fn of_this_boot(&self, hold: &Hold) -> bool {
        hold.boot_id == self.boot_id
    }

    /// Puts a changed hold in the place of the one before.
    fn change_hold(&mut self, index: usize, hold: Hold) {
        self.zones[index].hold = Some(hold.clone());
        self.keep_later(Entry::Hold(hold));
    }

    /// Gives holds of an earlier boot an end in this one, once the clock is good.
    fn adopt_holds(&mut self, now: Now) {
        for index in 0..self.zones.len() {
            let Some(hold) = self.zones[index].hold.clone() else {
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
            self.change_hold(index, adopted);
        }
    }

    /// After a step of the wall clock: what lasts its time ends by the new clock accordingly.
    pub(super) fn move_holds(&mut self, now: Now) {
        for index in 0..self.zones.len() {
            let Some(hold) = self.zones[index].hold.clone() else {
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
            self.change_hold(index, moved);
        }
    }

    /// Lets go of holds that are over.
    pub(super) fn end_holds(&mut self, now: Now) {
        self.adopt_holds(now);
        for index in 0..self.zones.len() {
            let Some(hold) = &self.zones[index].hold else {
                continue;
            };
            let over = if self.of_this_boot(hold) {
                let good = now.quality == ClockQuality::Good;
                now.boot >= hold.until_boot || hold.by_clock && good && now.utc >= hold.until
            } else {
                // However wrong the clock is, the board has been up for longer than was asked for.
                now.boot >= span(hold)
            };
            if over {
                let zone = hold.zone.clone();
                self.zones[index].hold = None;
                self.drop_hold(&zone, "its time is over", now);
            }
        }
    }

    /// Who is held, as the controller sees it.
    pub(super) fn held(&self) -> Vec<Option<Held>> {
        let held = |index: usize| {
            let hold = self.zones[index].hold.as_ref()?;
            Some(Held {
                lit: hold.lit,
                until: hold.until,
                until_boot: hold.until_boot,
                by_clock: hold.by_clock,
                unsure: !self.of_this_boot(hold),
            })
        };
        (0..self.zones.len()).map(held).collect()
    }

    /// Holds zones in one stroke; `true` if that would survive a power cut.
    pub(super) fn hold(&mut self, holds: Vec<(ZoneId, Hold)>, now: Now) -> bool {
        for (zone, hold) in holds {
            let what = if hold.lit { "held on" } else { "held off" };
            let why = format!("until {}", self.say_time(hold.until));
            let name = hold.zone.clone();
            self.change_hold(zone.0, hold);
            self.say(now, Kind::Held, Some(&name), what, &why);
        }
        self.record(now)
    }

    /// Lets zones go in one stroke; `true` if that would survive a power cut.
    pub(super) fn release(&mut self, zones: &[ZoneId], now: Now) -> bool {
        for zone in zones {
            let name = self.site[*zone].name.clone();
            self.zones[zone.0].hold = None;
            self.drop_hold(&name, "asked for", now);
        }
        self.record(now)
    }
}
