//! The disk of a rehearsal: full at times, gone with the service, or without power in the middle of a write.

use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::{fs, io};

use crate::daemon::control::Filter;
use crate::daemon::store::{Database, Durability, Entry, Event, FILE, Kept, Store, Trouble};

use super::dice::Dice;
use super::world::{World, Write};

/// A disk writes whole sectors, or whatever was in its head when the power went [bytes].
const SECTOR: usize = 512;

/// The store of the service, on that disk.
pub(super) struct SimStore {
    store: Database,
    folder: PathBuf,
    world: Rc<RefCell<World>>,
}

impl SimStore {
    pub(super) fn open(folder: &Path, world: Rc<RefCell<World>>) -> (Self, Option<Trouble>) {
        let (store, trouble) = Database::open(folder, Durability::None);
        let folder = folder.to_owned();
        (
            Self {
                store,
                folder,
                world,
            },
            trouble,
        )
    }

    pub(super) fn killed(self) {
        self.store.killed();
    }
}

impl Store for SimStore {
    fn is_in_memory(&self) -> bool {
        self.store.is_in_memory()
    }

    fn load(&self) -> Kept {
        self.store.load()
    }

    fn keep(&mut self, entries: &[Entry]) -> Result<(), Trouble> {
        if entries.is_empty() {
            return Ok(());
        }
        let write = self.world.borrow_mut().effects.write();
        match write {
            Write::Made => self.store.keep(entries),
            Write::Lost => Ok(()),
            Write::Full => Err(Trouble(format!(
                "{} does not take what happened: database or disk is full",
                self.folder.join(FILE).display()
            ))),
            Write::Torn(seed) => {
                let store = std::mem::replace(&mut self.store, Database::without_file());
                // What cannot be written leaves nothing to tear.
                let _ = lose_power_in(store, &self.folder, entries, seed);
                Ok(())
            }
        }
    }

    fn history(&self, filter: &Filter) -> Result<Vec<Event>, Trouble> {
        self.store.history(filter)
    }
}

/// The power fails while these are written, before anybody was told that they are kept: some of the sectors
/// reach the disk. Afterwards all are kept, or none.
fn lose_power_in(
    mut store: Database,
    folder: &Path,
    entries: &[Entry],
    seed: u64,
) -> io::Result<()> {
    let (file, log) = (folder.join(FILE), folder.join(format!("{FILE}-wal")));
    let before = (fs::read(&file)?, fs::read(&log).unwrap_or_default());
    let _ = store.keep(entries);
    store.killed();
    let mut after = fs::read(&log)?;
    // The file gets its pages only once the log is safe.
    if fs::read(&file)? != before.0 {
        return Ok(());
    }
    let same = after.iter().zip(&before.1);
    let kept = same.take_while(|(after, before)| after == before).count();
    let arrived = tear(&mut after, kept, seed);
    fs::write(&log, &after[..arrived])
}

/// Damages a log beyond its first `kept` bytes: leaves some of the sectors out, or puts noise in their place, as
/// `seed` decides. Gives back how many bytes arrived.
fn tear(log: &mut [u8], kept: usize, seed: u64) -> usize {
    let mut dice = Dice::new(seed, 0);
    let beyond = log.len() - kept;
    let end = match dice.of(4) {
        // All of it arrived.
        0 => beyond,
        _ => dice.of(beyond + 1),
    };
    let whole = dice.chance(0.5);
    for sector in log[kept..kept + end].chunks_mut(SECTOR) {
        match dice.of(8) {
            0 if !whole => sector.fill(0),
            1 if !whole => sector.fill_with(|| u8::try_from(dice.of(256)).unwrap_or(0)),
            _ => {}
        }
    }
    kept + end
}

#[cfg(test)]
mod tests;
