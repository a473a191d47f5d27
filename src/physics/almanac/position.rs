//! Where the sun stands at an instant.

use std::f64::consts::TAU;

use chrono::{DateTime, Utc};

use super::earth_rotation::{SIDEREAL_RATE, delta_t_s, mean_sidereal_time, tt_minus_utc_s};
use super::sky::{DailyPlace, Path, four_places};
use super::{AlmanacError, Place, check_instant, day_and_fraction};

/// The earth's equatorial radius [au]: 6378.137 km (WGS 84) over 149 597 870.7 km (IAU 2012).
const EARTH_RADIUS_AU: f64 = 6378.137 / 149_597_870.7;
/// Square of the WGS 84 ellipsoid's first eccentricity.
const ECCENTRICITY_SQUARED: f64 = 0.006_694_379_990_14;

/// Direction of the sun's centre at a place and an instant, without refraction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunPosition {
    /// Angle above the horizontal plane of the WGS 84 ellipsoid [°].
    pub altitude_deg: f64,
    /// Angle from north through east [°, 0 to 360].
    pub azimuth_deg: f64,
}

impl SunPosition {
    /// The position at a place and an instant in [`YEARS`](super::YEARS) or within two days of them.
    pub fn at(place: Place, instant: DateTime<Utc>) -> Result<Self, AlmanacError> {
        check_instant(instant)?;
        let (day, _) = day_and_fraction(instant);
        Ok(Self::from_places(place, instant, &four_places(day - 1)))
    }

    pub(super) fn from_places(
        place: Place,
        instant: DateTime<Utc>,
        places: &[DailyPlace; 4],
    ) -> Self {
        let (day, fraction) = day_and_fraction(instant);
        let day = f64::from(day);
        let path = Path::through(places);
        let tt = fraction - 0.5 + tt_minus_utc_s(day + fraction) / 86_400.0;
        let frame = Frame::new(place, day);
        let (sin, cos) = frame.angle(tt).sin_cos();

        let [x, y, z] = [path.x.value(tt), path.y.value(tt), path.z.value(tt)];
        let towards_meridian = x * cos + y * sin;
        let east = y * cos - x * sin;
        let up = frame.sin_latitude * z + frame.cos_latitude * towards_meridian;
        let north = frame.cos_latitude * z - frame.sin_latitude * towards_meridian;
        // From the earth's centre to the place on its surface.
        let up = up - frame.height_above_centre_au / path.distance_au;
        let north = north - frame.centre_to_the_north_au / path.distance_au;
        Self {
            altitude_deg: up.atan2(north.hypot(east)).to_degrees(),
            azimuth_deg: east.atan2(north).to_degrees().rem_euclid(360.0),
        }
    }
}

/// A place turning with the earth through one day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Frame {
    pub(super) sin_latitude: f64,
    pub(super) cos_latitude: f64,
    /// The place's position from the earth's centre, along its own vertical [au].
    pub(super) height_above_centre_au: f64,
    /// The same along its own north [au]; the vertical of an ellipsoid misses the centre.
    centre_to_the_north_au: f64,
    /// Sidereal time at the place at noon TT [rad].
    noon_angle: f64,
    /// How fast the place turns [rad per day of TT].
    pub(super) rate: f64,
}

impl Frame {
    pub(super) fn new(place: Place, day: f64) -> Self {
        let (sin_latitude, cos_latitude) = place.latitude_deg().to_radians().sin_cos();
        let curvature = (1.0 - ECCENTRICITY_SQUARED * sin_latitude * sin_latitude).sqrt();
        let (midnight_s, next_midnight_s) = (delta_t_s(day), delta_t_s(day + 1.0));
        let ut1 = 0.5 - 0.5 * (midnight_s + next_midnight_s) / 86_400.0;
        let noon_angle = mean_sidereal_time(day, ut1) + place.longitude_deg() / 360.0 * TAU;
        Self {
            sin_latitude,
            cos_latitude,
            height_above_centre_au: EARTH_RADIUS_AU * curvature,
            centre_to_the_north_au: -EARTH_RADIUS_AU
                * ECCENTRICITY_SQUARED
                * sin_latitude
                * cos_latitude
                / curvature,
            noon_angle,
            rate: SIDEREAL_RATE * (1.0 - (next_midnight_s - midnight_s) / 86_400.0),
        }
    }

    /// Sidereal time at the place [rad, not reduced], `tt` days of TT after noon TT.
    pub(super) fn angle(&self, tt: f64) -> f64 {
        self.noon_angle + self.rate * tt
    }
}
