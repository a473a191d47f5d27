//! What would make a link pull in: another relay of the file, fewer diodes, or both.

use std::fmt;

use crate::circuit::rectifier::Rectifier;
use crate::site::{Link, Site};

use super::Undecided;
use super::case::{LinkCase, MainsLevel, Parts};
use super::evenings::over_evenings;

/// A change to a link, and what it does to the margins.
#[derive(Debug, Clone, PartialEq)]
pub struct Remedy {
    /// The relay that takes the place of the link's own, by name.
    pub relay: Option<String>,
    /// One diode in the place of the bridge; only on DC.
    pub single_diode: bool,
    /// Least margin at dusk over all cases, parts against it.
    pub worst_dusk: f64,
    /// Least margin on a hot restart.
    pub worst_restart: f64,
    /// Greatest coil voltage over all cases, as a fraction of what it may have continuously.
    pub of_max_coil: f64,
}

impl Remedy {
    /// Whether it would do: pulls in always, also hot, within its coil limit.
    pub fn would_do(&self) -> bool {
        self.worst_dusk >= 0.0 && self.worst_restart >= 0.0 && self.of_max_coil <= 1.0
    }

    /// Parts to change.
    fn changes(&self) -> u8 {
        u8::from(self.relay.is_some()) + u8::from(self.single_diode)
    }
}

impl fmt::Display for Remedy {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const DIODE: &str = "one diode for the bridge (mind the polarity)";
        match (&self.relay, self.single_diode) {
            (Some(relay), false) => write!(f, "relay {relay}"),
            (Some(relay), true) => write!(f, "relay {relay} with {DIODE}"),
            (None, _) => f.write_str(DIODE),
        }
    }
}

/// Every other relay of the file tried in this link, on DC also with one diode for the bridge: first
/// the fewest changes, then the best.
pub(crate) fn remedies(site: &Site, link: &Link) -> Vec<Remedy> {
    let on_dc = !site.feeding(link).is_ac();
    let rectifiers: &[Rectifier] = if on_dc && link.rectifier == Rectifier::Bridge {
        &[Rectifier::Bridge, Rectifier::SingleDiode]
    } else {
        &[link.rectifier]
    };
    let mut list: Vec<Remedy> = rectifiers
        .iter()
        .flat_map(|&rectifier| {
            site.relays.iter().map(move |relay| Link {
                relay: relay.clone(),
                rectifier,
                ..link.clone()
            })
        })
        // A change that the simulation cannot judge is none to propose.
        .filter_map(|with| tried(site, link, &with).ok())
        .filter(|remedy| remedy.changes() > 0)
        .collect();
    list.sort_by(|a, b| {
        a.changes()
            .cmp(&b.changes())
            .then(b.worst_restart.total_cmp(&a.worst_restart))
    });
    list
}

fn tried(site: &Site, link: &Link, with: &Link) -> Result<Remedy, Undecided> {
    let over = |mains, parts| over_evenings(site, with, mains, parts);
    let low = over(MainsLevel::Low, Parts::AgainstOperate)?;
    let high = over(MainsLevel::High, Parts::AgainstCoil)?;
    let least = |margin: fn(&LinkCase) -> f64| low.iter().map(margin).fold(f64::INFINITY, f64::min);
    Ok(Remedy {
        relay: (with.relay.name != link.relay.name).then(|| with.relay.name.clone()),
        single_diode: with.rectifier != link.rectifier,
        worst_dusk: least(|case| case.margin_dusk),
        worst_restart: least(|case| case.margin_restart),
        of_max_coil: high
            .iter()
            .map(|case| case.dusk.coil_v.max(case.warm.coil_v))
            .fold(0.0, f64::max)
            / with.relay.max_coil_v,
    })
}
