//! What the course of events needs to know about every zone.

use std::time::Duration;

use crate::link::{Band, LinkJudgement, Outcome};
use crate::site::{Site, SupplyId, SupplyKind, Switching, ZoneId};

use super::Pace;

/// What a pair carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fed {
    /// AC from the master's transformer, to be rectified.
    Ac,
    /// DC from the master's supply.
    Dc,
}

impl Fed {
    /// The name that the JSON uses.
    pub fn name(self) -> &'static str {
        match self {
            Self::Ac => "ac",
            Self::Dc => "dc",
        }
    }
}

/// A delay at every pace [s]; `None` if the change never comes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Delays {
    /// At the quickest.
    pub least_s: Option<f64>,
    /// On an ordinary evening.
    pub typical_s: Option<f64>,
    /// At the slowest.
    pub most_s: Option<f64>,
}

impl Delays {
    fn new(ordinary_s: Option<f64>, band: Option<Band>) -> Self {
        Self {
            least_s: ordinary_s.map(|ordinary_s| band.map_or(ordinary_s, |band| band.least_s)),
            typical_s: ordinary_s,
            most_s: ordinary_s.and(band).map(|band| band.most_s),
        }
    }

    /// The same delay at every pace.
    pub fn fixed(seconds: f64) -> Self {
        Self {
            least_s: Some(seconds),
            typical_s: Some(seconds),
            most_s: Some(seconds),
        }
    }

    pub(super) fn at(&self, pace: Pace) -> Option<Duration> {
        let seconds = match pace {
            Pace::Quickest => self.least_s,
            Pace::Typical => self.typical_s,
            Pace::Slowest => self.most_s,
        };
        seconds.map(Duration::from_secs_f64)
    }
}

/// From the pair to the supply of a slave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stage {
    /// The zone that feeds the pair.
    pub master: ZoneId,
    pub fed: Fed,
    /// From pair live to contact closed.
    pub pull_in: Delays,
    /// From pair dead to contact open.
    pub drop_out: Delays,
    /// From contact first closed to contact at rest [s].
    pub bounce_s: f64,
    /// From asked on to output up [s].
    pub start_s: f64,
    /// From asked off to output down [s].
    pub hold_up_s: f64,
    /// The zone further up the chain that the same supply feeds: this contact keeps it on.
    pub holds: Option<ZoneId>,
}

/// A zone, its supply, and what switches it.
#[derive(Debug, Clone, PartialEq)]
pub struct Wiring {
    pub name: String,
    pub supply: SupplyId,
    /// Whether the supply has a remote-on line as the design guides ask for.
    pub remote_on: bool,
    /// The supply starts again only after it was released for this long [s].
    pub restart_s: f64,
    /// How its master switches it; `None` for a timed zone.
    pub stage: Option<Stage>,
    /// Other zones whose contact or line wakes its supply at times of their own (S51).
    pub wakers: Vec<ZoneId>,
    /// Whether its own switch wakes its supply, as one of those does. Without that it is lit only while one of them
    /// is, if there is one.
    pub wakes: bool,
}

/// Every zone of a site, in its order; `links` are the judgements, in the order of [`Site::links`].
pub fn wiring(site: &Site, links: &[LinkJudgement]) -> Vec<Wiring> {
    let wired = |id: ZoneId| {
        let zone = &site[id];
        let supply = &site[zone.supply];
        let stage = match zone.switching {
            // A zone that a board switches is switched like a timed zone.
            Switching::Timed(_) | Switching::Senses(_) => None,
            Switching::Follows(id) => {
                let (link, judgement) = (&site[id], &links[id.0]);
                let times = &judgement.times;
                // Before the slave's own contact comes into it: the events themselves look at that.
                let outcome = judgement.ordinary().outcome();
                let closes = matches!(outcome, Outcome::Follows | Outcome::StaysLit);
                let opens = outcome != Outcome::StaysLit;
                let ordinary = times.ordinary;
                Some(Stage {
                    master: link.master,
                    fed: if site.feeding(link).is_ac() {
                        Fed::Ac
                    } else {
                        Fed::Dc
                    },
                    pull_in: Delays::new(ordinary.pull_in_s.filter(|_| closes), times.pull_in),
                    drop_out: Delays::new(ordinary.drop_out_s.filter(|_| opens), times.drop_out),
                    bounce_s: times.bounce_s,
                    start_s: supply.start_s,
                    hold_up_s: supply.hold_up_s,
                    holds: judgement.judged.held_by,
                })
            }
        };
        Wiring {
            name: zone.name.clone(),
            supply: zone.supply,
            remote_on: supply.kind == SupplyKind::DesktopPc,
            restart_s: supply.restart_s(),
            stage,
            wakers: if site.remote_on_for_all(id) {
                site.wakers_beside(id).collect()
            } else {
                Vec::new()
            },
            wakes: site.wakes_supply(id),
        }
    };
    (0..site.zones.len()).map(ZoneId).map(wired).collect()
}
