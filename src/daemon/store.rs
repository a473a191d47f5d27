//! What must survive a power cut.
//!
//! ```text
//! folder/pilotwire.db      SQLite, with pilotwire.db-wal beside it while the service runs
//! folder/pilotwire.db.bad-N    what was damaged, the last three times
//! ```
//!
//! Nothing here stops the lights: a store that cannot be used is put aside, or stays in memory, and
//! says so. The file belongs to one process while that runs (SQLite's exclusive mode, which also does
//! without a shared-memory file); to see its history then, ask that process. After a crash
//! [`Database::read`] reads a copy of the file and its write-ahead log, and touches neither.
//!
//! SQLite orders and syncs; what that protects from is a lost, cut or torn write. It has no checksums
//! over its main file, so a byte that a worn card turns over inside a text is not noticed.

mod database;
mod offline;
mod quarantine;
mod refusal;
mod rows;
mod schema;
#[cfg(test)]
pub(crate) mod tests;

use std::time::Duration;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use super::control::Filter;

pub use self::database::{Database, FILE, Read};

/// Keeps the record of a yard: SQLite on the board's card, and in a rehearsal the same on a disk that fails.
pub trait Store {
    /// Nothing that is kept survives a restart.
    fn is_in_memory(&self) -> bool;

    /// What was kept; zones and points in the order of their names.
    fn load(&self) -> Kept;

    /// Keeps all of these, or none. After an error the next try may succeed.
    fn keep(&mut self, entries: &[Entry]) -> Result<(), Trouble>;

    /// What happened, in the order in which it was kept: the wall clock may have stepped in between.
    /// Of that the newest, if the filter has a limit.
    fn history(&self, filter: &Filter) -> Result<Vec<Event>, Trouble>;
}

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

/// What a meter showed once.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Taken {
    /// When, by the wall clock as it was.
    pub at: DateTime<Utc>,
    /// In the unit of the point; infinite if it was above the meter's range.
    #[serde(with = "above_range")]
    pub value: f64,
    /// It was as it should be then.
    pub fine: bool,
}

/// The first and the newest reading of a test point; the same where there is one. The first is the first that was
/// as it should be, once there is one: one that was mistyped says nothing of drift.
#[derive(Debug, Clone, PartialEq)]
pub struct PointRecord {
    /// Zone and point, `orchard/TP3 DC`: the site file may change while its readings are kept.
    pub point: String,
    /// What it is held against.
    pub first: Taken,
    /// When it was last measured.
    pub last: Taken,
}

impl PointRecord {
    /// Of a point that was measured for the first time.
    pub fn new(point: String, taken: Taken) -> Self {
        Self {
            point,
            first: taken,
            last: taken,
        }
    }

    /// It was measured again.
    pub fn take(&mut self, taken: Taken) {
        self.last = taken;
        if taken.fine && !self.first.fine {
            self.first = taken;
        }
    }
}

/// JSON has no number above all others: it is `"OL"`, as meters show it.
mod above_range {
    use serde::de::Error;
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    #[derive(Serialize, Deserialize)]
    #[serde(untagged)]
    enum Shown<'a> {
        Number(f64),
        Text(std::borrow::Cow<'a, str>),
    }

    #[expect(clippy::trivially_copy_pass_by_ref, reason = "serde gives it so")]
    pub(super) fn serialize<S: Serializer>(value: &f64, to: S) -> Result<S::Ok, S::Error> {
        if value.is_finite() {
            Shown::Number(*value).serialize(to)
        } else {
            Shown::Text("OL".into()).serialize(to)
        }
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<f64, D::Error> {
        match Shown::deserialize(from)? {
            Shown::Number(value) => Ok(value),
            Shown::Text(text) if text == "OL" => Ok(f64::INFINITY),
            Shown::Text(text) => Err(D::Error::custom(format!("{text:?} is no reading"))),
        }
    }
}

/// What kind of thing happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A line went on or off.
    Switched,
    /// An input said something new, or a zone is late, does not follow, does not release.
    Sensed,
    /// A zone was held or released.
    Held,
    /// Somebody took readings with a meter.
    Measured,
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
    /// A reading at a test point; those before it are kept as well.
    Reading(String, Taken),
    /// A time that was surely right; an earlier one than the last does not take its place.
    Newest(DateTime<Utc>),
    /// The newest time that was surely right is this, and the later one on record was wrong.
    NewestIs(DateTime<Utc>),
}

/// What was kept.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Kept {
    /// All holds, ended ones among them.
    pub holds: Vec<Hold>,
    /// All zones that ever had a line.
    pub zones: Vec<ZoneRecord>,
    /// All points that were ever measured.
    pub points: Vec<PointRecord>,
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
