//! What the command line asks of the service, and what it is answered: one line of JSON each.
//!
//! Forcing all zones is a request of its own. Thirty requests would be thirty writes to the card, and a
//! power cut among them would leave half the garden lit. It is one transaction: every hold or none. Other
//! holds give way to it, as they do to a single one, and the answer names them. Its JSON refuses a zone
//! beside it: a client that names one does not mean all.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::engine::status::Status;
use super::readings::{Given, Readings, ZoneReadings};
use super::store::Event;

/// Longest line either way [bytes].
pub const LONGEST_LINE: usize = 64 * 1024;

/// A request.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Request {
    /// How the yard is.
    Status,
    /// Hold a zone lit or dark.
    Force {
        /// The zone.
        zone: String,
        /// Lit, or dark.
        lit: bool,
        /// For how long, or until when; as long as the site file says if left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        until: Option<Until>,
    },
    /// Hold every zone that this board has a line for: all of them, or none.
    ForceAll {
        /// Lit, or dark.
        lit: bool,
        /// As of a single zone.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        until: Option<Until>,
    },
    /// Let a zone go back to its plan.
    Release {
        /// The zone.
        zone: String,
    },
    /// Let every zone that is held go back to its plan.
    // Not without braces: nothing else that is said beside it is overlooked then.
    ReleaseAll {},
    /// Take the clock as it is for right.
    TrustClock,
    /// Read the site file anew.
    Reload,
    /// What happened.
    History(Filter),
    /// What meters should show, and what they showed.
    Readings,
    /// What a meter showed at test points of a zone: all of it is taken, or none.
    Measured {
        /// The zone.
        zone: String,
        /// By the names of its points: `TP3 DC`.
        readings: BTreeMap<String, Given>,
    },
}

impl Request {
    /// Whether the yard, or what is known of it, may be another after it.
    pub fn changes(&self) -> bool {
        !matches!(self, Self::Status | Self::History(_) | Self::Readings)
    }
}

/// How long a zone is held.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Until {
    /// So many seconds.
    For(u32),
    /// Until the clocks of the yard next show `HH:MM`.
    Clock(String),
    /// Until its plan next switches it.
    Next,
}

/// Which part of the history is asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Filter {
    /// Of this zone alone.
    pub zone: Option<String>,
    /// From this instant on, in RFC 3339.
    pub from: Option<chrono::DateTime<chrono::Utc>>,
    /// Before this instant.
    pub to: Option<chrono::DateTime<chrono::Utc>>,
    /// At most so many of the newest.
    pub most: Option<u32>,
}

/// An answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reply {
    /// How the yard is.
    Status(Box<Status>),
    /// It is done.
    Done(Done),
    /// What happened, oldest first.
    History(Vec<Event>),
    /// What meters should show, and what they showed.
    Readings(Box<Readings>),
    /// Readings were taken.
    Measured(Box<Measured>),
    /// It is not done.
    Refused(Refusal),
}

/// What was done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Done {
    /// In words.
    pub what: String,
    /// It is on the disk, and would survive a power cut.
    pub kept: bool,
    /// What else there is to know.
    pub note: Option<String>,
}

/// Readings that were taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// How they are, in words.
    pub what: String,
    /// One of them is off, or they say that something is wrong with the link.
    pub off: bool,
    /// They are on the disk, and would survive a power cut.
    pub kept: bool,
    /// What else there is to know.
    pub note: Option<String>,
    /// Their zone, and those whose readings go with its supply, judged anew.
    pub zones: Vec<ZoneReadings>,
}

/// Why something was not done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refusal {
    /// Why.
    pub why: String,
    /// What to do instead.
    pub remedy: String,
    /// What is wrong with single readings, by the names of their points.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub at: BTreeMap<String, String>,
}
