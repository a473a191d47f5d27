//! Every command gives the same least margin of the same aspect in the same case, on random yards.

use chrono::NaiveDate;
use pilotwire::check::check;
use pilotwire::link::{Verdict, following};
use pilotwire::report::{
    LinkReport, check_json, check_text, link_document, link_text, overview_json, sweep_json,
};
use pilotwire::schedule::plan;
use pilotwire::site::{LinkId, Site};
use pilotwire::sweep::{axes, sweep};
use proptest::prelude::*;
use serde_json::Value;

use crate::link_laws::{FEW, any_yard};
use crate::support::cases::cases;

fn parsed(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

/// The link, swept at its own loop resistance.
fn swept(site: &Site) -> Value {
    let id = LinkId(0);
    let ohm = site[id].measured_loop_ohm.unwrap();
    let axes = axes(site, &site[id], &[format!("loop={ohm}ohm")]).unwrap();
    parsed(&sweep_json(site, &sweep(site, id, axes, 1)))
}

proptest! {
    #![proptest_config(cases(200))]

    #[test]
    fn check_link_sweep_and_overview_name_one_least_margin(site in any_yard()) {
        let evening = NaiveDate::from_ymd_opt(2027, 3, 1).unwrap();
        let check = check(&site, evening, FEW).unwrap();
        let report = LinkReport { site: &site, check: &check, id: LinkId(0), runs: &[] };
        let tonight = plan(&site, evening..=evening, &following(&site).unwrap()).unwrap();
        let least = &parsed(&check_json(&site, &check))["links"][0]["least"];
        prop_assert!(least["margin"].is_f64() && least["case"]["mains"].is_string(), "{least}");
        prop_assert_eq!(&parsed(&link_document(&report))["link"]["least"], least);
        prop_assert_eq!(&parsed(&overview_json(&site, &check, &tonight))["links"][0]["least"], least);
        // A number that went through the words of the command line may differ in its last digit.
        let cell = &swept(&site)["cells"][0]["least"];
        prop_assert_eq!(&cell["aspect"], &least["aspect"]);
        prop_assert_eq!(&cell["case"], &least["case"]);
        for figure in ["margin", "volts", "limit"] {
            let (swept, checked) = (cell[figure].as_f64().unwrap(), least[figure].as_f64().unwrap());
            prop_assert!((swept - checked).abs() <= 1e-9 * checked.abs().max(1.0), "{figure}: {swept} {checked}");
        }
        // The words agree too, and a link that is a GO has no negative number.
        let in_words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let of_check = in_words(&check_text(&site, &check, false));
        let of_link = in_words(&link_text(&report, false).unwrap());
        let said = of_link.split("least margin ").nth(1).unwrap().split(')').next().unwrap();
        prop_assert!(of_check.contains(said), "{said}\n{of_check}");
        if report.verdict() == Verdict::Go {
            prop_assert!(!said.starts_with('−'), "{said}");
        }
    }
}
