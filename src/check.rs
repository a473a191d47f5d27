//! The verdict on a yard: every link judged, every caution raised.

use std::fmt;

use chrono::NaiveDate;

use crate::almanac::AlmanacError;
use crate::cautions::{self, Caution};
use crate::chain::{self, Chain};
use crate::link::{self, Draw, LinkJudgement, Undecided, Verdict};
use crate::parallel;
use crate::site::Site;

/// What is to be said of a yard before anybody digs.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// Whether to build it.
    pub verdict: Verdict,
    /// Every link, in the order of [`Site::links`].
    pub links: Vec<LinkJudgement>,
    /// The links as chains: who is lit when, and what fails with what.
    pub chain: Chain,
    /// Every caution, worst first.
    pub cautions: Vec<Caution>,
}

/// Why there is no answer about a yard.
#[derive(Debug, Clone, PartialEq)]
pub enum NoAnswer {
    /// The year lies outside the almanac.
    Almanac(AlmanacError),
    /// A link cannot be judged.
    Undecided(Undecided),
}

impl From<AlmanacError> for NoAnswer {
    fn from(error: AlmanacError) -> Self {
        Self::Almanac(error)
    }
}

impl From<Undecided> for NoAnswer {
    fn from(error: Undecided) -> Self {
        Self::Undecided(error)
    }
}

impl fmt::Display for NoAnswer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Almanac(error) => error.fmt(f),
            Self::Undecided(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for NoAnswer {}

/// Checks a yard; the cautions look at the year from `from`, and `draw` says which builds of its
/// links are tried.
///
/// # Errors
/// If that year lies outside the almanac, or a simulation cannot conclude.
pub fn check(site: &Site, from: NaiveDate, draw: Draw) -> Result<Check, NoAnswer> {
    let links = link::judge_on(site, draw, parallel::cores())?;
    let cautions = cautions::cautions(site, &links, from)?;
    Ok(Check {
        verdict: cautions::verdict(&cautions),
        chain: chain::chain(site, &links),
        links,
        cautions,
    })
}
