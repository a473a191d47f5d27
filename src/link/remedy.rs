//! What would make a link work: a part taken out, another relay of the file, a resistor, a capacitor. Each
//! change is judged like the link itself.

use crate::circuit::rectifier::Rectifier;
use crate::circuit::series_resistor::{self, Loaded, SeriesResistor};
use crate::site::{Capacitor, Link, Relay, Site, SupplyOutput};

use super::case::work_out;
use super::corner::load_va;
use super::judge::{Judgement, judgement};
use super::{Aspect, Trouble};

/// Reserve that a proposed resistor must leave, as a fraction of the limit, for its own tolerance and for the
/// tolerance of the rated voltages (common practice).
const IN_HAND: f64 = 0.04;

/// The capacitor proposed for a link without one (the trade's usual one).
const CAPACITOR: Capacitor = Capacitor {
    farad: 220e-6,
    tolerance: 0.2,
    rating_v: 50.0,
};

#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Take out its series resistor of this resistance [Ω].
    NoResistor(f64),
    /// Replace the bridge with one diode; only on DC.
    SingleDiode,
    /// Fit this series resistor, in place of any that is there.
    Resistor(SeriesResistor),
    /// Fit a 220 µF capacitor where there is none.
    Capacitor,
    /// Fit a bridge where AC feeds the coil without a rectifier.
    Bridge,
    /// Fit this relay of the file instead of its own.
    Relay(String),
}

impl Change {
    /// Ranks the cost: free changes first, then cheap ones.
    fn cost(&self) -> u8 {
        match self {
            Self::NoResistor(_) => 0,
            Self::SingleDiode => 1,
            Self::Resistor(_) | Self::Capacitor | Self::Bridge => 2,
            Self::Relay(_) => 3,
        }
    }
}

/// Changes made together, and the judgement of the link with them.
#[derive(Debug, Clone, PartialEq)]
pub struct Remedy {
    pub changes: Vec<Change>,
    pub judged: Judgement,
}

impl Remedy {
    /// Whether the link then works, in the worst case too; a thin margin counts as working.
    pub fn would_do(&self) -> bool {
        self.judged.trouble().is_none_or(|it| it >= Trouble::Thin)
    }
}

/// The remedies of a link: those that work come first; among them, the fewest changes, then the cheapest, then
/// the largest margin. A change that the simulation cannot judge is not proposed.
pub fn remedies(site: &Site, link: &Link, judged: &Judgement) -> Vec<Remedy> {
    let mut list: Vec<Remedy> = changes(site, link, judged)
        .into_iter()
        .filter_map(|changes| {
            let mut with = link.clone();
            for change in &changes {
                apply(site, &mut with, change);
            }
            let judged = judgement(site, &with).ok()?;
            Some(Remedy { changes, judged })
        })
        .collect();
    let cost = |of: &Remedy| of.changes.iter().map(Change::cost).sum::<u8>();
    list.sort_by(|a, b| {
        (b.would_do().cmp(&a.would_do()))
            .then(a.changes.len().cmp(&b.changes.len()))
            .then(cost(a).cmp(&cost(b)))
            .then(
                b.judged
                    .least()
                    .fraction
                    .total_cmp(&a.judged.least().fraction),
            )
    });
    list
}

/// Whether the lamps exceed the rating of the master's transformer: then no change at the far end helps.
pub fn overloaded(site: &Site, link: &Link) -> bool {
    match site.feeding(link).output {
        SupplyOutput::Ac { rated_va, .. } => load_va(site, site[link.master].supply) > rated_va,
        SupplyOutput::Dc { .. } => false,
    }
}

/// Every change that makes sense alone, and each of them combined with another relay.
fn changes(site: &Site, link: &Link, judged: &Judgement) -> Vec<Vec<Change>> {
    let on_ac = site.feeding(link).is_ac();
    let mut small = Vec::new();
    if link.series_ohm > 0.0 {
        small.push(Change::NoResistor(link.series_ohm));
    }
    if !on_ac && link.rectifier == Rectifier::Bridge {
        small.push(Change::SingleDiode);
    }
    if on_ac && link.rectifier == Rectifier::None {
        small.push(Change::Bridge);
    }
    if link.capacitor.is_none() {
        small.push(Change::Capacitor);
    }
    small.extend(resistor(site, link, judged).map(Change::Resistor));
    let relays = site
        .relays
        .iter()
        .filter(|relay| relay.name != link.relay.name)
        .map(|relay| Change::Relay(relay.name.clone()));
    let mut list: Vec<Vec<Change>> = Vec::new();
    for relay in relays {
        let beside = small.iter().filter(|it| !matches!(it, Change::Resistor(_)));
        list.extend(beside.map(|it| vec![it.clone(), relay.clone()]));
        list.push(vec![relay]);
    }
    list.extend(small.into_iter().map(|change| vec![change]));
    list
}

fn apply(site: &Site, link: &mut Link, change: &Change) {
    match change {
        Change::NoResistor(_) => link.series_ohm = 0.0,
        Change::SingleDiode => link.rectifier = Rectifier::SingleDiode,
        Change::Resistor(part) => link.series_ohm = part.ohm,
        Change::Capacitor => link.capacitor = Some(CAPACITOR),
        Change::Bridge => link.rectifier = Rectifier::Bridge,
        Change::Relay(name) => {
            let named = |relay: &&Relay| relay.name == *name;
            if let Some(relay) = site.relays.iter().find(named) {
                link.relay = relay.clone();
            }
        }
    }
}

/// The smallest resistor that keeps the coil within its limits at high mains, with a small reserve; `None`
/// where the coil is within them already.
fn resistor(site: &Site, link: &Link, judged: &Judgement) -> Option<SeriesResistor> {
    let over = |aspect| judged.margin(aspect).fraction < 0.0;
    let (aspect, case) = if over(Aspect::CoilVoltage) {
        (Aspect::CoilVoltage, &judged.highest)
    } else if over(Aspect::CoilHeat) {
        (Aspect::CoilHeat, &judged.hottest_coil)
    } else {
        return None;
    };
    let limit_v = judged.margin(aspect).limit_v * (1.0 - IN_HAND);
    series_resistor::smallest_below(limit_v, |ohm| {
        let with = Link {
            series_ohm: ohm,
            ..link.clone()
        };
        match work_out(site, &with, case.case) {
            Ok(loaded) => Loaded {
                coil_v: loaded.highest_v(),
                pair_rms_a: loaded.dusk.pair_rms_a,
            },
            // A resistor that the simulation cannot judge is not proposed.
            Err(_) => Loaded {
                coil_v: f64::INFINITY,
                pair_rms_a: 0.0,
            },
        }
    })
}
