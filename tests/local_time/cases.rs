//! The cases of `tests/data/time-cases.json` that concern clocks, by their ids.

use chrono::{DateTime, Days, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Utc};
use pilotwire::civil_time::{Occurrence, Resolved, SiteZone, ZoneInfo};
use serde_json::Value;

use super::frozen::{self, empty_directory, put, tzif_with_transitions};

/// One case of the file.
struct Case(Value);

impl Case {
    fn read(id: u64) -> Self {
        let cases: Vec<Value> =
            serde_json::from_str(include_str!("../data/time-cases.json")).unwrap();
        Self(cases.into_iter().find(|case| case["id"] == id).unwrap())
    }

    fn text(&self, key: &str) -> &str {
        self.0[key]
            .as_str()
            .unwrap_or_else(|| panic!("a text under {key}"))
    }

    fn zone(&self) -> SiteZone {
        frozen::zone(self.text("zone"))
    }

    fn utc(&self, key: &str) -> DateTime<Utc> {
        self.text(key).parse().unwrap()
    }

    fn local(&self, key: &str) -> NaiveDateTime {
        NaiveDateTime::parse_from_str(self.text(key), "%Y-%m-%dT%H:%M").unwrap()
    }

    /// First and last instant of a civil day.
    fn day(&self, key: &str) -> [DateTime<Utc>; 2] {
        [0, 1].map(|end| self.0[key][end].as_str().unwrap().parse().unwrap())
    }
}

/// Checks that the clock times of an evening lie in the 24 hours from its noon.
fn in_evening(zone: &SiteZone, evening: &str, clock: &str) -> DateTime<Utc> {
    let date: NaiveDate = evening.parse().unwrap();
    let clock = NaiveTime::parse_from_str(clock, "%H:%M").unwrap();
    let noon = NaiveTime::from_hms_opt(12, 0, 0).unwrap();
    let date = if clock < noon {
        date + Days::new(1)
    } else {
        date
    };
    zone.resolve(date.and_time(clock)).utc
}

/// From midnight to midnight on the wall.
fn civil_day(zone: &SiteZone, date: &str) -> [DateTime<Utc>; 2] {
    let date: NaiveDate = date.parse().unwrap();
    [date, date + Days::new(1)].map(|date| zone.resolve(date.and_time(NaiveTime::MIN)).utc)
}

#[test]
fn case_1_a_time_in_the_gap_takes_the_offset_before_the_gap() {
    let case = Case::read(1);
    let (zone, utc) = (case.zone(), case.utc("expect_utc"));
    let resolved = zone.resolve(case.local("local"));
    assert_eq!(
        resolved,
        Resolved {
            utc,
            how: Occurrence::Gap
        }
    );
    // The wall clock then shows an hour later.
    assert_eq!(
        zone.to_local(utc),
        case.local("local") + TimeDelta::hours(1)
    );
    assert_eq!(zone.offset_at(utc).abbreviation.as_str(), "EDT");
}

#[test]
fn case_2_a_time_in_the_fold_means_the_first_one() {
    let case = Case::read(2);
    let resolved = case.zone().resolve(case.local("local"));
    assert_eq!(
        resolved,
        Resolved {
            utc: case.utc("expect_utc"),
            how: Occurrence::Fold
        }
    );
    // The other reading shows the same on the wall clock.
    assert_eq!(
        case.zone().to_local(case.utc("not_utc")),
        case.local("local")
    );
}

#[test]
fn case_4_23_00_to_03_00_over_the_gap_takes_three_hours() {
    let case = Case::read(4);
    let zone = case.zone();
    assert_eq!(in_evening(&zone, "2026-03-07", "23:00"), case.utc("on_utc"));
    assert_eq!(
        in_evening(&zone, "2026-03-07", "03:00"),
        case.utc("off_utc")
    );
    assert_eq!(
        case.utc("off_utc") - case.utc("on_utc"),
        TimeDelta::hours(3)
    );
}

#[test]
fn case_5_days_of_23_and_25_hours() {
    let case = Case::read(5);
    let zone = case.zone();
    assert_eq!(civil_day(&zone, "2026-03-29"), case.day("day_23h"));
    assert_eq!(civil_day(&zone, "2026-10-25"), case.day("day_25h"));
}

#[test]
fn case_6_a_gap_of_30_minutes() {
    let case = Case::read(6);
    let (zone, utc) = (case.zone(), case.utc("expect_utc"));
    assert_eq!(
        zone.resolve(case.local("local")),
        Resolved {
            utc,
            how: Occurrence::Gap
        }
    );
    assert_eq!(
        zone.to_local(utc),
        case.local("local") + TimeDelta::minutes(30)
    );
    assert_eq!(zone.offset_at(utc).abbreviation.as_str(), "+11");
}

#[test]
fn case_7_a_fold_of_30_minutes() {
    let case = Case::read(7);
    let resolved = case.zone().resolve(case.local("local"));
    assert_eq!(
        resolved,
        Resolved {
            utc: case.utc("expect_utc"),
            how: Occurrence::Fold
        }
    );
    assert_eq!(
        case.zone().to_local(case.utc("not_utc")),
        case.local("local")
    );
}

#[test]
fn case_9_a_fold_before_midnight_belongs_to_the_day_that_ends() {
    let case = Case::read(9);
    let zone = case.zone();
    let resolved = zone.resolve(case.local("local"));
    assert_eq!(
        resolved,
        Resolved {
            utc: case.utc("expect_utc"),
            how: Occurrence::Fold
        }
    );
    assert_eq!(zone.to_local(case.utc("not_utc")), case.local("local"));
    assert_eq!(civil_day(&zone, "2026-04-04"), case.day("day"));
    assert_eq!(
        zone.offset_at(case.utc("not_utc")).abbreviation.as_str(),
        "-04"
    );
}

#[test]
fn case_12_off_times_after_midnight_belong_to_the_evening_before() {
    let case = Case::read(12);
    let (zone, evening) = (case.zone(), case.text("evening"));
    assert_eq!(in_evening(&zone, evening, "00:30"), case.utc("off_0030"));
    assert_eq!(in_evening(&zone, evening, "00:15"), case.utc("off_0015"));
}

#[test]
fn case_16_an_off_time_in_the_fold_ends_the_evening_at_its_first_occurrence() {
    let case = Case::read(16);
    let zone = case.zone();
    assert_eq!(
        in_evening(&zone, "2026-10-24", "02:30"),
        case.utc("off_utc")
    );
    assert_eq!(
        zone.to_local(case.utc("not_utc")),
        zone.to_local(case.utc("off_utc"))
    );
}

#[test]
fn case_17_an_off_time_before_dusk_stays_on_its_evening() {
    let case = Case::read(17);
    assert_eq!(
        in_evening(&case.zone(), "2026-06-21", "21:30"),
        case.utc("off_utc")
    );
    assert!(case.utc("off_utc") < case.utc("on_utc"));
}

#[test]
fn case_19_a_gap_and_a_fold_of_two_hours() {
    let case = Case::read(19);
    let zone = case.zone();
    let gap = zone.resolve(case.local("gap_local"));
    assert_eq!(
        gap,
        Resolved {
            utc: case.utc("gap_utc"),
            how: Occurrence::Gap
        }
    );
    let fold = zone.resolve(case.local("fold_local"));
    assert_eq!(
        fold,
        Resolved {
            utc: case.utc("fold_utc"),
            how: Occurrence::Fold
        }
    );
    assert_eq!(zone.to_local(case.utc("not_utc")), case.local("fold_local"));
}

#[test]
fn the_edges_of_a_gap_and_of_a_fold_occur_once() {
    // Where chrono's `Local` goes wrong: chrono issue #1625.
    let zone = frozen::zone("America/New_York");
    for (local, utc, how) in [
        (
            "2026-03-08T01:59:59",
            "2026-03-08T06:59:59Z",
            Occurrence::Unique,
        ),
        (
            "2026-03-08T02:00:00",
            "2026-03-08T07:00:00Z",
            Occurrence::Gap,
        ),
        (
            "2026-03-08T02:59:59",
            "2026-03-08T07:59:59Z",
            Occurrence::Gap,
        ),
        (
            "2026-03-08T03:00:00",
            "2026-03-08T07:00:00Z",
            Occurrence::Unique,
        ),
        (
            "2026-11-01T00:59:59",
            "2026-11-01T04:59:59Z",
            Occurrence::Unique,
        ),
        (
            "2026-11-01T01:00:00",
            "2026-11-01T05:00:00Z",
            Occurrence::Fold,
        ),
        (
            "2026-11-01T01:59:59.5",
            "2026-11-01T05:59:59.5Z",
            Occurrence::Fold,
        ),
        (
            "2026-11-01T02:00:00",
            "2026-11-01T07:00:00Z",
            Occurrence::Unique,
        ),
    ] {
        let expected = Resolved {
            utc: utc.parse().unwrap(),
            how,
        };
        assert_eq!(zone.resolve(local.parse().unwrap()), expected, "{local}");
    }
}

#[test]
fn transitions_of_a_year_say_when_and_how_far_the_clocks_move() {
    let zone = frozen::zone("Europe/Berlin");
    let year: [DateTime<Utc>; 2] =
        ["2026-01-01T00:00:00Z", "2027-01-01T00:00:00Z"].map(|t| t.parse().unwrap());
    let changes: Vec<_> = zone
        .transitions_between(year[0], year[1])
        .into_iter()
        .map(|c| {
            format!(
                "{} {} to {}, {} s",
                c.at,
                c.before.abbreviation,
                c.after.abbreviation,
                c.shift_s()
            )
        })
        .collect();
    assert_eq!(
        changes,
        [
            "2026-03-29 01:00:00 UTC CET to CEST, 3600 s",
            "2026-10-25 01:00:00 UTC CEST to CET, -3600 s"
        ]
    );
}

#[test]
fn a_transition_is_between_if_it_is_at_the_beginning_but_not_at_the_end() {
    let zone = frozen::zone("Europe/Berlin");
    let at: DateTime<Utc> = "2026-03-29T01:00:00Z".parse().unwrap();
    let (second, half) = (TimeDelta::seconds(1), TimeDelta::milliseconds(500));
    assert_eq!(zone.transitions_between(at, at + second).len(), 1);
    assert_eq!(zone.transitions_between(at - second, at).len(), 0);
    assert_eq!(zone.transitions_between(at - half, at + half).len(), 1);
    assert_eq!(zone.transitions_between(at + half, at + second).len(), 0);
    assert_eq!(
        frozen::zone("Asia/Shanghai")
            .transitions_between(at, at + second * 100_000_000)
            .len(),
        0
    );
}

#[test]
fn the_rule_holds_before_and_beyond_the_years_that_are_listed() {
    let zone = frozen::zone("Europe/Berlin");
    // Sundays by the Gregorian calendar, which repeats after 400 years: those of 2026.
    for shift in [-400_i32, 400, 4000] {
        let year = 2026 + shift;
        let local = |text: &str| format!("{year}-{text}").parse::<NaiveDateTime>().unwrap();
        let utc = |text: &str| local(text).and_utc();
        let fold = zone.resolve(local("10-25T02:30:00"));
        assert_eq!(
            fold,
            Resolved {
                utc: utc("10-25T00:30:00"),
                how: Occurrence::Fold
            }
        );
        let gap = zone.resolve(local("03-29T02:30:00"));
        assert_eq!(
            gap,
            Resolved {
                utc: utc("03-29T01:30:00"),
                how: Occurrence::Gap
            }
        );
        let changes = zone.transitions_between(utc("01-01T00:00:00"), utc("12-31T00:00:00"));
        assert_eq!(changes.len(), 2, "{year}");
    }
    let [from, to] = ["1940-01-01T00:00:00Z", "2110-01-01T00:00:00Z"].map(|t| t.parse().unwrap());
    assert_eq!(zone.transitions_between(from, to).len(), 2 * 170);
}

#[test]
fn dublin_has_its_daylight_saving_label_in_winter() {
    let zone = frozen::zone("Europe/Dublin");
    let [winter, summer] = ["2026-01-01T12:00:00Z", "2026-07-01T12:00:00Z"]
        .map(|t| zone.offset_at(t.parse().unwrap()));
    assert_eq!(
        (
            winter.utc_offset_s,
            winter.is_dst,
            winter.abbreviation.as_str()
        ),
        (0, true, "GMT")
    );
    assert_eq!(
        (
            summer.utc_offset_s,
            summer.is_dst,
            summer.abbreviation.as_str()
        ),
        (3600, false, "IST")
    );
}

#[test]
fn the_rule_takes_over_at_the_last_transition_even_if_that_one_changes_nothing() {
    // Macquarie stayed on daylight saving time for all of 2010, and its file says so by a last
    // transition at the end of that year, from AEDT to AEDT (tz 2026f).
    let types = [(36_000, false, "EST"), (39_600, true, "EDT")];
    let [spring_2009, end_2010] = ["2009-10-03T16:00:00Z", "2010-12-31T13:00:00Z"]
        .map(|t| t.parse::<DateTime<Utc>>().unwrap());
    let transitions = [(spring_2009.timestamp(), 1), (end_2010.timestamp(), 1)];
    let rule = "EST-10EDT,M10.1.0,M4.1.0/3";
    let directory = empty_directory("macquarie");
    put(
        &directory,
        "Rule",
        &tzif_with_transitions(&types, &transitions, rule),
    );
    let zone = ZoneInfo::new([&directory]).open("Rule").unwrap();

    let winter_2010 = "2010-07-01T00:00:00Z".parse().unwrap();
    assert_eq!(zone.offset_at(winter_2010).utc_offset_s, 39_600);
    let to = "2012-01-01T00:00:00Z".parse().unwrap();
    let changes: Vec<_> = zone
        .transitions_between(spring_2009, to)
        .iter()
        .map(|c| c.at.to_string())
        .collect();
    assert_eq!(
        changes,
        [
            "2009-10-03 16:00:00 UTC",
            "2011-04-02 16:00:00 UTC",
            "2011-10-01 16:00:00 UTC"
        ]
    );
}
