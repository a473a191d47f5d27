//! The promises of the sun almanac, each checked against an independent source.

use chrono::{DateTime, Utc};
use pilotwire::almanac::{Place, SunPosition};

mod dates;
mod de421;
mod laws;
mod other_programs;

fn place(latitude_deg: f64, longitude_deg: f64) -> Place {
    Place::new(latitude_deg, longitude_deg).unwrap()
}

fn altitude(place: Place, instant: DateTime<Utc>) -> f64 {
    SunPosition::at(place, instant).unwrap().altitude_deg
}
