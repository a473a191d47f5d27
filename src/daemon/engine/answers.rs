//! What the engine answers.

use std::collections::BTreeMap;

use chrono::{DateTime, Days, NaiveTime, TimeDelta, Utc};

use crate::daemon::control::{Done, Filter, Refusal, Reply, Request, Until};
use crate::daemon::lines::Lines;
use crate::daemon::moment::{ClockQuality, Now};
use crate::daemon::store::{Hold, Trouble};
use crate::site::ZoneId;

use super::Engine;

/// Longest time that a zone is held [s]: a week.
pub(super) const LONGEST_HOLD_S: u32 = 7 * 86_400;

/// At most so many events in one answer: more would not fit a small board.
const MOST_EVENTS: u32 = 2000;

pub(super) fn refused<T>(why: impl Into<String>, remedy: impl Into<String>) -> Result<T, Refusal> {
    Err(Refusal {
        why: why.into(),
        remedy: remedy.into(),
        at: BTreeMap::new(),
    })
}

impl<L: Lines> Engine<L> {
    /// Answers a request; what it asks for is done, and the lines driven, when it returns. To read the
    /// site file anew is the service's part: `None`.
    pub fn answer(&mut self, request: Request, now: Now) -> Option<Reply> {
        let answer = match request {
            Request::Status => Ok(Reply::Status(Box::new(self.status(now)))),
            Request::Force { zone, lit, until } => self.force(&zone, lit, until, now),
            Request::Release { zone } => self.let_go(&zone, now),
            Request::TrustClock => Ok(self.trust_clock(now)),
            Request::History(filter) => self.history(&filter),
            Request::Readings => Ok(Reply::Readings(Box::new((*self.readings()).clone()))),
            Request::Measured { zone, readings } => self.measured(&zone, &readings, now),
            Request::Reload => return None,
        };
        Some(answer.unwrap_or_else(Reply::Refused))
    }

    fn history(&mut self, filter: &Filter) -> Result<Reply, Refusal> {
        let filter = Filter {
            most: Some(filter.most.unwrap_or(MOST_EVENTS).min(MOST_EVENTS)),
            ..filter.clone()
        };
        match self.store.history(&filter) {
            Ok(events) => Ok(Reply::History(events)),
            Err(Trouble(why)) => refused(why, "see `status`"),
        }
    }

    /// The zone of that name.
    pub(super) fn zone_named(&self, name: &str) -> Result<ZoneId, Refusal> {
        let names = || self.site.zones.iter().map(|zone| zone.name.as_str());
        let Some(index) = names().position(|zone| zone == name) else {
            let nearest = names()
                .map(|zone| (strsim::damerau_levenshtein(zone, name), zone))
                .min();
            let remedy = match nearest {
                Some((distance, zone)) if distance <= 2 => format!("did you mean {zone}?"),
                _ => format!("the zones are {}", names().collect::<Vec<_>>().join(", ")),
            };
            return refused(format!("there is no zone {name:?}"), remedy);
        };
        Ok(ZoneId(index))
    }

    /// The zone of that name, if this board has a line for it.
    fn driven_zone(&self, name: &str) -> Result<ZoneId, Refusal> {
        let zone = self.zone_named(name)?;
        if self.zones[zone.0].line.is_some() {
            return Ok(zone);
        }
        let remedy = match self.site.master_of(zone) {
            Some(master) => format!("it follows {}: force that one", self.site[master].name),
            None => "give it an [[output]] in the site file".into(),
        };
        refused(format!("this board has no line for {name}"), remedy)
    }

    fn force(
        &mut self,
        name: &str,
        lit: bool,
        until: Option<Until>,
        now: Now,
    ) -> Result<Reply, Refusal> {
        let zone = self.driven_zone(name)?;
        let (until, by_clock) = self.end_of_hold(zone, until, now)?;
        let left = (until - now.utc).to_std().unwrap_or_default();
        let hold = Hold {
            zone: name.to_owned(),
            lit,
            since: now.utc,
            until,
            boot_id: self.boot_id.clone(),
            until_boot: now.boot + left,
            by_clock,
        };
        let kept = self.hold(zone, hold, now);
        self.wake(now);
        Ok(Reply::Done(Done {
            what: format!(
                "{name} held {} until {}",
                if lit { "on" } else { "off" },
                self.say_time(until)
            ),
            kept,
            note: self.why_not_yet(zone, lit),
        }))
    }

    /// Why a zone that was forced is not as it was told.
    fn why_not_yet(&self, zone: ZoneId, lit: bool) -> Option<String> {
        let state = &self.zones[zone.0];
        if let Some(fault) = &state.line_fault {
            return Some(fault.to_string());
        }
        if let Some(waits) = state.command.and_then(|command| command.waits) {
            return Some(waits.say().to_owned());
        }
        let master = self.site.link_to(zone)?.master;
        lit.then(|| {
            format!(
                "its line is closed, but it is lit only while {} is",
                self.site[master].name
            )
        })
    }

    fn end_of_hold(
        &self,
        zone: ZoneId,
        until: Option<Until>,
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
            Some(Until::For(seconds)) if (1..=LONGEST_HOLD_S).contains(&seconds) => {
                Ok(lasting(i64::from(seconds)))
            }
            Some(Until::For(_)) => refused(
                "a zone is held for a second at least and for a week at most",
                "for longer, change the site file",
            ),
            Some(Until::Clock(text)) => {
                needs_clock()?;
                let Ok(time) = NaiveTime::parse_from_str(&text, "%H:%M") else {
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
                        "its plan does not switch it within two days",
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

    fn let_go(&mut self, name: &str, now: Now) -> Result<Reply, Refusal> {
        let zone = self.driven_zone(name)?;
        if self.zones[zone.0].hold.is_none() {
            return Ok(Reply::Done(Done {
                what: format!("{name} was not held"),
                kept: self.record(now),
                note: None,
            }));
        }
        let kept = self.release(zone, now);
        self.wake(now);
        let state = &self.zones[zone.0];
        let lit = state.command.is_some_and(|command| command.wish.lit);
        let why = state
            .command
            .map_or_else(String::new, |command| command.wish.why.say(&self.site));
        Ok(Reply::Done(Done {
            what: format!("{name} released: {}, {why}", if lit { "on" } else { "off" }),
            kept,
            note: state
                .command
                .and_then(|command| command.waits)
                .map(|waits| waits.say().to_owned()),
        }))
    }

    /// Takes the clock as it is for right: the newest time that was thought right was not.
    fn trust_clock(&mut self, now: Now) -> Reply {
        use crate::daemon::store::{Entry, Kind};
        self.newest = None;
        self.clock_trusted = true;
        let what = "clock taken as right";
        self.say(now, Kind::Service, None, what, &self.say_time(now.utc));
        self.keep_later(Entry::NewestIs(now.utc));
        Reply::Done(Done {
            what: format!("{what} until it is set anew: {}", self.say_time(now.utc)),
            kept: self.record(now),
            note: None,
        })
    }
}
