//! A link in words: its cases, its margins, what is wrong with it, the cure, and why the calculation by hand
//! does not hold.

use crate::circuit::rectifier::{OutsideRange, Rectifier};
use crate::link::{
    Aspect, Beyond, BeyondCase, Change, FeedLevel, Finding, Judgement, LinkCase, Margin, Parts,
    Remedy, Trouble, overloaded, remedies,
};
use crate::site::{Link, Site};

use super::{celsius, ohms, signed, volts};

/// How much lower the voltage may be where the source is too stiff for the calculation by hand [V]: 0.3 V, from
/// circuit simulation.
const STIFF_DOUBT_V: f64 = 0.3;

/// `low mains, box 35 °C, parts at their worst`; `supply at 11.8 V DC, …`.
fn case_text(margin: &Margin) -> String {
    let mut words = Vec::new();
    match margin.feed {
        FeedLevel::Mains(level) => words.push(format!("{} mains", level.name())),
        FeedLevel::OneMains => {}
        FeedLevel::Dc(at) => words.push(format!("supply at {} V DC", volts(at))),
    }
    words.push(format!("box {}", celsius(margin.case.box_c)));
    words.extend(match margin.case.parts {
        Parts::Nominal => None,
        Parts::AgainstOperate | Parts::AgainstCoil => Some("parts at their worst".to_owned()),
        Parts::Worn => Some("worn parts, flat crest".to_owned()),
    });
    words.join(", ")
}

/// `+5.9 V (+67 %)`.
fn over(coil_v: f64, operate_v: f64, fraction: f64) -> String {
    format!(
        "{} V ({})",
        signed(coil_v - operate_v, 1),
        percent(fraction)
    )
}

/// `+67 %`.
pub(crate) fn percent(fraction: f64) -> String {
    format!("{} %", signed(fraction * 100.0, 0))
}

/// The margin over pull-in at dusk.
pub(crate) fn dusk(case: &LinkCase) -> String {
    over(case.dusk.coil_v, case.operate_v, case.margin_dusk)
}

/// The margin over pull-in with a warm coil.
pub(crate) fn restart(case: &LinkCase) -> String {
    over(case.warm.coil_v, case.operate_warm_v, case.margin_restart)
}

/// The name of an aspect, for a headline.
pub(crate) fn aspect_text(aspect: Aspect) -> &'static str {
    match aspect {
        Aspect::Dusk => "pulling in at dusk",
        Aspect::HotRestart => "coming back warm",
        Aspect::Hold => "staying in",
        Aspect::Release => "letting go",
        Aspect::CoilVoltage => "coil voltage",
        Aspect::CoilHeat => "coil heat",
    }
}

/// Decimals needed to show the difference of two voltages.
fn digits(difference_v: f64) -> usize {
    match difference_v.abs() {
        small if small < 0.01 => 3,
        small if small < 0.1 => 2,
        _ => 1,
    }
}

/// The coil's voltage and its limit, without the case.
fn margin_text(link: &Link, margin: &Margin) -> String {
    let (has_v, limit_v) = (margin.volts, margin.limit_v);
    let digits = digits(has_v - limit_v);
    // Less than nothing by a rounding is nothing.
    let number = |volts: f64| format!("{volts:.digits$} V").replace("-0.0 V", "0.0 V");
    let (has, limit) = (number(has_v), number(limit_v));
    match margin.aspect {
        Aspect::Dusk => format!("the coil gets {has}, needs {limit}"),
        Aspect::HotRestart => format!(
            "the warm coil ({}) gets {has}, needs {limit}",
            celsius(margin.coil_c)
        ),
        Aspect::Hold => format!("the coil gets {has} between pulses, stays in above {limit}"),
        Aspect::Release => format!(
            "{} V stays on the coil, it lets go below {} V",
            volts(has_v),
            volts(limit_v)
        ),
        Aspect::CoilVoltage => format!("the coil gets {has}, maximum {limit}"),
        Aspect::CoilHeat => format!(
            "the coil reaches {}, maximum {}",
            celsius(margin.coil_c),
            celsius(link.relay.max_coil_c)
        ),
    }
}

/// A margin with its case: `the coil gets 8.2 V, needs 9.0 V (low mains, box 35 °C, parts at their worst)`.
pub(crate) fn margin_at(link: &Link, margin: &Margin) -> String {
    format!("{} ({})", margin_text(link, margin), case_text(margin))
}

/// The least margin of a link, worded as in every command: `least margin +4 %, coil voltage: …`.
pub(crate) fn least_text(link: &Link, judged: &Judgement) -> String {
    format!("least margin {}", in_hand_text(link, judged))
}

/// The same without its name.
pub(crate) fn in_hand_text(link: &Link, judged: &Judgement) -> String {
    let least = judged.least();
    format!(
        "{}, {}: {}",
        percent(least.fraction),
        aspect_text(least.aspect),
        margin_at(link, least)
    )
}

/// What the slave does: `follows on an ordinary evening, not at the worst`.
pub(crate) fn outcome_text(judged: &Judgement) -> String {
    let rarely = if judged.only_ordinarily() {
        ONLY_ORDINARILY
    } else {
        ""
    };
    format!("{}{rarely}", judged.outcome())
}

/// Suffix for a link that follows only on an ordinary evening.
pub(crate) const ONLY_ORDINARILY: &str = " on an ordinary evening, not at the worst";

/// What is wrong, short enough for a table; `who` is the slave.
pub(crate) fn trouble_text(who: &str, trouble: Trouble) -> String {
    match trouble {
        Trouble::HeldOn => format!("the contact of {who} holds itself on"),
        Trouble::StaysDark => format!("{who} stays dark"),
        Trouble::Chatters => "the relay chatters".into(),
        Trouble::StaysLit => format!("{who} may never go dark"),
        Trouble::DarkSomeEvenings => format!("{who} stays dark on some evenings"),
        Trouble::Cooks => "the coil gets too hot on ordinary evenings".into(),
        Trouble::MayStayDark => format!("{who} may stay dark"),
        Trouble::HotRestart => format!("{who} may not come back after a power blip"),
        Trouble::MayChatter => "the relay may chatter".into(),
        Trouble::CoilVoltage => "the coil may get too many volts".into(),
        Trouble::CoilHeat => "the coil may get too hot".into(),
        Trouble::Thin => "less than 15 % is left over pull-in".into(),
        Trouble::Buzzes => "the relay buzzes".into(),
    }
}

/// What is wrong, with the figures and the case.
pub(crate) fn finding_text(who: &str, link: &Link, judged: &Judgement, found: &Finding) -> String {
    let ordinary = &judged.ordinary;
    let what = trouble_text(who, found.trouble);
    let milli = |amps: f64| amps * 1e3;
    match (found.trouble, &found.margin) {
        (Trouble::Chatters, _) => format!(
            "{what}: its current falls to {:.1} mA between two pulses, it lets go at {:.1} mA",
            milli(ordinary.dusk.coil_least_a),
            milli(link.relay.typical_release_v / link.relay.coil_ohm)
        ),
        (Trouble::Buzzes, _) => format!(
            "{what}: its current swings down to {:.0} % of its mean, the pull with the square of it",
            ordinary.dusk.coil_least_a / ordinary.dusk.coil_a * 100.0
        ),
        (Trouble::Thin, Some(margin)) => format!(
            "thin margin, {} over pull-in at dusk: {}; 15 % is the usual reserve",
            percent(margin.fraction),
            margin_at(link, margin)
        ),
        (_, Some(margin)) => format!("{what}: {}", margin_at(link, margin)),
        (_, None) => what,
    }
}

/// A corner beyond the verdict, and whether the link withstands it.
pub(crate) fn beyond_text(beyond: &Beyond) -> String {
    let (what, stands, fails) = match beyond.case {
        BeyondCase::WornRestart => (
            "warm coil, low mains, flat crest, worn parts, all at once",
            "still pulls in",
            "does not surely pull in",
        ),
        BeyondCase::LampsOut => (
            "high mains, every lamp of the near zone out",
            "within the coil's maximum",
            "above the coil's maximum",
        ),
    };
    format!(
        "{what}: coil {:.1} V of {:.1} V (box {}), {}",
        beyond.coil_v,
        beyond.limit_v,
        celsius(beyond.box_c),
        if beyond.holds() { stands } else { fails }
    )
}

/// A change as an instruction: `take the 22 ohm resistor out`.
fn change_text(link: &Link, change: &Change) -> String {
    match change {
        Change::NoResistor(ohm) => format!("take the {} series resistor out", ohms(*ohm)),
        Change::SingleDiode => "use one diode in place of the bridge (check polarity)".into(),
        Change::Resistor(part) => {
            let rating = part
                .rating_w
                .map_or_else(|| "25 W or more".to_owned(), |watt| format!("{watt} W"));
            let place = if link.series_ohm > 0.0 {
                format!("in place of the {}", ohms(link.series_ohm))
            } else {
                "before the rectifier".into()
            };
            format!(
                "fit a series resistor of {}, {rating}, {place}",
                ohms(part.ohm)
            )
        }
        Change::Capacitor => "fit a capacitor of 220 uF, 50 V".into(),
        Change::Bridge => "fit a bridge".into(),
        Change::Relay(name) => format!("use relay {name}"),
    }
}

fn changes_text(link: &Link, remedy: &Remedy) -> String {
    let words: Vec<String> = remedy
        .changes
        .iter()
        .map(|change| change_text(link, change))
        .collect();
    words.join(" and ")
}

fn capitalized(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// What to do about a link: the cheapest change that works, or else the closest one and what to look for.
pub(crate) fn cure_text(site: &Site, link: &Link, judged: &Judgement) -> String {
    if overloaded(site, link) {
        return "Take lamps off its supply, or use a larger one".into();
    }
    let remedies = remedies(site, link, judged);
    if let Some(works) = remedies.first().filter(|remedy| remedy.would_do()) {
        let least = works.judged.least();
        return format!(
            "{}: that works, with a least margin of {} ({})",
            capitalized(&changes_text(link, works)),
            percent(least.fraction),
            aspect_text(least.aspect)
        );
    }
    let too_much = [Trouble::Cooks, Trouble::CoilVoltage, Trouble::CoilHeat]
        .iter()
        .any(|trouble| judged.finding(*trouble).is_some());
    let advice = if too_much {
        "Take a relay of the same rated voltage with a higher maximum coil voltage, or fewer volts at the master"
    } else if link.rectifier == Rectifier::Bridge && !site.feeding(link).is_ac() {
        "Take a 12 V relay with a higher coil resistance, thicker wire, fewer diodes or more volts at the master"
    } else {
        "Take a 12 V relay with a higher coil resistance, thicker wire or more volts at the master"
    };
    let nearest = remedies.iter().max_by(|a, b| {
        a.judged
            .least()
            .fraction
            .total_cmp(&b.judged.least().fraction)
    });
    match nearest {
        None => advice.into(),
        Some(remedy) => {
            let least = remedy.judged.least();
            format!(
                "{advice}. The nearest change, {}, is not enough: {} {}",
                changes_text(link, remedy),
                aspect_text(least.aspect),
                percent(least.fraction)
            )
        }
    }
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
