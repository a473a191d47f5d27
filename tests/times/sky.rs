//! The cases of `tests/data/time-cases.json` that concern the sun, by their ids. Their times are those of the JPL
//! ephemeris DE421, worked out with skyfield; the plan is to agree to half a second.

use chrono::{DateTime, NaiveDate, Utc};
use pilotwire::schedule::{Evening, Reason, Row, plan};
use pilotwire::site::{Moment, Site, SunMark};
use serde_json::Value;

use super::yard::{TROMSO, Where, assert_near, date, evening, row_of, utc, yard, zone};

const TOLERANCE_S: f64 = 0.5;

fn case(id: u64) -> Value {
    let cases: Vec<Value> = serde_json::from_str(include_str!("../data/time-cases.json")).unwrap();
    cases.into_iter().find(|case| case["id"] == id).unwrap()
}

fn instant(case: &Value, key: &str) -> DateTime<Utc> {
    utc(case[key].as_str().unwrap())
}

/// A yard at the place of the case.
fn yard_of(case: &Value, timezone: &'static str, zones: &str) -> Site {
    assert_eq!(case["zone"], timezone);
    let place: Where = (
        case["lat"].as_f64().unwrap(),
        case["lon"].as_f64().unwrap(),
        timezone,
    );
    yard(place, zones)
}

fn local_date(site: &Site, at: DateTime<Utc>) -> NaiveDate {
    site.timezone.to_local(at).date()
}

#[test]
fn case_11_the_evening_of_kiritimati_is_the_one_its_calendar_names() {
    let case = case(11);
    let site = yard_of(
        &case,
        "Pacific/Kiritimati",
        &zone("lagoon", "on = \"sunset\"\noff = \"22:00\""),
    );
    let plan = evening(&site, "2026-06-15");
    let on = row_of(&site, &plan, "lagoon").on.unwrap();
    assert_near(on, instant(&case, "expect_utc"), TOLERANCE_S);
    assert_eq!(local_date(&site, on), date("2026-06-15"));
    assert_eq!(
        plan.rows[0].why_on.say(&site),
        "sunset 18:36 +14",
        "its clock has no name"
    );
}

#[test]
fn case_12_dusk_after_midnight_belongs_to_the_evening_before() {
    let case = case(12);
    let events = ["sunset", "civil_dusk", "nautical_dusk", "astronomical_dusk"];
    let zones: String = events
        .iter()
        .map(|event| zone(event, &format!("on = \"{event}\"\noff = \"00:30\"")))
        .chain([zone("early", "on = \"astronomical_dusk\"\noff = \"00:15\"")])
        .collect();
    let site = yard_of(&case, "Asia/Shanghai", &zones);
    let plan = evening(&site, "2026-06-21");
    for event in events {
        let row = row_of(&site, &plan, event);
        assert_near(row.on.unwrap(), instant(&case, event), TOLERANCE_S);
        assert_eq!(row.off, Some(instant(&case, "off_0030")));
    }
    let lit_s = row_of(&site, &plan, "astronomical_dusk").lit_s(&site);
    assert!((lit_s - 118.5).abs() <= TOLERANCE_S, "{lit_s}");

    let early = row_of(&site, &plan, "early");
    assert_eq!((early.on, early.off), (None, None));
    assert_eq!(
        early.why_on.say(&site),
        "no lights: off at 00:15 CST comes before on at 00:28 CST"
    );
}

#[test]
fn case_13_sunset_after_midnight_keeps_its_evening() {
    let case = case(13);
    let site = yard_of(
        &case,
        "Atlantic/Reykjavik",
        &zone("harbour", "on = \"sunset\"\noff = \"sunrise\""),
    );
    let plan = evening(&site, "2026-06-21");
    let row = row_of(&site, &plan, "harbour");
    assert_near(row.on.unwrap(), instant(&case, "sunset"), TOLERANCE_S);
    assert_near(
        row.off.unwrap(),
        instant(&case, "next_sunrise"),
        TOLERANCE_S,
    );
    for around in case["around"].as_array().unwrap() {
        let name = around[0].as_str().unwrap();
        let plan = evening(&site, name);
        let on = row_of(&site, &plan, "harbour").on.unwrap();
        assert_near(on, utc(around[1].as_str().unwrap()), TOLERANCE_S);
    }
}

#[test]
fn case_13_every_sunset_has_one_evening_though_some_dates_have_none_and_some_two() {
    let case = case(13);
    let site = yard_of(
        &case,
        "Atlantic/Reykjavik",
        &zone("harbour", "on = \"sunset\"\noff = \"sunrise\""),
    );
    let june = date("2026-06-01")..=date("2026-07-10");
    let plan = plan(&site, june, &[]).unwrap();
    let sunsets_on = |date: NaiveDate| {
        let ons = plan.rows.iter().filter_map(|row| row.on);
        ons.filter(|on| local_date(&site, *on) == date).count()
    };
    let dates = date("2026-06-02").iter_days().take(38);
    let with = |count: usize| -> Vec<String> {
        let dates = dates.clone().filter(|date| sunsets_on(*date) == count);
        dates.map(|date| date.to_string()).collect()
    };
    assert_eq!(with(0), ["2026-06-16"]);
    assert_eq!(with(2), ["2026-06-29"]);
    assert_eq!(
        case["civil_dates_without_sunset"],
        serde_json::json!(with(0))
    );
    assert_eq!(
        case["civil_dates_with_two_sunsets"],
        serde_json::json!(with(2))
    );
}

fn tromso() -> Site {
    let zones = zone("quay", "on = \"sunset\"\noff = \"sunrise\"")
        + &zone("steps", "on = \"civil_dusk\"\noff = \"civil_dawn\"");
    yard(TROMSO, &zones)
}

#[test]
fn case_15_polar_night_is_lit_from_noon_to_noon() {
    let case = case(15);
    assert_eq!(
        (case["lat"].as_f64(), case["lon"].as_f64()),
        (Some(69.65), Some(18.96))
    );
    let site = tromso();
    let plan = evening(&site, "2026-12-21");
    let quay = row_of(&site, &plan, "quay");
    let whole = Evening::of(&site, date("2026-12-21"));
    assert_eq!((quay.on, quay.off), (Some(whole.begins), Some(whole.ends)));
    assert_eq!(quay.why_on.say(&site), "dark all day: no sunset");
    assert_eq!(quay.why_off.say(&site), "dark all day: no sunrise");

    let steps = row_of(&site, &plan, "steps");
    let dusk = instant(&case["dec21"], "civil_dusk");
    assert_near(steps.on.unwrap(), dusk, TOLERANCE_S);
    let before = evening(&site, "2026-12-20");
    let dawn = instant(&case["dec21"], "civil_dawn");
    assert_near(
        row_of(&site, &before, "steps").off.unwrap(),
        dawn,
        TOLERANCE_S,
    );
}

#[test]
fn case_15_under_the_midnight_sun_nothing_is_lit() {
    let site = tromso();
    let plan = evening(&site, "2026-06-21");
    for zone in ["quay", "steps"] {
        let row = row_of(&site, &plan, zone);
        assert_eq!((row.on, row.off), (None, None));
        // The substitute for a missing civil dusk is sunset, which is missing too.
        assert_eq!(row.why_on.say(&site), "no lights: no sunset tonight");
    }
}

#[test]
fn case_16_an_evening_runs_into_the_repeated_hour() {
    let case = case(16);
    let site = yard_of(
        &case,
        "Europe/Berlin",
        &zone("gate", "on = \"civil_dusk\"\noff = \"02:30\""),
    );
    let plan = evening(&site, "2026-10-24");
    let row = row_of(&site, &plan, "gate");
    assert_near(row.on.unwrap(), instant(&case, "on_utc"), TOLERANCE_S);
    assert_eq!(row.off, Some(instant(&case, "off_utc")));
    assert_ne!(row.off, Some(instant(&case, "not_utc")));
}

#[test]
fn case_17_off_before_dusk_is_no_light_not_23_hours() {
    let case = case(17);
    let site = yard_of(
        &case,
        "Europe/London",
        &zone("mews", "on = \"civil_dusk\"\noff = \"21:30\""),
    );
    let plan = evening(&site, "2026-06-21");
    let row = row_of(&site, &plan, "mews");
    assert_eq!((row.on, row.off), (None, None));
    let Reason::OffBeforeOn { on, off } = row.why_on else {
        panic!("{:?}", row.why_on);
    };
    assert_near(on, instant(&case, "on_utc"), TOLERANCE_S);
    assert_eq!(off, instant(&case, "off_utc"));
}

#[test]
fn case_21_the_leap_day_is_an_evening_like_any_other() {
    let case = case(21);
    let site = yard_of(
        &case,
        "America/Denver",
        &(zone("early", "on = \"sunset\"\noff = \"22:00\"")
            + &zone("late", "on = \"civil_dusk\"\noff = \"22:00\"")),
    );
    let plan = evening(&site, "2028-02-29");
    let on = |zone| row_of(&site, &plan, zone).on.unwrap();
    assert_near(on("early"), instant(&case, "sunset"), TOLERANCE_S);
    assert_near(on("late"), instant(&case, "civil_dusk"), TOLERANCE_S);
    assert_eq!(plan.rows[0].off, Some(utc("2028-03-01T05:00:00Z")));
}

#[test]
fn an_altitude_means_the_sinking_sun_for_on_and_the_rising_for_off() {
    // Civil twilight by its angle: the same passages as by name.
    let zones = zone("name", "on = \"civil_dusk\"\noff = \"civil_dawn\"")
        + &zone("angle", "on = \"sun -6 deg\"\noff = \"sun -6 deg\"");
    let site = yard((40.0, -105.0, "America/Denver"), &zones);
    let plan = evening(&site, "2027-04-10");
    let times = |row: &Row| (row.on, row.off);
    assert_eq!(
        times(row_of(&site, &plan, "name")),
        times(row_of(&site, &plan, "angle"))
    );
    let angle = row_of(&site, &plan, "angle");
    let Reason::Sun(mark, 0) = angle.why_on else {
        panic!("{:?}", angle.why_on);
    };
    assert_eq!(mark.passage, SunMark::Altitude(-6.0));
    assert!(matches!(
        site[angle.zone].switching,
        pilotwire::site::Switching::Timed(ref windows)
            if matches!(windows[0].on, Moment::Sun { offset_s: 0, .. })
    ));
}
