//! The steps of letting go, coming on, and a shorted pair.

use crate::circuit::copper;
use crate::circuit::rectifier::{Method, Rectifier};
use crate::circuit::relay::{self, Charging};
use crate::circuit::supply::largest_blown_a;
use crate::link::{LinkCase, LinkJudgement, Outcome, Times};
use crate::site::{Link, Site};

use super::{Steps, given, trimmed};

pub(super) fn release(link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = judgement.ordinary();
    let warm = &case.warm;
    if let (Some(capacitor), true) = (link.capacitor, judgement.outcome() != Outcome::StaysDark)
        && link.rectifier != Rectifier::None
    {
        let release_v = link.relay.release_v * copper::factor(warm.coil_c);
        let by_hand_s = relay::release_time_s(
            warm.coil_ohm,
            capacitor.farad,
            warm.coil_v,
            release_v,
            link.relay.release_s,
        );
        steps.step(
            &format!(
                "t_release = {:.2} ohm × {} uF / 1e6 × ln({:.3} / {release_v:.4}) + {} ms / 1000 = {by_hand_s:.3} s with the guaranteed release voltage",
                warm.coil_ohm,
                trimmed(capacitor.farad * 1e6, 3),
                warm.coil_v,
                trimmed(link.relay.release_s * 1e3, 3),
            ),
            "the capacitor empties into the warm coil; release voltage at coil temperature; the sheet's own release time",
        );
    }
    if let Some(said) = said_of_drop_out(&judgement.times) {
        steps.step(
            &said,
            "circuit simulation, warm coil, over the phase of the mains; the range with capacitor, release voltage, mains and box all one way, then all the other",
        );
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
        "circuit simulation with the off-state voltage; guaranteed release at box temperature",
    );
}

fn said_of_drop_out(times: &Times) -> Option<String> {
    let band = times.drop_out?;
    let guaranteed = times.guaranteed_release_s.map_or_else(String::new, |s| {
        format!(", {s:.3} s with the guaranteed release voltage")
    });
    Some(format!(
        "simulated: opens {:.3} s after the master goes off{guaranteed}; {:.3} to {:.3} s in all",
        band.typical_s, band.least_s, band.most_s
    ))
}

/// From master on to the coil at its operate voltage, by hand [s]; `None` if it never is.
fn charge_s(site: &Site, link: &Link, case: &LinkCase) -> Option<f64> {
    let paper = &case.paper;
    if paper.coil_v < case.operate_v {
        return None;
    }
    let source_ohm = case.supply_ohm + case.loop_ohm;
    match (paper.method, link.capacitor) {
        (Method::Divider, Some(capacitor)) => {
            relay::charge_time_dc_s(source_ohm, capacitor.farad, paper.coil_v, case.operate_v)
        }
        (Method::ConductionAngle, Some(capacitor)) => relay::charge_time_ac_s(
            &Charging {
                source_ohm,
                coil_ohm: case.coil_ohm,
                capacitance_f: capacitor.farad,
                net_peak_v: paper.net_peak_v,
                pulses_per_period: paper.pulses_per_period,
                hz: site.mains.frequency_hz,
            },
            case.operate_v,
        ),
        // Nothing to charge.
        _ => None,
    }
}

pub(super) fn on_delay(site: &Site, link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = judgement.ordinary();
    let Some((delay_s, band)) = judgement.on_delay_s.zip(judgement.times.pull_in) else {
        return;
    };
    if let Some(charge_s) = charge_s(site, link, case) {
        let source_ohm = trimmed(case.supply_ohm + case.loop_ohm, 4);
        match (case.paper.method, link.capacitor) {
            (Method::Divider, Some(capacitor)) => steps.step(
                &format!(
                    "t_charge = {source_ohm} ohm × {} uF / 1e6 × ln({:.3} / ({:.3} − {:.3})) = {charge_s:.4} s",
                    trimmed(capacitor.farad * 1e6, 3),
                    case.paper.coil_v,
                    case.paper.coil_v,
                    case.operate_v,
                ),
                "the capacitor through the pair, an upper bound",
            ),
            _ => steps.step(
                &format!(
                    "t_charge = 1 / {} Hz + {:.4} s of charging pulses = {charge_s:.4} s at most",
                    site.mains.frequency_hz,
                    charge_s - 1.0 / site.mains.frequency_hz
                ),
                "a period for the wait for a crest; then the sum of C·dV over pulse current less coil current, which is beyond a pocket calculator",
            ),
        }
    }
    steps.step(
        &format!(
            "simulated: closes {:.4} s after the master comes on, {:.4} to {:.4} s in all",
            band.typical_s, band.least_s, band.most_s
        ),
        "circuit simulation: charge, rise of the coil current, travel of the armature, over the phase of the mains; the range as above",
    );
    let slave = site.switched(link);
    steps.step(
        &format!(
            "on delay = {:.4} + {} s bounce + {} s supply {} = {delay_s:.2} s",
            band.typical_s,
            trimmed(judgement.times.bounce_s, 4),
            trimmed(slave.start_s, 4),
            slave.name
        ),
        "the contact's bounce, from memory; the supply's start and rise",
    );
}

pub(super) fn short(site: &Site, link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = judgement.ordinary();
    let pair_ohm = crate::link::pair_ohm(site, link, site.temperatures.wire_c);
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
    steps.step(
        &format!(
            "short at the coil: {:.3} A at the lowest mains or supply voltage, which blows one up to {:.2} A; {:.3} A at the highest",
            judgement.coil_short_a.least,
            largest_blown_a(judgement.coil_short_a.least),
            judgement.coil_short_a.most
        ),
        "the simulation, all lamps lit; diodes and a series resistor leave so much",
    );
}
