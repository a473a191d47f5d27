//! How the yard is, for whoever asks.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};

use crate::daemon::lines::Lines;
use crate::daemon::moment::Now;
use crate::site::{Switching, ZoneId};

use super::Engine;

/// How the yard is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Status {
    /// The yard's name.
    pub site: String,
    /// When this was so.
    pub at: DateTime<Utc>,
    /// The same by the yard's clocks.
    pub local: String,
    /// `good`, `doubtful` or `impossible`.
    pub clock: String,
    /// The service runs since.
    pub since: DateTime<Utc>,
    /// The program's version.
    pub version: String,
    /// The zones, masters before their slaves.
    pub zones: Vec<ZoneStatus>,
    /// What is wrong, worst first.
    pub alarms: Vec<String>,
    /// What switches next by the plan, and when.
    pub next: Option<NextSwitching>,
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

/// How a zone is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ZoneStatus {
    /// Its name.
    pub zone: String,
    /// The zone it follows.
    pub follows: Option<String>,
    /// What it should be: `None` if the clock is in doubt and nothing else says.
    pub wanted: Option<bool>,
    /// What its line is driven to; `None` without a line, or if that is lost.
    pub driven: Option<bool>,
    /// What its input says; `None` without one, or if that is lost.
    pub sensed: Option<bool>,
    /// `lit`, `dark`, `late`, `does not follow`, `does not release`, `lit by day`, `unknown`.
    pub condition: String,
    /// How that is known: `sensed`, `driven` or `predicted`.
    pub known: String,
    /// Why it should be so.
    pub why: String,
    /// What a change waits for.
    pub waits: Option<String>,
    /// Since when it is so.
    pub since: Option<DateTime<Utc>>,
    /// Until when, as far as the plan says.
    pub until: Option<DateTime<Utc>>,
    /// It is held so.
    pub held: Option<bool>,
    /// Lit in all [h].
    pub lit_h: f64,
    /// How often it went on.
    pub operations: u64,
}

impl<L: Lines> Engine<L> {
    /// How the yard is.
    pub fn status(&self, now: Now) -> Status {
        let zones = self
            .site
            .zones_in_order()
            .into_iter()
            .map(|zone| self.zone_status(zone, now))
            .collect();
        let next = self.next_switching(now);
        Status {
            site: self.site.name.clone(),
            at: now.utc,
            local: self.say_time(now.utc),
            clock: now.quality.name().to_owned(),
            since: self.started.utc,
            version: env!("CARGO_PKG_VERSION").to_owned(),
            zones,
            alarms: self.alarms(now),
            next,
        }
    }

    fn next_switching(&self, now: Now) -> Option<NextSwitching> {
        let planned = self.planned.as_ref()?;
        let zones = (0..self.zones.len()).map(ZoneId);
        zones
            .filter_map(|zone| Some((planned.next_change(zone, now.utc)?, zone)))
            .min()
            .map(|(at, zone)| NextSwitching {
                at,
                local: self.say_time(at),
                zone: self.site[zone].name.clone(),
                lit: planned.at(zone, at).lit,
            })
    }

    fn zone_status(&self, zone: ZoneId, now: Now) -> ZoneStatus {
        let state = &self.zones[zone.0];
        let stretch = self
            .planned
            .as_ref()
            .map(|planned| planned.at(zone, now.utc));
        let line = state.line.filter(|_| state.line_fault.is_none());
        let sensed = state.sense.and_then(|sense| sense.lit);
        // A slave whose link is not worked out yet is not predicted.
        let unknown_link =
            matches!(self.site[zone].switching, Switching::Follows(_)) && self.links.is_none();
        let predicted = stretch.filter(|_| !unknown_link);
        let in_series = self.site.link_to(zone).is_some();
        let wanted = match state.command {
            Some(command) if !in_series => Some(command.wish.lit),
            // Its line only lets it follow.
            Some(command) if !command.wish.lit => Some(false),
            _ => predicted.map(|stretch| stretch.lit),
        };
        let (shown, known) = match (sensed, line.filter(|_| !in_series)) {
            (Some(lit), _) => (Some(lit), "sensed"),
            (None, Some(line)) => (Some(line.lit), "driven"),
            (None, None) => (wanted, "predicted"),
        };
        let condition = match state.condition {
            Some(condition) => condition.name(),
            None => match shown {
                _ if state.line_fault.is_some() => "unknown",
                Some(true) => "lit",
                Some(false) => "dark",
                None => "unknown",
            },
        };
        let why = match (state.command, &predicted) {
            (Some(command), _) if !in_series || !command.wish.lit => {
                command.wish.why.say(&self.site)
            }
            (_, Some(stretch)) => stretch
                .why
                .map_or_else(|| "nothing planned".to_owned(), |why| why.say(&self.site)),
            (Some(command), None) => command.wish.why.say(&self.site),
            (None, None) => "what its link does is not worked out yet".to_owned(),
        };
        ZoneStatus {
            zone: self.site[zone].name.clone(),
            follows: self
                .site
                .master_of(zone)
                .map(|master| self.site[master].name.clone()),
            wanted,
            driven: line.map(|line| line.lit),
            sensed,
            condition: condition.to_owned(),
            known: known.to_owned(),
            why,
            waits: state
                .command
                .and_then(|command| command.waits)
                .map(|waits| waits.say().to_owned()),
            since: match known {
                "predicted" => stretch.and_then(|stretch| stretch.since),
                _ => Some(state.since),
            },
            until: state
                .hold
                .as_ref()
                .map(|hold| hold.until)
                .or_else(|| stretch.and_then(|stretch| stretch.until)),
            held: state.hold.as_ref().map(|hold| hold.lit),
            lit_h: state.lit_s / 3600.0,
            operations: state.operations,
        }
    }

    /// What is wrong, worst first.
    fn alarms(&self, now: Now) -> Vec<String> {
        let mut alarms = Vec::new();
        for (state, zone) in self.zones.iter().zip(&self.site.zones) {
            if let Some(fault) = &state.line_fault {
                alarms.push(format!("{}: {fault}", zone.name));
            }
        }
        for (index, state) in self.zones.iter().enumerate() {
            let name = &self.site.zones[index].name;
            if let Some(fault) = &state.sense_fault {
                alarms.push(format!("{name}: input: {fault}"));
            } else if let Some(condition) = state.condition.filter(|it| it.is_fault()) {
                let why = self.why_condition(ZoneId(index), condition);
                alarms.push(format!("{name}: {condition}: {why}"));
            }
        }
        if now.quality != crate::daemon::moment::ClockQuality::Good {
            alarms.push(format!("the clock is {}", now.quality));
        }
        if let Some(trouble) = &self.store_trouble {
            alarms.push(format!("store: {}", trouble.0));
        }
        if self.lost > 0 {
            alarms.push(format!("store: {} records are lost", self.lost));
        }
        if let Some(why) = &self.reload_trouble {
            alarms.push(format!("the new site file was not taken: {why}"));
        }
        alarms
    }
}
