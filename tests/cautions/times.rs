//! Place, twilight and curfew.

use super::{QUIET, changed, quiet, raises};

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
