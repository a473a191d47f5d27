//! What would make a link work: parts taken out, another relay of the file, a resistor, a capacitor. Each
//! change is judged as the link itself is.

use crate::circuit::rectifier::Rectifier;
use crate::circuit::series_resistor::{self, Loaded, SeriesResistor};
use crate::site::{Capacitor, Link, Relay, Site, SupplyOutput};

use super::case::work_out;
use super::corner::load_va;
use super::judge::{Judgement, judgement};
use super::{Aspect, Trouble};

/// Part of the limit left in hand by a proposed resistor: its own tolerance, and that of the label's
/// voltages (common practice).
const IN_HAND: f64 = 0.04;

/// The capacitor that a link without one is given (the trade's usual one).
const CAPACITOR: Capacitor = Capacitor {
    farad: 220e-6,
    tolerance: 0.2,
    rating_v: 50.0,
};

/// One change to a link.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Its series resistor of so many ohms is taken out.
    NoResistor(f64),
    /// One diode in the place of the bridge; only on DC.
    SingleDiode,
    /// A series resistor, in the place of the one that is there.
    Resistor(SeriesResistor),
    /// A capacitor of 220 µF, where there is none.
    Capacitor,
    /// A bridge, where AC meets the coil without a rectifier.
    Bridge,
    /// This relay of the file in the place of its own.
    Relay(String),
}

impl Change {
    /// What costs nothing comes first, then what costs little.
    fn cost(&self) -> u8 {
        match self {
            Self::NoResistor(_) => 0,
            Self::SingleDiode => 1,
            Self::Resistor(_) | Self::Capacitor | Self::Bridge => 2,
            Self::Relay(_) => 3,
        }
    }
}

/// Changes made together, and what the judge says of the link with them.
#[derive(Debug, Clone, PartialEq)]
pub struct Remedy {
    pub changes: Vec<Change>,
    /// The link with them.
    pub judged: Judgement,
}

impl Remedy {
    /// Whether the link then works, at its worst too; what is only thin counts as working.
    pub fn would_do(&self) -> bool {
        self.judged.trouble().is_none_or(|it| it >= Trouble::Thin)
    }
}

/// The remedies of a link, those that do first; of these, the fewest changes, then the cheapest, then the one
/// that leaves most. A change that the simulation cannot judge is none to propose.
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

/// Whether the master's transformer has more lamps than it is made for: no change at the far end helps.
pub fn overloaded(site: &Site, link: &Link) -> bool {
    match site.feeding(link).output {
        SupplyOutput::Ac { rated_va, .. } => load_va(site, site[link.master].supply) > rated_va,
        SupplyOutput::Dc { .. } => false,
    }
}

/// Every change that makes sense alone, and the pairs of them with another relay.
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

/// The smallest resistor that keeps the coil within its limits at high mains, with a little in hand; `None`
/// where the coil is within them.
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
            // One that cannot be judged is none to propose.
            Err(_) => Loaded {
                coil_v: f64::INFINITY,
                pair_rms_a: 0.0,
            },
        }
    })
}
