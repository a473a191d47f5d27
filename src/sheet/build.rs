//! For whoever builds it: diagram, parts, wiring, fuses.

use maud::{Markup, html};

use crate::cautions::{TrunkEnds, pair_fuse, trunk_ends};
use crate::chain::MainsLevel;
use crate::circuit::rectifier::Rectifier;
use crate::circuit::supply::{LOAD_HEADROOM, Transformer, largest_blown_a, short_circuit_a};
use crate::circuit::wire::{ampacity, ohm_per_m};
use crate::parts::{Amount, Part};
use crate::picture::yard::yard_svg;
use crate::site::{Cable, Fuse, Laid, Region, Site, SupplyKind, SupplyOutput, Trunk, ZoneId};
use crate::wording::amps;

use super::{Sheet, blank, cell, table};

/// Feet in a metre.
const FEET: f64 = 1.0 / 0.3048;

pub(super) fn diagram(sheet: &Sheet<'_>) -> Markup {
    yard_svg(sheet.site).inline("yard")
}

fn amount(amount: Amount) -> String {
    match amount {
        Amount::Pieces(count) => count.to_string(),
        Amount::Metres(metres) => format!("{metres:.1} m ({:.0} ft)", metres * FEET),
    }
}

pub(super) fn parts(sheet: &Sheet<'_>) -> Markup {
    let (missing, covered): (Vec<&Part>, Vec<&Part>) = sheet
        .parts
        .iter()
        .partition(|part| !part.to_buy().is_none());
    let row = |part: &&Part| {
        vec![
            cell(&part.item),
            cell(amount(part.needed)),
            cell(if part.at_hand.is_none() {
                "none".into()
            } else {
                amount(part.at_hand)
            }),
            cell(if part.to_buy().is_none() {
                "nothing".into()
            } else {
                amount(part.to_buy())
            }),
            cell(&part.note),
        ]
    };
    let rows: Vec<Vec<Markup>> = missing.iter().chain(&covered).map(row).collect();
    html! {
        p { (missing.len()) " of " (sheet.parts.len()) " kinds of parts are to be bought. Besides them: boxes, glands, terminals, cable ties, and what the licensed person brings for the mains." }
        (table("Parts", &["part", "needed", "in the drawer", "to buy", "remarks"], &rows))
        @if sheet.site.shelf.is_empty() {
            p .quiet { "The site file lists no " code { "[[shelf]]" } ": everything counts as missing." }
        }
    }
}

/// `22 AWG, 73.2 m (240 ft) one way`.
fn run(cable: &Cable) -> String {
    format!(
        "{}, {:.1} m ({:.0} ft) one way, {:.1} m ({:.0} ft) there and back",
        cable.gauge,
        cable.length_m,
        cable.length_m * FEET,
        2.0 * cable.length_m,
        2.0 * cable.length_m * FEET
    )
}

/// `150 mm (6 in)`.
fn depth(depth_m: f64) -> String {
    format!("{:.0} mm ({:.0} in)", depth_m * 1000.0, depth_m / 0.0254)
}

/// A run of the yard by the number that stands on its label.
struct Run {
    label: String,
    from_to: String,
    wire: String,
    splices: String,
    laid: Laid,
}

fn runs(site: &Site) -> Vec<Run> {
    let mut runs = Vec::new();
    // Splices are numbered through the yard, so that a number on a photograph names one place.
    let mut splice = 0;
    for (index, link) in site.links.iter().enumerate() {
        let numbers: Vec<String> = (0..link.splices)
            .map(|_| {
                splice += 1;
                format!("S{splice}")
            })
            .collect();
        runs.push(Run {
            label: format!("P{}", index + 1),
            from_to: format!(
                "pilot wire, {} to the relay box of {}",
                site[link.master].name, site[link.slave].name
            ),
            wire: match (&link.cable, link.measured_loop_ohm) {
                (Some(cable), None) => run(cable),
                (Some(cable), Some(ohm)) => {
                    format!("{}; measured {ohm} ohm there and back", run(cable))
                }
                (None, Some(ohm)) => format!("measured {ohm} ohm there and back"),
                (None, None) => "not stated".into(),
            },
            splices: if numbers.is_empty() {
                "none planned".into()
            } else {
                numbers.join(", ")
            },
            laid: link.laid.clone(),
        });
    }
    let trunks = site
        .zones_in_order()
        .into_iter()
        .flat_map(|zone| site[zone].trunks.iter().map(move |trunk| (zone, trunk)));
    for (index, (zone, trunk)) in trunks
        .filter(|(_, trunk)| trunk.cable.is_some())
        .enumerate()
    {
        let lamps = trunk.distances_m.len();
        runs.push(Run {
            label: format!("T{}", index + 1),
            from_to: format!(
                "lamps of {}, {lamps} lamp{} from supply {}",
                site[zone].name,
                if lamps == 1 { "" } else { "s" },
                site[site[zone].supply].name
            ),
            wire: trunk.cable.as_ref().map_or_else(String::new, run),
            splices: match lamps {
                0 => "none planned".into(),
                1 => "at the lamp".into(),
                _ => format!("a tap at every lamp, L1 to L{lamps}"),
            },
            laid: trunk.laid.clone(),
        });
    }
    runs
}

pub(super) fn wiring(sheet: &Sheet<'_>) -> Markup {
    let site = sheet.site;
    let rows: Vec<Vec<Markup>> = runs(site)
        .into_iter()
        .map(|run| {
            vec![
                cell(run.label),
                cell(run.from_to),
                cell(run.wire),
                cell(run.splices),
                run.laid
                    .depth_m
                    .map_or_else(blank, |depth_m| cell(depth(depth_m))),
                run.laid.colours.map_or_else(blank, cell),
            ]
        })
        .collect();
    let cover = match site.region {
        Region::Nec => {
            "As a rule at least 150 mm (6 in) of cover for lighting circuits up to 30 V (NEC table 300.5), 450 mm (18 in) under a driveway"
        }
        Region::Iec => {
            "Deep enough that foreseeable digging does not reach it (BS 7671 522.8.10 and its kin): as a rule 150 mm (6 in), 450 mm (18 in) under a driveway"
        }
        Region::Other => {
            "Deep enough that foreseeable digging does not reach it: as a rule 150 mm (6 in), 450 mm (18 in) under a driveway"
        }
    };
    let desktop = site
        .supplies
        .iter()
        .any(|supply| supply.kind == SupplyKind::DesktopPc);
    html! {
        (table("Runs", &["run", "from and to", "wire", "splices", "depth", "colours, to be verified with a meter"], &rows))
        ul {
            li { "Before digging, have buried mains, gas, water and irrigation located, and mark them." }
            li { "No mains in the same duct or box. Fuse out, supplies unplugged, whenever a conductor is cut or joined." }
            li { (cover) "; local code decides. Write the depth down where it changes." }
            li { "Two conductors there and back in every run: never the earth as a conductor, never one of another zone. The return of an AC zone meets the minus of a DC zone nowhere." }
            @if site.links.iter().any(|link| link.rectifier != Rectifier::Bridge) {
                li { "A link without a bridge has a plus and a minus: mark them at both ends. The wrong way round, the capacitor may burst and the diode across the coil is a short." }
            }
            li { "Photograph every splice with its number before it is closed, and every trench before it is filled." }
            li { "A colour is a custom, not a law. Measure, then mark both ends." }
        }
        @if desktop {
            h3 { "Finding 12 V on a desktop-PC supply" }
            ul {
                li { "Lamps and pairs off; insulate every loose lead first. The 12 V leads can give tens of amperes: a short between two leads burns." }
                li { "Never open the case. There is mains inside whenever it is plugged in, and for minutes after." }
                li { "Plugged in and remote-on open: standby and remote-on are live, the rest is at 0. Remote-on joined to common: it runs. Measure each lead to common, one after the other:" }
            }
            (table("Leads of a desktop-PC supply", &["lead", "usual colour, to be verified with a meter", "meter shows"], &[
                vec![cell("12 V, for the lamps"), cell("yellow"), cell("11.40 to 12.60 V DC")],
                vec![cell("common"), cell("black"), cell("0 V; most supplies tie it to mains earth")],
                vec![cell("remote-on, to the contact"), cell("green"), cell("2.0 to 5.25 V DC open, below 0.8 V on")],
                vec![cell("standby"), cell("purple"), cell("4.75 to 5.25 V DC, always")],
                vec![cell("5 V"), cell("red"), cell("4.75 to 5.25 V DC; insulate, or a dummy load if the rail asks for it")],
                vec![cell("3.3 V and its sense lead"), cell("orange, and brown at the same pin"), cell("3.14 to 3.47 V DC; insulate, never a lamp on brown")],
                vec![cell("−12 V"), cell("blue"), cell("−10.8 to −13.2 V DC; insulate")],
                vec![cell("power good"), cell("grey"), cell("about 5 V DC when it runs; insulate")],
            ]))
            p .quiet { "Colours and limits: ATX12V design guides. Do not open the supply." }
        }
    }
}

fn rated(fuse: Fuse) -> String {
    match fuse {
        Fuse::NotStated => "not stated".into(),
        Fuse::None => "none".into(),
        Fuse::Rated(rated_a) => amps(rated_a),
    }
}

/// Whether a fuse does what it is there for, in words.
fn judged(fuse: Fuse, load_a: f64, carries_a: Option<f64>, short_a: Option<f64>) -> String {
    let Fuse::Rated(rating) = fuse else {
        return "fit one: see the cautions".into();
    };
    if rating < LOAD_HEADROOM * load_a {
        return "too small: it will blow in service".into();
    }
    if carries_a.is_some_and(|carries_a| rating > carries_a) {
        return "too large for the wire".into();
    }
    match short_a {
        Some(short_a) if rating > largest_blown_a(short_a) => {
            "a short at the far end may not blow it: too little flows".into()
        }
        Some(_) => "carries the load, spares the wire, sees a short at the far end".into(),
        None => "carries the load".into(),
    }
}

fn trunk_row(site: &Site, zone: ZoneId, trunk: &Trunk) -> Vec<Markup> {
    let load_a = match trunk_ends(site, zone, trunk, MainsLevel::Low) {
        TrunkEnds::Lit { supply_a, .. } => supply_a,
        TrunkEnds::BrownOut { .. } => f64::NAN,
    };
    let carries_a = trunk.cable.map(|cable| ampacity(cable.gauge).amps);
    let supply = &site[site[zone].supply];
    let short_a = trunk.cable.and_then(|cable| {
        let per_m = ohm_per_m(cable.gauge, cable.stranding, site.temperatures.wire_c).ok()?;
        let short_a = |volts, ohm| short_circuit_a(volts, 2.0 * cable.length_m * per_m, ohm);
        Some(match supply.output {
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
                short_a(no_load_v, transformer.source_ohm())
            }
            // What limits its current lets no fuse see more.
            SupplyOutput::Dc {
                voltage_v, max_a, ..
            } => short_a(voltage_v, 0.0).min(max_a.unwrap_or(f64::INFINITY)),
        })
    });
    let said = |value: Option<f64>| value.map_or_else(|| "not known".into(), amps);
    vec![
        cell(format!(
            "lamps of {}, at supply {}",
            site[zone].name, supply.name
        )),
        cell(rated(trunk.fuse)),
        cell(if load_a.is_nan() {
            "browns out".into()
        } else {
            amps(load_a)
        }),
        cell(said(carries_a)),
        cell(said(short_a)),
        cell(judged(trunk.fuse, load_a, carries_a, short_a)),
    ]
}

pub(super) fn fuses(sheet: &Sheet<'_>) -> Markup {
    let site = sheet.site;
    let mut rows: Vec<Vec<Markup>> = Vec::new();
    for (link, judgement) in site.links.iter().zip(&sheet.check.links) {
        let wants = pair_fuse(link, judgement);
        rows.push(vec![
            cell(format!(
                "pair to {}, at its tapping point on {}",
                site[link.slave].name, site[link.master].name
            )),
            cell(match (link.fuse, wants.stocked_a) {
                (Fuse::Rated(rated_a), _) => format!("{}, time-lag", amps(rated_a)),
                (other, Some(stocked_a)) => {
                    format!("{}: fit {}, time-lag", rated(other), amps(stocked_a))
                }
                (other, None) => rated(other),
            }),
            cell(amps(wants.load_a)),
            cell(wants.carries_a.map_or_else(|| "not known".into(), amps)),
            cell(amps(wants.short_a)),
            cell(judged(
                link.fuse,
                wants.load_a,
                wants.carries_a,
                Some(wants.short_a),
            )),
        ]);
    }
    for zone in site.zones_in_order() {
        let trunks = site[zone]
            .trunks
            .iter()
            .filter(|trunk| !trunk.lamps.is_empty());
        rows.extend(trunks.map(|trunk| trunk_row(site, zone, trunk)));
    }
    html! {
        p .quiet { "A fuse fits if it is at least 1.25 times the load (common practice), at most what the wire carries (NEC 240.4(D); conductor tables), and a short at the far end draws at least 2.75 times its rating (IEC 60127-2 time-lag, from memory)." }
        (table("Fuses, each at the source end of its run", &["where", "fuse", "load", "wire carries", "far-end short", "it"], &rows))
    }
}
