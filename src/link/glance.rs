//! A link judged by no more than its verdict rests on: for tables of many links that differ in one
//! thing or two.
//!
//! ```text
//! nominal mains, rated parts ×3 evenings ─► what it does, thinnest evening, letting go
//! low mains, parts against pull-in ×3 ────► worst dusk, worst hot restart
//! high mains, three coils ×3 ─────────────► highest coil voltage, hottest coil
//! four questions, all against it ─────────► staying in
//! ```
//!
//! The cases are those of [`super::judge_link`], without its limits, times and builds drawn at random,
//! which take most of its time. The rules are those of the cautions S18 to S22 and S50; fuse, contact
//! and the ratings of capacitor and diodes are no part of it.

use std::fmt;

use crate::circuit::relay;
use crate::site::{Link, Site, ZoneId};

use super::case::{LinkCase, MainsLevel, Parts};
use super::evenings::{hottest, least, over_evenings};
use super::judge::{held, held_by};
use super::questions::{Answer, answers};
use super::{Outcome, Undecided, Verdict};

/// Margin below which a link counts as thin (common practice).
pub(crate) const THIN: f64 = 0.15;

/// Least coil current over mean below which a relay buzzes: the pull varies by more than a third.
pub(crate) const BUZZES: f64 = 0.8;

/// What a verdict rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Glance {
    /// Typical box, nominal mains, nominal parts.
    pub ordinary: LinkCase,
    /// The evening with the least margin at dusk, nominal mains, nominal parts.
    pub thinnest: LinkCase,
    /// The case with the least margin at dusk, parts against it.
    pub worst_dusk: LinkCase,
    /// The case with the least margin on a hot restart, parts against it.
    pub worst_restart: LinkCase,
    /// The case with the highest coil voltage, parts against it.
    pub highest: LinkCase,
    /// The case with the hottest coil.
    pub hottest_coil: LinkCase,
    /// The case in which the residual voltage is nearest to the release voltage.
    pub worst_release: LinkCase,
    /// The four questions, each with all against it.
    pub answers: [Answer; 4],
    /// The zone up its chain whose supply the slave switches.
    pub held_by: Option<ZoneId>,
    /// Margins, in the order of [`Aspect::ALL`].
    margins: [f64; 6],
    /// What the relay may have continuously.
    limits: CoilLimits,
}

/// What a coil may have.
#[derive(Debug, Clone, Copy, PartialEq)]
struct CoilLimits {
    volts: f64,
    celsius: f64,
}

/// What a margin is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aspect {
    /// Pulling in at dusk.
    Dusk,
    /// Pulling in again with a warm coil.
    HotRestart,
    /// Staying in.
    Hold,
    /// Letting go.
    Release,
    /// The voltage that a coil survives.
    CoilVoltage,
    /// The heat that it survives.
    CoilHeat,
}

impl Aspect {
    /// In the order in which a link meets them.
    pub const ALL: [Self; 6] = [
        Self::Dusk,
        Self::HotRestart,
        Self::Hold,
        Self::Release,
        Self::CoilVoltage,
        Self::CoilHeat,
    ];

    /// As in JSON and CSV.
    pub fn name(self) -> &'static str {
        match self {
            Self::Dusk => "dusk",
            Self::HotRestart => "hot restart",
            Self::Hold => "hold",
            Self::Release => "release",
            Self::CoilVoltage => "coil voltage",
            Self::CoilHeat => "coil heat",
        }
    }
}

/// What is wrong with a link, worst first: what does not work, then what may not, then what wears out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Trouble {
    /// The slave's own contact holds it on.
    HeldOn,
    /// The relay does not pull in where all is ordinary.
    StaysDark,
    /// It pulls in and lets go again and again.
    Chatters,
    /// It does not let go.
    StaysLit,
    /// It does not pull in on some evenings at nominal mains.
    DarkSomeEvenings,
    /// Its coil is beyond its heat limit where all is ordinary.
    Cooks,
    /// It may not pull in at low mains with parts at their worst.
    MayStayDark,
    /// It may not pull in again when warm.
    HotRestart,
    /// It may chatter with all against it.
    MayChatter,
    /// The coil gets more than it may have continuously.
    CoilVoltage,
    /// The coil gets hotter than it may.
    CoilHeat,
    /// Little is left over pull-in at nominal mains.
    Thin,
    /// The pull varies from pulse to pulse.
    Buzzes,
}

impl Trouble {
    /// What it makes of a link.
    pub fn verdict(self) -> Verdict {
        if self <= Self::Cooks {
            Verdict::NoGo
        } else {
            Verdict::Caution
        }
    }

    /// What it is about.
    pub fn aspect(self) -> Aspect {
        match self {
            Self::StaysDark | Self::DarkSomeEvenings | Self::MayStayDark | Self::Thin => {
                Aspect::Dusk
            }
            Self::HotRestart => Aspect::HotRestart,
            Self::Chatters | Self::MayChatter | Self::Buzzes => Aspect::Hold,
            Self::HeldOn | Self::StaysLit => Aspect::Release,
            Self::CoilVoltage => Aspect::CoilVoltage,
            Self::Cooks | Self::CoilHeat => Aspect::CoilHeat,
        }
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::HeldOn => "its own contact holds it on",
            Self::StaysDark => "it stays dark",
            Self::Chatters => "the relay chatters",
            Self::StaysLit => "it does not let go",
            Self::DarkSomeEvenings => "it stays dark on some evenings",
            Self::Cooks => "its coil cooks",
            Self::MayStayDark => "it may stay dark at the worst",
            Self::HotRestart => "the hot restart may fail",
            Self::MayChatter => "the relay may chatter",
            Self::CoilVoltage => "the coil gets more than it may",
            Self::CoilHeat => "the coil gets too hot",
            Self::Thin => "less than 15 % is left over pull-in",
            Self::Buzzes => "the relay buzzes",
        })
    }
}

impl Glance {
    /// What the slave does where all is ordinary.
    pub fn outcome(&self) -> Outcome {
        held(self.ordinary.outcome(), self.held_by)
    }

    /// The margin of an aspect where it is least, as a fraction; negative: fails.
    pub fn margin_of(&self, aspect: Aspect) -> f64 {
        self.margins[aspect as usize]
    }

    /// The aspect with the least margin.
    pub fn least(&self) -> Aspect {
        Aspect::ALL
            .into_iter()
            .min_by(|a, b| self.margin_of(*a).total_cmp(&self.margin_of(*b)))
            .expect("six aspects")
    }

    /// The least margin, as a fraction.
    pub fn margin(&self) -> f64 {
        self.margin_of(self.least())
    }

    /// All that is wrong, worst first.
    pub fn troubles(&self) -> Vec<Trouble> {
        let ordinary = &self.ordinary;
        let outcome = ordinary.outcome();
        let dark = outcome == Outcome::StaysDark;
        let some = !dark && self.thinnest.margin_dusk < 0.0;
        let may = !dark && !some && self.worst_dusk.margin_dusk < 0.0;
        let restart = !dark && self.worst_restart.margin_restart < 0.0;
        let holds = self.margin_of(Aspect::Hold);
        let chatters = outcome == Outcome::Chatters;
        let steady = !chatters && !dark;
        let release = &self.worst_release;
        [
            (self.held_by.is_some(), Trouble::HeldOn),
            (dark, Trouble::StaysDark),
            (chatters, Trouble::Chatters),
            (release.residual_v >= release.release_v, Trouble::StaysLit),
            (some, Trouble::DarkSomeEvenings),
            (ordinary.warm.coil_c > self.limits.celsius, Trouble::Cooks),
            (may, Trouble::MayStayDark),
            (restart, Trouble::HotRestart),
            (steady && holds < 0.0, Trouble::MayChatter),
            (self.highest_v() > self.limits.volts, Trouble::CoilVoltage),
            (
                self.hottest_coil.warm.coil_c > self.limits.celsius,
                Trouble::CoilHeat,
            ),
            (
                !dark && (0.0..THIN).contains(&self.thinnest.margin_dusk),
                Trouble::Thin,
            ),
            (
                steady
                    && holds >= 0.0
                    && ordinary.dusk.coil_least_a < BUZZES * ordinary.dusk.coil_a,
                Trouble::Buzzes,
            ),
        ]
        .into_iter()
        .filter_map(|(is, trouble)| is.then_some(trouble))
        .collect()
    }

    /// The worst of what is wrong.
    pub fn trouble(&self) -> Option<Trouble> {
        self.troubles().first().copied()
    }

    /// Whether to build it, as far as the relay is concerned.
    pub fn verdict(&self) -> Verdict {
        self.trouble().map_or(Verdict::Go, Trouble::verdict)
    }

    /// What the relay may have continuously [V].
    pub fn max_coil_v(&self) -> f64 {
        self.limits.volts
    }

    /// How hot its coil may be [°C].
    pub fn max_coil_c(&self) -> f64 {
        self.limits.celsius
    }

    /// The highest coil voltage [V].
    pub fn highest_v(&self) -> f64 {
        highest_v(&self.highest)
    }
}

fn highest_v(case: &LinkCase) -> f64 {
    case.dusk.coil_v.max(case.warm.coil_v)
}

/// The coil voltage at which a case's coil reaches its greatest temperature [V].
fn heat_limit_v(link: &Link, case: &LinkCase) -> f64 {
    let relay = &link.relay;
    let coil_part = match case.case.parts {
        Parts::Nominal => 1.0,
        Parts::AgainstOperate => 1.0 - relay.coil_tolerance,
        Parts::AgainstCoil => 1.0 + relay.coil_tolerance,
    };
    relay::thermal_limit_v(
        relay.coil_ohm * coil_part,
        case.case.box_c,
        relay.thermal_k_per_w,
        relay.max_coil_c,
    )
}

/// Judges a link by what its verdict rests on.
///
/// # Errors
/// If a simulation cannot conclude.
pub fn glance(site: &Site, link: &Link) -> Result<Glance, Undecided> {
    let over_evenings = |mains, parts| over_evenings(site, link, mains, parts);
    let nominal = over_evenings(MainsLevel::Nominal, Parts::Nominal)?;
    let against = over_evenings(MainsLevel::Low, Parts::AgainstOperate)?;
    let large = over_evenings(MainsLevel::High, Parts::AgainstCoil)?;
    let mut coils = large.clone();
    coils.extend(over_evenings(MainsLevel::High, Parts::Nominal)?);
    coils.extend(over_evenings(MainsLevel::High, Parts::AgainstOperate)?);
    let answers =
        answers(site, link).map_err(|why| Undecided::new(site, link, nominal[1].case, why))?;
    let relay = &link.relay;
    let worst_dusk = least(&against, |case| case.margin_dusk);
    let worst_restart = least(&against, |case| case.margin_restart);
    let worst_release = least(&nominal, |case| case.release_v - case.residual_v);
    let highest = least(&large, |case| -highest_v(case));
    let hottest_coil = hottest(&coils);
    Ok(Glance {
        margins: [
            worst_dusk.margin_dusk,
            worst_restart.margin_restart,
            answers[1].worst().margin,
            1.0 - worst_release.residual_v / worst_release.release_v,
            1.0 - highest_v(&highest) / relay.max_coil_v,
            // In a box hotter than the coil may be nothing is left, whatever the voltage.
            (1.0 - hottest_coil.warm.coil_v / heat_limit_v(link, &hottest_coil)).max(-1.0),
        ],
        limits: CoilLimits {
            volts: relay.max_coil_v,
            celsius: relay.max_coil_c,
        },
        thinnest: least(&nominal, |case| case.margin_dusk),
        ordinary: nominal[1].clone(),
        worst_dusk,
        worst_restart,
        highest,
        hottest_coil,
        worst_release,
        answers,
        held_by: held_by(site, link),
    })
}
