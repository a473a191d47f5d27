//! A coil that gets more than it may have continuously, and the resistor that takes it off: S22.

use crate::circuit::series_resistor::{self, Loaded, SeriesResistor};
use crate::link::{Case, LinkJudgement, remedies, work_out};
use crate::site::{Link, Site};
use crate::text::{celsius, said, signed, volts};

use super::super::{Code, Level, Notes};

/// Part of the limit left in hand by a proposed resistor: its own tolerance, and that of the label's
/// voltages (common practice).
const IN_HAND: f64 = 0.04;

pub(super) fn over_voltage(site: &Site, link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let high = &judgement.highest;
    let coil_v = high.dusk.coil_v.max(high.warm.coil_v);
    let relay = &link.relay;
    let hottest = &judgement.hottest_coil;
    if coil_v > relay.max_coil_v {
        let place = format!("relay {}", relay.name);
        let unstated = site
            .assumed
            .iter()
            .any(|value| value.key == "max_coil_voltage" && value.place == place);
        let stated = if unstated {
            " (not stated, 110 % is usual)"
        } else {
            ""
        };
        notes.add(
            Code::S22,
            Level::Warn,
            format!(
                "coil over-voltage: {coil_v:.1} V ({}, parts at their worst), {:.0} % of rated; the limit is {} V continuous{stated}. {}",
                said(site, link, high),
                coil_v / relay.rated_v * 100.0,
                volts(relay.max_coil_v),
                if unstated {
                    format!("Look it up on the relay's sheet and write `max_coil_voltage`. {}", cure(site, link, judgement))
                } else {
                    cure(site, link, judgement)
                }
            ),
        );
    }
    if hottest.warm.coil_c > relay.max_coil_c {
        // Beyond it on an ordinary evening with rated parts, it does not last.
        let always = judgement.ordinary.warm.coil_c > relay.max_coil_c;
        notes.add(
            Code::S22,
            if always { Level::Stop } else { Level::Warn },
            format!(
                "coil too hot: {} ({}, parts at their worst), the limit is {}. A series resistor, a relay with more ohms or a cooler box helps",
                celsius(hottest.warm.coil_c),
                said(site, link, hottest),
                celsius(relay.max_coil_c)
            ),
        );
    }
}

/// The resistor, and what it leaves of the margins.
fn cure(site: &Site, link: &Link, judgement: &LinkJudgement) -> String {
    let Some(part) = resistor(site, link, judgement) else {
        return format!(
            "No series resistor brings it down: {}",
            other_relay(site, link)
        );
    };
    let rating = part
        .rating_w
        .map_or("25 W or more".into(), |watt| format!("{watt} W"));
    let with = with_resistor(link, part.ohm);
    let at = |case: Case| work_out(site, &with, case).ok();
    let margins = at(judgement.worst_dusk.case).zip(at(judgement.worst_restart.case));
    let Some((dusk, restart)) = margins else {
        return format!(
            "No series resistor can be judged: {}",
            other_relay(site, link)
        );
    };
    let (dusk, restart) = (dusk.margin_dusk, restart.margin_restart);
    if dusk < 0.0 || restart < 0.0 {
        return format!(
            "A series resistor large enough ({} ohm) would leave too little to pull in ({} % at the worst, {} % on a hot restart): {}",
            part.ohm,
            signed(dusk * 100.0, 0),
            signed(restart * 100.0, 0),
            other_relay(site, link)
        );
    }
    format!(
        "A series resistor of {} ohm, {rating}, {} brings it to {:.1} V; it leaves {} % over pull-in at the worst, {} % on a hot restart",
        part.ohm,
        if link.series_ohm > 0.0 {
            format!("in place of the {} ohm", link.series_ohm)
        } else {
            "before the rectifier".into()
        },
        part.coil_v,
        signed(dusk * 100.0, 0),
        signed(restart * 100.0, 0)
    )
}

/// A relay of the file that would do in this place, or what to look for.
fn other_relay(site: &Site, link: &Link) -> String {
    let others = remedies(site, link);
    match others.iter().find(|remedy| remedy.would_do()) {
        Some(remedy) => format!("{remedy} would do"),
        None => "choose a relay of the same rated voltage that may have more continuously".into(),
    }
}

fn with_resistor(link: &Link, ohm: f64) -> Link {
    Link {
        series_ohm: ohm,
        ..link.clone()
    }
}

/// The smallest resistor that keeps the coil within its limit at high mains, with a little in hand.
fn resistor(site: &Site, link: &Link, judgement: &LinkJudgement) -> Option<SeriesResistor> {
    let case = judgement.highest.case;
    let limit_v = link.relay.max_coil_v * (1.0 - IN_HAND);
    series_resistor::smallest_below(limit_v, |ohm| {
        let with = with_resistor(link, ohm);
        match work_out(site, &with, case) {
            Ok(loaded) => Loaded {
                coil_v: loaded.dusk.coil_v.max(loaded.warm.coil_v),
                pair_rms_a: loaded.dusk.pair_rms_a,
            },
            // One that cannot be judged is none to propose.
            Err(_) => Loaded {
                coil_v: f64::INFINITY,
                pair_rms_a: 0.0,
            },
        }
    })
}
