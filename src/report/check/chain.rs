//! When every zone of a chain is lit and dark, and what goes along when one fails.

use std::fmt::Write;

use crate::chain::{Chain, ChainZone, Fed};
use crate::site::{Site, ZoneId};
use crate::text::wrap;

/// Names longer than this take a line of their own.
const WIDEST_NAME: usize = 20;

/// One row for every zone with a master or a slave; nothing for a yard without links.
pub(super) fn chain_text(site: &Site, chain: &Chain, out: &mut String) {
    if chain.zones.is_empty() {
        return;
    }
    let length = |zone: &ChainZone| site[zone.zone].name.chars().count();
    let width = chain.zones.iter().map(length).max().unwrap_or(0);
    let width = width.min(WIDEST_NAME);
    out.push_str("\nchain, after the head switches\n");
    let row = |out: &mut String, name: &str, cells: [&str; 5], rest: &str| {
        let [fed, lit, lit_most, dark, dark_most] = cells;
        let cells = format!("{fed:<7}  {lit:>7} {lit_most:>7}  {dark:>7} {dark_most:>7}  ");
        let mut first = format!("  {name:<width$}  {cells}");
        if name.chars().count() > width {
            let _ = writeln!(out, "  {name}");
            first = format!("  {:<width$}  {cells}", "");
        }
        let indent = " ".repeat(first.chars().count());
        if rest.is_empty() {
            out.push_str(first.trim_end());
            out.push('\n');
        } else {
            wrap(out, &first, &indent, rest);
        }
    };
    row(
        out,
        "",
        ["", "lit", "at the", "dark", "at the"],
        "if it fails,",
    );
    row(
        out,
        "",
        ["fed by", "after", "latest", "after", "latest"],
        "dark with it",
    );
    for zone in &chain.zones {
        let (lit, dark) = (zone.lit_after, zone.dark_after);
        let mut cells = [lit.typical_s, lit.most_s, dark.typical_s, dark.most_s].map(delay);
        if lit.typical_s.is_none() {
            cells[2..].fill("-".into());
        } else if zone.master.is_none() {
            // A head's own light is where the count begins.
            cells[..2].fill(String::new());
            if dark.typical_s.is_some() {
                cells[2..].fill(String::new());
            }
        }
        let [lit, lit_most, dark, dark_most] = &cells;
        row(
            out,
            &site[zone.zone].name,
            [
                match zone.fed {
                    None if site.master_of(zone.zone).is_some() => "input",
                    None => "head",
                    Some(Fed::Ac) => "AC pair",
                    Some(Fed::Dc) => "DC pair",
                },
                lit,
                lit_most,
                dark,
                dark_most,
            ],
            &names(site, &zone.dark_with_it),
        );
    }
    let held: Vec<ZoneId> = chain
        .zones
        .iter()
        .filter(|zone| zone.lit_after.typical_s.is_some() && zone.dark_after.typical_s.is_none())
        .map(|zone| zone.zone)
        .collect();
    if !held.is_empty() {
        let text = format!("once lit, lit for ever: {}", names(site, &held));
        wrap(out, "  ", "    ", &text);
    }
    for zone in &chain.zones {
        // The zone itself stays lit; that is what a welded contact is.
        let behind: Vec<ZoneId> = zone
            .lit_if_welded
            .iter()
            .copied()
            .filter(|other| *other != zone.zone)
            .collect();
        if !behind.is_empty() {
            let text = format!(
                "if the contact of {} welds, lit for ever with it: {}",
                site[zone.zone].name,
                names(site, &behind)
            );
            wrap(out, "  ", "    ", &text);
        }
    }
}

/// `0.44 s`, or that it never comes to it.
fn delay(seconds: Option<f64>) -> String {
    seconds.map_or_else(|| "never".into(), |seconds| format!("{seconds:.2} s"))
}

fn names(site: &Site, zones: &[ZoneId]) -> String {
    let names: Vec<&str> = zones.iter().map(|zone| site[*zone].name.as_str()).collect();
    names.join(", ")
}
