//! The verdict as one JSON document, for scripts.

use serde::Serialize;

use crate::chain::{BoxTemperature, LinkJudgement, MainsLevel, PaperCase};
use crate::check::Check;
use crate::site::{LinkId, Site};

use super::super::json;
use super::{link_verdict, weakest};

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
