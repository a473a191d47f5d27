//! The verdict on a yard: links, lamps, cautions.

use std::fmt::Write;

use serde::Serialize;

use crate::cautions::{Caution, Place, TrunkEnds, trunk_ends, verdict};
use crate::chain::{BoxTemperature, LinkJudgement, MainsLevel, Outcome, PaperCase, Verdict};
use crate::check::Check;
use crate::site::{Cable, Link, LinkId, Site, ZoneId};

use super::explain::explain_text;
use super::wrap::wrap;
use super::{celsius, json, signed};

/// What every report ends with.
pub(super) const FOOTER: &str = "This is an aid to calculation for extra-low-voltage wiring. It is not a design approval. Local code and licensed people decide; mains wiring, outlets and anything at water are theirs.";

/// Feet in a metre (exact: 1 ft = 0.3048 m).
const FT_PER_M: f64 = 1.0 / 0.3048;

/// The verdict first, then links, lamps, cautions; on request every formula; and the footer.
pub fn check_text(site: &Site, check: &Check, explain: bool) -> String {
    let mut out = String::new();
    wrap(&mut out, "", "  ", &summary(site, check));
    for (index, judgement) in check.links.iter().enumerate() {
        out.push('\n');
        link_text(site, LinkId(index), judgement, check, &mut out);
    }
    lamps_text(site, &mut out);
    if !check.cautions.is_empty() {
        out.push_str("\ncautions, worst first\n");
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

/// `NO-GO  Estancia: 2 of 3 slaves follow; corral > tranquera stays dark`.
pub(super) fn summary(site: &Site, check: &Check) -> String {
    let follow = check
        .links
        .iter()
        .filter(|link| link.outcome() == Outcome::Follows)
        .count();
    let slaves = match check.links.len() {
        0 => "no links".into(),
        1 if follow == 1 => "the slave follows its master".into(),
        all => format!("{follow} of {all} slaves follow"),
    };
    let mut said = format!("{}  {}: {slaves}", check.verdict, site.name);
    for (index, judgement) in check.links.iter().enumerate() {
        if judgement.outcome() != Outcome::Follows {
            let link = &site[LinkId(index)];
            let _ = write!(said, "; {} {}", site[link.slave].name, judgement.outcome());
        }
    }
    let count = |level| {
        check
            .cautions
            .iter()
            .filter(|caution| caution.level == level)
            .count()
    };
    let (stops, warnings) = (
        count(crate::cautions::Level::Stop),
        count(crate::cautions::Level::Warn),
    );
    let _ = match (stops, warnings) {
        (0, 0) => write!(said, "; no warnings"),
        (0, warnings) => write!(said, "; {warnings} warning{}", plural(warnings)),
        (stops, warnings) => {
            write!(
                said,
                "; {stops} stop{}, {warnings} warning{}",
                plural(stops),
                plural(warnings)
            )
        }
    };
    said
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

/// `+5.9 V (+67 %)`.
fn margin(coil_v: f64, operate_v: f64, margin: f64) -> String {
    format!(
        "{} V ({} %)",
        signed(coil_v - operate_v, 1),
        signed(margin * 100.0, 0)
    )
}

fn dusk(case: &PaperCase) -> String {
    margin(case.dusk.coil_v, case.operate_v, case.margin_dusk)
}

fn restart(case: &PaperCase) -> String {
    margin(case.warm.coil_v, case.operate_warm_v, case.margin_restart)
}

/// The case with the least margin, in words.
pub(super) fn weakest(site: &Site, link: &Link, judgement: &LinkJudgement) -> String {
    let (what, case, margin) =
        if judgement.worst_restart.margin_restart < judgement.worst_dusk.margin_dusk {
            (
                "hot restart",
                &judgement.worst_restart,
                restart(&judgement.worst_restart),
            )
        } else {
            ("dusk", &judgement.worst_dusk, dusk(&judgement.worst_dusk))
        };
    format!(
        "{margin} at {what}, {}, parts at their worst",
        crate::cautions::said(site, link, case)
    )
}

fn link_text(site: &Site, id: LinkId, judgement: &LinkJudgement, check: &Check, out: &mut String) {
    let link = &site[id];
    let ordinary = &judgement.ordinary;
    let line = format!(
        "{}  {}, {}: dusk {}, restart {}",
        site.link_name(link),
        link_verdict(check, id),
        judgement.outcome(),
        dusk(ordinary),
        restart(ordinary)
    );
    wrap(out, "", "  ", &line);
    let mut detail =
        |label: &str, text: &str| wrap(out, &format!("  {label:9}"), "           ", text);
    detail(
        "weakest",
        &format!("{}; {}", weakest(site, link, judgement), judgement.weakest),
    );
    detail(
        "coil",
        &format!(
            "{:.1} V, pulls in at {:.1} V (box {}); warm {}: {:.1} V, pulls in at {:.1} V; at most {:.1} V of {:.1} V",
            ordinary.dusk.coil_v,
            ordinary.operate_v,
            celsius(ordinary.case.box_c),
            celsius(ordinary.warm.coil_c),
            ordinary.warm.coil_v,
            ordinary.operate_warm_v,
            judgement
                .highest
                .dusk
                .coil_v
                .max(judgement.highest.warm.coil_v),
            link.relay.max_coil_v
        ),
    );
    detail(
        "release",
        &format!(
            "{:.2} s typical, {:.2} s at the latest; {:.2} V stays on the coil, lets go below {:.2} V",
            judgement.release_s.typical_s,
            judgement.release_s.latest_s,
            ordinary.residual_v,
            ordinary.release_v
        ),
    );
    let delay = judgement.on_delay_s.map_or_else(
        || "never on".into(),
        |delay_s| format!("lit {delay_s:.2} s after its master"),
    );
    detail(
        "pair",
        &format!(
            "{}; {:.2} ohm, {:.1} A if shorted; {delay}",
            route(link),
            ordinary.loop_ohm,
            judgement.short_a
        ),
    );
    if let Some(said) = limits(site, link, judgement) {
        detail("heat", &said);
    }
}

/// One-way and loop length in both unit systems, so that a doubled length is seen.
fn route(link: &Link) -> String {
    match link.cable {
        None => "loop measured".into(),
        Some(Cable {
            gauge, length_m, ..
        }) => format!(
            "{gauge}, {length_m:.1} m ({:.0} ft) one way, {:.1} m ({:.0} ft) loop",
            length_m * FT_PER_M,
            2.0 * length_m,
            2.0 * length_m * FT_PER_M
        ),
    }
}

/// Box temperatures at which margins end, where they lie within what gardens see.
fn limits(site: &Site, link: &Link, judgement: &LinkJudgement) -> Option<String> {
    const GARDEN_C: f64 = 75.0;
    let limits = &judgement.limits;
    let seen = |limit: Option<f64>| limit.filter(|at| *at < GARDEN_C);
    let any = [
        limits.dusk_nominal_c,
        limits.dusk_low_c,
        limits.restart_nominal_c,
        limits.restart_low_c,
    ];
    if any.into_iter().all(|limit| seen(limit).is_none()) {
        return None;
    }
    let say = |limit: Option<f64>| {
        seen(limit).map_or_else(
            || "no limit seen".into(),
            |at| format!("{} in the box", celsius(at)),
        )
    };
    let (nominal, low) = if site[site[link.master].supply].is_ac() {
        ("nominal mains".to_owned(), "low mains".to_owned())
    } else {
        let volts = |level| {
            format!(
                "{:.1} V",
                judgement.case(level, BoxTemperature::Typical).tap_v
            )
        };
        (volts(MainsLevel::Nominal), volts(MainsLevel::Low))
    };
    Some(format!(
        "pulls in at dusk up to: {nominal} {}, {low} {}; on a hot restart up to: {nominal} {}, {low} {}",
        say(limits.dusk_nominal_c),
        say(limits.dusk_low_c),
        say(limits.restart_nominal_c),
        say(limits.restart_low_c)
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
                |cable| {
                    format!(
                        "{} {:.1} m ({:.0} ft)",
                        cable.gauge,
                        cable.length_m,
                        cable.length_m * FT_PER_M
                    )
                },
            );
            let say = |level| match trunk_ends(site, id, trunk, level) {
                TrunkEnds::Lit { lamp_v, supply_a } => format!(
                    "{:.2} to {:.2} {kind}, {supply_a:.1} A",
                    lamp_v.first().copied().unwrap_or_default(),
                    lamp_v.last().copied().unwrap_or_default()
                ),
                TrunkEnds::BrownOut { margin } => {
                    format!("browns out, carries {:.0} % of them", margin * 100.0)
                }
            };
            let text = format!(
                "{count} lamps, {cable}: first to last lamp {}; at low mains {}",
                say(MainsLevel::Nominal),
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

#[derive(Serialize)]
struct CheckJson<'a> {
    site: &'a str,
    verdict: &'static str,
    links: Vec<LinkJson<'a>>,
    cautions: Vec<CautionJson<'a>>,
}

#[derive(Serialize)]
struct CautionJson<'a> {
    code: String,
    level: &'static str,
    place: String,
    text: &'a str,
}

#[derive(Serialize)]
struct LinkJson<'a> {
    master: &'a str,
    slave: &'a str,
    outcome: String,
    verdict: &'static str,
    loop_ohm: f64,
    coil_ohm: f64,
    tap_v: f64,
    coil_v: LevelsJson,
    operate_v: f64,
    release_v: f64,
    margin_dusk: f64,
    margin_restart: f64,
    ripple_v: f64,
    residual_v: f64,
    release_s: ReleaseJson,
    on_delay_s: Option<f64>,
    short_a: f64,
    weakest: String,
    outside_range: Vec<String>,
    limit_c: LimitsJson,
    cases: Vec<CaseJson>,
}

#[derive(Serialize)]
struct LevelsJson {
    low: f64,
    nominal: f64,
    high: f64,
}

#[derive(Serialize)]
struct ReleaseJson {
    typical: f64,
    latest: f64,
}

#[derive(Serialize)]
struct LimitsJson {
    dusk_nominal: Option<f64>,
    dusk_low: Option<f64>,
    restart_nominal: Option<f64>,
    restart_low: Option<f64>,
}

#[derive(Serialize)]
struct CaseJson {
    mains: &'static str,
    temperature: &'static str,
    box_c: f64,
    tap_v: f64,
    loop_ohm: f64,
    coil_ohm: f64,
    coil_v: f64,
    coil_least_v: f64,
    operate_v: f64,
    release_v: f64,
    margin_dusk: f64,
    hot_coil_c: f64,
    hot_coil_v: f64,
    hot_operate_v: f64,
    margin_restart: f64,
    ripple_v: f64,
    residual_v: f64,
    diode_drop_v: f64,
    diode_peak_a: f64,
    pair_rms_a: f64,
    outcome: String,
}

impl CaseJson {
    fn of(case: &PaperCase, temperature: BoxTemperature) -> Self {
        Self {
            mains: case.case.mains.name(),
            temperature: temperature.name(),
            box_c: case.case.box_c,
            tap_v: case.tap_v,
            loop_ohm: case.loop_ohm,
            coil_ohm: case.coil_ohm,
            coil_v: case.dusk.coil_v,
            coil_least_v: case.dusk.coil_least_v,
            operate_v: case.operate_v,
            release_v: case.release_v,
            margin_dusk: case.margin_dusk,
            hot_coil_c: case.warm.coil_c,
            hot_coil_v: case.warm.coil_v,
            hot_operate_v: case.operate_warm_v,
            margin_restart: case.margin_restart,
            ripple_v: case.dusk.ripple_v,
            residual_v: case.residual_v,
            diode_drop_v: case.dusk.diode_drop_v,
            diode_peak_a: case.dusk.peak_a,
            pair_rms_a: case.dusk.pair_rms_a,
            outcome: case.outcome().to_string(),
        }
    }
}

/// `{site, verdict, links, cautions}`, in SI units, margins as fractions.
pub fn check_json(site: &Site, check: &Check) -> String {
    let links = check
        .links
        .iter()
        .enumerate()
        .map(|(index, judgement)| link_json(site, LinkId(index), judgement, check));
    let cautions = check.cautions.iter().map(|caution| CautionJson {
        code: caution.code.to_string(),
        level: caution.level.name(),
        place: caution.place.say(site),
        text: &caution.text,
    });
    json(&CheckJson {
        site: &site.name,
        verdict: check.verdict.name(),
        links: links.collect(),
        cautions: cautions.collect(),
    })
}

fn link_json<'a>(
    site: &'a Site,
    id: LinkId,
    judgement: &LinkJudgement,
    check: &Check,
) -> LinkJson<'a> {
    let link = &site[id];
    let ordinary = &judgement.ordinary;
    let coil_v = |level| judgement.case(level, BoxTemperature::Typical).dusk.coil_v;
    let limits = &judgement.limits;
    LinkJson {
        master: &site[link.master].name,
        slave: &site[link.slave].name,
        outcome: judgement.outcome().to_string(),
        verdict: link_verdict(check, id).name(),
        loop_ohm: ordinary.loop_ohm,
        coil_ohm: ordinary.coil_ohm,
        tap_v: ordinary.tap_v,
        coil_v: LevelsJson {
            low: coil_v(MainsLevel::Low),
            nominal: coil_v(MainsLevel::Nominal),
            high: coil_v(MainsLevel::High),
        },
        operate_v: ordinary.operate_v,
        release_v: ordinary.release_v,
        margin_dusk: ordinary.margin_dusk,
        margin_restart: ordinary.margin_restart,
        ripple_v: ordinary.dusk.ripple_v,
        residual_v: ordinary.residual_v,
        release_s: ReleaseJson {
            typical: judgement.release_s.typical_s,
            latest: judgement.release_s.latest_s,
        },
        on_delay_s: judgement.on_delay_s,
        short_a: judgement.short_a,
        weakest: weakest(site, link, judgement),
        outside_range: judgement
            .outside
            .iter()
            .map(|outside| crate::cautions::outside_said(*outside))
            .collect(),
        limit_c: LimitsJson {
            dusk_nominal: limits.dusk_nominal_c,
            dusk_low: limits.dusk_low_c,
            restart_nominal: limits.restart_nominal_c,
            restart_low: limits.restart_low_c,
        },
        cases: judgement
            .grid
            .iter()
            .zip(BoxTemperature::ALL.into_iter().cycle())
            .map(|(case, temperature)| CaseJson::of(case, temperature))
            .collect(),
    }
}
