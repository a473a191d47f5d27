//! Cautions of lamps: S27, S28. The fuse of their cable is in [`fuse`].

use crate::lamp_run::{TrunkEnds, greatest_v, terminal_v, trunk_ends, which_trunk};
use crate::link::MainsLevel;
use crate::site::{LampGroup, Site, Trunk, ZoneId};

use super::{Caution, Code, Level, Notes, Place};

mod fuse;

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
            crate::text::volts(terminal_v(site, supply, MainsLevel::Low))
        )
    };
    let lamp_v = match trunk_ends(site, zone, trunk, MainsLevel::Low) {
        TrunkEnds::BrownOut { margin } => {
            // A lamp that fails at nominal mains already is a STOP.
            let nominal = trunk_ends(site, zone, trunk, MainsLevel::Nominal);
            let (level, when, margin) = match nominal {
                TrunkEnds::BrownOut { margin } => (Level::Stop, "nominal voltage".into(), margin),
                TrunkEnds::Lit { .. } => (Level::Warn, when, margin),
            };
            notes.add(
                Code::S28,
                level,
                format!(
                    "{run} browns out at {when}: it carries {:.0} % of these lamps (computed from cable and lamps). Use thicker wire, hang fewer lamps on it, or feed it from both ends",
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
            format!("a lamp on {run} gets {volts:.1} V at {when} and needs {lowest_v:.1} V (its label: `lowest_voltage`): dim or flickering. Thicker wire, or fewer lamps on it"),
        );
    }
}
