//! Every formula of a link with the numbers in it and where it comes from, for a pocket calculator.

use std::fmt::Write;

use crate::chain::LinkJudgement;
use crate::check::Check;
use crate::circuit::copper;
use crate::circuit::rectifier::{Method, Rectified};
use crate::circuit::wire::{Gauge, ohm_per_m};
use crate::site::{Link, LinkId, Site, SupplyOutput};

use super::with_minus;
use super::wrap::wrap;

/// The ordinary case of every link, step by step, and the values that the file leaves out.
pub(super) fn explain_text(site: &Site, check: &Check) -> String {
    let mut out = String::new();
    for (index, judgement) in check.links.iter().enumerate() {
        let link = &site[LinkId(index)];
        let _ = write!(
            out,
            "\nlink {} step by step (nominal mains, typical box, rated parts)\n",
            site.link_name(link)
        );
        let mut steps = Steps {
            out: &mut out,
            number: 0,
        };
        tap(site, link, judgement, &mut steps);
        pair(site, link, judgement, &mut steps);
        coil(link, judgement, &mut steps);
        rectifier(site, link, judgement, &mut steps);
        margins(link, judgement, &mut steps);
        release(site, link, judgement, &mut steps);
    }
    if !site.assumed.is_empty() {
        out.push_str("\nnot stated in the file, taken as\n");
        for assumed in &site.assumed {
            wrap(&mut out, "  ", "    ", &assumed.to_string());
        }
    }
    out
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
    let volts = judgement.ordinary.tap_v;
    match site[supply].output {
        SupplyOutput::Ac {
            no_load_v,
            full_load_v,
            rated_va,
        } => {
            let load_va = crate::chain::load_va(site, supply);
            steps.step(
                &format!("V_tap = {no_load_v} − ({no_load_v} − {full_load_v}) × {load_va:.1} VA / {rated_va} VA = {volts:.2} V AC with the near zone lit"),
                "linear regulation between the label's two points; mains low and high multiply it",
            );
            steps.step(
                &format!(
                    "R_src = ({no_load_v} − {full_load_v}) × {full_load_v} / {rated_va} = {:.3} ohm behind the tapping point",
                    judgement.ordinary.supply_ohm
                ),
                "sag over the current that makes it",
            );
        }
        SupplyOutput::Dc { .. } => steps.step(
            &format!("V_tap = {volts:.2} V DC at the supply with its lamps lit"),
            "the site file: as measured or rated",
        ),
    }
}

fn pair(site: &Site, link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let loop_ohm = judgement.ordinary.loop_ohm;
    let resistor = if link.series_ohm > 0.0 {
        format!(" + {} ohm series resistor", link.series_ohm)
    } else {
        String::new()
    };
    let (Some(cable), None) = (link.cable, link.measured_loop_ohm) else {
        let measured = link.measured_loop_ohm.unwrap_or_default();
        steps.step(
            &format!("R_loop = {measured} ohm measured{resistor} = {loop_ohm:.3} ohm"),
            "the site file",
        );
        return;
    };
    let at_20 =
        ohm_per_m(cable.gauge, cable.stranding, copper::REFERENCE_C).expect("a size in the trade");
    let wire_c = site.temperatures.wire_c;
    let source = match cable.gauge {
        Gauge::Awg(_) => "ASTM B258 diameter, 17.241 nohm·m annealed copper; 0.00393 per kelvin",
        Gauge::SquareMillimetres(_) => {
            "IEC 60228 maximum where it lists the size; 0.00393 per kelvin"
        }
    };
    steps.step(
        &format!(
            "R_loop = 2 × {:.2} m × {:.5} ohm/m × (1 + 0.00393 × ({wire_c} − 20)) + {} × {} ohm{resistor} = {loop_ohm:.3} ohm",
            cable.length_m, at_20, link.splices, link.splice_ohm
        ),
        source,
    );
}

fn coil(link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = &judgement.ordinary;
    steps.step(
        &format!(
            "R_coil = {} × (1 + 0.00393 × ({} − 20)) = {:.1} ohm at box temperature",
            link.relay.coil_ohm, case.case.box_c, case.coil_ohm
        ),
        "copper, 0.00393 per kelvin from 20 °C",
    );
}

fn rectifier(site: &Site, link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = &judgement.ordinary;
    let dusk = &case.dusk;
    let source_ohm = case.supply_ohm + case.loop_ohm;
    if dusk.diodes > 0 {
        let at = if dusk.method == Method::Divider {
            dusk.coil_a
        } else {
            dusk.peak_a
        };
        steps.step(
            &format!(
                "V_f = N·V_T·ln(1 + I/I_s) + I·R_d = {:.3} V for {} at {:.0} mA and {} °C",
                dusk.diode_drop_v,
                link.diode_name,
                at * 1000.0,
                case.case.box_c
            ),
            "junction law with the type's model constants, at the peak of the charging pulse on AC",
        );
    }
    match dusk.method {
        Method::ConductionAngle => conduction(source_ohm, case.coil_ohm, dusk, steps),
        Method::Divider => steps.step(
            &format!(
                "V_coil = ({:.2} − {} × {:.3}) / (1 + {source_ohm:.3} / {:.1}) = {:.2} V",
                dusk.peak_v, dusk.diodes, dusk.diode_drop_v, case.coil_ohm, dusk.coil_v
            ),
            "voltage divider behind the diodes",
        ),
        Method::RectifiedMean => steps.step(
            &format!("V_coil = mean of the rectified sine less the drops = {:.2} V: no capacitor smooths it", dusk.coil_v),
            "textbook",
        ),
        Method::BareAlternating => steps.step("V_coil = 0 V: AC on a DC coil has no mean", "textbook"),
    }
    if let Some(capacitor) = link.capacitor
        && dusk.ripple_v > 0.0
    {
        steps.step(
            &format!(
                "ripple ≤ I / ({} × f × C) = {:.1} mA / ({} × {} Hz × {:.0} uF) = {:.2} V",
                dusk.pulses_per_period,
                dusk.coil_a * 1000.0,
                dusk.pulses_per_period,
                site.mains.frequency_hz,
                capacitor.farad * 1e6,
                dusk.ripple_v
            ),
            "charge between two pulses, an upper bound",
        );
    }
}

fn conduction(source_ohm: f64, coil_ohm: f64, dusk: &Rectified, steps: &mut Steps<'_>) {
    steps.step(
        &format!(
            "V_m = 1.41421 × {:.2} − {} × {:.3} = {:.2} V",
            dusk.peak_v / std::f64::consts::SQRT_2,
            dusk.diodes,
            dusk.diode_drop_v,
            dusk.net_peak_v
        ),
        "peak less the diodes in the path",
    );
    let factor = std::f64::consts::PI / f64::from(dusk.pulses_per_period);
    steps.step(
        &format!(
            "x = {factor:.4} × R_s / R_coil = {factor:.4} × {source_ohm:.3} / {coil_ohm:.1} = {:.5}; tan θ − θ = x gives θ = {:.4}, cos θ = {:.4} (start: y = (3x)^⅓, θ ≈ y(1 − 2y²/15))",
            dusk.x, dusk.theta_rad, dusk.cos_theta
        ),
        "conduction angle of a capacitor-input rectifier behind a resistance, as in Schade, Proc. IRE 1943; R_s = R_src + R_loop",
    );
    steps.step(
        &format!(
            "V_coil = V_m × cos θ = {:.2} V, {:.1} mA; pulses of {:.0} mA peak. (Not √2·V − 1.4 − I·R: the capacitor charges in pulses far above the mean current)",
            dusk.coil_v,
            dusk.coil_a * 1000.0,
            dusk.peak_a * 1000.0
        ),
        "same; within 0.3 V of circuit simulation where it holds",
    );
}

fn margins(link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = &judgement.ordinary;
    steps.step(
        &format!(
            "V_operate = {} × (1 + 0.00393 × ({} − 20)) = {:.2} V; dusk margin = {:.2} / {:.2} − 1 = {:+.1} %",
            link.relay.operate_v,
            case.case.box_c,
            case.operate_v,
            case.dusk.coil_v,
            case.operate_v,
            case.margin_dusk * 100.0
        ),
        "relays pull in at a current, so the voltage goes with the copper",
    );
    steps.step(
        &format!(
            "T_coil = {} + {} K/W × {:.2}² / {:.1} = {:.1} °C; there V_coil = {:.2} V, V_operate = {:.2} V; restart margin = {:+.1} %",
            case.case.box_c,
            link.relay.thermal_k_per_w,
            case.warm.coil_v,
            case.warm.coil_ohm,
            case.warm.coil_c,
            case.warm.coil_v,
            case.operate_warm_v,
            case.margin_restart * 100.0
        ),
        "heat of the coil through its thermal resistance, repeated until it settles",
    );
}

fn release(site: &Site, link: &Link, judgement: &LinkJudgement, steps: &mut Steps<'_>) {
    let case = &judgement.ordinary;
    let warm = &case.warm;
    let factor = copper::factor(warm.coil_c);
    if let Some(capacitor) = link.capacitor {
        steps.step(
            &format!(
                "t_release = {:.1} ohm × {:.0} uF × ln({:.2} / {:.2}) + {:.0} ms = {:.3} s at the latest; {:.3} s with the typical release voltage of {:.2} V",
                warm.coil_ohm,
                capacitor.farad * 1e6,
                warm.coil_v,
                link.relay.release_v * factor,
                link.relay.release_s * 1000.0,
                judgement.release_s.latest_s,
                judgement.release_s.typical_s,
                link.relay.typical_release_v * factor
            ),
            "the capacitor empties into the warm coil; release voltages at coil temperature",
        );
    }
    steps.step(
        &format!(
            "residual: {} V on the pair with the master off leaves {:.2} V on the coil; it lets go below {:.2} V",
            link.off_state_v, case.residual_v, case.release_v
        ),
        "same method with the off-state voltage; guaranteed release at box temperature",
    );
    if let Some(delay_s) = judgement.on_delay_s {
        let slave = &site[site[link.slave].supply];
        steps.step(
            &format!(
                "on delay = capacitor charged and contact closed {:.3} s + supply {} up {:.3} s = {delay_s:.2} s",
                delay_s - slave.start_s,
                slave.name,
                slave.start_s
            ),
            "one mains period for the wait for a crest, the charging pulses, the sheet's operate time",
        );
    }
    steps.step(
        &format!(
            "short at the far end: {:.2} V / {:.2} ohm = {:.2} A; a time-lag fuse up to {:.2} A sees it",
            case.tap_v,
            case.tap_v / judgement.short_a,
            judgement.short_a,
            crate::circuit::supply::largest_blown_a(judgement.short_a)
        ),
        "2.75 times its rating blows it within seconds, IEC 60127-2, from memory",
    );
}
