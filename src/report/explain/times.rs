//! The steps of letting go, coming on, and a shorted pair.

use crate::chain::{LinkJudgement, Outcome};
use crate::circuit::copper;
use crate::circuit::rectifier::{Method, Rectifier};
use crate::circuit::supply::largest_blown_a;
use crate::site::{Link, Site};

use super::{Steps, given, trimmed};

pub(super) fn release(link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = &judgement.ordinary;
    let warm = &case.warm;
    let factor = copper::factor(warm.coil_c);
    if judgement.outcome() != Outcome::StaysDark {
        match link.capacitor {
            // Without a diode the lamps empty it as well; the latest time does without them.
            Some(capacitor) => steps.step(
                &format!(
                    "t_release = {:.2} ohm × {} uF / 1e6 × ln({:.3} / {:.4}) + {} ms / 1000 = {:.3} s at the latest{}",
                    warm.coil_ohm,
                    trimmed(capacitor.farad * 1e6, 3),
                    warm.coil_v,
                    link.relay.release_v * factor,
                    trimmed(link.relay.release_s * 1e3, 3),
                    judgement.release_s.latest_s,
                    if link.rectifier == Rectifier::None {
                        format!("; {:.3} s typical, the lamps empty it too", judgement.release_s.typical_s)
                    } else {
                        format!(
                            "; {:.3} s typical, with {:.4} V in the place of {:.4} V",
                            judgement.release_s.typical_s,
                            link.relay.typical_release_v * factor,
                            link.relay.release_v * factor
                        )
                    }
                ),
                "the capacitor empties into the warm coil; release voltages at coil temperature; the sheet's own release time",
            ),
            None => steps.step(
                &format!(
                    "t_release = {:.3} s at the latest, {:.3} s typical: no capacitor holds it",
                    judgement.release_s.latest_s, judgement.release_s.typical_s
                ),
                "the current dies in the coil's inductance where it is stated; the sheet's own release time",
            ),
        }
    }
    steps.step(
        &format!(
            "residual: {} V on the pair with the master off leaves {:.2} V on the coil; it surely lets go below {} × (1 + 0.00393 × ({} − 20)) = {:.3} V",
            given(link.off_state_v),
            case.residual_v,
            given(link.relay.release_v),
            given(case.case.box_c),
            case.release_v
        ),
        "same method with the off-state voltage; guaranteed release at box temperature",
    );
}

pub(super) fn on_delay(site: &Site, link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = &judgement.ordinary;
    if let Some((delay_s, charge_s)) = judgement
        .on_delay_s
        .zip(crate::chain::charge_s(site, link, case))
    {
        let slave = &site[site[link.slave].supply];
        let source_ohm = trimmed(case.supply_ohm + case.loop_ohm, 4);
        let charge = match (case.dusk.method, link.capacitor) {
            (Method::Divider, Some(capacitor)) => format!(
                "{source_ohm} ohm × {} uF / 1e6 × ln({:.3} / ({:.3} − {:.3})) = {:.4} s",
                trimmed(capacitor.farad * 1e6, 3),
                case.dusk.coil_v,
                case.dusk.coil_v,
                case.operate_v,
                charge_s
            ),
            (Method::ConductionAngle, _) => format!(
                "1 / {} Hz + {:.4} s of charging pulses = {charge_s:.4} s",
                site.mains.frequency_hz,
                charge_s - 1.0 / site.mains.frequency_hz
            ),
            _ => format!("{charge_s:.4} s"),
        };
        steps.step(&format!("t_charge = {charge}"), match case.dusk.method {
            Method::ConductionAngle => "a period for the wait for a crest; then the sum of C·dV over pulse current less coil current, worked out in small steps, which is beyond a pocket calculator",
            Method::Divider => "the capacitor through the pair, an upper bound",
            _ => "a period for the wait for a crest",
        });
        steps.step(
            &format!(
                "on delay = {charge_s:.4} + {} s relay + {} s supply {} = {delay_s:.2} s",
                trimmed(link.relay.operate_s, 4),
                trimmed(slave.start_s, 4),
                slave.name
            ),
            "the sheet's operate time; the supply's start and rise",
        );
    }
}

pub(super) fn short(site: &Site, link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = &judgement.ordinary;
    let pair_ohm = crate::chain::pair_ohm(site, link);
    let fused = if case.supply_ohm > 0.0 {
        format!(
            "; with R_src {} A, which",
            trimmed(judgement.sagging_short_a, 3)
        )
    } else {
        ", which".into()
    };
    steps.step(
        &format!(
            "short at the far end: {} V / {} ohm = {:.3} A{fused} blows a time-lag fuse up to {:.2} A",
            trimmed(case.tap_v, 4),
            trimmed(pair_ohm, 5),
            judgement.short_a,
            largest_blown_a(judgement.sagging_short_a)
        ),
        "2.75 times its rating blows it within seconds, IEC 60127-2, from memory",
    );
}
