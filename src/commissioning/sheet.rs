//! Every expected reading of a yard: worked out once, judged often.
//!
//! The service works it out only when asked: it is some sixty simulations a link, on most days no person
//! measures, and a panic in it would end the service. It saves no memory (8.0 to 8.3 MB either way; 7.8 to
//! 8.0 MB before there were readings). `/metrics` asks as well where readings are on record: a monitor
//! should not have to wait until a person opens the form after a restart.

use crate::site::{LinkId, Site};
use crate::transient::CannotConclude;

use super::{Point, Symptoms, points, symptoms};

/// What meters should show in a yard, and what each fault would show.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// The readings to take, zone by zone, masters before slaves.
    pub points: Vec<Point>,
    /// What each fault shows, by link.
    pub symptoms: Vec<Vec<Symptoms>>,
}

impl Sheet {
    /// Runs some twenty simulations for the points of a link, and two for each of its faults.
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
