//! The cases of a link on the coldest, the ordinary and the hottest evening, and which of them is worst.

use crate::site::{Link, Site};

use super::Undecided;
use super::case::{BoxTemperature, Case, LinkCase, MainsLevel, Parts, work_out};

/// From the coldest evening to the hottest.
pub(super) fn over_evenings(
    site: &Site,
    link: &Link,
    mains: MainsLevel,
    parts: Parts,
) -> Result<Vec<LinkCase>, Undecided> {
    let case = |evening: BoxTemperature| Case {
        mains,
        box_c: evening.celsius(site),
        parts,
    };
    BoxTemperature::ALL
        .into_iter()
        .map(|evening| work_out(site, link, case(evening)))
        .collect()
}

/// The case of which this is least; the first of equals.
pub(super) fn least(cases: &[LinkCase], of: impl Fn(&LinkCase) -> f64) -> LinkCase {
    cases
        .iter()
        .min_by(|a, b| of(a).total_cmp(&of(b)))
        .expect("an evening")
        .clone()
}

/// The case with the hottest coil; the last of equals.
///
/// A small coil takes the most power, unless the pair has as many ohms as the coil, so cases with coils
/// of every size are to be among them.
pub(super) fn hottest<'a>(cases: impl IntoIterator<Item = &'a LinkCase>) -> LinkCase {
    cases
        .into_iter()
        .max_by(|a, b| a.warm.coil_c.total_cmp(&b.warm.coil_c))
        .expect("an evening")
        .clone()
}
