//! The yard at a glance: verdict, tonight, season in short.

use serde::Serialize;

use crate::cautions::{Code, Level};
use crate::check::Check;
use crate::schedule::Plan;
use crate::season::Season;
use crate::site::Site;

use super::check::{FOOTER, LeastJson, caution_text, link_says, link_verdict, summary};
use super::json;
use super::plan::{EveningJson, evenings};
use super::season::{hours, season_summary};
use super::{counted, rows_text};
use crate::text::wrap;

/// Verdict, links, warnings; tonight; the season in short.
pub fn overview_text(site: &Site, check: &Check, tonight: &Plan, season: &Season) -> String {
    let mut out = String::new();
    wrap(&mut out, "", "  ", &summary(site, check));
    for index in 0..check.links.len() {
        let link = link_says(site, check, crate::site::LinkId(index));
        let text = format!("{}; {}", link.verdict, link.least);
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

#[derive(Serialize)]
struct OverviewJson<'a> {
    site: &'a str,
    verdict: &'static str,
    summary: String,
    links: Vec<LinkJson<'a>>,
    tonight: Vec<EveningJson>,
}

#[derive(Serialize)]
struct LinkJson<'a> {
    master: &'a str,
    slave: &'a str,
    outcome: String,
    verdict: &'static str,
    least: LeastJson,
}

/// `{site, verdict, summary, links, tonight}`: a link in short is its verdict and its least margin.
pub fn overview_json(site: &Site, check: &Check, tonight: &Plan) -> String {
    let links = site.links.iter().zip(&check.links).enumerate();
    json(&OverviewJson {
        site: &site.name,
        verdict: check.verdict.name(),
        summary: summary(site, check),
        links: links
            .map(|(index, (link, judgement))| LinkJson {
                master: &site[link.master].name,
                slave: &site[link.slave].name,
                outcome: judgement.outcome().to_string(),
                verdict: link_verdict(check, crate::site::LinkId(index)).name(),
                least: LeastJson::of(&judgement.judged),
            })
            .collect(),
        tonight: evenings(site, tonight),
    })
}
