//! What may fail on the evenings of one month: the judgement of a link at the month's temperatures.
//!
//! Nights are at risk only in a yard that the verdict warns about. The buried wire keeps its temperature, and
//! the grid does not know the season.

use std::fmt;

use chrono::Month;

use crate::site::{Link, MonthTemperatures, Site};

use super::judge::{Aspect, Judge, Judgement, Margin};
use super::{Outcome, Undecided};

/// What may fail on an evening, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Risk {
    /// The relay may not pull in at dusk.
    StaysDark,
    /// The relay may not let go.
    StaysLit,
    /// The relay may not pull in again when it is warm, as after a power blip.
    HotRestart,
    /// The coil may get hotter than its limit: the link follows, but wears out.
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

    /// What may fail, worst first. A relay that may not pull in cold will not pull in warm either, so that is
    /// not listed too.
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

    /// Whether the risk is there on the typical evening too, not only at the extremes.
    pub fn is_certain(&self, risk: Risk) -> bool {
        match risk {
            Risk::StaysDark => self.outcome() == Outcome::StaysDark,
            Risk::StaysLit => self.outcome() == Outcome::StaysLit,
            Risk::HotRestart | Risk::CoilHeat => false,
        }
    }

    /// The margin of a risk; `None` where the slave's own contact holds it on.
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

/// Works out one month of one link, at the temperatures that [`Site`] has for it.
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
