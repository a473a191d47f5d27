//! Time per event of the almanac against the `sunrise` crate, in one interleaved run.
//!
//! `cargo bench --bench almanac`. All contenders run in turn, several times; the shortest time of each counts,
//! so that a busy machine slows none of them more than the others.

use std::hint::black_box;
use std::time::Duration;

use chrono::NaiveDate;
use pilotwire_physics::almanac::{Occurrence, Place, SolarDay, SunEvent, SunTable};
use sunrise::{Coordinates, DawnType, SolarEvent};

const REPETITIONS: usize = 15;
const DAYS: usize = 365;

fn main() {
    let dates: Vec<NaiveDate> = NaiveDate::from_ymd_opt(2026, 1, 1)
        .expect("a date")
        .iter_days()
        .take(DAYS)
        .collect();
    let sites: Vec<Place> = (0..40_i32)
        .map(|i| {
            Place::new(
                f64::from(i * 37 % 131) - 65.0,
                f64::from(i * 97 % 360) - 180.0,
            )
            .expect("a place")
        })
        .collect();
    let events = (dates.len() * sites.len() * SunEvent::ALL.len()) as f64;

    let contenders: [(&str, &dyn Fn() -> i64); 4] = [
        ("shared", &|| shared(&sites, &dates)),
        ("alone", &|| alone(&sites, &dates)),
        ("sunrise", &|| crate_sunrise(&sites, &dates)),
        ("alone, one event a day", &|| single(&sites, &dates)),
    ];
    let mut shortest = [Duration::MAX; 4];
    for _ in 0..REPETITIONS {
        for ((_, run), shortest) in contenders.iter().zip(&mut shortest) {
            *shortest = (*shortest).min(timed(run));
        }
    }

    let per_event = |i: usize| {
        let events = if i == 3 { events / 8.0 } else { events };
        shortest[i].as_secs_f64() * 1e9 / events
    };
    println!(
        "{} sites x {} days x {} events, shortest of {REPETITIONS}",
        sites.len(),
        dates.len(),
        SunEvent::ALL.len()
    );
    for (i, (name, _)) in contenders.iter().enumerate() {
        println!(
            "{name:24} {:8.1} ns/event  {:5.2} x sunrise",
            per_event(i),
            per_event(i) / per_event(2)
        );
    }
}

#[expect(clippy::disallowed_methods, reason = "a benchmark measures time")]
fn timed(run: &dyn Fn() -> i64) -> Duration {
    let start = std::time::Instant::now();
    black_box(run());
    start.elapsed()
}

/// All events of all days at all sites from one table; making the table is part of the measured time.
fn shared(sites: &[Place], dates: &[NaiveDate]) -> i64 {
    let table =
        SunTable::for_dates(dates[0]..=dates[dates.len() - 1]).expect("years of the almanac");
    let mut sum = 0;
    for &site in sites {
        for &date in dates {
            sum += total(table.day(site, date).expect("a date of the table").events());
        }
    }
    sum
}

/// The same, each site-day calculated from scratch.
fn alone(sites: &[Place], dates: &[NaiveDate]) -> i64 {
    let mut sum = 0;
    for &site in sites {
        for &date in dates {
            sum += total(
                SolarDay::new(black_box(site), date)
                    .expect("a year of the almanac")
                    .events(),
            );
        }
    }
    sum
}

/// One event of each site-day, calculated from scratch.
fn single(sites: &[Place], dates: &[NaiveDate]) -> i64 {
    let mut sum = 0;
    for &site in sites {
        for &date in dates {
            let day = SolarDay::new(black_box(site), date).expect("a year of the almanac");
            sum += total([day.event(SunEvent::CivilDusk)]);
        }
    }
    sum
}

/// The same events from the `sunrise` crate, sharing what it can share: one `SolarDay` for the eight events.
fn crate_sunrise(sites: &[Place], dates: &[NaiveDate]) -> i64 {
    let events = [
        SolarEvent::Sunrise,
        SolarEvent::Sunset,
        SolarEvent::Dawn(DawnType::Civil),
        SolarEvent::Dusk(DawnType::Civil),
        SolarEvent::Dawn(DawnType::Nautical),
        SolarEvent::Dusk(DawnType::Nautical),
        SolarEvent::Dawn(DawnType::Astronomical),
        SolarEvent::Dusk(DawnType::Astronomical),
    ];
    let mut sum = 0;
    for &site in sites {
        let site = Coordinates::new(site.latitude_deg(), site.longitude_deg()).expect("a place");
        for &date in dates {
            let day = sunrise::SolarDay::new(site, date);
            for event in events {
                sum += day
                    .event_time(black_box(event))
                    .map_or(1, |time| time.timestamp());
            }
        }
    }
    sum
}

fn total<const N: usize>(found: [Occurrence; N]) -> i64 {
    found
        .iter()
        .map(|occurrence| occurrence.at().map_or(1, |time| time.timestamp()))
        .sum()
}
