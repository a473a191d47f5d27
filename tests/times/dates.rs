//! Exceptional dates. In each test 2027-02-10 is a Wednesday.

use super::yard::{GREENWICH, planned, slave, yard, zone};

/// The lines of 2027-02-10 of a yard with one zone, lit 18:00 to 22:00, and these dates.
fn with(keys: &str, dates: &str) -> Vec<String> {
    let zones = zone("walk", &format!("on = \"18:00\"\noff = \"22:00\"\n{keys}")) + dates;
    planned(&yard(GREENWICH, &zones), "2027-02-10")
}

fn days(from: &str, to: &str, keys: &str) -> String {
    format!("[[date]]\nfrom = {from}\nto = {to}\n{keys}\n")
}

fn that_day(keys: &str) -> String {
    format!("[[date]]\nfrom = 2027-02-10\n{keys}\n")
}

const ORDINARY: [&str; 1] = ["walk 18:00:00 to 22:00:00: fixed time 18:00; fixed time 22:00"];

#[test]
fn dark_days_are_dark_from_the_first_to_the_last() {
    assert_eq!(
        with("", &that_day("dark = true")),
        ["walk dark: no lights on 2027-02-10"]
    );
    let whole = ["walk dark: no lights from 2027-02-08 to 2027-02-10"];
    assert_eq!(
        with("", &days("2027-02-08", "2027-02-10", "dark = true")),
        whole
    );
    assert_eq!(
        with("", &days("2027-02-11", "2027-02-12", "dark = true")),
        ORDINARY
    );
    assert_eq!(
        with("", &days("2027-02-08", "2027-02-09", "dark = true")),
        ORDINARY
    );
}

#[test]
fn other_moments_take_the_place_of_the_zones_own() {
    assert_eq!(
        with("", &that_day("off = \"01:30\"")),
        ["walk 18:00:00 to +1 01:30:00: fixed time 18:00; fixed time 01:30"]
    );
    assert_eq!(
        with("", &that_day("on = \"16:00\"")),
        ["walk 16:00:00 to 22:00:00: fixed time 16:00; fixed time 22:00"]
    );
    assert_eq!(
        with("", &that_day("on = \"23:00\"\noff = \"23:30\"")),
        ["walk 23:00:00 to 23:30:00: fixed time 23:00; fixed time 23:30"]
    );
}

#[test]
fn a_stated_switch_on_is_not_held_back_by_the_rules_of_ordinary_days() {
    assert_eq!(
        with("not_before = \"17:30\"", &that_day("on = \"16:00\"")),
        ["walk 16:00:00 to 22:00:00: fixed time 16:00; fixed time 22:00"]
    );
    // They still apply where the switch-on is the ordinary one.
    assert_eq!(
        with("not_before = \"18:30\"", &that_day("off = \"23:00\"")),
        ["walk 18:30:00 to 23:00:00: not before 18:30; fixed time 23:00"]
    );
    // A curfew applies on exceptional dates too.
    assert_eq!(
        with("curfew = \"22:30\"", &that_day("off = \"01:30\"")),
        ["walk 18:00:00 to 22:30:00: fixed time 18:00; curfew 22:30"]
    );
}

#[test]
fn a_date_with_a_switch_on_is_lit_whatever_day_of_the_week_it_is() {
    assert_eq!(
        with("days = [\"sat\"]", ""),
        ["walk dark: no lights on Wednesdays"]
    );
    assert_eq!(
        with(
            "days = [\"sat\"]",
            &that_day("on = \"18:00\"\noff = \"23:00\"")
        ),
        ["walk 18:00:00 to 23:00:00: fixed time 18:00; fixed time 23:00"]
    );
    // An exception that only moves the end does not light a zone that would be dark.
    assert_eq!(
        with("days = [\"sat\"]", &that_day("off = \"23:00\"")),
        ["walk dark: no lights on Wednesdays"]
    );
}

#[test]
fn of_dates_that_overlap_the_later_in_the_file_counts() {
    let dark = days("2027-02-01", "2027-02-28", "dark = true");
    let late = that_day("off = \"23:00\"");
    assert_eq!(
        with("", &(dark.clone() + &late)),
        ["walk 18:00:00 to 23:00:00: fixed time 18:00; fixed time 23:00"]
    );
    assert_eq!(
        with("", &(late.clone() + &dark)),
        ["walk dark: no lights from 2027-02-01 to 2027-02-28"]
    );
    // Each changes one thing: both count.
    assert_eq!(
        with("", &(late.clone() + &that_day("on = \"16:00\""))),
        ["walk 16:00:00 to 23:00:00: fixed time 16:00; fixed time 23:00"]
    );
    assert_eq!(
        with("", &(late + &that_day("off = \"21:00\""))),
        ["walk 18:00:00 to 21:00:00: fixed time 18:00; fixed time 21:00"]
    );
}

#[test]
fn a_date_is_for_one_zone_or_for_all_and_slaves_go_along() {
    let zones = |dates: &str| {
        let zones = zone("walk", "on = \"18:00\"\noff = \"22:00\"")
            + &zone("pond", "on = \"19:00\"\noff = \"22:00\"")
            + &slave("hedge", "walk", "")
            + dates;
        planned(&yard(GREENWICH, &zones), "2027-02-10")
    };
    assert_eq!(
        zones(&that_day("zone = \"walk\"\ndark = true")),
        [
            "walk dark: no lights on 2027-02-10",
            "pond 19:00:00 to 22:00:00: fixed time 19:00; fixed time 22:00",
            "hedge dark: walk stays dark",
        ]
    );
    assert_eq!(
        zones(&that_day("dark = true")),
        [
            "walk dark: no lights on 2027-02-10",
            "pond dark: no lights on 2027-02-10",
            "hedge dark: walk stays dark",
        ]
    );
    assert_eq!(
        zones(&that_day("on = \"20:00\"")),
        [
            "walk 20:00:00 to 22:00:00: fixed time 20:00; fixed time 22:00",
            "pond 20:00:00 to 22:00:00: fixed time 20:00; fixed time 22:00",
            "hedge 20:00:00.500 to 22:00:00.200: follows walk + 0.50 s; follows walk + 0.20 s",
        ]
    );
}

#[test]
fn moments_change_the_zones_own_window_and_darkness_all_of_them() {
    let morning = "[[window]]\nzone = \"walk\"\non = \"06:00\"\noff = \"07:00\"\n";
    assert_eq!(
        with("", &(morning.to_owned() + &that_day("off = \"01:30\""))),
        [
            "walk 18:00:00 to +1 01:30:00: fixed time 18:00; fixed time 01:30",
            "walk +1 06:00:00 to +1 07:00:00: fixed time 06:00; fixed time 07:00",
        ]
    );
    assert_eq!(
        with("", &(morning.to_owned() + &that_day("dark = true"))),
        ["walk dark: no lights on 2027-02-10"]
    );
}
