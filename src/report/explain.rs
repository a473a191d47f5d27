//! Every formula of a link with the numbers in it and where it comes from, for a pocket calculator.

use std::fmt::Write;

use crate::check::Check;
use crate::circuit::copper;
use crate::circuit::rectifier::{Method, Rectified};
use crate::circuit::wire::{Gauge, ohm_per_m};
use crate::link::LinkJudgement;
use crate::site::{Link, LinkId, Site, SupplyOutput};

use crate::text::wrap;
use crate::text::{signed, with_minus};

mod cases;
mod events;
mod times;

/// The ordinary case of every link, step by step, the order of events, and the values that the file leaves out.
pub(super) fn explain_text(site: &Site, check: &Check) -> String {
    let mut out = String::new();
    for (index, judgement) in check.links.iter().enumerate() {
        link_steps(site, LinkId(index), judgement, &mut out);
    }
    events::events_text(site, &check.chain, &mut out);
    if !site.assumed.is_empty() {
        out.push_str("\nnot stated in the file, taken as\n");
        for assumed in &site.assumed {
            wrap(&mut out, "  ", "    ", &assumed.to_string());
        }
    }
    out
}

/// The ordinary case of a link, step by step.
pub(super) fn link_steps(site: &Site, id: LinkId, judgement: &LinkJudgement, out: &mut String) {
    let link = &site[id];
    let _ = write!(
        out,
        "\nlink {} step by step (nominal mains, typical box, rated parts)\n",
        site.link_name(link)
    );
    let mut steps = Steps { out, number: 0 };
    tap(site, link, judgement, &mut steps);
    pair(site, link, judgement, &mut steps);
    coil(link, judgement, &mut steps);
    rectifier(site, link, judgement, &mut steps);
    margins(link, judgement, &mut steps);
    times::release(link, judgement, &mut steps);
    times::on_delay(site, link, judgement, &mut steps);
    times::short(site, link, judgement, &mut steps);
    cases::cases(site, link, judgement, out);
}

struct Steps<'a> {
    out: &'a mut String,
    number: u32,
}

impl Steps<'_> {
    /// One formula with numbers, and its source.
    fn step(&mut self, formula: &str, source: &str) {
        self.number += 1;
        wrap(
            self.out,
            &format!("{:>3}  ", self.number),
            "       ",
            &with_minus(formula),
        );
        wrap(self.out, "       [", "        ", &format!("{source}]"));
    }
}

fn tap(site: &Site, link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let supply = site[link.master].supply;
    let volts = judgement.ordinary().tap_v;
    match site[supply].output {
        SupplyOutput::Ac {
            no_load_v,
            full_load_v,
            rated_va,
        } => {
            let load_va = crate::link::load_va(site, supply);
            let [no_load_v, full_load_v, rated_va] = [no_load_v, full_load_v, rated_va].map(given);
            let spent = if volts > 0.0 {
                "with the near zone lit"
            } else {
                "at best: the supply is overloaded beyond what it can give"
            };
            steps.step(
                &format!(
                    "V_tap = {no_load_v} − ({no_load_v} − {full_load_v}) × {} VA / {rated_va} VA = {} V AC {spent}",
                    trimmed(load_va, 2),
                    trimmed(volts, 4)
                ),
                "linear regulation between the label's two points; mains low and high multiply it, high with the master zone alone lit",
            );
            steps.step(
                &format!(
                    "R_src = ({no_load_v} − {full_load_v}) × {full_load_v} / {rated_va} = {} ohm behind the tapping point",
                    trimmed(judgement.ordinary().supply_ohm, 4)
                ),
                "sag over the current that makes it",
            );
        }
        SupplyOutput::Dc { .. } => steps.step(
            &format!(
                "V_tap = {} V DC at the supply with its lamps lit",
                trimmed(volts, 4)
            ),
            "the site file: as measured or rated",
        ),
    }
}

fn pair(site: &Site, link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let loop_ohm = trimmed(judgement.ordinary().loop_ohm, 4);
    let resistor = if link.series_ohm > 0.0 {
        format!(" + {} ohm series resistor", given(link.series_ohm))
    } else {
        String::new()
    };
    if let Some(measured) = link.measured_loop_ohm {
        steps.step(
            &format!(
                "R_loop = {} ohm measured{resistor} = {loop_ohm} ohm",
                given(measured)
            ),
            "the site file; as warm as it was when measured",
        );
        return;
    }
    let cable = link.cable.expect("a link has a cable or a measured loop");
    let at_20 =
        ohm_per_m(cable.gauge, cable.stranding, copper::REFERENCE_C).expect("a size in the trade");
    let wire_c = given(site.temperatures.wire_c);
    let splices = if link.splices > 0 {
        format!(" + {} × {} ohm", link.splices, given(link.splice_ohm))
    } else {
        String::new()
    };
    let source = match cable.gauge {
        Gauge::Awg(_) => {
            "diameter of ASTM B258, 17.241 nohm·m of annealed copper; 0.00393 per kelvin from 20 °C"
        }
        Gauge::SquareMillimetres(_) => {
            "IEC 60228 maximum where it lists the size, else 17.241 nohm·m and 6 %; 0.00393 per kelvin from 20 °C"
        }
    };
    steps.step(
        &format!(
            "R_loop = 2 × {} m × {} ohm/km / 1000 × (1 + 0.00393 × ({wire_c} − 20)){splices}{resistor} = {loop_ohm} ohm",
            trimmed(cable.length_m, 3),
            trimmed(at_20 * 1000.0, 4)
        ),
        source,
    );
}

fn coil(link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = judgement.ordinary();
    steps.step(
        &format!(
            "R_coil = {} × (1 + 0.00393 × ({} − 20)) = {} ohm at box temperature",
            given(link.relay.coil_ohm),
            given(case.case.box_c),
            trimmed(case.coil_ohm, 4)
        ),
        "copper, 0.00393 per kelvin from 20 °C",
    );
}

fn rectifier(site: &Site, link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = judgement.ordinary();
    let dusk = &case.paper;
    let source_ohm = case.supply_ohm + case.loop_ohm;
    if dusk.diodes > 0 {
        let (at_a, which) = if dusk.method == Method::ConductionAngle {
            (dusk.peak_a, "the peak of the charging pulse")
        } else {
            (dusk.coil_a, "the coil's current")
        };
        let diode_c = case.case.box_c;
        steps.step(
            &format!(
                "V_f = {:.4} mV × ln(1 + {:.3} mA / {:.5} nA) + {:.3} mA × {} ohm = {:.4} V for {} at {} °C",
                link.diode.junction_at(diode_c).slope_v * 1e3,
                at_a * 1e3,
                link.diode.junction_at(diode_c).saturation_a * 1e9,
                at_a * 1e3,
                trimmed(link.diode.series_ohm, 5),
                dusk.diode_drop_v,
                link.diode_name,
                given(diode_c)
            ),
            &format!("N·V_T × ln(1 + I/I_s) + I·R_d, the junction law with the type's model constants; I is {which} below, found together with V_f"),
        );
    }
    match dusk.method {
        Method::ConductionAngle => conduction(source_ohm, case.coil_ohm, dusk, steps),
        Method::Divider => steps.step(
            &format!(
                "V_coil = ({} − {} × {:.4}) / (1 + {} / {}) = {:.2} V, {:.2} mA",
                trimmed(dusk.peak_v, 4),
                dusk.diodes,
                dusk.diode_drop_v,
                trimmed(source_ohm, 5),
                trimmed(case.coil_ohm, 4),
                dusk.coil_v,
                dusk.coil_a * 1e3
            ),
            "voltage divider behind the diodes; R_s = R_loop",
        ),
        Method::RectifiedMean => {
            let p = f64::from(dusk.pulses_per_period);
            steps.step(
                &format!(
                    "V_coil = ({} / 3.14159 × 1.41421 × {} − {} × {:.4}) / (1 + {} × {} / {}) = {:.2} V, {:.2} mA: no capacitor smooths it",
                    dusk.pulses_per_period,
                    trimmed(case.tap_v, 4),
                    dusk.diodes,
                    dusk.diode_drop_v,
                    p / 2.0,
                    trimmed(source_ohm, 5),
                    trimmed(case.coil_ohm, 4),
                    dusk.coil_v,
                    dusk.coil_a * 1e3
                ),
                "mean of the rectified sine less the drops, textbook; R_s = R_src + R_loop",
            );
        }
        Method::BareAlternating => {
            steps.step("V_coil = 0 V: AC on a DC coil has no mean", "textbook");
        }
    }
    if let Some(capacitor) = link.capacitor
        && dusk.ripple_v > 0.0
    {
        steps.step(
            &format!(
                "ripple ≤ I / ({} × f × C) = {:.2} mA / ({} × {} Hz × {} uF) × 1000 = {:.2} V",
                dusk.pulses_per_period,
                dusk.coil_a * 1e3,
                dusk.pulses_per_period,
                given(site.mains.frequency_hz),
                trimmed(capacitor.farad * 1e6, 3),
                dusk.ripple_v
            ),
            "charge between two pulses, an upper bound",
        );
    }
}

fn conduction(source_ohm: f64, coil_ohm: f64, dusk: &Rectified, steps: &mut Steps<'_>) {
    steps.step(
        &format!(
            "V_m = 1.41421 × {} − {} × {:.4} = {:.3} V",
            trimmed(dusk.peak_v / std::f64::consts::SQRT_2, 4),
            dusk.diodes,
            dusk.diode_drop_v,
            dusk.net_peak_v
        ),
        "peak less the diodes in the path",
    );
    let factor = std::f64::consts::PI / f64::from(dusk.pulses_per_period);
    let source = trimmed(source_ohm, 5);
    steps.step(
        &format!(
            "x = {factor:.5} × R_s / R_coil = {factor:.5} × {source} / {} = {:.6}; tan θ − θ = x gives θ = {:.4}, cos θ = {:.5}",
            trimmed(coil_ohm, 4),
            dusk.x,
            dusk.theta_rad,
            dusk.cos_theta
        ),
        "conduction angle of a capacitor-input rectifier behind a resistance, as in Schade, Proc. IRE 1943; R_s = R_src + R_loop; θ in radians, by hand y = (3x)^⅓, θ ≈ y(1 − 2y²/15), close for x below 0.1",
    );
    steps.step(
        &format!(
            "V_coil = V_m × cos θ = {:.2} V, {:.2} mA; peak I = {:.3} × (1 − {:.5}) / {source} = {:.0} mA",
            dusk.coil_v,
            dusk.coil_a * 1e3,
            dusk.net_peak_v,
            dusk.cos_theta,
            dusk.peak_a * 1e3
        ),
        "same; within 0.3 V of circuit simulation where it holds. Not √2·V − 1.4 − I·R: the capacitor charges in pulses far above the mean current",
    );
}

fn margins(link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = judgement.ordinary();
    let dusk = &case.dusk;
    let outside = if case.paper.outside.is_empty() {
        ""
    } else {
        ", outside its range"
    };
    steps.step(
        &format!(
            "simulated: V_coil = {:.3} V, {:.3} V at the foot of {:.2} V of ripple; diode peak {:.0} mA, capacitor {:.0} mA RMS; by hand {} V{outside}",
            dusk.coil_v,
            dusk.trough_v,
            dusk.ripple_v,
            dusk.diode_peak_a * 1e3,
            dusk.capacitor_ripple_a * 1e3,
            signed(case.paper.coil_v - dusk.coil_v, 2)
        ),
        "circuit simulation: the lamps' load behind the supply's resistance, exponential diodes, capacitor with ESR, coil; it counts, the steps above check it",
    );
    let margin = |coil_v: f64, operate_v: f64, margin: f64| {
        format!(
            "{coil_v:.3} / {operate_v:.3} − 1 = {} %",
            signed(margin * 100.0, 1)
        )
    };
    steps.step(
        &format!(
            "V_operate = {} × (1 + 0.00393 × ({} − 20)) = {:.3} V; dusk margin = {}",
            given(link.relay.operate_v),
            given(case.case.box_c),
            case.operate_v,
            margin(case.dusk.coil_v, case.operate_v, case.margin_dusk)
        ),
        "relays pull in at a current, so the voltage goes with the copper",
    );
    steps.step(
        &format!(
            "T_coil = {} + {} K/W × {:.3}² / {:.3} = {:.1} °C, where R_coil = {:.3} ohm and the simulation gives V_coil = {:.3} V",
            given(case.case.box_c),
            given(link.relay.thermal_k_per_w),
            case.warm.coil_v,
            case.warm.coil_ohm,
            case.warm.coil_c,
            case.warm.coil_ohm,
            case.warm.coil_v
        ),
        "heat of the coil through its thermal resistance, repeated until it settles",
    );
    steps.step(
        &format!(
            "V_operate = {} × (1 + 0.00393 × ({:.3} − 20)) = {:.3} V warm; restart margin = {}",
            given(link.relay.operate_v),
            case.warm.coil_c,
            case.operate_warm_v,
            margin(case.warm.coil_v, case.operate_warm_v, case.margin_restart)
        ),
        "as at dusk, at the coil's own temperature",
    );
}

/// A number of the file, without the digits that a change of units or a default's share adds.
fn given(value: f64) -> String {
    trimmed(value, 5)
}

/// A number with at most so many decimals, no zeros at the end.
fn trimmed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
