//! The verdict on a yard: every link judged, every caution raised.

use chrono::NaiveDate;

use crate::cautions::{self, Caution};
use crate::chain::{self, Chain};
use crate::link::{self, Draw, LinkJudgement, Verdict};
use crate::parallel;
use crate::schedule::NoAnswer;
use crate::site::Site;

/// Everything to know about a yard before digging.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// Whether to build it.
    pub verdict: Verdict,
    /// Every link, in the order of [`Site::links`].
    pub links: Vec<LinkJudgement>,
    /// The links as chains: which zone is lit when, and what fails together.
    pub chain: Chain,
    /// Every caution, worst first.
    pub cautions: Vec<Caution>,
}

/// Checks a yard. The cautions cover the year from `from`; `draw` says which random builds of its links are
/// tried.
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
