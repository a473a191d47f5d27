//! The verdict as one JSON document, for scripts.

use serde::Serialize;

use crate::chain::{ChainZone, Fed, Total};
use crate::check::Check;
use crate::link::{
    Aspect, Band, Beyond, BoxTemperature, Judgement, LinkCase, LinkJudgement, MainsLevel, Margin,
};
use crate::site::{LinkId, Site, ZoneId};
use crate::text::least_text;

use super::super::json;
use super::link_verdict;

#[derive(Serialize)]
struct CheckJson<'a> {
    site: &'a str,
    verdict: &'static str,
    links: Vec<LinkJson<'a>>,
    chain: Vec<ChainJson<'a>>,
    cautions: Vec<CautionJson<'a>>,
}

#[derive(Serialize)]
struct ChainJson<'a> {
    zone: &'a str,
    master: Option<&'a str>,
    fed: Option<&'static str>,
    lit_after_s: TotalJson,
    dark_after_s: TotalJson,
    dark_if_it_fails: Vec<&'a str>,
    lit_if_it_welds: Vec<&'a str>,
}

#[derive(Serialize)]
struct TotalJson {
    typical: Option<f64>,
    most: Option<f64>,
}

impl TotalJson {
    fn of(total: Total) -> Self {
        Self {
            typical: total.typical_s,
            most: total.most_s,
        }
    }
}

#[derive(Serialize)]
struct CautionJson<'a> {
    code: String,
    level: &'static str,
    place: String,
    text: &'a str,
}

#[derive(Serialize)]
pub(in super::super) struct LinkJson<'a> {
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
    hovers: bool,
    trough_v: f64,
    pull_in_s: Option<f64>,
    drop_out_s: Option<f64>,
    diode_peak_a: f64,
    capacitor_ripple_a: f64,
    follow_probability: f64,
    builds: BuildsJson,
    times: TimesJson,
    least: LeastJson,
    margins: Vec<LeastJson>,
    beyond: Vec<BeyondJson>,
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
    typical: Option<f64>,
    latest: Option<f64>,
}

#[derive(Serialize)]
struct BandJson {
    least: f64,
    typical: f64,
    most: f64,
}

impl BandJson {
    fn of(band: &Band) -> Self {
        Self {
            least: band.least_s,
            typical: band.typical_s,
            most: band.most_s,
        }
    }
}

#[derive(Serialize)]
#[expect(clippy::struct_field_names, reason = "the unit ends every name")]
struct TimesJson {
    pull_in_s: Option<BandJson>,
    drop_out_s: Option<BandJson>,
    ride_through_s: Option<f64>,
    shortest_off_s: Option<f64>,
}

/// The least margin of a link, the same in every command.
#[derive(Serialize)]
pub(in super::super) struct LeastJson {
    aspect: &'static str,
    margin: f64,
    volts: f64,
    limit: f64,
    case: WhichCaseJson,
}

#[derive(Serialize)]
struct WhichCaseJson {
    mains: &'static str,
    box_c: f64,
    parts: &'static str,
}

impl LeastJson {
    pub(in super::super) fn of(judged: &Judgement) -> Self {
        Self::at(judged.least())
    }

    fn at(margin: &Margin) -> Self {
        Self {
            aspect: margin.aspect.name(),
            margin: margin.fraction,
            volts: margin.volts,
            limit: margin.limit_v,
            case: WhichCaseJson {
                mains: margin.case.mains.name(),
                box_c: margin.case.box_c,
                parts: margin.case.parts.name(),
            },
        }
    }
}

#[derive(Serialize)]
struct BeyondJson {
    case: &'static str,
    box_c: f64,
    coil_c: f64,
    volts: f64,
    limit: f64,
    holds: bool,
}

impl BeyondJson {
    fn of(beyond: &Beyond) -> Self {
        Self {
            case: beyond.case.name(),
            box_c: beyond.box_c,
            coil_c: beyond.coil_c,
            volts: beyond.coil_v,
            limit: beyond.limit_v,
            holds: beyond.holds(),
        }
    }
}

#[derive(Serialize)]
struct BuildsJson {
    seed: u64,
    drawn: u32,
    follow: u32,
    chatter: u32,
    stay_dark: u32,
    stay_lit: u32,
    restart: u32,
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
    capacitor_ripple_a: f64,
    pair_rms_a: f64,
    trough_v: f64,
    pull_in_s: Option<f64>,
    drop_out_s: Option<f64>,
    hovers: bool,
    outcome: String,
}

impl CaseJson {
    fn of(case: &LinkCase, temperature: BoxTemperature) -> Self {
        Self {
            mains: case.case.mains.name(),
            temperature: temperature.name(),
            box_c: case.case.box_c,
            tap_v: case.tap_v,
            loop_ohm: case.loop_ohm,
            coil_ohm: case.coil_ohm,
            coil_v: case.dusk.coil_v,
            coil_least_v: case.dusk.trough_v,
            operate_v: case.operate_v,
            release_v: case.release_v,
            margin_dusk: case.margin_dusk,
            hot_coil_c: case.warm.coil_c,
            hot_coil_v: case.warm.coil_v,
            hot_operate_v: case.operate_warm_v,
            margin_restart: case.margin_restart,
            ripple_v: case.dusk.ripple_v,
            residual_v: case.residual_v,
            diode_drop_v: case.paper.diode_drop_v,
            diode_peak_a: case.dusk.diode_peak_a,
            capacitor_ripple_a: case.dusk.capacitor_ripple_a,
            pair_rms_a: case.dusk.pair_rms_a,
            trough_v: case.dusk.trough_v,
            pull_in_s: case.pull_in_s,
            drop_out_s: case.drop_out_s,
            hovers: case.hovers(),
            outcome: case.outcome().to_string(),
        }
    }
}

/// `{site, verdict, links, chain, cautions}`, in SI units, margins as fractions.
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
        chain: check
            .chain
            .zones
            .iter()
            .map(|zone| chain_json(site, zone))
            .collect(),
        cautions: cautions.collect(),
    })
}

fn chain_json<'a>(site: &'a Site, zone: &ChainZone) -> ChainJson<'a> {
    let name = |zone: &ZoneId| site[*zone].name.as_str();
    ChainJson {
        zone: name(&zone.zone),
        master: zone.master.as_ref().map(name),
        fed: zone.fed.map(Fed::name),
        lit_after_s: TotalJson::of(zone.lit_after),
        dark_after_s: TotalJson::of(zone.dark_after),
        dark_if_it_fails: zone.dark_with_it.iter().map(name).collect(),
        lit_if_it_welds: zone.lit_if_welded.iter().map(name).collect(),
    }
}

pub(in super::super) fn link_json<'a>(
    site: &'a Site,
    id: LinkId,
    judgement: &LinkJudgement,
    check: &Check,
) -> LinkJson<'a> {
    let link = &site[id];
    let ordinary = judgement.ordinary();
    let coil_v = |level| judgement.case(level, BoxTemperature::Typical).dusk.coil_v;
    let (limits, times, builds) = (&judgement.limits, &judgement.times, &judgement.builds);
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
            typical: times.drop_out.map(|band| band.typical_s),
            latest: times.guaranteed_release_s,
        },
        hovers: ordinary.hovers(),
        trough_v: ordinary.dusk.trough_v,
        pull_in_s: times
            .pull_in
            .map_or(ordinary.pull_in_s, |band| Some(band.typical_s)),
        drop_out_s: times
            .drop_out
            .map_or(ordinary.drop_out_s, |band| Some(band.typical_s)),
        diode_peak_a: ordinary.dusk.diode_peak_a,
        capacitor_ripple_a: ordinary.dusk.capacitor_ripple_a,
        follow_probability: builds.follow_probability(),
        builds: BuildsJson {
            seed: builds.seed,
            drawn: builds.drawn,
            follow: builds.follow,
            chatter: builds.chatter,
            stay_dark: builds.stay_dark,
            stay_lit: builds.stay_lit,
            restart: builds.restart,
        },
        times: TimesJson {
            pull_in_s: times.pull_in.as_ref().map(BandJson::of),
            drop_out_s: times.drop_out.as_ref().map(BandJson::of),
            ride_through_s: times.ride_through_s(),
            shortest_off_s: times.shortest_off_s(),
        },
        least: LeastJson::of(&judgement.judged),
        margins: Aspect::ALL
            .into_iter()
            .map(|aspect| LeastJson::at(judgement.judged.margin(aspect)))
            .collect(),
        beyond: judgement.beyond.iter().map(BeyondJson::of).collect(),
        on_delay_s: judgement.on_delay_s,
        short_a: judgement.short_a,
        weakest: least_text(link, &judgement.judged),
        outside_range: judgement
            .outside
            .iter()
            .map(|outside| crate::text::outside_said(*outside))
            .collect(),
        limit_c: LimitsJson {
            dusk_nominal: limits.dusk_nominal.up_to_c(),
            dusk_low: limits.dusk_low.up_to_c(),
            restart_nominal: limits.restart_nominal.up_to_c(),
            restart_low: limits.restart_low.up_to_c(),
        },
        cases: judgement
            .cases()
            .map(|(_, temperature, case)| CaseJson::of(case, temperature))
            .collect(),
    }
}
