//! Small yards, and their plans as lines to compare.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use pilotwire::civil_time::{SiteZone, ZoneError, ZoneInfo};
use pilotwire::link::{Following, FollowingByMonth};
use pilotwire::schedule::{Plan, Row, plan};
use pilotwire::site::{self, Site};

use crate::local_time::frozen::{empty_directory, put, tzif, tzif_with_transitions};

/// Rules of tz 2026b, as in the footers of its files, so that the tests do not move with the machine's database.
const ZONES: [(&str, &str); 12] = [
    ("America/Argentina/Buenos_Aires", "<-03>3"),
    ("America/Chicago", "CST6CDT,M3.2.0,M11.1.0"),
    ("America/Denver", "MST7MDT,M3.2.0,M11.1.0"),
    ("America/Phoenix", "MST7"),
    ("Asia/Shanghai", "CST-8"),
    ("Atlantic/Reykjavik", "GMT0"),
    (
        "Australia/Lord_Howe",
        "<+1030>-10:30<+11>-11,M10.1.0,M4.1.0",
    ),
    ("Europe/Berlin", "CET-1CEST,M3.5.0,M10.5.0/3"),
    ("Europe/London", "GMT0BST,M3.5.0/1,M10.5.0"),
    ("Europe/Oslo", "CET-1CEST,M3.5.0,M10.5.0/3"),
    ("Pacific/Kiritimati", "<+14>-14"),
    ("UTC", "UTC0"),
];

/// The clocks: offset from UTC [s], whether it is daylight saving time, and its name.
type Shown = (i32, bool, &'static str);

/// Places that crossed the date line and skipped a date: the clocks before and after, the instant, and the rule
/// since (tz 2025b; Apia without the summer time that it had then).
const DATE_LINE: [(&str, [Shown; 2], &str, &str); 2] = [
    (
        "Pacific/Apia",
        [(-36_000, false, "-10"), (50_400, false, "+14")],
        "2011-12-30T10:00:00Z",
        "<+14>-14",
    ),
    (
        "Pacific/Kwajalein",
        [(-43_200, false, "-12"), (43_200, false, "+12")],
        "1993-08-21T12:00:00Z",
        "<+12>-12",
    ),
];

/// The directory of the private tz database.
pub(crate) fn tz_database() -> &'static Path {
    static DIRECTORY: OnceLock<PathBuf> = OnceLock::new();
    DIRECTORY.get_or_init(|| {
        let directory = empty_directory("times");
        for (name, rule) in ZONES {
            put(&directory, name, &tzif(rule));
        }
        for (name, [before, after], crossed, rule) in DATE_LINE {
            let at = utc(crossed).timestamp();
            put(
                &directory,
                name,
                &tzif_with_transitions(&[before, after], &[(at, 1)], rule),
            );
        }
        directory
    })
}

/// A zone of the private tz database.
pub(crate) fn rules(name: &str) -> Result<SiteZone, ZoneError> {
    ZoneInfo::new([tz_database()]).open(name)
}

/// Place of a yard: latitude and longitude [°], and the name of its time zone.
pub(crate) type Where = (f64, f64, &'static str);

pub(crate) const BERLIN: Where = (52.5, 13.4, "Europe/Berlin");
pub(crate) const TROMSO: Where = (69.65, 18.96, "Europe/Oslo");
pub(crate) const GREENWICH: Where = (51.5, 0.0, "UTC");

/// The text of a site file: a place, a supply `dc`, a relay `r400`, and the zones, windows, links and dates given.
pub(crate) fn text((latitude, longitude, timezone): Where, zones: &str) -> String {
    format!(
        r#"
[site]
name = "Yard"
latitude = {latitude}
longitude = {longitude}
timezone = "{timezone}"
mains = "230 V"
frequency = "50 Hz"

[[supply]]
name = "dc"
kind = "dc"
voltage = "12 V"

[[relay]]
name = "r400"
rated_voltage = "12 V"
coil_resistance = "400 ohm"
operate_voltage = "9 V"
release_voltage = "1.2 V"

{zones}"#
    )
}

/// The text of a timed zone with these keys.
pub(crate) fn zone(name: &str, keys: &str) -> String {
    format!("[[zone]]\nname = \"{name}\"\nsupply = \"dc\"\n{keys}\n")
}

/// The text of a zone and the link that switches it.
pub(crate) fn slave(name: &str, master: &str, keys: &str) -> String {
    format!(
        "[[zone]]\nname = \"{name}\"\nsupply = \"dc\"\n{keys}\n\
         [[link]]\nmaster = \"{master}\"\nslave = \"{name}\"\nwire = \"1 mm2\"\nlength = \"10 m\"\nrelay = \"r400\"\n"
    )
}

/// The text of a zone that a board switches by its master's input, and of its two lines on `chip`.
pub(crate) fn sensed(name: &str, master: &str, chip: &str, keys: &str) -> String {
    format!(
        "[[zone]]\nname = \"{name}\"\nsupply = \"dc\"\nfollows_input = \"{master}\"\n{keys}\n\
         [[input]]\nzone = \"{master}\"\nchip = \"{chip}\"\nline = 27\n\
         [[output]]\nzone = \"{name}\"\nchip = \"{chip}\"\nline = 17\n"
    )
}

/// A site from the text of its file.
pub(crate) fn read(text: &str) -> Site {
    site::read(text.as_bytes(), "yard.toml", &rules).unwrap_or_else(|problems| panic!("{problems}"))
}

/// A site of these zones.
pub(crate) fn yard(place: Where, zones: &str) -> Site {
    read(&text(place, zones))
}

pub(crate) fn date(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

pub(crate) fn utc(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

/// On after half a second, off after a fifth.
pub(crate) const FOLLOWS: Following = Following::Follows {
    on_delay_s: 0.5,
    off_delay_s: 0.2,
};

/// The plan of one evening, all slaves following.
pub(crate) fn evening(site: &Site, on: &str) -> Plan {
    evening_with(site, on, &vec![FOLLOWS; site.links.len()])
}

pub(crate) fn evening_with(site: &Site, on: &str, following: &[Following]) -> Plan {
    plan(site, date(on)..=date(on), &all_year(following)).unwrap()
}

/// The same in every month.
pub(crate) fn all_year(following: &[Following]) -> Vec<FollowingByMonth> {
    let all_year = |following: &Following| FollowingByMonth::all_year(*following);
    following.iter().map(all_year).collect()
}

/// The row of a zone that has exactly one.
pub(crate) fn row_of<'a>(site: &Site, plan: &'a Plan, zone: &str) -> &'a Row {
    let mut rows = plan.rows.iter().filter(|row| site[row.zone].name == zone);
    let row = rows.next().expect("the zone has a row");
    assert!(rows.next().is_none(), "the zone has one row");
    row
}

/// Rows as lines such as `front 18:00:00 to +1 00:30:00: fixed time 18:00; fixed time 00:30`, in local time, `+1` for the day
/// after the evening's date.
pub(crate) fn lines(site: &Site, plan: &Plan) -> Vec<String> {
    let at = |row: &Row, at: Option<DateTime<Utc>>| match at {
        None => "without end".to_owned(),
        Some(at) => {
            let local = site.timezone.to_local(at);
            let clock = local.format("%H:%M:%S%.f");
            match (local.date() - row.evening).num_days() {
                0 => clock.to_string(),
                days => format!("{days:+} {clock}"),
            }
        }
    };
    let line = |row: &Row| {
        let name = &site[row.zone].name;
        let (on, off) = (row.why_on.say(site), row.why_off.say(site));
        if row.on.is_none() {
            assert_eq!(on, off);
            return format!("{name} dark: {on}");
        }
        format!(
            "{name} {} to {}: {on}; {off}",
            at(row, row.on),
            at(row, row.off)
        )
    };
    plan.rows.iter().map(line).collect()
}

/// The lines of one evening of a yard whose slaves all follow.
pub(crate) fn planned(site: &Site, on: &str) -> Vec<String> {
    lines(site, &evening(site, on))
}

/// Asserts that two instants are within a tolerance [s].
#[track_caller]
pub(crate) fn assert_near(got: DateTime<Utc>, expected: DateTime<Utc>, tolerance_s: f64) {
    let off = got - expected;
    let limit = seconds(tolerance_s);
    assert!(off.abs() <= limit, "{got}, not {expected}");
}

/// A span of seconds, to the microsecond.
pub(crate) fn seconds(seconds: f64) -> TimeDelta {
    #[expect(clippy::cast_possible_truncation, reason = "test values are small")]
    TimeDelta::microseconds((seconds * 1e6).round() as i64)
}
