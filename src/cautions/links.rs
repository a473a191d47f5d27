//! Cautions of a link: S03, S18–S23, S26, S37, S48; its fuse is in [`fuse`].

use crate::circuit::diode::Diode;
use crate::circuit::rectifier::Rectifier;
use crate::link::LinkJudgement;
use crate::site::{Link, LinkId, Site, SupplyOutput};
use crate::text::{amps, celsius, volts};

use super::{Caution, Code, Level, Notes, Place};

mod coil;
mod fuse;
mod operate;

/// Reserve of a capacitor's rating over the greatest peak (common practice).
const CAPACITOR_RESERVE: f64 = 1.25;

/// Mean current of a 1 A rectifier diode into a capacitor [A]: 20 % less (1N400x data sheets).
const DIODE_A: f64 = 0.8;

pub(super) fn cautions(site: &Site, id: LinkId, judgement: &LinkJudgement) -> Vec<Caution> {
    let link = &site[id];
    let mut notes = Notes::at(Place::Link(id));
    operate::operate(site, link, judgement, &mut notes);
    operate::chatter(site, link, judgement, &mut notes);
    release(site, link, judgement, &mut notes);
    coil::over_voltage(site, link, judgement, &mut notes);
    parts(site, link, judgement, &mut notes);
    contact(site, link, &mut notes);
    fuse::cautions(link, judgement, &mut notes);
    notes.list
}

fn release(site: &Site, link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let case = &judgement.worst_release;
    if case.residual_v >= case.release_v {
        notes.add(
            Code::S21,
            Level::Stop,
            format!(
                "zone {} may never go dark: {:.2} V stays on the coil with {} off, release is sure only below {:.2} V (box {}). Switch the pair at the master, or load it with a bleeder resistor",
                site[link.slave].name,
                case.residual_v,
                site[link.master].name,
                case.release_v,
                celsius(case.case.box_c)
            ),
        );
    }
    if let Some(above) = judgement.held_by {
        let (above_name, slave) = (&site[above].name, &site[link.slave]);
        let place = if above == link.master {
            "its master"
        } else {
            "further up its own chain"
        };
        notes.add(
            Code::S18,
            Level::Stop,
            format!(
                "zone {} hangs on supply {}, and so does {above_name}, {place}: its contact would hold that supply and its own coil on for ever. Give {} a supply of its own",
                slave.name, site[slave.supply].name, slave.name
            ),
        );
    }
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
    // On DC nothing swings the other way: a crossed pair is all a diode has to withstand.
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
    let mean_a = judgement.hottest_coil.dusk.coil_a / turns;
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

/// What the contact switches. A transformer has no remote-on line: its mains is all there is to switch, or the
/// whole current of its lamps.
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
    let switched_a = supply.remote_on_a;
    if let Some(minimum_a) = link.relay.contact_minimum_a
        && minimum_a > switched_a
    {
        notes.add(
            Code::S26,
            Level::Warn,
            format!(
                "contact may film over: it switches {}, its least dependable current is {}. Take a gold-clad signal contact",
                amps(switched_a),
                amps(minimum_a)
            ),
        );
    }
}
