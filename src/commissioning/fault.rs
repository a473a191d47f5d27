//! Simulated faults of a link, and what meters show then.
//!
//! A bridge with one diode open is a single path through two diodes: half-wave, with twice the drop.
//!
//! The owner's view of a fault is judged as `check` judges a whole link: an ordinary evening shows whether the
//! zone follows; low mains with worst-case parts shows whether it always does.

use std::fmt;

use crate::circuit::rectifier::Rectifier;
use crate::circuit::supply::largest_blown_a;
use crate::link::{
    Aspect, BUZZES, BeyondCase, Outcome, beyond, circuit, coil_short, coil_shorted,
    judgement_altered, tap,
};
use crate::site::{Fuse, Link, LinkId, Site};
use crate::transient::{self, CannotConclude, steady_state};

use super::ordinary;

#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    None,
    /// One diode of the bridge does not conduct.
    DiodeOpen,
    /// The capacitor has this fraction of its value left.
    Capacitor(f64),
    /// The capacitor is disconnected.
    CapacitorOpen,
    /// One diode is open, and the capacitor has this fraction of its value left.
    DiodeOpenAndCapacitor(f64),
    /// The pair has this much additional resistance [Ω], as a rule in a splice.
    Splice(f64),
    /// The coil is open.
    CoilOpen,
    /// Coil or capacitor is shorted, or the diode across the coil is reversed.
    Short,
    /// The pair is cut, or its fuse has blown.
    PairOpen,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |part: &f64| (part * 100.0).round();
        match self {
            Self::None => f.write_str("as it should be"),
            Self::DiodeOpen => f.write_str("one bridge diode open"),
            Self::Capacitor(part) => write!(f, "capacitor at {:.0} %", percent(part)),
            Self::CapacitorOpen => f.write_str("capacitor open"),
            Self::DiodeOpenAndCapacitor(part) => {
                write!(
                    f,
                    "one bridge diode open, capacitor at {:.0} %",
                    percent(part)
                )
            }
            Self::Splice(ohm) => write!(f, "{ohm:.0} ohm more in the pair (a splice)"),
            Self::CoilOpen => f.write_str("coil open"),
            Self::Short => {
                f.write_str("a short at the coil: in it, in the capacitor, or by a diode across it the wrong way round")
            }
            Self::PairOpen => f.write_str(
                "pair broken, or its fuse blown: look for a short before a new one goes in",
            ),
        }
    }
}

/// What a fault does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Symptoms {
    pub fault: Fault,
    /// At the supply's own test point [V RMS or V DC].
    pub supply_v: f64,
    /// At the rectifier [V RMS or V DC].
    pub pair_v: f64,
    /// Across the coil, direct [V].
    pub coil_v: f64,
    /// Across the coil, alternating [V RMS].
    pub coil_ac_v: f64,
    pub seen: Seen,
}

/// What the owner sees of a fault.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seen {
    /// Nothing: the zone follows, also hot, at low mains and with worst-case parts.
    Follows,
    /// It follows, but after a brief interruption with a warm coil it may not pull in again.
    HotRestart,
    /// It follows on an ordinary evening, but at low mains or in the hottest box it may not.
    FailsHot,
    /// It follows, but a hot restart has too little margin for a flat mains crest and aged parts.
    LittleLeft,
    /// It follows, but in the worst case its relay may chatter.
    MayChatter,
    /// It follows, but its relay buzzes, which wears it out.
    Buzzes,
    /// It buzzes, and at low mains or in the hottest box it may not follow, or not restart.
    BuzzesAndFails,
    /// Its relay pulls in and lets go repeatedly.
    Chatters,
    Dark,
    /// It is dark, and the short heats the part that carries it: this much power in a series resistor [W], 0
    /// without one.
    DarkAndHot(f64),
    /// It is dark, and the short blows the pair's fuse.
    BlowsFuse,
    /// It does not go dark.
    StaysLit,
}

impl Seen {
    /// Lit or dark, if the far zone is that whatever its master does.
    pub fn stays(&self) -> Option<bool> {
        match self {
            Self::Dark | Self::DarkAndHot(_) | Self::BlowsFuse => Some(false),
            Self::StaysLit => Some(true),
            Self::Follows
            | Self::HotRestart
            | Self::FailsHot
            | Self::LittleLeft
            | Self::MayChatter
            | Self::Buzzes
            | Self::BuzzesAndFails
            | Self::Chatters => None,
        }
    }
}

impl fmt::Display for Seen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::DarkAndHot(resistor_w) if *resistor_w > 0.0 => {
                return write!(
                    f,
                    "dark; unless a fuse ends it, the series resistor turns up to {resistor_w:.1} W into heat: unplug the master's supply"
                );
            }
            Self::Follows => "nothing: it follows",
            Self::HotRestart => "follows, may not come back after a blip when hot",
            Self::FailsHot => "follows, may fail on hot evenings or low mains",
            Self::LittleLeft => "nothing yet: it follows, with little left when hot",
            Self::MayChatter => "follows, may chatter at low mains",
            Self::Buzzes => "buzzes, which wears the relay out",
            Self::BuzzesAndFails => "buzzes, may fail on hot evenings or low mains",
            Self::Chatters => "goes on and off again and again",
            Self::Dark => "dark",
            Self::DarkAndHot(_) => "dark; pair and rectifier get hot: unplug the master's supply",
            Self::BlowsFuse => {
                "dark; the pair's fuse blows, and then all reads 0: find the short before a new one goes in"
            }
            Self::StaysLit => "does not go dark",
        })
    }
}

/// Resistances of a failing splice, and remaining fractions of a capacitor.
const SPLICES_OHM: [f64; 7] = [10.0, 25.0, 50.0, 100.0, 200.0, 400.0, 800.0];
const LEFT_OF_CAPACITOR: [f64; 3] = [0.5, 0.3, 0.1];

/// Resistance across an open coil: the meter's own [Ω].
const OPEN_OHM: f64 = 1e6;

/// The faults that a link can have.
fn faults(site: &Site, id: LinkId) -> Vec<Fault> {
    let link = &site[id];
    let bridge = link.rectifier == Rectifier::Bridge && site.feeding(link).is_ac();
    let mut faults = vec![Fault::None];
    if bridge {
        faults.push(Fault::DiodeOpen);
    }
    if link.capacitor.is_some() {
        faults.extend(LEFT_OF_CAPACITOR.map(Fault::Capacitor));
        faults.push(Fault::CapacitorOpen);
        if bridge {
            faults.push(Fault::DiodeOpenAndCapacitor(0.3));
        }
    }
    faults.extend(SPLICES_OHM.map(Fault::Splice));
    faults.extend([Fault::CoilOpen, Fault::Short, Fault::PairOpen]);
    faults
}

/// Puts a fault into a circuit.
fn with(circuit: &transient::Link, fault: Fault) -> transient::Link {
    let mut with = *circuit;
    let half = |with: &mut transient::Link| {
        with.rectifier = Rectifier::SingleDiode;
        with.diode.slope_v *= 2.0;
        with.diode.series_ohm *= 2.0;
    };
    let shrink = |with: &mut transient::Link, part: f64| {
        if let Some(capacitor) = &mut with.capacitor {
            capacitor.farad *= part;
        }
    };
    match fault {
        Fault::None | Fault::PairOpen => {}
        Fault::DiodeOpen => half(&mut with),
        Fault::Capacitor(part) => shrink(&mut with, part),
        Fault::CapacitorOpen => with.capacitor = None,
        Fault::DiodeOpenAndCapacitor(part) => {
            half(&mut with);
            shrink(&mut with, part);
        }
        Fault::Splice(ohm) => with.wire_ohm += ohm,
        Fault::CoilOpen => with.coil.ohm = OPEN_OHM,
        Fault::Short => with = coil_shorted(circuit),
    }
    with
}

/// What the owner sees of a fault that leaves coil and pair whole.
fn seen(site: &Site, link: &Link, fault: Fault) -> Result<Seen, CannotConclude> {
    let alter = |circuit| with(&circuit, fault);
    let judged = judgement_altered(site, link, &alter)?;
    match judged.outcome() {
        Outcome::Chatters => return Ok(Seen::Chatters),
        Outcome::StaysDark => return Ok(Seen::Dark),
        Outcome::StaysLit => return Ok(Seen::StaysLit),
        Outcome::Follows => {}
    }
    let fails = |aspect| judged.margin(aspect).fraction < 0.0;
    let (dusk, restart, hold) = (
        fails(Aspect::Dusk),
        fails(Aspect::HotRestart),
        fails(Aspect::Hold),
    );
    let ordinary = judged.ordinary.dusk;
    let buzzes = ordinary.coil_least_a < BUZZES * ordinary.coil_a;
    Ok(if buzzes && (dusk || restart || hold) {
        Seen::BuzzesAndFails
    } else if buzzes {
        Seen::Buzzes
    } else if dusk {
        Seen::FailsHot
    } else if restart {
        Seen::HotRestart
    } else if hold {
        Seen::MayChatter
    } else if !beyond(site, link, BeyondCase::WornRestart, &alter)?.holds() {
        Seen::LittleLeft
    } else {
        Seen::Follows
    })
}

/// What every fault of a link shows on an ordinary evening, the healthy link first. A fault that the simulation
/// cannot conclude on is left out.
///
/// # Errors
/// If the simulation of the healthy link cannot conclude.
pub fn symptoms(site: &Site, id: LinkId) -> Result<Vec<Symptoms>, CannotConclude> {
    let link = &site[id];
    let on_ac = site.feeding(link).is_ac();
    let corner = ordinary(site, id);
    let supply_v = tap(site, link, 0.0, corner.lamps).volts;
    let whole = circuit(site, link, &corner);
    let shown = |fault: Fault| -> Result<Symptoms, CannotConclude> {
        if fault == Fault::PairOpen {
            return Ok(Symptoms {
                fault,
                supply_v,
                pair_v: 0.0,
                coil_v: 0.0,
                coil_ac_v: 0.0,
                seen: Seen::Dark,
            });
        }
        let window = steady_state(&with(&whole, fault))?.window;
        Ok(Symptoms {
            fault,
            supply_v,
            pair_v: if on_ac {
                window.far.rms_v
            } else {
                window.far.mean_v.abs()
            },
            coil_v: window.coil_mean_v,
            coil_ac_v: window.coil_ac_v,
            seen: if fault == Fault::CoilOpen {
                Seen::Dark
            } else if fault == Fault::Short {
                let short = coil_short(site, link)?;
                match link.fuse {
                    Fuse::Rated(rating) if rating <= largest_blown_a(short.least) => {
                        Seen::BlowsFuse
                    }
                    _ => Seen::DarkAndHot(short.resistor_w(link)),
                }
            } else {
                seen(site, link, fault)?
            },
        })
    };
    let mut all = vec![shown(Fault::None)?];
    let others = faults(site, id).into_iter().skip(1);
    all.extend(others.filter_map(|fault| shown(fault).ok()));
    Ok(all)
}
