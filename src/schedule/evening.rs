//! One evening of one timed zone: its windows resolved to UTC, or the reason why there are none.

use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveTime, TimeDelta, Timelike, Utc};

use crate::almanac::{AlmanacError, Half, Occurrence, SolarDay, SunEvent, SunTable};
use crate::site::{
    Change, Exception, Moment, NoTwilight, Off, Site, SunMark, Switching, Window, ZoneId,
};

use super::reason::{Mark, Reason};

/// Noon, where evenings meet.
const NOON: NaiveTime = NaiveTime::from_hms_opt(12, 0, 0).expect("noon is a time of day");

fn noon_of(site: &Site, date: NaiveDate) -> DateTime<Utc> {
    site.timezone.resolve(date.and_time(NOON)).utc
}

/// The stretch of time that clock times of one evening lie in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Evening {
    /// Its name.
    pub date: NaiveDate,
    /// Noon of that date.
    pub begins: DateTime<Utc>,
    /// Noon of the next date.
    pub ends: DateTime<Utc>,
}

impl Evening {
    /// The evening of a local date.
    pub fn of(site: &Site, date: NaiveDate) -> Self {
        Self {
            date,
            begins: noon_of(site, date),
            ends: noon_of(site, date + Days::new(1)),
        }
    }

    /// The evening after this one.
    pub(super) fn next(&self, site: &Site) -> Self {
        let date = self.date + Days::new(1);
        Self {
            date,
            begins: self.ends,
            ends: noon_of(site, date + Days::new(1)),
        }
    }

    /// The instant of a clock time: from noon on it is of this date, before noon of the next.
    pub fn clock(&self, site: &Site, time: NaiveTime) -> DateTime<Utc> {
        let date = if time.hour() >= 12 {
            self.date
        } else {
            self.date + Days::new(1)
        };
        site.timezone.resolve(date.and_time(time)).utc
    }

    /// Whether the clocks change during it.
    pub fn has_clock_change(&self, site: &Site) -> bool {
        let zone = &site.timezone;
        zone.offset_at(self.begins).utc_offset_s != zone.offset_at(self.ends).utc_offset_s
    }
}

/// The evening that is on, or comes next, at an instant: before noon it is still the one of
/// yesterday if a zone of it is lit, as `lit_until` of yesterday's plan says.
pub fn evening_at(
    site: &Site,
    now: DateTime<Utc>,
    lit_until: impl Fn(NaiveDate) -> Option<DateTime<Utc>>,
) -> NaiveDate {
    let local = site.timezone.to_local(now);
    let today = local.date();
    if local.hour() >= 12 {
        return today;
    }
    let yesterday = today - Days::new(1);
    match lit_until(yesterday) {
        Some(until) if until > now => yesterday,
        _ => today,
    }
}

/// A lit stretch of an evening.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lit {
    pub(super) on: DateTime<Utc>,
    pub(super) off: DateTime<Utc>,
    pub(super) why_on: Reason,
    pub(super) why_off: Reason,
}

/// The two solar days that an evening touches, made when first asked for.
///
/// The almanac counts days by the sun. The evening of civil date D is the one after the solar noon
/// that falls on D, which in a zone far from its meridian is the noon of another solar date.
pub(super) struct SunOf<'a> {
    site: &'a Site,
    table: &'a SunTable,
    solar_date: NaiveDate,
    /// By whether the date is even or odd: the morning of one evening is of the day of the next.
    days: [Option<(NaiveDate, SolarDay)>; 2],
}

impl<'a> SunOf<'a> {
    pub(super) fn new(site: &'a Site, table: &'a SunTable, evening: &Evening) -> Self {
        let mut sun = Self {
            site,
            table,
            solar_date: evening.date,
            days: [None; 2],
        };
        sun.turn_to(evening);
        sun
    }

    /// From now on passages are those of this evening.
    pub(super) fn turn_to(&mut self, evening: &Evening) {
        let offset_s = self.site.timezone.offset_at(evening.begins).utc_offset_s;
        let ahead_of_sun_h = f64::from(offset_s) / 3600.0 - self.site.place.longitude_deg() / 15.0;
        #[expect(clippy::cast_possible_truncation, reason = "at most a day or two")]
        let days = (ahead_of_sun_h / 24.0).round() as i64;
        self.solar_date = evening.date - TimeDelta::days(days);
    }

    fn passage(&mut self, mark: SunMark, half: Half) -> Result<Occurrence, AlmanacError> {
        let date = match half {
            Half::Evening => self.solar_date,
            Half::Morning => self.solar_date + Days::new(1),
        };
        let slot = &mut self.days[usize::from(date.num_days_from_ce() % 2 != 0)];
        let day = match slot {
            Some((of, day)) if *of == date => day,
            _ => {
                &mut slot
                    .insert((date, self.table.day(self.site.place, date)?))
                    .1
            }
        };
        Ok(match mark {
            SunMark::Event(event) => day.event(event),
            SunMark::Altitude(altitude) => day.passage(half, altitude),
        })
    }
}

/// Resolves the windows of one zone on one evening.
pub(super) struct Windows<'a, 'b> {
    pub(super) site: &'a Site,
    pub(super) evening: &'b Evening,
    pub(super) sun: &'b mut SunOf<'a>,
}

/// What `[[date]]` makes of an evening.
#[derive(Debug, Clone, Copy, Default)]
struct Exceptional {
    dark: Option<(NaiveDate, NaiveDate)>,
    on: Option<Moment>,
    off: Option<Moment>,
}

impl Exceptional {
    fn of(exceptions: &[Exception], zone: ZoneId, date: NaiveDate) -> Self {
        let applies = |exception: &&Exception| {
            exception.zone.is_none_or(|only| only == zone)
                && exception.from <= date
                && date <= exception.to
        };
        let mut sum = Self::default();
        for exception in exceptions.iter().filter(applies) {
            match exception.change {
                Change::Dark => sum.dark = Some((exception.from, exception.to)),
                Change::Moments { on, off } => {
                    sum.dark = None;
                    sum.on = on.or(sum.on);
                    sum.off = off.or(sum.off);
                }
            }
        }
        sum
    }

    fn moments(&self) -> bool {
        self.on.is_some() || self.off.is_some()
    }
}

impl Windows<'_, '_> {
    /// Puts the windows in place of what `resolved` holds: a reason for each that is dark, then
    /// those that are lit, in the order of their times and merged where they meet.
    pub(super) fn resolve(
        &mut self,
        id: ZoneId,
        resolved: &mut Vec<Result<Lit, Reason>>,
    ) -> Result<(), AlmanacError> {
        resolved.clear();
        let zone = &self.site[id];
        let Switching::Timed(windows) = &zone.switching else {
            return Ok(());
        };
        let exceptional = Exceptional::of(&self.site.exceptions, id, self.evening.date);
        if let Some((from, to)) = exceptional.dark {
            resolved.push(Err(Reason::DarkDates(from, to)));
            return Ok(());
        }
        for (index, window) in windows.iter().enumerate() {
            let change = if index == 0 {
                exceptional
            } else {
                Exceptional::default()
            };
            let window = self.window(window, change)?;
            resolved
                .push(window.and_then(|lit| curfewed(self.site, self.evening, lit, zone.curfew)));
        }
        resolved.sort_by_key(|window| window.ok().map(|lit| lit.on));
        resolved.dedup_by(|next, last| match (next, last) {
            (Ok(next), Ok(last)) if next.on <= last.off => {
                if next.off > last.off {
                    (last.off, last.why_off) = (next.off, next.why_off);
                }
                true
            }
            _ => false,
        });
        Ok(())
    }

    fn window(
        &mut self,
        window: &Window,
        change: Exceptional,
    ) -> Result<Result<Lit, Reason>, AlmanacError> {
        let day = self.evening.date.weekday();
        // An exception that says when to light is meant for that day, whichever day it is.
        if !window.days.contain(day) && !change.moments() {
            return Ok(Err(Reason::NotOn(day)));
        }
        let on = change.on.unwrap_or(window.on);
        let (mut on, mut why_on) = match self.moment(on, Half::Evening, window.if_no_twilight)? {
            Ok(moment) => moment,
            Err(reason) => return Ok(Err(reason)),
        };
        // What the file says of ordinary days does not hold back an exception.
        if change.on.is_none() {
            if let Some(time) = window.not_before {
                let earliest = self.evening.clock(self.site, time);
                if on < earliest {
                    (on, why_on) = (earliest, Reason::NotBefore(time));
                }
            }
            if let Some(time) = window.not_after {
                let latest = self.evening.clock(self.site, time);
                if on > latest {
                    (on, why_on) = (latest, Reason::NotAfter(time));
                }
            }
        }
        let off = match (change.off, window.off) {
            (Some(moment), _) | (None, Off::At(moment)) => {
                match self.moment(moment, Half::Morning, window.if_no_twilight)? {
                    Ok(moment) => moment,
                    Err(reason) => return Ok(Err(reason)),
                }
            }
            (None, Off::For(seconds)) => {
                let off = on + TimeDelta::seconds(seconds.into());
                if off > self.evening.ends {
                    (self.evening.ends, Reason::Noon)
                } else {
                    (off, Reason::Lasting(seconds))
                }
            }
        };
        Ok(lit_between((on, why_on), off))
    }

    /// When a moment comes, or why the window is dark.
    ///
    /// `half` tells which passage an altitude means: setting for going on, rising for going off.
    fn moment(
        &mut self,
        moment: Moment,
        half: Half,
        if_no_twilight: NoTwilight,
    ) -> Result<Result<(DateTime<Utc>, Reason), Reason>, AlmanacError> {
        let (mark, offset_s) = match moment {
            Moment::Clock(time) => {
                return Ok(Ok((
                    self.evening.clock(self.site, time),
                    Reason::Clock(time),
                )));
            }
            Moment::Sun { mark, offset_s } => (mark, offset_s),
        };
        let half = match mark {
            SunMark::Event(event) => event.half(),
            SunMark::Altitude(_) => half,
        };
        let offset = TimeDelta::seconds(offset_s.into());
        let dark_all_day = |mark| match half {
            Half::Evening => Ok((self.evening.begins, Reason::DarkAllDay(mark))),
            Half::Morning => Ok((self.evening.ends, Reason::DarkAllDay(mark))),
        };
        let asked = Mark {
            passage: mark,
            half,
            at: None,
        };
        match self.sun.passage(mark, half)? {
            Occurrence::At(at) => {
                let mark = Mark {
                    at: Some(at),
                    ..asked
                };
                return Ok(Ok((at + offset, Reason::Sun(mark, offset_s))));
            }
            Occurrence::StaysBelow => return Ok(dark_all_day(asked)),
            Occurrence::StaysAbove => {}
        }
        let edge = match half {
            Half::Evening => SunEvent::Sunset,
            Half::Morning => SunEvent::Sunrise,
        };
        match if_no_twilight {
            NoTwilight::Skip => Ok(Err(Reason::NoTwilight(asked))),
            // A clock time can stand in for a dusk; a dawn that is missing has its sunrise.
            NoTwilight::Clock(time) if half == Half::Evening => Ok(Ok((
                self.evening.clock(self.site, time),
                Reason::ClockInstead(asked, time),
            ))),
            NoTwilight::Sunset | NoTwilight::Clock(_) => {
                let stand_in = Mark {
                    passage: SunMark::Event(edge),
                    half,
                    at: None,
                };
                match self.sun.passage(stand_in.passage, half)? {
                    Occurrence::At(at) => {
                        let mark = Mark {
                            at: Some(at),
                            ..stand_in
                        };
                        Ok(Ok((
                            at + offset,
                            Reason::Instead {
                                of: asked,
                                mark,
                                offset_s,
                            },
                        )))
                    }
                    Occurrence::StaysBelow => Ok(dark_all_day(stand_in)),
                    Occurrence::StaysAbove => Ok(Err(Reason::NoTwilight(stand_in))),
                }
            }
        }
    }
}

/// A window from one moment to the other, unless it is empty.
pub(super) fn lit_between(
    (on, why_on): (DateTime<Utc>, Reason),
    (off, why_off): (DateTime<Utc>, Reason),
) -> Result<Lit, Reason> {
    if on < off {
        Ok(Lit {
            on,
            off,
            why_on,
            why_off,
        })
    } else {
        Err(Reason::OffBeforeOn { on, off })
    }
}

/// A lit stretch as the curfew leaves it.
pub(super) fn curfewed(
    site: &Site,
    evening: &Evening,
    lit: Lit,
    curfew: Option<NaiveTime>,
) -> Result<Lit, Reason> {
    let Some(time) = curfew else { return Ok(lit) };
    let at = evening.clock(site, time);
    if lit.off <= at {
        return Ok(lit);
    }
    if lit.on >= at {
        return Err(Reason::CurfewFirst(time));
    }
    Ok(Lit {
        off: at,
        why_off: Reason::Curfew(time),
        ..lit
    })
}
