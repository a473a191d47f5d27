//! Many builds of the same link, each with parts, weather and mains drawn at random.
//!
//! [`DISTRIBUTIONS`] lists what is drawn, and from what range.
//!
//! Ranges: relay makers' and capacitor makers' tolerances, and common practice; the shapes are assumed. Build n
//! has its own stream of random numbers, so a build is the same whatever the order, the number of threads or of
//! builds.

use std::f64::consts::TAU;
use std::num::NonZeroU32;

use rand_distr::{Distribution, Triangular, Uniform};
use rand_pcg::Pcg64;

use crate::circuit::{copper, relay};
use crate::parallel;
use crate::site::{Link, Site};
use crate::transient::{CannotConclude, simulate};

use super::case::{settled, warmed};
use super::corner::{self, Corner};
use super::times::EASY;
use super::worn::{AGED, FLAT_CREST, LED_LAMPS, leds};

/// What is drawn for a build, and from what range.
pub const DISTRIBUTIONS: [(&str, &str); 14] = [
    (
        "mains",
        "triangular from low over nominal to high; a DC supply likewise",
    ),
    ("crest", "uniform 1.36 to 1.414 times the RMS of the mains"),
    (
        "lamps",
        "uniform ±3 % of the peak, where the master has LED lamps on AC",
    ),
    (
        "box",
        "triangular from the coldest over the typical to the hottest evening",
    ),
    ("pair", "uniform ±5 % of its resistance"),
    ("capacitor", "uniform ± its tolerance"),
    ("its age", "uniform 0.8 to 1 of that"),
    ("its ESR", "log-uniform 0.7 to 4 times that of a new one"),
    (
        "its leakage",
        "uniform 0 to 1 of the sheet's limit, 0.01·C·V µA",
    ),
    ("coil", "uniform ± its tolerance"),
    (
        "pulling in",
        "uniform 0.7 to 1 of the guaranteed operate voltage",
    ),
    (
        "letting go",
        "triangular from the guaranteed release over the typical to the holding voltage",
    ),
    ("armature", "uniform 0.4 to 1 of the sheet's times"),
    ("phases", "uniform, at switch-on and at switch-off"),
];

/// What the builds do, counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Builds {
    /// The seed they were drawn with.
    pub seed: u64,
    pub drawn: u32,
    /// Pull in at dusk, stay in, let go.
    pub follow: u32,
    /// Pull in, but chatter.
    pub chatter: u32,
    /// Do not pull in.
    pub stay_dark: u32,
    /// Do not let go.
    pub stay_lit: u32,
    /// Of those that follow, pull in again with a warm coil.
    pub restart: u32,
}

impl Builds {
    /// Share of the builds that follow.
    pub fn follow_probability(&self) -> f64 {
        f64::from(self.follow) / f64::from(self.drawn.max(1))
    }

    fn and(self, other: Self) -> Self {
        Self {
            seed: self.seed,
            drawn: self.drawn + other.drawn,
            follow: self.follow + other.follow,
            chatter: self.chatter + other.chatter,
            stay_dark: self.stay_dark + other.stay_dark,
            stay_lit: self.stay_lit + other.stay_lit,
            restart: self.restart + other.restart,
        }
    }

    fn none(seed: u64) -> Self {
        Self {
            seed,
            drawn: 0,
            follow: 0,
            chatter: 0,
            stay_dark: 0,
            stay_lit: 0,
            restart: 0,
        }
    }
}

/// How many builds to draw, from which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Draw {
    pub seed: u64,
    pub builds: NonZeroU32,
}

impl Draw {
    /// One build: for commands that show none of the builds.
    pub const FEWEST: Self = Self {
        seed: 1,
        builds: NonZeroU32::MIN,
    };
}

impl Default for Draw {
    fn default() -> Self {
        Self {
            seed: 1,
            builds: NonZeroU32::new(1000).expect("more than none"),
        }
    }
}

/// The random numbers of one build.
struct Dice(Pcg64);

impl Dice {
    fn uniform(&mut self, low: f64, high: f64) -> f64 {
        if high > low {
            let range = Uniform::new(low, high).expect("low below high, both finite");
            range.sample(&mut self.0)
        } else {
            low
        }
    }

    fn triangular(&mut self, low: f64, mode: f64, high: f64) -> f64 {
        if high > low {
            let range = Triangular::new(low, high, mode.clamp(low, high));
            let range = range.expect("in order, and finite");
            range.sample(&mut self.0)
        } else {
            low
        }
    }
}

pub(crate) fn build(site: &Site, link: &Link, seed: u64, number: u32) -> Corner {
    let mut dice = Dice(Pcg64::new(seed.into(), number.into()));
    let relay = &link.relay;
    let on_ac = site.feeding(link).is_ac();
    let weather = &site.temperatures;
    let box_c = dice.triangular(weather.coldest_c, weather.typical_c, weather.hottest_c);
    let tolerance = link.capacitor.map_or(0.0, |part| part.tolerance);
    let level = dice.triangular(-1.0, 0.0, 1.0);
    let crest = dice.uniform(FLAT_CREST, 1.0);
    let lamps = dice.uniform(-LED_LAMPS, LED_LAMPS);
    let pair_part = dice.uniform(0.95, 1.05);
    let capacitor_part = dice.uniform(1.0 - tolerance, 1.0 + tolerance) * dice.uniform(AGED, 1.0);
    let esr_part = dice.uniform(0.7_f64.ln(), 4.0_f64.ln()).exp();
    let coil_part = dice.uniform(1.0 - relay.coil_tolerance, 1.0 + relay.coil_tolerance);
    let operate_v = relay.operate_v * dice.uniform(EASY, 1.0);
    let release_v = dice.triangular(relay.release_v, relay.typical_release_v, relay.hold_v);
    Corner {
        level,
        crest: match (on_ac, leds(site, link)) {
            (false, _) => 1.0,
            (true, false) => crest,
            (true, true) => crest * (1.0 + lamps),
        },
        pair_part,
        coil_part,
        capacitor_part,
        esr_part,
        leak_part: dice.uniform(0.0, 1.0),
        operate_v,
        release_v,
        travel_part: dice.uniform(0.4, 1.0),
        on_rad: dice.uniform(0.0, TAU),
        off_rad: dice.uniform(0.0, TAU),
        ..Corner::ordinary(site, link).in_box(box_c)
    }
}

/// A coil on its rectifier while it is as cold as its box.
struct Cold {
    coil_c: f64,
    ohm: f64,
    volts: f64,
    amps: f64,
}

/// How far the bounds below must miss a limit before the simulation, good to 0.02 %, is spared [fraction].
const DOUBT: f64 = 5e-4;

impl Cold {
    /// Whether the coil pulls in again after hours of being on, where the cold coil already answers that.
    ///
    /// A warming coil takes less current and gets more volts, so its voltage V, current I and temperature T lie
    /// between
    ///
    /// ```text
    ///   V_cold ≤ V ≤ V_cold·R(T)/R_cold        I ≤ I_cold
    ///   T ≤ box + θ·V_cold·I_cold·R(T)/R_cold
    ///   T ≥ box + θ·V_cold²/R(T)
    /// ```
    ///
    /// R rises with T in a straight line (copper), so both bounds have a closed form.
    fn restarts(&self, corner: &Corner, kelvin_per_watt: f64) -> Option<bool> {
        let box_c = corner.box_c;
        let ohm_20c = self.ohm / copper::factor(self.coil_c);
        // R(T)/R_cold = 1 + a·(T − T_cold)
        let a = (copper::factor(self.coil_c + 1.0) / copper::factor(self.coil_c)) - 1.0;
        let heats_k = kelvin_per_watt * self.volts * self.amps;
        let left = 1.0 - heats_k * a;
        if left <= 0.0 {
            return None;
        }
        let hottest_c = box_c + heats_k / left;
        let most_v = self.volts * copper::factor(hottest_c) / copper::factor(self.coil_c);
        let least_c = relay::coil_temperature_c(ohm_20c, self.volts, box_c, kelvin_per_watt);
        let needs = |celsius| relay::threshold_v(corner.operate_v, celsius);
        if self.volts * (1.0 - DOUBT) >= needs(hottest_c) {
            Some(true)
        } else if most_v * (1.0 + DOUBT) < needs(least_c) {
            Some(false)
        } else {
            None
        }
    }
}

fn tried(site: &Site, link: &Link, seed: u64, number: u32) -> Result<Builds, CannotConclude> {
    let one = Builds {
        drawn: 1,
        ..Builds::none(seed)
    };
    let corner = build(site, link, seed, number);
    let circuit = corner::circuit(site, link, &corner);
    if corner::bare(site, link) {
        return Ok(Builds {
            stay_dark: 1,
            ..one
        });
    }
    let transient = simulate(&circuit)?;
    if transient.keeps_letting_go() {
        return Ok(Builds { chatter: 1, ..one });
    }
    if transient.pull_in_s.is_none() {
        return Ok(Builds {
            stay_dark: 1,
            ..one
        });
    }
    let residual_a = match corner::off_circuit(site, link, &corner) {
        Some(off) => settled(&off)?.window.coil_mean_a,
        None => 0.0,
    };
    if transient.closed_at_end || residual_a >= circuit.coil.release_a {
        return Ok(Builds { stay_lit: 1, ..one });
    }
    let cold = Cold {
        coil_c: corner.coil_c,
        ohm: circuit.coil.ohm,
        volts: transient.window.coil_mean_v,
        amps: transient.window.coil_mean_a,
    };
    let restarts = if let Some(sure) = cold.restarts(&corner, link.relay.thermal_k_per_w) {
        sure
    } else {
        let warm = warmed(site, link, &corner)?;
        warm.coil_v >= relay::threshold_v(corner.operate_v, warm.coil_c)
    };
    Ok(Builds {
        follow: 1,
        restart: u32::from(restarts),
        ..one
    })
}

/// Draws and simulates the builds of a link, on so many threads.
pub(super) fn builds(
    site: &Site,
    link: &Link,
    draw: Draw,
    threads: usize,
) -> Result<Builds, CannotConclude> {
    let all = draw.builds.get();
    let threads = threads.clamp(1, all as usize);
    let hands = parallel::in_order(threads, threads, |first| {
        (0..all)
            .skip(first)
            .step_by(threads)
            .try_fold(Builds::none(draw.seed), |sum, number| {
                Ok(sum.and(tried(site, link, draw.seed, number)?))
            })
    });
    hands
        .into_iter()
        .try_fold(Builds::none(draw.seed), |sum, hand| Ok(sum.and(hand?)))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::civil_time::ZoneInfo;
    use crate::site;

    fn pair() -> Site {
        let zones = ZoneInfo::from_environment();
        let text = include_bytes!("../../config/linked-pair.toml");
        site::read(text, "linked-pair.toml", &|zone| zones.open(zone))
            .unwrap_or_else(|problems| panic!("{problems}"))
    }

    proptest! {
        #![proptest_config(crate::cases::cases(256))]

        /// What the cold coil predicts for the warm one agrees with the warm one's simulation.
        #[test]
        fn a_cold_coil_never_foretells_wrongly(
            ohm in (0.5..80.0, 60.0..2000.0),
            operate_v in 4.0..14.0,
            thermal_k_per_w in 0.0..400.0,
            farad in prop_oneof![Just(None), (20e-6..2000e-6).prop_map(Some)],
            number in 0_u32..1000,
        ) {
            let mut site = pair();
            let link = &mut site.links[0];
            link.measured_loop_ohm = Some(ohm.0);
            link.relay.coil_ohm = ohm.1;
            link.relay.operate_v = operate_v;
            link.relay.thermal_k_per_w = thermal_k_per_w;
            link.capacitor = link.capacitor.and_then(|part| {
                Some(site::Capacitor { farad: farad?, ..part })
            });
            let link = &site.links[0];
            let corner = build(&site, link, 1, number);
            let circuit = corner::circuit(&site, link, &corner);
            let window = simulate(&circuit).unwrap().window;
            let cold = Cold {
                coil_c: corner.coil_c,
                ohm: circuit.coil.ohm,
                volts: window.coil_mean_v,
                amps: window.coil_mean_a,
            };
            if let Some(sure) = cold.restarts(&corner, thermal_k_per_w) {
                let warm = warmed(&site, link, &corner).unwrap();
                let needs_v = relay::threshold_v(corner.operate_v, warm.coil_c);
                prop_assert_eq!(sure, warm.coil_v >= needs_v, "{:?} {} V", warm, needs_v);
            }
        }
    }
}
