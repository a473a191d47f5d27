//! The inputs: what each says, and whether the zone behind it does as it should.

use std::time::Duration;

use crate::daemon::controller::Sense;
use crate::daemon::lines::{Level, LineFault};
use crate::daemon::moment::Now;
use crate::daemon::store::{Kind, Store};
use crate::daemon::watch::Condition;
use crate::site::{Site, Switching, ZoneId};

use super::journal::{HOUR, Journal, OFTEN};

/// The input of one zone, if it has one.
#[derive(Debug, Clone, Default)]
pub(super) struct Watched {
    pub(super) sense: Option<Sense>,
    pub(super) fault: Option<LineFault>,
    pub(super) condition: Option<Condition>,
    /// How often it changed since then.
    chatter: (Duration, u32),
}

#[derive(Debug)]
pub(super) struct Inputs {
    pub(super) zones: Vec<Watched>,
}

impl Inputs {
    pub(super) fn new(site: &Site, now: Now) -> Self {
        let zones = (0..site.zones.len()).map(ZoneId);
        Self {
            zones: zones.map(|zone| fresh(site, zone, now)).collect(),
        }
    }

    /// Those of another description, each zone as `before` says which it was.
    pub(super) fn replace(
        &mut self,
        site: &Site,
        same_lines: bool,
        before: &[Option<usize>],
        now: Now,
    ) {
        let old = std::mem::take(&mut self.zones);
        let watched = |(index, before): (usize, &Option<usize>)| {
            let fresh = fresh(site, ZoneId(index), now);
            match before.map(|before| old[before].clone()) {
                None => fresh,
                Some(before) if same_lines => before,
                Some(before) => Watched {
                    sense: fresh.sense,
                    fault: None,
                    ..before
                },
            }
        };
        self.zones = before.iter().enumerate().map(watched).collect();
    }

    /// Takes what the inputs say.
    pub(super) fn take<S: Store>(
        &mut self,
        site: &Site,
        journal: &mut Journal<S>,
        now: Now,
        levels: Vec<(ZoneId, Level)>,
    ) {
        for (zone, level) in levels {
            let state = &mut self.zones[zone.0];
            let Some(before) = state.sense else { continue };
            let (lit, fault) = match level {
                Ok(lit) => (Some(lit), None),
                Err(fault) => (None, Some(fault)),
            };
            let news = fault
                .clone()
                .filter(|fault| state.fault.as_ref() != Some(fault));
            let mended = fault.is_none() && state.fault.is_some();
            state.fault = fault;
            if lit != before.lit {
                // One that cannot be read counts as dark, so from that to dark nothing changes; and what
                // it was before anybody looked, nobody knows.
                let still_dark = lit != Some(true) && before.lit != Some(true);
                state.sense = Some(Sense {
                    lit,
                    since: if still_dark { before.since } else { now.boot },
                    from_start: before.from_start && (still_dark || before.lit.is_none()),
                    chatters_until: before.chatters_until,
                });
                if site.output_of(zone).is_none() {
                    let counted = &mut journal.zones[zone.0].now;
                    counted.since = now.utc;
                    counted.operations += u64::from((before.lit, lit) == (Some(false), Some(true)));
                }
                if let (Some(lit), Some(_)) = (lit, before.lit) {
                    state.turned(journal, now, zone, lit);
                }
            }
            if let Some(fault) = news {
                journal.say_of(now, Kind::Fault, zone, "input lost", &fault.to_string());
            } else if mended {
                journal.say_of(
                    now,
                    Kind::Mended,
                    zone,
                    "input back",
                    "it can be read again",
                );
            }
        }
    }

    /// Says of every zone that does another thing than before whether it is a fault.
    pub(super) fn judge<S: Store>(
        &mut self,
        site: &Site,
        journal: &mut Journal<S>,
        now: Now,
        conditions: Vec<Option<Condition>>,
    ) {
        for (index, condition) in conditions.into_iter().enumerate() {
            let zone = ZoneId(index);
            let before = std::mem::replace(&mut self.zones[index].condition, condition);
            if before == condition {
                continue;
            }
            let was_fault = before.is_some_and(Condition::is_fault);
            let Some(condition) = condition else { continue };
            let (kind, why) = match (was_fault, condition.is_fault()) {
                (false, false) => continue,
                (_, true) => (Kind::Fault, why_condition(site, zone, condition)),
                (true, false) => (
                    Kind::Mended,
                    before.map_or_else(String::new, |before| format!("it was: {before}")),
                ),
            };
            // The input itself has said so already.
            if condition != Condition::Unknown && before != Some(Condition::Unknown) {
                journal.say_of(now, kind, zone, condition.name(), &why);
            }
        }
    }
}

impl Watched {
    /// Says what it says, unless it does so all the time.
    fn turned<S: Store>(&mut self, journal: &mut Journal<S>, now: Now, zone: ZoneId, lit: bool) {
        let (from, count) = &mut self.chatter;
        if now.boot.saturating_sub(*from) >= HOUR {
            (*from, *count) = (now.boot, 0);
        }
        *count += 1;
        if *count == OFTEN + 1 {
            if let Some(sense) = &mut self.sense {
                sense.chatters_until = Some(*from + HOUR);
            }
            let why = format!("more than {OFTEN} changes within an hour");
            journal.say_of(now, Kind::Fault, zone, "input chatters", &why);
        }
        let what = if lit { "lit" } else { "dark" };
        journal.say_of(now, Kind::Sensed, zone, what, "its input says so");
    }
}

fn fresh(site: &Site, zone: ZoneId, now: Now) -> Watched {
    Watched {
        sense: site.input_of(zone).map(|_| Sense {
            lit: None,
            since: now.boot,
            from_start: true,
            chatters_until: None,
        }),
        chatter: (now.boot, 0),
        ..Watched::default()
    }
}

/// Why a zone is said to do so.
pub(super) fn why_condition(site: &Site, zone: ZoneId, condition: Condition) -> String {
    let master = site.master_of(zone).map(|master| &site[master].name);
    let cause = match (&site[zone].switching, master) {
        (Switching::Follows(_), Some(master)) => master.clone(),
        (_, _) if site.output_of(zone).is_some() => "its line".into(),
        _ => "its plan".into(),
    };
    match condition {
        Condition::Late => format!("longer after {cause} than the slowest that was simulated"),
        Condition::DoesNotFollow => format!("{cause} is on, it is dark"),
        Condition::DoesNotRelease => format!("{cause} is off, it is lit"),
        Condition::LitByDay => format!("{cause} is off and the sun is up"),
        Condition::Unknown => "its input cannot be read".into(),
        Condition::Lit | Condition::Dark => String::new(),
    }
}
