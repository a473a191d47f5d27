//! The yard at a glance: verdict, tonight, season in short.

use crate::cautions::{Code, Level};
use crate::check::Check;
use crate::schedule::Plan;
use crate::season::Season;
use crate::site::Site;

use super::check::{FOOTER, caution_text, link_says, summary};
use super::season::{hours, season_summary};
use super::{counted, rows_text};
use crate::text::wrap;

/// Verdict, links, warnings; tonight; the season in short.
pub fn overview_text(site: &Site, check: &Check, tonight: &Plan, season: &Season) -> String {
    let mut out = String::new();
    wrap(&mut out, "", "  ", &summary(site, check));
    for index in 0..check.links.len() {
        let link = link_says(site, check, crate::site::LinkId(index));
        let text = format!("{}; weakest {}", link.verdict, link.weakest);
        wrap(&mut out, &format!("  {}  ", link.name), "    ", &text);
    }
    for caution in check
        .cautions
        .iter()
        // Notes that may mean a slip of the hand are worth a line even at a glance.
        .filter(|caution| {
            caution.level != Level::Note || matches!(caution.code, Code::S41 | Code::S49)
        })
    {
        caution_text(site, caution, &mut out);
    }
    out.push('\n');
    out.push_str(&rows_text(site, tonight));
    out.push('\n');
    wrap(&mut out, "", "  ", &season_summary(site, season));
    for (zone, sum) in site.zones.iter().zip(&season.zones) {
        let dark: u32 = sum.nights_dark.values().sum();
        let text = format!(
            "lit {}, {:.0} h; longest {}, shortest {}; dark {}",
            counted(sum.nights_lit, "night"),
            sum.lit_s / 3600.0,
            sum.longest
                .map_or_else(|| "none".into(), |(_, lit_s)| hours(lit_s)),
            sum.shortest
                .map_or_else(|| "none".into(), |(_, lit_s)| hours(lit_s)),
            counted(dark, "night")
        );
        wrap(&mut out, &format!("  {}  ", zone.name), "    ", &text);
    }
    out.push('\n');
    wrap(&mut out, "", "", FOOTER);
    out
}
