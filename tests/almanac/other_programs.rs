//! Positions beyond the ephemeris, and events against a crate with its own formulas.

use chrono::{NaiveDate, TimeDelta};
use pilotwire::almanac::{SolarDay, SunEvent, SunPosition, second_opinion};

use super::{altitude, place};

/// Beyond the ephemeris: positions of the NREL solar position algorithm as coded in pvlib 0.16.1, within 1.5″.
#[test]
fn positions_from_2051_to_2100_agree_with_the_nrel_algorithm() {
    let mut worst: f64 = 0.0;
    for row in include_str!("../data/sun-2051-2100.csv").lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().unwrap();
        let found =
            SunPosition::at(place(number(0), number(1)), cells[2].parse().unwrap()).unwrap();
        let off_altitude = (found.altitude_deg - number(4)).abs();
        let off_azimuth = ((found.azimuth_deg - number(5) + 540.0) % 360.0 - 180.0).abs();
        let off = off_altitude.max(off_azimuth * number(4).to_radians().cos()) * 3600.0;
        assert!(off < 1.5, "{row}: {found:?}");
        worst = worst.max(off);
    }
    println!("at most {worst:.2}″");
}

/// The `sunrise` crate leaves precession out and keeps the declination of noon, which costs it up to 0.65°
/// (measured). A larger difference is a blunder on one side.
#[test]
fn second_opinion_differs_by_less_than_seven_tenths_of_a_degree() {
    let (mut compared, mut worst) = (0, 0_f64);
    for date in "2024-01-01"
        .parse::<NaiveDate>()
        .unwrap()
        .iter_days()
        .step_by(11)
        .take(166)
    {
        for (latitude, longitude) in (-78..=78).step_by(6).zip((-180..=180).step_by(14).cycle()) {
            let place = place(f64::from(latitude), f64::from(longitude));
            let day = SolarDay::new(place, date).unwrap();
            for event in SunEvent::ALL {
                let (Some(own), Some(other)) =
                    (day.event(event).at(), second_opinion(place, date, event))
                else {
                    continue;
                };
                let second = TimeDelta::milliseconds(500);
                let slope_deg_per_s =
                    (altitude(place, own + second) - altitude(place, own - second)).abs();
                let off_deg = (own - other).as_seconds_f64().abs() * slope_deg_per_s;
                assert!(
                    off_deg < 0.7,
                    "{} of {date} at {place:?}: {own} and {other}",
                    event.name()
                );
                worst = worst.max(off_deg);
                compared += 1;
            }
        }
    }
    println!("{compared} events, at most {worst:.2}°");
    assert!(compared > 20_000);
}
