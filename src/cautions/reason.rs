//! The first reason of a verdict, in a few words.

use crate::site::Site;

use super::{Caution, Code, Level, Place};

/// A caution in a few words, for a headline: `the lamp cable of front has no fuse`.
pub(crate) fn reason_text(site: &Site, caution: &Caution) -> String {
    let stops = caution.level == Level::Stop;
    // The zone, the slave of the link, or the supply.
    let name = match caution.place {
        Place::Site => site.name.as_str(),
        Place::Supply(id) => site[id].name.as_str(),
        Place::Zone(id) => site[id].name.as_str(),
        Place::Link(id) => site[site[id].slave].name.as_str(),
    };
    let run = match caution.place {
        Place::Link(_) => format!("the pair to {name}"),
        Place::Zone(_) | Place::Supply(_) | Place::Site => format!("the lamp cable of {name}"),
    };
    match caution.code {
        Code::S02 => format!("supply {name} is outside extra-low voltage"),
        Code::S03 => format!("the contact for {name} might switch mains"),
        Code::S04 => format!("desktop-PC supply {name} stands outdoors"),
        Code::S05 => format!("the outdoor outlet of supply {name} has no 30 mA protection"),
        Code::S06 | Code::S08 => format!("{run} has no fuse"),
        Code::S07 => format!("supply {name} can give more than 25 A without a fuse of 25 A"),
        Code::S09 => format!("the fuse of {run} does not see a short at the far end"),
        Code::S10 => format!("the fuse of {run} does not fit its load or its wire"),
        Code::S17 => format!("the 12 V minus of supply {name} is earthed"),
        Code::S18 => format!("{name} holds itself on"),
        Code::S19 if stops => format!("{name} stays dark"),
        Code::S19 => format!("{name} may stay dark at low voltage"),
        Code::S20 => format!("the relay of {name} has little margin"),
        Code::S21 => format!("{name} may never go dark"),
        Code::S22 if stops => format!("the coil of {name} gets too hot"),
        Code::S22 => format!("the coil of {name} may get too much"),
        Code::S23 => format!("the capacitor for {name} is rated for too few volts"),
        Code::S26 => format!("the contact for {name} may film over"),
        Code::S27 => format!("lamps of {name} are outside their rating"),
        Code::S28 if stops => format!("{name} browns out"),
        Code::S28 => format!("the last lamps of {name} are dim"),
        Code::S29 if stops => format!("supply {name} is overloaded"),
        Code::S29 => format!("supply {name} is heavily loaded"),
        Code::S32 => format!("{run} lies shallow"),
        Code::S37 => format!("the diodes for {name} are outside their rating"),
        Code::S38 => format!("the board's line for {name} carries too much"),
        Code::S39 => format!("{name} is lit while nothing drives its line"),
        Code::S41 => "place and time zone disagree".into(),
        Code::S42 => format!("{name} has nights without its twilight"),
        Code::S43 => format!("{name} is lit inside its curfew"),
        Code::S48 => format!("the series resistor for {name} gets hot"),
        Code::S49 => format!("{name} has evenings that end before they begin"),
        Code::S50 if stops => format!("the relay of {name} chatters"),
        Code::S50 => format!("the relay of {name} buzzes or may chatter"),
        Code::S51 => format!("the supply of {name} sleeps without it"),
    }
}
