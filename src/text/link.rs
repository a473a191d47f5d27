//! A case of a link, its margins, and why the calculation by hand does not hold.

use crate::circuit::rectifier::OutsideRange;
use crate::link::{LinkCase, LinkJudgement};
use crate::site::{Link, Site};

use super::{celsius, signed, volts};

/// How much lower the voltage may be where the source is too stiff for the method [V]: 0.3 V, from
/// circuit simulation.
const STIFF_DOUBT_V: f64 = 0.3;

/// `low mains`, or volts for a DC feed.
pub(crate) fn feed_said(site: &Site, link: &Link, case: &LinkCase) -> String {
    if site.feeding(link).is_ac() {
        format!("{} mains", case.case.mains.name())
    } else {
        format!("supply at {} V DC", volts(case.tap_v))
    }
}

/// `low mains, box 35 °C`.
pub(crate) fn said(site: &Site, link: &Link, case: &LinkCase) -> String {
    format!(
        "{}, box {}",
        feed_said(site, link, case),
        celsius(case.case.box_c)
    )
}

/// `+5.9 V (+67 %)`.
fn margin(coil_v: f64, operate_v: f64, margin: f64) -> String {
    format!(
        "{} V ({} %)",
        signed(coil_v - operate_v, 1),
        signed(margin * 100.0, 0)
    )
}

pub(crate) fn dusk(case: &LinkCase) -> String {
    margin(case.dusk.coil_v, case.operate_v, case.margin_dusk)
}

pub(crate) fn restart(case: &LinkCase) -> String {
    margin(case.warm.coil_v, case.operate_warm_v, case.margin_restart)
}

/// The case with the least margin, in words.
pub(crate) fn weakest(site: &Site, link: &Link, judgement: &LinkJudgement) -> String {
    let (what, case, margin) =
        if judgement.worst_restart.margin_restart < judgement.worst_dusk.margin_dusk {
            (
                "hot restart",
                &judgement.worst_restart,
                restart(&judgement.worst_restart),
            )
        } else {
            ("dusk", &judgement.worst_dusk, dusk(&judgement.worst_dusk))
        };
    format!(
        "{margin} at {what}, {}, parts at their worst",
        said(site, link, case)
    )
}

/// Why the calculation by hand does not hold.
pub(crate) fn outside_said(outside: OutsideRange) -> String {
    match outside {
        OutsideRange::CapacitorTooSmall { intervals, least } => format!(
            "outside the range of the calculation by hand: the capacitor holds for {intervals:.1} charging intervals, it takes {least:.0}; the true mean voltage is lower"
        ),
        OutsideRange::SourceTooStiff { source_ohm, least_ohm } => format!(
            "outside the range of the calculation by hand: {source_ohm:.2} ohm before the rectifier, it takes {least_ohm:.0} ohm; the true voltage is up to {STIFF_DOUBT_V} V lower"
        ),
        OutsideRange::NoCapacitor => {
            "outside the range of the calculation by hand: without a capacitor the relay may buzz or chatter".into()
        }
        OutsideRange::NoRectifierOnAc => {
            "outside the range of the calculation by hand: a DC coil on AC only buzzes, and an electrolytic capacitor across it bursts".into()
        }
    }
}
