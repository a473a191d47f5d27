//! Laws that hold for any yard, on any evenings.

use std::collections::BTreeMap;
use std::fmt::Write;

use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use pilotwire::link::Following;
use pilotwire::schedule::{Evening, Plan, plan};
use pilotwire::season::season;
use pilotwire::site::{Site, Switching};
use proptest::prelude::*;

use crate::support::cases::cases;

use super::yard::{BERLIN, GREENWICH, TROMSO, Where, all_year, date, seconds, slave, yard, zone};

fn place() -> impl Strategy<Value = Where> {
    prop::sample::select(vec![
        BERLIN,
        GREENWICH,
        TROMSO,
        (63.43, 10.40, "Europe/Oslo"),
        (64.15, -21.9, "Atlantic/Reykjavik"),
        (39.5, 76.0, "Asia/Shanghai"),
        (1.9, -157.4, "Pacific/Kiritimati"),
        (-31.55, 159.08, "Australia/Lord_Howe"),
        (41.60, -93.61, "America/Chicago"),
    ])
}

fn clock() -> impl Strategy<Value = String> {
    (0..24_u32, prop::sample::select(vec![0_u32, 15, 30, 59]))
        .prop_map(|(hour, minute)| format!("{hour:02}:{minute:02}"))
}

fn moment(events: &'static [&'static str]) -> impl Strategy<Value = String> {
    let event = prop::sample::select(events);
    let offset = prop::sample::select(vec!["", "", " + 20 min", " - 45 min"]);
    prop_oneof![
        clock(),
        (event, offset).prop_map(|(event, offset)| format!("{event}{offset}"))
    ]
}

fn window() -> impl Strategy<Value = String> {
    let on = moment(&["sunset", "civil_dusk", "astronomical_dusk", "sun -3.5 deg"]);
    let off = moment(&["sunrise", "civil_dawn", "nautical_dawn", "sun -3.5 deg"]);
    let length = prop::sample::select(vec!["2 s", "50 min", "9 h", "20 h"]);
    let off = prop_oneof![
        off.prop_map(|off| format!("off = \"{off}\"")),
        length.prop_map(|length| format!("for = \"{length}\"")),
    ];
    let more = prop_oneof![
        3 => Just(String::new()),
        1 => clock().prop_map(|time| format!("not_before = \"{time}\"")),
        1 => clock().prop_map(|time| format!("not_after = \"{time}\"")),
    ];
    let days = prop::sample::select(vec![
        "",
        "",
        "days = [\"mon\", \"tue\", \"sat\"]",
        "days = [\"sun\"]",
    ]);
    let no_twilight = prop::sample::select(vec![
        "",
        "if_no_twilight = \"skip\"",
        "if_no_twilight = \"22:00\"",
    ]);
    (on, off, more, days, no_twilight).prop_map(|(on, off, more, days, no_twilight)| {
        format!("on = \"{on}\"\n{off}\n{more}\n{days}\n{no_twilight}")
    })
}

fn zones() -> impl Strategy<Value = String> {
    let curfew = prop_oneof![
        2 => Just(String::new()),
        1 => clock().prop_map(|time| format!("curfew = \"{time}\"")),
    ];
    let exception = (
        0..20_u64,
        clock(),
        prop::sample::select(vec!["on", "off", "dark"]),
    );
    (
        window(),
        prop::collection::vec(window(), 0..3),
        window(),
        curfew,
        exception,
    )
        .prop_map(|(own, more, other, curfew, (day, time, what))| {
            let mut zones = zone("one", &format!("{own}\n{curfew}")) + &zone("two", &other);
            for keys in more {
                writeln!(zones, "[[window]]\nzone = \"one\"\n{keys}").unwrap();
            }
            zones += &slave("three", "one", "");
            zones += &slave("four", "three", &curfew);
            zones += "[[output]]\nzone = \"four\"\nchip = \"c\"\nline = 1\n";
            let from = first(0) + Days::new(day);
            let change = match what {
                "dark" => "dark = true".to_owned(),
                key => format!("{key} = \"{time}\""),
            };
            zones
                + &format!(
                    "[[date]]\nfrom = {from}\nto = {}\n{change}\n",
                    from + Days::new(3)
                )
        })
}

/// Three seasons, two of them with a clock change.
fn first(which: usize) -> NaiveDate {
    date(["2027-03-20", "2027-06-05", "2026-10-15", "2026-12-10"][which])
}

const DELAYS: [Following; 2] = [
    Following::Follows {
        on_delay_s: 0.548_970_3,
        off_delay_s: 0.150_838_8,
    },
    Following::Follows {
        on_delay_s: 1.75,
        off_delay_s: 0.0,
    },
];

fn any_site() -> impl Strategy<Value = (Site, NaiveDate)> {
    (place(), zones(), 0..4_usize)
        .prop_map(|(place, zones, which)| (yard(place, &zones), first(which)))
}

fn three_weeks(site: &Site, from: NaiveDate) -> Plan {
    plan(site, from..=from + Days::new(20), &all_year(&DELAYS)).unwrap()
}

proptest! {
    #![proptest_config(cases(96))]

    #[test]
    fn every_row_goes_on_before_it_goes_off_or_not_at_all((site, from) in any_site()) {
        for row in three_weeks(&site, from).rows {
            prop_assert_eq!(row.on.is_some(), row.off.is_some());
            prop_assert_eq!(row.on.is_none(), row.why_on.keeps_dark());
            prop_assert!(row.on < row.off || row.on.is_none());
        }
    }

    #[test]
    fn rows_come_by_evening_then_zone_then_time((site, from) in any_site()) {
        let plan = three_weeks(&site, from);
        let order = site.zones_in_order();
        let place = |row: &pilotwire::schedule::Row| {
            let zone = order.iter().position(|zone| *zone == row.zone);
            (row.evening, zone, row.on)
        };
        prop_assert!(plan.rows.is_sorted_by_key(place));
        // Lit stretches of one zone on one evening leave time between them.
        for pair in plan.rows.windows(2) {
            if (pair[0].evening, pair[0].zone) == (pair[1].evening, pair[1].zone) && pair[0].on.is_some() {
                prop_assert!(pair[0].off < pair[1].on);
            }
        }
        // Every zone has a row on every evening.
        for day in 0..21 {
            for zone in &order {
                let evening = from + Days::new(day);
                prop_assert!(plan.rows.iter().any(|row| row.evening == evening && row.zone == *zone));
            }
        }
    }

    #[test]
    fn a_slave_keeps_its_masters_times_and_the_delay((site, from) in any_site()) {
        let plan = three_weeks(&site, from);
        for row in &plan.rows {
            let Switching::Follows(link) = site[row.zone].switching else { continue };
            let Following::Follows { on_delay_s, off_delay_s } = DELAYS[link.0] else { unreachable!() };
            let Some(on) = row.on else { continue };
            let masters_on = on - seconds(on_delay_s);
            let master = plan.rows.iter().find(|master| {
                (master.evening, master.zone, master.on) == (row.evening, site[link].master, Some(masters_on))
            });
            prop_assert!(master.is_some(), "no master goes on at {}", masters_on);
            let late = master.unwrap().off.unwrap() + seconds(off_delay_s);
            let kept = match site[row.zone].curfew {
                Some(curfew) => late.min(Evening::of(&site, row.evening).clock(&site, curfew)),
                None => late,
            };
            prop_assert_eq!(row.off, Some(kept));
        }
    }

    #[test]
    fn a_range_is_its_evenings_one_by_one((site, from) in any_site()) {
        let whole = three_weeks(&site, from);
        let mut single = Vec::new();
        for day in 0..21 {
            let evening = from + Days::new(day);
            single.extend(plan(&site, evening..=evening, &all_year(&DELAYS)).unwrap().rows);
        }
        prop_assert_eq!(whole.rows, single);
    }

    #[test]
    fn sums_of_a_season_agree_with_its_rows((site, from) in any_site()) {
        let to = from + Days::new(45);
        let season = season(&site, from..=to, &all_year(&DELAYS)).unwrap();
        for (index, sum) in season.zones.iter().enumerate() {
            let rows = || season.plan.rows.iter().filter(|row| row.zone.0 == index);
            let mut evenings: BTreeMap<NaiveDate, f64> =
                rows().map(|row| (row.evening, 0.0)).collect();
            // A light may reach into the next evening, for instance from midnight for 20 hours in October, when
            // lights come on at sunset. A second that belongs to two rows counts for the earlier evening.
            let mut stretches: Vec<_> = rows()
                .filter_map(|row| Some((row.on?, row.lit_until(&site)?, row.evening)))
                .collect();
            stretches.sort_unstable();
            let mut until = None;
            for (on, off, evening) in stretches {
                let from = until.map_or(on, |until| on.max(until));
                *evenings.get_mut(&evening).unwrap() += (off - from).as_seconds_f64().max(0.0);
                until = until.max(Some(off));
            }
            let lit_s: f64 = evenings.values().sum();
            prop_assert!((sum.lit_s - lit_s).abs() < 1e-3, "{} {lit_s}", sum.lit_s);
            prop_assert_eq!(evenings.len(), 46);
            let lit = evenings.values().filter(|lit_s| **lit_s > 0.0).count();
            prop_assert_eq!(sum.nights_lit as usize, lit);
            prop_assert_eq!(sum.nights_lit + sum.nights_dark.values().sum::<u32>(), 46);

            let months_s: f64 = sum.months.iter().map(|month| month.lit_s).sum();
            prop_assert!((sum.lit_s - months_s).abs() < 1e-3);
            prop_assert_eq!(sum.months.iter().map(|month| month.nights_lit).sum::<u32>(), sum.nights_lit);
            let months_kwh: f64 = sum.months.iter().map(|month| month.lit_kwh).sum();
            prop_assert!((sum.lit_kwh - months_kwh).abs() < 1e-9);

            let longest = evenings.values().copied().fold(0.0, f64::max);
            prop_assert!((sum.longest.map_or(0.0, |(_, most_s)| most_s) - longest).abs() < 1e-6);
        }
    }

    #[test]
    fn standby_and_light_of_a_supply_fill_the_season((site, from) in any_site()) {
        let mut site = site;
        // One watt, so that joules are seconds.
        site.supplies[0].standby_w = 1.0;
        let to = from + Days::new(20);
        let season = season(&site, from..=to, &all_year(&DELAYS)).unwrap();
        let (begins, ends) = (Evening::of(&site, from).begins, Evening::of(&site, to).ends);
        // By brute force: the total time with any zone lit, from one switching to the next.
        let mut switchings: Vec<DateTime<Utc>> = season
            .plan
            .rows
            .iter()
            .flat_map(|row| [row.on, row.off])
            .flatten()
            .collect();
        switchings.sort_unstable();
        let lit: TimeDelta = switchings
            .windows(2)
            .filter(|pair| {
                season.plan.rows.iter().any(|row| row.on <= Some(pair[0]) && row.on.is_some() && row.off >= Some(pair[1]))
            })
            .map(|pair| pair[1] - pair[0])
            .sum();
        let dark_s = (ends - begins - lit).as_seconds_f64();
        let standby_s = season.zones[0].standby_kwh * 3.6e6;
        prop_assert!((standby_s - dark_s.max(0.0)).abs() < 1e-3, "{} s, not {} s", standby_s, dark_s);
    }
}
