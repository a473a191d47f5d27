//! Cautions of the board that switches: S03, S38, S39, and S18 where its inputs cause it.
//!
//! An active-low output is only a WARN: what a pin does before the program runs depends on chip and pin, and
//! the file does not say it. `dark_at_reset = true` ends the warning, `false` makes it a STOP. Active-high
//! outputs get no question: most undriven lines are low, and a reader soon skips a question that is asked for
//! every line.

use crate::site::{Output, Site, Switching, ZoneId};

use super::{Caution, Code, Level, Notes, Place};

/// What one line of a 3.3 V board gives [mA] (the usual pad of small boards: up to 16 mA a pin).
const LINE_MA: f64 = 16.0;

/// What all lines of such a board give together [mA] (common practice for the 3.3 V rail of small boards).
const ALL_LINES_MA: f64 = 50.0;

pub(super) fn cautions(site: &Site) -> Vec<Caution> {
    let mut notes = Notes::at(Place::Site);
    if !site.outputs.is_empty() || !site.inputs.is_empty() {
        notes.add(
            Code::S38,
            Level::Note,
            format!(
                "a GPIO line gives about {LINE_MA:.0} mA, all of them about {ALL_LINES_MA:.0} mA, and bears 3.3 V: let it drive a transistor, an opto-coupler or a driver board, never a coil, and bring 12 V in through an opto-coupler; your board's own sheet decides"
            ),
        );
    }
    let mut list = notes.list;
    for output in &site.outputs {
        let mut notes = Notes::at(Place::Zone(output.zone));
        undriven(output, &mut notes);
        let supply = &site[site[output.zone].supply];
        if supply.is_ac() {
            notes.add(
                Code::S03,
                Level::Note,
                format!(
                    "supply {} is a transformer, without a remote-on line: if its line switches it on the mains side, that takes a listed switching device, fitted by a licensed electrician; the relay of a driver board is none",
                    supply.name
                ),
            );
        } else if site.enable_not_stated(supply) {
            notes.add(
                Code::S03,
                Level::Note,
                format!(
                    "supply {} is a DC supply, and not each has an enable input: if its line switches it on the mains side, that takes a listed switching device, fitted by a licensed electrician; the relay of a driver board is none. If there is an enable input, state its `remote_on_current`",
                    supply.name
                ),
            );
        }
        list.extend(notes.list);
    }
    for zone in (0..site.zones.len()).map(ZoneId) {
        let mut notes = Notes::at(Place::Zone(zone));
        itself(site, zone, &mut notes);
        list.extend(notes.list);
    }
    list
}

/// While a board starts, and after a program releases the line, the pin is an input with a weak pull or none
/// (kernel GPIO documentation: the state of a released line is not guaranteed).
fn undriven(output: &Output, notes: &mut Notes) {
    match output.dark_at_reset {
        Some(false) => notes.add(
            Code::S39,
            Level::Stop,
            "lit whenever nothing drives its line: at every start of the board, and after every crash. Hold the driver off with a resistor, or use one that rests off",
        ),
        None if output.active_low => notes.add(
            Code::S39,
            Level::Warn,
            "lit when its line is low, and what the line does while the board starts is not stated: an undriven pin may lie low, and then the zone goes on at every start and after every crash. Pull the driver's input up with a resistor and write `dark_at_reset = true`, or use a driver that is on when high",
        ),
        Some(true) | None => {}
    }
}

/// A zone follows an input, but shares a supply with a zone that it follows.
fn itself(site: &Site, zone: ZoneId, notes: &mut Notes) {
    let Switching::Senses(sensing) = site[zone].switching else {
        return;
    };
    let supply = site[zone].supply;
    let upward = std::iter::successors(Some(sensing.master), |zone| site.master_of(*zone));
    if let Some(above) = upward
        .into_iter()
        .find(|above| site[*above].supply == supply)
    {
        let (name, above) = (&site[zone].name, &site[above].name);
        notes.add(
            Code::S18,
            Level::Warn,
            format!(
                "zone {name} hangs on supply {}, and so does {above}, which it follows: if its line switches that supply as a whole, it holds itself on for ever. Give {name} a supply of its own, unless the line switches its lamps alone",
                site[supply].name
            ),
        );
    }
}
