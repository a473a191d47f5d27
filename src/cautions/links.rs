//! Cautions of a link: S03, S18–S23, S26, S37, S48. Its fuse is in [`fuse`].

use crate::circuit::diode::Diode;
use crate::circuit::rectifier::Rectifier;
use crate::link::{Judgement, LinkJudgement, Trouble, Verdict};
use crate::site::{Link, LinkId, Site, SupplyOutput};
use crate::text::{amps, cure_text, finding_text, volts};

use super::{Caution, Code, Level, Notes, Place};

mod fuse;

/// Reserve of a capacitor's rating over the greatest peak (common practice).
const CAPACITOR_RESERVE: f64 = 1.25;

/// Mean current of a 1 A rectifier diode into a capacitor [A]: 20 % less (1N400x data sheets).
const DIODE_A: f64 = 0.8;

pub(super) fn cautions(site: &Site, id: LinkId, judgement: &LinkJudgement) -> Vec<Caution> {
    let link = &site[id];
    let mut notes = Notes::at(Place::Link(id));
    relay(site, link, &judgement.judged, &mut notes);
    parts(site, link, judgement, &mut notes);
    contact(site, link, &mut notes);
    fuse::cautions(link, judgement, &mut notes);
    notes.list
}

/// The code of a finding; `None` where another finding covers it.
fn code(judged: &Judgement, trouble: Trouble) -> Option<Code> {
    Some(match trouble {
        Trouble::HeldOn => Code::S18,
        Trouble::StaysDark | Trouble::DarkSomeEvenings | Trouble::MayStayDark => Code::S19,
        Trouble::HotRestart | Trouble::Thin => Code::S20,
        Trouble::StaysLit => Code::S21,
        // A coil that overheats on ordinary evenings overheats at high mains too.
        Trouble::CoilHeat if judged.finding(Trouble::Cooks).is_some() => return None,
        Trouble::Cooks | Trouble::CoilVoltage | Trouble::CoilHeat => Code::S22,
        Trouble::Chatters | Trouble::MayChatter | Trouble::Buzzes => Code::S50,
    })
}

/// Puts into words what the judge finds of the relay. One cure serves all findings of a link, so only the first
/// names it.
fn relay(site: &Site, link: &Link, judged: &Judgement, notes: &mut Notes) {
    let mut cured = false;
    for found in judged.findings() {
        let Some(code) = code(judged, found.trouble) else {
            continue;
        };
        let level = match found.trouble.verdict() {
            Verdict::NoGo => Level::Stop,
            Verdict::Caution | Verdict::Go => Level::Warn,
        };
        let mut text = finding_text(&site[link.slave].name, link, judged, found);
        if found.trouble == Trouble::CoilVoltage
            && site.leaves_out(&format!("relay {}", link.relay.name), "max_coil_voltage")
        {
            text.push_str(
                "; that maximum is not stated, 110 % of rated is usual: look it up on the relay's sheet and write `max_coil_voltage`",
            );
        }
        let cure = match found.trouble {
            Trouble::HeldOn => Some(own_supply(site, link, judged)),
            Trouble::StaysLit => {
                Some("Switch the pair at the master, or load it with a bleeder resistor".to_owned())
            }
            Trouble::Chatters | Trouble::MayChatter | Trouble::Buzzes => {
                Some("Fit a sound capacitor of 220 uF".to_owned())
            }
            _ if cured => None,
            _ => {
                cured = true;
                Some(cure_text(site, link, judged))
            }
        };
        notes.add(
            code,
            level,
            cure.map_or_else(|| text.clone(), |cure| format!("{text}. {cure}")),
        );
    }
}

/// Which zones hang on one supply, and what to do.
fn own_supply(site: &Site, link: &Link, judged: &Judgement) -> String {
    let slave = &site[link.slave];
    let above = judged.held_by.map_or("", |zone| site[zone].name.as_str());
    let place = if judged.held_by == Some(link.master) {
        "its master"
    } else {
        "further up its own chain"
    };
    format!(
        "Zone {} hangs on supply {}, and so does {above}, {place}: its contact would hold that supply and its own coil on for ever. Give {} a supply of its own",
        slave.name, site[slave.supply].name, slave.name
    )
}

fn parts(site: &Site, link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let on_ac = site.feeding(link).is_ac();
    let peak_v = crate::link::greatest_peak_v(site, link);
    if let Some(capacitor) = link.capacitor
        && capacitor.rating_v < CAPACITOR_RESERVE * peak_v
    {
        notes.add(
            Code::S23,
            Level::Warn,
            format!(
                "capacitor voltage too low: rated {} V, the peak reaches {peak_v:.1} V ({}); with a quarter in hand it takes {:.0} V or more",
                volts(capacitor.rating_v),
                if on_ac { "high mains, no lamp lit" } else { "supply at its highest" },
                (CAPACITOR_RESERVE * peak_v).ceil()
            ),
        );
    }
    // DC never reverses: the diode only has to withstand a crossed pair.
    let reverse_v = if on_ac {
        link.rectifier.reverse_v(peak_v)
    } else {
        peak_v
    };
    let diodes = link.rectifier.diodes_in_path();
    if diodes > 0 && link.diode.reverse_v < reverse_v {
        notes.add(
            Code::S37,
            Level::Warn,
            format!(
                "diode {} stands {:.0} V in reverse, this circuit puts {reverse_v:.0} V on it: take one for {:.0} V or more",
                link.diode_name,
                link.diode.reverse_v,
                (2.0 * reverse_v).ceil()
            ),
        );
    }
    // Each half of a bridge on AC carries every other pulse.
    let turns = if on_ac && link.rectifier == Rectifier::Bridge {
        2.0
    } else {
        1.0
    };
    let mean_a = judgement.judged.hottest_coil.dusk.coil_a / turns;
    if diodes > 0 && mean_a > DIODE_A && Diode::named(&link.diode_name).is_some() {
        notes.add(
            Code::S37,
            Level::Warn,
            format!(
                "diode {} carries {mean_a:.2} A on average, the limit into a capacitor is {DIODE_A} A: take a 3 A type, or a relay with more ohms",
                link.diode_name
            ),
        );
    }
}

/// What the contact switches. A transformer has no remote-on line, so the contact switches either its mains or
/// the whole lamp current.
fn contact(site: &Site, link: &Link, notes: &mut Notes) {
    let supply = site.switched(link);
    if let SupplyOutput::Ac {
        full_load_v,
        rated_va,
        ..
    } = supply.output
    {
        notes.add(
            Code::S03,
            Level::Warn,
            format!(
                "what its contact switches is not stated, and supply {} is a transformer, without a remote-on line: this small relay must not switch mains. Let it command a listed switching device, fitted by a licensed electrician, or switch the {} V side with a contact rated for {} and more",
                supply.name,
                volts(full_load_v),
                amps(rated_va / full_load_v)
            ),
        );
        return;
    }
    if site.enable_not_stated(supply) {
        notes.add(
            Code::S03,
            // What the file leaves out is there as often as not.
            Level::Note,
            format!(
                "what its contact switches is not stated: supply {} is a DC supply, and not each has an enable input. This small relay must not switch mains (rule of the trade). If there is an enable input, state its `remote_on_current`; if not, take a supply that has one",
                supply.name
            ),
        );
    }
    let switched_a = supply.remote_on_a;
    if let Some(minimum_a) = link.relay.contact_minimum_a
        && minimum_a > switched_a
    {
        notes.add(
            Code::S26,
            Level::Warn,
            format!(
                "contact may film over: it switches {}, and its data sheet asks for {} at least (`contact_minimum`). Take a gold-clad signal contact",
                amps(switched_a),
                amps(minimum_a)
            ),
        );
    }
}
