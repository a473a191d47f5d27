//! The master's supply, as the pair sees it.

use super::Lamps;
use crate::circuit::supply::Transformer;
use crate::site::{Link, Site, SupplyId, SupplyOutput};

#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Tap {
    /// Voltage with these lamps lit [V RMS or V DC].
    pub(crate) volts: f64,
    /// Voltage without any lamp [V RMS or V DC].
    pub(crate) open_v: f64,
    /// The supply's own resistance [Ω].
    pub(crate) source_ohm: f64,
    /// Resistance of the lit lamps [Ω].
    pub(crate) lamps_ohm: Option<f64>,
}

/// Load on a transformer with all its zones lit [VA].
pub(crate) fn load_va(site: &Site, supply: SupplyId) -> f64 {
    site.zones
        .iter()
        .filter(|zone| zone.supply == supply)
        .map(crate::site::Zone::lamp_va)
        .sum()
}

/// The supply of a link's master at this level, loaded by these lamps.
pub(crate) fn tap(site: &Site, link: &Link, level: f64, lamps: Lamps) -> Tap {
    let master = &site[link.master];
    match site[master.supply].output {
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
            let load_va = match lamps {
                Lamps::All => load_va(site, master.supply),
                Lamps::Masters => master.lamp_va(),
                Lamps::Unplugged => 0.0,
            };
            let mains = 1.0 + level * site.mains.tolerance;
            let open_v = mains * no_load_v;
            let volts = transformer.terminal_v(load_va, mains).max(0.0);
            let source_ohm = transformer.source_ohm();
            // The lamp resistance that pulls the supply down to this voltage.
            let lamps_ohm = if load_va <= 0.0 || volts <= 0.0 {
                None
            } else if open_v > volts {
                Some(source_ohm * volts / (open_v - volts))
            } else {
                Some(volts * volts / load_va)
            };
            Tap {
                volts,
                open_v: if volts > 0.0 { open_v } else { 0.0 },
                source_ohm,
                lamps_ohm,
            }
        }
        SupplyOutput::Dc {
            voltage_v,
            lowest_v,
            highest_v,
            ..
        } => {
            let end_v = if level < 0.0 { lowest_v } else { highest_v };
            let volts = voltage_v + level.abs() * (end_v - voltage_v);
            let lamp_w = master.lamp_w();
            Tap {
                volts,
                // Measured, or regulated, with the lamps lit.
                open_v: volts,
                source_ohm: 0.0,
                lamps_ohm: (lamps != Lamps::Unplugged && lamp_w > 0.0 && volts > 0.0)
                    .then(|| volts * volts / lamp_w),
            }
        }
    }
}
