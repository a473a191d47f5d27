//! The same through the program: JSON in UTC, whatever the machine's own zone.

use std::process::Output;

use serde_json::Value;

use crate::support::program::{given, program};

use super::yard::{BERLIN, TROMSO, Where, assert_near, text, tz_database, utc, zone};

/// The output for a site file on standard input.
fn output(site: &str, arguments: &[&str], machine_zone: &str) -> Output {
    let mut program = program();
    program
        .args(arguments)
        .env("TZDIR", tz_database())
        .env("TZ", machine_zone);
    given(&mut program, site.as_bytes())
}

fn printed(site: &str, arguments: &[&str], machine_zone: &str) -> String {
    let output = output(site, arguments, machine_zone);
    assert!(output.status.success());
    String::from_utf8(output.stdout).unwrap()
}

fn plan_json(place: Where, zones: &str, date: &str) -> Value {
    let arguments = ["plan", "-", "--date", date, "--format", "json"];
    let printed = printed(&text(place, zones), &arguments, "Asia/Shanghai");
    serde_json::from_str(&printed).unwrap()
}

#[test]
fn case_11_kiritimati() {
    let place = (1.9, -157.4, "Pacific/Kiritimati");
    let plan = plan_json(
        place,
        &zone("lagoon", "on = \"sunset\"\noff = \"22:00\""),
        "2026-06-15",
    );
    let evening = &plan["evenings"][0];
    assert_eq!(evening["date"], "2026-06-15");
    let on = utc(evening["on"].as_str().unwrap());
    assert_near(on, utc("2026-06-15T04:36:56.1Z"), 0.5);
    assert_eq!(evening["off"], "2026-06-15T08:00:00.000Z");
}

#[test]
fn case_12_an_empty_window_has_null_times_and_a_reason() {
    let place = (39.5, 76.0, "Asia/Shanghai");
    let keys = "on = \"astronomical_dusk\"\noff = \"00:15\"";
    let plan = plan_json(place, &zone("pass", keys), "2026-06-21");
    let said = "no lights: off at 00:15 CST comes before on at 00:28 CST";
    let expected = serde_json::json!({
        "date": "2026-06-21",
        "zone": "pass",
        "on": null,
        "off": null,
        "reason_on": said,
        "reason_off": said,
        "follows": null,
    });
    assert_eq!(plan["evenings"], serde_json::json!([expected]));
}

#[test]
fn case_15_polar_night_and_midnight_sun() {
    let zones = zone("quay", "on = \"sunset\"\noff = \"sunrise\"");
    let night = plan_json(TROMSO, &zones, "2026-12-21");
    assert_eq!(night["evenings"][0]["on"], "2026-12-21T11:00:00.000Z");
    assert_eq!(night["evenings"][0]["off"], "2026-12-22T11:00:00.000Z");
    let day = plan_json(TROMSO, &zones, "2026-06-21");
    assert_eq!(day["evenings"][0]["on"], Value::Null);
}

#[test]
fn case_16_into_the_repeated_hour() {
    let plan = plan_json(
        BERLIN,
        &zone("gate", "on = \"civil_dusk\"\noff = \"02:30\""),
        "2026-10-24",
    );
    let evening = &plan["evenings"][0];
    assert_near(
        utc(evening["on"].as_str().unwrap()),
        utc("2026-10-24T16:27:41.9Z"),
        0.5,
    );
    assert_eq!(evening["off"], "2026-10-25T00:30:00.000Z");
    assert_eq!(evening["reason_off"], "fixed time 02:30, the first of two");
}

#[test]
fn the_machines_own_zone_changes_nothing() {
    let site = include_str!("fjordstrand.toml");
    let every: [&[&str]; 5] = [
        &["plan", "-", "--date", "2027-03-27", "--nights", "3"],
        &[
            "plan",
            "-",
            "--date",
            "2027-03-27",
            "--nights",
            "3",
            "--format",
            "json",
        ],
        &[
            "season",
            "-",
            "--from",
            "2027-03-01",
            "--to",
            "2027-06-30",
            "--every-night",
        ],
        &[
            "season",
            "-",
            "--from",
            "2027-03-01",
            "--to",
            "2027-06-30",
            "--format",
            "json",
        ],
        &[
            "season",
            "-",
            "--from",
            "2027-03-01",
            "--to",
            "2027-06-30",
            "--format",
            "csv",
        ],
    ];
    for arguments in every {
        let here = printed(site, arguments, "UTC");
        for machine in ["Pacific/Kiritimati", "America/Denver", "No/Such_Zone", ""] {
            assert!(
                here == printed(site, arguments, machine),
                "{machine}: {arguments:?}"
            );
        }
    }
}

#[test]
fn a_season_is_told_even_where_its_picture_cannot_be_written() {
    let site = include_str!("fjordstrand.toml");
    let mut words = vec!["season", "-", "--from", "2027-05-15", "--to", "2027-05-25"];
    let told = printed(site, &words, "UTC");
    words.extend(["--svg", "/no/such/folder/season.svg"]);
    let done = output(site, &words, "UTC");
    assert_eq!(done.status.code(), Some(74));
    assert_eq!(String::from_utf8(done.stdout).unwrap(), told);
}

#[test]
fn the_evenings_of_the_season_are_those_of_the_plan() {
    let site = include_str!("fjordstrand.toml");
    let season = printed(
        site,
        &[
            "season",
            "-",
            "--from",
            "2027-05-15",
            "--to",
            "2027-05-25",
            "--format",
            "json",
        ],
        "UTC",
    );
    let plan = printed(
        site,
        &[
            "plan",
            "-",
            "--date",
            "2027-05-15",
            "--nights",
            "11",
            "--format",
            "json",
        ],
        "UTC",
    );
    let [season, plan] = [season, plan].map(|text| serde_json::from_str::<Value>(&text).unwrap());
    assert_eq!(season["evenings"], plan["evenings"]);
    assert_eq!(plan["evenings"].as_array().unwrap().len(), 33);
}

#[test]
fn a_calendar_is_in_utc_whatever_the_machines_zone() {
    let site = text(BERLIN, &zone("walk", "on = \"20:00\"\noff = \"23:00\""));
    let arguments = ["plan", "-", "--date", "2027-01-15", "--format", "ics"];
    let calendar = printed(&site, &arguments, "Asia/Shanghai");
    assert!(calendar.contains("\r\nDTSTART:20270115T190000Z\r\nDTEND:20270115T220000Z\r\n"));
    assert_eq!(calendar, printed(&site, &arguments, "America/Denver"));
    let arguments = [
        "season",
        "-",
        "--from",
        "2027-01-15",
        "--to",
        "2027-01-15",
        "--format",
        "ics",
    ];
    assert_eq!(calendar, printed(&site, &arguments, "UTC"));
}

#[test]
fn a_season_in_characters_is_plain_in_a_pipe() {
    let site = text(BERLIN, &zone("walk", "on = \"20:00\"\noff = \"23:00\""));
    let picture = printed(
        &site,
        &["season", "-", "--from", "2027-01-01", "--picture"],
        "UTC",
    );
    assert!(!picture.contains('\u{1b}'));
    assert!(
        picture.lines().all(|line| line.chars().count() <= 200),
        "{picture}"
    );
    let lit = picture.lines().filter(|line| line.contains("###"));
    assert_eq!(lit.count(), 3, "{picture}");
}

#[test]
fn a_date_that_the_clocks_left_out_is_refused_with_its_neighbours() {
    let place = (-13.8, -171.8, "Pacific/Apia");
    let site = text(place, &zone("gate", "on = \"18:00\"\noff = \"22:00\""));
    let output = output(&site, &["plan", "-", "--date", "2011-12-30"], "UTC");
    assert_eq!(output.status.code(), Some(64));
    let said = String::from_utf8(output.stderr).unwrap();
    let expected =
        "there was no 2011-12-30 in Pacific/Apia: the clocks went from 2011-12-29 to 2011-12-31";
    assert!(said.contains(expected), "{said}");
    // Among other arguments it is ignored.
    let arguments = [
        "plan",
        "-",
        "--date",
        "2011-12-29",
        "--nights",
        "3",
        "--format",
        "csv",
    ];
    let printed = printed(&site, &arguments, "UTC");
    let dates: Vec<_> = printed.lines().skip(1).map(|row| &row[..10]).collect();
    assert_eq!(dates, ["2011-12-29", "2011-12-31"]);
}
