//! How long a relay takes to close after its master comes on, and to open after it goes off.
//!
//! Where on the sine the master's switch closes and opens moves the times by milliseconds, so every
//! figure is taken over several phases.

use std::f64::consts::{PI, TAU};

use crate::site::{Link, Site, SupplyKind};
use crate::transient::{CannotConclude, Transient, simulate};

use super::case::warmed;
use super::corner::{self, Corner, Lamps};
use super::questions::AGED;

/// Phases of a half-period that are tried.
const PHASES: u32 = 6;

/// Least part of a sheet's operate and release times that a relay takes (4 of 10 ms is usual; from
/// memory).
const QUICK: f64 = 0.4;

/// Least part of its guaranteed operate voltage at which a relay pulls in (from memory).
pub(super) const EASY: f64 = 0.7;

/// Off for less than this, a desktop-PC supply need not start again [s] (design guides for the
/// remote-on line).
const REMOTE_ON_RESTART_S: f64 = 0.1;

/// From the quickest to the slowest [s].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// All that may hasten it does.
    pub least_s: f64,
    /// Rated parts on an ordinary evening, the middle of the phases.
    pub typical_s: f64,
    /// All that may delay it does.
    pub most_s: f64,
}

/// When the contact of a link closes and opens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Times {
    /// From master on to contact closed; `None` if it does not surely close.
    pub pull_in: Option<Band>,
    /// From master off to contact open; `None` if it does not surely open.
    pub drop_out: Option<Band>,
    /// From master off to contact open on an ordinary evening with the guaranteed release voltage,
    /// at the latest phase [s].
    pub guaranteed_release_s: Option<f64>,
    /// The contact bounces this long after it first closes [s].
    pub bounce_s: f64,
    /// Its supply restarts only after being off for so long [s].
    pub restart_s: f64,
}

/// Bounce of a small relay's contact [s] (1 to 5 ms; from memory).
const BOUNCE_S: f64 = 2e-3;

impl Times {
    /// Longest dip of the master that the slave surely does not notice [s].
    pub fn ride_through_s(&self) -> Option<f64> {
        self.drop_out.map(|band| band.least_s)
    }

    /// Shortest time off after which the slave has surely gone dark and comes back [s].
    pub fn shortest_off_s(&self) -> Option<f64> {
        self.drop_out.map(|band| band.most_s + self.restart_s)
    }
}

/// The transients of a corner over the phases.
fn over_phases(
    site: &Site,
    link: &Link,
    corner: &Corner,
) -> Result<Vec<Transient>, CannotConclude> {
    let on_ac = site[site[link.master].supply].is_ac();
    let phases = if on_ac { PHASES } else { 1 };
    (0..phases)
        .map(|n| {
            let part = f64::from(n) / f64::from(phases);
            // A single diode sees a whole period; a bridge half of one.
            let span = if link.rectifier.diodes_in_path() == 2 {
                PI
            } else {
                TAU
            };
            simulate(&corner::circuit(
                site,
                link,
                &Corner {
                    on_rad: span * part,
                    // Another order, so that the two do not go together.
                    off_rad: span * (2.0 * part).fract(),
                    ..*corner
                },
            ))
        })
        .collect()
}

/// Least, middle and most of what every transient has; `None` if one has not.
fn spread(transients: &[Transient], of: impl Fn(&Transient) -> Option<f64>) -> Option<[f64; 3]> {
    let mut all: Vec<f64> = transients
        .iter()
        .map(|transient| of(transient).filter(|_| !transient.chatters()))
        .collect::<Option<_>>()?;
    all.sort_by(f64::total_cmp);
    Some([*all.first()?, all[all.len() / 2], *all.last()?])
}

/// The times of a link, over all that may hasten and delay it.
pub(super) fn times(site: &Site, link: &Link) -> Result<Times, CannotConclude> {
    let relay = &link.relay;
    let temperatures = [site.temperatures.coldest_c, site.temperatures.hottest_c];
    let ordinary = Corner::ordinary(site, link);
    let none = Times {
        pull_in: None,
        drop_out: None,
        guaranteed_release_s: None,
        bounce_s: BOUNCE_S,
        restart_s: match site[site[link.slave].supply].kind {
            SupplyKind::DesktopPc => REMOTE_ON_RESTART_S,
            SupplyKind::Transformer | SupplyKind::Dc => 0.0,
        },
    };
    if corner::bare(site, link) {
        return Ok(none);
    }
    let tolerance = link.capacitor.map_or(0.0, |part| part.tolerance);
    let slow_on = Corner {
        level: -1.0,
        coil_part: 1.0 - relay.coil_tolerance,
        capacitor_part: 1.0 + tolerance,
        ..ordinary
    };
    let quick_on = Corner {
        level: 1.0,
        lamps: Lamps::Masters,
        coil_part: 1.0 + relay.coil_tolerance,
        capacitor_part: (1.0 - tolerance) * AGED,
        operate_v: relay.non_operate_v.max(relay.operate_v * EASY),
        travel_part: QUICK,
        ..ordinary
    };
    let slow_off = Corner {
        level: 1.0,
        lamps: Lamps::Unplugged,
        coil_part: 1.0 + relay.coil_tolerance,
        capacitor_part: 1.0 + tolerance,
        release_v: relay.release_v,
        ..ordinary
    };
    let quick_off = Corner {
        level: -1.0,
        coil_part: 1.0 - relay.coil_tolerance,
        capacitor_part: (1.0 - tolerance) * AGED,
        release_v: relay.hold_v,
        travel_part: QUICK,
        ..ordinary
    };
    let pull_in = |transient: &Transient| transient.pull_in_s;
    let drop_out = |transient: &Transient| transient.drop_out_s;
    // At both ends of the year.
    let extreme = |corner: Corner, of: fn(&Transient) -> Option<f64>, most: bool, warm: bool| {
        let mut ends = Vec::new();
        for celsius in temperatures {
            let mut corner = corner.in_box(celsius);
            if warm {
                corner.coil_c = warmed(site, link, &corner)?.coil_c;
            }
            ends.push(
                spread(&over_phases(site, link, &corner)?, of).map(|s| s[if most { 2 } else { 0 }]),
            );
        }
        let ends: Option<Vec<f64>> = ends.into_iter().collect();
        Ok::<_, CannotConclude>(ends.and_then(|ends| {
            let pick = if most { f64::max } else { f64::min };
            ends.into_iter().reduce(pick)
        }))
    };
    let band = |least: Option<f64>, typical: Option<[f64; 3]>, most: Option<f64>| {
        let typical_s = typical?[1];
        // A quick relay that would chatter is no bound; the ordinary one is.
        let least_s = least.unwrap_or(typical?[0]).min(typical?[0]);
        Some(Band {
            least_s,
            typical_s,
            most_s: most?.max(typical?[2]),
        })
    };
    let evening = over_phases(site, link, &ordinary)?;
    let mut warm = ordinary;
    warm.coil_c = warmed(site, link, &ordinary)?.coil_c;
    let later = over_phases(site, link, &warm)?;
    let guaranteed = Corner {
        release_v: relay.release_v,
        ..warm
    };
    let guaranteed = over_phases(site, link, &guaranteed)?;
    let most_off = match (
        extreme(slow_off, drop_out, true, false)?,
        extreme(slow_off, drop_out, true, true)?,
    ) {
        (Some(cold), Some(warm)) => Some(cold.max(warm)),
        _ => None,
    };
    Ok(Times {
        pull_in: band(
            extreme(quick_on, pull_in, false, false)?,
            spread(&evening, pull_in),
            extreme(slow_on, pull_in, true, false)?,
        ),
        drop_out: band(
            extreme(quick_off, drop_out, false, true)?,
            // A warm coil that could not pull in again lets go all the same: the cold one's time.
            spread(&later, drop_out).or(spread(&evening, drop_out)),
            most_off,
        ),
        guaranteed_release_s: spread(&guaranteed, drop_out).map(|s| s[2]),
        ..none
    })
}
