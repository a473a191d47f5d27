//! The store in SQLite: opened whatever its state, written in transactions, begun again where it is damaged.

use std::fs;
use std::path::{Path, PathBuf};

use rusqlite::Connection;
use rusqlite::config::DbConfig;

use super::refusal::Refusal;
use super::{
    Durability, Entry, Event, Filter, Kept, Store, Trouble, offline, quarantine, rows, schema,
};

/// Name of the file in its folder.
pub const FILE: &str = "pilotwire.db";

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
pub(super) const READINGS_AT_ONCE: u64 = 64;

/// The store.
pub struct Database {
    pub(super) db: Connection,
    /// Where it is; none while it is in memory.
    folder: Option<PathBuf>,
    durability: Durability,
    /// What was kept, as the tables have it: a store that has to begin anew begins with this.
    kept: Kept,
    /// Events in the table.
    pub(super) events: u64,
    /// Most events in the table.
    pub(super) most_events: u64,
    /// Readings in the table.
    pub(super) readings: u64,
    /// Most readings in the table.
    pub(super) most_readings: u64,
}

/// The history of a store whose service does not run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Read {
    /// As [`Store::history`] gives them.
    pub events: Vec<Event>,
    /// What of it is lost.
    pub trouble: Option<Trouble>,
}

impl Database {
    /// Opens or makes the store in a folder; makes the folder too. Never fails: what is damaged is put
    /// aside, and where nothing can be written the store is in memory.
    pub fn open(folder: &Path, durability: Durability) -> (Self, Option<Trouble>) {
        if let Err(error) = fs::create_dir_all(folder) {
            let why = format!("cannot make the folder {}: {error}", folder.display());
            return (Self::in_memory(&Kept::default()), Some(only_memory(&why)));
        }
        // Read before SQLite writes over it.
        let broken = offline::broken_log(folder).ok().flatten();
        match Self::on_disk(folder, durability) {
            Ok(store) => (store, broken.map(|log| log_left_out(folder, Some(&log)))),
            Err(Refusal::Damaged(why)) => Self::anew(folder, durability, &Kept::default(), &why),
            Err(Refusal::Newer(why)) => {
                let why = format!("{}: {why}", folder.join(FILE).display());
                (Self::in_memory(&Kept::default()), Some(only_memory(&why)))
            }
            // What was kept still holds, even where nothing more can be written.
            Err(Refusal::Unusable(why)) => {
                let kept = offline::open(folder).and_then(|copied| rows::load(&copied.db));
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

    /// The history in a folder whose service is not running; makes and changes nothing there.
    ///
    /// Not for a process that has the same store open: closing the file gives its lock away (POSIX).
    pub fn read(folder: &Path, filter: &Filter) -> Result<Read, Trouble> {
        let read = offline::open(folder).and_then(|copied| {
            Ok(Read {
                events: rows::history(&copied.db, filter)?,
                trouble: copied.log_is_broken.then(|| log_left_out(folder, None)),
            })
        });
        read.map_err(|refusal| Trouble(format!("{}: {refusal}", folder.join(FILE).display())))
    }

    /// Ends without tidying up: the log stays beside the file, as a program that was killed leaves it.
    pub fn killed(self) {
        // Without it, closing only tidies up more than a killed program would.
        let _ = self.leave_log();
    }

    /// Puts the damaged file aside and begins an empty one with `kept`.
    fn anew(
        folder: &Path,
        durability: Durability,
        kept: &Kept,
        why: &str,
    ) -> (Self, Option<Trouble>) {
        let file = folder.join(FILE);
        let begun = match quarantine::put_aside(folder) {
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
        };
        store
            .write(&rows::entries(kept))
            .expect("memory takes what was kept before");
        store
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
        let (store, trouble) = Self::anew(&folder, self.durability, &kept, why);
        *self = store;
        trouble.unwrap_or_else(|| self.not_kept(why))
    }

    fn leave_log(&self) -> Result<(), Refusal> {
        self.db
            .set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
        Ok(())
    }
}

impl Store for Database {
    fn is_in_memory(&self) -> bool {
        self.folder.is_none()
    }

    fn load(&self) -> Kept {
        self.kept.clone()
    }

    /// Where the file turns out damaged it is put aside and a new one begun, which has the holds, zones,
    /// newest time, and first and newest readings of the old one, but not its events, and not these.
    fn keep(&mut self, entries: &[Entry]) -> Result<(), Trouble> {
        if entries.is_empty() {
            return Ok(());
        }
        match self.write(entries) {
            Ok(()) => Ok(()),
            Err(Refusal::Damaged(why)) => Err(self.begin_anew(&why)),
            Err(refusal) => Err(self.not_kept(&refusal.to_string())),
        }
    }

    fn history(&self, filter: &Filter) -> Result<Vec<Event>, Trouble> {
        rows::history(&self.db, filter)
            .map_err(|refusal| Trouble(format!("the history cannot be read: {refusal}")))
    }
}

/// The log beside the store is damaged where it begins; `kept` is what to keep of it.
fn log_left_out(folder: &Path, kept: Option<&[u8]>) -> Trouble {
    let log = folder.join(format!("{FILE}-wal"));
    let what = format!(
        "{} is damaged where it begins, so nothing in it counts: what was written last is missing",
        log.display()
    );
    Trouble(
        match kept.map(|bytes| quarantine::keep_log(folder, bytes)) {
            None => what,
            Some(Ok(at)) => format!("{what}; it is kept as {}", at.display()),
            Some(Err(error)) => format!("{what}; it cannot be kept: {error}"),
        },
    )
}

fn only_memory(why: &str) -> Trouble {
    Trouble(format!(
        "{why}: what happens is kept in memory, and nothing of it survives a restart"
    ))
}
