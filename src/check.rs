//! The verdict on a yard: every link judged, every caution raised.

use chrono::NaiveDate;

use crate::almanac::AlmanacError;
use crate::cautions::{self, Caution};
use crate::chain::{self, LinkJudgement, Verdict};
use crate::site::Site;

/// What is to be said of a yard before anybody digs.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// Whether to build it.
    pub verdict: Verdict,
    /// Every link, in the order of [`Site::links`].
    pub links: Vec<LinkJudgement>,
    /// Every caution, worst first.
    pub cautions: Vec<Caution>,
}

/// Checks a yard; the cautions look at the year from `from`.
///
/// # Errors
/// If that year lies outside the almanac.
pub fn check(site: &Site, from: NaiveDate) -> Result<Check, AlmanacError> {
    let links = chain::judge(site);
    let cautions = cautions::cautions(site, &links, from)?;
    Ok(Check {
        verdict: cautions::verdict(&cautions),
        links,
        cautions,
    })
}
