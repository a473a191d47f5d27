//! Verdict and cautions; limits.

use maud::{Markup, html};

use crate::cautions::Level;
use crate::report::{self, link_says};
use crate::site::{LinkId, SupplyKind};

use super::{Sheet, form};

/// The answer in one line.
pub(super) fn verdict(sheet: &Sheet<'_>) -> String {
    report::summary(sheet.site, sheet.check)
}

/// What each link does, and what could hurt.
pub(super) fn summary(sheet: &Sheet<'_>) -> Markup {
    let (site, check) = (sheet.site, sheet.check);
    let of = |level: Level| {
        check
            .cautions
            .iter()
            .filter(move |caution| caution.level == level)
    };
    let levels = [
        (Level::Stop, "Stop", "stop"),
        (Level::Warn, "Warnings", "warn"),
        (Level::Note, "Notes", "note"),
    ];
    html! {
        @if check.links.is_empty() { p { "No links in this yard." } }
        @else {
            ul .links {
                @for index in 0..check.links.len() {
                    @let link = link_says(site, check, LinkId(index));
                    li { b { (link.name) } ": " (link.verdict) "; " (link.least) }
                }
            }
        }
        @if check.cautions.is_empty() { p { "No cautions from what the site file states." } }
        @for (level, title, class) in levels {
            @if of(level).next().is_some() {
                h3 { (title) }
                ul class={ "cautions " (class) } {
                    @for caution in of(level) {
                        li { b { (level.name()) " " (caution.code) " " (caution.place.say(site)) } ": " (caution.text) "." }
                    }
                }
            }
        }
    }
}

/// What this sheet does not know.
pub(super) fn limits(sheet: &Sheet<'_>) -> Markup {
    let site = sheet.site;
    let desktop = site
        .supplies
        .iter()
        .any(|supply| supply.kind == SupplyKind::DesktopPc);
    html! {
        ul {
            li { "Mains wiring, outlets and their protection are for a licensed person under local rules; nothing here designs them." }
            li { "Nothing within 3 m (10 ft) of a pool, spa, fountain or pond, in it, or on a jetty was looked at: that is for a licensed designer and listed equipment." }
            li { "Colours, terminals and pins are never taken from this sheet: find them with a meter, then connect." }
            @if desktop {
                li { "A desktop-PC supply is an indoor appliance, is not listed for lighting, and its minus is tied to mains earth unless measured otherwise. Do not open it, and ask whoever inspects or insures." }
            }
            li { "This is not emergency lighting: no stair and no way out may depend on it." }
            li { "Simulated are magnetic transformers and direct supplies, copper pairs, and parts as their sheets give them. Not simulated, and covered by no margin: electronic transformers (do not tap one), lightning (fit surge parts at both ends of long pairs where thunder is common), water in a splice, a mains far from a sine." }
        }
        @if !site.assumed.is_empty() {
            h3 { "Not stated in the site file, and taken as usual" }
            ul .assumed { @for assumed in &site.assumed { li { (assumed) } } }
        }
        (form("Mains side, by a licensed person; no, or not known, is a reason to wait", &[
            "Every outlet behind a 30 mA RCD or GFCI: yes or no, tested on",
            "Outdoor outlets with a cover that closes over the plug: yes or no",
            "No extension lead for good, cords rated for outdoors, drip loop, plug off the ground: yes or no",
            "Mains and low voltage in boxes, glands and ducts of their own: yes or no",
            "By, registration, on",
        ]))
        (form("Who built it", &["Built by, on", "Notes"]))
    }
}
