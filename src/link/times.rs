//! How long a relay takes to close after its master comes on, and to open after it goes off.
//!
//! The times change by milliseconds with the point on the sine where the master's switch closes and opens, so
//! every figure comes from several phases.

use std::f64::consts::{PI, TAU};

use crate::site::{Link, Site, Supply};
use crate::transient::{CannotConclude, Transient, simulate};

use super::case::warmed;
use super::corner::{self, Corner, Lamps};
use super::worn::AGED;

/// Number of phases of a half-period that are tried.
const PHASES: u32 = 6;

/// Shortest operate and release times of a relay, as a fraction of its data sheet's (4 of 10 ms is usual; from
/// memory).
const QUICK: f64 = 0.4;

/// Lowest voltage at which a relay pulls in, as a fraction of its guaranteed operate voltage (from memory).
pub(super) const EASY: f64 = 0.7;

/// From the quickest to the slowest [s].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Everything is at its fastest.
    pub least_s: f64,
    /// Rated parts on an ordinary evening, the median of the phases.
    pub typical_s: f64,
    /// Everything is at its slowest.
    pub most_s: f64,
}

/// When the contact of a link closes and opens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Times {
    /// From master on to contact closed; `None` if the contact may not close.
    pub pull_in: Option<Band>,
    /// From master off to contact open; `None` if the contact may not open.
    pub drop_out: Option<Band>,
    /// On an ordinary evening, even where the worst case has no answer.
    pub ordinary: Ordinary,
    /// From master off to contact open on an ordinary evening with the guaranteed release voltage,
    /// at the latest phase [s].
    pub guaranteed_release_s: Option<f64>,
    /// Time for which the contact bounces after it first closes [s].
    pub bounce_s: f64,
    /// Shortest time off after which its supply restarts [s].
    pub restart_s: f64,
}

/// When the contact of a link closes and opens on an ordinary evening, rated parts, the median of the phases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ordinary {
    /// From master on to contact closed [s]; `None` if it does not close.
    pub pull_in_s: Option<f64>,
    /// From master off to contact open, the coil warm [s]; `None` if it does not open.
    pub drop_out_s: Option<f64>,
}

impl Ordinary {
    /// From master on to slave lit [s]: the contact closes and comes to rest, the supply starts.
    pub fn on_delay_s(&self, supply: &Supply) -> Option<f64> {
        self.pull_in_s
            .map(|pull_in_s| pull_in_s + BOUNCE_S + supply.start_s)
    }

    /// From master off to slave dark [s]: the contact opens, then the supply runs out.
    pub fn off_delay_s(&self, supply: &Supply) -> Option<f64> {
        self.drop_out_s
            .map(|drop_out_s| drop_out_s + supply.hold_up_s)
    }
}

/// Bounce of a small relay's contact [s] (1 to 5 ms; from memory).
const BOUNCE_S: f64 = 2e-3;

impl Times {
    /// Longest interruption of the master that the slave surely rides through [s].
    pub fn ride_through_s(&self) -> Option<f64> {
        self.drop_out.map(|band| band.least_s)
    }

    /// Shortest time off after which the slave has surely gone dark and surely comes back [s].
    pub fn shortest_off_s(&self) -> Option<f64> {
        self.drop_out.map(|band| band.most_s + self.restart_s)
    }
}

fn over_phases(
    site: &Site,
    link: &Link,
    corner: &Corner,
) -> Result<Vec<Transient>, CannotConclude> {
    let on_ac = site.feeding(link).is_ac();
    let phases = if on_ac { PHASES } else { 1 };
    (0..phases)
        .map(|n| {
            let part = f64::from(n) / f64::from(phases);
            // A single diode needs a whole period; a bridge half of one.
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
                    // A different order, so that the two phases are not linked.
                    off_rad: span * (2.0 * part).fract(),
                    ..*corner
                },
            ))
        })
        .collect()
}

/// Lowest, middle and highest of a value that every transient has; `None` if one lacks it.
fn spread(transients: &[Transient], of: impl Fn(&Transient) -> Option<f64>) -> Option<[f64; 3]> {
    let mut all: Vec<f64> = transients
        .iter()
        .map(|transient| of(transient).filter(|_| !transient.keeps_letting_go()))
        .collect::<Option<_>>()?;
    all.sort_by(f64::total_cmp);
    Some([*all.first()?, all[all.len() / 2], *all.last()?])
}

/// The transients of an ordinary evening, coil cold and coil warm.
struct Evening {
    cold: Vec<Transient>,
    warm: Vec<Transient>,
}

impl Evening {
    fn of(
        site: &Site,
        link: &Link,
        corner: &Corner,
        warm_coil_c: f64,
    ) -> Result<Self, CannotConclude> {
        let warm = Corner {
            coil_c: warm_coil_c,
            ..*corner
        };
        Ok(Self {
            cold: over_phases(site, link, corner)?,
            warm: over_phases(site, link, &warm)?,
        })
    }

    fn ordinary(&self) -> Ordinary {
        let drop_out = |transient: &Transient| transient.drop_out_s;
        Ordinary {
            pull_in_s: middle(&self.cold, |transient| transient.pull_in_s),
            // A warm coil that could not pull in again still lets go: take the cold coil's time.
            drop_out_s: middle(&self.warm, drop_out).or_else(|| middle(&self.cold, drop_out)),
        }
    }
}

/// The median over the transients that have the value.
fn middle(transients: &[Transient], of: impl Fn(&Transient) -> Option<f64>) -> Option<f64> {
    let mut all: Vec<f64> = transients
        .iter()
        .filter(|transient| !transient.keeps_letting_go())
        .filter_map(of)
        .collect();
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied()
}

/// The times of a link on an ordinary evening with the box at `box_c`, and the coil at `warm_coil_c` after
/// hours of being on.
pub(super) fn ordinary(
    site: &Site,
    link: &Link,
    box_c: f64,
    warm_coil_c: f64,
) -> Result<Ordinary, CannotConclude> {
    if corner::bare(site, link) {
        return Ok(NEVER);
    }
    let corner = Corner::ordinary(site, link).in_box(box_c);
    Ok(Evening::of(site, link, &corner, warm_coil_c)?.ordinary())
}

/// The times of a relay that only buzzes.
const NEVER: Ordinary = Ordinary {
    pull_in_s: None,
    drop_out_s: None,
};

/// The times of a link, from the quickest to the slowest.
pub(super) fn times(site: &Site, link: &Link) -> Result<Times, CannotConclude> {
    let relay = &link.relay;
    let temperatures = [site.temperatures.coldest_c, site.temperatures.hottest_c];
    let ordinary = Corner::ordinary(site, link);
    let none = Times {
        pull_in: None,
        drop_out: None,
        ordinary: NEVER,
        guaranteed_release_s: None,
        bounce_s: BOUNCE_S,
        restart_s: site.switched(link).restart_s(),
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
    // Looks at both ends of the year.
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
        // For the slowest every corner must act; for the quickest, those that act at all.
        let pick = if most { f64::max } else { f64::min };
        let all = ends.iter().all(Option::is_some);
        let spread = ends.into_iter().flatten().reduce(pick);
        Ok::<_, CannotConclude>(spread.filter(|_| all || !most))
    };
    let band = |least: Option<f64>, typical: Option<[f64; 3]>, most: Option<f64>| {
        let typical_s = typical?[1];
        // A quick relay that would chatter sets no bound: the ordinary one does.
        let least_s = least.unwrap_or(typical?[0]).min(typical?[0]);
        Some(Band {
            least_s,
            typical_s,
            most_s: most?.max(typical?[2]),
        })
    };
    let warm_coil_c = warmed(site, link, &ordinary)?.coil_c;
    let evening = Evening::of(site, link, &ordinary, warm_coil_c)?;
    let guaranteed = Corner {
        release_v: relay.release_v,
        coil_c: warm_coil_c,
        ..ordinary
    };
    let guaranteed = over_phases(site, link, &guaranteed)?;
    // A weak link with a warm coil does not close at low mains, but lets go early wherever it does close.
    let nominal_off = Corner {
        level: 0.0,
        ..quick_off
    };
    let least_off = [
        extreme(quick_off, drop_out, false, true)?,
        extreme(nominal_off, drop_out, false, true)?,
        extreme(nominal_off, drop_out, false, false)?,
    ];
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
            spread(&evening.cold, pull_in),
            extreme(slow_on, pull_in, true, false)?,
        ),
        drop_out: band(
            least_off.into_iter().flatten().reduce(f64::min),
            // As in `Evening::ordinary`.
            spread(&evening.warm, drop_out).or(spread(&evening.cold, drop_out)),
            most_off,
        ),
        ordinary: evening.ordinary(),
        guaranteed_release_s: spread(&guaranteed, drop_out).map(|s| s[2]),
        ..none
    })
}
