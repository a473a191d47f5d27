//! Every row of the table of worked values lies within its own tolerance.

use std::collections::HashMap;

use serde_json::Value;

use crate::support::scenarios::assert_all_within_tolerance;

use super::program::{COPPERLEAF, FJORDSTRAND, LOS_TEROS, OCOTILLO, judged, link, number, with};

/// The site file of a case.
fn site_of(site: &str, case: &str) -> String {
    match site {
        "copperleaf" if case.starts_with("with 22 ohm") => with(
            COPPERLEAF,
            "relay = \"r400\"",
            "series_resistor = \"22 ohm\"\nrelay = \"r400\"",
        ),
        "copperleaf" => COPPERLEAF.into(),
        "fjordstrand" => FJORDSTRAND.into(),
        "los_teros" => match case {
            "relay 720 ohm" => with(LOS_TEROS, "relay = \"r90\"", "relay = \"r720\""),
            "relay 400 ohm" => with(LOS_TEROS, "relay = \"r90\"", "relay = \"r400\""),
            "wire 1.5 mm2, relay 90 ohm" => {
                with(LOS_TEROS, "wire = \"0.5 mm2\"", "wire = \"1.5 mm2\"")
            }
            _ => LOS_TEROS.into(),
        },
        "ocotillo" => {
            let box_c: u32 = case
                .strip_prefix("box ")
                .and_then(|rest| rest.split(' ').next())
                .and_then(|celsius| celsius.parse().ok())
                .unwrap();
            // The wire is as warm as the box, but never above 40 °C.
            let wire_c = box_c.min(40);
            let site = with(
                OCOTILLO,
                "typical = \"20 C\"",
                &format!("typical = \"{box_c} C\""),
            );
            let site = with(&site, "wire = \"40 C\"", &format!("wire = \"{wire_c} C\""));
            if case.contains("720 ohm, one diode") {
                remedied_ocotillo(&site)
            } else {
                site
            }
        }
        _ => panic!("no site {site}"),
    }
}

/// A sensitive relay behind one diode.
pub(crate) fn remedied_ocotillo(site: &str) -> String {
    let site = with(
        site,
        "rectifier = \"bridge\"",
        "rectifier = \"single-diode\"",
    );
    with(&site, "relay = \"r400\"", "relay = \"r720\"")
}

/// The mains level of a case.
fn mains_of(case: &str) -> &'static str {
    if case.contains("mains -10%") || case.ends_with("11.4") {
        "low"
    } else if case.contains("mains +10%") {
        "high"
    } else {
        "nominal"
    }
}

/// A quantity of the table, from a case of the grid.
fn quantity(case: &Value, name: &str) -> f64 {
    match name {
        "source_resistance" => number(&case["loop_ohm"]),
        "coil_resistance" => number(&case["coil_ohm"]),
        "coil_voltage" => number(&case["coil_v"]),
        "coil_voltage_min" => number(&case["coil_least_v"]),
        "pair_current_rms" => 1000.0 * number(&case["pair_rms_a"]),
        "pull_in_voltage" => number(&case["operate_v"]),
        "dusk_margin" => 100.0 * number(&case["margin_dusk"]),
        "coil_temperature_hot" => number(&case["hot_coil_c"]),
        "restart_margin" => 100.0 * number(&case["margin_restart"]),
        other => panic!("no quantity {other}"),
    }
}

#[test]
fn every_row_lies_within_its_tolerance() {
    let mut sites: HashMap<String, Value> = HashMap::new();
    assert_all_within_tolerance(|row| {
        let json = sites
            .entry(site_of(&row.site, &row.case))
            .or_insert_with_key(|text| judged(text));
        let at = link(json, &row.link)["cases"]
            .as_array()
            .unwrap()
            .iter()
            .find(|at| at["mains"] == mains_of(&row.case) && at["temperature"] == "typical")
            .unwrap();
        quantity(at, &row.quantity)
    });
}

#[test]
fn the_short_form_of_a_link_is_its_ordinary_case() {
    for site in [COPPERLEAF, FJORDSTRAND, LOS_TEROS, OCOTILLO] {
        let json = judged(site);
        for link in json["links"].as_array().unwrap() {
            let cases = link["cases"].as_array().unwrap();
            assert_eq!(cases.len(), 9);
            let typical = |mains: &str| {
                cases
                    .iter()
                    .find(|case| case["mains"] == mains && case["temperature"] == "typical")
                    .unwrap()
            };
            let ordinary = typical("nominal");
            for key in [
                "loop_ohm",
                "coil_ohm",
                "tap_v",
                "operate_v",
                "release_v",
                "margin_dusk",
                "margin_restart",
                "ripple_v",
                "residual_v",
                "outcome",
            ] {
                assert_eq!(link[key], ordinary[key], "{key}");
            }
            for mains in ["low", "nominal", "high"] {
                assert_eq!(link["coil_v"][mains], typical(mains)["coil_v"]);
            }
        }
    }
}
