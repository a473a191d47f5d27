//! An instant on both clocks of a board, and how far its wall clock can be trusted.
//!
//! A clock is impossible if it shows less than the program's own date, or less than the newest time that was
//! surely right (by five minutes where a battery kept it, by two hours where nothing vouches for it). One
//! that the network set may fall behind that time: then that time was wrong. Only a good clock makes a time
//! sure. `trust-clock` is for boards without network whose clock was once set wrong.

use std::fmt;
use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};
use serde::{Deserialize, Serialize};

/// An instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Now {
    /// What the wall clock shows.
    pub utc: DateTime<Utc>,
    /// Since the board was started, times of suspension included. It never steps.
    pub boot: Duration,
    /// Whether the wall clock can be trusted.
    pub quality: ClockQuality,
}

/// How far the wall clock can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ClockQuality {
    /// It was set from the network, or kept by a battery.
    Good,
    /// Nothing says that it was set.
    Doubtful,
    /// It shows a time that is past already.
    Impossible,
}

impl ClockQuality {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Good, Self::Doubtful, Self::Impossible];

    /// As in the JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Doubtful => "doubtful",
            Self::Impossible => "impossible",
        }
    }
}

impl fmt::Display for ClockQuality {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// What speaks for a wall clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Evidence {
    /// The file that the network time service leaves behind exists.
    pub set_from_network: bool,
    /// The kernel has set the clock from a battery clock at boot.
    pub kept_by_battery: bool,
}

/// How far a battery clock may fall back and still be one that is corrected, not one that is wrong:
/// ten seconds a day in the cold for a month (common practice).
pub(super) const CORRECTION: TimeDelta = TimeDelta::minutes(5);

/// How far a board without a battery clock may fall back after a power cut and still be no more wrong
/// than any that was restored from the time last saved: that is done every hour at least (common practice).
const SAVED: TimeDelta = TimeDelta::hours(2);

/// How far a clock that shows `utc` can be trusted.
///
/// `released` is when the program was made: no clock can be right that shows less. `newest` is the
/// newest time that was surely right; one set from the network may fall behind it, for then that one
/// was wrong.
pub fn quality(
    evidence: Evidence,
    utc: DateTime<Utc>,
    released: DateTime<Utc>,
    newest: Option<DateTime<Utc>>,
) -> ClockQuality {
    if utc < released {
        ClockQuality::Impossible
    } else if evidence.set_from_network {
        ClockQuality::Good
    } else if evidence.kept_by_battery {
        if newest.is_some_and(|newest| utc < newest - CORRECTION) {
            ClockQuality::Impossible
        } else {
            ClockQuality::Good
        }
    } else if newest.is_some_and(|newest| utc < newest - SAVED) {
        ClockQuality::Impossible
    } else {
        ClockQuality::Doubtful
    }
}

/// When to look again, by either clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Again {
    /// When the wall clock shows this.
    pub utc: Option<DateTime<Utc>>,
    /// So long after the board was started.
    pub boot: Option<Duration>,
}

impl Again {
    /// Also when the wall clock shows this.
    pub fn at(&mut self, utc: Option<DateTime<Utc>>) {
        self.utc = sooner(self.utc, utc);
    }

    /// Also so long after the board was started.
    pub fn after(&mut self, boot: Duration) {
        self.boot = sooner(self.boot, Some(boot));
    }

    /// Also at those.
    pub fn or(&mut self, other: Self) {
        self.at(other.utc);
        self.boot = sooner(self.boot, other.boot);
    }
}

fn sooner<T: Ord>(one: Option<T>, other: Option<T>) -> Option<T> {
    match (one, other) {
        (Some(one), Some(other)) => Some(one.min(other)),
        (one, other) => one.or(other),
    }
}

#[cfg(test)]
mod tests {
    use super::ClockQuality::{Doubtful, Good, Impossible};
    use super::*;

    fn at(text: &str) -> DateTime<Utc> {
        text.parse().expect("a time")
    }

    #[test]
    fn what_speaks_for_a_clock_and_what_against_it() {
        let released = at("2026-11-01T00:00:00Z");
        let newest = Some(at("2027-03-01T12:00:00Z"));
        let network = Evidence {
            set_from_network: true,
            kept_by_battery: false,
        };
        let battery = Evidence {
            set_from_network: false,
            kept_by_battery: true,
        };
        let nothing = Evidence {
            set_from_network: false,
            kept_by_battery: false,
        };
        for (evidence, utc, newest, expected) in [
            // Without a battery clock many boards begin in 1970, or at the time last saved.
            (nothing, "1970-01-01T00:01:00Z", None, Impossible),
            (battery, "1970-01-01T00:01:00Z", None, Impossible),
            (network, "1970-01-01T00:01:00Z", None, Impossible),
            (nothing, "2027-03-01T12:00:01Z", newest, Doubtful),
            (battery, "2027-03-01T12:00:01Z", newest, Good),
            (battery, "2027-03-01T11:58:00Z", newest, Good),
            (battery, "2027-02-28T12:00:00Z", newest, Impossible),
            (nothing, "2027-02-28T12:00:00Z", newest, Impossible),
            (nothing, "2027-03-01T10:30:00Z", newest, Doubtful),
            // The network knows better than what was stored.
            (network, "2027-02-28T12:00:00Z", newest, Good),
            (nothing, "2027-02-28T12:00:00Z", None, Doubtful),
        ] {
            assert_eq!(
                quality(evidence, at(utc), released, newest),
                expected,
                "{utc}"
            );
        }
    }
}
