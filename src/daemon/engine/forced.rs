//! Zones that somebody forces and lets go again: one, or all of them in one stroke.

use chrono::{DateTime, Days, NaiveTime, TimeDelta, Utc};

use crate::daemon::control::{Done, Refusal, Reply, Until};
use crate::daemon::lines::Lines;
use crate::daemon::moment::{ClockQuality, Now};
use crate::daemon::readings::few;
use crate::daemon::store::{Hold, Store};
use crate::site::ZoneId;

use super::Engine;
use super::answers::refused;

/// Longest time that a zone is held [s]: a week.
pub(super) const LONGEST_HOLD_S: u32 = 7 * 86_400;

impl<L: Lines, S: Store> Engine<L, S> {
    /// The zone of that name, if this board has a line for it.
    fn driven_zone(&self, name: &str) -> Result<ZoneId, Refusal> {
        let zone = self.zone_named(name)?;
        if self.outputs.has_line(zone) {
            return Ok(zone);
        }
        let remedy = match self.site.master_of(zone) {
            Some(master) => format!("it follows {}: force that one", self.site[master].name),
            None => "give it an [[output]] in the site file".into(),
        };
        refused(format!("this board has no line for {name}"), remedy)
    }

    pub(super) fn force(
        &mut self,
        name: &str,
        lit: bool,
        until: Option<&Until>,
        now: Now,
    ) -> Result<Reply, Refusal> {
        let zone = self.driven_zone(name)?;
        let holds = self.holds_of(&[zone], lit, until, now)?;
        let ends = self.say_ends(&holds);
        let cut_short = self.say_cut_short(&holds);
        let kept = self.hold(holds, now);
        self.wake(now);
        let notes = self.why_not_yet(zone, lit).into_iter().chain(cut_short);
        let notes: Vec<String> = notes.collect();
        Ok(Reply::Done(Done {
            what: format!("{name} held {} {ends}", on_or_off(lit)),
            kept,
            note: (!notes.is_empty()).then(|| notes.join("; ")),
        }))
    }

    /// Holds every zone that this board has a line for, or none.
    pub(super) fn force_all(
        &mut self,
        lit: bool,
        until: Option<&Until>,
        now: Now,
    ) -> Result<Reply, Refusal> {
        let zones = self.site.zones_in_order().into_iter();
        let (driven, other): (Vec<_>, Vec<_>) =
            zones.partition(|zone| self.outputs.has_line(*zone));
        if driven.is_empty() {
            return refused(
                "this board has no line for any zone",
                "give one an [[output]] in the site file",
            );
        }
        let holds = self.holds_of(&driven, lit, until, now)?;
        let ends = self.say_ends(&holds);
        let cut_short = self.say_cut_short(&holds);
        let kept = self.hold(holds, now);
        self.wake(now);
        let with_head = |zone: &ZoneId| self.outputs.has_line(self.head_of(*zone));
        let mut notes = self.say_each(&driven, |zone| {
            // What a zone follows was forced as well.
            let follows = self.head_of(zone) != zone && with_head(&zone);
            if follows {
                self.held_up(zone)
            } else {
                self.why_not_yet(zone, lit)
            }
        });
        let (with, without): (Vec<_>, Vec<_>) = other.into_iter().partition(with_head);
        if !with.is_empty() {
            notes.push(format!("by wire: {}", self.few_of(&with)));
        }
        if !without.is_empty() {
            notes.push(format!("without a line: {}", self.few_of(&without)));
        }
        notes.extend((!cut_short.is_empty()).then(|| few(&cut_short)));
        Ok(Reply::Done(Done {
            what: format!(
                "{} held {} {ends}: {}",
                counted(driven.len()),
                on_or_off(lit),
                self.few_of(&driven)
            ),
            kept,
            note: (!notes.is_empty()).then(|| notes.join("; ")),
        }))
    }

    /// What holds zones, if each of them can be held so.
    fn holds_of(
        &self,
        zones: &[ZoneId],
        lit: bool,
        until: Option<&Until>,
        now: Now,
    ) -> Result<Vec<(ZoneId, Hold)>, Refusal> {
        let hold = |zone: &ZoneId| {
            let (until, by_clock) = self.end_of_hold(*zone, until, now)?;
            let left = (until - now.utc).to_std().unwrap_or_default();
            let hold = Hold {
                zone: self.site[*zone].name.clone(),
                lit,
                since: now.utc,
                until,
                boot_id: self.holds.boot_id.clone(),
                until_boot: now.boot + left,
                by_clock,
            };
            Ok((*zone, hold))
        };
        zones.iter().map(hold).collect()
    }

    /// What becomes of the holds that these take the place of before their time: they may have had a reason.
    fn say_cut_short(&self, holds: &[(ZoneId, Hold)]) -> Vec<String> {
        let told = |(zone, hold): &(ZoneId, Hold)| {
            let before = self.holds.cut_short(*zone, hold)?;
            let became = if before.lit == hold.lit {
                let end = self.say_time(hold.until);
                format!("that hold now ends sooner, at {end}")
            } else {
                "that hold is over".to_owned()
            };
            let (how, end) = (on_or_off(before.lit), self.say_time(before.until));
            let zone = &hold.zone;
            Some(format!("{zone} was held {how} until {end}: {became}"))
        };
        holds.iter().filter_map(told).collect()
    }

    /// When holds end.
    fn say_ends(&self, holds: &[(ZoneId, Hold)]) -> String {
        let mut ends = holds.iter().map(|(_, hold)| hold.until);
        match ends.next() {
            Some(first) if ends.all(|end| end == first) => {
                format!("until {}", self.say_time(first))
            }
            _ => "until its plan next switches each".into(),
        }
    }

    /// The zone that a chain of wires begins with.
    fn head_of(&self, zone: ZoneId) -> ZoneId {
        let mut head = zone;
        while let Some(link) = self.site.link_to(head) {
            head = link.master;
        }
        head
    }

    fn few_of(&self, zones: &[ZoneId]) -> String {
        let names = zones.iter().map(|zone| self.site[*zone].name.clone());
        few(&names.collect::<Vec<_>>())
    }

    /// Reasons of zones, each said once.
    fn say_each(&self, zones: &[ZoneId], why: impl Fn(ZoneId) -> Option<String>) -> Vec<String> {
        let mut by_why: Vec<(String, Vec<ZoneId>)> = Vec::new();
        for (zone, why) in zones.iter().filter_map(|zone| Some((*zone, why(*zone)?))) {
            match by_why.iter_mut().find(|(there, _)| *there == why) {
                Some((_, zones)) => zones.push(zone),
                None => by_why.push((why, vec![zone])),
            }
        }
        let say = |(why, zones): (String, Vec<ZoneId>)| format!("{}: {why}", self.few_of(&zones));
        by_why.into_iter().map(say).collect()
    }

    /// Why a zone that was forced is not as it was told.
    fn why_not_yet(&self, zone: ZoneId, lit: bool) -> Option<String> {
        let waits = || {
            let master = self.site.link_to(zone)?.master;
            Some(format!(
                "its line is closed, but it is lit only while {} is",
                self.site[master].name
            ))
        };
        self.held_up(zone).or_else(|| lit.then(waits).flatten())
    }

    /// Why a line is not as it should be.
    fn held_up(&self, zone: ZoneId) -> Option<String> {
        let state = &self.outputs.zones[zone.0];
        let fault = state.fault.as_ref().map(ToString::to_string);
        let waits = || state.command?.waits.map(|waits| waits.say().to_owned());
        fault.or_else(waits)
    }

    fn end_of_hold(
        &self,
        zone: ZoneId,
        until: Option<&Until>,
        now: Now,
    ) -> Result<(DateTime<Utc>, bool), Refusal> {
        let lasting = |seconds: i64| (now.utc + TimeDelta::seconds(seconds), false);
        let needs_clock = || {
            if now.quality == ClockQuality::Good {
                return Ok(());
            }
            refused(
                format!("the clock is {}, so nobody knows when that is", now.quality),
                "say for how long: `--for 30m`",
            )
        };
        match until {
            #[expect(
                clippy::cast_possible_truncation,
                reason = "at most a day, whole seconds"
            )]
            None => Ok(lasting(self.site.daemon.hold_s as i64)),
            Some(Until::For(seconds)) if (1..=LONGEST_HOLD_S).contains(seconds) => {
                Ok(lasting(i64::from(*seconds)))
            }
            Some(Until::For(_)) => refused(
                "a zone is held for a second at least and for a week at most",
                "for longer, change the site file",
            ),
            Some(Until::Clock(text)) => {
                needs_clock()?;
                let Ok(time) = NaiveTime::parse_from_str(text, "%H:%M") else {
                    return refused(format!("{text:?} is no time of day"), "write it as 23:30");
                };
                Ok((self.next_time(time, now.utc), true))
            }
            Some(Until::Next) => {
                needs_clock()?;
                let planned = self.planned.as_ref();
                match planned.and_then(|planned| planned.next_change(zone, now.utc)) {
                    Some(next) => Ok((next, true)),
                    None => refused(
                        format!(
                            "the plan of {} does not switch it within two days",
                            self.site[zone].name
                        ),
                        "say for how long: `--for 30m`",
                    ),
                }
            }
        }
    }

    /// When the yard's clocks next show a time of day.
    fn next_time(&self, time: NaiveTime, after: DateTime<Utc>) -> DateTime<Utc> {
        let zone = &self.site.timezone;
        let today = zone.to_local(after).date();
        (0..=2)
            .flat_map(|days| {
                let local = (today + Days::new(days)).and_time(time);
                let first = zone.resolve(local).utc;
                // A time that the clocks show twice is still to come after the first of them.
                let again = zone
                    .transitions_between(first, first + TimeDelta::hours(4))
                    .into_iter()
                    .map(|change| first - TimeDelta::seconds(i64::from(change.shift_s())))
                    .find(|again| *again > first && zone.to_local(*again) == local);
                [Some(first), again]
            })
            .flatten()
            .find(|at| *at > after)
            .expect("today or tomorrow has that time, or one that stands for it")
    }

    pub(super) fn let_go(&mut self, name: &str, now: Now) -> Result<Reply, Refusal> {
        let zone = self.driven_zone(name)?;
        if self.holds.zones[zone.0].is_none() {
            return Ok(Reply::Done(Done {
                what: format!("{name} was not held"),
                kept: self.record(now),
                note: None,
            }));
        }
        let kept = self.release(&[zone], now);
        self.wake(now);
        let command = self.outputs.zones[zone.0].command;
        let why = command.map_or_else(String::new, |command| command.wish.why.say(&self.site));
        Ok(Reply::Done(Done {
            what: format!("{name} released: {}, {why}", self.wanted(zone)),
            kept,
            note: self.held_up(zone),
        }))
    }

    /// Lets go of every zone that is held.
    pub(super) fn let_all_go(&mut self, now: Now) -> Reply {
        let mut zones = self.site.zones_in_order();
        zones.retain(|zone| self.holds.zones[zone.0].is_some());
        if zones.is_empty() {
            return Reply::Done(Done {
                what: "no zone was held".into(),
                kept: self.record(now),
                note: None,
            });
        }
        let kept = self.release(&zones, now);
        self.wake(now);
        let now_is = |zone: &ZoneId| format!("{} {}", self.site[*zone].name, self.wanted(*zone));
        let all: Vec<String> = zones.iter().map(now_is).collect();
        let waits = self.say_each(&zones, |zone| self.held_up(zone));
        Reply::Done(Done {
            what: format!("{} released: {}", counted(zones.len()), few(&all)),
            kept,
            note: (!waits.is_empty()).then(|| waits.join("; ")),
        })
    }

    /// What a zone should be.
    fn wanted(&self, zone: ZoneId) -> &'static str {
        let command = self.outputs.zones[zone.0].command;
        on_or_off(command.is_some_and(|command| command.wish.lit))
    }
}

pub(super) fn on_or_off(lit: bool) -> &'static str {
    if lit { "on" } else { "off" }
}

fn counted(zones: usize) -> String {
    match zones {
        1 => "1 zone".into(),
        count => format!("{count} zones"),
    }
}
