//! Corners harder than the verdict asks for: shown, but not judged.

use crate::circuit::relay;
use crate::site::{Link, Site};
use crate::transient::CannotConclude;

use super::case::{settled, warm};
use super::corner::{self, Corner, Lamps};
use super::worn::{self, Alter};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BeyondCase {
    /// The warm coil must pull in again: low mains, a flat crest, worn parts, warm wire.
    WornRestart,
    /// The coil must withstand high mains with every lamp out.
    LampsOut,
}

impl BeyondCase {
    pub const ALL: [Self; 2] = [Self::WornRestart, Self::LampsOut];

    /// The name that the JSON uses.
    pub fn name(self) -> &'static str {
        match self {
            Self::WornRestart => "worn restart",
            Self::LampsOut => "lamps out",
        }
    }
}

/// What a corner beyond the verdict does to the coil, at the harder end of the year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beyond {
    pub case: BeyondCase,
    /// Box [°C].
    pub box_c: f64,
    /// Coil [°C].
    pub coil_c: f64,
    /// On the coil [V].
    pub coil_v: f64,
    /// What it must reach, or stay below [V].
    pub limit_v: f64,
}

impl Beyond {
    /// Whether the link withstands it.
    pub fn holds(&self) -> bool {
        self.spare() >= 0.0
    }

    fn spare(&self) -> f64 {
        match self.case {
            BeyondCase::WornRestart => self.coil_v / self.limit_v - 1.0,
            BeyondCase::LampsOut => 1.0 - self.coil_v / self.limit_v,
        }
    }
}

/// Works out a corner for a link whose circuit differs from the site file.
///
/// # Errors
/// If the simulation cannot conclude.
pub(crate) fn beyond(
    site: &Site,
    link: &Link,
    case: BeyondCase,
    alter: Alter<'_>,
) -> Result<Beyond, CannotConclude> {
    let at = |box_c| read(site, link, case, box_c, alter);
    let cold = at(site.temperatures.coldest_c)?;
    let hot = at(site.temperatures.hottest_c)?;
    Ok(if hot.spare() < cold.spare() {
        hot
    } else {
        cold
    })
}

fn read(
    site: &Site,
    link: &Link,
    case: BeyondCase,
    box_c: f64,
    alter: Alter<'_>,
) -> Result<Beyond, CannotConclude> {
    let relay = &link.relay;
    let corner = match case {
        BeyondCase::WornRestart => worn::corner(site, link, box_c),
        BeyondCase::LampsOut => Corner {
            level: 1.0,
            crest: 1.0 + worn::led_lamps(site, link),
            lamps: Lamps::Unplugged,
            wire_c: site.temperatures.wire_c.min(box_c),
            coil_part: 1.0 + relay.coil_tolerance,
            ..Corner::ordinary(site, link).in_box(box_c)
        },
    };
    let circuit = alter(corner::circuit(site, link, &corner));
    let warm = warm(link, &corner, &circuit)?;
    let (coil_v, limit_v) = match case {
        BeyondCase::WornRestart => (
            warm.coil_v,
            relay::threshold_v(relay.operate_v, warm.coil_c),
        ),
        BeyondCase::LampsOut => (
            settled(&circuit)?.window.coil_mean_v.max(warm.coil_v),
            relay.max_coil_v.min(relay::thermal_limit_v(
                relay.coil_ohm,
                box_c,
                relay.thermal_k_per_w,
                relay.max_coil_c,
            )),
        ),
    };
    Ok(Beyond {
        case,
        box_c,
        coil_c: warm.coil_c,
        coil_v,
        limit_v,
    })
}
