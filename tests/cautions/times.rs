//! Place, twilight and curfew.

use crate::support::yards::{QUIET, changed};

use super::{quiet, raises};

#[test]
fn s41_notes_a_longitude_that_does_not_fit_its_clock() {
    // Central European Time is 1 h; 38.5° west is the sun of −2.57 h: 3.6 h apart; 30° east: 1 h.
    let at = |longitude: &str| {
        changed(
            QUIET,
            &[("longitude = 8.0", &format!("longitude = {longitude}"))],
        )
    };
    raises(
        &at("-38.5"),
        "S41",
        "NOTE site: ",
        &["Europe/Berlin are 3.6 h ahead of the sun at longitude -38.5"],
    );
    quiet(&at("-14.0"), "S41");
    quiet(QUIET, "S41");
}

#[test]
fn s42_counts_the_nights_without_the_chosen_twilight() {
    let dusk = |latitude: &str, instead: &str| {
        changed(
            QUIET,
            &[
                ("latitude = 50.0", &format!("latitude = {latitude}")),
                ("longitude = 8.0", "longitude = 10.4"),
                ("on = \"sunset\"", &format!("on = \"civil_dusk\"{instead}")),
            ],
        )
    };
    // At 63.43° north the sun stays above −6° for 59 nights round midsummer, give or take one.
    let said = super::said(&dusk("63.43", ""), "S42");
    assert_eq!(said.len(), 1);
    let words: Vec<&str> = said[0].split(' ').collect();
    assert_eq!(words[..3], ["NOTE", "zone", "walk:"]);
    let nights: i32 = words[3].parse().unwrap();
    assert!((58..=60).contains(&nights), "{}", said[0]);
    assert!(
        said[0].contains(" nights without civil dusk, 2027-05-23 to 2027-07-")
            && said[0].ends_with(": sunset stands in"),
        "{}",
        said[0]
    );
    raises(
        &dusk("63.43", "\nif_no_twilight = \"22:00\""),
        "S42",
        "NOTE zone walk: ",
        &["without civil dusk", "22:00 stands in"],
    );
    quiet(&dusk("50.0", ""), "S42");
}

#[test]
fn s43_warns_of_a_slave_that_is_lit_inside_its_curfew() {
    let curfew = |time: &str| {
        changed(
            QUIET,
            &[(
                "name = \"pond\"\nsupply = \"far\"",
                &format!("name = \"pond\"\nsupply = \"far\"\ncurfew = \"{time}\""),
            )],
        )
    };
    // Its master goes off at 23:00, all year.
    raises(
        &curfew("22:30"),
        "S43",
        "WARN zone pond: ",
        &[
            "on 365 nights of the year",
            "its curfew is 22:30",
            "until 23:00",
        ],
    );
    quiet(&curfew("23:01"), "S43");
}

#[test]
fn s49_counts_the_evenings_that_end_before_they_begin() {
    let off = |time: &str| changed(QUIET, &[("off = \"23:00\"", &format!("off = \"{time}\""))]);
    // Sunset at 50° N, 8° E by the NREL algorithm: 20:59:50 CEST on 10 May, 21:01:18 on 11 May,
    // 21:01:15 on 7 August, 20:59:33 on 8 August; 16:26 CET at the earliest, never after 22:00.
    raises(
        &off("21:00"),
        "S49",
        "NOTE zone walk: ",
        &["dark on 89 evenings", "2027-05-11 to 2027-08-07"],
    );
    quiet(&off("22:00"), "S49");
    raises(&off("16:00"), "S49", "WARN zone walk: ", &["never lit"]);
}
