//! The table of a link's cases.

use std::fmt::Write;

use crate::link::{LinkCase, LinkJudgement};
use crate::site::{Link, Site};

use super::super::supply_level;
use crate::text::wrap;
use crate::text::{signed, with_minus};

/// The cases that the verdict looks at, one line each.
pub(super) fn cases(site: &Site, link: &Link, judgement: &LinkJudgement, out: &mut String) {
    let heading = |out: &mut String, what: &str| {
        out.push('\n');
        wrap(out, "  ", "  ", what);
        for words in [
            [
                "", "box", "tap", "coil", "coil", "pulls", "dusk", "warm", "coil", "pulls",
                "restart",
            ],
            [
                "supply", "°C", "V", "ohm", "V", "in V", "%", "°C", "V", "in V", "%",
            ],
        ] {
            let [supply, rest @ ..] = words;
            let widths = [4, 6, 7, 6, 6, 6, 6, 6, 6, 7];
            let _ = write!(out, "  {supply:7}");
            for (word, width) in rest.into_iter().zip(widths) {
                let _ = write!(out, " {word:>width$}");
            }
            out.push('\n');
        }
    };
    let lines = |out: &mut String, cases: &[&LinkCase]| {
        let mut said: Vec<String> = Vec::new();
        for case in cases {
            let level = supply_level(site, link.master, case.case.mains);
            let row = format!(
                "  {:7} {:4.0} {:6.2} {:7.1} {:6.2} {:6.2} {:>6} {:6.1} {:6.2} {:6.2} {:>7}\n",
                level.trim_end_matches(" mains"),
                case.case.box_c,
                case.tap_v,
                case.coil_ohm,
                case.dusk.coil_v,
                case.operate_v,
                signed(case.margin_dusk * 100.0, 1),
                case.warm.coil_c,
                case.warm.coil_v,
                case.operate_warm_v,
                signed(case.margin_restart * 100.0, 1),
            );
            // Where all evenings are alike, one line stands for them.
            if !said.contains(&row) {
                out.push_str(&with_minus(&row));
                said.push(row);
            }
        }
    };
    heading(out, "the same for every case, rated parts");
    let grid: Vec<&LinkCase> = judgement.cases().map(|(_, _, case)| case).collect();
    lines(out, &grid);
    heading(
        out,
        "with parts against the link: least at dusk and on a hot restart, highest coil voltage, hottest coil",
    );
    lines(
        out,
        &[
            &judgement.judged.worst_dusk,
            &judgement.judged.worst_restart,
            &judgement.judged.highest,
            &judgement.judged.hottest_coil,
        ],
    );
}
