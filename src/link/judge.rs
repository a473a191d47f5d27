//! One link over all its cases: outcome, margins, delays, limits.

use crate::circuit::rectifier::OutsideRange;
use crate::circuit::supply;
use crate::parallel;
use crate::site::{Link, Site, Supply, SupplyOutput, ZoneId};
use crate::transient::{self, CannotConclude, steady_state};

use super::builds::{Builds, Draw, builds};
use super::case::{BoxTemperature, Case, LinkCase, MainsLevel, Parts, work_out};
use super::corner::{Corner, Lamps, circuit, pair_ohm};
use super::evenings::{hottest, least, over_evenings};
use super::following::{Following, FollowingByMonth};
use super::questions::{Answer, answers};
use super::times::{Times, ordinary as ordinary_times, times};
use super::{Outcome, Undecided, Weakest, weakest};

/// All that is known of a link before it is built.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkJudgement {
    /// Typical box, nominal mains, nominal parts.
    pub ordinary: LinkCase,
    /// Nominal parts: low, nominal, high mains, each coldest, typical, hottest.
    pub grid: Vec<LinkCase>,
    /// The case with the least margin at dusk, parts against it.
    pub worst_dusk: LinkCase,
    /// The case with the least margin on a hot restart, parts against it.
    pub worst_restart: LinkCase,
    /// The case with the highest coil voltage, parts against it.
    pub highest: LinkCase,
    /// The case with the hottest coil: high mains, as a rule a small coil.
    pub hottest_coil: LinkCase,
    /// The case in which the residual voltage is nearest to the release voltage.
    pub worst_release: LinkCase,
    /// Pull-in and drop-out, over all that hastens and delays them.
    pub times: Times,
    /// The four questions.
    pub answers: [Answer; 4],
    /// Builds drawn at random.
    pub builds: Builds,
    /// What the slave does where all is ordinary, for the plan.
    pub following: FollowingByMonth,
    /// From master on to slave lit on an ordinary evening [s]; `None` if the relay does not pull in.
    pub on_delay_s: Option<f64>,
    /// Current when the pair is shorted at its far end, behind a supply that does not sag [A].
    pub short_a: f64,
    /// The same with the supply's own resistance in the way: what a fuse is sure to get [A].
    pub sagging_short_a: f64,
    /// In the pair while coil or capacitor is shorted, all lamps lit [A RMS or A DC]: a series resistor, the
    /// diodes and the supply's own resistance leave so much.
    /// Least at the lowest mains, which is what a fuse is sure to get; most at the highest.
    pub coil_short_a: CoilShort,
    /// Box temperatures at which the margins are gone.
    pub limits: TemperatureLimits,
    /// What takes most of the margin.
    pub weakest: Weakest,
    /// Where the calculation by hand does not hold in the ordinary case.
    pub outside: Vec<OutsideRange>,
    /// The zone up its chain, its master or further, whose supply the slave switches: the contact
    /// then holds its own coil on.
    pub held_by: Option<ZoneId>,
}

/// Said of what follows so.
pub(crate) const ONLY_ORDINARILY: &str = " on an ordinary evening, not at the worst";

/// Box temperatures [°C] up to which the relay surely pulls in, rated parts: [`HOTTEST_BOX_C`] where it
/// does at every temperature looked at, `None` where it does at none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TemperatureLimits {
    /// At dusk, nominal mains.
    pub dusk_nominal_c: Option<f64>,
    /// At dusk, low mains.
    pub dusk_low_c: Option<f64>,
    /// On a hot restart, nominal mains.
    pub restart_nominal_c: Option<f64>,
    /// On a hot restart, low mains.
    pub restart_low_c: Option<f64>,
}

impl LinkJudgement {
    /// What the slave does where all is ordinary.
    pub fn outcome(&self) -> Outcome {
        held(self.ordinary.outcome(), self.held_by)
    }

    /// Whether it follows where all is ordinary, and not where all is against it.
    pub fn only_ordinarily(&self) -> bool {
        self.outcome() == Outcome::Follows
            && (self.worst_dusk.margin_dusk < 0.0
                || self.worst_release.outcome() == Outcome::StaysLit)
    }

    /// What the slave does: `follows on an ordinary evening, not at the worst`.
    pub fn says(&self) -> String {
        let rarely = if self.only_ordinarily() {
            ONLY_ORDINARILY
        } else {
            ""
        };
        format!("{}{rarely}", self.outcome())
    }

    /// The grid's case of a mains level at an evening's temperature.
    pub fn case(&self, mains: MainsLevel, temperature: BoxTemperature) -> &LinkCase {
        let level = MainsLevel::ALL
            .iter()
            .position(|at| *at == mains)
            .expect("a level");
        let evening = BoxTemperature::ALL
            .iter()
            .position(|at| *at == temperature)
            .expect("an evening");
        &self.grid[level * BoxTemperature::ALL.len() + evening]
    }
}

/// The zone up the chain of a link, its master or further, that hangs on the slave's supply.
pub(crate) fn held_by(site: &Site, link: &Link) -> Option<ZoneId> {
    let supply = site[link.slave].supply;
    // A board that follows an input passes the hold on as a relay does.
    let upward = std::iter::successors(Some(link.master), |zone| site.master_of(*zone));
    upward.into_iter().find(|zone| site[*zone].supply == supply)
}

/// What a relay that follows does where its own contact holds it.
pub(crate) fn held(outcome: Outcome, by: Option<ZoneId>) -> Outcome {
    match (outcome, by) {
        (Outcome::Follows, Some(_)) => Outcome::StaysLit,
        _ => outcome,
    }
}

/// A link on an evening where all but the temperature is ordinary.
pub(super) fn ordinary(site: &Site, link: &Link, box_c: f64) -> Result<LinkCase, Undecided> {
    let case = Case {
        mains: MainsLevel::Nominal,
        box_c,
        parts: Parts::Nominal,
    };
    work_out(site, link, case)
}

/// What the slave does on the ordinary evening of each month.
pub(super) fn following(site: &Site, link: &Link) -> Result<FollowingByMonth, Undecided> {
    let at = |box_c| ordinary(site, link, box_c)?.following(site, link);
    match site.temperatures.monthly {
        None => Ok(FollowingByMonth::all_year(at(site.temperatures.typical_c)?)),
        Some(_) => FollowingByMonth::new(|month| at(site.temperatures.of_month(month).typical_c)),
    }
}

impl LinkCase {
    /// What the slave does in this case, which is an ordinary one, for the plan.
    fn following(&self, site: &Site, link: &Link) -> Result<Following, Undecided> {
        let supply = site.switched(link);
        match held(self.outcome(), held_by(site, link)) {
            Outcome::StaysLit => Ok(Following::StaysLit),
            // A relay that chatters switches its supply on and off faster than that starts.
            Outcome::StaysDark | Outcome::Chatters => Ok(Following::StaysDark),
            Outcome::Follows => {
                let times = ordinary_times(site, link, self.case.box_c, self.warm.coil_c)
                    .map_err(|why| Undecided::new(site, link, self.case, why))?;
                Ok(match times.on_delay_s(supply) {
                    None => Following::StaysDark,
                    Some(on_delay_s) => {
                        times
                            .off_delay_s(supply)
                            .map_or(Following::StaysLit, |off_delay_s| Following::Follows {
                                on_delay_s,
                                off_delay_s,
                            })
                    }
                })
            }
        }
    }
}

/// Whether two links are built alike, on the same master and with such slaves that whatever is said of the one
/// holds for the other.
pub fn alike(site: &Site, one: &Link, other: &Link) -> bool {
    let built = Link {
        slave: other.slave,
        ..one.clone()
    } == *other;
    let supply = |link: &Link| site.switched(link);
    built
        && Supply {
            name: supply(other).name.clone(),
            ..supply(one).clone()
        } == *supply(other)
        && held_by(site, one) == held_by(site, other)
}

/// Judges one link, on all cores.
///
/// # Errors
/// If a simulation cannot conclude.
pub fn judge_link(site: &Site, link: &Link, draw: Draw) -> Result<LinkJudgement, Undecided> {
    judge_link_on(site, link, draw, parallel::cores())
}

/// Judges one link on so many threads.
pub(super) fn judge_link_on(
    site: &Site,
    link: &Link,
    draw: Draw,
    threads: usize,
) -> Result<LinkJudgement, Undecided> {
    let over_evenings = |mains, parts| over_evenings(site, link, mains, parts);
    let mut grid: Vec<LinkCase> = Vec::new();
    for mains in MainsLevel::ALL {
        grid.extend(over_evenings(mains, Parts::Nominal)?);
    }
    let against = over_evenings(MainsLevel::Low, Parts::AgainstOperate)?;
    let large = over_evenings(MainsLevel::High, Parts::AgainstCoil)?;
    let small = over_evenings(MainsLevel::High, Parts::AgainstOperate)?;
    let worst_release = least(&grid[3..6], |case| case.release_v - case.residual_v);
    let hottest_coil = hottest(large.iter().chain(&grid[6..9]).chain(&small));
    let ordinary = grid[4].clone();
    let pair_ohm = pair_ohm(site, link, site.temperatures.wire_c);
    let short_a = |source_ohm| supply::short_circuit_a(ordinary.tap_v, pair_ohm, source_ohm);
    let undecided = |why: CannotConclude| Undecided::new(site, link, ordinary.case, why);
    let times = times(site, link).map_err(undecided)?;
    let coil_short_a = coil_short(site, link).map_err(undecided)?;
    let supply = site.switched(link);
    Ok(LinkJudgement {
        on_delay_s: match ordinary.outcome() {
            Outcome::Follows | Outcome::StaysLit => times.ordinary.on_delay_s(supply),
            Outcome::StaysDark | Outcome::Chatters => None,
        },
        times,
        answers: answers(site, link).map_err(undecided)?,
        builds: builds(site, link, draw, threads).map_err(undecided)?,
        following: following(site, link)?,
        short_a: short_a(0.0),
        sagging_short_a: {
            let feeding = site.feeding(link);
            let source_ohm = match feeding.output {
                // It holds its voltage until it limits its current.
                SupplyOutput::Dc { max_a: Some(_), .. } => 0.0,
                _ => ordinary.supply_ohm,
            };
            feeding.limited_a(short_a(source_ohm))
        },
        coil_short_a,
        limits: limits(site, link)?,
        weakest: weakest::of(&ordinary, link),
        outside: ordinary.paper.outside.clone(),
        held_by: held_by(site, link),
        worst_dusk: least(&against, |case| case.margin_dusk),
        worst_restart: least(&against, |case| case.margin_restart),
        highest: least(&large, |case| -case.dusk.coil_v.max(case.warm.coil_v)),
        ordinary,
        grid,
        hottest_coil,
        worst_release,
    })
}

/// A short across the coil: a lead's ohms, a lead's inductance [Ω], [H].
const SHORT: (f64, f64) = (0.05, 1e-5);

/// A link's circuit with its coil shorted, or its capacitor.
pub(crate) fn coil_shorted(circuit: &transient::Link) -> transient::Link {
    let mut shorted = *circuit;
    (shorted.coil.ohm, shorted.coil.open_h) = SHORT;
    shorted.coil.closed_h = shorted.coil.open_h;
    shorted
}

/// Current in a pair while its coil is shorted [A RMS or A DC].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilShort {
    /// At the lowest mains or supply voltage.
    pub least: f64,
    /// At the highest.
    pub most: f64,
}

impl CoilShort {
    /// What it leaves to the series resistor of a link, at most [W].
    pub fn resistor_w(self, link: &Link) -> f64 {
        self.most * self.most * link.series_ohm
    }
}

/// See [`LinkJudgement::coil_short_a`].
pub(crate) fn coil_short(site: &Site, link: &Link) -> Result<CoilShort, CannotConclude> {
    let at = |level| -> Result<f64, CannotConclude> {
        let corner = Corner {
            level,
            lamps: Lamps::All,
            ..Corner::ordinary(site, link)
        };
        let shorted = coil_shorted(&circuit(site, link, &corner));
        let pair_a = steady_state(&shorted)?.window.wire_rms_a;
        Ok(site.feeding(link).limited_a(pair_a))
    };
    Ok(CoilShort {
        least: at(-1.0)?,
        most: at(1.0)?,
    })
}

/// Hottest box looked at [°C]: beyond what electronics in a garden meets.
pub const HOTTEST_BOX_C: f64 = 120.0;

/// Coldest box looked at [°C].
const COLDEST_BOX_C: f64 = -40.0;

fn limits(site: &Site, link: &Link) -> Result<TemperatureLimits, Undecided> {
    let limit = |mains, margin: fn(&LinkCase) -> f64| -> Result<Option<f64>, Undecided> {
        let margin_at = |box_c| {
            let parts = Parts::Nominal;
            Ok(margin(&work_out(
                site,
                link,
                Case {
                    mains,
                    box_c,
                    parts,
                },
            )?))
        };
        let (mut works, mut fails) = (COLDEST_BOX_C, HOTTEST_BOX_C);
        if margin_at(fails)? >= 0.0 {
            return Ok(Some(fails));
        }
        if margin_at(works)? < 0.0 {
            return Ok(None);
        }
        // A tenth of a degree is finer than any box is known.
        while fails - works > 0.1 {
            let middle = f64::midpoint(works, fails);
            if margin_at(middle)? < 0.0 {
                fails = middle;
            } else {
                works = middle;
            }
        }
        Ok(Some(works))
    };
    Ok(TemperatureLimits {
        dusk_nominal_c: limit(MainsLevel::Nominal, |case| case.margin_dusk)?,
        dusk_low_c: limit(MainsLevel::Low, |case| case.margin_dusk)?,
        restart_nominal_c: limit(MainsLevel::Nominal, |case| case.margin_restart)?,
        restart_low_c: limit(MainsLevel::Low, |case| case.margin_restart)?,
    })
}

/// Greatest voltage that the capacitor and the diodes ever see [V]: the peak at high mains with no
/// lamp connected.
pub(crate) fn greatest_peak_v(site: &Site, link: &Link) -> f64 {
    match site.feeding(link).output {
        SupplyOutput::Ac { no_load_v, .. } => {
            std::f64::consts::SQRT_2 * super::case::mains_factor(site, MainsLevel::High) * no_load_v
        }
        SupplyOutput::Dc { highest_v, .. } => highest_v,
    }
}
