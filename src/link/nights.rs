//! What may go wrong on the evenings of one month.
//!
//! ```text
//! month ─ typical box, nominal mains, rated parts ──────────────► what the slave does
//!       ─ coldest, hottest × low mains, parts against pull-in ──► may stay dark, may fail a restart
//!       ─                  × master off, rated parts ───────────► may not let go
//!       ─                  × high mains, parts against the coil ► highest coil voltage
//! ```
//!
//! These are the cases of the verdict, with a month's temperatures for the year's: a night is at risk
//! only in a yard that the verdict warns of. The buried wire keeps its temperature, and the grid does
//! not know the season.

use std::fmt;

use chrono::Month;

use crate::site::{Link, MonthTemperatures, Site};

use super::case::{Case, LinkCase, MainsLevel, Parts, work_out};
use super::judge::{held, held_by, ordinary};
use super::{Outcome, Undecided};

/// What may go wrong on an evening, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Risk {
    /// The relay may not pull in at dusk.
    StaysDark,
    /// The relay may not let go.
    StaysLit,
    /// The relay may not pull in again when it is warm, as after a power blip.
    HotRestart,
}

impl fmt::Display for Risk {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::StaysDark => "stays dark",
            Self::StaysLit => "stays lit",
            Self::HotRestart => "hot restart",
        })
    }
}

/// The least margin over the extremes of a month.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Least {
    /// As a fraction; below 0 it fails.
    pub margin: f64,
    /// Box temperature at which it is least [°C].
    pub box_c: f64,
}

/// A link on the evenings of one month.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MonthRisk {
    /// The month.
    pub month: Month,
    /// Its temperatures.
    pub temperatures: MonthTemperatures,
    /// What the slave does on the typical evening.
    pub outcome: Outcome,
    /// Coil voltage over operate voltage, less one, on the typical evening.
    pub margin_dusk: f64,
    /// The same on a hot restart.
    pub margin_restart: f64,
    /// The least of the former at the extremes.
    pub worst_dusk: Least,
    /// The least on a hot restart at the extremes.
    pub worst_restart: Least,
    /// Part of the release voltage that the residual voltage leaves.
    pub worst_release: Least,
    /// Part of the greatest continuous coil voltage that the coil leaves. No risk of the night: it
    /// wears a coil out, it does not keep a zone dark.
    pub worst_coil: Least,
    /// Whether the slave's own contact holds it on, whatever the temperature.
    pub held: bool,
}

impl MonthRisk {
    /// Whether even the typical evening fails.
    pub fn fails(&self) -> bool {
        self.outcome != Outcome::Follows
    }

    /// What may go wrong, worst first. A relay that may not pull in cold does not do so warm, which is
    /// not told again.
    pub fn risks(&self) -> Vec<Risk> {
        let dark = self.outcome == Outcome::StaysDark || self.worst_dusk.margin < 0.0;
        let lit = self.outcome == Outcome::StaysLit || self.worst_release.margin <= 0.0;
        let restart = !dark && self.worst_restart.margin < 0.0;
        [
            (dark, Risk::StaysDark),
            (lit, Risk::StaysLit),
            (restart, Risk::HotRestart),
        ]
        .into_iter()
        .filter_map(|(may, risk)| may.then_some(risk))
        .collect()
    }

    /// Whether a risk is not only at the extremes.
    pub fn is_certain(&self, risk: Risk) -> bool {
        match risk {
            Risk::StaysDark => self.outcome == Outcome::StaysDark,
            Risk::StaysLit => self.outcome == Outcome::StaysLit,
            Risk::HotRestart => false,
        }
    }

    /// The margin that a risk is about; `None` where the slave's own contact holds it.
    pub fn least(&self, risk: Risk) -> Option<Least> {
        match risk {
            Risk::StaysDark => Some(self.worst_dusk),
            Risk::StaysLit => (!self.held).then_some(self.worst_release),
            Risk::HotRestart => Some(self.worst_restart),
        }
    }
}

/// Works out one month of one link, from the temperatures that [`Site`] has for it.
///
/// # Errors
/// If a simulation cannot conclude.
pub fn risk_of_month(site: &Site, link: &Link, month: Month) -> Result<MonthRisk, Undecided> {
    let temperatures = site.temperatures.of_month(month);
    let typical = ordinary(site, link, temperatures.typical_c)?;
    let extremes = |mains, parts| {
        let at = |box_c| {
            work_out(
                site,
                link,
                Case {
                    mains,
                    box_c,
                    parts,
                },
            )
        };
        Ok::<_, Undecided>([at(temperatures.coldest_c)?, at(temperatures.hottest_c)?])
    };
    let against = extremes(MainsLevel::Low, Parts::AgainstOperate)?;
    let high = extremes(MainsLevel::High, Parts::AgainstCoil)?;
    let off = extremes(MainsLevel::Nominal, Parts::Nominal)?;
    let held_by = held_by(site, link);
    Ok(MonthRisk {
        month,
        temperatures,
        outcome: held(typical.outcome(), held_by),
        margin_dusk: typical.margin_dusk,
        margin_restart: typical.margin_restart,
        worst_dusk: least(&against, |case| case.margin_dusk),
        worst_restart: least(&against, |case| case.margin_restart),
        worst_release: least(&off, |case| 1.0 - case.residual_v / case.release_v),
        worst_coil: least(&high, |case| {
            1.0 - case.dusk.coil_v.max(case.warm.coil_v) / link.relay.max_coil_v
        }),
        held: held_by.is_some(),
    })
}

fn least([coldest, hottest]: &[LinkCase; 2], margin: impl Fn(&LinkCase) -> f64) -> Least {
    let of = |case: &LinkCase| Least {
        margin: margin(case),
        box_c: case.case.box_c,
    };
    let (cold, hot) = (of(coldest), of(hottest));
    if cold.margin < hot.margin { cold } else { hot }
}
