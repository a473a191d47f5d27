//! Instants of all events within max(0.5 s, 3″ / rate of climb) of the JPL ephemeris DE421, none missed, none invented.
//!
//! The tables were made with skyfield 1.55; `data/make_sun_rows.py` defines the events.

use chrono::{DateTime, NaiveDate, Utc};
use pilotwire::almanac::{Occurrence, Place, SolarDay, SunEvent};

use super::{altitude, place};

struct Row {
    text: &'static str,
    place: Place,
    date: NaiveDate,
    event: SunEvent,
    /// Instant and rate of climb [″/s]; `None` if the event does not happen.
    expected: Option<(DateTime<Utc>, f64)>,
}

fn rows(csv: &'static str) -> impl Iterator<Item = Row> {
    csv.lines().skip(1).map(|text| {
        let cells: Vec<&str> = text.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().unwrap();
        Row {
            text,
            place: place(number(0), number(1)),
            date: cells[2].parse().unwrap(),
            event: SunEvent::from_name(cells[3]).unwrap(),
            expected: (!cells[4].is_empty()).then(|| (cells[4].parse().unwrap(), number(5).abs())),
        }
    })
}

fn check(csv: &'static str, least_rows: usize) {
    let mut failures = Vec::new();
    let (mut count, mut worst_steep_s, mut worst_arcsec) = (0, 0_f64, 0_f64);
    for row in rows(csv) {
        count += 1;
        let found = SolarDay::new(row.place, row.date).unwrap().event(row.event);
        let good = match (found, row.expected) {
            (Occurrence::At(instant), Some((expected, slope))) => {
                let off_s = (instant - expected).as_seconds_f64().abs();
                worst_arcsec = worst_arcsec.max(off_s * slope);
                if slope > 2.0 {
                    worst_steep_s = worst_steep_s.max(off_s);
                }
                let off_deg = (altitude(row.place, expected) - row.event.altitude_deg()).abs();
                off_s <= (3.0 / slope).max(0.5) && off_deg < 2.0 / 3600.0
            }
            (Occurrence::StaysAbove | Occurrence::StaysBelow, None) => true,
            _ => false,
        };
        if !good {
            failures.push(format!("{} but found {found:?}", row.text));
        }
    }
    // Shown by `cargo test -- --nocapture`.
    println!(
        "{count} rows: at most {worst_steep_s:.3} s where steeper than 2″/s, at most {worst_arcsec:.2}″ anywhere"
    );
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert!(count >= least_rows, "only {count} rows");
}

/// 17 places, 2025 and 2027.
#[test]
fn today() {
    check(include_str!("../data/sun.csv"), 3028);
}

/// Random places and dates, a third of them close to the limit of polar day and night.
#[test]
fn from_1950_to_2050() {
    check(include_str!("../data/sun-1950-2050.csv"), 4500);
}
