//! What can be wrong with a link, and how much it weighs.

use super::Verdict;
use super::judge::{Aspect, Margin};

/// What is wrong with a link, worst first: what does not work, what may not work, what wears out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Trouble {
    /// The slave's own contact holds it on.
    HeldOn,
    /// The relay does not pull in under ordinary conditions.
    StaysDark,
    /// It pulls in and lets go repeatedly.
    Chatters,
    /// It does not let go.
    StaysLit,
    /// It does not pull in on some evenings at nominal mains with rated parts.
    DarkSomeEvenings,
    /// Its coil passes its heat limit on some evenings at nominal mains with rated parts.
    Cooks,
    /// It may not pull in at low mains with parts at their worst.
    MayStayDark,
    /// It may not pull in again when warm.
    HotRestart,
    /// It may chatter at low mains with worn parts.
    MayChatter,
    /// The coil may get more than its maximum continuous voltage.
    CoilVoltage,
    /// At high mains the coil may get hotter than its limit.
    CoilHeat,
    /// The margin over pull-in at nominal mains is thin.
    Thin,
    /// The pull varies from pulse to pulse.
    Buzzes,
}

impl Trouble {
    /// The verdict that it leads to: a link that fails at nominal mains with rated parts on any evening is a
    /// NO-GO.
    pub fn verdict(self) -> Verdict {
        if self <= Self::Cooks {
            Verdict::NoGo
        } else {
            Verdict::Caution
        }
    }

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

    /// The name that JSON and CSV use.
    pub fn name(self) -> &'static str {
        match self {
            Self::HeldOn => "held on",
            Self::StaysDark => "stays dark",
            Self::Chatters => "chatters",
            Self::StaysLit => "stays lit",
            Self::DarkSomeEvenings => "dark on some evenings",
            Self::Cooks => "coil cooks",
            Self::MayStayDark => "may stay dark",
            Self::HotRestart => "hot restart may fail",
            Self::MayChatter => "may chatter",
            Self::CoilVoltage => "coil voltage",
            Self::CoilHeat => "coil heat",
            Self::Thin => "thin margin",
            Self::Buzzes => "buzzes",
        }
    }
}

/// What is wrong with a link, with the figures that show it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finding {
    pub trouble: Trouble,
    /// The case, and how much is left or missing; `None` where no voltage decides.
    pub margin: Option<Margin>,
}
