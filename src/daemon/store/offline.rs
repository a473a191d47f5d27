//! What is in the folder of a store while its service does not run, read from a copy.
//!
//! SQLite cannot read a file that has a log without writing beside it, and where it may not write it
//! either refuses or leaves the log out. So both are copied to a folder that only this user may enter,
//! and SQLite opens the copy.

use std::fs::{self, File};
use std::io::{self, ErrorKind, Read};
use std::path::Path;

use rusqlite::{Connection, OpenFlags};
use rustix::process::{Flock, FlockOffsetType, FlockType, fcntl_getlk};
use tempfile::TempDir;

use super::refusal::Refusal;
use super::{FILE, schema};

/// The bytes that SQLite locks, the same on every machine (`PENDING_BYTE` and what follows it).
const LOCK_BYTES: (u64, u64) = (0x4000_0000, 512);

/// Bytes of a log before its first frame.
const LOG_HEADER: usize = 32;

/// An open copy.
pub(super) struct Copied {
    // Closed before its folder goes.
    pub(super) db: Connection,
    /// The log begins so that SQLite leaves it out.
    pub(super) log_is_broken: bool,
    _folder: TempDir,
}

/// Opens a copy of what is in the folder.
pub(super) fn open(folder: &Path) -> Result<Copied, Refusal> {
    let file = File::open(folder.join(FILE)).map_err(|error| match error.kind() {
        ErrorKind::NotFound => Refusal::Unusable("there is none; has the service ever run?".into()),
        _ => error.into(),
    })?;
    if let Some(holder) = holder(&file)? {
        return Err(Refusal::Unusable(format!(
            "process {holder} has it open, and is the one to ask"
        )));
    }
    schema::refuse_lone_log(folder)?;
    let to = tempfile::tempdir().map_err(|error| no_copy(&error))?;
    copy(file, &to.path().join(FILE))?;
    if let Some(log) = log(folder)? {
        copy(log, &to.path().join(format!("{FILE}-wal")))?;
    }
    // Asked before SQLite begins it again.
    let log_is_broken = broken_log(to.path())?.is_some();
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut db = Connection::open_with_flags(to.path().join(FILE), flags)?;
    let version = schema::version(&db)?;
    schema::migrate(&mut db, version)?;
    Ok(Copied {
        db,
        log_is_broken,
        _folder: to,
    })
}

/// Copies the content alone: the copy of a file that may not be written is written.
fn copy(mut from: File, to: &Path) -> Result<(), Refusal> {
    let copied = File::create_new(to).and_then(|mut to| io::copy(&mut from, &mut to));
    copied.map(drop).map_err(|error| no_copy(&error))
}

fn no_copy(error: &io::Error) -> Refusal {
    let folder = std::env::temp_dir();
    Refusal::Unusable(format!(
        "it cannot be copied to {} to be read: {error}; set TMPDIR to a folder with room",
        folder.display()
    ))
}

/// The process that has the file, if one has.
fn holder(file: &File) -> io::Result<Option<u32>> {
    let lock = Flock {
        start: LOCK_BYTES.0,
        length: LOCK_BYTES.1,
        pid: None,
        typ: FlockType::WriteLock,
        offset_type: FlockOffsetType::Set,
    };
    let held = fcntl_getlk(file, &lock)?;
    Ok(held.map(|held| {
        held.pid
            .map_or(0, |pid| pid.as_raw_nonzero().get().unsigned_abs())
    }))
}

fn log(folder: &Path) -> io::Result<Option<File>> {
    match File::open(folder.join(format!("{FILE}-wal"))) {
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
        opened => opened.map(Some),
    }
}

/// The log, if its beginning is damaged: SQLite takes it for empty then, and does not say so.
pub(super) fn broken_log(folder: &Path) -> io::Result<Option<Vec<u8>>> {
    let Some(mut log) = log(folder)? else {
        return Ok(None);
    };
    let mut header = [0; LOG_HEADER];
    match log.read_exact(&mut header) {
        // Too short to have ever held anything.
        Err(error) if error.kind() == ErrorKind::UnexpectedEof => return Ok(None),
        read => read?,
    }
    if is_log_header(&header) {
        return Ok(None);
    }
    fs::read(folder.join(format!("{FILE}-wal"))).map(Some)
}

/// Whether a log begins so (<https://www.sqlite.org/fileformat2.html>, section 4.1): the order of its bytes in
/// the lowest bit of the first word, and a checksum over six words in the last two.
fn is_log_header(header: &[u8; LOG_HEADER]) -> bool {
    let [magic, .., first, second] = words(header, u32::from_be_bytes);
    let summed = match magic {
        0x377f_0682 => words(header, u32::from_le_bytes),
        0x377f_0683 => words(header, u32::from_be_bytes),
        _ => return false,
    };
    let sum = summed[..6].chunks(2).fold((0_u32, 0_u32), |(a, b), pair| {
        let a = a.wrapping_add(pair[0]).wrapping_add(b);
        (a, b.wrapping_add(pair[1]).wrapping_add(a))
    });
    sum == (first, second)
}

fn words(header: &[u8; LOG_HEADER], word: fn([u8; 4]) -> u32) -> [u32; 8] {
    std::array::from_fn(|at| {
        let bytes = [0, 1, 2, 3].map(|byte| header[4 * at + byte]);
        word(bytes)
    })
}
