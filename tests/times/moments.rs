//! Every rule for the start and end of a window, on its own. Times are clock times wherever possible, so that a
//! reader needs no almanac.

use super::yard::{GREENWICH, planned, yard, zone};

/// The single line of the plan for a yard in Greenwich with one zone.
fn line(keys: &str, evening: &str) -> String {
    let mut lines = planned(&yard(GREENWICH, &zone("walk", keys)), evening);
    assert_eq!(lines.len(), 1, "{lines:?}");
    lines.remove(0)
}

#[test]
fn clock_times_before_noon_are_of_the_next_day() {
    let cases = [
        (
            "18:00",
            "22:30",
            "walk 18:00:00 to 22:30:00: fixed time 18:00; fixed time 22:30",
        ),
        (
            "22:00",
            "01:30",
            "walk 22:00:00 to +1 01:30:00: fixed time 22:00; fixed time 01:30",
        ),
        (
            "05:30",
            "07:00",
            "walk +1 05:30:00 to +1 07:00:00: fixed time 05:30; fixed time 07:00",
        ),
        (
            "12:00",
            "11:59",
            "walk 12:00:00 to +1 11:59:00: fixed time 12:00; fixed time 11:59",
        ),
        (
            "18:00",
            "00:00",
            "walk 18:00:00 to +1 00:00:00: fixed time 18:00; fixed time 00:00",
        ),
    ];
    for (on, off, expected) in cases {
        assert_eq!(
            line(&format!("on = \"{on}\"\noff = \"{off}\""), "2027-02-10"),
            expected
        );
    }
}

#[test]
fn off_at_or_before_on_is_no_light_never_24_hours() {
    let cases = [
        (
            "18:00",
            "18:00",
            "walk dark: no lights: off at 18:00 UTC comes before on at 18:00 UTC",
        ),
        (
            "18:00",
            "12:00",
            "walk dark: no lights: off at 12:00 UTC comes before on at 18:00 UTC",
        ),
        (
            "05:00",
            "23:00",
            "walk dark: no lights: off at 23:00 UTC comes before on at 05:00 UTC",
        ),
        (
            "12:00",
            "12:00",
            "walk dark: no lights: off at 12:00 UTC comes before on at 12:00 UTC",
        ),
    ];
    for (on, off, expected) in cases {
        assert_eq!(
            line(&format!("on = \"{on}\"\noff = \"{off}\""), "2027-02-10"),
            expected
        );
    }
}

#[test]
fn for_counts_from_the_switch_on_and_stops_at_noon() {
    let cases = [
        (
            "on = \"22:00\"\nfor = \"4 h\"",
            "walk 22:00:00 to +1 02:00:00: fixed time 22:00; 4 h after it went on",
        ),
        (
            "on = \"22:00\"\nfor = \"90 min\"",
            "walk 22:00:00 to 23:30:00: fixed time 22:00; 1 h 30 min after it went on",
        ),
        (
            "on = \"10:00\"\nfor = \"2 h\"",
            "walk +1 10:00:00 to +1 12:00:00: fixed time 10:00; 2 h after it went on",
        ),
        (
            "on = \"10:00\"\nfor = \"3 h\"",
            "walk +1 10:00:00 to +1 12:00:00: fixed time 10:00; noon, where the evening ends",
        ),
        // A switch-on moved by another rule counts too.
        (
            "on = \"18:00\"\nfor = \"1 h\"\nnot_before = \"19:00\"",
            "walk 19:00:00 to 20:00:00: not before 19:00; 1 h after it went on",
        ),
    ];
    for (keys, expected) in cases {
        assert_eq!(line(keys, "2027-02-10"), expected, "{keys}");
    }
}

#[test]
fn not_before_and_not_after_hold_the_switch_on_and_say_so() {
    let keys = "on = \"20:00\"\noff = \"23:00\"";
    let cases = [
        (
            "not_before = \"19:59\"",
            "walk 20:00:00 to 23:00:00: fixed time 20:00; fixed time 23:00",
        ),
        (
            "not_before = \"20:00\"",
            "walk 20:00:00 to 23:00:00: fixed time 20:00; fixed time 23:00",
        ),
        (
            "not_before = \"20:01\"",
            "walk 20:01:00 to 23:00:00: not before 20:01; fixed time 23:00",
        ),
        (
            "not_after = \"20:01\"",
            "walk 20:00:00 to 23:00:00: fixed time 20:00; fixed time 23:00",
        ),
        (
            "not_after = \"19:59\"",
            "walk 19:59:00 to 23:00:00: not after 19:59; fixed time 23:00",
        ),
        (
            "not_before = \"21:00\"\nnot_after = \"22:00\"",
            "walk 21:00:00 to 23:00:00: not before 21:00; fixed time 23:00",
        ),
        (
            "not_before = \"18:00\"\nnot_after = \"19:00\"",
            "walk 19:00:00 to 23:00:00: not after 19:00; fixed time 23:00",
        ),
        // After midnight is later than any evening hour.
        (
            "not_before = \"00:30\"",
            "walk dark: no lights: off at 23:00 UTC comes before on at 00:30 UTC",
        ),
        (
            "not_after = \"00:30\"",
            "walk 20:00:00 to 23:00:00: fixed time 20:00; fixed time 23:00",
        ),
    ];
    for (more, expected) in cases {
        assert_eq!(
            line(&format!("{keys}\n{more}"), "2027-02-10"),
            expected,
            "{more}"
        );
    }
}

#[test]
fn days_are_those_of_the_evening_also_after_midnight() {
    // 2027-02-12 is a Friday.
    let late = "on = \"01:00\"\noff = \"02:00\"\ndays = [\"fri\"]";
    assert_eq!(
        line(late, "2027-02-12"),
        "walk +1 01:00:00 to +1 02:00:00: fixed time 01:00; fixed time 02:00"
    );
    assert_eq!(
        line(late, "2027-02-11"),
        "walk dark: no lights on Thursdays"
    );
    assert_eq!(
        line(late, "2027-02-13"),
        "walk dark: no lights on Saturdays"
    );
}

#[test]
fn a_curfew_ends_the_light_and_keeps_later_windows_dark() {
    let keys = "on = \"18:00\"\noff = \"01:00\"";
    let cases = [
        (
            "curfew = \"22:30\"",
            "walk 18:00:00 to 22:30:00: fixed time 18:00; curfew 22:30",
        ),
        (
            "curfew = \"00:15\"",
            "walk 18:00:00 to +1 00:15:00: fixed time 18:00; curfew 00:15",
        ),
        (
            "curfew = \"01:00\"",
            "walk 18:00:00 to +1 01:00:00: fixed time 18:00; fixed time 01:00",
        ),
        (
            "curfew = \"01:01\"",
            "walk 18:00:00 to +1 01:00:00: fixed time 18:00; fixed time 01:00",
        ),
        (
            "curfew = \"18:00\"",
            "walk dark: no lights: the curfew begins at 18:00",
        ),
        (
            "curfew = \"17:00\"",
            "walk dark: no lights: the curfew begins at 17:00",
        ),
    ];
    for (curfew, expected) in cases {
        assert_eq!(
            line(&format!("{keys}\n{curfew}"), "2027-02-10"),
            expected,
            "{curfew}"
        );
    }
    let morning = zone("walk", &format!("{keys}\ncurfew = \"22:30\""))
        + "[[window]]\nzone = \"walk\"\non = \"05:30\"\noff = \"07:00\"\n";
    assert_eq!(
        planned(&yard(GREENWICH, &morning), "2027-02-10"),
        [
            "walk dark: no lights: the curfew begins at 22:30",
            "walk 18:00:00 to 22:30:00: fixed time 18:00; curfew 22:30",
        ]
    );
}

#[test]
fn every_window_has_a_row_in_the_order_of_the_clock() {
    let zones = zone("walk", "on = \"20:00\"\noff = \"22:00\"\ndays = [\"wed\"]")
        + "[[window]]\nzone = \"walk\"\non = \"05:30\"\noff = \"07:00\"\n\
           [[window]]\nzone = \"walk\"\non = \"17:00\"\noff = \"18:00\"\ndays = [\"wed\", \"thu\"]\n";
    let site = yard(GREENWICH, &zones);
    // A Wednesday. The morning window takes the zone's days.
    assert_eq!(
        planned(&site, "2027-02-10"),
        [
            "walk 17:00:00 to 18:00:00: fixed time 17:00; fixed time 18:00",
            "walk 20:00:00 to 22:00:00: fixed time 20:00; fixed time 22:00",
            "walk +1 05:30:00 to +1 07:00:00: fixed time 05:30; fixed time 07:00",
        ]
    );
    assert_eq!(
        planned(&site, "2027-02-11"),
        [
            "walk dark: no lights on Thursdays",
            "walk dark: no lights on Thursdays",
            "walk 17:00:00 to 18:00:00: fixed time 17:00; fixed time 18:00",
        ]
    );
}

#[test]
fn windows_that_meet_are_one_lit_stretch() {
    let windows = |second: &str, third: &str| {
        let window = |keys: &str| format!("[[window]]\nzone = \"walk\"\n{keys}\n");
        let site = yard(
            GREENWICH,
            &(zone("walk", "on = \"18:00\"\noff = \"20:00\"") + &window(second) + &window(third)),
        );
        planned(&site, "2027-02-10")
    };
    // A window that overlaps, and one that begins where the other ends.
    assert_eq!(
        windows(
            "on = \"19:00\"\noff = \"21:00\"",
            "on = \"21:00\"\noff = \"22:00\""
        ),
        ["walk 18:00:00 to 22:00:00: fixed time 18:00; fixed time 22:00"]
    );
    // A window that lies inside, and one that begins earlier.
    assert_eq!(
        windows(
            "on = \"18:30\"\noff = \"19:00\"",
            "on = \"17:00\"\nfor = \"2 h\""
        ),
        ["walk 17:00:00 to 20:00:00: fixed time 17:00; fixed time 20:00"]
    );
    // Windows one minute apart stay separate.
    assert_eq!(
        windows(
            "on = \"20:01\"\noff = \"21:00\"",
            "on = \"18:00\"\noff = \"18:01\""
        ),
        [
            "walk 18:00:00 to 20:00:00: fixed time 18:00; fixed time 20:00",
            "walk 20:01:00 to 21:00:00: fixed time 20:01; fixed time 21:00",
        ]
    );
}
