//! The fuse at the source end of a run: which load it must carry, and which short it must clear.

use crate::circuit::supply::{
    BLOWS_AT, LOAD_HEADROOM, Transformer, largest_blown_a, short_circuit_a,
};
use crate::circuit::wire::{Ampacity, ampacity, ohm_per_m};
use crate::lamp_run::{TrunkEnds, trunk_ends};
use crate::link::{LinkJudgement, MainsLevel};
use crate::site::{Fuse, Link, Site, SupplyId, SupplyOutput, Trunk, ZoneId};

/// Fuses that shops stock [A] (common practice): glass up to 10 A, blade above. The list ends where NEC 411
/// limits a secondary circuit.
pub(crate) const STOCKED_FUSES_A: [f64; 13] = [
    0.1, 0.16, 0.25, 0.5, 1.0, 2.0, 3.15, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0,
];

/// Largest stocked time-lag glass fuse [A] (common practice).
const LARGEST_TIME_LAG_A: f64 = 10.0;

/// Ratings of resistors that a shop has [W] (common practice).
pub(crate) const RESISTORS_W: [f64; 6] = [0.25, 0.5, 1.0, 2.0, 3.0, 5.0];

/// What a fuse guards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Guards {
    /// The thin pair of a link, from its tapping point.
    Pair,
    /// A lamp cable, from its supply.
    Trunk,
}

/// The fuse of a run, and the currents it must carry and clear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct RunFuse {
    pub(crate) guards: Guards,
    pub(crate) fuse: Fuse,
    /// Load current of the lit run [A RMS or A DC]; `None` where it browns out.
    pub(crate) load_a: Option<f64>,
    /// Current with a short at the far end [A]; `None` where the cable is not stated.
    pub(crate) short_a: Option<f64>,
    /// What its wire carries, and who says so, if the wire is stated.
    pub(crate) carries: Option<Ampacity>,
    /// What its supply gives into any short [A], if that is what spares the wire.
    pub(crate) limited_a: Option<f64>,
    /// Largest rating that protects the wire and blows in a far-end short [A].
    pub(crate) most_a: f64,
    /// Stocked rating that does all of it [A], if there is one.
    pub(crate) stocked_a: Option<f64>,
}

/// Whether a fuse does its job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Fit {
    /// There is no voltage, and so no current to size it by.
    NoVoltage,
    /// None is fitted, or none is stated.
    Missing,
    /// None is fitted, or it does not clear a far-end short, but the wire can carry all that the supply gives.
    Spared,
    /// It blows in normal service.
    TooSmall,
    /// The wire is too thin for it.
    TooLarge,
    /// A short at the far end may not blow it.
    Blind,
    /// Nothing is wrong, but the run browns out, so its load is unknown.
    LoadNotKnown,
    /// Nothing is wrong, but its cable is not stated.
    WireNotKnown,
    /// It carries the load, protects the wire and clears a short.
    Fits,
}

impl RunFuse {
    /// `gives_a`: highest current that its supply gives [A], where that matters and is known.
    fn new(
        guards: Guards,
        fuse: Fuse,
        load_a: Option<f64>,
        short_a: Option<f64>,
        (carries, gives_a): (Option<Ampacity>, Option<f64>),
    ) -> Self {
        let carries_a = carries.map(|carries| carries.amps);
        let most_a = carries_a
            .unwrap_or(f64::INFINITY)
            .min(short_a.map_or(f64::INFINITY, largest_blown_a));
        let on_the_shelf_a = match guards {
            Guards::Pair => most_a.min(LARGEST_TIME_LAG_A),
            Guards::Trunk => most_a,
        };
        let bears_load = |rating: f64| load_a.is_none_or(|load_a| rating >= LOAD_HEADROOM * load_a);
        Self {
            guards,
            fuse,
            load_a,
            short_a,
            carries,
            limited_a: gives_a
                .zip(carries_a)
                .filter(|(gives_a, carries_a)| gives_a <= carries_a)
                .map(|(gives_a, _)| gives_a),
            most_a,
            // Without its wire, the largest permissible rating is unknown.
            stocked_a: short_a.and_then(|_| {
                let mut fitting = STOCKED_FUSES_A
                    .into_iter()
                    .filter(|rating| *rating <= on_the_shelf_a && bears_load(*rating));
                match guards {
                    // For a trunk the smallest rating clears a short best. A pair's coil takes little, but its
                    // capacitor charges through the fuse every evening: there the largest lasts longest.
                    Guards::Trunk if load_a.is_some() => fitting.next(),
                    Guards::Trunk | Guards::Pair => fitting.next_back(),
                }
            }),
        }
    }

    /// What its wire carries [A], if that is stated.
    pub(crate) fn carries_a(&self) -> Option<f64> {
        self.carries.map(|carries| carries.amps)
    }

    /// Whether another one is needed.
    pub(crate) fn is_unfit(&self) -> bool {
        matches!(
            self.fit(),
            Fit::Missing | Fit::TooSmall | Fit::TooLarge | Fit::Blind
        )
    }

    pub(crate) fn fit(&self) -> Fit {
        if self.short_a.is_some_and(|short_a| short_a <= 0.0) {
            return Fit::NoVoltage;
        }
        let Fuse::Rated(rating) = self.fuse else {
            return if self.short_a.is_none() {
                Fit::WireNotKnown
            } else if self.limited_a.is_some() {
                Fit::Spared
            } else {
                Fit::Missing
            };
        };
        if self
            .load_a
            .is_some_and(|load_a| rating < LOAD_HEADROOM * load_a)
        {
            Fit::TooSmall
        } else if self.carries_a().is_some_and(|carries_a| rating > carries_a) {
            // Whatever the supply gives today: it is exchanged for a larger one sooner than the cable.
            Fit::TooLarge
        } else if self
            .short_a
            .is_some_and(|short_a| rating * BLOWS_AT > short_a)
        {
            if self.limited_a.is_some() {
                Fit::Spared
            } else {
                Fit::Blind
            }
        } else if self.load_a.is_none() {
            Fit::LoadNotKnown
        } else if self.short_a.is_none() {
            Fit::WireNotKnown
        } else {
            Fit::Fits
        }
    }
}

/// The fuse of a pair, and the one that it should have.
pub(crate) fn pair_fuse(link: &Link, judgement: &LinkJudgement) -> RunFuse {
    let seeing = |short_a| {
        RunFuse::new(
            Guards::Pair,
            link.fuse,
            Some(judgement.ordinary().dusk.pair_rms_a),
            Some(short_a),
            // A thin pair has a fuse, whatever feeds it (rule of the trade).
            (link.cable.map(|cable| ampacity(cable.gauge)), None),
        )
    };
    // The fuse protects the pair. Before a series resistor, a fuse that also clears a short behind the resistor
    // is better, where there is one.
    let mut pair = seeing(judgement.sagging_short_a);
    if link.series_ohm > 0.0 {
        let both = seeing(judgement.coil_short_a.least).stocked_a;
        pair.stocked_a = both.or(pair.stocked_a);
    }
    pair
}

/// What a short of the coil leaves to a series resistor [W], where the pair's fuse is not sure to end it, or the
/// one that S08 asks for; `None` where it does, where there is no resistor, and where the smallest resistor of a shop
/// bears that for good.
pub(crate) fn resistor_in_short(link: &Link, judgement: &LinkJudgement) -> Option<f64> {
    let short_a = judgement.coil_short_a;
    let rating = match link.fuse {
        Fuse::Rated(rating) => Some(rating),
        Fuse::None | Fuse::NotStated => pair_fuse(link, judgement).stocked_a,
    };
    let ends = rating.is_some_and(|rating| rating <= largest_blown_a(short_a.least));
    Some(short_a.resistor_w(link)).filter(|heat_w| !ends && *heat_w > RESISTORS_W[0])
}

/// How a supply behaves with a short at its terminals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Source {
    /// Voltage before the short [V RMS or V DC].
    volts: f64,
    /// Its own resistance [Ω].
    ohm: f64,
    /// Current limit, if the file states one [A].
    limit_a: Option<f64>,
}

impl Source {
    pub(crate) fn of(site: &Site, supply: SupplyId) -> Self {
        match site[supply].output {
            SupplyOutput::Ac {
                no_load_v,
                full_load_v,
                rated_va,
            } => Self {
                volts: no_load_v,
                ohm: Transformer {
                    no_load_v,
                    full_load_v,
                    rated_va,
                }
                .source_ohm(),
                limit_a: None,
            },
            SupplyOutput::Dc {
                voltage_v, max_a, ..
            } => Self {
                volts: voltage_v,
                ohm: 0.0,
                limit_a: max_a,
            },
        }
    }

    /// Short-circuit current behind this much cable [A]. A fuse never sees more than the supply's current
    /// limit.
    fn short_a(self, loop_ohm: f64) -> f64 {
        short_circuit_a(self.volts, loop_ohm, self.ohm).min(self.limit_a.unwrap_or(f64::INFINITY))
    }

    /// Highest current that it gives [A]; `None` where no limit is known.
    pub(crate) fn gives_a(self) -> Option<f64> {
        Some(self.short_a(0.0)).filter(|short_a| short_a.is_finite())
    }
}

/// The fuse of a trunk, and the one that it should have.
pub(crate) fn trunk_fuse(site: &Site, zone: ZoneId, trunk: &Trunk) -> RunFuse {
    let source = Source::of(site, site[zone].supply);
    let load_a = match trunk_ends(site, zone, trunk, MainsLevel::Low) {
        TrunkEnds::Lit { supply_a, .. } => Some(supply_a),
        TrunkEnds::BrownOut { .. } => None,
    };
    let short_a = trunk.cable.map(|cable| {
        let per_m = ohm_per_m(cable.gauge, cable.stranding, site.temperatures.wire_c)
            .expect("the site file has only sizes in the trade");
        source.short_a(2.0 * cable.length_m * per_m)
    });
    RunFuse::new(
        Guards::Trunk,
        trunk.fuse,
        load_a,
        short_a,
        (
            trunk.cable.map(|cable| ampacity(cable.gauge)),
            source.gives_a(),
        ),
    )
}
