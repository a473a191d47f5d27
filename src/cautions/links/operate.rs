//! Whether the relay pulls in, and what would help: S19, S20.

use crate::circuit::rectifier::{Method, Rectifier};
use crate::link::{BUZZES, LinkCase, LinkJudgement, Outcome, Remedy, THIN};
use crate::site::{Link, Site, SupplyOutput};
use crate::text::{celsius, feed_said, said, signed};

use super::super::{Code, Level, Notes};

pub(super) fn operate(site: &Site, link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let slave = &site[link.slave].name;
    let ordinary = &judgement.ordinary;
    let worst = &judgement.worst_dusk;
    // What helps is the same for all of a link's margins: said once, with the first of them.
    let mut cure = Some(cure(site, link, ordinary.paper.method));
    let mut say = |level, code, text: String| {
        let text = match cure.take() {
            Some(cure) => format!("{text}. {cure}"),
            None => text,
        };
        notes.add(code, level, text);
    };
    let gets = |case: &LinkCase| {
        let digits = digits(case.operate_v - case.dusk.coil_v);
        format!(
            "coil gets {:.digits$} V, needs {:.digits$} V at {} (short by {:.digits$} V)",
            case.dusk.coil_v,
            case.operate_v,
            celsius(case.case.box_c),
            rounded(case.operate_v, digits) - rounded(case.dusk.coil_v, digits)
        )
    };
    let thinnest = judgement.grid[3..6]
        .iter()
        .min_by(|a, b| a.margin_dusk.total_cmp(&b.margin_dusk))
        .expect("three evenings at nominal mains");
    if ordinary.margin_dusk < 0.0 {
        say(
            Level::Stop,
            Code::S19,
            format!("zone {slave} stays dark: {}", gets(ordinary)),
        );
        return;
    }
    if thinnest.margin_dusk < 0.0 {
        say(
            Level::Stop,
            Code::S19,
            format!(
                "zone {slave} stays dark on some evenings: {}",
                gets(thinnest)
            ),
        );
    } else if worst.margin_dusk < 0.0 {
        let the = if site.feeding(link).is_ac() {
            ""
        } else {
            "the "
        };
        say(
            Level::Warn,
            Code::S19,
            format!(
                "zone {slave} may stay dark: with {the}{} and parts at their worst the {}",
                feed_said(site, link, worst),
                gets(worst)
            ),
        );
    }
    if (0.0..THIN).contains(&thinnest.margin_dusk) {
        say(
            Level::Warn,
            Code::S20,
            format!(
                "thin margin: {} V ({} %) over pull-in at dusk ({}); {:.0} % is the usual reserve",
                signed(thinnest.dusk.coil_v - thinnest.operate_v, 1),
                signed(thinnest.margin_dusk * 100.0, 0),
                said(site, link, thinnest),
                THIN * 100.0
            ),
        );
    }
    let restart = &judgement.worst_restart;
    if restart.margin_restart < 0.0 {
        let digits = digits(restart.operate_warm_v - restart.warm.coil_v);
        say(
            Level::Warn,
            Code::S20,
            format!(
                "may not come back after a power blip: the warm coil ({}) gets {:.digits$} V, needs {:.digits$} V ({}, parts at their worst)",
                celsius(restart.warm.coil_c),
                restart.warm.coil_v,
                restart.operate_warm_v,
                said(site, link, restart)
            ),
        );
    }
}

/// Decimals that show a difference of volts.
fn digits(difference_v: f64) -> usize {
    match difference_v.abs() {
        small if small < 0.01 => 3,
        small if small < 0.1 => 2,
        _ => 1,
    }
}

/// As printed with so many decimals, so that a difference of printed numbers comes out.
fn rounded(volts: f64, digits: usize) -> f64 {
    format!("{volts:.digits$}").parse().unwrap_or(volts)
}

/// What keeps a relay from letting go between two pulses.
const NO_CHATTER: &str = "Fit a sound capacitor of 220 uF";

/// A relay that lets go between two pulses, or nearly.
pub(super) fn chatter(site: &Site, link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let ordinary = &judgement.ordinary;
    let slave = &site[link.slave].name;
    let milli = |amps: f64| amps * 1e3;
    if ordinary.chatters {
        notes.add(
            Code::S50,
            Level::Stop,
            format!(
                "relay of {slave} chatters: its current falls to {:.1} mA between two pulses, it lets go at {:.1} mA. {NO_CHATTER}",
                milli(ordinary.dusk.coil_least_a),
                milli(link.relay.typical_release_v / link.relay.coil_ohm)
            ),
        );
        return;
    }
    if ordinary.outcome() == Outcome::StaysDark {
        return;
    }
    let holds = judgement.answers[1].worst();
    if holds.margin < 0.0 {
        notes.add(
            Code::S50,
            Level::Warn,
            format!(
                "relay of {slave} may chatter: with all against it {:.1} V is the least on its coil, it surely stays in only above {:.1} V ({}). {NO_CHATTER}",
                holds.coil_v,
                holds.limit_v,
                celsius(holds.box_c)
            ),
        );
    } else if ordinary.dusk.coil_least_a < BUZZES * ordinary.dusk.coil_a {
        notes.add(
            Code::S50,
            Level::Warn,
            format!(
                "relay of {slave} buzzes: its current swings down to {:.0} % of its mean, the pull with the square of it. {NO_CHATTER}",
                ordinary.dusk.coil_least_a / ordinary.dusk.coil_a * 100.0
            ),
        );
    }
}

/// The cheapest changes that would help, and those that would not.
fn cure(site: &Site, link: &Link, method: Method) -> String {
    if overloaded(site, link) {
        return "Take lamps off its supply, or use a larger one".into();
    }
    match method {
        Method::BareAlternating => {
            return "AC on a DC coil only buzzes, and an electrolytic capacitor across it bursts: fit a bridge and 220 uF".into();
        }
        Method::RectifiedMean => return "Fit a capacitor of 220 uF".into(),
        Method::ConductionAngle | Method::Divider => {}
    }
    let remedies = crate::link::remedies(site, link);
    let at_worst = |remedy: &Remedy| {
        format!(
            "{} % at the worst, {} % on a hot restart",
            signed(remedy.worst_dusk * 100.0, 0),
            signed(remedy.worst_restart * 100.0, 0)
        )
    };
    let would = |remedy: &Remedy| {
        let text = format!("{remedy} would do ({})", at_worst(remedy));
        capitalized(&text)
    };
    let would_not = |remedy: &Remedy| {
        let why = if remedy.of_max_coil > 1.0 {
            format!("{:.0} % of its coil's limit", remedy.of_max_coil * 100.0)
        } else {
            at_worst(remedy)
        };
        format!("{remedy} would not ({why})")
    };
    let mut words: Vec<String> = remedies
        .iter()
        .filter(|remedy| remedy.would_do())
        .take(1)
        .map(would)
        .collect();
    if words.is_empty() {
        let fewer = if link.rectifier == Rectifier::Bridge && method == Method::Divider {
            ", fewer diodes"
        } else {
            ""
        };
        words.push(format!(
            "A relay with more ohms, thicker wire{fewer} or more volts at the master helps"
        ));
    }
    words.extend(
        remedies
            .iter()
            .filter(|remedy| !remedy.would_do())
            .take(1)
            .map(would_not),
    );
    words.join("; ")
}

/// Whether the master's transformer has more lamps than it is made for.
fn overloaded(site: &Site, link: &Link) -> bool {
    let supply = site[link.master].supply;
    match site[supply].output {
        SupplyOutput::Ac { rated_va, .. } => crate::link::load_va(site, supply) > rated_va,
        SupplyOutput::Dc { .. } => false,
    }
}

/// With a capital at the beginning.
fn capitalized(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
