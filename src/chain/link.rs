//! One link over all its cases: outcome, margins, delays, limits.

use crate::circuit::rectifier::{Method, OutsideRange, Rectifier};
use crate::circuit::relay::Charging;
use crate::circuit::{relay, supply};
use crate::schedule::Following;
use crate::site::{Link, Site, SupplyOutput, ZoneId};

use super::case::{BoxTemperature, Case, MainsLevel, PaperCase, Parts, pair_ohm, work_out};
use super::{Outcome, Weakest, weakest};

/// All that is known of a link on paper.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkJudgement {
    /// Typical box, nominal mains, nominal parts.
    pub ordinary: PaperCase,
    /// Nominal parts: low, nominal, high mains, each coldest, typical, hottest.
    pub grid: Vec<PaperCase>,
    /// The case with the least margin at dusk, parts against it.
    pub worst_dusk: PaperCase,
    /// The case with the least margin on a hot restart, parts against it.
    pub worst_restart: PaperCase,
    /// The case with the highest coil voltage, parts against it.
    pub highest: PaperCase,
    /// The case with the hottest coil: high mains, as a rule a small coil.
    pub hottest_coil: PaperCase,
    /// The case in which the residual voltage is nearest to the release voltage.
    pub worst_release: PaperCase,
    /// From master on to slave lit [s]; `None` if the relay does not pull in.
    pub on_delay_s: Option<f64>,
    /// From master off to contact open: usual, and latest [s].
    pub release_s: Release,
    /// Current when the pair is shorted at its far end, behind a supply that does not sag [A].
    pub short_a: f64,
    /// The same with the supply's own resistance in the way: what a fuse is sure to get [A].
    pub sagging_short_a: f64,
    /// Box temperatures at which the margins are gone.
    pub limits: TemperatureLimits,
    /// What takes most of the margin.
    pub weakest: Weakest,
    /// Where the method does not hold in the ordinary case.
    pub outside: Vec<OutsideRange>,
    /// The zone up its chain, its master or further, whose supply the slave switches: the contact
    /// then holds its own coil on.
    pub held_by: Option<ZoneId>,
}

/// From master off to contact open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Release {
    /// With the typical release voltage [s].
    pub typical_s: f64,
    /// With the guaranteed one [s].
    pub latest_s: f64,
}

/// Box temperatures [°C] up to which the relay surely pulls in, rated parts: [`HOTTEST_BOX_C`] where it
/// does at every temperature looked at, `None` where it does at none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TemperatureLimits {
    /// At dusk, nominal mains.
    pub dusk_nominal_c: Option<f64>,
    /// At dusk, low mains.
    pub dusk_low_c: Option<f64>,
    /// On a hot restart, nominal mains.
    pub restart_nominal_c: Option<f64>,
    /// On a hot restart, low mains.
    pub restart_low_c: Option<f64>,
}

impl LinkJudgement {
    /// What the slave does where all is ordinary.
    pub fn outcome(&self) -> Outcome {
        held(self.ordinary.outcome(), self.held_by)
    }

    /// The grid's case of a mains level at an evening's temperature.
    pub fn case(&self, mains: MainsLevel, temperature: BoxTemperature) -> &PaperCase {
        let level = MainsLevel::ALL
            .iter()
            .position(|at| *at == mains)
            .expect("a level");
        let evening = BoxTemperature::ALL
            .iter()
            .position(|at| *at == temperature)
            .expect("an evening");
        &self.grid[level * BoxTemperature::ALL.len() + evening]
    }
}

/// The zone up the chain of a link, its master or further, that hangs on the slave's supply.
fn held_by(site: &Site, link: &Link) -> Option<ZoneId> {
    let supply = site[link.slave].supply;
    let upward = std::iter::successors(Some(link.master), |zone| {
        site.link_to(*zone).map(|link| link.master)
    });
    upward.into_iter().find(|zone| site[*zone].supply == supply)
}

/// What a relay that follows does where its own contact holds it.
fn held(outcome: Outcome, by: Option<ZoneId>) -> Outcome {
    match (outcome, by) {
        (Outcome::Follows, Some(_)) => Outcome::StaysLit,
        _ => outcome,
    }
}

/// The ordinary case of a link.
pub(super) fn ordinary(site: &Site, link: &Link) -> PaperCase {
    let case = Case {
        mains: MainsLevel::Nominal,
        box_c: site.temperatures.typical_c,
        parts: Parts::Nominal,
    };
    work_out(site, link, &link.relay, case)
}

impl PaperCase {
    /// What the slave does in this case, for the plan.
    pub(super) fn following(&self, site: &Site, link: &Link) -> Following {
        match held(self.outcome(), held_by(site, link)) {
            Outcome::StaysDark => Following::StaysDark,
            Outcome::StaysLit => Following::StaysLit,
            Outcome::Follows => Following::Follows {
                on_delay_s: on_delay_s(site, link, self)
                    .expect("a relay that pulls in has a delay"),
                off_delay_s: release(site, link, self).typical_s
                    + site[site[link.slave].supply].hold_up_s,
            },
        }
    }
}

/// Share of its last voltage that a capacitor never reaches; a relay that needs all of it is taken to
/// pull in there.
const NEVER_REACHED: f64 = 1e-6;

/// From master on to the coil at its operate voltage [s]; `None` if it never is.
pub(crate) fn charge_s(site: &Site, link: &Link, case: &PaperCase) -> Option<f64> {
    if case.margin_dusk < 0.0 {
        return None;
    }
    let period_s = 1.0 / site.mains.frequency_hz;
    let source_ohm = case.supply_ohm + case.loop_ohm;
    let operate_v = case.operate_v.min(case.dusk.coil_v * (1.0 - NEVER_REACHED));
    match (case.dusk.method, link.capacitor) {
        (Method::Divider, capacitor) => relay::charge_time_dc_s(
            source_ohm,
            capacitor.map_or(0.0, |part| part.farad),
            case.dusk.coil_v,
            operate_v,
        ),
        (Method::ConductionAngle, Some(capacitor)) => {
            let charging = Charging {
                source_ohm,
                coil_ohm: case.coil_ohm,
                capacitance_f: capacitor.farad,
                net_peak_v: case.dusk.net_peak_v,
                pulses_per_period: case.dusk.pulses_per_period,
                hz: site.mains.frequency_hz,
            };
            relay::charge_time_ac_s(&charging, operate_v)
        }
        // Nothing to charge: the wait for a crest.
        _ => Some(period_s),
    }
}

/// From master on to slave lit [s]: capacitor charged to the operate voltage, relay operated, supply
/// up.
fn on_delay_s(site: &Site, link: &Link, case: &PaperCase) -> Option<f64> {
    charge_s(site, link, case)
        .map(|charge_s| charge_s + link.relay.operate_s + site[site[link.slave].supply].start_s)
}

fn release(site: &Site, link: &Link, case: &PaperCase) -> Release {
    let sheet = &link.relay;
    let warm = &case.warm;
    let threshold = |volts: f64| relay::threshold_v(volts, warm.coil_c);
    let Some(capacitor) = link.capacitor else {
        let drop_v = link
            .diode
            .forward_v(warm.coil_v / warm.coil_ohm, case.case.box_c);
        let die_out = |volts: f64| {
            sheet.inductance_h.map_or(sheet.release_s, |henry| {
                relay::inductive_release_s(
                    warm.coil_ohm,
                    henry,
                    warm.coil_v,
                    threshold(volts),
                    drop_v,
                    sheet.release_s,
                )
            })
        };
        return Release {
            typical_s: die_out(sheet.typical_release_v),
            latest_s: die_out(sheet.release_v),
        };
    };
    // Without a diode the capacitor empties through the near zone's lamps as well, unless they are
    // LEDs that stop drawing: typical with them, latest without.
    let lamps_w = site[link.master].lamp_w();
    let back_ohm = (link.rectifier == Rectifier::None && lamps_w > 0.0)
        .then(|| case.loop_ohm + case.tap_v * case.tap_v / lamps_w);
    let time = |back_ohm: Option<f64>, farad: f64, volts: f64| {
        let ohm = relay::discharge_ohm(warm.coil_ohm, back_ohm);
        relay::release_time_s(ohm, farad, warm.coil_v, threshold(volts), sheet.release_s)
    };
    Release {
        typical_s: time(back_ohm, capacitor.farad, sheet.typical_release_v),
        latest_s: time(None, capacitor.farad, sheet.release_v),
    }
}

/// Judges one link.
pub fn judge_link(site: &Site, link: &Link) -> LinkJudgement {
    let at = |mains, box_c, parts| {
        work_out(
            site,
            link,
            &link.relay,
            Case {
                mains,
                box_c,
                parts,
            },
        )
    };
    let over_evenings =
        |mains, parts| BoxTemperature::ALL.map(|evening| at(mains, evening.celsius(site), parts));
    let grid: Vec<PaperCase> = MainsLevel::ALL
        .into_iter()
        .flat_map(|mains| over_evenings(mains, Parts::Nominal))
        .collect();
    let least = |cases: [PaperCase; 3], of: fn(&PaperCase) -> f64| {
        cases
            .into_iter()
            .min_by(|a, b| of(a).total_cmp(&of(b)))
            .expect("three evenings")
    };
    let against = over_evenings(MainsLevel::Low, Parts::AgainstOperate);
    let worst_dusk = least(against.clone(), |case| case.margin_dusk);
    let worst_restart = least(against, |case| case.margin_restart);
    let highest = least(
        over_evenings(MainsLevel::High, Parts::AgainstCoil),
        |case| -case.dusk.coil_v.max(case.warm.coil_v),
    );
    // A small coil takes the most power, unless the pair has as many ohms as the coil; the last of
    // equals is taken.
    let hottest_coil = [Parts::AgainstCoil, Parts::Nominal, Parts::AgainstOperate]
        .into_iter()
        .flat_map(|parts| over_evenings(MainsLevel::High, parts))
        .max_by(|a, b| a.warm.coil_c.total_cmp(&b.warm.coil_c))
        .expect("nine cases");
    let worst_release = least(over_evenings(MainsLevel::Nominal, Parts::Nominal), |case| {
        case.release_v - case.residual_v
    });
    let ordinary = grid[4].clone();
    let pair_ohm = pair_ohm(site, link);
    let short_a = |source_ohm| supply::short_circuit_a(ordinary.tap_v, pair_ohm, source_ohm);
    LinkJudgement {
        on_delay_s: on_delay_s(site, link, &ordinary),
        release_s: release(site, link, &ordinary),
        short_a: short_a(0.0),
        sagging_short_a: short_a(ordinary.supply_ohm),
        limits: limits(site, link),
        weakest: weakest::of(&ordinary, link),
        outside: ordinary.dusk.outside.clone(),
        held_by: held_by(site, link),
        ordinary,
        grid,
        worst_dusk,
        worst_restart,
        highest,
        hottest_coil,
        worst_release,
    }
}

/// Hottest box looked at [°C]: beyond what electronics in a garden meets.
pub const HOTTEST_BOX_C: f64 = 120.0;

/// Coldest box looked at [°C].
const COLDEST_BOX_C: f64 = -40.0;

fn limits(site: &Site, link: &Link) -> TemperatureLimits {
    let limit = |mains, margin: fn(&PaperCase) -> f64| {
        let margin_at = |box_c| {
            margin(&work_out(
                site,
                link,
                &link.relay,
                Case {
                    mains,
                    box_c,
                    parts: Parts::Nominal,
                },
            ))
        };
        let (mut works, mut fails) = (COLDEST_BOX_C, HOTTEST_BOX_C);
        if margin_at(fails) >= 0.0 {
            return Some(fails);
        }
        if margin_at(works) < 0.0 {
            return None;
        }
        // A tenth of a degree is finer than any box is known.
        while fails - works > 0.1 {
            let middle = f64::midpoint(works, fails);
            if margin_at(middle) < 0.0 {
                fails = middle;
            } else {
                works = middle;
            }
        }
        Some(works)
    };
    TemperatureLimits {
        dusk_nominal_c: limit(MainsLevel::Nominal, |case| case.margin_dusk),
        dusk_low_c: limit(MainsLevel::Low, |case| case.margin_dusk),
        restart_nominal_c: limit(MainsLevel::Nominal, |case| case.margin_restart),
        restart_low_c: limit(MainsLevel::Low, |case| case.margin_restart),
    }
}

/// Greatest voltage that the capacitor and the diodes ever see [V]: the peak at high mains with no
/// lamp connected.
pub(crate) fn greatest_peak_v(site: &Site, link: &Link) -> f64 {
    match site[site[link.master].supply].output {
        SupplyOutput::Ac { no_load_v, .. } => {
            std::f64::consts::SQRT_2 * super::case::mains_factor(site, MainsLevel::High) * no_load_v
        }
        SupplyOutput::Dc { highest_v, .. } => highest_v,
    }
}
