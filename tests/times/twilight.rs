//! Windows that depend on the sun: offsets, substitutes for a missing twilight, and the polar night.

use super::yard::{BERLIN, TROMSO, evening, planned, row_of, seconds, yard, zone};

#[test]
fn a_morning_window_that_the_sun_closes_early_is_dark_in_summer() {
    let keys = "on = \"05:30\"\noff = \"sunrise\"";
    let site = yard(BERLIN, &zone("walk", keys));
    // Sunrise of 2027-06-21 in Berlin is at 04:43 CEST, that of 2027-12-21 at 08:14 CET.
    assert_eq!(
        planned(&site, "2027-06-20"),
        ["walk dark: no lights: off at 04:43 CEST comes before on at 05:30 CEST"]
    );
    let winter = evening(&site, "2027-12-20");
    assert_eq!(winter.rows[0].why_off.say(&site), "sunrise 08:14 CET");
}

#[test]
fn offsets_move_an_event_by_that_much() {
    let zones = zone("at", "on = \"sunset\"\noff = \"sunrise\"")
        + &zone(
            "around",
            "on = \"sunset + 15 min\"\noff = \"sunrise - 1 h\"",
        );
    let site = yard(BERLIN, &zones);
    let plan = evening(&site, "2027-03-10");
    let (at, around) = (row_of(&site, &plan, "at"), row_of(&site, &plan, "around"));
    assert_eq!(around.on.unwrap() - at.on.unwrap(), seconds(900.0));
    assert_eq!(around.off.unwrap() - at.off.unwrap(), seconds(-3600.0));
    // Sunset and sunrise of these dates in Berlin.
    assert_eq!(around.why_on.say(&site), "15 min after sunset 18:01 CET");
    assert_eq!(around.why_off.say(&site), "1 h before sunrise 06:30 CET");
}

/// In Tromsø on 2027-05-10 the sun sets after midnight and no civil twilight ends; on 2027-06-21 it does not set.
#[test]
fn a_missing_twilight_has_a_stand_in_or_none() {
    let at = |keys: &str, evening: &str| {
        let mut lines = planned(&yard(TROMSO, &zone("quay", keys)), evening);
        lines.remove(0)
    };
    let sunset = at("on = \"sunset\"\noff = \"sunrise\"", "2027-05-10");
    let (times, _) = sunset.split_once(": ").unwrap();

    let dusk = "on = \"civil_dusk\"\noff = \"civil_dawn\"";
    let instead = at(dusk, "2027-05-10");
    assert!(
        instead.starts_with(times),
        "{instead} begins and ends as {times}"
    );
    assert!(
        instead.contains("instead, no civil dusk tonight"),
        "{instead}"
    );
    assert!(
        instead.contains("instead, no civil dawn tonight"),
        "{instead}"
    );
    assert_eq!(
        at(&format!("{dusk}\nif_no_twilight = \"skip\""), "2027-05-10"),
        "quay dark: no lights: no civil dusk tonight"
    );
    // The clock time only replaces the dusk: for the dawn it is sunrise.
    let clock = at(&format!("{dusk}\nif_no_twilight = \"22:00\""), "2027-05-10");
    assert!(
        clock.starts_with("quay 22:00:00 to ")
            && clock.contains("fixed time 22:00 instead, no civil dusk tonight; sunrise "),
        "{clock}"
    );
    // The zone's own clock time is not a twilight, and the dawn may still be missing.
    assert_eq!(
        at(
            "on = \"23:00\"\noff = \"civil_dawn\"\nif_no_twilight = \"skip\"",
            "2027-05-10"
        ),
        "quay dark: no lights: no civil dawn tonight"
    );

    assert_eq!(
        at(dusk, "2027-06-21"),
        "quay dark: no lights: no sunset tonight"
    );
    assert_eq!(
        at(&format!("{dusk}\nif_no_twilight = \"skip\""), "2027-06-21"),
        "quay dark: no lights: no civil dusk tonight"
    );
    assert_eq!(
        at(
            "on = \"civil_dusk\"\noff = \"23:30\"\nif_no_twilight = \"22:00\"",
            "2027-06-21"
        ),
        "quay 22:00:00 to 23:30:00: fixed time 22:00 instead, no civil dusk tonight; fixed time 23:30"
    );
}

#[test]
fn not_after_and_offsets_hold_for_the_stand_in_too() {
    let keys = "on = \"civil_dusk + 10 min\"\noff = \"02:00\"\nnot_after = \"23:00\"";
    let site = yard(TROMSO, &zone("quay", keys));
    assert_eq!(
        planned(&site, "2027-05-10"),
        ["quay 23:00:00 to +1 02:00:00: not after 23:00; fixed time 02:00"]
    );
}

#[test]
fn not_before_holds_in_the_polar_night() {
    let keys = "on = \"sunset\"\noff = \"sunrise\"\nnot_before = \"15:00\"";
    let site = yard(TROMSO, &zone("quay", keys));
    assert_eq!(
        planned(&site, "2027-12-21"),
        ["quay 15:00:00 to +1 12:00:00: not before 15:00; dark all day: no sunrise"]
    );
}
