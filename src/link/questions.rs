//! The four questions of a link, each at its own worst corner: does it pull in, does it stay in, does
//! it let go, does it survive?
//!
//! Every question is monotone in every part, so one corner decides it; both ends of the year are
//! looked at, because diodes, copper and coil pull different ways.

use std::fmt;

use crate::circuit::relay;
use crate::site::{LampKind, Link, Site};
use crate::transient::{self, CannotConclude};

use super::case::{settled, warm, with_coil};
use super::corner::{self, Corner, Lamps};

/// What a mains crest as flat as is usual leaves of the peak: 1.36 over 1.414 (crest factors of real
/// mains; common practice).
pub(super) const FLAT_CREST: f64 = 1.36 / std::f64::consts::SQRT_2;

/// How far LED lamps with a rectifier of their own move the peak, either way (circuit simulation of
/// 470 to 2000 µF in all).
pub(super) const LED_LAMPS: f64 = 0.03;

/// What is left of a capacitor at the end of its life (common practice).
pub(super) const AGED: f64 = 0.8;

/// ESR of a cold or aged capacitor over that of a new one (common practice).
pub(super) const AGED_ESR: f64 = 4.0;

/// What is asked of a link.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Question {
    /// Does the warm coil pull in again, when the mains is low?
    Operates,
    /// Does it stay in without chatter?
    Holds,
    /// Does it let go when the master is off?
    Releases,
    /// Does the coil survive high mains with every lamp out?
    Survives,
}

impl fmt::Display for Question {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Operates => "pulls in",
            Self::Holds => "stays in",
            Self::Releases => "lets go",
            Self::Survives => "survives",
        })
    }
}

impl Question {
    /// In the order of the answers.
    pub const ALL: [Self; 4] = [Self::Operates, Self::Holds, Self::Releases, Self::Survives];

    /// As in the JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Operates => "operates",
            Self::Holds => "holds",
            Self::Releases => "releases",
            Self::Survives => "survives",
        }
    }
}

/// A coil voltage against its limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// At this box temperature [°C].
    pub box_c: f64,
    /// Coil temperature [°C].
    pub coil_c: f64,
    /// On the coil [V]: the mean, or where the least or greatest decides, that.
    pub coil_v: f64,
    /// What it must pass, or must not [V].
    pub limit_v: f64,
    /// What is in hand, as a fraction of the limit; negative: fails.
    pub margin: f64,
}

/// An answer with its band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Answer {
    /// To what.
    pub question: Question,
    /// Rated parts, nominal mains, an ordinary evening.
    pub typical: Reading,
    /// All against it, on the coldest and the hottest evening.
    pub ends: [Reading; 2],
}

impl Answer {
    /// The worse of the two ends.
    pub fn worst(&self) -> &Reading {
        if self.ends[1].margin < self.ends[0].margin {
            &self.ends[1]
        } else {
            &self.ends[0]
        }
    }
}

/// The corner at which a question is hardest, coil at box temperature; `typical` for the ordinary one.
fn hardest(site: &Site, link: &Link, question: Question, box_c: f64) -> Corner {
    let relay = &link.relay;
    let on_ac = site.feeding(link).is_ac();
    let crest = if on_ac { FLAT_CREST } else { 1.0 };
    let led = if on_ac && leds(site, link) {
        LED_LAMPS
    } else {
        0.0
    };
    let ordinary = Corner::ordinary(site, link).in_box(box_c);
    match question {
        Question::Operates | Question::Holds => Corner {
            level: -1.0,
            crest: crest * (1.0 - led),
            wire_c: site.temperatures.wire_c.max(box_c),
            coil_part: 1.0 - relay.coil_tolerance,
            capacitor_part: AGED * (1.0 - link.capacitor.map_or(0.0, |part| part.tolerance)),
            esr_part: AGED_ESR,
            leak_part: 1.0,
            ..ordinary
        },
        Question::Releases => Corner {
            lamps: Lamps::Unplugged,
            release_v: relay.release_v,
            ..ordinary
        },
        Question::Survives => Corner {
            level: 1.0,
            crest: 1.0 + led,
            lamps: Lamps::Unplugged,
            wire_c: site.temperatures.wire_c.min(box_c),
            coil_part: 1.0 + relay.coil_tolerance,
            ..ordinary
        },
    }
}

/// Whether the master's lamps have rectifiers of their own.
pub(super) fn leds(site: &Site, link: &Link) -> bool {
    site[link.master]
        .lamps()
        .any(|group| group.kind == LampKind::Led)
}

/// What is done to a circuit before it is worked out.
type Alter<'a> = &'a dyn Fn(transient::Link) -> transient::Link;

fn read(
    site: &Site,
    link: &Link,
    question: Question,
    corner: Corner,
    alter: Alter<'_>,
) -> Result<Reading, CannotConclude> {
    let relay = &link.relay;
    let lit = || alter(corner::circuit(site, link, &corner));
    let at = |coil_c: f64, volts: f64| relay::threshold_v(volts, coil_c);
    let (coil_c, coil_v, limit_v) = match question {
        Question::Operates => {
            let warm = warm(link, &corner, &lit())?;
            (warm.coil_c, warm.coil_v, at(warm.coil_c, relay.operate_v))
        }
        Question::Holds => {
            let warm = warm(link, &corner, &lit())?;
            let circuit = with_coil(&lit(), warm.coil_ohm);
            let least_a = settled(&circuit)?.window.coil_least_a;
            (
                warm.coil_c,
                least_a * warm.coil_ohm,
                at(warm.coil_c, relay.hold_v),
            )
        }
        Question::Releases => {
            let residual_v = match corner::off_circuit(site, link, &corner) {
                Some(off) => settled(&alter(off))?.window.coil_mean_v,
                None => 0.0,
            };
            (
                corner.coil_c,
                residual_v,
                at(corner.coil_c, relay.release_v),
            )
        }
        Question::Survives => {
            let cold = settled(&lit())?.window.coil_mean_v;
            let warm = warm(link, &corner, &lit())?;
            let limit_v = relay.max_coil_v.min(relay::thermal_limit_v(
                relay.coil_ohm,
                corner.box_c,
                relay.thermal_k_per_w,
                relay.max_coil_c,
            ));
            (warm.coil_c, cold.max(warm.coil_v), limit_v)
        }
    };
    let margin = match question {
        Question::Operates | Question::Holds => coil_v / limit_v - 1.0,
        Question::Releases | Question::Survives => 1.0 - coil_v / limit_v,
    };
    Ok(Reading {
        box_c: corner.box_c,
        coil_c,
        coil_v,
        limit_v,
        margin,
    })
}

/// What is in hand at the worst when something in the circuit is other than the site file says, as a fraction.
pub(crate) fn worst_margin_altered(
    site: &Site,
    link: &Link,
    question: Question,
    alter: Alter<'_>,
) -> Result<f64, CannotConclude> {
    let mut least = f64::INFINITY;
    for celsius in [site.temperatures.coldest_c, site.temperatures.hottest_c] {
        let corner = hardest(site, link, question, celsius);
        least = least.min(read(site, link, question, corner, alter)?.margin);
    }
    Ok(least)
}

/// The answers to the four questions.
pub(super) fn answers(site: &Site, link: &Link) -> Result<[Answer; 4], CannotConclude> {
    let answer = |question| {
        let as_is: Alter<'_> = &|circuit| circuit;
        let typical = read(site, link, question, Corner::ordinary(site, link), as_is)?;
        let end = |celsius| {
            let corner = hardest(site, link, question, celsius);
            read(site, link, question, corner, as_is)
        };
        Ok(Answer {
            question,
            typical,
            ends: [
                end(site.temperatures.coldest_c)?,
                end(site.temperatures.hottest_c)?,
            ],
        })
    };
    Ok([
        answer(Question::Operates)?,
        answer(Question::Holds)?,
        answer(Question::Releases)?,
        answer(Question::Survives)?,
    ])
}
