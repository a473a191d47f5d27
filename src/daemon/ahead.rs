//! When a zone is next switched, and to what: by its plan, by the end of a hold, or with the zone before it.
//!
//! ```text
//! by the clock ─ plan, or what the file says for doubt ─┐
//! over a relay, or by an input ─ the zone before it,    ├─ hold? curfew? ─► lit or dark from now on
//!                                after its delays ──────┘
//! ```
//!
//! It says what should be. What an input will show, and what will fail, cannot be known.

use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};

use crate::link::Following;
use crate::schedule::Evening;
use crate::site::{LinkId, Switching, ZoneId};

use super::controller::{View, curfewed, in_doubt};
use super::moment::{Again, ClockQuality, Now};
use super::planned::Planned;

/// What a link does on the evening of an instant; `None` until that is worked out.
pub type Follows<'a> = &'a dyn Fn(LinkId, DateTime<Utc>) -> Option<Following>;

/// A zone from now on: what it should be, and every change of that.
#[derive(Debug, Clone, PartialEq)]
struct Course {
    lit: bool,
    changes: Vec<(DateTime<Utc>, bool)>,
}

impl Course {
    /// What is so from now on, where it changes at these instants alone, if at all.
    fn of(
        now: DateTime<Utc>,
        mut instants: Vec<DateTime<Utc>>,
        at: impl Fn(DateTime<Utc>) -> bool,
    ) -> Self {
        instants.retain(|instant| *instant > now);
        instants.sort_unstable();
        let lit = at(now);
        let mut before = lit;
        let mut changes: Vec<_> = instants.into_iter().map(|it| (it, at(it))).collect();
        changes.retain(|(_, is)| std::mem::replace(&mut before, *is) != *is);
        Self { lit, changes }
    }

    fn at(&self, instant: DateTime<Utc>) -> bool {
        let passed = self.changes.iter().rev().find(|(at, _)| *at <= instant);
        passed.map_or(self.lit, |(_, lit)| *lit)
    }

    /// Each change so many seconds later; what is over before its delay is never seen.
    fn delayed(&self, by_s: impl Fn(DateTime<Utc>, bool) -> f64) -> Self {
        let mut changes = Vec::new();
        for (index, (at, lit)) in self.changes.iter().enumerate() {
            let delay = Duration::try_from_secs_f64(by_s(*at, *lit)).unwrap_or_default();
            let later = *at + TimeDelta::from_std(delay).unwrap_or_default();
            let next = self.changes.get(index + 1);
            if next.is_none_or(|(next, _)| *next >= later) {
                changes.push((later, *lit));
            }
        }
        let mut before = self.lit;
        changes.retain(|(_, is)| std::mem::replace(&mut before, *is) != *is);
        Self { changes, ..*self }
    }
}

/// When a zone is next switched, and to what, as far as the plan reaches.
pub fn next(view: &View<'_>, follows: Follows<'_>, zone: ZoneId) -> Option<(DateTime<Utc>, bool)> {
    let reaches = view.planned?.reaches();
    let first = course(view, follows, zone)?.changes.first().copied();
    first.filter(|(at, _)| *at < reaches)
}

/// `None` where nobody knows.
fn course(view: &View<'_>, follows: Follows<'_>, zone: ZoneId) -> Option<Course> {
    if view.held[zone.0].is_some_and(|held| held.unsure) {
        return None;
    }
    let now = view.now.utc;
    let own = |at| of_its_line(&later(view, at), zone);
    let with = |before: &Course| {
        let before = before.changes.iter().map(|(at, _)| *at);
        before.chain(instants_of_its_line(view, zone)).collect()
    };
    Some(match view.site[zone].switching {
        Switching::Timed(_) => {
            let planned = of_its_plan(view, zone)?;
            Course::of(now, with(&planned), |at| own(at).unwrap_or(planned.at(at)))
        }
        Switching::Senses(sensing) => {
            let before = course(view, follows, sensing.master)?.delayed(|_, lit| {
                if lit {
                    sensing.on_delay_s
                } else {
                    sensing.off_delay_s
                }
            });
            Course::of(now, with(&before), |at| own(at).unwrap_or(before.at(at)))
        }
        Switching::Follows(link) => {
            follows(link, now)?;
            let does = |at| follows(link, at).unwrap_or(Following::StaysDark);
            let master = course(view, follows, view.site[link].master)?;
            let before = master.delayed(|at, lit| match does(at) {
                Following::Follows { on_delay_s, .. } if lit => on_delay_s,
                Following::Follows { off_delay_s, .. } => off_delay_s,
                Following::StaysDark | Following::StaysLit => 0.0,
            });
            // Its own line can only take it away.
            Course::of(now, with(&before), |at| {
                own(at) != Some(false)
                    && match does(at) {
                        Following::StaysDark => false,
                        Following::StaysLit => true,
                        Following::Follows { .. } => before.at(at),
                    }
            })
        }
    })
}

/// The same, later.
fn later<'a>(view: &View<'a>, utc: DateTime<Utc>) -> View<'a> {
    let now = Now { utc, ..view.now };
    View { now, ..*view }
}

/// What the plan says of a zone from now on, or what stands in for it.
fn of_its_plan(view: &View<'_>, zone: ZoneId) -> Option<Course> {
    // What others switch goes by their clock, of which this one says nothing now.
    if view.lines[zone.0].is_none() && view.now.quality != ClockQuality::Good {
        return None;
    }
    if let Some(instead) = in_doubt(view, zone) {
        return Some(Course::of(view.now.utc, Vec::new(), |_| instead.lit));
    }
    let planned: &Planned = view.planned?;
    let rows = planned.rows(zone).iter();
    let instants = rows.flat_map(|(_, lit)| [lit.start, lit.end]).collect();
    let at = |at| planned.at(zone, at).lit;
    Some(Course::of(view.now.utc, instants, at))
}

/// What the line of a zone is held to, or kept to by its curfew; `None` where neither is in force.
fn of_its_line(view: &View<'_>, zone: ZoneId) -> Option<bool> {
    view.lines[zone.0]?;
    let held = view.held[zone.0].filter(|held| view.now.utc < held.until);
    let curfew = || curfewed(view, zone, &mut Again::default());
    held.map(|held| held.lit)
        .or_else(|| curfew().map(|wish| wish.lit))
}

/// When that may change.
fn instants_of_its_line(view: &View<'_>, zone: ZoneId) -> Vec<DateTime<Utc>> {
    let mut instants: Vec<_> = view.held[zone.0].iter().map(|held| held.until).collect();
    if let Some(time) = view.site[zone].curfew {
        let mut evening = Evening::at(view.site, view.now.utc);
        for _ in 0..3 {
            instants.extend([evening.clock(view.site, time), evening.ends]);
            evening = Evening::at(view.site, evening.ends);
        }
    }
    instants
}
