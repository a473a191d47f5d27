//! An instant on both clocks of a board, and how far its wall clock can be trusted.

use std::fmt;
use std::time::Duration;

use chrono::{DateTime, Utc};

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
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ClockQuality {
    /// It was set from the network, or kept by a battery.
    Good,
    /// Nothing says that it was set.
    Doubtful,
    /// It shows a time that is past already.
    Impossible,
}

impl ClockQuality {
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

/// How far a clock that shows `utc` can be trusted; it cannot be earlier than `not_before`, the
/// program's own date and the newest time in the store.
pub fn quality(evidence: Evidence, utc: DateTime<Utc>, not_before: DateTime<Utc>) -> ClockQuality {
    if utc < not_before {
        ClockQuality::Impossible
    } else if evidence.set_from_network || evidence.kept_by_battery {
        ClockQuality::Good
    } else {
        ClockQuality::Doubtful
    }
}
