//! For the person who builds it: diagram, parts, wiring, fuses.

use maud::{Markup, html};

use crate::cautions::fuse_caution;
use crate::circuit::rectifier::Rectifier;
use crate::circuit::wire::ampacity;
use crate::fuse_size::{RunFuse, pair_fuse, resistor_in_short, trunk_fuse};
use crate::lamp_run::which_trunk;
use crate::parts::{Amount, Part};
use crate::picture::yard::yard_svg;
use crate::site::{Cable, Fuse, Laid, LinkId, Region, RunLabels, Site, SupplyKind, Trunk, ZoneId};
use crate::text::{amps, fuse_fit, length, wire_carries};

use super::{Sheet, blank, cell, table};

pub(super) fn diagram(sheet: &Sheet<'_>) -> Markup {
    yard_svg(sheet.site).inline("yard")
}

fn amount(amount: Amount) -> String {
    match amount {
        Amount::Pieces(count) => count.to_string(),
        Amount::Metres(metres) => length(metres),
    }
}

/// Lengths that are named one by one.
const NAMED_RUNS: usize = 8;

/// How much, and of wire how long its pieces are.
fn to_buy(part: &Part) -> String {
    let whole = amount(part.to_buy());
    let missing = part.runs.iter().filter(|run| !run.from_shelf);
    let pieces: Vec<String> = missing
        .map(|run| format!("{:.1} m", run.length_m))
        .collect();
    match pieces.len() {
        0 | 1 => whole,
        many if many <= NAMED_RUNS => format!("{whole}: {}", pieces.join(" + ")),
        many => format!("{whole}, {many} runs"),
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
                to_buy(part)
            }),
            cell(if part.spares == 0 {
                "none".into()
            } else {
                part.spares.to_string()
            }),
            cell(&part.note),
        ]
    };
    let rows: Vec<Vec<Markup>> = missing.iter().chain(&covered).map(row).collect();
    html! {
        p { (missing.len()) " of " (sheet.parts.len()) " kinds of parts are to be bought. Besides them: boxes, glands, terminals, cable ties, and what the licensed person brings for the mains." }
        (table("Parts", &["part", "needed", "in the drawer", "to buy", "spares besides", "remarks"], &rows))
        @if sheet.site.shelf.is_empty() {
            p .quiet { "The site file lists no " code { "[[shelf]]" } ": everything counts as missing." }
        }
    }
}

/// `22 AWG, 73.2 m (240 ft) one way`.
fn run(cable: &Cable) -> String {
    format!(
        "{}, {} one way, {} there and back",
        cable.gauge,
        length(cable.length_m),
        length(2.0 * cable.length_m)
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

/// Every trunk with its zone and with the label on its ends, if it has a cable.
fn trunks(site: &Site) -> Vec<(Option<String>, ZoneId, &Trunk)> {
    let labels = &RunLabels::of(site);
    let zones = site.zones_in_order().into_iter();
    zones
        .flat_map(move |zone| {
            let trunks = labels.trunks(site, zone);
            trunks.map(move |(label, trunk)| (label.map(str::to_owned), zone, trunk))
        })
        .collect()
}

/// `lamps of pond, trunk 2 of 3`.
fn lamps_of(site: &Site, zone: ZoneId, trunk: &Trunk) -> String {
    let name = &site[zone].name;
    match which_trunk(site, zone, trunk) {
        Some(which) => format!("lamps of {name}, {which}"),
        None => format!("lamps of {name}"),
    }
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
            label: RunLabels::pair(LinkId(index)),
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
    for (label, zone, trunk) in trunks(site) {
        let (Some(label), Some(cable)) = (label, &trunk.cable) else {
            continue;
        };
        let lamps = trunk.distances_m.len();
        runs.push(Run {
            from_to: format!(
                "{}, {lamps} lamp{} from supply {}",
                lamps_of(site, zone, trunk),
                if lamps == 1 { "" } else { "s" },
                site[site[zone].supply].name
            ),
            wire: run(cable),
            splices: match lamps {
                0 => "none planned".into(),
                1 => format!("at the lamp, {label}-L1"),
                _ => format!("a tap at every lamp, {label}-L1 to {label}-L{lamps}"),
            },
            laid: trunk.laid.clone(),
            label,
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

fn fuse_row(label: Option<String>, place: String, fuse: String, run: &RunFuse) -> [Markup; 7] {
    let known = |value: Option<f64>| value.map_or_else(|| "not known".into(), amps);
    [
        cell(label.unwrap_or_else(|| "no cable".into())),
        cell(place),
        cell(fuse),
        cell(run.load_a.map_or_else(|| "browns out".into(), amps)),
        cell(known(run.carries_a())),
        cell(known(run.short_a)),
        cell(match fuse_caution(run) {
            Some((code, level)) => format!("{} {code}: {}", level.name(), fuse_fit(run)),
            None => fuse_fit(run),
        }),
    ]
}

/// `What wire carries: 22 AWG 2 A (common practice); 14 AWG 15 A (NEC 240.4(D), from memory).` Nothing where no
/// wire is stated.
fn ampacity_sources(site: &Site) -> Option<String> {
    let pairs = site.links.iter().map(|link| link.cable);
    let trunks = site.zones.iter().flat_map(|zone| &zone.trunks);
    let mut said: Vec<String> = Vec::new();
    for cable in pairs.chain(trunks.map(|trunk| trunk.cable)).flatten() {
        let carries = ampacity(cable.gauge);
        let size = format!("{} {}", cable.gauge, wire_carries(carries));
        if !said.contains(&size) {
            said.push(size);
        }
    }
    (!said.is_empty()).then(|| format!("What wire carries: {}.", said.join("; ")))
}

pub(super) fn fuses(sheet: &Sheet<'_>) -> Markup {
    let site = sheet.site;
    let pairs = site.links.iter().zip(&sheet.check.links).enumerate();
    let pairs = pairs.map(|(index, (link, judgement))| {
        let time_lag = if matches!(link.fuse, Fuse::Rated(_)) {
            ", time-lag"
        } else {
            ""
        };
        let mut row = fuse_row(
            Some(RunLabels::pair(LinkId(index))),
            format!(
                "pair to {}, at its tapping point on {}",
                site[link.slave].name, site[link.master].name
            ),
            format!("{}{time_lag}", rated(link.fuse)),
            &pair_fuse(link, judgement),
        );
        if let (Some(_), Fuse::Rated(_)) = (resistor_in_short(link, judgement), link.fuse) {
            let pair_a = amps(judgement.coil_short_a.least);
            row[6] =
                html! { (row[6]) "; not one at the coil, " (pair_a) " behind the resistor (S48)" };
        }
        row
    });
    let trunks = trunks(site).into_iter().map(|(label, zone, trunk)| {
        fuse_row(
            label,
            format!(
                "{}, at supply {}",
                lamps_of(site, zone, trunk),
                site[site[zone].supply].name
            ),
            rated(trunk.fuse),
            &trunk_fuse(site, zone, trunk),
        )
    });
    let rows: Vec<Vec<Markup>> = pairs.chain(trunks).map(Vec::from).collect();
    html! {
        p .quiet { "A fuse fits if it is at least 1.25 times the load (common practice), at most what the wire carries, and a short at the far end draws at least 2.75 times its rating (IEC 60127-2 time-lag, from memory). Runs are those of the wiring schedule." }
        @if let Some(said) = ampacity_sources(site) { p .quiet { (said) } }
        (table("Fuses, each at the source end of its run", &["run", "where", "fuse", "load", "wire carries", "far-end short", "what it does"], &rows))
    }
}
