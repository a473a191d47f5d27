//! Everything known about one link before it is built: the judgement, times, builds, limits, and the current in
//! a short.

use crate::circuit::rectifier::OutsideRange;
use crate::circuit::relay;
use crate::circuit::supply;
use crate::parallel;
use crate::site::{Link, Site, Supply, SupplyOutput};
use crate::transient::{self, CannotConclude, steady_state};

use super::beyond::{Beyond, BeyondCase, beyond};
use super::builds::{Builds, Draw, builds};
use super::case::{
    BoxTemperature, Case, LinkCase, MainsLevel, Parts, corner_of, settled, warm, work_out,
};
use super::corner::{self, Corner, Lamps, circuit, pair_ohm};
use super::following::{Following, FollowingByMonth};
use super::judge::{Judge, Judgement, held, held_by};
use super::times::{Ordinary, Times, ordinary as ordinary_times, times};
use super::{Outcome, Undecided, Weakest, weakest};

/// Everything known about a link before it is built.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkJudgement {
    pub judged: Judgement,
    /// Nominal parts: low, nominal, high mains, each coldest, typical, hottest.
    grid: Vec<LinkCase>,
    /// Corners harder than the verdict asks for.
    pub beyond: Vec<Beyond>,
    /// Pull-in and drop-out times, from the quickest to the slowest.
    pub times: Times,
    /// Builds drawn at random.
    pub builds: Builds,
    /// What the slave does under ordinary conditions, for the plan.
    pub following: FollowingByMonth,
    /// From master on to slave lit on an ordinary evening [s]; `None` if the relay does not pull in.
    pub on_delay_s: Option<f64>,
    /// Current with the pair shorted at its far end, behind a supply that does not sag [A].
    pub short_a: f64,
    /// The same behind the supply's own resistance [A]: what a fuse is sure to get.
    pub sagging_short_a: f64,
    /// Current in the pair with coil or capacitor shorted, all lamps lit [A RMS or A DC], as limited by a
    /// series resistor, the diodes and the supply's own resistance. Lowest at the lowest mains, which a fuse is
    /// sure to get; highest at the highest.
    pub coil_short_a: CoilShort,
    /// Box temperatures at which no margin is left.
    pub limits: TemperatureLimits,
    /// The part that takes most of the margin.
    pub weakest: Weakest,
    /// Why the calculation by hand does not hold in the ordinary case.
    pub outside: Vec<OutsideRange>,
}

/// The highest box temperature at which a relay surely pulls in, with rated parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TemperatureLimit {
    /// It does not pull in at any temperature tried.
    AtNone,
    /// Up to this [°C].
    UpTo(f64),
    /// At every temperature tried: up to [`HOTTEST_BOX_C`].
    AtAll,
    /// It pulls in at this [°C]; above it the simulation cannot conclude.
    NotKnownAbove(f64),
}

impl TemperatureLimit {
    /// The highest temperature at which it surely pulls in [°C]; `None` if there is none.
    pub fn up_to_c(self) -> Option<f64> {
        match self {
            Self::AtNone => None,
            Self::UpTo(celsius) | Self::NotKnownAbove(celsius) => Some(celsius),
            Self::AtAll => Some(HOTTEST_BOX_C),
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TemperatureLimits {
    /// At dusk, nominal mains.
    pub dusk_nominal: TemperatureLimit,
    /// At dusk, low mains.
    pub dusk_low: TemperatureLimit,
    /// On a hot restart, nominal mains.
    pub restart_nominal: TemperatureLimit,
    /// On a hot restart, low mains.
    pub restart_low: TemperatureLimit,
}

impl LinkJudgement {
    /// What the slave does under ordinary conditions.
    pub fn outcome(&self) -> Outcome {
        self.judged.outcome()
    }

    /// Typical box, nominal mains, rated parts.
    pub fn ordinary(&self) -> &LinkCase {
        &self.judged.ordinary
    }

    /// The case of rated parts at a mains level, on an evening.
    ///
    /// # Panics
    /// Never: all nine are worked out.
    pub fn case(&self, mains: MainsLevel, evening: BoxTemperature) -> &LinkCase {
        let mut cases = self.cases();
        let (_, _, case) = cases
            .find(|(level, at, _)| (*level, *at) == (mains, evening))
            .expect("all nine are worked out");
        case
    }

    /// The cases of rated parts, from low mains to high, each from the coldest evening to the hottest.
    pub fn cases(&self) -> impl Iterator<Item = (MainsLevel, BoxTemperature, &LinkCase)> {
        nine()
            .zip(&self.grid)
            .map(|((mains, evening), case)| (mains, evening, case))
    }
}

/// Every mains level on every evening.
fn nine() -> impl Iterator<Item = (MainsLevel, BoxTemperature)> {
    let evenings = |mains| BoxTemperature::ALL.map(|evening| (mains, evening));
    MainsLevel::ALL.into_iter().flat_map(evenings)
}

/// A link on an evening where everything but the temperature is ordinary.
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
    let at = |box_c| {
        let case = ordinary(site, link, box_c)?;
        case.following(site, link, || {
            ordinary_times(site, link, box_c, case.warm.coil_c)
        })
    };
    match site.temperatures.monthly {
        None => Ok(FollowingByMonth::all_year(at(site.temperatures.typical_c)?)),
        Some(_) => FollowingByMonth::new(|month| at(site.temperatures.of_month(month).typical_c)),
    }
}

impl LinkCase {
    /// What the slave does in this case, an ordinary one, for the plan; `times` are asked for only if it
    /// follows.
    fn following(
        &self,
        site: &Site,
        link: &Link,
        times: impl FnOnce() -> Result<Ordinary, CannotConclude>,
    ) -> Result<Following, Undecided> {
        let supply = site.switched(link);
        Ok(match held(self.outcome(), held_by(site, link)) {
            Outcome::StaysLit => Following::StaysLit,
            // A relay that chatters switches its supply on and off faster than the supply can start.
            Outcome::StaysDark | Outcome::Chatters => Following::StaysDark,
            Outcome::Follows => {
                let times = times().map_err(|why| Undecided::new(site, link, self.case, why))?;
                match (times.on_delay_s(supply), times.off_delay_s(supply)) {
                    (None, _) => Following::StaysDark,
                    (Some(_), None) => Following::StaysLit,
                    (Some(on_delay_s), Some(off_delay_s)) => Following::Follows {
                        on_delay_s,
                        off_delay_s,
                    },
                }
            }
        })
    }
}

/// Whether two links are electrically identical, so that one judgement serves both.
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

pub(super) fn judge_link_on(
    site: &Site,
    link: &Link,
    draw: Draw,
    threads: usize,
) -> Result<LinkJudgement, Undecided> {
    let judge = Judge::of(site, link);
    let judged = judge.judgement()?;
    let grid = nine()
        .map(|(mains, evening)| judge.case(mains, evening, Parts::Nominal))
        .collect::<Result<_, _>>()?;
    let ordinary = &judged.ordinary;
    let pair_ohm = pair_ohm(site, link, site.temperatures.wire_c);
    let short_a = |source_ohm| supply::short_circuit_a(ordinary.tap_v, pair_ohm, source_ohm);
    let undecided = |why: CannotConclude| Undecided::new(site, link, ordinary.case, why);
    let times = times(site, link).map_err(undecided)?;
    let as_is = |case| beyond(site, link, case, &|circuit| circuit).map_err(undecided);
    let feeding = site.feeding(link);
    let sagging_ohm = match feeding.output {
        // It holds its voltage up to its current limit.
        SupplyOutput::Dc { max_a: Some(_), .. } => 0.0,
        _ => ordinary.supply_ohm,
    };
    Ok(LinkJudgement {
        on_delay_s: match ordinary.outcome() {
            Outcome::Follows | Outcome::StaysLit => times.ordinary.on_delay_s(site.switched(link)),
            Outcome::StaysDark | Outcome::Chatters => None,
        },
        times,
        beyond: BeyondCase::ALL
            .into_iter()
            .map(as_is)
            .collect::<Result<_, _>>()?,
        builds: builds(site, link, draw, threads).map_err(undecided)?,
        following: if site.temperatures.monthly.is_some() {
            following(site, link)?
        } else {
            FollowingByMonth::all_year(ordinary.following(site, link, || Ok(times.ordinary))?)
        },
        short_a: short_a(0.0),
        sagging_short_a: feeding.limited_a(short_a(sagging_ohm)),
        coil_short_a: coil_short(site, link).map_err(undecided)?,
        limits: limits(site, link),
        weakest: weakest::of(ordinary, link),
        outside: ordinary.paper.outside.clone(),
        grid,
        judged,
    })
}

/// A short across the coil: resistance and inductance of a test lead [Ω], [H].
const SHORT: (f64, f64) = (0.05, 1e-5);

/// A link's circuit with its coil or its capacitor shorted.
pub(crate) fn coil_shorted(circuit: &transient::Link) -> transient::Link {
    let mut shorted = *circuit;
    (shorted.coil.ohm, shorted.coil.open_h) = SHORT;
    shorted.coil.closed_h = shorted.coil.open_h;
    shorted
}

/// Current in a pair with its coil shorted [A RMS or A DC].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoilShort {
    /// At the lowest mains or supply voltage.
    pub least: f64,
    pub most: f64,
}

impl CoilShort {
    /// Highest power that it leaves in the series resistor of a link [W].
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

/// Hottest box tried [°C]: hotter than electronics in a garden ever gets.
pub const HOTTEST_BOX_C: f64 = 120.0;

/// Coldest box tried [°C].
const COLDEST_BOX_C: f64 = -40.0;

/// How finely a limit is found [K]: finer than any box temperature is known.
const FINE_K: f64 = 0.1;

#[derive(Clone, Copy)]
enum PullsIn {
    Cold,
    Warm,
}

fn limits(site: &Site, link: &Link) -> TemperatureLimits {
    // Only the settled voltage matters: nothing switches here.
    let margin = |mains, pulls_in, box_c| -> Result<f64, CannotConclude> {
        let case = Case {
            mains,
            box_c,
            parts: Parts::Nominal,
        };
        let corner = corner_of(site, link, case);
        let circuit = corner::circuit(site, link, &corner);
        let (coil_c, coil_v) = match pulls_in {
            PullsIn::Cold => (box_c, settled(&circuit)?.window.coil_mean_v),
            PullsIn::Warm => {
                let warm = warm(link, &corner, &circuit)?;
                (warm.coil_c, warm.coil_v)
            }
        };
        let operate_v = relay::threshold_v(link.relay.operate_v, coil_c);
        Ok(relay::operate_margin(coil_v, operate_v))
    };
    let limit = |mains, pulls_in| {
        let works_at = |box_c| margin(mains, pulls_in, box_c).map(|margin| margin >= 0.0);
        match (works_at(COLDEST_BOX_C), works_at(HOTTEST_BOX_C)) {
            (_, Ok(true)) => return TemperatureLimit::AtAll,
            (Ok(true), _) => {}
            (Ok(false) | Err(_), _) => return TemperatureLimit::AtNone,
        }
        let (mut works, mut fails, mut known) = (COLDEST_BOX_C, HOTTEST_BOX_C, true);
        while fails - works > FINE_K {
            let middle = f64::midpoint(works, fails);
            let there = works_at(middle);
            if there == Ok(true) {
                works = middle;
            } else {
                fails = middle;
                known = there.is_ok();
            }
        }
        if known {
            TemperatureLimit::UpTo(works)
        } else {
            TemperatureLimit::NotKnownAbove(works)
        }
    };
    TemperatureLimits {
        dusk_nominal: limit(MainsLevel::Nominal, PullsIn::Cold),
        dusk_low: limit(MainsLevel::Low, PullsIn::Cold),
        restart_nominal: limit(MainsLevel::Nominal, PullsIn::Warm),
        restart_low: limit(MainsLevel::Low, PullsIn::Warm),
    }
}

/// Highest voltage that the capacitor and the diodes ever see [V]: the peak at high mains with no lamp
/// connected.
pub(crate) fn greatest_peak_v(site: &Site, link: &Link) -> f64 {
    match site.feeding(link).output {
        SupplyOutput::Ac { no_load_v, .. } => {
            std::f64::consts::SQRT_2 * super::case::mains_factor(site, MainsLevel::High) * no_load_v
        }
        SupplyOutput::Dc { highest_v, .. } => highest_v,
    }
}
