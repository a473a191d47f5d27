//! What takes most of a link's margin, and which relay would do better.

use std::fmt;

use crate::site::{Link, Relay, Site};

use super::case::{BoxTemperature, Case, MainsLevel, PaperCase, Parts, work_out};

/// The part that costs the coil most, in volts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Weakest {
    /// The pair, with the pulses it makes the capacitor charge in.
    Pair(f64),
    /// The series resistor.
    SeriesResistor(f64),
    /// The diodes.
    Diodes(f64),
    /// The coil's own heat, which raises the voltage it needs.
    CoilHeat(f64),
}

impl fmt::Display for Weakest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Pair(volts) => write!(f, "the pair takes {volts:.1} V"),
            Self::SeriesResistor(volts) => write!(f, "pair and series resistor take {volts:.1} V"),
            Self::Diodes(volts) => write!(f, "the diodes take {volts:.1} V"),
            Self::CoilHeat(volts) => write!(f, "the warm coil needs {volts:.1} V more"),
        }
    }
}

pub(super) fn of(case: &PaperCase, link: &Link) -> Weakest {
    let loop_v = case.dusk.net_peak_v - case.dusk.coil_v;
    let wire = if link.series_ohm > case.loop_ohm / 2.0 {
        Weakest::SeriesResistor(loop_v)
    } else {
        Weakest::Pair(loop_v)
    };
    let diodes_v = f64::from(case.dusk.diodes) * case.dusk.diode_drop_v;
    let heat_v = case.operate_warm_v - case.operate_v;
    let candidates = [
        (loop_v, wire),
        (diodes_v, Weakest::Diodes(diodes_v)),
        (heat_v, Weakest::CoilHeat(heat_v)),
    ];
    candidates
        .into_iter()
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(wire, |(_, weakest)| weakest)
}

/// Another relay of the file in the place of the link's own.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherRelay {
    /// Its name.
    pub name: String,
    /// Least margin at dusk over all cases, parts against it.
    pub worst_dusk: f64,
    /// Least margin on a hot restart.
    pub worst_restart: f64,
    /// Greatest coil voltage over all cases, as a fraction of what it may have continuously.
    pub of_max_coil: f64,
}

impl OtherRelay {
    /// Whether it would do: pulls in always, also hot, within its coil limit.
    pub fn would_do(&self) -> bool {
        self.worst_dusk >= 0.0 && self.worst_restart >= 0.0 && self.of_max_coil <= 1.0
    }
}

/// Every other relay of the file tried in this link, best first.
pub(crate) fn other_relays(site: &Site, link: &Link) -> Vec<OtherRelay> {
    let tried = |relay: &Relay| {
        let over = |mains, parts| {
            BoxTemperature::ALL.map(|evening| {
                work_out(
                    site,
                    link,
                    relay,
                    Case {
                        mains,
                        box_c: evening.celsius(site),
                        parts,
                    },
                )
            })
        };
        let low = over(MainsLevel::Low, Parts::AgainstOperate);
        let high = over(MainsLevel::High, Parts::AgainstCoil);
        OtherRelay {
            name: relay.name.clone(),
            worst_dusk: low
                .iter()
                .map(|case| case.margin_dusk)
                .fold(f64::INFINITY, f64::min),
            worst_restart: low
                .iter()
                .map(|case| case.margin_restart)
                .fold(f64::INFINITY, f64::min),
            of_max_coil: high
                .iter()
                .map(|case| case.dusk.coil_v.max(case.warm.coil_v))
                .fold(0.0, f64::max)
                / relay.max_coil_v,
        }
    };
    let mut others: Vec<OtherRelay> = site
        .relays
        .iter()
        .filter(|relay| relay.name != link.relay.name)
        .map(tried)
        .collect();
    others.sort_by(|a, b| b.worst_restart.total_cmp(&a.worst_restart));
    others
}
