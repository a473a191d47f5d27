//! What may go wrong on the evenings of one month: the judgement of a link at the month's temperatures.
//!
//! A night is at risk only in a yard that the verdict warns of. The buried wire keeps its temperature, and the
//! grid does not know the season.

use std::fmt;

use chrono::Month;

use crate::site::{Link, MonthTemperatures, Site};

use super::judge::{Aspect, Judge, Judgement, Margin};
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
    /// The coil may get hotter than it bears: it follows, and wears out.
    CoilHeat,
}

impl fmt::Display for Risk {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::StaysDark => "stays dark",
            Self::StaysLit => "stays lit",
            Self::HotRestart => "hot restart",
            Self::CoilHeat => "coil too hot",
        })
    }
}

/// A link on the evenings of one month.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthRisk {
    pub month: Month,
    pub temperatures: MonthTemperatures,
    /// The judgement at these temperatures.
    pub judged: Judgement,
}

impl MonthRisk {
    /// What the slave does on the typical evening.
    pub fn outcome(&self) -> Outcome {
        self.judged.outcome()
    }

    /// Whether even the typical evening fails.
    pub fn fails(&self) -> bool {
        self.outcome() != Outcome::Follows
    }

    /// What may go wrong, worst first. A relay that may not pull in cold does not do so warm, which is
    /// not told again.
    pub fn risks(&self) -> Vec<Risk> {
        let outcome = self.outcome();
        let left = |aspect| self.judged.margin(aspect).fraction;
        let dark = outcome == Outcome::StaysDark || left(Aspect::Dusk) < 0.0;
        let lit = outcome == Outcome::StaysLit || left(Aspect::Release) <= 0.0;
        let restart = !dark && left(Aspect::HotRestart) < 0.0;
        [
            (dark, Risk::StaysDark),
            (lit, Risk::StaysLit),
            (restart, Risk::HotRestart),
            (left(Aspect::CoilHeat) < 0.0, Risk::CoilHeat),
        ]
        .into_iter()
        .filter_map(|(may, risk)| may.then_some(risk))
        .collect()
    }

    /// Whether a risk is not only at the extremes.
    pub fn is_certain(&self, risk: Risk) -> bool {
        match risk {
            Risk::StaysDark => self.outcome() == Outcome::StaysDark,
            Risk::StaysLit => self.outcome() == Outcome::StaysLit,
            Risk::HotRestart | Risk::CoilHeat => false,
        }
    }

    /// The margin that a risk is about; `None` where the slave's own contact holds it.
    pub fn least(&self, risk: Risk) -> Option<&Margin> {
        let aspect = match risk {
            Risk::StaysLit if self.judged.held_by.is_some() => return None,
            Risk::StaysDark => Aspect::Dusk,
            Risk::StaysLit => Aspect::Release,
            Risk::HotRestart => Aspect::HotRestart,
            Risk::CoilHeat => Aspect::CoilHeat,
        };
        Some(self.judged.margin(aspect))
    }
}

/// Works out one month of one link, from the temperatures that [`Site`] has for it.
///
/// # Errors
/// If a simulation cannot conclude.
pub fn risk_of_month(site: &Site, link: &Link, month: Month) -> Result<MonthRisk, Undecided> {
    Ok(MonthRisk {
        month,
        temperatures: site.temperatures.of_month(month),
        judged: Judge::of_month(site, link, month).judgement()?,
    })
}
