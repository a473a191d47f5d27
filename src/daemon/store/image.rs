//! The file as it is with its log, read without SQLite's help.
//!
//! SQLite cannot read a file that has a log without writing beside it, and where it may not write it
//! either refuses or leaves the log out. The log's format is published and fixed
//! (<https://www.sqlite.org/fileformat2.html>, section 4): a header of 32 bytes, then frames of
//! 24 bytes and one page each, under a checksum that runs over all before it. What counts is
//! everything up to the last intact frame that ends a transaction.

use std::fs::{self, File};
use std::io::{self, ErrorKind, Read};
use std::path::Path;

use rusqlite::Connection;
use rustix::process::{Flock, FlockOffsetType, FlockType, fcntl_getlk};

use super::refusal::Refusal;
use super::{FILE, schema};

const LOG_HEADER: usize = 32;
const FRAME_HEADER: usize = 24;

/// The bytes that SQLite locks, the same on every machine (`PENDING_BYTE` and what follows it).
const LOCK_BYTES: (u64, u64) = (0x4000_0000, 512);

/// Opens a copy in memory of what is in the folder.
pub(super) fn open(folder: &Path) -> Result<Connection, Refusal> {
    let mut file = File::open(folder.join(FILE)).map_err(|error| match error.kind() {
        ErrorKind::NotFound => Refusal::Unusable("there is none; has the service ever run?".into()),
        _ => error.into(),
    })?;
    if let Some(holder) = holder(&file)? {
        return Err(Refusal::Unusable(format!(
            "process {holder} has it open, and is the one to ask"
        )));
    }
    let mut image = Vec::new();
    file.read_to_end(&mut image)?;
    let log = log(folder)?;
    if let Some(frames) = Frames::of(&log) {
        frames.apply(&mut image);
    }
    if image.is_empty() {
        return Ok(schema::in_memory());
    }
    let damaged = || Refusal::Damaged("it is not a database".into());
    // Bytes 18 and 19 say that there is a log; a copy in memory has none.
    image
        .get_mut(18..20)
        .ok_or_else(damaged)?
        .copy_from_slice(&[1, 1]);
    let mut db = Connection::open_in_memory()?;
    db.deserialize_read_exact("main", image.as_slice(), image.len(), false)?;
    let version = schema::version(&db)?;
    schema::migrate(&mut db, version)?;
    Ok(db)
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

/// The log's bytes; none if there is no log.
pub(super) fn log(folder: &Path) -> io::Result<Vec<u8>> {
    match fs::read(folder.join(format!("{FILE}-wal"))) {
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(Vec::new()),
        read => read,
    }
}

/// The frames of a log that count.
pub(super) struct Frames<'a> {
    page: usize,
    /// Pages of the file after the last transaction.
    pages: usize,
    intact: &'a [u8],
    /// What tells one round of the log from the next.
    pub(super) salt: [u8; 8],
}

impl<'a> Frames<'a> {
    /// None if the log's beginning makes no sense: then it counts for nothing.
    pub(super) fn of(log: &'a [u8]) -> Option<Self> {
        let header = log.get(..LOG_HEADER)?;
        let big_endian = match number(header, 0) {
            0x377f_0682 => false,
            0x377f_0683 => true,
            _ => return None,
        };
        let page = number(header, 8) as usize;
        if !page.is_power_of_two() || !(512..=65536).contains(&page) {
            return None;
        }
        let mut sum = checksum((0, 0), &header[..24], big_endian);
        if sum != (number(header, 24), number(header, 28)) {
            return None;
        }
        let salt: [u8; 8] = header[16..24].try_into().expect("eight bytes");
        let (mut pages, mut end) = (0, 0);
        let all = &log[LOG_HEADER..];
        for (count, frame) in all.chunks_exact(FRAME_HEADER + page).enumerate() {
            sum = checksum(sum, &frame[..8], big_endian);
            sum = checksum(sum, &frame[FRAME_HEADER..], big_endian);
            if frame[8..16] != salt || sum != (number(frame, 16), number(frame, 20)) {
                break;
            }
            let after = number(frame, 4) as usize;
            if after > 0 {
                (pages, end) = (after, (count + 1) * (FRAME_HEADER + page));
            }
        }
        Some(Self {
            page,
            pages,
            intact: &all[..end],
            salt,
        })
    }

    /// Bytes of the log up to the end of the last transaction.
    pub(super) fn length(&self) -> u64 {
        (LOG_HEADER + self.intact.len()) as u64
    }

    /// Makes the file what it is after the last transaction.
    fn apply(&self, image: &mut Vec<u8>) {
        if self.intact.is_empty() {
            return;
        }
        image.resize(self.pages * self.page, 0);
        for frame in self.intact.chunks_exact(FRAME_HEADER + self.page) {
            let start = (number(frame, 0) as usize).saturating_sub(1) * self.page;
            // A later frame may have made the file shorter.
            if let Some(place) = image.get_mut(start..start + self.page) {
                place.copy_from_slice(&frame[FRAME_HEADER..]);
            }
        }
    }
}

/// Four bytes, the most significant first.
fn number(bytes: &[u8], at: usize) -> u32 {
    u32::from_be_bytes(bytes[at..at + 4].try_into().expect("four bytes"))
}

/// The log's checksum, carried on over `bytes`.
fn checksum(sum: (u32, u32), bytes: &[u8], big_endian: bool) -> (u32, u32) {
    let word = |bytes: &[u8]| {
        let bytes = bytes.try_into().expect("four bytes");
        if big_endian {
            u32::from_be_bytes(bytes)
        } else {
            u32::from_le_bytes(bytes)
        }
    };
    bytes.chunks_exact(8).fold(sum, |(first, second), pair| {
        let first = first.wrapping_add(word(&pair[..4])).wrapping_add(second);
        let second = second.wrapping_add(word(&pair[4..])).wrapping_add(first);
        (first, second)
    })
}
