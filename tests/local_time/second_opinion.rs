//! Every zone of the machine's database, against jiff's reading of the same files.

use std::fs;

use chrono::{DateTime, Datelike, NaiveDateTime, TimeDelta, Timelike, Utc};
use jiff::tz::{AmbiguousOffset, TimeZone};
use pilotwire::civil_time::{LocalOffset, Occurrence, SiteZone, ZoneInfo};

use super::frozen::{empty_directory, put, tzif};

/// Counts the comparisons, so that a test cannot pass by comparing nothing.
#[derive(Debug, Default)]
struct Compared {
    zones: u32,
    transitions: u32,
    local_times: u32,
    gaps: u32,
    folds: u32,
}

/// Every zone of the machine, read by both libraries.
fn zones() -> impl Iterator<Item = (SiteZone, TimeZone)> {
    let info = ZoneInfo::from_environment();
    let names = info.names();
    assert!(
        names.len() > 300,
        "this test needs the tz database: `apt install tzdata`"
    );
    names.into_iter().filter_map(move |name| {
        let zone = match info.open(&name) {
            Ok(zone) => zone,
            // Ojinaga as the zic of glibc 2.36 makes it with `-b slim`: its last transition is not
            // what the footer says (RFC 9636, section 3.3, wants it to be), so tz-rs refuses it.
            Err(error)
                if error
                    .to_string()
                    .contains("inconsistent with the last transition") =>
            {
                println!("left out: {error}");
                return None;
            }
            Err(error) => panic!("{name}: {error}"),
        };
        let bytes = fs::read(zone.path()).unwrap();
        let second = TimeZone::tzif(&name, &bytes).unwrap_or_else(|e| panic!("{name}: {e}"));
        Some((zone, second))
    })
}

fn utc(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

fn timestamp(at: DateTime<Utc>) -> jiff::Timestamp {
    jiff::Timestamp::from_second(at.timestamp()).unwrap()
}

/// Small numbers of the calendar.
fn small<T: TryFrom<u32, Error: std::fmt::Debug>>(number: u32) -> T {
    number.try_into().unwrap()
}

fn civil(local: NaiveDateTime) -> jiff::civil::DateTime {
    jiff::civil::DateTime::new(
        local.year().try_into().unwrap(),
        small(local.month()),
        small(local.day()),
        small(local.hour()),
        small(local.minute()),
        small(local.second()),
        0,
    )
    .unwrap()
}

/// jiff's offset at an instant, in our terms.
fn assert_same_offset(zone: &SiteZone, second: &TimeZone, at: DateTime<Utc>) {
    let ours = zone.offset_at(at);
    let theirs = second.to_offset_info(timestamp(at));
    let same = ours.utc_offset_s == theirs.offset().seconds()
        && ours.abbreviation.as_str() == theirs.abbreviation()
        && ours.is_dst == theirs.dst().is_dst();
    assert!(same, "{} at {at}: {ours:?}, jiff {theirs:?}", zone.name());
}

/// For a gap and a fold, jiff returns both offsets; RFC 5545, section 3.3.5, takes `before` in either.
fn assert_same_instant(
    zone: &SiteZone,
    second: &TimeZone,
    local: NaiveDateTime,
    count: &mut Compared,
) {
    let (offset, how) = match second.to_ambiguous_timestamp(civil(local)).offset() {
        AmbiguousOffset::Unambiguous { offset } => (offset, Occurrence::Unique),
        AmbiguousOffset::Gap { before, .. } => (before, Occurrence::Gap),
        AmbiguousOffset::Fold { before, .. } => (before, Occurrence::Fold),
    };
    let theirs = local.and_utc() - TimeDelta::seconds(offset.seconds().into());
    let ours = zone.resolve(local);
    assert!(
        (ours.utc, ours.how) == (theirs, how),
        "{} {local}: {ours:?}, jiff {theirs} {how:?}",
        zone.name()
    );
    // Back again: the same time on the wall, unless it is never shown.
    assert_eq!(
        zone.to_local(ours.utc) == local,
        how != Occurrence::Gap,
        "{} {local}",
        zone.name()
    );
    count.local_times += 1;
    count.gaps += u32::from(how == Occurrence::Gap);
    count.folds += u32::from(how == Occurrence::Fold);
}

/// Both readings of every transition in a stretch of time, and of the hours around it on the wall.
fn compare(
    zone: &SiteZone,
    second: &TimeZone,
    (from, to): (DateTime<Utc>, DateTime<Utc>),
    step: TimeDelta,
    count: &mut Compared,
) {
    let changes = zone.transitions_between(from, to);
    // jiff also lists entries of the file that change nothing; and it starts after, not at.
    let theirs = second
        .following(timestamp(from - TimeDelta::seconds(1)))
        .take_while(|t| t.timestamp() < timestamp(to))
        .filter(|t| {
            let before = second.to_offset_info(t.timestamp() - jiff::SignedDuration::from_secs(1));
            (before.offset(), before.abbreviation(), before.dst())
                != (t.offset(), t.abbreviation(), t.dst())
        });
    let theirs: Vec<_> = theirs.map(|t| t.timestamp().as_second()).collect();
    let ours: Vec<_> = changes.iter().map(|change| change.at.timestamp()).collect();
    assert_eq!(ours, theirs, "{} from {from} to {to}", zone.name());

    for change in changes {
        count.transitions += 1;
        let last_before = change.at - TimeDelta::seconds(1);
        assert_eq!(zone.offset_at(last_before), change.before);
        assert_eq!(zone.offset_at(change.at), change.after);
        assert_same_offset(zone, second, last_before);
        assert_same_offset(zone, second, change.at);
        // Around the wall clock's time just before and just after.
        let wall = |offset: LocalOffset| {
            change.at.naive_utc() + TimeDelta::seconds(offset.utc_offset_s.into())
        };
        let (a, b) = (wall(change.before), wall(change.after));
        let (mut local, last) = (
            a.min(b) - TimeDelta::hours(3),
            a.max(b) + TimeDelta::hours(3),
        );
        while local <= last {
            assert_same_instant(zone, second, local, count);
            local += step;
        }
        for edge in [a, b] {
            assert_same_instant(zone, second, edge - TimeDelta::seconds(1), count);
            assert_same_instant(zone, second, edge, count);
        }
    }
}

#[test]
fn every_zone_agrees_around_every_transition_of_2024_to_2037() {
    let years = (utc("2024-01-01T00:00:00Z"), utc("2038-01-01T00:00:00Z"));
    let mut count = Compared::default();
    for (zone, second) in zones() {
        compare(&zone, &second, years, TimeDelta::minutes(5), &mut count);
        count.zones += 1;
    }
    println!("{count:?}");
    assert!(count.zones > 300, "{count:?}");
    assert!(count.gaps > 10_000 && count.folds > 10_000, "{count:?}");
}

#[test]
fn every_zone_agrees_around_every_transition_since_1950() {
    let years = (utc("1950-01-01T00:00:00Z"), utc("2024-01-01T00:00:00Z"));
    let mut count = Compared::default();
    for (zone, second) in zones() {
        compare(&zone, &second, years, TimeDelta::minutes(5), &mut count);
        count.zones += 1;
    }
    println!("{count:?}");
    assert!(count.zones > 300, "{count:?}");
    assert!(count.gaps > 10_000 && count.folds > 10_000, "{count:?}");
}

#[test]
fn every_zone_agrees_after_the_last_transition_of_its_file() {
    let mut count = Compared::default();
    for (zone, second) in zones() {
        // Files list transitions up to 2037 at most.
        for year in [2038, 2039, 2040, 2044, 2060, 2099, 2100, 2101, 2104, 2400] {
            let years = [year, year + 1].map(|year| utc(&format!("{year}-01-01T00:00:00Z")));
            compare(
                &zone,
                &second,
                years.into(),
                TimeDelta::minutes(15),
                &mut count,
            );
        }
        count.zones += 1;
    }
    println!("{count:?}");
    assert!(count.zones > 300, "{count:?}");
    assert!(count.gaps > 5_000 && count.folds > 5_000, "{count:?}");
}

#[test]
fn every_zone_agrees_on_ordinary_days_too() {
    let mut count = Compared::default();
    let (from, to) = (utc("1950-01-01T00:00:00Z"), utc("2102-01-01T00:00:00Z"));
    for (zone, second) in zones() {
        let mut at = from;
        while at < to {
            assert_same_offset(&zone, &second, at);
            assert_same_instant(&zone, &second, at.naive_utc(), &mut count);
            // Co-prime to the day and to the week, so that all hours and weekdays come.
            at += TimeDelta::minutes(150 * 24 * 60 / 2 + 37);
        }
        count.zones += 1;
    }
    println!("{count:?}");
    assert!(count.zones > 300, "{count:?}");
    assert!(count.local_times > 100_000, "{count:?}");
}

#[test]
fn rules_of_every_form_agree() {
    let directory = empty_directory("rules");
    let years = (utc("1948-01-01T00:00:00Z"), utc("2105-01-01T00:00:00Z"));
    for rule in [
        // Days counted without and with the leap day; 31 December and beyond.
        "AAA3BBB,J59/0,J300/2",
        "AAA3BBB,J60/0,J300/2",
        "AAA3BBB,59,300",
        "AAA-11BBB,J335,J20",
        // A change by the old clock on the day before, as in Nuuk; long after midnight, as once in
        // Jerusalem; over the turn of the year in the south; a fifth and a fourth week.
        "<-02>2<-01>,M3.5.0/-1,M10.5.0/0",
        "IST-2IDT,M3.4.4/26,M10.5.0",
        "<+1245>-12:45<+1345>,M9.5.0/2:45,M4.1.0/3:45",
        "AAA5BBB,M2.5.6/0,M11.4.4/24",
        // Daylight saving by less and by more than an hour, and by a step back.
        "AAA5BBB4:30,M3.2.0,M11.1.0",
        "AAA5BBB2,M3.2.0,M11.1.0",
        "IST-1GMT0,M10.5.0,M3.5.0/1",
    ] {
        put(&directory, "Rule", &tzif(rule));
        let zone = ZoneInfo::new([&directory]).open("Rule").unwrap();
        let second = TimeZone::posix(rule).unwrap();
        let mut count = Compared::default();
        compare(&zone, &second, years, TimeDelta::minutes(5), &mut count);
        assert_eq!(count.transitions, 2 * 157, "{rule}");
        assert_same_offset(&zone, &second, utc("2026-01-15T12:00:00Z"));
        assert_same_offset(&zone, &second, utc("2026-07-15T12:00:00Z"));
    }
}

#[test]
fn daylight_saving_all_year_has_no_transitions() {
    // The form of RFC 9636, section 3.3.1, for which jiff 1.0 reports two transitions a year and a wrong
    // offset between them.
    let directory = empty_directory("all_year");
    put(&directory, "Rule", &tzif("XXX3EDT4,0/0,J365/23"));
    let zone = ZoneInfo::new([&directory]).open("Rule").unwrap();
    for years in [("1940", "1960"), ("1960", "2090"), ("2090", "2110")] {
        let (from, to) = (
            format!("{}-01-01T00:00:00Z", years.0),
            format!("{}-01-01T00:00:00Z", years.1),
        );
        assert_eq!(zone.transitions_between(utc(&from), utc(&to)), []);
        assert_eq!(zone.offset_at(utc(&from)).utc_offset_s, -4 * 3600);
        // Around the turn of the year, where the rule ends and begins again.
        for minutes in (-600..600).step_by(10) {
            let local = utc(&from).naive_utc() + TimeDelta::minutes(minutes);
            let resolved = zone.resolve(local);
            let utc = local.and_utc() + TimeDelta::hours(4);
            assert_eq!((resolved.utc, resolved.how), (utc, Occurrence::Unique));
        }
    }
}
