//! What the engine answers.

use std::collections::BTreeMap;

use crate::daemon::control::{Done, Filter, Refusal, Reply, Request};
use crate::daemon::lines::Lines;
use crate::daemon::moment::Now;
use crate::daemon::store::{Store, Trouble};
use crate::site::ZoneId;

use super::Engine;

/// At most so many events in one answer: more would not fit a small board.
const MOST_EVENTS: u32 = 2000;

pub(super) fn refused<T>(why: impl Into<String>, remedy: impl Into<String>) -> Result<T, Refusal> {
    Err(Refusal {
        why: why.into(),
        remedy: remedy.into(),
        at: BTreeMap::new(),
    })
}

impl<L: Lines, S: Store> Engine<L, S> {
    /// Answers a request; what it asks for is done, and the lines driven, when it returns. To read the
    /// site file anew is the service's part: `None`.
    pub fn answer(&mut self, request: Request, now: Now) -> Option<Reply> {
        let answer = match request {
            Request::Status => Ok(Reply::Status(Box::new(self.status(now)))),
            Request::Force { zone, lit, until } => self.force(&zone, lit, until.as_ref(), now),
            Request::ForceAll { lit, until } => self.force_all(lit, until.as_ref(), now),
            Request::Release { zone } => self.let_go(&zone, now),
            Request::ReleaseAll {} => Ok(self.let_all_go(now)),
            Request::TrustClock => Ok(self.trust_clock(now)),
            Request::History(filter) => self.history(&filter),
            Request::Readings => Ok(Reply::Readings(Box::new((*self.readings(now)).clone()))),
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
        match self.journal.store.history(&filter) {
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

    /// Takes the clock as it is for right: the newest time that was thought right was not.
    fn trust_clock(&mut self, now: Now) -> Reply {
        use crate::daemon::store::{Entry, Kind};
        self.clock.newest = None;
        self.clock.trusted = true;
        let what = "clock taken as right";
        let why = self.say_time(now.utc);
        self.journal.say(now, Kind::Service, None, what, &why);
        self.journal.keep_later(Entry::NewestIs(now.utc));
        Reply::Done(Done {
            what: format!("{what} until it is set anew: {}", self.say_time(now.utc)),
            kept: self.record(now),
            note: None,
        })
    }
}
