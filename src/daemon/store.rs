//! What must survive a power cut.
//!
//! ```text
//! folder/pilotwire.db      SQLite, with pilotwire.db-wal beside it while the service runs
//! folder/pilotwire.db.bad-N    what was damaged, the last three times
//! ```
//!
//! Nothing here stops the lights: a store that cannot be used is put aside, or stays in memory, and
//! says so. The file belongs to one process while that runs (SQLite's exclusive mode, which also does
//! without a shared-memory file); whoever wants its history then asks that process. After a crash
//! [`Store::read`] reads the file and its write-ahead log without touching either.
//!
//! SQLite orders and syncs; what that protects from is a lost, cut or torn write. It has no checksums
//! over its main file, so a byte that a worn card turns over inside a text is not noticed.

mod aside;
mod image;
mod refusal;
mod rows;
mod schema;
mod tear;
#[cfg(test)]
mod tests;

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use rusqlite::Connection;
use rusqlite::config::DbConfig;

use self::refusal::Refusal;
use super::control::Filter;

pub use self::tear::tear;

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

/// What becomes of a write, for rehearsals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// It is made.
    Made,
    /// The program died before it: nothing happens, and nobody is left to notice.
    Dead,
    /// The disk is full.
    Full,
    /// The power fails while it is made: of its sectors some reach the disk, as this seed decides.
    Torn(u64),
}

/// Name of the file in its folder.
const FILE: &str = "pilotwire.db";

/// Most events on a disk: thirteen years of forty a day, in about 20 MB. Bounded by number and not by
/// age, because a clock that was wrong once would make all events look old.
const MOST_EVENTS: u64 = 200_000;

/// Most events in memory: a few hundred kilobytes.
const MOST_EVENTS_IN_MEMORY: u64 = 2_000;

/// The oldest events go so many at a time: eight pages now and then, rather than one with every event.
const EVENTS_AT_ONCE: u64 = 256;

/// Most readings on a disk: fourteen points measured every week for 27 years, in about 2 MB. Beyond that the
/// oldest go, but for the first and the newest of each point: what drifts is seen between those.
const MOST_READINGS: u64 = 20_000;

/// Most readings in memory.
const MOST_READINGS_IN_MEMORY: u64 = 1_000;

/// The oldest readings go so many at a time.
const READINGS_AT_ONCE: u64 = 64;

/// The store.
pub struct Store {
    db: Connection,
    /// Where it is; none while it is in memory.
    folder: Option<PathBuf>,
    durability: Durability,
    /// What was kept, as the tables have it: a store that has to begin anew begins with this.
    kept: Kept,
    /// Events in the table.
    events: u64,
    /// Most events in the table.
    most_events: u64,
    /// Readings in the table.
    readings: u64,
    /// Most readings in the table.
    most_readings: u64,
    gate: Option<Box<dyn FnMut() -> Fate + Send>>,
    dead: bool,
}

impl Store {
    /// Opens or makes the store in a folder; makes the folder too. Never fails: what is damaged is put
    /// aside, and where nothing can be written the store is in memory.
    pub fn open(folder: &Path, durability: Durability) -> (Self, Option<Trouble>) {
        if let Err(error) = fs::create_dir_all(folder) {
            let why = format!("cannot make the folder {}: {error}", folder.display());
            return (Self::in_memory(&Kept::default()), Some(only_memory(&why)));
        }
        match Self::on_disk(folder, durability) {
            Ok(store) => (store, None),
            Err(Refusal::Damaged(why)) => Self::anew(folder, durability, &Kept::default(), &why),
            Err(Refusal::Newer(why)) => {
                let why = format!("{}: {why}", folder.join(FILE).display());
                (Self::in_memory(&Kept::default()), Some(only_memory(&why)))
            }
            // What was kept still holds, even where nothing more can be written.
            Err(Refusal::Unusable(why)) => {
                let kept = image::open(folder).and_then(|db| rows::load(&db));
                let store = Self::in_memory(&kept.unwrap_or_default());
                let why = format!("cannot write {}: {why}", folder.join(FILE).display());
                (store, Some(only_memory(&why)))
            }
        }
    }

    /// One that keeps nothing over a restart.
    pub fn without_file() -> Self {
        Self::in_memory(&Kept::default())
    }

    /// Puts the damaged file aside and begins an empty one with `kept`.
    fn anew(
        folder: &Path,
        durability: Durability,
        kept: &Kept,
        why: &str,
    ) -> (Self, Option<Trouble>) {
        let file = folder.join(FILE);
        let begun = match aside::put_aside(folder) {
            Ok(at) => Self::on_disk(folder, durability)
                .and_then(|mut store| store.write(&rows::entries(kept)).map(|()| store))
                .map(|store| (store, at))
                .map_err(|refusal| refusal.to_string()),
            Err(error) => Err(format!("it cannot be put aside: {error}")),
        };
        match begun {
            Ok((store, at)) => {
                let said = format!(
                    "{} is damaged ({why}): it is now {}, and an empty one was begun",
                    file.display(),
                    at.display()
                );
                (store, Some(Trouble(said)))
            }
            Err(then) => {
                let why = format!("{} is damaged ({why}), and {then}", file.display());
                (Self::in_memory(kept), Some(only_memory(&why)))
            }
        }
    }

    fn on_disk(folder: &Path, durability: Durability) -> Result<Self, Refusal> {
        let db = schema::open(folder, durability)?;
        let kept = rows::load(&db)?;
        let (events, readings) = rows::count(&db)?;
        // Until here a file that turns out to be of no use was left as it is.
        db.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, false)?;
        Ok(Self {
            db,
            folder: Some(folder.to_owned()),
            durability,
            kept,
            events,
            most_events: MOST_EVENTS,
            readings,
            most_readings: MOST_READINGS,
            gate: None,
            dead: false,
        })
    }

    fn in_memory(kept: &Kept) -> Self {
        let mut store = Self {
            db: schema::in_memory(),
            folder: None,
            durability: Durability::None,
            kept: Kept::default(),
            events: 0,
            most_events: MOST_EVENTS_IN_MEMORY,
            readings: 0,
            most_readings: MOST_READINGS_IN_MEMORY,
            gate: None,
            dead: false,
        };
        store
            .write(&rows::entries(kept))
            .expect("memory takes what was kept before");
        store
    }

    /// Nothing that is kept survives a restart.
    pub fn is_in_memory(&self) -> bool {
        self.folder.is_none()
    }

    /// What was kept; zones and points in the order of their names.
    pub fn load(&mut self) -> Kept {
        self.kept.clone()
    }

    /// Keeps all of these, or none. After an error the next try may succeed. Where the file turned out
    /// damaged it was put aside and a new one begun, which has the holds, zones, newest time, and first and
    /// newest readings of the old one, but not its events, and not these.
    pub fn keep(&mut self, entries: &[Entry]) -> Result<(), Trouble> {
        if entries.is_empty() || self.dead {
            return Ok(());
        }
        match self.gate.as_mut().map_or(Fate::Made, |gate| gate()) {
            Fate::Made => {}
            Fate::Dead => {
                self.dead = true;
                // A program that died leaves its log as it was.
                let _ = self.leave_log();
                return Ok(());
            }
            Fate::Full => return Err(self.not_kept("database or disk is full")),
            Fate::Torn(seed) => {
                let mut gone = Self::in_memory(&Kept::default());
                gone.dead = true;
                // What cannot be written leaves nothing to tear.
                let _ = std::mem::replace(self, gone).lose_power_in(entries, seed);
                return Ok(());
            }
        }
        match self.write(entries) {
            Ok(()) => Ok(()),
            Err(Refusal::Damaged(why)) => Err(self.begin_anew(&why)),
            Err(refusal) => Err(self.not_kept(&refusal.to_string())),
        }
    }

    /// One transaction.
    fn write(&mut self, entries: &[Entry]) -> Result<(), Refusal> {
        let transaction = self.db.transaction()?;
        let (mut events, mut readings) = (self.events, self.readings);
        for entry in entries {
            rows::put(&transaction, entry)?;
            events += u64::from(matches!(entry, Entry::Event(_)));
            readings += u64::from(matches!(entry, Entry::Reading(..)));
        }
        if events >= self.most_events + EVENTS_AT_ONCE {
            events -= rows::forget_oldest(&transaction, EVENTS_AT_ONCE)?;
        }
        if readings >= self.most_readings + READINGS_AT_ONCE {
            let beyond = readings - self.most_readings;
            readings -= rows::forget_oldest_readings(&transaction, beyond)?;
        }
        transaction.commit()?;
        (self.events, self.readings) = (events, readings);
        for entry in entries {
            rows::apply(&mut self.kept, entry);
        }
        Ok(())
    }

    fn not_kept(&self, why: &str) -> Trouble {
        let file = self.folder.as_deref().map(|folder| folder.join(FILE));
        let at = file.map_or_else(
            || "the store in memory".into(),
            |file| file.display().to_string(),
        );
        Trouble(format!("{at} does not take what happened: {why}"))
    }

    fn begin_anew(&mut self, why: &str) -> Trouble {
        let Some(folder) = self.folder.clone() else {
            return self.not_kept(why);
        };
        let _ = self.leave_log();
        // The file is closed before it is moved.
        self.db = schema::in_memory();
        let kept = std::mem::take(&mut self.kept);
        let (mut store, trouble) = Self::anew(&folder, self.durability, &kept, why);
        store.gate = self.gate.take();
        *self = store;
        trouble.unwrap_or_else(|| self.not_kept(why))
    }

    /// What happened, in the order in which it was kept: the wall clock may have stepped in between.
    /// Of that the newest, if the filter has a limit.
    pub fn history(&mut self, filter: &Filter) -> Result<Vec<Event>, Trouble> {
        rows::history(&self.db, filter)
            .map_err(|refusal| Trouble(format!("the history cannot be read: {refusal}")))
    }

    /// The history in a folder whose service is not running; makes and changes nothing.
    ///
    /// Not for a process that has the same store open: closing the file gives its lock away (POSIX).
    pub fn read(folder: &Path, filter: &Filter) -> Result<Vec<Event>, Trouble> {
        let file = folder.join(FILE);
        image::open(folder)
            .and_then(|db| rows::history(&db, filter))
            .map_err(|refusal| Trouble(format!("{}: {refusal}", file.display())))
    }

    /// Has this asked before each write.
    pub fn set_gate(&mut self, gate: Box<dyn FnMut() -> Fate + Send>) {
        self.gate = Some(gate);
    }

    fn leave_log(&self) -> Result<(), Refusal> {
        self.db
            .set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
        Ok(())
    }
}

fn only_memory(why: &str) -> Trouble {
    Trouble(format!(
        "{why}: what happens is kept in memory, and nothing of it survives a restart"
    ))
}
