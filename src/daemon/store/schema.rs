//! The tables, how they came to be, and how the file is opened.

use std::fs;
use std::path::Path;
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};

use super::refusal::Refusal;
use super::{Durability, FILE};

/// What makes version `n` of version `n - 1`, in order; version 0 is an empty file. What has been
/// released is not changed: add to it.
const STEPS: [&str; VERSION as usize] = [
    include_str!("v1.sql"),
    include_str!("v2.sql"),
    include_str!("v3.sql"),
];

/// Version of the tables that this program reads and writes.
pub(super) const VERSION: u32 = 3;

/// How long to wait for another process that has the file [ms]; it would keep it for days.
const WAIT: Duration = Duration::from_millis(200);

/// Pages in the log before they go to the main file: a megabyte.
const LOG_PAGES: u32 = 256;

/// Opens or makes the file, checks it, and brings its tables up to date. Closing what this returns
/// leaves the log as it is.
pub(super) fn open(folder: &Path, durability: Durability) -> Result<Connection, Refusal> {
    let file = folder.join(FILE);
    refuse_lone_log(folder)?;
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
        | OpenFlags::SQLITE_OPEN_CREATE
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut db = Connection::open_with_flags(&file, flags)?;
    if db.is_readonly("main")? {
        return Err(Refusal::Unusable("it is read-only".into()));
    }
    db.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
    db.busy_timeout(WAIT)?;
    // Before the log is first used, so that it needs no shared memory.
    set(&db, "locking_mode", "EXCLUSIVE")?;
    set(&db, "temp_store", "MEMORY")?;
    set(&db, "cache_size", -256)?;
    let version = version(&db)?;
    set(&db, "journal_mode", "WAL")?;
    set(&db, "wal_autocheckpoint", LOG_PAGES)?;
    set(&db, "journal_size_limit", LOG_PAGES * 4096)?;
    let synchronous = match durability {
        Durability::Full => "FULL",
        Durability::None => "OFF",
    };
    set(&db, "synchronous", synchronous)?;
    let found: String = db.query_row("PRAGMA quick_check(1)", [], |row| row.get(0))?;
    if found != "ok" {
        return Err(Refusal::Damaged(found.replace('\n', " ")));
    }
    migrate(&mut db, version)?;
    Ok(db)
}

/// SQLite would take the empty file for a new one and remove the log.
pub(super) fn refuse_lone_log(folder: &Path) -> Result<(), Refusal> {
    let length = |name: &str| fs::metadata(folder.join(name)).map_or(0, |file| file.len());
    if length(FILE) == 0 && length(&format!("{FILE}-wal")) > 0 {
        return Err(Refusal::Damaged("it is empty, but its log is not".into()));
    }
    Ok(())
}

/// An empty store in memory.
pub(super) fn in_memory() -> Connection {
    let mut db = Connection::open_in_memory().expect("there is memory for an empty store");
    migrate(&mut db, 0).expect("the tables can be made in memory");
    db
}

/// Version of the tables in a file, if this program knows it.
pub(super) fn version(db: &Connection) -> Result<u32, Refusal> {
    let version: i64 = db.pragma_query_value(None, "user_version", |row| row.get(0))?;
    let known = u32::try_from(version)
        .map_err(|_| Refusal::Damaged(format!("its tables are of version {version}")))?;
    if known <= VERSION {
        return Ok(known);
    }
    Err(Refusal::Newer(format!(
        "a newer pilotwire has written it (tables of version {version}, this one knows {VERSION}), and it is left as it is"
    )))
}

/// Brings tables of a known version up to date.
pub(super) fn migrate(db: &mut Connection, version: u32) -> Result<(), Refusal> {
    migrate_to(db, version, VERSION)
}

/// Brings tables of one version to a later one, in one transaction.
pub(super) fn migrate_to(db: &mut Connection, from: u32, to: u32) -> Result<(), Refusal> {
    if from < to {
        let transaction = db.transaction()?;
        for step in &STEPS[from as usize..to as usize] {
            transaction.execute_batch(step)?;
        }
        set(&transaction, "user_version", to)?;
        transaction.commit()?;
    }
    Ok(())
}

fn set(db: &Connection, name: &str, value: impl rusqlite::ToSql) -> Result<(), Refusal> {
    // Some answer with what they are now, some do not.
    Ok(db.pragma_update(None, name, value)?)
}
