//! Which zones are lit when something fails, by night and by day, and when it comes back.
//!
//! The heads are switched on by night and off by day; then something fails, everything comes to rest, and the
//! fault is repaired. Assumed: the board keeps running while a supply is dead, for no site file says what feeds
//! the board.

use crate::site::{IfSilent, Site, SupplyId, Switching, ZoneId};

use super::stage::{Delays, Stage, Wiring};
use super::yard::Yard;
use super::{Failure, Pace};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outage {
    /// The mains of one supply.
    Supply(SupplyId),
    /// The mains of every supply.
    All,
    /// The board: nothing drives its lines.
    Board,
    /// The timers or photocells of timed zones that no board switches: they stay off.
    Timers,
}

/// Which zones are lit, in the order of the site.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LitZones(pub Vec<ZoneId>);

#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    pub outage: Outage,
    /// Every timed zone is switched on; otherwise none is.
    pub by_night: bool,
    /// Lit before the outage.
    pub before: LitZones,
    /// Lit while the outage lasts.
    pub meanwhile: LitZones,
    /// Lit once a board has waited this long [s] for a silent master, soonest first.
    pub waited: Vec<(f64, LitZones)>,
    /// Lit when everything is back and has come to rest.
    pub after: LitZones,
}

/// Every outage of a yard, by night and then by day: one supply after another, all of them, the board if there
/// is one, timers if there are any. `wiring` is that of the site.
pub fn outages(site: &Site, wiring: &[Wiring]) -> Vec<Course> {
    let has_timers = (0..site.zones.len()).any(|zone| is_timer(site, ZoneId(zone)));
    let kinds: Vec<Outage> = (0..site.supplies.len())
        .map(|supply| Outage::Supply(SupplyId(supply)))
        .chain([Outage::All])
        .chain((!site.outputs.is_empty()).then_some(Outage::Board))
        .chain(has_timers.then_some(Outage::Timers))
        .collect();
    let mut night = Evening {
        site,
        order: site.zones_in_order(),
        wiring,
        yard: Yard::new(wiring, Pace::Typical),
        heads_on: true,
        board_dead: false,
        timers_dead: false,
        given_up: vec![false; site.zones.len()],
    };
    night.settle();
    let mut day = night.clone();
    day.heads_on = false;
    day.settle();
    [night, day]
        .iter()
        .flat_map(|before| kinds.iter().map(|outage| before.course(*outage)))
        .collect()
}

/// A timed zone that no board switches: it has a timer or a photocell of its own.
pub fn is_timer(site: &Site, zone: ZoneId) -> bool {
    matches!(site[zone].switching, Switching::Timed(_)) && site.output_of(zone).is_none()
}

/// A yard and everything that switches its zones on.
#[derive(Clone)]
struct Evening<'a> {
    site: &'a Site,
    /// Its zones, masters before slaves.
    order: Vec<ZoneId>,
    wiring: &'a [Wiring],
    yard: Yard,
    heads_on: bool,
    board_dead: bool,
    timers_dead: bool,
    /// Zones whose master the board takes for silent: they keep the board's plan.
    given_up: Vec<bool>,
}

impl Evening<'_> {
    fn course(&self, outage: Outage) -> Course {
        let mut yard = self.clone();
        yard.set(outage, true);
        let meanwhile = yard.lit();
        let waited = yard.wait();
        yard.set(outage, false);
        Course {
            outage,
            by_night: self.heads_on,
            before: self.lit(),
            meanwhile,
            waited,
            after: yard.lit(),
        }
    }

    fn lit(&self) -> LitZones {
        let zones = (0..self.wiring.len()).map(ZoneId);
        LitZones(zones.filter(|zone| self.yard.lit(*zone)).collect())
    }

    fn set(&mut self, outage: Outage, failed: bool) {
        match outage {
            Outage::Supply(supply) => self.supply(supply, failed),
            Outage::All => {
                for supply in 0..self.site.supplies.len() {
                    self.supply(SupplyId(supply), failed);
                }
            }
            Outage::Board => self.board_dead = failed,
            Outage::Timers => self.timers_dead = failed,
        }
        self.given_up.fill(false);
        self.settle();
    }

    fn supply(&mut self, supply: SupplyId, dead: bool) {
        for (zone, stage) in self.stays_lit(supply) {
            let stage = if dead {
                // The time it takes does not matter here.
                Stage {
                    drop_out: Delays::fixed(1.0),
                    ..stage
                }
            } else {
                stage
            };
            self.yard.rewire(zone, stage, self.yard.now());
        }
        let failure = Failure::SupplyDead(supply);
        if dead {
            self.yard.fail(failure, self.yard.now());
        } else {
            self.yard.mend(failure, self.yard.now());
        }
    }

    /// Slaves whose relay never drops out, because current leaks past the master's open switch. That current
    /// comes from this supply, and ends with it.
    fn stays_lit(&self, supply: SupplyId) -> Vec<(ZoneId, Stage)> {
        let stages = self.wiring.iter().enumerate();
        stages
            .filter_map(|(zone, wired)| wired.stage.map(|stage| (ZoneId(zone), stage)))
            .filter(|(_, stage)| self.wiring[stage.master.0].supply == supply)
            .filter(|(_, stage)| stage.drop_out.at(Pace::Typical).is_none())
            .collect()
    }

    /// Whether a zone's own switch is closed; for a slave, the board's switch in line with its contact.
    fn told(&self, zone: ZoneId) -> bool {
        let driven = match self.site.output_of(zone) {
            // An output that is lit while its line is undriven is lit now.
            Some(output) if self.board_dead => return output.dark_at_reset == Some(false),
            driven => driven.is_some(),
        };
        match self.site[zone].switching {
            Switching::Timed(_) => self.heads_on && (driven || !self.timers_dead),
            Switching::Follows(_) => true,
            Switching::Senses(sensing) => {
                self.yard.lit(sensing.master) || (self.heads_on && self.given_up[zone.0])
            }
        }
    }

    /// Boards follow their inputs until nothing changes any more.
    fn settle(&mut self) {
        // Masters come first, so one round is enough unless a zone feeds one above it; a last round finds
        // nothing to change.
        let mut before = None;
        for _ in 0..=self.wiring.len() {
            let mut told = Vec::with_capacity(self.order.len());
            for at in 0..self.order.len() {
                let zone = self.order[at];
                told.push(self.told(zone));
                self.yard.switch(zone, told[at], self.yard.now());
                self.yard.come_to_rest();
            }
            let now = Some((told, self.lit()));
            if now == before {
                return;
            }
            before = now;
        }
    }

    /// A board gives up its silent masters, one after another.
    fn wait(&mut self) -> Vec<(f64, LitZones)> {
        let waiting = |zone: ZoneId| match self.site[zone].switching {
            Switching::Senses(sensing) if sensing.if_silent == IfSilent::Schedule => {
                Some((zone, sensing))
            }
            _ => None,
        };
        let mut waiting: Vec<_> = (0..self.wiring.len())
            .filter_map(|zone| waiting(ZoneId(zone)))
            .collect();
        waiting.sort_by(|a, b| a.1.silent_after_s.total_cmp(&b.1.silent_after_s));
        let mut waited = Vec::new();
        let mut lit = self.lit();
        for (zone, sensing) in waiting {
            self.given_up[zone.0] = !self.yard.lit(sensing.master);
            self.settle();
            let now = self.lit();
            if now != lit {
                waited.push((sensing.silent_after_s, now.clone()));
                lit = now;
            }
        }
        waited.dedup_by(|later, earlier| {
            let together = later.0.total_cmp(&earlier.0).is_eq();
            if together {
                earlier.1 = later.1.clone();
            }
            together
        });
        waited
    }
}
