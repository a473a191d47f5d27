//! All that a page shows of the yard.

use std::ops::Range;
use std::sync::Arc;

use chrono::{DateTime, Utc};

use crate::daemon::control::Filter;
use crate::daemon::lines::Lines;
use crate::daemon::moment::Now;
use crate::daemon::readings::Readings;
use crate::daemon::store::{Event, Store};
use crate::daemon::watch::Condition;
use crate::link::Following;
use crate::schedule::{Evening, skies};
use crate::site::{LinkId, ZoneId};
use crate::text::outcome_text;

use super::Engine;
use super::status::{Known, Status};

/// The newest events that a page shows.
const RECENT: u32 = 30;

/// The yard, as far as a page shows it.
#[derive(Debug, Clone)]
pub struct Seen {
    /// How it is.
    pub status: Status,
    /// Zones that can be forced.
    pub driven: Vec<String>,
    /// The evening at hand.
    pub tonight: Tonight,
    /// Links, as predicted and as they are.
    pub links: Vec<LinkSeen>,
    /// What meters should show, and what they showed.
    pub readings: Arc<Readings>,
    /// The newest events, newest first.
    pub recent: Vec<Event>,
    /// The rules of its clock.
    pub timezone: crate::civil_time::SiteZone,
}

/// The evening at hand.
#[derive(Debug, Clone, PartialEq)]
pub struct Tonight {
    /// Noon.
    pub begins: DateTime<Utc>,
    /// The next noon.
    pub ends: DateTime<Utc>,
    /// While the sun is down; `None` where it stays up.
    pub night: Option<Range<DateTime<Utc>>>,
    /// By zone, in the order of the status: lit from when to when, and why.
    pub zones: Vec<Vec<Lit>>,
}

impl Tonight {
    /// Whether the sun has risen on it; an evening lasts until noon.
    pub fn is_over(&self, at: DateTime<Utc>) -> bool {
        self.night.as_ref().is_some_and(|night| at >= night.end)
    }
}

/// A lit stretch of the plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lit {
    /// From then.
    pub from: DateTime<Utc>,
    /// Until then.
    pub until: DateTime<Utc>,
    /// Why it goes on.
    pub why_on: String,
    /// Why it goes off.
    pub why_off: String,
}

/// A link, as predicted and as it is.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkSeen {
    /// `master > slave`.
    pub link: String,
    /// The zone that follows.
    pub slave: String,
    /// What its master does.
    pub master: Option<bool>,
    /// What its slave does, by its input.
    pub sensed: Option<bool>,
    /// Whether its slave has an input.
    pub has_input: bool,
    /// What its slave does.
    pub condition: Condition,
    /// How that is known.
    pub known: Known,
    /// Its slave stays dark, whatever its master does.
    pub stays_dark: bool,
    /// In words: what the simulation says; `None` until it has.
    pub predicted: Option<String>,
}

impl<L: Lines, S: Store> Engine<L, S> {
    /// All that a page shows.
    pub fn seen(&mut self, now: Now) -> Seen {
        let recent = Filter {
            most: Some(RECENT),
            ..Filter::default()
        };
        let mut recent = self.journal.store.history(&recent).unwrap_or_default();
        recent.reverse();
        let readings = self.readings(now);
        let outputs = self.site.outputs.iter();
        Seen {
            status: self.status(now),
            driven: outputs
                .map(|output| self.site[output.zone].name.clone())
                .collect(),
            tonight: self.tonight(now),
            links: self.links_seen(now),
            readings,
            recent,
            timezone: self.site.timezone.clone(),
        }
    }

    fn tonight(&self, now: Now) -> Tonight {
        let evening = Evening::at(&self.site, now.utc);
        let sky = skies(&self.site, evening.date..=evening.date).ok();
        let sun_is_down = sky.and_then(|sky| Some(sky.first()?.brighter[0]));
        let within = |zone: ZoneId| {
            let rows = self.planned.iter().flat_map(|planned| planned.rows(zone));
            rows.filter(|(_, lit)| lit.start < evening.ends && lit.end > evening.begins)
                .map(|(row, lit)| Lit {
                    from: lit.start,
                    until: lit.end,
                    why_on: row.why_on.say(&self.site),
                    why_off: row.why_off.say(&self.site),
                })
                .collect()
        };
        Tonight {
            begins: evening.begins,
            ends: evening.ends,
            night: sun_is_down.and_then(|(from, until)| (from < until).then_some(from..until)),
            zones: self.site.zones_in_order().into_iter().map(within).collect(),
        }
    }

    fn links_seen(&self, now: Now) -> Vec<LinkSeen> {
        let seen = |(index, link): (usize, &crate::site::Link)| {
            let judged = self.links.judged.as_ref().map(|links| &links[index]);
            let predicted = judged.map(|judged| {
                let says = outcome_text(&judged.judged);
                let band = |band: Option<crate::link::Band>, what: &str| {
                    band.map(|band| {
                        format!(
                            "{what} after {:.0} ms, {:.0} ms at most",
                            band.typical_s * 1000.0,
                            band.most_s * 1000.0
                        )
                    })
                };
                let times = [
                    band(judged.times.pull_in, "relay in"),
                    band(judged.times.drop_out, "out"),
                ];
                let times: Vec<String> = times.into_iter().flatten().collect();
                if times.is_empty() {
                    says
                } else {
                    format!("{says}; {}", times.join(", "))
                }
            });
            let slave = self.zone_status(link.slave, now);
            LinkSeen {
                link: self.site.link_name(link),
                slave: slave.zone,
                master: self.shown(link.master, now).0,
                sensed: slave.sensed,
                has_input: self.site.input_of(link.slave).is_some(),
                condition: slave.condition,
                known: slave.known,
                stays_dark: self.following_of(LinkId(index), now.utc) == Some(Following::StaysDark),
                predicted,
            }
        };
        self.site.links.iter().enumerate().map(seen).collect()
    }
}
