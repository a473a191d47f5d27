//! The exact words of every reason. Sun times are of Meeus, Astronomical Algorithms, chapter 25 (low accuracy), worked
//! out in a few lines of Python; none is within 2 s of a full minute.

use pilotwire::report::rows_text;

use super::yard::{BERLIN, TROMSO, evening, row_of, yard, zone};

/// Why a zone with these keys goes on and off, in Berlin.
fn why(keys: &str, name: &str) -> [String; 2] {
    let site = yard(BERLIN, &zone("gate", keys));
    let plan = evening(&site, name);
    let row = row_of(&site, &plan, "gate");
    [row.why_on.say(&site), row.why_off.say(&site)]
}

#[test]
fn passages_of_the_sun_carry_their_local_time() {
    let cases = [
        (
            "on = \"sunset\"\noff = \"sunrise\"",
            ["sunset 18:01 CET", "sunrise 06:30 CET"],
        ),
        (
            "on = \"civil_dusk\"\noff = \"civil_dawn\"",
            ["civil dusk 18:35 CET", "civil dawn 05:56 CET"],
        ),
        (
            "on = \"nautical_dusk\"\noff = \"nautical_dawn\"",
            ["nautical dusk 19:14 CET", "nautical dawn 05:17 CET"],
        ),
        (
            "on = \"astronomical_dusk\"\noff = \"astronomical_dawn\"",
            ["astronomical dusk 19:55 CET", "astronomical dawn 04:36 CET"],
        ),
        (
            "on = \"sun -3.5 deg\"\noff = \"sun 2 deg - 90 s\"",
            [
                "sun at −3.5° sinking 18:18 CET",
                "1 min 30 s before sun at 2° rising 06:49 CET",
            ],
        ),
        (
            "on = \"sunset - 90 min\"\nfor = \"30 s\"",
            [
                "1 h 30 min before sunset 18:01 CET",
                "30 s after it went on",
            ],
        ),
    ];
    for (keys, expected) in cases {
        assert_eq!(why(keys, "2027-03-10"), expected, "{keys}");
    }
}

#[test]
fn summer_time_is_in_the_abbreviation() {
    let keys = "on = \"sunset\"\noff = \"sunrise\"";
    // The clocks go forward in this night.
    assert_eq!(
        why(keys, "2027-03-27"),
        ["sunset 18:31 CET", "sunrise 06:51 CEST"]
    );
}

#[test]
fn nights_are_counted_by_reasons_without_their_times() {
    let kind = |keys: &str, name: &str| {
        let site = yard(TROMSO, &zone("gate", keys));
        evening(&site, name).rows[0].why_on.kind(&site)
    };
    let cases = [
        (
            "on = \"20:00\"\noff = \"19:00\"",
            "2027-03-10",
            "off comes before on",
        ),
        (
            "on = \"20:00\"\noff = \"21:00\"\ndays = [\"sat\"]",
            "2027-03-10",
            "not lit on that day of the week",
        ),
        (
            "on = \"sunset\"\noff = \"03:00\"",
            "2027-06-21",
            "no sunset",
        ),
        (
            "on = \"20:00\"\noff = \"21:00\"\ncurfew = \"19:00\"",
            "2027-03-10",
            "no lights: the curfew begins at 19:00",
        ),
        (
            "on = \"20:00\"\noff = \"21:00\"\n[[date]]\nfrom = 2027-03-10\ndark = true",
            "2027-03-10",
            "dark by [[date]]",
        ),
    ];
    for (keys, name, expected) in cases {
        assert_eq!(kind(keys, name), expected, "{keys}");
    }
}

#[test]
fn only_reasons_of_darkness_keep_dark() {
    let site = yard(
        BERLIN,
        &(zone("lit", "on = \"sunset\"\nfor = \"1 h\"")
            + &zone("dark", "on = \"20:00\"\noff = \"19:00\"")),
    );
    let plan = evening(&site, "2027-03-10");
    let lit = row_of(&site, &plan, "lit");
    assert!(!lit.why_on.keeps_dark() && !lit.why_off.keeps_dark());
    assert!(row_of(&site, &plan, "dark").why_on.keeps_dark());
}

#[test]
fn a_clock_time_that_is_skipped_or_shown_twice_says_so() {
    // Clocks go forward on 2027-03-28 at 02:00 and back on 2027-10-31 at 03:00.
    assert_eq!(
        why("on = \"22:00\"\noff = \"02:30\"", "2027-03-27"),
        [
            "fixed time 22:00",
            "fixed time 02:30, which the clocks skip: 03:30 CEST"
        ]
    );
    assert_eq!(
        why("on = \"22:00\"\noff = \"02:30\"", "2027-10-30"),
        ["fixed time 22:00", "fixed time 02:30, the first of two"]
    );
}

#[test]
fn a_plan_fits_a_terminal_however_long_the_names() {
    let long = "a-zone-with-a-name-that-goes-on-and-on";
    let site = yard(
        BERLIN,
        &(zone(long, "on = \"civil_dusk + 15 min\"\noff = \"02:30\"")
            + "[[window]]\nzone = \"a-zone-with-a-name-that-goes-on-and-on\"\non = \"05:00\"\noff = \"06:00\"\ndays = [\"fri\"]\n"
            + "[[window]]\nzone = \"a-zone-with-a-name-that-goes-on-and-on\"\non = \"07:00\"\noff = \"08:00\"\ndays = [\"fri\"]\n"),
    );
    let plan = evening(&site, "2027-03-27");
    let text = rows_text(&site, &plan);
    let lines: Vec<&str> = text.lines().collect();
    assert!(
        lines.iter().all(|line| line.chars().count() <= 80),
        "{text}"
    );
    // Windows that are dark for the same reason are printed once; summer time aligns with winter time.
    let [.., name, dark, again, on, off] = lines.as_slice() else {
        panic!("{text}")
    };
    assert_eq!(
        [*name, *dark, *again],
        [
            "  a-zone-with-a-name-that-goes-on-and-on",
            "    skip  one window: no lights on Saturdays",
            "  a-zone-with-a-name-that-goes-on-and-on",
        ]
    );
    assert!(
        on.ends_with(" CET   15 min after civil dusk 19:05 CET"),
        "{on}"
    );
    assert!(
        off.ends_with(" CEST  fixed time 02:30, which the clocks skip: 03:30 CEST"),
        "{off}"
    );
}
