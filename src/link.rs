//! What one link does, with what margin, and why.
//!
//! ```text
//! link + corner ─ circuit ─► transient: pull-in, coil, ripple, drop-out
//! every case (mains × box temperature), four questions at their worst corners, builds at random
//!      ─► outcome where all is ordinary, verdict over all, delays for the plan
//!      ─► the same cases at the temperatures of a month: nights at risk, for the season
//! ```
//!
//! The simulation of [`crate::transient`] judges. The conduction angle of [`crate::circuit::rectifier`] is
//! worked out beside it: it can be followed with a pocket calculator, and says where it does not hold.
//! [`crate::chain`] has what the links of a yard do one after another.

mod beyond;
mod builds;
mod case;
mod corner;
mod finding;
mod following;
mod judge;
mod known;
mod named_case;
mod nights;
mod remedy;
mod times;
mod weakest;
mod worn;

pub(crate) use beyond::beyond;
pub use beyond::{Beyond, BeyondCase};
pub use builds::{Builds, DISTRIBUTIONS, Draw};
pub use case::{BoxTemperature, Case, LinkCase, Lit, MainsLevel, Parts};
pub(crate) use case::{mains_factor, work_out};
pub use corner::circuit;
pub use corner::{Corner, Lamps};
pub(crate) use corner::{load_va, off_circuit, pair_ohm, tap};
pub use finding::{Finding, Trouble};
pub use following::{Following, FollowingByMonth};
pub use judge::{Aspect, FeedLevel, Judgement, Margin, judgement};
pub(crate) use judge::{BUZZES, held, held_by, judgement_altered};
use known::judge_link_on;
pub use known::{
    CoilShort, HOTTEST_BOX_C, LinkJudgement, TemperatureLimit, TemperatureLimits, alike, judge_link,
};
pub(crate) use known::{coil_short, coil_shorted, greatest_peak_v};
pub use named_case::{CaseRun, CaseWord, thresholds};
pub use nights::{MonthRisk, Risk, risk_of_month};
pub use remedy::{Change, Remedy, overloaded, remedies};
pub use times::{Band, Ordinary, Times};
pub use weakest::Weakest;

use std::fmt;

use crate::parallel;
use crate::site::{Link, Site};
use crate::transient::CannotConclude;

/// A link that the simulation cannot judge.
#[derive(Debug, Clone, PartialEq)]
pub struct Undecided {
    pub link: String,
    pub case: Case,
    pub why: CannotConclude,
}

impl Undecided {
    fn new(site: &Site, link: &Link, case: Case, why: CannotConclude) -> Self {
        Self {
            link: site.link_name(link),
            case,
            why,
        }
    }
}

impl fmt::Display for Undecided {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "link {}: no answer at {} mains, box {:.0} °C: {}",
            self.link,
            self.case.mains.name(),
            self.case.box_c,
            self.why
        )
    }
}

impl std::error::Error for Undecided {}

/// What the slave does when its master switches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// It goes on and off with its master.
    Follows,
    /// Its relay does not pull in.
    StaysDark,
    /// Its relay pulls in and does not let go.
    StaysLit,
    /// Its relay pulls in and lets go again and again.
    Chatters,
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Follows => "follows",
            Self::StaysDark => "stays dark",
            Self::StaysLit => "stays lit",
            Self::Chatters => "chatters",
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
    /// The name that the JSON uses.
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

/// Judges every link, in the order of [`Site::links`], one after the other.
///
/// # Errors
/// If a simulation cannot conclude.
pub fn judge(site: &Site, draw: Draw) -> Result<Vec<LinkJudgement>, Undecided> {
    judge_on(site, draw, 1)
}

/// Judges every link, in the order of [`Site::links`], on so many threads; of links that are alike, only the
/// first.
///
/// # Errors
/// If a simulation cannot conclude.
pub fn judge_on(site: &Site, draw: Draw, threads: usize) -> Result<Vec<LinkJudgement>, Undecided> {
    let first = first_alike(site);
    let own: Vec<usize> = (0..first.len()).filter(|at| first[*at] == *at).collect();
    // With fewer links than threads, the threads share the builds of a link.
    let each = threads.div_ceil(own.len().max(1));
    let judged = parallel::in_order(own.len(), threads, |n| {
        judge_link_on(site, &site.links[own[n]], draw, each)
    });
    let judged: Vec<LinkJudgement> = judged.into_iter().collect::<Result<_, _>>()?;
    let of = |at: &usize| own.binary_search(at).expect("the first of its kind");
    Ok(first.iter().map(|at| judged[of(at)].clone()).collect())
}

/// For every link, the index of the first link that is built the same way on the same master: as a rule its
/// own.
pub fn first_alike(site: &Site) -> Vec<usize> {
    let links = &site.links;
    let first = |at: usize| {
        let mut before = links[..at].iter();
        let found = before.position(|other| alike(site, other, &links[at]));
        found.unwrap_or(at)
    };
    (0..links.len()).map(first).collect()
}

/// What every slave does under ordinary conditions, for the plan, in the order of [`Site::links`]: on the
/// typical evening of each month if the site file has temperatures by month, else of the year.
///
/// Only the ordinary case of each link is worked out: a plan does not need the others.
///
/// # Errors
/// If a simulation cannot conclude.
pub fn following(site: &Site) -> Result<Vec<FollowingByMonth>, Undecided> {
    site.links
        .iter()
        .map(|link| known::following(site, link))
        .collect()
}
