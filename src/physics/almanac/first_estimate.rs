//! What the `sunrise` crate says about a day.

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

    /// When the sun's centre passes an altitude [rad], if the crate thinks that it does.
    #[inline]
    pub(super) fn passage(&self, half: Half, altitude: f64) -> Option<DateTime<Utc>> {
        self.0.event_time(sunrise::SolarEvent::Elevation {
            // Its elevations count downwards, against its documentation (version 3.0.0).
            elevation: -altitude,
            morning: half == Half::Morning,
        })
    }
}
