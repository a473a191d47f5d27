//! The clock on the wall of one site: UTC to local time and back.
//!
//! ```text
//! gap    01:59 EST │ 03:00 EDT      02:30 is never shown: read with the offset before the
//! UTC    06:59     │ 07:00          gap, it means 07:30 UTC, which is 03:30 EDT
//!
//! fold   01:59 EDT │ 01:00 EST      01:30 is shown twice: the first time is meant,
//! UTC    05:59     │ 06:00          05:30 UTC
//! ```
//!
//! Both readings are those of RFC 5545, section 3.3.5. The rules come from the machine's own tz
//! database (the `TZif` files of RFC 9636) and never from a copy inside the program: governments
//! change them at short notice, and a package update must be enough to follow. The process's `TZ`
//! has no say either, because a site file names the zone of the site. `chrono::Local` is no help:
//! it reads `TZ`, takes a misspelt name for UTC, and swaps the two readings of a fold (chrono issue
//! #1625).
//!
//! tz-rs reads the file and says which offset is in force at an instant. The rest follows from that
//! one question: of the offsets a day before and a day after, a local time has the one that shows it.

use std::fmt;
use std::path::{Path, PathBuf};

use chrono::{DateTime, Datelike, NaiveDateTime, TimeDelta, Utc};
use tz::TimeZone;
use tz::timezone::LocalTimeType;

mod database;

pub use database::{ZoneError, ZoneInfo};

/// A bound on any offset from UTC [s]: RFC 9636, section 3.2, keeps them between -25 h and +26 h.
/// That no zone has changed its clocks twice within two of these since 1950 is what the test of every
/// transition shows.
const MAX_OFFSET_S: i64 = 26 * 3600;

/// How far apart the clocks are looked at for a change [s]. No zone has undone one within this time since
/// 1950, which the test of every transition shows; within a week one has.
const STEP_S: i64 = 24 * 3600;

/// The time zone of a site: every offset from UTC that its clocks had or will have, as far as the
/// database knows.
///
/// Two zones are equal if name, file and rules are, so a reopened zone tells whether the database
/// has changed them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SiteZone {
    name: String,
    path: PathBuf,
    rules: TimeZone,
}

/// What the clocks of a zone show at some instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LocalOffset {
    /// Local time minus UTC, in seconds; positive east of Greenwich.
    pub utc_offset_s: i32,
    /// What the database calls it: `CEST`, `EST`, or just `-03`.
    pub abbreviation: Abbreviation,
    /// Whether the database calls it daylight saving time. A label, not a direction: Dublin has it
    /// in winter.
    pub is_dst: bool,
}

/// A time zone abbreviation such as `CEST` or `-03`; ASCII, at most seven characters.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Abbreviation {
    bytes: [u8; 7],
    len: u8,
}

/// How often the clocks of a zone show a given local time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Occurrence {
    /// Once, as on any ordinary night.
    Unique,
    /// Never: the clocks skip it. It was read with the offset in force before the gap.
    Gap,
    /// Twice: the clocks repeat it. The first time was taken.
    Fold,
}

/// The instant that a local time means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Resolved {
    /// The instant.
    pub utc: DateTime<Utc>,
    /// Whether it is the only instant with this local time.
    pub how: Occurrence,
}

/// An instant at which a zone changes its offset, or only its abbreviation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClockChange {
    /// The first instant with the new offset.
    pub at: DateTime<Utc>,
    /// In force up to this instant.
    pub before: LocalOffset,
    /// In force from this instant.
    pub after: LocalOffset,
}

impl ClockChange {
    /// How far the clocks are moved, in seconds: positive if forward (a gap), negative if back (a
    /// fold), 0 if only renamed.
    pub fn shift_s(&self) -> i32 {
        self.after.utc_offset_s - self.before.utc_offset_s
    }
}

impl SiteZone {
    /// Reads the bytes of a `TZif` file; the error says what is wrong with them.
    fn from_tzif(name: &str, path: PathBuf, bytes: &[u8]) -> Result<Self, String> {
        let rules = TimeZone::from_tz_data(bytes).map_err(|e| e.to_string())?;
        let file = rules.as_ref();
        if !file.leap_seconds().is_empty() {
            return Err("it counts leap seconds, which the clock of a computer does not".into());
        }
        if let (None, Some(last)) = (file.extra_rule(), file.transitions().last()) {
            // Carrying on with the last offset would be a guess, and a plausible one.
            let last = DateTime::from_timestamp(last.unix_leap_time(), 0);
            let year = last.map_or(i32::MAX, |last| last.year());
            return Err(format!(
                "it does not say what clocks do after the year {year}"
            ));
        }
        Ok(Self {
            name: name.into(),
            path,
            rules,
        })
    }

    /// The name in the tz database, such as `Europe/Berlin`.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The file that the rules were read from; when it changes, open the zone again.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The offset from UTC in force at an instant.
    pub fn offset_at(&self, utc: DateTime<Utc>) -> LocalOffset {
        self.shown_at(utc.timestamp()).into()
    }

    /// What the clocks of the zone show at an instant.
    pub fn to_local(&self, utc: DateTime<Utc>) -> NaiveDateTime {
        let offset_s = self.shown_at(utc.timestamp()).ut_offset();
        utc.naive_utc() + TimeDelta::seconds(offset_s.into())
    }

    /// The instant that a local time means (RFC 5545, section 3.3.5): in a fold the first one; in a
    /// gap the one that the offset in force before the gap gives, which is after the gap.
    pub fn resolve(&self, local: NaiveDateTime) -> Resolved {
        let wall = local.and_utc().timestamp();
        let offset_at = |unix| self.shown_at(unix).ut_offset();
        let (before, after) = (
            offset_at(wall - MAX_OFFSET_S),
            offset_at(wall + MAX_OFFSET_S),
        );
        let shown_with = |offset| offset_at(wall - i64::from(offset)) == offset;
        let (offset, how) = if before == after {
            (before, Occurrence::Unique)
        } else {
            match (shown_with(before), shown_with(after)) {
                (true, true) => (before, Occurrence::Fold),
                (true, false) => (before, Occurrence::Unique),
                (false, true) => (after, Occurrence::Unique),
                (false, false) => (before, Occurrence::Gap),
            }
        };
        Resolved {
            utc: local.and_utc() - TimeDelta::seconds(offset.into()),
            how,
        }
    }

    /// The changes of the clocks in `from <= at < to`, in order.
    pub fn transitions_between(&self, from: DateTime<Utc>, to: DateTime<Utc>) -> Vec<ClockChange> {
        // Clocks change at whole seconds: the last one before either end.
        let [mut unix, end] = [from, to].map(|end| (end - TimeDelta::nanoseconds(1)).timestamp());
        let mut before = self.shown_at(unix);
        let mut changes = Vec::new();
        while unix < end {
            let next = end.min(unix + STEP_S);
            if self.shown_at(next) == before {
                unix = next;
                continue;
            }
            let mut changed = next;
            while changed - unix > 1 {
                let middle = i64::midpoint(unix, changed);
                if self.shown_at(middle) == before {
                    unix = middle;
                } else {
                    changed = middle;
                }
            }
            let after = self.shown_at(changed);
            changes.push(ClockChange {
                at: DateTime::from_timestamp(changed, 0).expect("it lies between two instants"),
                before: before.into(),
                after: after.into(),
            });
            (unix, before) = (changed, after);
        }
        changes
    }

    /// What the database says of an instant (Unix seconds).
    fn shown_at(&self, unix: i64) -> &LocalTimeType {
        let found = self.rules.find_local_time_type(unix);
        found.expect("the rules reach as far as the calendar")
    }
}

impl From<&LocalTimeType> for LocalOffset {
    fn from(shown: &LocalTimeType) -> Self {
        Self {
            utc_offset_s: shown.ut_offset(),
            abbreviation: Abbreviation::new(shown.time_zone_designation()),
            is_dst: shown.is_dst(),
        }
    }
}

impl Abbreviation {
    /// tz-rs refuses a file with a longer abbreviation, so nothing is cut off here.
    fn new(text: &str) -> Self {
        let mut bytes = [0; 7];
        let mut len = 0;
        for (place, byte) in bytes.iter_mut().zip(text.bytes()) {
            *place = byte;
            len += 1;
        }
        Self { bytes, len }
    }

    /// Its text.
    pub fn as_str(&self) -> &str {
        str::from_utf8(&self.bytes[..usize::from(self.len)])
            .expect("the database's abbreviations are ASCII")
    }
}

impl fmt::Display for Abbreviation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Unlike `write_str`, this minds a width.
        f.pad(self.as_str())
    }
}

impl fmt::Debug for Abbreviation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(self.as_str(), f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_abbreviation_minds_the_width_it_is_printed_in() {
        assert_eq!(
            format!(
                "{:5}|{:?}",
                Abbreviation::new("-03"),
                Abbreviation::new("CEST")
            ),
            "-03  |\"CEST\""
        );
    }
}
