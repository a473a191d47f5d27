//! Cautions of a supply: S02, S04, S05, S07, S17, S29, S51.
//!
//! S07 goes by the supply's rating (VA divided by its full-load voltage, or `max_current`), not by its
//! short-circuit current, and asks every lamp cable on it for a fuse of 25 A or less (NEC 411). `fuse = "none"`
//! or a larger fuse is a STOP; a fuse that is not stated is a note, as with S06 and S08. S08 covers a pilot wire;
//! S06 covers a supply whose amperes are not stated.

use crate::lamp_run::which_trunk;
use crate::link::load_va;
use crate::site::{
    Fuse, OutletProtection, Placement, Region, Site, Supply, SupplyId, SupplyKind, SupplyOutput,
    ZoneId,
};
use crate::text::amps;

use super::{Caution, Code, Level, Notes, Place};

/// Highest load on a supply that counts as ordinary, as a fraction of its rating (common practice).
const ORDINARY_LOAD: f64 = 0.80;

/// Limits of extra-low voltage lighting [V AC], [V DC]: NEC 411, IEC 60364-7-715.
const NEC_LIMITS_V: (f64, f64) = (30.0, 60.0);
const IEC_LIMITS_V: (f64, f64) = (50.0, 120.0);

/// The largest fuse, or current limit, allowed for one secondary of a lighting circuit [A]: NEC 411.
const SECONDARY_A: f64 = 25.0;

pub(super) fn cautions(site: &Site) -> Vec<Caution> {
    let mut list = Vec::new();
    for (index, supply) in site.supplies.iter().enumerate() {
        let id = SupplyId(index);
        let mut notes = Notes::at(Place::Supply(id));
        voltage(site, supply, &mut notes);
        placement(supply, &mut notes);
        secondary(site, id, supply, &mut notes);
        loading(site, id, supply, &mut notes);
        list.extend(notes.list);
        list.extend(asleep(site, id));
    }
    list
}

/// Zones on a supply that a relay or a line of the board switches, which do not go as that one does. A remote-on line
/// puts the whole supply to sleep; of another, contact or line may switch one zone's lamps alone.
fn asleep(site: &Site, id: SupplyId) -> Vec<Caution> {
    let supply = &site[id];
    let relay = |zone: ZoneId| site.link_to(zone).is_some();
    let mut list = Vec::new();
    for zone in (0..site.zones.len()).map(ZoneId) {
        if site[zone].supply != id {
            continue;
        }
        let wakes = site.wakes_supply(zone);
        // Of two that wake it, the later in the file says it.
        let mut wakers = site.wakers_beside(zone);
        let Some(waker) = wakers.find(|waker| !wakes || *waker < zone) else {
            continue;
        };
        let mut notes = Notes::at(Place::Zone(zone));
        let lines_alone = !relay(zone) && !relay(waker);
        let (level, unless) = match supply.kind {
            SupplyKind::DesktopPc if wakes => (Level::Warn, ""),
            SupplyKind::DesktopPc => (Level::Stop, ""),
            // Lines that switch lamps are as usual as a line that switches a supply.
            _ if lines_alone => (
                Level::Note,
                ", unless each line switches the lamps of its own zone alone",
            ),
            _ => (
                Level::Warn,
                ", unless that contact switches the lamps of its own zone alone",
            ),
        };
        let (name, other) = (&site[zone].name, &site[waker].name);
        let remedy = format!("Give {name} a supply of its own{unless}");
        let text = if wakes {
            let each = match (relay(zone), relay(waker)) {
                (true, true) => "a relay",
                (false, false) => "a line of the board",
                _ => "a relay or a line of the board",
            };
            format!(
                "zones {name} and {other} hang on supply {}, and each has {each} that switches it: both are lit while either is. {remedy}",
                supply.name
            )
        } else {
            let what = if relay(waker) { "relay" } else { "line" };
            format!(
                "zone {name} hangs on supply {}, which the {what} of zone {other} switches: {name} is dark while {other} is, whatever its own times say, and may be lit with it. {remedy}",
                supply.name
            )
        };
        notes.add(Code::S51, level, text);
        list.extend(notes.list);
    }
    list
}

fn voltage(site: &Site, supply: &Supply, notes: &mut Notes) {
    let (ac_v, dc_v) = if site.region == Region::Iec {
        IEC_LIMITS_V
    } else {
        NEC_LIMITS_V
    };
    let (volts, kind, limit) = match supply.output {
        SupplyOutput::Ac { no_load_v, .. } => (no_load_v, "AC", ac_v),
        SupplyOutput::Dc { highest_v, .. } => (highest_v, "DC", dc_v),
    };
    if volts > limit {
        notes.add(
            Code::S02,
            Level::Stop,
            format!("outside extra-low voltage: {volts:.1} V {kind}, the limit is {limit:.0} V {kind}. This program does not plan it"),
        );
    }
}

fn placement(supply: &Supply, notes: &mut Notes) {
    let outdoors = supply.placement == Some(Placement::Outdoors);
    if supply.kind == SupplyKind::DesktopPc {
        if outdoors {
            notes.add(
                Code::S04,
                Level::Stop,
                "a desktop-PC supply is an indoor appliance: shock and fire risk outdoors. Move it into a dry building, or use a listed outdoor supply",
            );
        } else {
            let stated = if supply.placement.is_none() {
                "; where it stands is not stated, it must be indoors"
            } else {
                ""
            };
            notes.add(
                Code::S17,
                Level::Note,
                format!("the 12 V minus of a desktop-PC supply is usually earthed: keep it apart from every AC zone's return{stated}"),
            );
        }
    }
    if outdoors {
        match supply.outlet_protection {
            Some(OutletProtection::Rcd30mA | OutletProtection::Gfci) => {}
            Some(OutletProtection::None) => notes.add(
                Code::S05,
                Level::Stop,
                "its outdoor mains outlet has no 30 mA RCD or GFCI: have one fitted by a licensed electrician",
            ),
            None => notes.add(
                Code::S05,
                Level::Warn,
                "the protection of its outdoor mains outlet is not stated: it takes a 30 mA RCD or GFCI",
            ),
        }
    }
}

/// Rated current of a supply [A], if stated.
fn rated_a(supply: &Supply) -> Option<f64> {
    match supply.output {
        SupplyOutput::Ac {
            full_load_v,
            rated_va,
            ..
        } => Some(rated_va / full_load_v),
        SupplyOutput::Dc { max_a, .. } => max_a,
    }
}

/// Finds a secondary that gives more current than a lighting circuit may have, and lists the runs on it without
/// a fuse that limits them. S08 covers its pilot wires; S06 covers a supply whose amperes are not stated.
fn secondary(site: &Site, id: SupplyId, supply: &Supply, notes: &mut Notes) {
    let Some(rated_a) = rated_a(supply).filter(|rated_a| *rated_a > SECONDARY_A) else {
        return;
    };
    let mut level = Level::Note;
    let mut runs = Vec::new();
    for zone in (0..site.zones.len()).map(ZoneId) {
        for trunk in &site[zone].trunks {
            let has = match trunk.fuse {
                _ if site[zone].supply != id => continue,
                Fuse::Rated(fuse_a) if fuse_a <= SECONDARY_A => continue,
                Fuse::Rated(fuse_a) => format!("a fuse of {}", amps(fuse_a)),
                Fuse::None => "no fuse".into(),
                // What the file leaves out may still be in the yard: a warning, not a stop.
                Fuse::NotStated => "fuse not stated".into(),
            };
            if trunk.fuse != Fuse::NotStated {
                level = Level::Stop;
            }
            let which = which_trunk(site, zone, trunk)
                .map_or_else(String::new, |which| format!(", {which}"));
            runs.push(format!("lamps of {}{which} ({has})", site[zone].name));
        }
    }
    if runs.is_empty() {
        return;
    }
    notes.add(
        Code::S07,
        level,
        format!(
            "its secondary is rated {}, a lighting circuit ends at {} (NEC 411), and nothing keeps these to that: {}. Split the load, and fit a fuse of {} or less at the supply before each run",
            amps(rated_a),
            amps(SECONDARY_A),
            runs.join(", "),
            amps(SECONDARY_A)
        ),
    );
}

fn loading(site: &Site, id: SupplyId, supply: &Supply, notes: &mut Notes) {
    let (load, rated, unit, share) = match supply.output {
        SupplyOutput::Ac { rated_va, .. } => {
            let load = load_va(site, id);
            (load, rated_va, "VA", load / rated_va)
        }
        SupplyOutput::Dc {
            lowest_v, max_a, ..
        } => {
            let Some(max_a) = max_a else { return };
            let lamps_w: f64 = site
                .zones
                .iter()
                .filter(|zone| zone.supply == id)
                .map(crate::site::Zone::lamp_w)
                .sum();
            let load = lamps_w / lowest_v;
            (load, max_a, "A", load / max_a)
        }
    };
    let (level, word, beyond) = if share <= ORDINARY_LOAD {
        return;
    } else if share <= 1.0 {
        (Level::Warn, "nearly full", "")
    } else {
        (
            Level::Stop,
            "overloaded",
            ". Beyond its rating nobody knows its voltage, nor anything that hangs on it",
        )
    };
    let over = load - ORDINARY_LOAD * rated;
    notes.add(
        Code::S29,
        level,
        format!(
            "{word}: {load:.1} {unit} of {rated:.1} {unit}, {:.0} %; {:.0} % is the usual limit. Take off {over:.1} {unit}, or use a larger supply{beyond}",
            share * 100.0,
            ORDINARY_LOAD * 100.0
        ),
    );
}
