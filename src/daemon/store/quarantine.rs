//! Damaged files are moved out of the way and kept, so that what can be saved of them can be.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use super::FILE;

/// So many are kept; they may be as large as the store.
const MOST: usize = 3;

/// What stands behind the name of a file that belongs to the store. The log is moved first: if the
/// power fails in between, no log meets a file that is not its own.
const BELONGINGS: [&str; 4] = ["-wal", "-shm", "-journal", ""];

/// Renames the store to `pilotwire.db.bad-N`, and what belongs to it; N counts on, because a clock may
/// be wrong. Returns the new name.
pub(super) fn put_aside(folder: &Path) -> io::Result<PathBuf> {
    beside(folder, |bad| {
        for belonging in BELONGINGS {
            let from = folder.join(format!("{FILE}{belonging}"));
            match fs::rename(from, folder.join(format!("{bad}{belonging}"))) {
                Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
                _ => {}
            }
        }
        Ok(folder.join(bad))
    })
}

/// Keeps a log that counts for nothing beside the store as `pilotwire.db.bad-N-wal`. Returns that name.
pub(super) fn keep_log(folder: &Path, log: &[u8]) -> io::Result<PathBuf> {
    beside(folder, |bad| {
        let to = folder.join(format!("{bad}-wal"));
        fs::write(&to, log).map(|()| to)
    })
}

/// Has something put under the next name, and removes the oldest.
fn beside(folder: &Path, put: impl FnOnce(&str) -> io::Result<PathBuf>) -> io::Result<PathBuf> {
    let mut numbers = numbers(folder)?;
    let number = numbers.last().map_or(1, |last| last.saturating_add(1));
    let name = |number: u32| format!("{FILE}.bad-{number}");
    let at = put(&name(number))?;
    numbers.push(number);
    for &old in &numbers[..numbers.len().saturating_sub(MOST)] {
        for belonging in BELONGINGS {
            // What cannot be removed only takes room.
            let _ = fs::remove_file(folder.join(format!("{}{belonging}", name(old))));
        }
    }
    File::open(folder)?.sync_all()?;
    Ok(at)
}

/// The numbers in use, in order.
fn numbers(folder: &Path) -> io::Result<Vec<u32>> {
    let mut numbers = Vec::new();
    for entry in fs::read_dir(folder)? {
        let name = entry?.file_name();
        let number: Option<u32> = name
            .to_str()
            .and_then(|name| name.strip_prefix(FILE)?.strip_prefix(".bad-"))
            .and_then(|rest| rest.split('-').next()?.parse().ok());
        numbers.extend(number);
    }
    numbers.sort_unstable();
    numbers.dedup();
    Ok(numbers)
}
