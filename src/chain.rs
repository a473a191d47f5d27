//! What each link does, with what margin, and what that means for the yard.
//!
//! ```text
//! link ─ every case (mains × box temperature) ─ paper ─► coil, thresholds, margins
//!      ─ outcome where all is ordinary, verdict over all cases, delays for the plan
//! ```
//!
//! The method is the conduction angle of [`crate::circuit::rectifier`]: it can be followed with a
//! pocket calculator, and says where it does not hold.

mod case;
mod link;
mod remedy;
mod weakest;

pub use case::{BoxTemperature, Case, MainsLevel, PaperCase, Parts};
pub(crate) use case::{load_va, mains_factor, pair_ohm, work_out};
pub use link::{HOTTEST_BOX_C, LinkJudgement, Release, TemperatureLimits, judge_link};
pub(crate) use link::{charge_s, greatest_peak_v};
pub use remedy::Remedy;
pub(crate) use remedy::remedies;
pub use weakest::Weakest;

use std::fmt;

use crate::schedule::Following;
use crate::site::Site;

/// What the slave does when its master switches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// It goes on and off with its master.
    Follows,
    /// Its relay does not pull in.
    StaysDark,
    /// Its relay pulls in and does not let go.
    StaysLit,
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Follows => "follows",
            Self::StaysDark => "stays dark",
            Self::StaysLit => "stays lit",
        })
    }
}

/// Whether to build it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Within the limits checked.
    Go,
    /// Works, with a warning.
    Caution,
    /// Does not work, or must not be built.
    NoGo,
}

impl Verdict {
    /// As in the JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Go => "go",
            Self::Caution => "caution",
            Self::NoGo => "no-go",
        }
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Go => "GO",
            Self::Caution => "GO WITH CAUTION",
            Self::NoGo => "NO-GO",
        })
    }
}

/// Judges every link, in the order of [`Site::links`].
pub fn judge(site: &Site) -> Vec<LinkJudgement> {
    site.links
        .iter()
        .map(|link| judge_link(site, link))
        .collect()
}

/// What every slave does where all is ordinary, for the plan, in the order of [`Site::links`].
///
/// Only the ordinary case of each link is worked out: a plan does not need the others.
pub fn following(site: &Site) -> Vec<Following> {
    site.links
        .iter()
        .map(|link| link::ordinary(site, link).following(site, link))
        .collect()
}
