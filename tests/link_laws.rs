//! Laws of the judgement of a link, for any link that could be built.

use std::num::NonZeroU32;

use pilotwire::circuit::rectifier::Rectifier;
use pilotwire::link::{
    Aspect, BoxTemperature, Draw, LinkJudgement, MainsLevel, Outcome, Verdict, judge_link,
};
use pilotwire::site::{Capacitor, Link, Site, SupplyOutput};
use proptest::prelude::*;

use crate::support::cases::cases;
use crate::support::read::read;
use crate::support::yards::QUIET;

/// Repeatability of the simulation, in volts and in fractions of a margin (its mean is good to 0.02 %).
const ROUNDING: f64 = 3e-3;

/// How far a release moves with the point in the ripple where the master goes off [s].
const PHASE_S: f64 = 2e-3;

/// The laws do not look at random builds.
pub(crate) const FEW: Draw = Draw {
    seed: 1,
    builds: NonZeroU32::MIN,
};

/// A yard of two zones, whose values the laws replace.
fn yard() -> Site {
    read(QUIET)
}

/// A master on AC or DC of 10 to 16 V, with its tolerance.
fn any_supply() -> impl Strategy<Value = SupplyOutput> {
    prop_oneof![
        (11.0..16.0, 0.0..2.0, 60.0..400.0).prop_map(|(full_load_v, sag_v, rated_va)| {
            SupplyOutput::Ac {
                no_load_v: full_load_v + sag_v,
                full_load_v,
                rated_va,
            }
        }),
        (11.0..16.0, 0.0..1.0, 0.0..1.0).prop_map(|(voltage_v, below_v, above_v)| {
            SupplyOutput::Dc {
                voltage_v,
                lowest_v: voltage_v - below_v,
                highest_v: voltage_v + above_v,
                max_a: None,
            }
        }),
    ]
}

prop_compose! {
    /// A yard with one link: half an ohm or more of pair, a coil of 150 Ω or more, a capacitor.
    pub(crate) fn any_yard()(
        supply in any_supply(),
        single_diode in any::<bool>(),
        loop_ohm in 0.5..60.0,
        coil_ohm in 150.0..1000.0,
        coil_tolerance in 0.0..0.3,
        capacitor in (200e-6..1000e-6, 0.0..0.5),
        operate_v in 5.0..11.0,
        thermal_k_per_w in 0.0..150.0,
        temperatures in (-25.0..10.0, 0.0..25.0, 0.0..35.0),
        mains_tolerance in 0.0..0.15,
    ) -> Site {
        let mut site = yard();
        site.supplies[0].output = supply;
        site.mains.tolerance = mains_tolerance;
        let (coldest_c, to_typical_k, to_hottest_k) = temperatures;
        site.temperatures.coldest_c = coldest_c;
        site.temperatures.typical_c = coldest_c + to_typical_k;
        site.temperatures.hottest_c = coldest_c + to_typical_k + to_hottest_k;
        let link = &mut site.links[0];
        link.measured_loop_ohm = Some(loop_ohm);
        link.rectifier = if single_diode { Rectifier::SingleDiode } else { Rectifier::Bridge };
        link.capacitor = Some(Capacitor { farad: capacitor.0, tolerance: capacitor.1, rating_v: 50.0 });
        link.relay.coil_ohm = coil_ohm;
        link.relay.coil_tolerance = coil_tolerance;
        link.relay.operate_v = operate_v;
        link.relay.release_v = 0.6;
        link.relay.typical_release_v = 3.0;
        link.relay.thermal_k_per_w = thermal_k_per_w;
        site
    }
}

fn judged(site: &Site) -> LinkJudgement {
    judge_link(site, &site.links[0], FEW).unwrap()
}

/// The judgement of the changed link.
fn with(site: &Site, change: impl FnOnce(&mut Link)) -> LinkJudgement {
    let mut site = site.clone();
    change(&mut site.links[0]);
    judged(&site)
}

/// From failing to working.
fn rank(outcome: Outcome) -> u8 {
    u8::from(outcome == Outcome::Follows)
}

proptest! {
    #![proptest_config(cases(96))]

    /// From half an ohm of pair up, exactly; a stiffer pair can gain a few millivolts on AC, where
    /// the method says that it does not hold.
    #[test]
    fn longer_wire_never_raises_a_coil_voltage(site in any_yard(), more_ohm in 0.0..40.0) {
        let before = judged(&site);
        let after = with(&site, |link| link.measured_loop_ohm = link.measured_loop_ohm.map(|ohm| ohm + more_ohm));
        for ((_, _, before), (_, _, after)) in before.cases().zip(after.cases()) {
            prop_assert!(after.dusk.coil_v <= before.dusk.coil_v + ROUNDING);
            prop_assert!(after.margin_dusk <= before.margin_dusk + ROUNDING);
            prop_assert!(after.margin_restart <= before.margin_restart + ROUNDING);
        }
    }

    #[test]
    fn more_capacitance_never_lowers_a_mean(site in any_yard(), times in 1.0..5.0) {
        let before = judged(&site);
        let after = with(&site, |link| {
            link.capacitor = link.capacitor.map(|part| Capacitor { farad: part.farad * times, ..part });
        });
        for ((_, _, before), (_, _, after)) in before.cases().zip(after.cases()) {
            let (few, more) = (&before.dusk, &after.dusk);
            prop_assert!(more.coil_v >= few.coil_v - ROUNDING, "{} V, then {} V", few.coil_v, more.coil_v);
            prop_assert!(more.trough_v >= few.trough_v - ROUNDING, "{} V, then {} V", few.trough_v, more.trough_v);
        }
    }

    /// As long as the coil has 4 V: with less, the diodes' 2 mV/K each exceed copper's 0.39 %/K.
    #[test]
    fn hotter_box_never_raises_a_margin(site in any_yard()) {
        let judgement = judged(&site);
        for mains in MainsLevel::ALL {
            let cases = BoxTemperature::ALL.map(|evening| judgement.case(mains, evening));
            prop_assume!(cases.iter().all(|case| case.dusk.coil_v > 4.0));
            for pair in cases.windows(2) {
                prop_assert!(pair[1].margin_dusk <= pair[0].margin_dusk + ROUNDING);
                prop_assert!(pair[1].margin_restart <= pair[0].margin_restart + ROUNDING);
            }
        }
    }

    /// A splice lowers the coil voltage, so behind diodes the capacitor starts lower: the relay lets
    /// go sooner, never later, while the coil has more than e times its release voltage.
    #[test]
    fn adding_a_splice_never_lengthens_the_latest_release(site in any_yard(), splice_ohm in 0.0..5.0) {
        let before = judged(&site);
        let after = with(&site, |link| link.measured_loop_ohm = link.measured_loop_ohm.map(|ohm| ohm + splice_ohm));
        prop_assume!(after.ordinary().warm.coil_v > 0.6 * 2.0 * std::f64::consts::E);
        prop_assert!(after.times.guaranteed_release_s <= before.times.guaranteed_release_s.map(|s| s + PHASE_S));
    }

    #[test]
    fn coil_voltages_rise_with_the_mains(site in any_yard()) {
        let judgement = judged(&site);
        for evening in BoxTemperature::ALL {
            let coil_v = MainsLevel::ALL.map(|mains| judgement.case(mains, evening).dusk.coil_v);
            prop_assert!(coil_v[0] <= coil_v[1] + ROUNDING && coil_v[1] <= coil_v[2] + ROUNDING);
        }
    }

    #[test]
    fn no_case_is_worse_than_the_worst(site in any_yard()) {
        let judgement = judged(&site);
        let highest = &judgement.judged.highest;
        let left = |aspect| judgement.judged.margin(aspect).fraction;
        for (_, _, case) in judgement.cases() {
            prop_assert!(left(Aspect::Dusk) <= case.margin_dusk + ROUNDING);
            prop_assert!(left(Aspect::HotRestart) <= case.margin_restart + ROUNDING);
            prop_assert!(highest.highest_v() >= case.highest_v() - ROUNDING);
            prop_assert!(judgement.judged.hottest_coil.warm.coil_c >= case.warm.coil_c - 1e-3);
        }
        for aspect in Aspect::ALL {
            prop_assert!(judgement.judged.least().fraction <= left(aspect));
        }
    }

    /// A link that is a GO has some margin in every aspect.
    #[test]
    fn no_go_carries_a_negative_margin(site in any_yard()) {
        let judged = judged(&site).judged;
        prop_assert!(judged.verdict() != Verdict::Go || judged.least().fraction >= 0.0, "{:?}", judged.least());
    }

    /// A relay that needs more volts never turns a link from bad to good.
    #[test]
    fn a_harder_relay_never_helps(site in any_yard(), more_v in 0.0..3.0) {
        let verdict = |site: &Site| {
            let from = chrono::NaiveDate::from_ymd_opt(2027, 1, 1).unwrap();
            pilotwire::check::check(site, from, FEW).unwrap().verdict
        };
        let mut harder = site.clone();
        harder.links[0].relay.operate_v += more_v;
        prop_assert!(rank(judged(&harder).outcome()) <= rank(judged(&site).outcome()));
        prop_assert!(verdict(&harder) >= verdict(&site));
    }

    /// A temperature limit is where the margin ends: a degree below it pulls in, a degree above not.
    #[test]
    fn limits_divide_what_works_from_what_does_not(site in any_yard()) {
        let Some(limit_c) = judged(&site).limits.dusk_nominal.up_to_c() else { return Ok(()) };
        let margin_at = |celsius: f64| {
            let mut site = site.clone();
            site.temperatures.typical_c = celsius;
            judged(&site).ordinary().margin_dusk
        };
        prop_assert!(margin_at(limit_c - 1.0) >= 0.0);
        if limit_c < pilotwire::link::HOTTEST_BOX_C {
            prop_assert!(margin_at(limit_c + 1.0) < 0.0);
        }
    }
}
