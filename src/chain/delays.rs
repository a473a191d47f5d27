//! What a chain will do, known before it is built: how long after its head every zone goes on and off, and
//! which other zones fail with it.
//!
//! The delays of one stage come from `link::times`, where the plan's, those of `check` and those of the
//! course of events meet. Over a chain the plan adds them up, and the course of events lets one thing happen
//! after the other; a test holds the two together to a millisecond. An ordinary drop-out is that of a warm
//! coil, because lights are not switched off a minute after dusk. The latest time has every stage at its
//! slowest at once: no evening is like that, and none is worse. For the quickest, a time that a data sheet
//! gives as an upper limit counts as zero.

use std::time::Duration;

use crate::link::LinkJudgement;
use crate::site::{IfSilent, Site, Switching, ZoneId};

use super::stage::{Fed, Wiring, wiring};
use super::yard::Yard;
use super::{Event, Failure, Pace};

/// Delay from the head's switch [s]; `None` if the change never comes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Total {
    /// On an ordinary evening.
    pub typical_s: Option<f64>,
    pub most_s: Option<f64>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct ChainZone {
    pub zone: ZoneId,
    /// Its master; `None` for a head.
    pub master: Option<ZoneId>,
    /// What the pair to it carries; `None` for a head.
    pub fed: Option<Fed>,
    /// From the head switched on to this zone lit.
    pub lit_after: Total,
    /// From the head switched off to this zone dark; `None` also if it is never lit.
    pub dark_after: Total,
    /// Other zones that go dark if its supply fails, chain by chain.
    pub dark_with_it: Vec<ZoneId>,
    /// Zones that stay lit for good if its contact welds, itself first; none for a head.
    pub lit_if_welded: Vec<ZoneId>,
}

/// The chains of a yard.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// The zones that have a master or a slave, chain by chain, each after its master.
    pub zones: Vec<ChainZone>,
    /// An ordinary evening: all heads go on at zero and off at [`Chain::off_at`].
    pub events: Vec<Event>,
    /// When the heads are switched off: everything had come to rest before.
    pub off_at: Duration,
}

/// Works out the chains of a site; `links` are its judgements, in the order of [`Site::links`].
pub fn chain(site: &Site, links: &[LinkJudgement]) -> Chain {
    let wiring = wiring(site, links);
    let order = by_chain(&wiring);
    let mut ordinary = Course::on(&wiring, &order, Pace::Typical);
    let slow_on = Course::on(&wiring, &order, Pace::Slowest);
    let mut slow_off = ordinary.clone();
    slow_off.yard.set_pace(Pace::Slowest);
    let lit = ordinary.clone();
    ordinary.heads(&wiring, &order, false);
    slow_off.heads(&wiring, &order, false);
    let zones = order
        .iter()
        .map(|zone| {
            let stage = wiring[zone.0].stage;
            let is_lit = lit.yard.lit(*zone);
            ChainZone {
                zone: *zone,
                master: stage.map(|stage| stage.master),
                fed: stage.map(|stage| stage.fed),
                lit_after: Total {
                    typical_s: lit.since_switched(*zone, true),
                    most_s: slow_on.since_switched(*zone, true).filter(|_| is_lit),
                },
                dark_after: Total {
                    typical_s: ordinary.since_switched(*zone, false).filter(|_| is_lit),
                    most_s: slow_off.since_switched(*zone, false).filter(|_| is_lit),
                },
                dark_with_it: {
                    let mut broken = lit.clone();
                    broken.fail(Failure::SupplyDead(wiring[zone.0].supply));
                    broken.boards(site, &order, true);
                    those(&order, |other| {
                        other != *zone && lit.yard.lit(other) && !broken.yard.lit(other)
                    })
                },
                lit_if_welded: if stage.is_some() {
                    let mut welded = lit.clone();
                    welded.fail(Failure::StaysIn(*zone));
                    welded.heads(&wiring, &order, false);
                    welded.boards(site, &order, false);
                    those(&order, |other| {
                        welded.yard.lit(other) && !ordinary.yard.lit(other)
                    })
                } else {
                    Vec::new()
                },
            }
        })
        .collect();
    Chain {
        zones,
        off_at: ordinary.switched_at,
        events: ordinary.events,
    }
}

fn those(order: &[ZoneId], are: impl Fn(ZoneId) -> bool) -> Vec<ZoneId> {
    order.iter().copied().filter(|zone| are(*zone)).collect()
}

/// A yard after its heads have switched.
#[derive(Clone)]
struct Course {
    yard: Yard,
    events: Vec<Event>,
    switched_at: Duration,
}

impl Course {
    fn on(wiring: &[Wiring], order: &[ZoneId], pace: Pace) -> Self {
        let mut course = Self {
            yard: Yard::new(wiring, pace),
            events: Vec::new(),
            switched_at: Duration::ZERO,
        };
        course.heads(wiring, order, true);
        course
    }

    /// Switches all heads and waits until everything has come to rest.
    fn heads(&mut self, wiring: &[Wiring], order: &[ZoneId], on: bool) {
        self.switched_at = self.yard.now();
        for zone in order.iter().filter(|zone| wiring[zone.0].stage.is_none()) {
            self.yard.switch(*zone, on, self.switched_at);
        }
        self.settle();
    }

    /// Lets each board follow its inputs, masters first; `planned`: the plan has every master lit.
    fn boards(&mut self, site: &Site, order: &[ZoneId], planned: bool) {
        for zone in site.zones_in_order() {
            let Switching::Senses(sensing) = site[zone].switching else {
                continue;
            };
            // A master outside every chain is unknown here.
            if order.contains(&zone) && order.contains(&sensing.master) {
                let stands_in = planned && sensing.if_silent == IfSilent::Schedule;
                let on = stands_in || self.yard.lit(sensing.master);
                self.yard.switch(zone, on, self.yard.now());
                self.settle();
            }
        }
    }

    fn fail(&mut self, failure: Failure) {
        self.yard.fail(failure, self.yard.now());
        self.settle();
    }

    fn settle(&mut self) {
        self.yard.come_to_rest();
        self.events.extend(self.yard.take_events());
    }

    /// When a zone last went lit or dark for good, counted from the heads' switch [s].
    fn since_switched(&self, zone: ZoneId, lit: bool) -> Option<f64> {
        let what = if lit {
            super::What::Lit
        } else {
            super::What::Dark
        };
        self.events
            .iter()
            .rev()
            .find(|event| event.zone == zone && event.what == what && event.at >= self.switched_at)
            .filter(|_| self.yard.lit(zone) == lit)
            .map(|event| event.at.saturating_sub(self.switched_at).as_secs_f64())
    }
}

/// Zones that have a master or a slave, depth first, heads and siblings in the order of the file.
fn by_chain(wiring: &[Wiring]) -> Vec<ZoneId> {
    fn visit(wiring: &[Wiring], zone: usize, order: &mut Vec<ZoneId>) {
        order.push(ZoneId(zone));
        for slave in slaves_of(wiring, zone) {
            visit(wiring, slave, order);
        }
    }
    let mut order = Vec::new();
    for zone in 0..wiring.len() {
        let head = wiring[zone].stage.is_none() && slaves_of(wiring, zone).next().is_some();
        if head {
            visit(wiring, zone, &mut order);
        }
    }
    order
}

fn slaves_of(wiring: &[Wiring], master: usize) -> impl Iterator<Item = usize> {
    let follows = move |zone: &usize| {
        wiring[*zone]
            .stage
            .is_some_and(|stage| stage.master.0 == master)
    };
    (0..wiring.len()).filter(follows)
}
