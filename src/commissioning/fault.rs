//! Faults of a link, simulated, and what meters show then.
//!
//! A bridge with one diode open is a single path through two diodes: half-wave, with twice the drop.

use std::fmt;

use crate::chain::{BUZZES, circuit, tap};
use crate::circuit::rectifier::Rectifier;
use crate::site::{LinkId, Site};
use crate::transient::{self, CannotConclude, Window, simulate, steady_state};

use super::ordinary;

/// What may be wrong with a link.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// Nothing.
    None,
    /// One diode of the bridge does not conduct.
    DiodeOpen,
    /// The capacitor has so much of its value left.
    Capacitor(f64),
    /// The capacitor is disconnected.
    CapacitorOpen,
    /// A diode open, and the capacitor with so much of its value left.
    DiodeOpenAndCapacitor(f64),
    /// The pair has so many ohms more [Ω]: as a rule a splice.
    Splice(f64),
    /// The coil is open.
    CoilOpen,
    /// Coil or capacitor is shorted, or the diode across the coil is the wrong way round.
    Short,
    /// The pair is broken, or its fuse.
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
                f.write_str("coil or capacitor shorted, or fifth diode the wrong way round")
            }
            Self::PairOpen => f.write_str("pair broken, or its fuse blown"),
        }
    }
}

/// What a fault does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Symptoms {
    /// The fault.
    pub fault: Fault,
    /// At the supply, measured there [V RMS or V DC].
    pub supply_v: f64,
    /// At the rectifier [V RMS or V DC].
    pub pair_v: f64,
    /// Across the coil, direct [V].
    pub coil_v: f64,
    /// Across the coil, alternating [V RMS].
    pub coil_ac_v: f64,
    /// What the far zone does.
    pub seen: Seen,
}

/// What the owner sees of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen {
    /// Nothing: it follows, also hot.
    Follows,
    /// It follows on an ordinary evening, and does not surely do so on the hottest.
    FailsHot,
    /// It is dark.
    Dark,
    /// It follows, and its relay buzzes, which wears it out.
    Buzzes,
    /// Its relay lets go again and again.
    Chatters,
}

impl fmt::Display for Seen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Follows => "nothing: it follows",
            Self::FailsHot => "follows, may fail on hot evenings",
            Self::Dark => "not surely in: dark",
            Self::Buzzes => "buzzes, may go on and off",
            Self::Chatters => "goes on and off again and again",
        })
    }
}

/// Ohms of a splice on its way to failing, and what is left of a capacitor.
const SPLICES_OHM: [f64; 7] = [10.0, 25.0, 50.0, 100.0, 200.0, 400.0, 800.0];
const LEFT_OF_CAPACITOR: [f64; 3] = [0.5, 0.3, 0.1];

/// A coil that is open still has the meter across it [Ω].
const OPEN_OHM: f64 = 1e6;

/// A short: a lead's ohms, a lead's inductance [Ω], [H].
const SHORT: (f64, f64) = (0.05, 1e-5);

/// The faults that a link can have.
fn faults(site: &Site, id: LinkId) -> Vec<Fault> {
    let link = &site[id];
    let bridge = link.rectifier == Rectifier::Bridge && site[site[link.master].supply].is_ac();
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
        Fault::Short => {
            (with.coil.ohm, with.coil.open_h) = SHORT;
            with.coil.closed_h = with.coil.open_h;
        }
    }
    with
}

/// What every fault of a link shows on an ordinary evening, the healthy link first. A fault whose simulation
/// cannot conclude is left out.
///
/// # Errors
/// If that of the healthy link cannot.
pub fn symptoms(site: &Site, id: LinkId) -> Result<Vec<Symptoms>, CannotConclude> {
    let link = &site[id];
    let on_ac = site[site[link.master].supply].is_ac();
    let corner = ordinary(site, id);
    let hot = corner.in_box(site.temperatures.hottest_c);
    let supply_v = tap(site, link, 0.0, corner.lamps).volts;
    let whole = circuit(site, link, &corner);
    let whole_hot = circuit(site, link, &hot);
    let seen = |fault: Fault, window: &Window| -> Result<Seen, CannotConclude> {
        if matches!(fault, Fault::CoilOpen | Fault::Short) {
            return Ok(Seen::Dark);
        }
        let now = simulate(&with(&whole, fault))?;
        let then = simulate(&with(&whole_hot, fault))?;
        Ok(if now.keeps_letting_go() {
            Seen::Chatters
        } else if now.pull_in_s.is_none() {
            Seen::Dark
        } else if then.pull_in_s.is_none() || then.keeps_letting_go() {
            Seen::FailsHot
        } else if window.coil_least_a < BUZZES * window.coil_mean_a {
            Seen::Buzzes
        } else {
            Seen::Follows
        })
    };
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
            seen: seen(fault, &window)?,
        })
    };
    let mut all = vec![shown(Fault::None)?];
    let others = faults(site, id).into_iter().skip(1);
    all.extend(others.filter_map(|fault| shown(fault).ok()));
    Ok(all)
}
