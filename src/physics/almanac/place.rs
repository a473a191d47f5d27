//! A place on the earth.

use super::AlmanacError;

/// A place on the WGS 84 ellipsoid, height 0 m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    latitude_deg: f64,
    longitude_deg: f64,
}

impl Place {
    /// Highest latitude accepted, north or south [°].
    pub const MAX_LATITUDE_DEG: f64 = 89.0;

    /// Geodetic latitude [°, north positive, −89 to 89] and longitude [°, east positive, −180 to 180].
    pub fn new(latitude_deg: f64, longitude_deg: f64) -> Result<Self, AlmanacError> {
        if !(-Self::MAX_LATITUDE_DEG..=Self::MAX_LATITUDE_DEG).contains(&latitude_deg) {
            return Err(AlmanacError::Latitude(latitude_deg));
        }
        if !(-180.0..=180.0).contains(&longitude_deg) {
            return Err(AlmanacError::Longitude(longitude_deg));
        }
        Ok(Self {
            latitude_deg,
            longitude_deg,
        })
    }

    /// Geodetic latitude [°, north positive].
    pub const fn latitude_deg(&self) -> f64 {
        self.latitude_deg
    }

    /// Longitude [°, east positive].
    pub const fn longitude_deg(&self) -> f64 {
        self.longitude_deg
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn accepts_places_up_to_its_limits() {
        for (latitude, longitude) in [(0.0, 0.0), (89.0, 180.0), (-89.0, -180.0), (51.5, -0.1)] {
            let place = Place::new(latitude, longitude).unwrap();
            assert_eq!(
                (place.latitude_deg(), place.longitude_deg()),
                (latitude, longitude)
            );
        }
    }

    #[test]
    fn refuses_poles_and_what_is_no_angle() {
        for latitude in [89.000_1, -90.0, f64::NAN, f64::INFINITY] {
            assert!(
                matches!(Place::new(latitude, 0.0), Err(AlmanacError::Latitude(_))),
                "{latitude}"
            );
        }
        for longitude in [180.000_1, -360.0, f64::NAN] {
            assert!(
                matches!(Place::new(0.0, longitude), Err(AlmanacError::Longitude(_))),
                "{longitude}"
            );
        }
    }
}
