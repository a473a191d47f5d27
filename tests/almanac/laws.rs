//! Laws that hold at any place on any date.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use pilotwire::almanac::{Half, Occurrence, Place, SolarDay, SunEvent, SunPosition, SunTable};
use proptest::prelude::*;

use crate::support::cases::cases;

use super::{altitude, place};

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
    #![proptest_config(cases(400))]

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
    fn the_sun_is_due_north_or_south_at_solar_noon(place in places(), date in dates()) {
        let noon = SolarDay::new(place, date).unwrap().solar_noon();
        let position = SunPosition::at(place, noon).unwrap();
        let east = position.azimuth_deg.to_radians().sin() * position.altitude_deg.to_radians().cos();
        // A microsecond turns the sky by 4e-9°.
        prop_assert!(east.to_degrees().abs() < 1e-6, "{position:?}");
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
    #![proptest_config(cases(150))]

    /// A position every two minutes, and the day's extremes between them.
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
            // Within two minutes of an extreme the altitude changes by less than this.
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
