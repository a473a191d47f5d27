//! A power cut in the middle of a write, for rehearsals and tests.

use std::fs::OpenOptions;
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;
use std::{fs, io};

use super::{Entry, FILE, Store, image};

/// A disk writes whole sectors, or whatever was in its head when the power went [bytes].
const SECTOR: usize = 512;

impl Store {
    /// Bytes of the log up to the end of the last transaction in it: what a power cut leaves alone.
    pub fn wal_length(&self) -> io::Result<u64> {
        let Some(folder) = &self.folder else {
            return Ok(0);
        };
        let log = image::log(folder)?;
        Ok(image::Frames::of(&log).map_or(0, |frames| frames.length()))
    }

    /// Ends as a program that was killed: the log stays as it is.
    pub fn killed(self) {
        // Without it, closing only tidies up more than a killed program would.
        let _ = self.leave_log();
    }

    /// The power fails while these are written, before anybody was told that they are kept: some of
    /// the sectors reach the disk. Afterwards all are kept, or none.
    pub fn lose_power_in(mut self, entries: &[Entry], seed: u64) -> io::Result<()> {
        let Some(folder) = self.folder.clone() else {
            return Ok(());
        };
        // The main file gets its pages only after the log is safe, and so none of these.
        let held_back = self.db.pragma_update(None, "wal_autocheckpoint", 0);
        held_back.map_err(io::Error::other)?;
        let before = image::log(&folder)?;
        // A write that fails leaves nothing that the cut could tear.
        let _ = self.write(entries);
        self.killed();
        let after = image::log(&folder)?;
        let kept = match (image::Frames::of(&before), image::Frames::of(&after)) {
            (Some(before), Some(after)) if before.salt == after.salt => before.length(),
            // The log began anew: all that it had before is in the main file.
            _ => 0,
        };
        tear(&folder, kept, seed)
    }
}

/// Damages the log of a store that nobody has open, beyond its first `kept` bytes: cuts it, or leaves
/// some of the sectors out, or puts noise in their place, as `seed` decides.
pub fn tear(folder: &Path, kept: u64, seed: u64) -> io::Result<()> {
    let path = folder.join(format!("{FILE}-wal"));
    let mut bytes = fs::read(&path)?;
    let mut noise = Noise(seed);
    let kept = usize::try_from(kept).map_or(bytes.len(), |kept| kept.min(bytes.len()));
    let beyond = &mut bytes[kept..];
    let end = match noise.next() % 4 {
        // All of it arrived.
        0 => beyond.len(),
        _ => usize::try_from(noise.next()).unwrap_or(0) % (beyond.len() + 1),
    };
    let arrived = &mut beyond[..end];
    let whole = noise.next().is_multiple_of(2);
    for sector in arrived.chunks_mut(SECTOR) {
        match noise.next() % 8 {
            0 if !whole => sector.fill(0),
            1 if !whole => sector.fill_with(|| noise.next().to_le_bytes()[0]),
            _ => {}
        }
    }
    let mut file = OpenOptions::new().write(true).open(path)?;
    file.seek(SeekFrom::Start(kept as u64))?;
    file.write_all(arrived)?;
    file.set_len((kept + end) as u64)
}

/// Steele, Lea and Flood's SplitMix64: small, and the same everywhere.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
}
