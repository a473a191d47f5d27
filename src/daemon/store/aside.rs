//! Damaged files are moved out of the way, for whoever wants to see what can be saved.

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
    let mut numbers = numbers(folder)?;
    let number = numbers.last().map_or(1, |last| last.saturating_add(1));
    let name = |number: u32| format!("{FILE}.bad-{number}");
    for belonging in BELONGINGS {
        let from = folder.join(format!("{FILE}{belonging}"));
        let to = folder.join(format!("{}{belonging}", name(number)));
        match fs::rename(from, to) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            _ => {}
        }
    }
    numbers.push(number);
    for &old in &numbers[..numbers.len().saturating_sub(MOST)] {
        for belonging in BELONGINGS {
            // What cannot be removed only takes room.
            let _ = fs::remove_file(folder.join(format!("{}{belonging}", name(old))));
        }
    }
    File::open(folder)?.sync_all()?;
    Ok(folder.join(name(number)))
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
