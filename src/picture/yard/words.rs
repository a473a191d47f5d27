//! The text of each part of a yard; what belongs together stays on one line.

use std::fmt::Write;

use super::points;
use crate::circuit::rectifier::Rectifier;
use crate::picture::lamps::{cable_short, run_said};
use crate::picture::look::kept;
use crate::site::{
    Cable, Fuse, Line, Link, Site, Supply, SupplyKind, SupplyOutput, Switching, Trunk, Zone, ZoneId,
};
use crate::text::{FT_PER_M, amps, volts};

/// `22 AWG, 73.2 m (240 ft)`.
fn cable_said(cable: &Cable) -> String {
    kept(&format!(
        "{} ({:.0} ft)",
        cable_short(cable),
        cable.length_m * FT_PER_M
    ))
}

fn fuse_said(fuse: Fuse) -> String {
    match fuse {
        Fuse::NotStated => "fuse not stated".into(),
        Fuse::None => kept("no fuse"),
        Fuse::Rated(rated_a) => kept(&format!("fuse {}", amps(rated_a))),
    }
}

/// `P1: ` and the text of a run.
pub(super) fn labelled(label: Option<&str>, said: &str) -> String {
    match label {
        Some(label) => format!("{}{said}", kept(&format!("{label}: "))),
        None => said.to_owned(),
    }
}

/// A pilot wire and the parts at its far end, with test points.
pub(super) fn link_said(link: &Link) -> String {
    format!(
        "pilot wire {} {}; {}",
        pair_said(link, true),
        kept("[TP10, TP11]"),
        far_end_said(link, true)
    )
}

/// `20 AWG, 79.2 m, fuse 500 mA, 2 splices`; with feet if `feet`.
pub(super) fn pair_said(link: &Link, feet: bool) -> String {
    let wire = match (&link.cable, link.measured_loop_ohm) {
        (Some(cable), _) if feet => cable_said(cable),
        (Some(cable), _) => cable_short(cable),
        (None, Some(ohm)) => kept(&format!("of {ohm} ohm, measured")),
        (None, None) => "not stated".into(),
    };
    let mut said = format!("{wire}, {}", fuse_said(link.fuse));
    if link.splices > 0 {
        let plural = if link.splices == 1 { "" } else { "s" };
        let _ = write!(
            said,
            ", {}",
            kept(&format!("{} splice{plural}", link.splices))
        );
    }
    said
}

/// `33 ohm, bridge, 220 µF, relay r720`, with test points if wanted.
pub(super) fn far_end_said(link: &Link, points: bool) -> String {
    let mut parts = Vec::new();
    if link.series_ohm > 0.0 {
        parts.push(kept(&format!("{} ohm", link.series_ohm)));
    }
    let rectifier = match link.rectifier {
        Rectifier::Bridge => "bridge",
        Rectifier::SingleDiode => "one diode",
        Rectifier::None => "no rectifier",
    };
    let point = if points { " [TP2]" } else { "" };
    parts.push(kept(&format!("{rectifier}{point}")));
    if let Some(capacitor) = link.capacitor {
        parts.push(kept(&format!("{:.0} µF", capacitor.farad * 1e6)));
    }
    let relay = kept(&format!("relay {}", link.relay.name));
    parts.push(if points {
        format!("{relay} {}", kept("[coil TP3, contact TP4]"))
    } else {
        relay
    });
    parts.join(", ")
}

fn line_said(line: &Line) -> String {
    match line {
        Line::Offset(offset) => format!("line {offset}"),
        Line::Named(name) => name.clone(),
    }
}

/// The board's input from the master of a zone that follows one, and its output to the zone, with test points if they
/// are wanted. A zone that follows has both, whether the file names their lines or not.
pub(super) fn board_said(site: &Site, zone: ZoneId, points: bool) -> String {
    let has = points::of_zone(site, zone);
    let line = |what: &str, at: Option<(&str, &Line)>, point: u32| {
        let mut said = what.to_owned();
        if let Some((chip, line)) = at {
            let _ = write!(said, " {chip} {}", line_said(line));
        }
        if points && has.contains(&point) {
            let _ = write!(said, " [TP{point}]");
        }
        kept(&said)
    };
    let mut said = "board: ".to_owned();
    if let Switching::Senses(sensing) = site[zone].switching {
        let input = site.input_of(sensing.master);
        let at = input.map(|input| (input.chip.as_str(), &input.line));
        let _ = write!(said, "{}, ", line("input", at, 10));
    }
    let output = site.output_of(zone);
    let at = output.map(|output| (output.chip.as_str(), &output.line));
    said + &line("output", at, 4)
}

/// `shed: desktop-PC supply, 230 V mains to 11.9 V DC, 10 A [TP6]`.
pub(super) fn supply_said(site: &Site, zone: ZoneId) -> String {
    let supply = &site[site[zone].supply];
    let mine = |other: &&Zone| other.supply == site[zone].supply;
    let shared = site.zones.iter().filter(mine).count() > 1;
    let kind = match supply.kind {
        SupplyKind::Transformer => "transformer",
        SupplyKind::Dc => "DC supply",
        SupplyKind::DesktopPc => "desktop-PC supply",
    };
    let names: &[(&str, u32)] = match supply.kind {
        SupplyKind::Transformer => &[("terminals", 1)],
        SupplyKind::Dc => &[("enable", 5), ("output", 6)],
        SupplyKind::DesktopPc => &[("remote-on", 5), ("rail", 6), ("standby", 9)],
    };
    let has = points::of_zone(site, zone);
    let points: Vec<_> = names
        .iter()
        .filter(|(_, number)| has.contains(number))
        .collect();
    let shared = if shared { ", shared" } else { "" };
    let mains = kept(&format!("{:.0} V mains", site.mains.voltage_v));
    format!(
        "{}: {kind}{shared}, {mains} to {} {}",
        supply.name,
        output_said(supply),
        points_said(&points)
    )
}

/// `12.0 V AC, 105 VA`.
pub(super) fn output_said(supply: &Supply) -> String {
    match supply.output {
        SupplyOutput::Ac {
            full_load_v,
            rated_va,
            ..
        } => format!(
            "{}, {}",
            kept(&format!("{} V AC", volts(full_load_v))),
            kept(&format!("{rated_va:.0} VA"))
        ),
        SupplyOutput::Dc {
            voltage_v,
            max_a: Some(max_a),
            ..
        } => format!(
            "{}, {}",
            kept(&format!("{} V DC", volts(voltage_v))),
            kept(&amps(max_a))
        ),
        SupplyOutput::Dc { voltage_v, .. } => kept(&format!("{} V DC", volts(voltage_v))),
    }
}

/// `[rail TP6, standby TP9]`, or a single point by its number alone; may break after a comma.
fn points_said(points: &[&(&str, u32)]) -> String {
    let said: Vec<String> = match points {
        [(_, number)] => vec![format!("TP{number}")],
        several => several
            .iter()
            .map(|(name, number)| kept(&format!("{name} TP{number}")))
            .collect(),
    };
    format!("[{}]", said.join(", "))
}

/// A run, its fuse and its test points; `number`: its number among the zone's runs with lamps, if there are
/// several.
pub(super) fn trunk_said(trunk: &Trunk, number: Option<usize>) -> String {
    let lamps: u32 = trunk.lamps.iter().map(|group| group.count).sum();
    if lamps == 0 {
        let cable = trunk.cable.as_ref().map_or_else(String::new, cable_said);
        return format!("{cable}, {}, no lamps", fuse_said(trunk.fuse));
    }
    let points: Vec<String> = points::of_trunk(trunk)
        .map(|number| format!("TP{number}"))
        .collect();
    let points = points.join(", ");
    let points = match number {
        Some(number) => format!("[run {number}: {points}]"),
        None => format!("[{points}]"),
    };
    let feet = trunk.cable.map_or_else(String::new, |cable| {
        format!("\u{a0}({:.0}\u{a0}ft)", cable.length_m * FT_PER_M)
    });
    format!(
        "{}{feet}, {} {}",
        run_said(trunk),
        fuse_said(trunk.fuse),
        kept(&points)
    )
}

/// The same without feet and test points.
pub(super) fn trunk_brief(trunk: &Trunk) -> String {
    let fuse = fuse_said(trunk.fuse);
    match &trunk.cable {
        Some(cable) if trunk.lamps.is_empty() => {
            format!("{}, {fuse}, no lamps", cable_short(cable))
        }
        None if trunk.lamps.is_empty() => format!("{fuse}, no lamps"),
        _ => format!("{}, {fuse}", run_said(trunk)),
    }
}
