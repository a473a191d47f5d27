//! The clock on the wall of one site: UTC to local time and back.
//!
//! ```text
//! gap    01:59 EST │ 03:00 EDT      02:30 is never shown: read with the offset before the
//! UTC    06:59     │ 07:00          gap, it means 07:30 UTC, which is 03:30 EDT
//!
//! fold   01:59 EDT │ 01:00 EST      01:30 is shown twice: the first time is meant,
//! UTC    05:59     │ 06:00          05:30 UTC
//! ```
//!
//! Both readings are those of RFC 5545, section 3.3.5. The rules come from the machine's own tz
//! database (the `TZif` files of RFC 9636) and never from a copy inside the program: governments
//! change them at short notice, and a package update must be enough to follow. The process's `TZ`
//! has no say either, because a site file names the zone of the site. `chrono::Local` is no help:
//! it reads `TZ`, takes a misspelt name for UTC, and swaps the two readings of a fold (chrono issue
//! #1625).
//!
//! tz-rs reads the file, and would also say which offset is in force at an instant; but which
//! instants have a given local time, and when the clocks change, takes the transitions in a row. So
//! [`SiteZone`] lists them once, up to the year 2100, with those of the rule in the file's footer
//! (`TZif` files of today list no transition that this rule gives as well). Later years are right
//! too, only slower.

use std::borrow::Cow;
use std::fmt;
use std::ops::{Range, RangeInclusive};
use std::path::{Path, PathBuf};

use chrono::{
    DateTime, Datelike, Days, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Utc, Weekday,
};
use tz::timezone::{AlternateTime, LocalTimeType, RuleDay, TransitionRule};

mod zone_info;

pub use zone_info::{ZoneError, ZoneInfo};

/// Years for which the footer's rule is listed when a zone is opened: the almanac covers the same
/// years.
const LISTED_YEARS: RangeInclusive<i32> = 1950..=2100;

/// A bound on any offset from UTC, in seconds: RFC 9636, section 3.2, keeps them between -25 h and
/// +26 h.
const MAX_OFFSET_S: i64 = 26 * 3600;

/// The time zone of a site: every offset from UTC that its clocks had or will have, as far as the
/// database knows.
///
/// Two zones are equal if name, file and rules are, so a reopened zone tells whether the database
/// has changed them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SiteZone {
    name: String,
    path: PathBuf,
    /// Sorted; the first one reaches back for ever. No two neighbours have the same offset.
    spans: Vec<Span>,
    /// The rule for the years after the last listed transition, if clocks keep changing.
    yearly: Option<AlternateTime>,
    /// Where `spans` holds every transition (Unix seconds).
    listed: Range<i64>,
}

/// A stretch of time with one offset, up to the beginning of the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Span {
    /// Its first second (Unix seconds).
    from: i64,
    offset: LocalOffset,
}

/// What the clocks of a zone show at some instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LocalOffset {
    /// Local time minus UTC, in seconds; positive east of Greenwich.
    pub utc_offset_s: i32,
    /// What the database calls it: `CEST`, `EST`, or just `-03`.
    pub abbreviation: Abbreviation,
    /// Whether the database calls it daylight saving time. A label, not a direction: Dublin has it
    /// in winter.
    pub is_dst: bool,
}

/// A time zone abbreviation such as `CEST` or `-03`; ASCII, at most seven characters.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Abbreviation {
    bytes: [u8; 7],
    len: u8,
}

/// How often the clocks of a zone show a given local time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Occurrence {
    /// Once, as on any ordinary night.
    Unique,
    /// Never: the clocks skip it. It was read with the offset in force before the gap.
    Gap,
    /// More than once: the clocks repeat it. The first time was taken.
    Fold,
}

/// The instant that a local time means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Resolved {
    /// The instant.
    pub utc: DateTime<Utc>,
    /// Whether it is the only instant with this local time.
    pub how: Occurrence,
}

/// An instant at which a zone changes its offset, or only its abbreviation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClockChange {
    /// The first instant with the new offset.
    pub at: DateTime<Utc>,
    /// In force up to this instant.
    pub before: LocalOffset,
    /// In force from this instant.
    pub after: LocalOffset,
}

impl ClockChange {
    /// How far the clocks are moved, in seconds: positive if forward (a gap), negative if back (a
    /// fold), 0 if only renamed.
    pub fn shift_s(&self) -> i32 {
        self.after.utc_offset_s - self.before.utc_offset_s
    }
}

impl SiteZone {
    /// Reads the bytes of a `TZif` file; the error says what is wrong with them.
    fn from_tzif(name: &str, path: PathBuf, bytes: &[u8]) -> Result<Self, String> {
        let file = tz::TimeZone::from_tz_data(bytes).map_err(|e| e.to_string())?;
        let file = file.as_ref();
        if !file.leap_seconds().is_empty() {
            return Err("it counts leap seconds, which the clock of a computer does not".into());
        }
        let types = file.local_time_types();
        let mut spans = vec![Span {
            from: i64::MIN,
            offset: (&types[0]).into(),
        }];
        for transition in file.transitions() {
            let offset = (&types[transition.local_time_type_index()]).into();
            append(
                &mut spans,
                Span {
                    from: transition.unix_leap_time(),
                    offset,
                },
            );
        }
        let file_end = file
            .transitions()
            .last()
            .map(tz::timezone::Transition::unix_leap_time);

        let mut listed = i64::MIN..i64::MAX;
        let mut yearly = None;
        match (file.extra_rule(), file_end) {
            // Carrying on with the last offset would be a guess, and a plausible one.
            (None, Some(end)) => {
                return Err(format!(
                    "it does not say what clocks do after the year {}",
                    year_of(end)
                ));
            }
            (None, None) => {}
            // tz-rs has made sure that after a transition this is the offset already in force.
            (Some(TransitionRule::Fixed(only)), _) => {
                append(
                    &mut spans,
                    Span {
                        from: file_end.unwrap_or(i64::MIN),
                        offset: only.into(),
                    },
                );
            }
            (Some(TransitionRule::Alternate(rule)), _) => {
                let (first, last) = LISTED_YEARS.into_inner();
                let first = file_end.map_or(first, year_of);
                let last = last.max(first);
                // One year more on either side, for the local times of its first and last hours.
                let changes = changes_by_rule(rule, first - 1..=last + 1);
                if let Some(end) = file_end {
                    // The rule takes over from the last transition of the file, even from one that
                    // changes nothing, such as Macquarie's at the end of 2010.
                    for change in changes.into_iter().filter(|change| change.from > end) {
                        append(&mut spans, change);
                    }
                } else {
                    spans = from_ever(changes);
                    listed.start = year_start(first);
                }
                listed.end = year_start(last + 1);
                yearly = Some(*rule);
            }
        }
        Ok(Self {
            name: name.into(),
            path,
            spans,
            yearly,
            listed,
        })
    }

    /// The name in the tz database, such as `Europe/Berlin`.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The file that the rules were read from; when it changes, open the zone again.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The offset from UTC in force at an instant.
    pub fn offset_at(&self, utc: DateTime<Utc>) -> LocalOffset {
        let unix = utc.timestamp();
        let spans = self.spans_around(unix, unix);
        spans[index_at(&spans, unix)].offset
    }

    /// What the clocks of the zone show at an instant.
    pub fn to_local(&self, utc: DateTime<Utc>) -> NaiveDateTime {
        utc.naive_utc() + TimeDelta::seconds(self.offset_at(utc).utc_offset_s.into())
    }

    /// The instant that a local time means (RFC 5545, section 3.3.5): in a fold the first one; in a
    /// gap the one that the offset in force before the gap gives, which is after the gap.
    pub fn resolve(&self, local: NaiveDateTime) -> Resolved {
        let wall = local.and_utc().timestamp();
        let (earliest, latest) = (wall - MAX_OFFSET_S, wall + MAX_OFFSET_S);
        let spans = self.spans_around(earliest, latest);

        let mut shown: Option<LocalOffset> = None;
        let mut before_gap: Option<LocalOffset> = None;
        let mut how = Occurrence::Unique;
        for (i, span) in spans.iter().enumerate().skip(index_at(&spans, earliest)) {
            if span.from > latest {
                break;
            }
            let unix = wall - i64::from(span.offset.utc_offset_s);
            let begun = unix >= span.from;
            let ended = spans.get(i + 1).is_some_and(|next| unix >= next.from);
            if begun && !ended {
                how = if shown.is_some() {
                    Occurrence::Fold
                } else {
                    Occurrence::Unique
                };
                shown = shown.or(Some(span.offset));
            } else if begun && how != Occurrence::Gap {
                before_gap = Some(span.offset);
            } else if !begun && shown.is_none() {
                // Over by the clock of the span before, not begun by this one's. Should the clocks
                // be set back right after, the time is shown then.
                how = Occurrence::Gap;
            }
        }
        let offset = shown
            .or(before_gap)
            .expect("a local time is in a span or between two");
        Resolved {
            utc: local.and_utc() - TimeDelta::seconds(offset.utc_offset_s.into()),
            how,
        }
    }

    /// The changes of the clocks in `from <= at < to`, in order.
    pub fn transitions_between(&self, from: DateTime<Utc>, to: DateTime<Utc>) -> Vec<ClockChange> {
        let spans = self.spans_around(from.timestamp(), to.timestamp());
        // The change at `from` itself counts, and it ends the span before.
        let first = index_at(&spans, from.timestamp()).saturating_sub(1);
        spans[first..]
            .windows(2)
            .map_while(|pair| {
                let at = DateTime::from_timestamp(pair[1].from, 0)?;
                Some(ClockChange {
                    at,
                    before: pair[0].offset,
                    after: pair[1].offset,
                })
            })
            .skip_while(|change| change.at < from)
            .take_while(|change| change.at < to)
            .collect()
    }

    /// Spans that are right from one instant to another (Unix seconds); outside of them they need
    /// not be.
    fn spans_around(&self, from: i64, to: i64) -> Cow<'_, [Span]> {
        if self.listed.start <= from && to < self.listed.end {
            return Cow::Borrowed(&self.spans);
        }
        let Some(rule) = &self.yearly else {
            return Cow::Borrowed(&self.spans);
        };
        let changes = changes_by_rule(rule, year_of(from) - 1..=year_of(to) + 1);
        if !self.listed.contains(&from) {
            return Cow::Owned(from_ever(changes));
        }
        let mut spans = self.spans.clone();
        spans.retain(|span| span.from < self.listed.end);
        for change in changes
            .into_iter()
            .filter(|change| change.from >= self.listed.end)
        {
            append(&mut spans, change);
        }
        Cow::Owned(spans)
    }
}

/// The span that an instant is in; the first one has no beginning.
fn index_at(spans: &[Span], unix: i64) -> usize {
    spans
        .partition_point(|span| span.from <= unix)
        .saturating_sub(1)
}

/// Changes as spans, the first of which has no beginning.
fn from_ever(changes: Vec<Span>) -> Vec<Span> {
    let mut spans = Vec::with_capacity(changes.len());
    for change in changes {
        let from = if spans.is_empty() {
            i64::MIN
        } else {
            change.from
        };
        append(&mut spans, Span { from, ..change });
    }
    spans
}

/// Adds one span, unless it changes nothing; one that begins with the last one replaces it.
fn append(spans: &mut Vec<Span>, span: Span) {
    if spans.last().is_some_and(|last| last.from == span.from) {
        spans.pop();
    }
    if spans.last().is_none_or(|last| last.offset != span.offset) {
        spans.push(span);
    }
}

/// What the rule of a `TZif` footer (a POSIX `TZ` string) does in some years, in order.
fn changes_by_rule(rule: &AlternateTime, years: RangeInclusive<i32>) -> Vec<Span> {
    let (std, dst) = (LocalOffset::from(rule.std()), LocalOffset::from(rule.dst()));
    // Each time of day is by the clock that is about to be changed.
    let start_utc_s = i64::from(rule.dst_start_time()) - i64::from(std.utc_offset_s);
    let end_utc_s = i64::from(rule.dst_end_time()) - i64::from(dst.utc_offset_s);
    let end_of_years = year_start(years.end() + 1);
    // Where daylight saving lasts all year, the end of the last year is undone by the next start.
    let years = *years.start()..=years.end() + 1;
    let mut changes = Vec::with_capacity(2 * years.clone().count());
    for year in years {
        // Out of chrono's calendar there is nothing to ask for.
        let (Some(start), Some(end)) = (
            midnight(*rule.dst_start(), year),
            midnight(*rule.dst_end(), year),
        ) else {
            continue;
        };
        changes.push(Span {
            from: start + start_utc_s,
            offset: dst,
        });
        changes.push(Span {
            from: end + end_utc_s,
            offset: std,
        });
    }
    // Stable, so that of these two, which are at the same instant, the start comes last and wins.
    changes.sort_by_key(|change| change.from);
    changes.retain(|change| change.from < end_of_years);
    changes
}

/// 00:00 of a rule's day, as if local time were UTC (Unix seconds).
fn midnight(day: RuleDay, year: i32) -> Option<i64> {
    let date = match day {
        RuleDay::MonthWeekDay(day) => {
            // Weekday 0 is Sunday.
            let weekday = Weekday::try_from((day.week_day() + 6) % 7).ok()?;
            let nth = |week| {
                NaiveDate::from_weekday_of_month_opt(year, day.month().into(), weekday, week)
            };
            // Week 5 means the last one, which may be the fourth.
            nth(day.week()).or_else(|| nth(4))
        }
        // Never counts the leap day.
        RuleDay::Julian1WithoutLeap(day) => {
            let leap_day = NaiveDate::from_ymd_opt(year, 2, 29).is_some() && day.get() >= 60;
            NaiveDate::from_yo_opt(year, u32::from(day.get()) + u32::from(leap_day))
        }
        RuleDay::Julian0WithLeap(day) => {
            NaiveDate::from_yo_opt(year, 1)?.checked_add_days(Days::new(day.get().into()))
        }
    };
    Some(date?.and_time(NaiveTime::MIN).and_utc().timestamp())
}

/// The year of an instant in UTC; the first or last one of chrono's calendar if it is outside.
fn year_of(unix: i64) -> i32 {
    let end = if unix < 0 {
        DateTime::<Utc>::MIN_UTC
    } else {
        DateTime::<Utc>::MAX_UTC
    };
    DateTime::from_timestamp(unix, 0).unwrap_or(end).year()
}

/// The first second of a year in UTC (Unix seconds).
fn year_start(year: i32) -> i64 {
    let end = if year < 0 { i64::MIN } else { i64::MAX };
    NaiveDate::from_yo_opt(year, 1).map_or(end, |day| {
        day.and_time(NaiveTime::MIN).and_utc().timestamp()
    })
}

impl From<&LocalTimeType> for LocalOffset {
    fn from(of_file: &LocalTimeType) -> Self {
        Self {
            utc_offset_s: of_file.ut_offset(),
            abbreviation: Abbreviation::new(of_file.time_zone_designation()),
            is_dst: of_file.is_dst(),
        }
    }
}

impl Abbreviation {
    /// tz-rs refuses a file with a longer abbreviation, so nothing is cut off here.
    fn new(text: &str) -> Self {
        let mut bytes = [0; 7];
        let mut len = 0;
        for (place, byte) in bytes.iter_mut().zip(text.bytes()) {
            *place = byte;
            len += 1;
        }
        Self { bytes, len }
    }

    /// Its text.
    pub fn as_str(&self) -> &str {
        str::from_utf8(&self.bytes[..usize::from(self.len)])
            .expect("the database's abbreviations are ASCII")
    }
}

impl fmt::Display for Abbreviation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Unlike `write_str`, this minds a width.
        f.pad(self.as_str())
    }
}

impl fmt::Debug for Abbreviation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(self.as_str(), f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn zone(spans: &[(i64, i32)]) -> SiteZone {
        let spans = spans.iter().map(|&(from, utc_offset_s)| {
            let abbreviation = Abbreviation::new("XXX");
            let offset = LocalOffset {
                utc_offset_s,
                abbreviation,
                is_dst: false,
            };
            Span { from, offset }
        });
        SiteZone {
            name: "Test/Zone".into(),
            path: PathBuf::new(),
            spans: spans.collect(),
            yearly: None,
            listed: i64::MIN..i64::MAX,
        }
    }

    fn resolve(zone: &SiteZone, wall: i64) -> (i64, Occurrence) {
        let resolved = zone.resolve(DateTime::from_timestamp(wall, 0).unwrap().naive_utc());
        (resolved.utc.timestamp(), resolved.how)
    }

    #[test]
    fn a_time_skipped_and_then_shown_after_all_is_the_time_shown() {
        // Forward by an hour at 0, and back after half an hour: the wall runs to 00:00, from 01:00
        // to 01:30, and again from 00:30.
        let zone = zone(&[(i64::MIN, 0), (0, 3600), (1800, 0)]);
        assert_eq!(resolve(&zone, 900), (900, Occurrence::Gap));
        assert_eq!(resolve(&zone, 2700), (2700, Occurrence::Unique));
        assert_eq!(resolve(&zone, 4500), (900, Occurrence::Fold));
    }

    #[test]
    fn a_time_shown_three_times_means_the_first() {
        let zone = zone(&[(i64::MIN, 7200), (0, 3600), (60, 0)]);
        assert_eq!(resolve(&zone, 3630), (-3570, Occurrence::Fold));
    }

    #[test]
    fn a_gap_of_a_whole_day_takes_the_offset_before() {
        // Apia left out 30 December 2011 when it crossed the date line.
        let zone = zone(&[(i64::MIN, -36_000), (0, 50_400)]);
        assert_eq!(resolve(&zone, -36_000), (0, Occurrence::Gap));
        assert_eq!(resolve(&zone, 50_399), (86_399, Occurrence::Gap));
        assert_eq!(resolve(&zone, 50_400), (0, Occurrence::Unique));
    }

    #[test]
    fn an_abbreviation_minds_the_width_it_is_printed_in() {
        assert_eq!(
            format!(
                "{:5}|{:?}",
                Abbreviation::new("-03"),
                Abbreviation::new("CEST")
            ),
            "-03  |\"CEST\""
        );
    }
}
