//! Volts at the lamps, and their cautions: S27, S28; the fuse of their cable is in [`fuse`].

use crate::chain::MainsLevel;
use crate::circuit::lamp::{Current, Lamp};
use crate::circuit::trunk::{self, Tap, TrunkState};
use crate::circuit::wire::ohm_per_m;
use crate::site::{LampGroup, LampKind, Site, Trunk, ZoneId};

use super::supplies::{greatest_v, terminal_v};
use super::{Caution, Code, Level, Notes, Place};

mod fuse;

pub(crate) use fuse::{trunk_fuse, which_trunk};

/// What a trunk gives its lamps.
#[derive(Debug, Clone, PartialEq)]
pub enum TrunkEnds {
    /// All lamps run.
    Lit {
        /// Volts at every lamp, nearest first [V RMS or V DC].
        lamp_v: Vec<f64>,
        /// Current from the supply [A].
        supply_a: f64,
    },
    /// The voltage collapses; the trunk carries this fraction of the lamps' power.
    BrownOut {
        /// Largest share of the power that still has a solution.
        margin: f64,
    },
}

/// Works a trunk of a zone out at a mains level.
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

/// A lamp as the circuit knows it: filaments by what they draw at 12 V.
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

pub(super) fn cautions(site: &Site) -> Vec<Caution> {
    let mut list = Vec::new();
    for (index, zone) in site.zones.iter().enumerate() {
        let id = ZoneId(index);
        let mut notes = Notes::at(Place::Zone(id));
        for group in zone.lamps() {
            rating(site, id, group, &mut notes);
        }
        for trunk in &zone.trunks {
            if !trunk.lamps.is_empty() {
                far_end(site, id, trunk, &mut notes);
            }
            fuse::cautions(site, id, trunk, &mut notes);
        }
        list.extend(notes.list);
    }
    list
}

fn rating(site: &Site, zone: ZoneId, group: &LampGroup, notes: &mut Notes) {
    let supply = site[zone].supply;
    let (kind, accepted) = if site[supply].is_ac() {
        ("AC", group.accepts_ac)
    } else {
        ("DC", group.accepts_dc)
    };
    if accepted == Some(false) {
        notes.add(
            Code::S27,
            Level::Stop,
            format!("its {} W lamps do not take {kind}, and supply {} gives {kind}: other lamps, or another supply", group.power_w, site[supply].name),
        );
    }
    let Some(highest_v) = group.highest_v else {
        return;
    };
    let nominal_v = greatest_v(site, supply, MainsLevel::Nominal);
    let high_v = greatest_v(site, supply, MainsLevel::High);
    let (level, volts, when) = if nominal_v > highest_v {
        (Level::Stop, nominal_v, "nothing else lit")
    } else if high_v > highest_v {
        (Level::Warn, high_v, "nothing else lit, high mains")
    } else {
        return;
    };
    notes.add(
        Code::S27,
        level,
        format!("its lamps get up to {volts:.1} V {kind} ({when}), they are made for {highest_v:.1} V at most"),
    );
}

fn far_end(site: &Site, zone: ZoneId, trunk: &Trunk, notes: &mut Notes) {
    let supply = site[zone].supply;
    // `the trunk of pond`, `trunk 2 of 3 of pond`.
    let which = which_trunk(site, zone, trunk).unwrap_or_else(|| "the trunk".into());
    let run = format!("{which} of {}", site[zone].name);
    let when = if site[supply].is_ac() {
        "low mains".to_owned()
    } else {
        format!(
            "{} V at the supply",
            crate::wording::volts(terminal_v(site, supply, MainsLevel::Low))
        )
    };
    let lamp_v = match trunk_ends(site, zone, trunk, MainsLevel::Low) {
        TrunkEnds::BrownOut { margin } => {
            notes.add(
                Code::S28,
                Level::Warn,
                format!(
                    "{run} browns out at {when}: it carries {:.0} % of these lamps. Thicker wire, fewer lamps, or feed it from both ends",
                    margin * 100.0
                ),
            );
            return;
        }
        TrunkEnds::Lit { lamp_v, .. } => lamp_v,
    };
    let groups = trunk
        .lamps
        .iter()
        .flat_map(|group| std::iter::repeat_n(group, group.count as usize));
    let shortest = groups
        .zip(&lamp_v)
        .filter_map(|(group, volts)| {
            group
                .lowest_v
                .map(|lowest_v| (volts - lowest_v, *volts, lowest_v))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((spare_v, volts, lowest_v)) = shortest
        && spare_v < 0.0
    {
        notes.add(
            Code::S28,
            Level::Warn,
            format!("a lamp on {run} gets {volts:.1} V at {when} and needs {lowest_v:.1} V: dim or flickering. Thicker wire, or fewer lamps on it"),
        );
    }
}
