//! The promises of the sun almanac, each against a source of its own.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use pilotwire::almanac::{
    Half, Occurrence, Place, SolarDay, SunEvent, SunPosition, SunTable, second_opinion,
};

fn place(latitude_deg: f64, longitude_deg: f64) -> Place {
    Place::new(latitude_deg, longitude_deg).unwrap()
}

fn altitude(place: Place, instant: DateTime<Utc>) -> f64 {
    SunPosition::at(place, instant).unwrap().altitude_deg
}

/// Instants of all events within max(0.5 s, 3″ / rate of climb) of the JPL ephemeris DE421, none missed, none invented.
///
/// The tables were made with skyfield 1.55; the definition of an event stands in `data/make_sun_rows.py`.
mod events_agree_with_de421 {
    use super::*;

    struct Row {
        text: &'static str,
        place: Place,
        date: NaiveDate,
        event: SunEvent,
        /// Instant and rate of climb [″/s]; nothing where the event does not happen.
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
                expected: (!cells[4].is_empty())
                    .then(|| (cells[4].parse().unwrap(), number(5).abs())),
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

    /// 13 places, 2025 and 2027.
    #[test]
    fn today() {
        check(include_str!("data/sun.csv"), 3028);
    }

    /// Random places and dates, a third of them close to the limit of polar day and night.
    #[test]
    fn from_1950_to_2050() {
        check(include_str!("data/sun-1950-2050.csv"), 4500);
    }
}

/// Beyond the ephemeris: positions of the NREL solar position algorithm as coded in pvlib 0.16.1, within 1.5″.
#[test]
fn positions_from_2051_to_2100_agree_with_the_nrel_algorithm() {
    let mut worst: f64 = 0.0;
    for row in include_str!("data/sun-2051-2100.csv").lines().skip(1) {
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

/// The `sunrise` crate leaves precession out and keeps the declination of noon, which costs it up to 0.65° (measured);
/// a greater difference is a blunder on one side.
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

/// Which day a local solar date means.
mod dates {
    use super::*;

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
            let off_s = (noon(longitude, "2026-06-13")
                - expected.parse::<DateTime<Utc>>().unwrap())
            .as_seconds_f64();
            assert!(off_s.abs() < 15.0, "{off_s} s at {longitude}");
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

    /// 2016-12-31T23:59:60Z was a leap second: events on both sides of it are a solar day apart, as UTC counts.
    #[test]
    fn a_leap_second_shifts_the_clock_and_not_the_sun() {
        let noon_of = |date| noon(-179.0, date);
        let step = |from, to| (noon_of(to) - noon_of(from)).as_seconds_f64();
        // Solar noon at 179° west on D falls shortly before 24 h UTC of D.
        let (before, across, after) = (
            step("2016-12-29", "2016-12-30"),
            step("2016-12-30", "2016-12-31"),
            step("2016-12-31", "2017-01-01"),
        );
        // Without a leap second the three steps would be alike within a second (28.5 s over a day each).
        let extra = across - 0.5 * (before + after);
        let extra_after = after - across;
        assert!(
            (extra.abs() - 0.5).abs() < 0.1 || (extra_after + 1.0).abs() < 1.0,
            "{before} {across} {after}"
        );
    }
}

/// Laws that hold at any place on any date.
mod laws {
    use super::*;
    use proptest::prelude::*;

    fn places() -> impl Strategy<Value = Place> {
        (-89.0..=89.0, -180.0..=180.0).prop_map(|(latitude, longitude)| place(latitude, longitude))
    }

    fn dates() -> impl Strategy<Value = NaiveDate> {
        let first: NaiveDate = "1950-01-01".parse().unwrap();
        (0_u64..55_152).prop_map(move |days| first + chrono::Days::new(days))
    }

    fn halves() -> impl Strategy<Value = Half> {
        prop_oneof![Just(Half::Morning), Just(Half::Evening)]
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

        #[test]
        fn the_sun_stands_at_the_altitude_when_it_passes_it(
            place in places(), date in dates(), half in halves(), altitude_deg in -80.0..80.0_f64,
        ) {
            if let Occurrence::At(instant) = SolarDay::new(place, date).unwrap().passage(half, altitude_deg) {
                let off = altitude(place, instant) - altitude_deg;
                prop_assert!(off.abs() < 1e-5, "off by {off}°");
            }
        }

        #[test]
        fn named_events_are_passages_of_their_altitudes(place in places(), date in dates()) {
            let day = SolarDay::new(place, date).unwrap();
            for (event, found) in SunEvent::ALL.into_iter().zip(day.events()) {
                let same = match (found, day.passage(event.half(), event.altitude_deg())) {
                    (Occurrence::At(a), Occurrence::At(b)) => (a - b).num_microseconds().unwrap().abs() < 100,
                    (a, b) => a == b,
                };
                prop_assert!(same, "{}", event.name());
                prop_assert_eq!(day.event(event), found);
            }
        }

        #[test]
        fn each_half_goes_one_way(place in places(), date in dates()) {
            let day = SolarDay::new(place, date).unwrap();
            let [before, after] = day.lowest();
            for (from, to) in [(before, day.highest()), (after, day.highest())] {
                let along = |part: i32| altitude(place, from + (to - from) * part / 24);
                for part in 0..24 {
                    prop_assert!(along(part) < along(part + 1) + 1e-6, "part {part} from {from} to {to}");
                }
            }
        }

        #[test]
        fn events_of_a_day_come_in_order(place in places(), date in dates()) {
            let day = SolarDay::new(place, date).unwrap();
            let [before, after] = day.lowest();
            let order = [
                SunEvent::AstronomicalDawn, SunEvent::NauticalDawn, SunEvent::CivilDawn, SunEvent::Sunrise,
                SunEvent::Sunset, SunEvent::CivilDusk, SunEvent::NauticalDusk, SunEvent::AstronomicalDusk,
            ];
            let happening = order.into_iter().filter_map(|event| Some((event, day.event(event).at()?)));
            let mut instants = vec![before];
            let mut noon_passed = false;
            for (event, instant) in happening {
                if event.half() == Half::Evening && !noon_passed {
                    noon_passed = true;
                    instants.push(day.highest());
                }
                instants.push(instant);
            }
            instants.push(after);
            prop_assert!(instants.is_sorted(), "{instants:?}");
            prop_assert!((after - before - TimeDelta::days(1)).num_seconds().abs() < 120);
        }

        #[test]
        fn the_east_comes_first(
            latitude in -89.0..=89.0, west in -180.0..180.0, part in 0.01..=1.0_f64, date in dates(),
        ) {
            let apart_deg = (180.0 - west) * part;
            let at = |longitude: f64| SolarDay::new(place(latitude, longitude), date).unwrap();
            let (west, east) = (at(west), at((west + apart_deg).min(180.0)));
            let earlier_s = (west.solar_noon() - east.solar_noon()).as_seconds_f64();
            // Four minutes per degree; the equation of time changes by up to 30 s in a day.
            prop_assert!((earlier_s - 240.0 * apart_deg).abs() < 0.5 + apart_deg / 360.0 * 32.0);
            if apart_deg > 1.0 && f64::abs(latitude) < 50.0 {
                prop_assert!(east.event(SunEvent::Sunrise).at() < west.event(SunEvent::Sunrise).at());
                prop_assert!(east.event(SunEvent::Sunset).at() < west.event(SunEvent::Sunset).at());
            }
        }

        #[test]
        fn the_table_answers_as_the_single_day_does(place in places(), date in dates(), back in 0_u64..400) {
            let first = date.checked_sub_days(chrono::Days::new(back)).unwrap().max("1950-01-01".parse().unwrap());
            let shared = SunTable::for_dates(first..=date).unwrap().day(place, date).unwrap();
            let alone = SolarDay::new(place, date).unwrap();
            let close = |a: DateTime<Utc>, b: DateTime<Utc>| (a - b).num_microseconds().unwrap().abs() <= 1;
            prop_assert!(close(shared.solar_noon(), alone.solar_noon()));
            for event in SunEvent::ALL {
                let same = match (shared.event(event), alone.event(event)) {
                    (Occurrence::At(a), Occurrence::At(b)) => close(a, b),
                    (a, b) => a == b,
                };
                prop_assert!(same, "{}: {:?} and {:?}", event.name(), shared.event(event), alone.event(event));
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(150) })]

        /// A position every two minutes, with the day's extremes found among them.
        #[test]
        fn events_happen_when_a_scan_sees_them(place in places(), date in dates()) {
            let table = SunTable::for_dates(
                date.checked_sub_days(chrono::Days::new(3)).unwrap().max("1950-01-01".parse().unwrap())
                    ..=date.checked_add_days(chrono::Days::new(3)).unwrap().min("2100-12-31".parse().unwrap()),
            ).unwrap();
            let longitude_s = place.longitude_deg() * 240.0;
            #[expect(clippy::cast_possible_truncation, reason = "at most twelve hours in seconds")]
            let mean_noon = date.and_hms_opt(12, 0, 0).unwrap().and_utc() - TimeDelta::seconds(longitude_s as i64);
            let instant = |step: i64| mean_noon + TimeDelta::minutes(2 * step);
            let heights: Vec<(i64, f64)> = (-405..=405)
                .map(|step| {
                    let position = table.position(place, instant(step));
                    (step, position.unwrap_or_else(|_| SunPosition::at(place, instant(step)).unwrap()).altitude_deg)
                })
                .collect();
            let highest = heights[360..=450].iter().copied().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
            let lowest = |range: &[(i64, f64)]| range.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
            let (before, after) = (lowest(&heights[..=90]), lowest(&heights[720..]));
            let day = SolarDay::new(place, date).unwrap();
            for event in SunEvent::ALL {
                let low = if event.half() == Half::Morning { before } else { after };
                let threshold = event.altitude_deg();
                // Two minutes next to an extreme change the altitude by less than this.
                if (low.1 - threshold).abs() < 0.005 || (highest.1 - threshold).abs() < 0.005 {
                    continue;
                }
                match day.event(event) {
                    Occurrence::StaysAbove => prop_assert!(low.1 > threshold, "{}", event.name()),
                    Occurrence::StaysBelow => prop_assert!(highest.1 < threshold, "{}", event.name()),
                    Occurrence::At(found) => {
                        prop_assert!(low.1 < threshold && threshold < highest.1, "{}", event.name());
                        let (from, to) = (instant(low.0.min(highest.0)), instant(low.0.max(highest.0)));
                        prop_assert!(from < found && found < to, "{} at {found}", event.name());
                    }
                }
            }
        }
    }
}
