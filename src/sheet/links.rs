//! For whoever asks why: what every link gets and needs, how it switches, what its faults show; the lamps.

use maud::{Markup, html};

use crate::commissioning::{Meter, Symptoms};
use crate::picture::chain::chain_svg;
use crate::picture::ladder::ladder_svg;
use crate::picture::lamps::lamps_svg;
use crate::report::link_says;
use crate::site::LinkId;

use super::commission::value;
use super::{Sheet, cell, table};

fn row(symptoms: &Symptoms) -> Vec<Markup> {
    let volts = |volts: f64| cell(value(volts, Meter::DcVolts));
    vec![
        cell(symptoms.fault.to_string()),
        volts(symptoms.pair_v),
        volts(symptoms.coil_v),
        volts(symptoms.coil_ac_v),
        cell(symptoms.seen.to_string()),
    ]
}

pub(super) fn links(sheet: &Sheet<'_>) -> Markup {
    let (site, check) = (sheet.site, sheet.check);
    html! {
        @for (index, pages) in sheet.links.iter().enumerate() {
            @let id = LinkId(index);
            @let (name, says) = link_says(site, check, id);
            @let on_pair = if site[site[site[id].master].supply].is_ac() { "TP2, V AC" } else { "TP2, V DC" };
            div .link {
                h3 { (name) }
                p { (says) }
                (ladder_svg(site, &[(id, &check.links[index])]).inline(&format!("ladder{index}")))
                (pages.waveform.inline(&format!("wave{index}")))
                @let rows: Vec<Vec<Markup>> = pages.symptoms.iter().map(row).collect();
                (table(&format!("Faults of {name}, and how they show"), &["fault", on_pair, "TP3, V DC", "TP3, V AC", "what the owner sees"], &rows))
                p .quiet {
                    "By simulation, on an ordinary evening, with " (value(pages.symptoms.first().map_or(0.0, |healthy| healthy.supply_v), Meter::AcVolts))
                    " V at the supply. Also: a film on the contact (TP4 in kilohms, fails in dry weather), a welded contact (never off), a broken remote-on lead (TP5 always at 5 V), a supply latched off (TP9 right, TP6 at 0)."
                }
            }
        }
        @if !site.links.is_empty() {
            h3 { "Who is lit when" }
            (chain_svg(site, &check.chain).inline("chain"))
        }
        h3 { "Volts at the lamps" }
        (lamps_svg(site).inline("lamps"))
    }
}
