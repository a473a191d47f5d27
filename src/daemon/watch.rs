//! What every sensed zone does, against what it should do by now.
//!
//! ```text
//! cause (line, master's input, master's plan) ──── within ────►│── grace ──►│
//!   as before: still fine                                      │ late       │ does not follow
//!                                                              │            │ does not release
//! ```
//!
//! A zone has until the slowest that its link was simulated at, and its supply's own time on top.

use std::fmt;
use std::time::Duration;

use serde::{Deserialize, Serialize};

use crate::almanac::{SunEvent, SunPosition};
use crate::link::LinkJudgement;
use crate::link::Outcome;
use crate::site::{LinkId, Site, Switching, ZoneId};

use super::controller::View;
use super::moment::{Again, ClockQuality};

/// What a zone does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Condition {
    /// Lit, as it should be or still may be.
    Lit,
    /// Dark, as it should be or still may be.
    Dark,
    /// Later than the slowest that was simulated.
    Late,
    /// It stays dark though it should be lit.
    #[serde(rename = "does not follow")]
    DoesNotFollow,
    /// It stays lit though it should be dark.
    #[serde(rename = "does not release")]
    DoesNotRelease,
    /// It is lit while the sun is up, and nobody asked for it.
    #[serde(rename = "lit by day")]
    LitByDay,
    /// Its input cannot be read.
    Unknown,
}

impl Condition {
    /// As in the JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Lit => "lit",
            Self::Dark => "dark",
            Self::Late => "late",
            Self::DoesNotFollow => "does not follow",
            Self::DoesNotRelease => "does not release",
            Self::LitByDay => "lit by day",
            Self::Unknown => "unknown",
        }
    }

    /// Whether something is wrong.
    pub fn is_fault(self) -> bool {
        !matches!(self, Self::Lit | Self::Dark)
    }
}

impl fmt::Display for Condition {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// How slow a link may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slowest {
    /// From its master on to its contact at rest [s]; `None` if it does not surely close.
    pub on_s: Option<f64>,
    /// From its master off to its contact open [s]; `None` if it does not surely open.
    pub off_s: Option<f64>,
}

impl Slowest {
    /// Of every link, in the order of [`Site::links`].
    pub fn of(links: &[LinkJudgement]) -> Vec<Self> {
        links
            .iter()
            .map(|judged| {
                let follows = judged.ordinary().outcome() == Outcome::Follows;
                let times = &judged.times;
                Self {
                    on_s: times
                        .pull_in
                        .filter(|_| follows)
                        .map(|band| band.most_s + times.bounce_s),
                    off_s: times.drop_out.filter(|_| follows).map(|band| band.most_s),
                }
            })
            .collect()
    }
}

/// Between debounce and the service having looked [s] (assumed).
pub(super) const LOOKING_S: f64 = 0.5;

/// How long late is only late [s] (assumed).
const GRACE: Duration = Duration::from_secs(10);

/// How far a master that this board does not drive may stray from its plan [s]: a photocell, or a
/// timer of its own (common practice: an hour is a fault).
const STRAY_S: f64 = 3600.0;

/// What a zone should be by now.
#[derive(Debug, Clone, Copy)]
struct Expected {
    lit: bool,
    since: Duration,
    /// How long it may take [s].
    within_s: f64,
}

/// What a zone does; `None` if nobody looks. `links` is `None` until they are worked out.
pub fn condition(
    view: &View<'_>,
    links: Option<&[Slowest]>,
    zone: ZoneId,
    again: &mut Again,
) -> Option<Condition> {
    let sense = view.senses[zone.0]?;
    let Some(lit) = sense.lit else {
        return Some(Condition::Unknown);
    };
    let as_sensed = if lit { Condition::Lit } else { Condition::Dark };
    let Some(expected) = expected(view, links, zone) else {
        return Some(as_sensed);
    };
    if expected.lit == lit {
        return Some(as_sensed);
    }
    let debounce_s = view
        .site
        .input_of(zone)
        .map_or(0.0, |input| input.debounce_s);
    let within = Duration::from_secs_f64(expected.within_s + debounce_s + LOOKING_S);
    // One that did as it should and does so no more has not been late since then.
    let since = expected.since.max(sense.since);
    let end = since.saturating_add(within);
    if view.now.boot < end {
        again.after(end);
        return Some(as_sensed);
    }
    if view.now.boot < end + GRACE {
        again.after(end + GRACE);
        return Some(Condition::Late);
    }
    Some(if !lit {
        Condition::DoesNotFollow
    } else if is_day(view) {
        Condition::LitByDay
    } else {
        Condition::DoesNotRelease
    })
}

fn is_day(view: &View<'_>) -> bool {
    view.now.quality == ClockQuality::Good
        && SunPosition::at(view.site.place, view.now.utc)
            .is_ok_and(|sun| sun.altitude_deg > SunEvent::Sunset.altitude_deg())
}

fn expected(view: &View<'_>, links: Option<&[Slowest]>, zone: ZoneId) -> Option<Expected> {
    let supply = &view.site[view.site[zone].supply];
    let own_s = |lit: bool| {
        if lit {
            supply.start_s
        } else {
            supply.hold_up_s
        }
    };
    match view.site[zone].switching {
        Switching::Follows(link) => {
            let cause = cause(view, links, link)?;
            let line = view.lines[zone.0];
            let lit = cause.lit && line.is_none_or(|line| line.lit);
            let Slowest { on_s, off_s } = links?[link.0];
            let (relay_s, since) = match line {
                // Its own line has cut it off, whatever the relay does.
                Some(line) if !line.lit => (0.0, line.since),
                Some(line) if lit => (on_s?, cause.since.max(line.since)),
                _ if lit => (on_s?, cause.since),
                _ => (off_s?, cause.since),
            };
            Some(Expected {
                lit,
                since,
                within_s: cause.within_s + relay_s + own_s(lit),
            })
        }
        Switching::Timed(_) | Switching::Senses(_) => {
            if let Some(line) = view.lines[zone.0] {
                return Some(Expected {
                    lit: line.lit,
                    since: line.since,
                    within_s: own_s(line.lit),
                });
            }
            if view.now.quality != ClockQuality::Good {
                return None;
            }
            let stretch = view.planned?.at(zone, view.now.utc);
            let since = stretch.since.map_or(Duration::ZERO, |at| {
                let ago = (view.now.utc - at).to_std().unwrap_or_default();
                view.now.boot.saturating_sub(ago)
            });
            Some(Expected {
                lit: stretch.lit,
                since,
                within_s: STRAY_S + own_s(stretch.lit),
            })
        }
    }
}

/// What the master of a link does: as its input says, or as it should by now.
fn cause(view: &View<'_>, links: Option<&[Slowest]>, link: LinkId) -> Option<Expected> {
    let master = view.site[link].master;
    if let Some(sense) = view.senses[master.0]
        && let Some(lit) = sense.lit
    {
        return Some(Expected {
            lit,
            since: sense.since,
            within_s: 0.0,
        });
    }
    expected(view, links, master)
}

/// Whether anything of a site can be watched.
pub fn watches(site: &Site) -> bool {
    !site.inputs.is_empty()
}
