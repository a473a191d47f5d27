//! What is rehearsed, and the board on which it starts.

use chrono::{DateTime, Utc};

use crate::daemon::control::{Reply, Request};
use crate::daemon::engine::Engine;
use crate::daemon::moment::{Again, Now};
use crate::daemon::store::{Event, Trouble};
use crate::daemon::watch::Condition;
use crate::link::LinkJudgement;
use crate::site::{Site, ZoneId};

use super::disk::SimStore;
use super::world::SimLines;

/// What a service finds when it starts.
pub(super) struct Board {
    pub(super) site: Site,
    pub(super) boot_id: String,
    pub(super) lines: SimLines,
    pub(super) store: (SimStore, Option<Trouble>),
    pub(super) now: Now,
}

/// The service: the engine of `run`. Its judge is tried on some that do wrong on purpose.
pub(super) trait Service {
    fn wake(&mut self, now: Now) -> Again;
    fn answer(&mut self, request: Request, now: Now) -> Option<Reply>;
    fn set_links(&mut self, links: Vec<LinkJudgement>);
    fn newest(&self) -> Option<DateTime<Utc>>;
    fn condition(&self, zone: ZoneId) -> Option<Condition>;
    fn take_said(&mut self) -> Vec<Event>;
    /// It dies: nothing of it is tidied up.
    fn killed(self);
}

impl Service for Engine<SimLines, SimStore> {
    fn wake(&mut self, now: Now) -> Again {
        self.wake(now).again
    }

    fn answer(&mut self, request: Request, now: Now) -> Option<Reply> {
        self.answer(request, now)
    }

    fn set_links(&mut self, links: Vec<LinkJudgement>) {
        self.set_links(links);
    }

    fn newest(&self) -> Option<DateTime<Utc>> {
        self.newest()
    }

    fn condition(&self, zone: ZoneId) -> Option<Condition> {
        self.condition(zone)
    }

    fn take_said(&mut self) -> Vec<Event> {
        self.take_said()
    }

    fn killed(self) {
        self.into_store().killed();
    }
}
