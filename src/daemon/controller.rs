//! What every line should be, and why: a plain function of the moment, the plan, the holds and the
//! inputs.
//!
//! ```text
//! hold? ─ no ─► switched by ─┬─ the clock ─ is the clock good? ─► plan, or what the file says for doubt
//!   │                        ├─ its master's relay ─► line closed, but for a curfew
//!   │                        └─ an input ─ delays ─ curfew ─ silent? ─► the input, or its master's plan
//!   ▼                                                                          │
//! lit or dark ◄────────────────────────────────────────────────────────────────┘
//!   │
//!   └─ minimum on-time, minimum off-time, one zone after the other ─► what the line is driven to now
//! ```
//!
//! Nothing here remembers anything: asked twice, it answers the same, so a wake too many does no harm,
//! and one too few is made up for by the next.
//!
//! While the clock is doubtful, timed lights are dark: lights fail dark. An owner who would rather have them
//! by a doubtful clock writes `on_doubtful_clock`. Zones that follow an input never ask the clock.
//!
//! An input that was lit in this evening's window does not count as silent later: a person has switched the
//! master off. The fallback is for a wire that is dead, and a dead wire is silent all evening.

use std::time::Duration;

use chrono::{DateTime, NaiveTime, Utc};
use serde::{Deserialize, Serialize};

use crate::schedule::{Evening, Reason, clock};
use crate::site::{IfSilent, OnDoubtfulClock, Sensing, Site, Switching, ZoneId};

use super::moment::{Again, ClockQuality, Now};
use super::planned::{Planned, Stretch};

/// A line as it is driven.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LineState {
    /// Lit, or dark.
    pub lit: bool,
    /// Since then.
    pub since: Duration,
    /// It does not do as it is told: sought again at every wake, and nobody waits for it.
    pub lost: bool,
}

/// What an input says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sense {
    /// Lit or dark; `None` if it cannot be read.
    pub lit: Option<bool>,
    /// Since then.
    pub since: Duration,
    /// It was so when the service began to look: nobody knows since when.
    pub from_start: bool,
    /// It changes all the time, until then: nobody knows what it means.
    pub chatters_until: Option<Duration>,
}

/// A zone that is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Held {
    /// Lit, or dark.
    pub lit: bool,
    /// Until then.
    pub until: DateTime<Utc>,
    /// Since boot, the end at the latest.
    pub until_boot: Duration,
    /// It ends when the clock shows `until`.
    pub by_clock: bool,
    /// It was asked for before the board was started anew, and the clock is in doubt: nobody knows
    /// whether it is over.
    pub unsure: bool,
}

/// All that the controller looks at; the lists are by zone.
#[derive(Debug, Clone, Copy)]
pub struct View<'a> {
    /// The yard.
    pub site: &'a Site,
    /// Its plan; `None` if the clock shows a year that the almanac does not know.
    pub planned: Option<&'a Planned>,
    /// The moment.
    pub now: Now,
    /// Who is held.
    pub held: &'a [Option<Held>],
    /// Lines that are driven.
    pub lines: &'a [Option<LineState>],
    /// Inputs.
    pub senses: &'a [Option<Sense>],
    /// What every line was when the clock was last good.
    pub last: &'a [bool],
    /// When a line last went on.
    pub last_on: Option<Duration>,
}

/// Why a zone should be lit or dark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Why {
    /// The plan.
    Plan(Option<Reason>),
    /// It is held.
    Held(DateTime<Utc>),
    /// It was held lit before the board was started anew, and nobody knows whether that is over.
    HeldInDoubt,
    /// The clock cannot be trusted.
    Clock(ClockQuality),
    /// The clock cannot be trusted; as it was before.
    LastKnown(ClockQuality),
    /// The clock shows a year that the almanac does not know.
    NoPlan,
    /// It follows its master over a relay; the line is closed so that it can.
    Ready(ZoneId),
    /// The curfew of the evening.
    Curfew(NaiveTime),
    /// The input of its master.
    Input(ZoneId),
    /// The input of its master cannot be read.
    InputLost(ZoneId),
    /// The input of its master changes all the time.
    InputChatters(ZoneId),
    /// The input of its master has been dark all this window; by its master's plan.
    Silent(ZoneId),
}

/// Which rule decides what a zone should be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Rule {
    /// Its plan, or the clock that the plan goes by.
    Plan,
    /// The zone that it follows, over a relay or by an input.
    Master,
    /// A hold.
    Hold,
    /// A curfew.
    Curfew,
    /// What a meter showed.
    Reading,
}

impl Why {
    /// Which rule this is.
    pub fn rule(&self) -> Rule {
        match self {
            Self::Plan(Some(Reason::Follows(..) | Reason::FollowsInput(..)))
            | Self::Ready(_)
            | Self::Input(_)
            | Self::InputLost(_)
            | Self::InputChatters(_)
            | Self::Silent(_) => Rule::Master,
            Self::Plan(_) | Self::Clock(_) | Self::LastKnown(_) | Self::NoPlan => Rule::Plan,
            Self::Held(_) | Self::HeldInDoubt => Rule::Hold,
            Self::Curfew(_) => Rule::Curfew,
        }
    }

    /// In words.
    pub fn say(&self, site: &Site) -> String {
        match *self {
            Self::Plan(Some(reason)) => reason.say(site),
            Self::Plan(None) => "nothing planned".into(),
            Self::Held(until) => {
                let day = site.timezone.to_local(until).format("%a");
                format!("held until {day} {}", clock(&site.timezone, until))
            }
            Self::HeldInDoubt => {
                "held before the restart; nobody knows whether that is over".into()
            }
            Self::Clock(quality) => format!("the clock is {quality}: dark until it is set"),
            Self::LastKnown(quality) => format!("the clock is {quality}: as it was before"),
            Self::NoPlan => "the clock shows a year without an almanac".into(),
            Self::Ready(master) => format!("ready to follow {}", site[master].name),
            Self::Curfew(time) => format!("curfew {}", time.format("%H:%M")),
            Self::Input(master) => format!("follows the input of {}", site[master].name),
            Self::InputLost(master) => {
                format!("the input of {} cannot be read", site[master].name)
            }
            Self::InputChatters(master) => format!(
                "the input of {} changes all the time: dark, to spare the contact",
                site[master].name
            ),
            Self::Silent(master) => format!(
                "the input of {} is silent: by the plan of {}",
                site[master].name, site[master].name
            ),
        }
    }
}

/// What a zone should be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wish {
    /// Lit, or dark.
    pub lit: bool,
    /// Why.
    pub why: Why,
    /// Until when, as far as the clock decides.
    pub until: Option<DateTime<Utc>>,
}

/// What a change waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wait {
    /// The minimum on-time.
    MinimumLit,
    /// The minimum off-time.
    MinimumDark,
    /// Another zone has just gone on.
    Stagger,
}

impl Wait {
    /// In words.
    pub fn say(self) -> &'static str {
        match self {
            Self::MinimumLit => "minimum on-time not over yet",
            Self::MinimumDark => "minimum off-time not over yet",
            Self::Stagger => "one zone after the other",
        }
    }
}

/// What a line is to be driven to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Command {
    /// What the zone should be.
    pub wish: Wish,
    /// What the line is to be now.
    pub lit: bool,
    /// Why it is not yet as the zone should be.
    pub waits: Option<Wait>,
    /// What the zone should be if nobody held it.
    pub unheld: bool,
}

/// What every line is to be driven to, and when to look again.
pub fn decide(view: &View<'_>) -> (Vec<Option<Command>>, Again) {
    let mut commands = vec![None; view.site.zones.len()];
    let mut again = Again::default();
    let mut last_on = view.last_on;
    for zone in view.site.zones_in_order() {
        if view.lines[zone.0].is_none() {
            continue;
        }
        let wish = wish(view, zone, &mut again);
        let waits = waits(view, zone, wish.lit, last_on, &mut again);
        let lit = wish.lit != waits.is_some();
        if lit && view.lines[zone.0].is_some_and(|line| !line.lit && !line.lost) {
            last_on = Some(view.now.boot);
        }
        let unheld = match view.held[zone.0] {
            Some(_) => of_itself(view, zone, &mut Again::default()).lit,
            None => wish.lit,
        };
        commands[zone.0] = Some(Command {
            wish,
            lit,
            waits,
            unheld,
        });
    }
    (commands, again)
}

/// What a change of a line waits for, if it has to.
fn waits(
    view: &View<'_>,
    zone: ZoneId,
    lit: bool,
    last_on: Option<Duration>,
    again: &mut Again,
) -> Option<Wait> {
    let line = view.lines[zone.0]?;
    if line.lit == lit {
        return None;
    }
    let mut until = |since: Duration, seconds: f64| {
        let end = since + Duration::from_secs_f64(seconds);
        let waits = view.now.boot < end;
        if waits {
            again.after(end);
        }
        waits
    };
    let zone = &view.site[zone];
    if line.lit {
        return until(line.since, zone.minimum_lit_s).then_some(Wait::MinimumLit);
    }
    if until(line.since, zone.minimum_dark_s) {
        return Some(Wait::MinimumDark);
    }
    let staggered = last_on.is_some_and(|at| until(at, view.site.daemon.stagger_s));
    staggered.then_some(Wait::Stagger)
}

/// What a zone with a line should be.
fn wish(view: &View<'_>, zone: ZoneId, again: &mut Again) -> Wish {
    match view.held[zone.0] {
        None => of_itself(view, zone, again),
        // Lights fail dark: nobody knows whether it is over. But it makes nothing darker than it is.
        Some(held) if held.unsure && held.lit => {
            let wish = of_itself(view, zone, again);
            if wish.lit {
                wish
            } else {
                dark(Why::HeldInDoubt)
            }
        }
        Some(held) => {
            if !held.unsure {
                again.after(held.until_boot);
                again.at(held.by_clock.then_some(held.until));
            }
            Wish {
                lit: held.lit,
                why: Why::Held(held.until),
                until: Some(held.until),
            }
        }
    }
}

/// What a zone with a line should be if nobody holds it.
fn of_itself(view: &View<'_>, zone: ZoneId, again: &mut Again) -> Wish {
    match view.site[zone].switching {
        Switching::Timed(_) => by_clock(view, zone, again),
        Switching::Follows(link) => curfewed(view, zone, again).unwrap_or(Wish {
            lit: true,
            why: Why::Ready(view.site[link].master),
            until: None,
        }),
        Switching::Senses(sensing) => {
            curfewed(view, zone, again).unwrap_or_else(|| sensed(view, zone, sensing, again))
        }
    }
}

fn dark(why: Why) -> Wish {
    Wish {
        lit: false,
        why,
        until: None,
    }
}

/// What stands in for a decision that needs the clock while the clock is in doubt.
pub(super) fn in_doubt(view: &View<'_>, zone: ZoneId) -> Option<Wish> {
    let quality = view.now.quality;
    match (quality, view.site.daemon.on_doubtful_clock) {
        (ClockQuality::Good, _) | (ClockQuality::Doubtful, OnDoubtfulClock::Schedule) => None,
        (_, OnDoubtfulClock::Last) => Some(Wish {
            lit: view.last[zone.0],
            why: Why::LastKnown(quality),
            until: None,
        }),
        _ => Some(dark(Why::Clock(quality))),
    }
}

/// What the plan says of a zone now.
fn planned(view: &View<'_>, zone: ZoneId) -> Option<Stretch> {
    view.planned.map(|planned| planned.at(zone, view.now.utc))
}

fn by_clock(view: &View<'_>, zone: ZoneId, again: &mut Again) -> Wish {
    if let Some(instead) = in_doubt(view, zone) {
        return instead;
    }
    let Some(stretch) = planned(view, zone) else {
        return dark(Why::NoPlan);
    };
    again.at(stretch.until);
    Wish {
        lit: stretch.lit,
        why: Why::Plan(stretch.why),
        until: stretch.until,
    }
}

/// Dark by curfew, if the zone has one and it is in force.
pub(super) fn curfewed(view: &View<'_>, zone: ZoneId, again: &mut Again) -> Option<Wish> {
    let time = view.site[zone].curfew?;
    if let Some(instead) = in_doubt(view, zone) {
        // As it was before a doubt is no more than a permission to be lit.
        return (!instead.lit).then_some(instead);
    }
    let evening = Evening::at(view.site, view.now.utc);
    let begins = evening.clock(view.site, time);
    if view.now.utc < begins {
        again.at(Some(begins));
        return None;
    }
    again.at(Some(evening.ends));
    Some(Wish {
        lit: false,
        why: Why::Curfew(time),
        until: Some(evening.ends),
    })
}

/// What the input of its master says, after its delays.
fn sensed(view: &View<'_>, zone: ZoneId, sensing: Sensing, again: &mut Again) -> Wish {
    let master = sensing.master;
    let sense = view.senses[master.0].unwrap_or(Sense {
        lit: None,
        since: Duration::ZERO,
        from_start: true,
        chatters_until: None,
    });
    if let Some(until) = sense.chatters_until.filter(|until| view.now.boot < *until) {
        again.after(until);
        return dark(Why::InputChatters(master));
    }
    let line_lit = view.lines[zone.0].is_some_and(|line| line.lit);
    let lit = sense.lit.unwrap_or(false);
    let delay_s = if lit {
        sensing.on_delay_s
    } else {
        sensing.off_delay_s
    };
    let end = sense.since + Duration::from_secs_f64(delay_s);
    let now = if view.now.boot >= end {
        lit
    } else {
        again.after(end);
        line_lit
    };
    if !lit
        && sensing.if_silent == IfSilent::Schedule
        && let Some(wish) = silent(view, sensing, sense, again)
    {
        return wish;
    }
    let why = match sense.lit {
        Some(_) => Why::Input(master),
        None => Why::InputLost(master),
    };
    Wish {
        lit: now,
        why,
        until: None,
    }
}

/// Lit by its master's plan, if that has been lit for long enough while the input stayed dark.
///
/// An input that was lit in this window and then went dark is no dead wire: somebody has switched the
/// master off.
fn silent(view: &View<'_>, sensing: Sensing, sense: Sense, again: &mut Again) -> Option<Wish> {
    let clock_counts = match view.now.quality {
        ClockQuality::Good => true,
        ClockQuality::Doubtful => view.site.daemon.on_doubtful_clock == OnDoubtfulClock::Schedule,
        ClockQuality::Impossible => false,
    };
    let stretch = planned(view, sensing.master).filter(|_| clock_counts)?;
    again.at(stretch.until);
    let planned_s = (view.now.utc - stretch.since.filter(|_| stretch.lit)?).as_seconds_f64();
    let dark_s = (view.now.boot.saturating_sub(sense.since)).as_secs_f64();
    let after_s = sensing.silent_after_s;
    let alive_in_window = sense.lit == Some(false) && !sense.from_start && dark_s < planned_s;
    if alive_in_window {
        return None;
    }
    let waited_s = planned_s.min(dark_s);
    if waited_s < after_s {
        again.after(view.now.boot + Duration::from_secs_f64(after_s - waited_s));
        return None;
    }
    Some(Wish {
        lit: true,
        why: Why::Silent(sensing.master),
        until: stretch.until,
    })
}
