//! The `sunrise` crate's estimate for a day.
//!
//! The crate's answer is only where the search begins; one step of the fourth order on the true altitude
//! ends it. On its own it is up to 28 minutes off at 60° of latitude (it leaves out precession, and takes
//! the sun's place at noon for the whole day) and cannot tell a sun that stays above from one that stays
//! below. The result does not depend on it: started from the day's own extremes instead, an event costs 87
//! ns rather than 150 ns. It stays because an independent formula is a tripwire: a test keeps the two within
//! 0.7° of solar altitude (worst seen 0.52°, 2024 to 2028; the distance grows with the missing precession).

use chrono::{DateTime, NaiveDate, Utc};

use super::{Half, Place};

/// The crate's view of one local solar date at one place, which is the day that [`super`] means by it.
#[derive(Debug, Clone, Copy)]
pub(super) struct FirstEstimate(sunrise::SolarDay);

impl FirstEstimate {
    pub(super) fn new(place: Place, date: NaiveDate) -> Self {
        let site = sunrise::Coordinates::new(place.latitude_deg(), place.longitude_deg())
            .expect("a place of the almanac is one of the crate");
        Self(sunrise::SolarDay::new(site, date))
    }

    /// When the sun's centre passes an altitude [rad], if the crate finds that it does.
    #[inline]
    pub(super) fn passage(&self, half: Half, altitude: f64) -> Option<DateTime<Utc>> {
        self.0.event_time(sunrise::SolarEvent::Elevation {
            // Its elevations count downwards, against its documentation (version 3.0.0).
            elevation: -altitude,
            morning: half == Half::Morning,
        })
    }
}
