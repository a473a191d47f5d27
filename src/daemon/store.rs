//! What must survive a power cut.

use std::path::Path;
use std::time::Duration;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use super::control::Filter;

/// A zone held lit or dark.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hold {
    /// The zone's name: the site file may change while it is held.
    pub zone: String,
    /// Lit, or dark.
    pub lit: bool,
    /// When it was asked for.
    pub since: DateTime<Utc>,
    /// When it ends, by the wall clock.
    pub until: DateTime<Utc>,
    /// The boot in which it was asked for.
    pub boot_id: String,
    /// When it ends, since that boot: within it a step of the wall clock does not lengthen it.
    pub until_boot: Duration,
    /// It was asked for until a time of day, and ends at once if the clock passes that; else it lasts
    /// its time, whatever the wall clock does.
    pub by_clock: bool,
}

/// What is kept of a zone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ZoneRecord {
    /// Its name.
    pub zone: String,
    /// Its line was last driven so.
    pub lit: bool,
    /// Since then.
    pub since: DateTime<Utc>,
    /// Lit in all [s].
    pub lit_s: f64,
    /// How often its line went on.
    pub operations: u64,
}

/// What kind of thing happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A line went on or off.
    Switched,
    /// An input said something new, or a zone is late, does not follow, does not release.
    Sensed,
    /// A zone was held or released.
    Held,
    /// Something broke.
    Fault,
    /// Something that was broken is whole again.
    Mended,
    /// The service started, stopped, read its file anew; the clock stepped.
    Service,
}

/// Something that happened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Event {
    /// When, by the wall clock as it was.
    pub at: DateTime<Utc>,
    /// Since the boot.
    pub boot: Duration,
    /// What kind.
    pub kind: Kind,
    /// The zone, if it is one's.
    pub zone: Option<String>,
    /// What, in a few words: `on`, `off`, `does not follow`.
    pub what: String,
    /// Why.
    pub why: String,
}

/// One thing to keep.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// Something that happened.
    Event(Event),
    /// A hold; it takes the place of the zone's last one.
    Hold(Hold),
    /// The zone is not held any more.
    Released(String),
    /// The newest of a zone.
    Zone(ZoneRecord),
    /// The newest time that was surely right; an older one does not take its place.
    Newest(DateTime<Utc>),
    /// The same, though it is older: what was there before was wrong.
    NewestIs(DateTime<Utc>),
}

/// What was kept.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Kept {
    /// All holds, ended ones among them.
    pub holds: Vec<Hold>,
    /// All zones that ever had a line.
    pub zones: Vec<ZoneRecord>,
    /// The newest time that was surely right.
    pub newest: Option<DateTime<Utc>>,
}

/// Why the store does not keep what it should.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trouble(pub String);

/// How much a commit waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Durability {
    /// Until it is on the disk.
    Full,
    /// For nothing: a rehearsal's disk does not lose power.
    None,
}

/// What becomes of a write, for rehearsals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// It is made.
    Made,
    /// The program died before it: nothing happens, and nobody is left to notice.
    Dead,
    /// The disk is full.
    Full,
}

/// The store.
pub struct Store {}

impl Store {
    /// Opens or makes the store in a folder.
    pub fn open(_folder: &Path, _durability: Durability) -> (Self, Option<Trouble>) {
        (Self {}, None)
    }

    /// One that keeps nothing over a restart.
    pub fn in_memory() -> Self {
        Self {}
    }

    /// What was kept.
    pub fn load(&mut self) -> Kept {
        Kept::default()
    }

    /// Keeps all of these, or none.
    pub fn keep(&mut self, _entries: &[Entry]) -> Result<(), Trouble> {
        Ok(())
    }

    /// What happened, oldest first.
    pub fn history(&mut self, _filter: &Filter) -> Result<Vec<Event>, Trouble> {
        Ok(Vec::new())
    }

    /// Has this asked before each write.
    pub fn set_gate(&mut self, _gate: Box<dyn FnMut() -> Fate + Send>) {}
}
