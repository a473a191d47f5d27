//! All that is expected of the meters in a yard: worked out once, judged often.

use crate::site::{LinkId, Site};
use crate::transient::CannotConclude;

use super::{Point, Symptoms, points, symptoms};

/// What meters should show in a yard, and what faults would show.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// The readings to take, zone by zone, each after its master.
    pub points: Vec<Point>,
    /// What every fault shows, by link.
    pub symptoms: Vec<Vec<Symptoms>>,
}

impl Sheet {
    /// Works it out: some twenty simulations for the points of a link, and two for each of its faults.
    ///
    /// # Errors
    /// If the simulation of a healthy link cannot conclude.
    pub fn of(site: &Site) -> Result<Self, CannotConclude> {
        let links = (0..site.links.len()).map(LinkId);
        Ok(Self {
            points: points(site)?,
            symptoms: links
                .map(|link| symptoms(site, link))
                .collect::<Result<_, _>>()?,
        })
    }
}
