//! Evenings on which the clocks change, resolved as RFC 5545, section 3.3.5, says.

use chrono::TimeDelta;
use pilotwire::schedule::{Evening, Row, evening_at, plan};
use pilotwire::season::season;

use super::yard::{BERLIN, Where, date, evening, planned, utc, yard, zone};

const LORD_HOWE: Where = (-31.55, 159.08, "Australia/Lord_Howe");

/// The one row of an evening of a zone with these times.
fn row(place: Where, on: &str, off: &str, name: &str) -> Row {
    let keys = format!("on = \"{on}\"\n{off}");
    evening(&yard(place, &zone("gate", &keys)), name).rows[0]
}

/// The clocks of Berlin go from 02:00 to 03:00 in the night after the evening of 2026-03-28.
#[test]
fn a_switching_in_the_gap_comes_an_hour_later_on_the_wall() {
    let off = |time: &str| format!("off = \"{time}\"");
    let cases = [
        (
            "23:00",
            off("02:30"),
            "2026-03-28T22:00:00Z",
            "2026-03-29T01:30:00Z",
        ),
        (
            "02:30",
            off("04:00"),
            "2026-03-29T01:30:00Z",
            "2026-03-29T02:00:00Z",
        ),
        (
            "01:30",
            off("03:00"),
            "2026-03-29T00:30:00Z",
            "2026-03-29T01:00:00Z",
        ),
        // A duration counts real hours: 23:00 to 03:00 on the wall clock is three.
        (
            "23:00",
            "for = \"3 h\"".into(),
            "2026-03-28T22:00:00Z",
            "2026-03-29T01:00:00Z",
        ),
    ];
    for (on, off, on_utc, off_utc) in cases {
        let row = row(BERLIN, on, &off, "2026-03-28");
        assert_eq!(
            (row.on, row.off),
            (Some(utc(on_utc)), Some(utc(off_utc))),
            "{on} {off}"
        );
    }
}

#[test]
fn a_window_that_the_gap_swallows_is_dark_and_says_what_the_wall_shows() {
    let site = yard(BERLIN, &zone("gate", "on = \"02:30\"\noff = \"03:15\""));
    assert_eq!(
        planned(&site, "2026-03-28"),
        ["gate dark: no lights: off at 03:15 CEST comes before on at 03:30 CEST"]
    );
    assert_eq!(
        planned(&site, "2026-03-27"),
        ["gate +1 02:30:00 to +1 03:15:00: fixed time 02:30; fixed time 03:15"]
    );
}

/// The clocks of Berlin go from 03:00 to 02:00 in the night after the evening of 2026-10-24.
#[test]
fn a_switching_in_the_repeated_hour_comes_the_first_time() {
    let off = |time: &str| format!("off = \"{time}\"");
    let cases = [
        (
            "23:00",
            off("02:30"),
            "2026-10-24T21:00:00Z",
            "2026-10-25T00:30:00Z",
        ),
        (
            "02:30",
            off("03:30"),
            "2026-10-25T00:30:00Z",
            "2026-10-25T02:30:00Z",
        ),
        (
            "02:15",
            off("02:45"),
            "2026-10-25T00:15:00Z",
            "2026-10-25T00:45:00Z",
        ),
        (
            "23:00",
            "for = \"5 h\"".into(),
            "2026-10-24T21:00:00Z",
            "2026-10-25T02:00:00Z",
        ),
    ];
    for (on, off, on_utc, off_utc) in cases {
        let row = row(BERLIN, on, &off, "2026-10-24");
        assert_eq!(
            (row.on, row.off),
            (Some(utc(on_utc)), Some(utc(off_utc))),
            "{on} {off}"
        );
    }
}

#[test]
fn half_an_hour_is_a_clock_change_too() {
    // 2026-10-04, 02:00 to 02:30, and 2026-04-05, 02:00 to 01:30.
    let gap = row(LORD_HOWE, "22:00", "off = \"02:15\"", "2026-10-03");
    assert_eq!(gap.off, Some(utc("2026-10-03T15:45:00Z")));
    let fold = row(LORD_HOWE, "22:00", "off = \"01:45\"", "2026-04-04");
    assert_eq!(fold.off, Some(utc("2026-04-04T14:45:00Z")));
}

#[test]
fn not_before_not_after_and_curfew_are_on_the_wall_as_well() {
    let keys = "on = \"20:00\"\noff = \"05:00\"\nnot_before = \"02:30\"\ncurfew = \"03:45\"";
    let site = yard(BERLIN, &zone("gate", keys));
    assert_eq!(
        planned(&site, "2026-03-28"),
        ["gate +1 03:30:00 to +1 03:45:00: not before 02:30; curfew 03:45"]
    );
    let plan = evening(&site, "2026-10-24");
    assert_eq!(plan.rows[0].on, Some(utc("2026-10-25T00:30:00Z")));
    assert_eq!(plan.rows[0].off, Some(utc("2026-10-25T02:45:00Z")));
}

#[test]
fn an_evening_is_an_hour_shorter_or_longer_when_the_clocks_change() {
    let site = yard(BERLIN, &zone("gate", "on = \"12:00\"\noff = \"11:59\""));
    let cases = [
        ("2026-03-27", 24, false),
        ("2026-03-28", 23, true),
        ("2026-03-29", 24, false),
        ("2026-10-24", 25, true),
        ("2026-10-25", 24, false),
    ];
    for (name, hours, changes) in cases {
        let evening = Evening::of(&site, date(name));
        assert_eq!((evening.ends - evening.begins).num_hours(), hours, "{name}");
        assert_eq!(evening.has_clock_change(&site), changes, "{name}");
    }
}

#[test]
fn before_noon_it_is_still_last_evening_while_a_zone_is_lit() {
    let site = yard(BERLIN, &zone("gate", "on = \"18:00\"\noff = \"09:00\""));
    let tonight = |now: &str| {
        let lit_until = |date| {
            let name: chrono::NaiveDate = date;
            evening(&site, &name.to_string()).lit_until()
        };
        evening_at(&site, utc(now), lit_until).to_string()
    };
    // Local time is an hour ahead.
    assert_eq!(tonight("2027-02-10T10:59:59Z"), "2027-02-10");
    assert_eq!(tonight("2027-02-10T11:00:00Z"), "2027-02-10");
    assert_eq!(tonight("2027-02-10T23:30:00Z"), "2027-02-10");
    assert_eq!(tonight("2027-02-11T07:59:59Z"), "2027-02-10");
    assert_eq!(tonight("2027-02-11T08:00:00Z"), "2027-02-11");
}

#[test]
fn a_date_that_the_clocks_left_out_has_no_evening() {
    // A place that crossed the date line; the dates before, skipped, and after; when the first light goes on at
    // 18:00 and off at 06:00, by the clock before and the clock after; when the last goes on.
    let cases = [
        (
            (-13.8, -171.8, "Pacific/Apia"),
            ["2011-12-29", "2011-12-30", "2011-12-31"],
            ("2011-12-30T04:00:00Z", "2011-12-30T16:00:00Z"),
            "2011-12-31T04:00:00Z",
        ),
        (
            (8.7, 167.7, "Pacific/Kwajalein"),
            ["1993-08-20", "1993-08-21", "1993-08-22"],
            ("1993-08-21T06:00:00Z", "1993-08-21T18:00:00Z"),
            "1993-08-22T06:00:00Z",
        ),
    ];
    for (place, [before, left_out, after], (on, off), on_after) in cases {
        let zones = zone("gate", "on = \"18:00\"\noff = \"06:00\"")
            + &zone("walk", "on = \"sunset\"\noff = \"sunrise\"");
        let site = yard(place, &zones);
        let evenings = date(before)..=date(after);
        let rows = plan(&site, evenings.clone(), &[]).unwrap().rows;
        let of_zone = |zone: usize| rows.iter().filter(move |row| row.zone.0 == zone);

        let gate: Vec<_> = of_zone(0).map(|row| (row.evening, row.on)).collect();
        let expected = [
            (date(before), Some(utc(on))),
            (date(after), Some(utc(on_after))),
        ];
        assert_eq!(gate, expected);
        assert_eq!(rows[0].off, Some(utc(off)));
        // The sun ignores the date line: it sets a day after it last set.
        let sunsets: Vec<_> = of_zone(1).map(|row| row.on.unwrap()).collect();
        let minutes = (sunsets[1] - sunsets[0]).num_minutes();
        assert!((24 * 60 - 2..=24 * 60 + 2).contains(&minutes), "{minutes}");

        assert_eq!(evening(&site, left_out).rows, []);
        assert!(Evening::of(&site, date(left_out)).never_was());
        let morning = utc(off) - TimeDelta::minutes(1);
        assert_eq!(Evening::at(&site, morning).date, date(before));
        let lit_until = |date| plan(&site, date..=date, &[]).unwrap().lit_until();
        assert_eq!(evening_at(&site, morning, lit_until), date(before));

        let season = season(&site, evenings, &[]).unwrap();
        assert_eq!(season.zones[0].nights_lit, 2);
    }
}
