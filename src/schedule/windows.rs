//! One evening of one timed zone: its windows as UTC, or the reason why there are none.
//!
//! Polar night: a sun that stays below the mark means dark all day, and the window runs to noon, where evenings
//! meet. A sun that stays above it means no such twilight: `if_no_twilight` gives the substitute, or there are
//! no lights and the plan gives the reason.
//!
//! A `[[date]]` with `on` lifts `days`, `not_before` and `not_after`, because it is meant for that day; one
//! with `off` alone only moves an end. A curfew binds both: it is usually not the owner's to lift.

use chrono::{DateTime, Datelike, NaiveDate, NaiveTime, TimeDelta, Utc};

use crate::almanac::{AlmanacError, Half, Occurrence, SunEvent};
use crate::site::{
    Change, Exception, Moment, NoTwilight, Off, Site, SunMark, Switching, Window, ZoneId,
};

use super::evening::{Evening, SunOf};
use super::reason::{Mark, Reason};
use crate::civil_time::{self, Resolved};

/// A lit stretch of an evening.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lit {
    pub(super) on: DateTime<Utc>,
    pub(super) off: DateTime<Utc>,
    pub(super) why_on: Reason,
    pub(super) why_off: Reason,
}

/// Resolves the windows of one zone on one evening.
pub(super) struct Windows<'a, 'b> {
    pub(super) site: &'a Site,
    pub(super) evening: &'b Evening,
    pub(super) sun: &'b mut SunOf<'a>,
}

/// What `[[date]]` changes on an evening.
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
}

impl Windows<'_, '_> {
    /// Replaces the contents of `resolved`: first a reason for each dark window, then the lit ones, in order of
    /// time and merged where they touch.
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
        // An exception that says when to go on applies to that date, whichever weekday it is; one that only
        // moves the end does not light a zone that would be dark.
        if !window.days.contain(day) && change.on.is_none() {
            return Ok(Err(Reason::NotOn(day)));
        }
        let on = change.on.unwrap_or(window.on);
        let (mut on, mut why_on) = match self.moment(on, Half::Evening, window.if_no_twilight)? {
            Ok(moment) => moment,
            Err(reason) => return Ok(Err(reason)),
        };
        // The file's limits for ordinary days do not hold back an exception.
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

    /// When a moment comes, or why the window stays dark.
    ///
    /// `half` says which passage an altitude means: setting for going on, rising for going off.
    fn moment(
        &mut self,
        moment: Moment,
        half: Half,
        if_no_twilight: NoTwilight,
    ) -> Result<Result<(DateTime<Utc>, Reason), Reason>, AlmanacError> {
        let (mark, offset_s) = match moment {
            Moment::Clock(time) => {
                let Resolved { utc, how } = self.evening.resolve(self.site, time);
                let why = match how {
                    civil_time::Occurrence::Unique => Reason::Clock(time),
                    civil_time::Occurrence::Gap => Reason::ClockSkipped(time, utc),
                    civil_time::Occurrence::Fold => Reason::ClockTwice(time),
                };
                return Ok(Ok((utc, why)));
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
            // A clock time can replace a dusk; for a missing dawn it is the sunrise.
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
fn lit_between(
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

/// A lit stretch cut short by the curfew.
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
