//! For the person who asks why: what every link gets and needs, how it switches, what its faults show; the lamps.
//!
//! Not every link has its own waveforms: in a yard of 256 zones they were a third of 11 MB, and hundreds of
//! pages of the same picture. Links that differ in their pair alone share those of the one with the least
//! margin. Ladder and faults each has its own, because people measure by them.

use maud::{Markup, html};

use crate::commissioning::{Symptoms, unsure};
use crate::picture::chain::chain_svg;
use crate::picture::ladder::ladder_svg;
use crate::picture::lamps::lamps_svg;
use crate::report::link_says;
use crate::site::{LinkId, SupplyKind};

use super::{LinkPages, Sheet, Waveforms, cell, table};

fn row(symptoms: &Symptoms) -> Vec<Markup> {
    let volts = |volts: f64| cell(crate::text::volts(volts));
    vec![
        cell(symptoms.fault.to_string()),
        volts(symptoms.pair_v),
        volts(symptoms.coil_v),
        volts(symptoms.coil_ac_v),
        cell(symptoms.seen.to_string()),
    ]
}

fn footnote(sheet: &Sheet<'_>, id: LinkId, symptoms: &[Symptoms]) -> Markup {
    let site = sheet.site;
    let supply_v = symptoms.first().map_or(0.0, |healthy| healthy.supply_v);
    let desktop = site[site[site[id].slave].supply].kind == SupplyKind::DesktopPc;
    html! {
        p .quiet {
            "By simulation, on an ordinary evening, with " (crate::text::volts(supply_v))
            " V at the supply."
            @if let Some(why) = unsure(site, site[site[id].master].supply) { b { " None of it is sure: " (why) "." } }
            " Also: a contact that does not make (TP4 in kilohms, fails in dry weather), a welded contact (never off)"
            @if desktop { ", a broken remote-on lead (TP5 always at 5 V), a supply that has shut itself down (TP9 right, TP6 at 0)" }
            @else { ", a broken lead to the enable input (TP5 always as when dark), a supply that has shut itself down (TP5 right, TP6 at 0)" }
            "."
        }
    }
}

pub(super) fn links(sheet: &Sheet<'_>) -> Markup {
    let (site, check) = (sheet.site, sheet.check);
    html! {
        @for (index, pages) in sheet.links.iter().enumerate() {
            @let id = LinkId(index);
            @let link = link_says(site, check, id);
            @let on_pair = if site[site[site[id].master].supply].is_ac() { "TP2, V AC" } else { "TP2, V DC" };
            @let drawn = matches!(pages, LinkPages::Own { waveforms: Waveforms::Own(_), .. });
            div .link .waves[drawn] {
                h3 id={ "link" (index) } { (link.name) }
                p { (link.verdict) "; " (link.least) "." }
                @match pages {
                    LinkPages::As(other) => p { "Built as " (site.link_name(&site[*other])) " is: its pictures and its faults are the same." },
                    LinkPages::Own { waveforms, symptoms } => {
                        (ladder_svg(site, &[(id, &check.links[index])]).inline(&format!("ladder{index}")))
                        @let rows: Vec<Vec<Markup>> = symptoms.iter().map(row).collect();
                        (table(&format!("Faults of {}, and how they show", link.name), &["fault", on_pair, "TP3, V DC", "TP3, V AC", "what the owner sees"], &rows))
                        (footnote(sheet, id, symptoms))
                        @match waveforms {
                            Waveforms::Own(picture) => div .wave { (picture.inline(&format!("wave{index}"))) },
                            Waveforms::Of(other) => p {
                                "How it switches: as " a href={ "#link" (other.0) } { (site.link_name(&site[*other])) } " does, which has the same parts and less margin."
                            },
                        }
                    }
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
