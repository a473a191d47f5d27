//! One link for scripts.

use serde::Serialize;

use super::LinkReport;
use crate::link::Outcome;
use crate::report::check::{LinkJson, link_json};
use crate::report::json;

#[derive(Serialize)]
struct ReportJson<'a> {
    site: &'a str,
    link: LinkJson<'a>,
    runs: Vec<RunJson>,
}

#[derive(Serialize)]
struct RunJson {
    case: String,
    box_c: f64,
    coil_c: f64,
    outcome: String,
    coil_v: f64,
    trough_v: f64,
    peak_v: f64,
    coil_a: f64,
    diode_peak_a: f64,
    inrush_a: f64,
    capacitor_ripple_a: f64,
    pair_rms_a: f64,
    pull_in_s: Option<f64>,
    drop_out_s: Option<f64>,
    opens_while_on: u32,
}

/// The same for scripts: the link's object of `check`, and one object per case.
pub fn link_document(report: &LinkReport<'_>) -> String {
    let runs = report.runs.iter().map(|run| {
        let (transient, window) = (&run.transient, &run.transient.window);
        let outcome = match (transient.pull_in_s, transient.closed_at_end) {
            _ if transient.keeps_letting_go() => Outcome::Chatters,
            (None, _) => Outcome::StaysDark,
            (Some(_), true) => Outcome::StaysLit,
            (Some(_), false) => Outcome::Follows,
        };
        RunJson {
            case: run.said(),
            box_c: run.corner.box_c,
            coil_c: run.corner.coil_c,
            outcome: outcome.to_string(),
            coil_v: window.coil_mean_v,
            trough_v: window.dc_trough_v,
            peak_v: window.dc_peak_v,
            coil_a: window.coil_mean_a,
            diode_peak_a: window.rectifier_peak_a,
            inrush_a: transient.inrush_a,
            capacitor_ripple_a: window.capacitor_rms_a,
            pair_rms_a: window.wire_rms_a,
            pull_in_s: transient.pull_in_s,
            drop_out_s: transient.drop_out_s,
            opens_while_on: transient.opens_while_on,
        }
    });
    json(&ReportJson {
        site: &report.site.name,
        link: link_json(report.site, report.id, report.judgement(), report.check),
        runs: runs.collect(),
    })
}
