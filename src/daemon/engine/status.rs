//! How the yard is, for whoever asks.

use std::time::Duration;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use crate::daemon::ahead;
use crate::daemon::controller::{Rule, Why};
use crate::daemon::lines::Lines;
use crate::daemon::moment::{ClockQuality, Now};
use crate::daemon::planned::Stretch;
use crate::daemon::store::Store;
use crate::daemon::watch::Condition;
use crate::link::Following;
use crate::schedule::Evening;
use crate::site::{LinkId, Switching, ZoneId};

use super::Engine;
use super::inputs::why_condition;

/// How the yard is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Status {
    /// The yard's name.
    pub site: String,
    /// When this was so.
    pub at: DateTime<Utc>,
    /// The same by the yard's clocks.
    pub local: String,
    /// The name of the yard's time zone.
    pub timezone: String,
    /// How far the board's clock can be trusted.
    pub clock: ClockQuality,
    /// The service runs since.
    pub since: DateTime<Utc>,
    /// The program's version.
    pub version: String,
    /// The zones, masters before their slaves.
    pub zones: Vec<ZoneStatus>,
    /// What is wrong, worst first.
    pub alarms: Vec<String>,
    /// What `check` says of this yard; `None` until that is worked out.
    pub check: Option<Checked>,
    /// What switches next, and when.
    pub next: Option<NextSwitching>,
}

/// What `check` says of a yard.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Checked {
    /// `GO`, `GO WITH CAUTION` or `NO-GO`.
    pub verdict: String,
    /// Why it should not be built so: `S39 zone front: lit whenever nothing drives its line`. Alarms tell them, too.
    pub stops: Vec<String>,
    /// How many warnings there are.
    pub warnings: usize,
}

impl Checked {
    /// Of its warnings, if there are any.
    pub fn warns(&self) -> Option<String> {
        match self.warnings {
            0 => None,
            1 => Some("1 warning, see `pilotwire check`".into()),
            count => Some(format!("{count} warnings, see `pilotwire check`")),
        }
    }
}

/// What switches next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NextSwitching {
    /// When.
    pub at: DateTime<Utc>,
    /// The same by the yard's clocks.
    pub local: String,
    /// Which zone.
    pub zone: String,
    /// Lit, or dark.
    pub lit: bool,
}

/// How it is known what a zone does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Known {
    /// By its input.
    Sensed,
    /// By its line.
    Driven,
    /// By what a meter showed.
    Measured,
    /// By what its master does, or by its plan.
    Predicted,
}

impl Known {
    /// Whether the board itself sees or does it.
    pub fn by_the_board(self) -> bool {
        matches!(self, Self::Sensed | Self::Driven)
    }

    /// What is put behind a condition that the board itself does not see.
    pub fn said_behind(self) -> &'static str {
        match self {
            Self::Sensed | Self::Driven => "",
            Self::Measured => " (measured)",
            Self::Predicted => " (predicted)",
        }
    }
}

/// How a zone is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ZoneStatus {
    /// Its name.
    pub zone: String,
    /// The zone it follows.
    pub follows: Option<String>,
    /// What it is, as far as anything says.
    pub lit: Option<bool>,
    /// What it should be, as far as anything says.
    pub wanted: Option<bool>,
    /// What its line is driven to; `None` without a line, or if that is lost.
    pub driven: Option<bool>,
    /// What its input says; `None` without one, or if that is lost.
    pub sensed: Option<bool>,
    /// What it does.
    pub condition: Condition,
    /// How that is known.
    pub known: Known,
    /// Which rule decides what it should be; `None` while what its link does is not worked out.
    pub rule: Option<Rule>,
    /// Why it should be so, in words.
    pub why: String,
    /// What a change waits for.
    pub waits: Option<String>,
    /// Since when it is so.
    pub since: Option<DateTime<Utc>>,
    /// Until when, as far as the plan says.
    pub until: Option<DateTime<Utc>>,
    /// When it is next switched, and to what: by the plan, by the end of a hold, or with the zone it follows.
    pub next: Option<NextSwitching>,
    /// It is held so.
    pub held: Option<bool>,
    /// Lit in all [h].
    pub lit_h: f64,
    /// How often it went on.
    pub operations: u64,
}

impl ZoneStatus {
    /// Its next switching, unless it is so already: by a fault, or before its time.
    pub fn next_change(&self) -> Option<&NextSwitching> {
        let next = self.next.as_ref();
        next.filter(|next| self.lit != Some(next.lit) || self.waits.is_some())
    }
}

impl NextSwitching {
    /// To what.
    pub fn what(&self) -> &'static str {
        if self.lit { "on" } else { "off" }
    }
}

impl Status {
    /// In one line: what is lit, what is wrong, what comes next.
    pub fn in_short(&self) -> String {
        let that_are = |lit| {
            let zones = self.zones.iter().filter(|zone| zone.lit == lit);
            let names: Vec<&str> = zones.map(|zone| zone.zone.as_str()).collect();
            names
        };
        let (lit, unknown) = (that_are(Some(true)), that_are(None));
        let mut text = match (lit.is_empty(), unknown.len()) {
            (true, 0) => "all dark".to_owned(),
            (false, 0) => format!("lit: {}", lit.join(", ")),
            (true, count) if count == self.zones.len() => {
                "whether any zone is lit is unknown".to_owned()
            }
            (true, _) => format!("unknown: {}; the others dark", unknown.join(", ")),
            (false, _) => format!("lit: {}; unknown: {}", lit.join(", "), unknown.join(", ")),
        };
        if let Some(worst) = self.alarms.first() {
            text = format!(
                "{}: {worst}; {text}",
                match self.alarms.len() {
                    1 => "1 alarm".to_owned(),
                    count => format!("{count} alarms"),
                }
            );
        }
        if let Some(next) = &self.next {
            text = format!(
                "{text}; next: {} {} at {}",
                next.zone,
                next.what(),
                next.local
            );
        }
        text
    }
}

impl<L: Lines, S: Store> Engine<L, S> {
    /// How the yard is.
    pub fn status(&self, now: Now) -> Status {
        let zones = self.site.zones_in_order().into_iter();
        let zones: Vec<_> = zones.map(|zone| self.zone_status(zone, now)).collect();
        // Of those at the same time the one before its slaves.
        let next = zones.iter().filter_map(ZoneStatus::next_change);
        let next = next.min_by_key(|next| next.at).cloned();
        Status {
            site: self.site.name.clone(),
            at: now.utc,
            local: self.say_time(now.utc),
            timezone: self.site.timezone.name().to_owned(),
            clock: now.quality,
            since: self.clock.started.utc,
            version: env!("CARGO_PKG_VERSION").to_owned(),
            zones,
            alarms: self.alarms(now),
            check: self.checked.clone(),
            next,
        }
    }

    /// When a zone is next switched, and to what.
    fn next_switching(&self, zone: ZoneId, now: Now) -> Option<NextSwitching> {
        let follows = |link, at| self.following_of(link, at);
        let (at, lit) = self.view(now, &self.holds.held(), |view| {
            ahead::next(view, &follows, zone)
        })?;
        Some(NextSwitching {
            at,
            local: self.say_time(at),
            zone: self.site[zone].name.clone(),
            lit,
        })
    }

    /// What a zone does, and how that is known.
    pub(super) fn shown(&self, zone: ZoneId, now: Now) -> (Option<bool>, Known) {
        if let Some(sense) = self.inputs.zones[zone.0].sense {
            return (sense.lit, Known::Sensed);
        }
        let driven = &self.outputs.zones[zone.0];
        let line = driven.line.map(|line| line.lit);
        match self.site[zone].switching {
            Switching::Timed(_) | Switching::Senses(_) => match line {
                Some(lit) => (Some(lit).filter(|_| driven.fault.is_none()), Known::Driven),
                None => (
                    self.stretch(zone, now).map(|stretch| stretch.lit),
                    Known::Predicted,
                ),
            },
            Switching::Follows(link) => {
                let (master, _) = self.shown(self.site[link].master, now);
                let following = self.following_of(link, now.utc);
                let lit = match following {
                    None => None,
                    Some(Following::StaysDark) => Some(false),
                    Some(Following::StaysLit) => Some(true),
                    Some(Following::Follows { .. }) => master,
                };
                // Its own line can only take it away.
                let lit = lit.map(|lit| lit && line != Some(false));
                match self.measured_to_stay(zone) {
                    Some(_) => (lit, Known::Measured),
                    None => (lit, Known::Predicted),
                }
            }
        }
    }

    fn stretch(&self, zone: ZoneId, now: Now) -> Option<Stretch> {
        let planned = self.planned.as_ref()?;
        Some(planned.at(zone, now.utc))
    }

    /// What a link does on the evening of an instant, once that is worked out. What a meter showed is believed over
    /// what was worked out.
    pub(super) fn following_of(&self, link: LinkId, at: DateTime<Utc>) -> Option<Following> {
        if let Some(lit) = self.measured_to_stay(self.site[link].slave) {
            return Some(if lit {
                Following::StaysLit
            } else {
                Following::StaysDark
            });
        }
        self.links.judged.as_ref()?;
        let evening = Evening::at(&self.site, at).date;
        Some(self.links.following[link.0].on(evening))
    }

    /// Since when a zone does what it does, as far as anything says.
    fn since(&self, zone: ZoneId, now: Now) -> Option<DateTime<Utc>> {
        let (lit, known) = self.shown(zone, now);
        let switched = self.journal.zones[zone.0].now.since;
        if known.by_the_board() {
            return Some(switched);
        }
        let Switching::Follows(link) = self.site[zone].switching else {
            // Beside the plan, by a fault, its times say nothing.
            let stretch = self.stretch(zone, now)?;
            return stretch.since.filter(|_| Some(stretch.lit) == lit);
        };
        let own = self.outputs.zones[zone.0].line;
        if own.is_some_and(|line| !line.lit) {
            return Some(switched);
        }
        let Some(Following::Follows {
            on_delay_s,
            off_delay_s,
        }) = self.following_of(link, now.utc)
        else {
            return None;
        };
        let delay_s = if lit? { on_delay_s } else { off_delay_s };
        let delay = Duration::try_from_secs_f64(delay_s).unwrap_or_default();
        let with_master = self.since(self.site[link].master, now)? + delay;
        Some(own.map_or(with_master, |_| with_master.max(switched)))
    }

    pub(super) fn zone_status(&self, zone: ZoneId, now: Now) -> ZoneStatus {
        let output = &self.outputs.zones[zone.0];
        let input = &self.inputs.zones[zone.0];
        let hold = self.holds.zones[zone.0].as_ref();
        let counted = &self.journal.zones[zone.0].now;
        let (lit, known) = self.shown(zone, now);
        let stretch = self.stretch(zone, now);
        // Beside the plan, by a hold or a fault, its times say nothing.
        let by_plan = stretch.filter(|stretch| Some(stretch.lit) == lit);
        let condition = match (input.condition, lit) {
            (Some(condition), _) => condition,
            (None, Some(true)) => Condition::Lit,
            (None, Some(false)) => Condition::Dark,
            (None, None) => Condition::Unknown,
        };
        // The line of a slave only lets it follow; that it is closed is no reason to be lit.
        let follows = self.site.link_to(zone).is_some();
        let command = output
            .command
            .filter(|command| !follows || !command.wish.lit || hold.is_some());
        let decides = match (command, stretch) {
            (Some(command), _) => Some(command.wish.why),
            (None, _) if follows && self.links.judged.is_none() => None,
            (None, Some(stretch)) => Some(Why::Plan(stretch.why)),
            (None, None) => Some(Why::NoPlan),
        };
        let (rule, why) = match (
            self.why_measured(zone).filter(|_| command.is_none()),
            decides,
        ) {
            (Some(said), _) => (Some(Rule::Reading), said),
            (None, Some(why)) => (Some(why.rule()), why.say(&self.site)),
            (None, None) => (None, "what its link does is not worked out yet".to_owned()),
        };
        let master = self.site.master_of(zone);
        ZoneStatus {
            zone: self.site[zone].name.clone(),
            follows: master.map(|master| self.site[master].name.clone()),
            lit,
            wanted: match command {
                Some(command) => Some(command.wish.lit),
                None if follows => master.and_then(|master| self.shown(master, now).0),
                None => stretch.map(|stretch| stretch.lit),
            },
            driven: output
                .line
                .filter(|_| output.fault.is_none())
                .map(|line| line.lit),
            sensed: input.sense.and_then(|sense| sense.lit),
            condition,
            known,
            rule,
            why,
            waits: output
                .command
                .and_then(|command| command.waits)
                .map(|waits| waits.say().to_owned()),
            since: self.since(zone, now),
            until: match hold {
                Some(hold) => Some(hold.until),
                None => by_plan.and_then(|stretch| stretch.until),
            },
            next: self.next_switching(zone, now),
            held: hold.map(|hold| hold.lit),
            lit_h: counted.lit_s / 3600.0,
            operations: counted.operations,
        }
    }

    /// What is wrong, worst first.
    fn alarms(&self, now: Now) -> Vec<String> {
        let mut alarms = Vec::new();
        for (output, zone) in self.outputs.zones.iter().zip(&self.site.zones) {
            if let Some(fault) = &output.fault {
                alarms.push(format!("{}: {fault}", zone.name));
            }
        }
        for (index, input) in self.inputs.zones.iter().enumerate() {
            let name = &self.site.zones[index].name;
            if let Some(fault) = &input.fault {
                alarms.push(format!("{name}: input: {fault}"));
            } else if let Some(condition) = input.condition.filter(|it| it.is_fault()) {
                let why = why_condition(&self.site, ZoneId(index), condition);
                alarms.push(format!("{name}: {condition}: {why}"));
            }
        }
        if now.quality != ClockQuality::Good {
            alarms.push(format!(
                "the clock is {}; set it by the network or a battery clock, or, if {} is right, `pilotwire trust-clock`",
                now.quality,
                self.say_time(now.utc)
            ));
        }
        if let Some(trouble) = self
            .journal
            .trouble
            .as_ref()
            .or(self.journal.aside.as_ref())
        {
            alarms.push(format!("store: {}", trouble.0));
        }
        if self.journal.lost > 0 {
            alarms.push(format!("store: {} records are lost", self.journal.lost));
        }
        for stop in self.checked.iter().flat_map(|checked| &checked.stops) {
            alarms.push(format!("check says NO-GO: {stop}"));
        }
        if let Some(why) = &self.page_trouble {
            alarms.push(format!("no page: {why}"));
        }
        if let Some(why) = &self.reload_trouble {
            alarms.push(format!("the new site file was not taken: {why}"));
        }
        alarms
    }
}
