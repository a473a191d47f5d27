//! The verdict on a yard: links, chains, lamps, cautions.

use std::fmt::Write;

use crate::cautions::{Caution, Level, Place, reason_text, verdict};
use crate::check::Check;
use crate::lamp_run::{TrunkEnds, trunk_ends};
use crate::link::{HOTTEST_BOX_C, LinkJudgement, MainsLevel, Outcome, TemperatureLimit, Verdict};
use crate::site::{Cable, Link, LinkId, Site, Switching, ZoneId};

use super::link::builds_said;
use super::supply_level;
use crate::text::{ONLY_ORDINARILY, dusk, in_hand_text, least_text, outcome_text, restart, wrap};

use super::explain::explain_text;
use crate::text::{amps, celsius, length, volts};

mod chain;
mod document;

pub use document::check_json;
pub(super) use document::{LeastJson, LinkJson, link_json};

/// What every report ends with.
pub(crate) const FOOTER: &str = "This is an aid to calculation for extra-low-voltage wiring. It is not a design approval. Local code and licensed people decide; mains wiring, outlets and anything at water are theirs.";

/// The verdict first, then links, chains, lamps, cautions; on request every formula; and the footer.
pub fn check_text(site: &Site, check: &Check, explain: bool) -> String {
    let mut out = String::new();
    wrap(&mut out, "", "  ", &summary(site, check));
    for (index, judgement) in check.links.iter().enumerate() {
        out.push('\n');
        link_text(site, LinkId(index), judgement, check, &mut out);
    }
    chain::chain_text(site, &check.chain, &mut out);
    lamps_text(site, &mut out);
    if !check.cautions.is_empty() {
        out.push_str("\ncautions and notes, worst first\n");
    }
    for caution in &check.cautions {
        caution_text(site, caution, &mut out);
    }
    if explain {
        out.push_str(&explain_text(site, check));
    }
    out.push('\n');
    wrap(&mut out, "", "", FOOTER);
    out
}

/// `NO-GO  Estancia: corral stays dark (1 stop, 2 warnings); 2 of 3 slaves follow`.
pub(crate) fn summary(site: &Site, check: &Check) -> String {
    let lit = lit(site, check);
    let mut parts = vec![slaves_text(site, check, &lit)];
    for (index, judgement) in check.links.iter().enumerate() {
        let slave = &site[site[LinkId(index)].slave].name;
        if judgement.outcome() != Outcome::Follows && check.links.len() > 1 {
            parts.push(format!("{slave} {}", judgement.outcome()));
        } else if judgement.outcome() == Outcome::Follows && !lit[index] {
            let how = if held(site, check, index) {
                "lit"
            } else {
                "dark"
            };
            parts.push(format!("{slave} is {how} with it"));
        }
    }
    let counts = counts_text(check);
    match check
        .cautions
        .first()
        .filter(|_| check.verdict != Verdict::Go)
    {
        Some(first) => parts.insert(0, format!("{} ({counts})", reason_text(site, first))),
        None => parts.push(counts),
    }
    format!("{}  {}: {}", check.verdict, site.name, parts.join("; "))
}

/// `1 stop, 2 warnings`.
fn counts_text(check: &Check) -> String {
    let count = |level| check.cautions.iter().filter(|it| it.level == level).count();
    let counted: Vec<String> = [(Level::Stop, "stop"), (Level::Warn, "warning")]
        .into_iter()
        .map(|(level, name)| (count(level), name))
        .filter(|(count, _)| *count > 0)
        .map(|(count, name)| format!("{count} {name}{}", plural(count)))
        .collect();
    if counted.is_empty() {
        "no warnings".into()
    } else {
        counted.join(", ")
    }
}

/// `fence follows front`, `2 of 3 slaves follow`.
fn slaves_text(site: &Site, check: &Check, lit: &[bool]) -> String {
    let follow = lit.iter().filter(|lit| **lit).count();
    let sensing = site
        .zones
        .iter()
        .filter(|zone| matches!(zone.switching, Switching::Senses(_)))
        .count();
    let sensed = match sensing {
        0 => "no links".into(),
        1 => "1 zone follows an input".into(),
        many => format!("{many} zones follow an input"),
    };
    let mut slaves = match (site.links.as_slice(), check.links.as_slice()) {
        ([link], [judgement]) => format!(
            "{} {} {}",
            site[link.slave].name,
            match judgement.outcome() {
                Outcome::Follows => "follows",
                _ => "does not follow",
            },
            site[link.master].name
        ),
        ([], _) => sensed.clone(),
        (all, _) => format!("{follow} of {} slaves follow", all.len()),
    };
    if !check.links.is_empty() && sensing > 0 {
        let _ = write!(slaves, ", {sensed}");
    }
    if check.links.iter().any(|link| link.judged.only_ordinarily()) {
        slaves.push_str(ONLY_ORDINARILY);
    }
    slaves
}

/// For every link: whether its slave goes on and off with the head of its chain where all is
/// ordinary.
fn lit(site: &Site, check: &Check) -> Vec<bool> {
    let mut lit: Vec<bool> = Vec::with_capacity(check.links.len());
    for (index, judgement) in check.links.iter().enumerate() {
        // Links stand after the one that feeds their master.
        let above = link_above(site, index).is_none_or(|at| lit[at]);
        lit.push(above && judgement.outcome() == Outcome::Follows);
    }
    lit
}

/// The nearest link up the chain of a link, past zones that follow an input.
fn link_above(site: &Site, index: usize) -> Option<usize> {
    let mut zone = site[LinkId(index)].master;
    loop {
        match site[zone].switching {
            Switching::Timed(_) => return None,
            Switching::Follows(link) => return Some(link.0),
            Switching::Senses(sensing) => zone = sensing.master,
        }
    }
}

/// Whether a relay further up the chain of a link, one that pulls in, does not let go.
fn held(site: &Site, check: &Check, index: usize) -> bool {
    let Some(above) = link_above(site, index) else {
        return false;
    };
    match check.links[above].outcome() {
        Outcome::StaysLit => true,
        Outcome::StaysDark | Outcome::Chatters => false,
        Outcome::Follows => held(site, check, above),
    }
}

fn plural(count: usize) -> &'static str {
    if count == 1 { "" } else { "s" }
}

/// The verdict on one link: that of its own cautions.
pub(super) fn link_verdict(check: &Check, id: LinkId) -> Verdict {
    verdict(
        check
            .cautions
            .iter()
            .filter(|caution| caution.place == Place::Link(id)),
    )
}

/// A link in short.
pub(crate) struct LinkSays {
    /// `master > slave`.
    pub(crate) name: String,
    /// Its verdict.
    pub(crate) verdict: Verdict,
    /// Its least margin, with the case.
    pub(crate) least: String,
}

/// A link in short.
pub(crate) fn link_says(site: &Site, check: &Check, id: LinkId) -> LinkSays {
    let link = &site[id];
    LinkSays {
        name: site.link_name(link),
        verdict: link_verdict(check, id),
        least: least_text(link, &check.links[id.0].judged),
    }
}

fn link_text(site: &Site, id: LinkId, judgement: &LinkJudgement, check: &Check, out: &mut String) {
    let link = &site[id];
    let ordinary = judgement.ordinary();
    let line = format!(
        "{}  {}, {}: dusk {}, restart {}",
        site.link_name(link),
        link_verdict(check, id),
        outcome_text(&judgement.judged),
        dusk(ordinary),
        restart(ordinary)
    );
    wrap(out, "", "  ", &line);
    let mut detail =
        |label: &str, text: &str| wrap(out, &format!("  {label:9}"), "           ", text);
    detail(
        "least",
        &format!(
            "{}; {}",
            in_hand_text(link, &judgement.judged),
            judgement.weakest
        ),
    );
    detail(
        "coil",
        &format!(
            "{:.1} V, pulls in at {:.1} V (box {}); warm {}: {:.1} V, pulls in at {:.1} V; highest {:.1} V, limit {} V",
            ordinary.dusk.coil_v,
            ordinary.operate_v,
            celsius(ordinary.case.box_c),
            celsius(ordinary.warm.coil_c),
            ordinary.warm.coil_v,
            ordinary.operate_warm_v,
            judgement.judged.highest.highest_v(),
            volts(link.relay.max_coil_v)
        ),
    );
    let times = match (judgement.times.drop_out, judgement.outcome()) {
        (_, Outcome::StaysDark) if ordinary.hovers() => {
            "hovers: would stay in if in, stays out if out".into()
        }
        (Some(band), Outcome::Follows) => format!(
            "{:.2} s typical, {:.2} to {:.2} s over parts, mains and box",
            band.typical_s, band.least_s, band.most_s
        ),
        (_, Outcome::StaysDark) => "not surely in".into(),
        _ => "not surely out".into(),
    };
    detail(
        "release",
        &format!(
            "{times}; {:.2} V stays on the coil, lets go below {:.2} V",
            ordinary.residual_v, ordinary.release_v
        ),
    );
    detail("builds", &builds_said(&judgement.builds));
    let delay = match (judgement.on_delay_s, judgement.times.pull_in) {
        (None, _) => "never surely on".into(),
        (Some(delay_s), None) => format!("lit {delay_s:.2} s after its master, not surely"),
        (Some(delay_s), Some(_)) => format!("lit {delay_s:.2} s after its master"),
    };
    detail(
        "pair",
        &format!(
            "{}; {:.2} ohm{}, {} if shorted; {delay}",
            route(link),
            ordinary.loop_ohm - link.series_ohm,
            if link.series_ohm > 0.0 {
                format!(" and {} ohm in series", volts(link.series_ohm))
            } else {
                String::new()
            },
            amps(judgement.sagging_short_a)
        ),
    );
    if let Some(said) = limits(site, link, judgement) {
        detail("heat", &said);
    }
}

/// One-way and loop length in both unit systems, so that a doubled length is seen.
fn route(link: &Link) -> String {
    match link.cable {
        _ if link.measured_loop_ohm.is_some() => "loop measured".into(),
        None => String::new(),
        Some(Cable {
            gauge, length_m, ..
        }) => format!(
            "{gauge}, {} one way, {} loop",
            length(length_m),
            length(2.0 * length_m)
        ),
    }
}

/// Box temperatures at which margins end, where they lie within what gardens see.
fn limits(site: &Site, link: &Link, judgement: &LinkJudgement) -> Option<String> {
    const GARDEN_C: f64 = 75.0;
    let limits = &judgement.limits;
    let any = [
        limits.dusk_nominal,
        limits.dusk_low,
        limits.restart_nominal,
        limits.restart_low,
    ];
    let always = |limit: &TemperatureLimit| limit.up_to_c().is_some_and(|at| at >= GARDEN_C);
    if any.iter().all(always) || any.iter().all(|limit| limit.up_to_c().is_none()) {
        return None;
    }
    let say = |limit: TemperatureLimit| match limit {
        TemperatureLimit::AtNone => "at none".into(),
        _ if always(&limit) => format!("above {}", celsius(GARDEN_C)),
        TemperatureLimit::UpTo(at) => celsius(at),
        TemperatureLimit::NotKnownAbove(at) => format!("{}, not known above it", celsius(at)),
        TemperatureLimit::AtAll => celsius(HOTTEST_BOX_C),
    };
    let level = |level| supply_level(site, link.master, level);
    let (nominal, low) = (level(MainsLevel::Nominal), level(MainsLevel::Low));
    Some(format!(
        "pulls in up to these box temperatures: at dusk {} ({nominal}), {} ({low}); on a hot restart {} ({nominal}), {} ({low})",
        say(limits.dusk_nominal),
        say(limits.dusk_low),
        say(limits.restart_nominal),
        say(limits.restart_low)
    ))
}

fn lamps_text(site: &Site, out: &mut String) {
    let mut heading = "\nlamps\n";
    for (index, zone) in site.zones.iter().enumerate() {
        let id = ZoneId(index);
        let kind = if site[zone.supply].is_ac() {
            "V AC"
        } else {
            "V DC"
        };
        for trunk in zone.trunks.iter().filter(|trunk| !trunk.lamps.is_empty()) {
            out.push_str(std::mem::take(&mut heading));
            let count = trunk.distances_m.len();
            let cable = trunk.cable.map_or_else(
                || "no cable stated".into(),
                |cable| format!("{} {}", cable.gauge, length(cable.length_m)),
            );
            let say = |level| match trunk_ends(site, id, trunk, level) {
                TrunkEnds::Lit { lamp_v, supply_a } => match lamp_v.as_slice() {
                    [first, .., last] if trunk.cable.is_some() => {
                        format!("{first:.2} to {last:.2} {kind}, {supply_a:.1} A")
                    }
                    [first, ..] => format!("{first:.2} {kind}, {supply_a:.1} A"),
                    [] => String::new(),
                },
                TrunkEnds::BrownOut { margin } => {
                    format!("browns out, carries {:.0} % of them", margin * 100.0)
                }
            };
            let lamps = match (count, trunk.cable) {
                (1, _) => "the lamp",
                (_, Some(_)) => "first to last lamp",
                (_, None) => "each",
            };
            let text = format!(
                "{count} lamp{}, {cable}: {lamps} {}; at {}: {}",
                plural(count),
                say(MainsLevel::Nominal),
                supply_level(site, id, MainsLevel::Low),
                say(MainsLevel::Low)
            );
            wrap(out, &format!("{}  ", zone.name), "  ", &text);
        }
    }
}

pub(super) fn caution_text(site: &Site, caution: &Caution, out: &mut String) {
    let first = format!("{} {}  ", caution.level.name(), caution.code);
    wrap(
        out,
        &first,
        "           ",
        &format!("{}: {}", caution.place.say(site), caution.text),
    );
}
