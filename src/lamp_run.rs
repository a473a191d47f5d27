//! Voltage at a zone's lamps, and at the supply that feeds them.

use crate::circuit::lamp::{Current, Lamp};
use crate::circuit::supply::Transformer;
use crate::circuit::trunk::{self, Tap, TrunkState};
use crate::circuit::wire::ohm_per_m;
use crate::link::{MainsLevel, load_va, mains_factor};
use crate::site::{LampGroup, LampKind, Site, SupplyId, SupplyOutput, Trunk, ZoneId};

#[derive(Debug, Clone, PartialEq)]
pub enum TrunkEnds {
    /// All lamps run.
    Lit {
        /// Volts at every lamp, nearest first [V RMS or V DC].
        lamp_v: Vec<f64>,
        /// Current from the supply [A].
        supply_a: f64,
    },
    /// The voltage collapses: the trunk can carry only this fraction of the lamps' power.
    BrownOut {
        /// Largest share of the power that has a solution.
        margin: f64,
    },
}

/// Calculates a zone's trunk at a mains level.
pub fn trunk_ends(site: &Site, zone: ZoneId, cable_run: &Trunk, level: MainsLevel) -> TrunkEnds {
    let supply = site[zone].supply;
    let current = if site[supply].is_ac() {
        Current::Alternating
    } else {
        Current::Direct
    };
    let loop_ohm_per_m = cable_run.cable.map_or(0.0, |cable| {
        2.0 * ohm_per_m(cable.gauge, cable.stranding, site.temperatures.wire_c)
            .expect("the site file has only sizes in the trade")
    });
    let lamps = cable_run
        .lamps
        .iter()
        .flat_map(|group| std::iter::repeat_n(lamp(group), group.count as usize));
    let supply_v = terminal_v(site, supply, level);
    if supply_v <= 0.0 {
        return TrunkEnds::BrownOut { margin: 0.0 };
    }
    let model = trunk::Trunk {
        supply_v,
        supply_ohm: 0.0,
        current,
        loop_ohm_per_m,
        taps: cable_run
            .distances_m
            .iter()
            .zip(lamps)
            .map(|(&distance_m, lamp)| Tap { distance_m, lamp })
            .collect(),
    };
    match model.state() {
        TrunkState::Lit { lamps, supply_a } => TrunkEnds::Lit {
            lamp_v: lamps.iter().map(|lamp| lamp.volts).collect(),
            supply_a,
        },
        TrunkState::BrownOut { load_margin } => TrunkEnds::BrownOut {
            margin: load_margin,
        },
    }
}

/// A lamp as the circuit sees it; a filament by its power at 12 V.
fn lamp(group: &LampGroup) -> Lamp {
    match group.kind {
        LampKind::Led => Lamp::Led {
            watt: group.power_w,
            volt_ampere: group.apparent_va,
        },
        LampKind::Filament => Lamp::Filament {
            // Current goes with the 0.55th power of the voltage ("lamp rerating").
            watt: group.power_w * (12.0 / group.rated_v).powf(1.55),
        },
    }
}

/// Supply voltage at its terminals with all its zones lit [V RMS or V DC].
pub(crate) fn terminal_v(site: &Site, id: SupplyId, level: MainsLevel) -> f64 {
    match site[id].output {
        SupplyOutput::Ac {
            no_load_v,
            full_load_v,
            rated_va,
        } => {
            let transformer = Transformer {
                no_load_v,
                full_load_v,
                rated_va,
            };
            transformer
                .terminal_v(load_va(site, id), mains_factor(site, level))
                .max(0.0)
        }
        SupplyOutput::Dc {
            voltage_v,
            lowest_v,
            highest_v,
            ..
        } => match level {
            MainsLevel::Low => lowest_v,
            MainsLevel::Nominal => voltage_v,
            MainsLevel::High => highest_v,
        },
    }
}

/// Highest voltage at its terminals [V RMS or V DC]: high mains, or the supply's own maximum, with nothing lit.
pub(crate) fn greatest_v(site: &Site, id: SupplyId, level: MainsLevel) -> f64 {
    match site[id].output {
        SupplyOutput::Ac { no_load_v, .. } => no_load_v * mains_factor(site, level),
        SupplyOutput::Dc { .. } => terminal_v(site, id, level),
    }
}

/// `trunk 2 of 3`, where a zone has more than one.
pub(crate) fn which_trunk(site: &Site, zone: ZoneId, trunk: &Trunk) -> Option<String> {
    let trunks = &site[zone].trunks;
    let index = trunks
        .iter()
        .position(|other| std::ptr::eq(other, trunk))
        .filter(|_| trunks.len() > 1)?;
    Some(format!("trunk {} of {}", index + 1, trunks.len()))
}
