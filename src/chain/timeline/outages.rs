//! What is lit when the mains fails somewhere, and when it comes back.

use crate::site::{SupplyId, ZoneId};

use super::stage::Wiring;
use super::yard::Yard;
use super::{Failure, Pace};

/// What has failed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outage {
    /// The mains of one supply.
    Supply(SupplyId),
    /// The mains of every supply.
    All,
    /// What switches the heads: a board, or a timer.
    Switches,
}

/// Which zones are lit, in the order of the site.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LitZones(pub Vec<ZoneId>);

/// An outage in the night, with the heads told to be lit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Course {
    /// What has failed.
    pub outage: Outage,
    /// Lit before it.
    pub before: LitZones,
    /// Lit while it lasts.
    pub meanwhile: LitZones,
    /// Lit when all is back and has come to rest.
    pub after: LitZones,
}

/// Every outage of a yard by night: one supply after the other, all of them, what switches the heads.
pub fn outages(wiring: &[Wiring], supplies: usize) -> Vec<Course> {
    let zones = || (0..wiring.len()).map(ZoneId);
    let heads: Vec<ZoneId> = zones()
        .filter(|zone| wiring[zone.0].stage.is_none())
        .collect();
    let mut lit = Yard::new(wiring, Pace::Typical);
    let put = |yard: &mut Yard, on: bool| {
        for head in &heads {
            yard.switch(*head, on, yard.now());
        }
        yard.come_to_rest();
    };
    put(&mut lit, true);
    let which = |yard: &Yard| LitZones(zones().filter(|zone| yard.lit(*zone)).collect());
    let one = |outage: Outage| {
        let mut yard = lit.clone();
        let failed: Vec<Failure> = match outage {
            Outage::Supply(supply) => vec![Failure::SupplyDead(supply)],
            Outage::All => (0..supplies)
                .map(|supply| Failure::SupplyDead(SupplyId(supply)))
                .collect(),
            Outage::Switches => Vec::new(),
        };
        if failed.is_empty() {
            put(&mut yard, false);
        }
        for failure in &failed {
            yard.fail(*failure, yard.now());
        }
        yard.come_to_rest();
        let meanwhile = which(&yard);
        for failure in &failed {
            yard.mend(*failure, yard.now());
        }
        if failed.is_empty() {
            put(&mut yard, true);
        }
        yard.come_to_rest();
        Course {
            outage,
            before: which(&lit),
            meanwhile,
            after: which(&yard),
        }
    };
    let every = (0..supplies).map(|supply| Outage::Supply(SupplyId(supply)));
    every
        .chain([Outage::All, Outage::Switches])
        .map(one)
        .collect()
}
