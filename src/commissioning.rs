//! What a meter should show at every test point of the yard, and what is wrong when it shows something else.
//!
//! ```text
//!  supply ─TP1─ fuse ─┬──────── pair ────────┬─TP2─ bridge ─┬─TP3─ coil ┄┄ contact ─TP4, TP5─ supply
//!  (AC; TP6 if DC)    TP10, TP11 at its end ─┘              ═          │            TP6, TP9
//!                     └─ trunk ─ first lamp TP7 … last lamp TP8
//! ```
//!
//! Expected values come from the simulation of the link and from the calculation along the trunk. A band covers
//! the parts' tolerances, the box between its coldest and hottest evening, a cold or warm coil, and an ordinary
//! meter's error; it does not cover the mains. The supply is measured first (TP1, TP6): every voltage behind it
//! rises and falls with it, so those are judged by what was measured there.
//!
//! Source: the ATX12V design guides for the limits of the remote-on line and of a desktop-PC supply's rails;
//! common practice for the insulation of a pair, a closed contact, and what an open master may leave on its
//! pair.

use std::fmt;

use crate::link::{
    Case, Corner, Lamps, LinkCase, MainsLevel, Outcome, Parts, held, held_by, work_out,
};
use crate::site::{LinkId, Site, Switching, ZoneId};
use crate::transient::CannotConclude;

mod fault;
mod judge;
mod link;
mod sheet;
mod supply;

pub use fault::{Fault, Seen, Symptoms, symptoms};
pub use judge::{Found, Judged, Suspect, judge, rests_on, suspects};
pub use sheet::Sheet;
pub use supply::unsure;

/// How the meter is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meter {
    /// Alternating volts, true RMS if it can.
    AcVolts,
    /// Direct volts.
    DcVolts,
    Ohms,
    /// Megohms: an insulation tester, or the highest range of ohms.
    Megohms,
}

impl Meter {
    /// As on the meter's dial.
    pub fn name(self) -> &'static str {
        match self {
            Self::AcVolts => "V AC",
            Self::DcVolts => "V DC",
            Self::Ohms => "Ω",
            Self::Megohms => "MΩ",
        }
    }
}

/// The state of the yard for a measurement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// The zone that feeds the point is lit, with all its lamps in place.
    Lit,
    /// It is dark, but its supply has mains.
    Dark,
    /// Its master is lit, and the supply that the contact switches is unplugged.
    LitUnplugged,
    /// Its master is dark, and that supply is unplugged.
    DarkUnplugged,
    /// Disconnected at both ends.
    Apart,
}

impl fmt::Display for State {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Lit => "lit",
            Self::Dark => "dark",
            Self::LitUnplugged => "master lit, this supply unplugged",
            Self::DarkUnplugged => "master dark, this supply unplugged",
            Self::Apart => "disconnected at both ends",
        })
    }
}

/// How a value depends on one that is measured before it.
#[derive(Debug, Clone, PartialEq)]
pub struct With {
    /// Key of that point.
    pub of: String,
    /// Voltage at that point for which `typical` holds [V].
    pub there_v: f64,
    /// Change here for one volt more there [V].
    pub per_volt: f64,
}

/// What a meter should show: volts, ohms or megohms, as it is set.
#[derive(Debug, Clone, PartialEq)]
pub struct Expected {
    /// On an ordinary evening with rated parts; `None` where only a limit is known.
    pub typical: Option<f64>,
    /// Lowest right reading.
    pub least: Option<f64>,
    /// Highest right reading.
    pub most: Option<f64>,
    /// The point on which it depends.
    pub with: Option<With>,
    /// Lowest and highest value that the lamp or coil there tolerates, whatever the supply gives.
    pub bears: [Option<f64>; 2],
    /// A remark beside the numbers, or why there are none.
    pub says: Option<String>,
}

impl Expected {
    fn within(least: Option<f64>, most: Option<f64>) -> Self {
        Self {
            typical: None,
            least,
            most,
            with: None,
            bears: [None; 2],
            says: None,
        }
    }

    fn between(least: f64, most: f64) -> Self {
        Self::within(Some(least), Some(most))
    }

    fn below(most: f64) -> Self {
        Self::within(None, Some(most))
    }

    fn above(least: f64) -> Self {
        Self::within(Some(least), None)
    }

    fn saying(self, says: impl Into<String>) -> Self {
        Self {
            says: Some(says.into()),
            ..self
        }
    }
}

/// A reading to take.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// On the sheet of this zone.
    pub zone: ZoneId,
    /// The link that it diagnoses, if it does.
    pub link: Option<LinkId>,
    /// `TP3 DC`: unique within this zone.
    pub name: String,
    /// Where the probes go.
    pub at: String,
    pub state: State,
    pub meter: Meter,
    pub expected: Expected,
    /// What another value means.
    pub wrong: String,
    /// What must be cured before this zone can be measured, where the simulation finds that it does not follow.
    pub first: Option<String>,
}

impl Point {
    /// `orchard/TP3 DC`: the name of its reading within the yard.
    pub fn key(&self, site: &Site) -> String {
        key(site, self.zone, &self.name)
    }
}

fn key(site: &Site, zone: ZoneId, name: &str) -> String {
    format!("{}/{name}", site[zone].name)
}

/// All readings to take, zone by zone, masters before slaves; within a zone by the number of the point.
///
/// # Errors
/// If a simulation cannot conclude.
pub fn points(site: &Site) -> Result<Vec<Point>, CannotConclude> {
    let ordinary: Vec<LinkCase> = site
        .links
        .iter()
        .map(|link| {
            let case = Case {
                mains: MainsLevel::Nominal,
                box_c: site.temperatures.typical_c,
                parts: Parts::Nominal,
            };
            work_out(site, link, case).map_err(|undecided| undecided.why)
        })
        .collect::<Result<_, _>>()?;
    let mut points = Vec::new();
    for zone in site.zones_in_order() {
        let mut mine = supply::points(site, zone);
        match site[zone].switching {
            Switching::Follows(id) => mine.extend(link::points(site, id, &ordinary[id.0])?),
            Switching::Timed(_) | Switching::Senses(_) => mine.extend(supply::board(site, zone)),
        }
        mine.sort_by_key(|point| number(&point.name));
        let first = first(site, zone, &ordinary);
        for point in &mut mine {
            point.first.clone_from(&first);
        }
        points.extend(mine);
    }
    Ok(points)
}

/// What must be cured before a zone follows: its own link, or one further up its chain.
fn first(site: &Site, zone: ZoneId, ordinary: &[LinkCase]) -> Option<String> {
    let upward = std::iter::successors(Some(zone), |zone| site.master_of(*zone));
    upward.into_iter().find_map(|at| {
        let Switching::Follows(id) = site[at].switching else {
            return None;
        };
        let link = &site[id];
        let does = match held(ordinary[id.0].outcome(), held_by(site, link)) {
            Outcome::Follows => return None,
            Outcome::Chatters => "chatters",
            Outcome::StaysDark => "stays dark",
            Outcome::StaysLit => "stays lit",
        };
        let which = if at == zone {
            "this link"
        } else {
            "a link up this chain"
        };
        Some(format!(
            "By the simulation {which} does not work: {} {does}. Cure it first: TP2 and TP3 are what it gets as it is, all other points what should be then.",
            site[at].name
        ))
    })
}

/// The number in `TP3 DC`.
fn number(name: &str) -> u32 {
    let digits = name.chars().skip(2).take_while(char::is_ascii_digit);
    digits.collect::<String>().parse().unwrap_or(u32::MAX)
}

/// Name of the point where the supply of a zone is measured.
fn supply_point(site: &Site, zone: ZoneId) -> &'static str {
    if site[site[zone].supply].is_ac() {
        "TP1"
    } else {
        "TP6"
    }
}

/// Error of an ordinary meter, as a fraction, and in addition [V] (handheld meters; common practice).
const METER: (f64, f64) = (0.01, 0.03);

/// How much warmer than its box a coil gets in a few hours [K] (common practice: 25 to 50).
const COIL_RISE_K: f64 = 40.0;

/// An ordinary evening of a link, all lamps lit.
fn ordinary(site: &Site, link: LinkId) -> Corner {
    Corner {
        lamps: Lamps::All,
        ..Corner::ordinary(site, &site[link])
    }
}
