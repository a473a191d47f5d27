//! Which day a local solar date names.

use chrono::{DateTime, TimeDelta, Utc};
use pilotwire::almanac::{SolarDay, SunEvent};

use super::place;

fn noon(longitude: f64, date: &str) -> DateTime<Utc> {
    SolarDay::new(place(0.0, longitude), date.parse().unwrap())
        .unwrap()
        .solar_noon()
}

/// The equation of time is zero within a few seconds on 2026-06-13 (almanac; the sun is 4 s late).
#[test]
fn noon_comes_at_twelve_less_the_longitude() {
    for (longitude, expected) in [
        (0.0, "2026-06-13T12:00:00Z"),
        (90.0, "2026-06-13T06:00:00Z"),
        (-105.0, "2026-06-13T19:00:00Z"),
        (180.0, "2026-06-13T00:00:00Z"),
        (-180.0, "2026-06-14T00:00:00Z"),
    ] {
        let off_s = (noon(longitude, "2026-06-13") - expected.parse::<DateTime<Utc>>().unwrap())
            .as_seconds_f64();
        assert!(off_s.abs() < 15.0, "{off_s} s at {longitude}");
    }
}

/// Transits of the sun's centre by skyfield 1.55 with JPL DE421 (`almanac.find_transits`).
#[test]
fn solar_noon_is_the_transit() {
    for (latitude, longitude, date, expected) in [
        (
            39.742476,
            -105.1786,
            "2003-10-17",
            "2003-10-17T18:46:05.341Z",
        ),
        (51.5, -0.1, "2026-02-11", "2026-02-11T12:14:34.435Z"),
        (-33.9, 18.4, "2026-11-03", "2026-11-03T10:29:57.101Z"),
        (69.65, 18.96, "2024-12-21", "2024-12-21T10:42:25.408Z"),
        (0.0, -180.0, "2010-07-26", "2010-07-27T00:06:31.832Z"),
        (-80.0, 172.0, "1985-05-14", "1985-05-14T00:28:17.590Z"),
    ] {
        let day = SolarDay::new(place(latitude, longitude), date.parse().unwrap()).unwrap();
        let off_s =
            (day.solar_noon() - expected.parse::<DateTime<Utc>>().unwrap()).as_seconds_f64();
        assert!(off_s.abs() < 0.1, "{off_s} s on {date}");
    }
}

/// Events of one evening may lie on the next UTC date, and both ends of the date line are a day apart.
#[test]
fn the_same_date_at_both_ends_of_the_date_line_is_a_day_apart() {
    let date = "2026-06-15".parse().unwrap();
    let sunset = |longitude| {
        SolarDay::new(place(0.0, longitude), date)
            .unwrap()
            .event(SunEvent::Sunset)
            .at()
            .unwrap()
    };
    let apart = sunset(-180.0) - sunset(180.0);
    assert!(
        (apart - TimeDelta::days(1)).num_seconds().abs() < 30,
        "{apart}"
    );
    assert_eq!(sunset(-180.0).date_naive().to_string(), "2026-06-16");
}

/// 2016-12-31T23:59:60Z was a leap second: counted in UTC, the solar day that holds it is a second shorter.
#[test]
fn a_leap_second_shifts_the_clock_and_not_the_sun() {
    // Noon at 179° west comes at 23:59 UTC at that time of the year.
    let noons: Vec<_> = ["2016-12-30", "2016-12-31", "2017-01-01", "2017-01-02"]
        .into_iter()
        .map(|date| noon(-179.0, date))
        .collect();
    let length_s = |i: usize| (noons[i + 1] - noons[i]).as_seconds_f64();
    let expected = 0.5 * (length_s(0) + length_s(2)) - 1.0;
    assert!(
        (length_s(1) - expected).abs() < 0.05,
        "{} s, expected {expected} s",
        length_s(1)
    );
}
