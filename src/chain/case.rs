//! One link in one case: mains level, box temperature, parts.

use crate::circuit::rectifier::{self, Feed, Input, Rectified};
use crate::circuit::relay::{self, WarmCoil};
use crate::circuit::residual;
use crate::circuit::supply::Transformer;
use crate::circuit::wire;
use crate::site::{Link, Relay, Site, SupplyOutput};

use super::Outcome;

/// How the mains, or a DC supply, stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MainsLevel {
    /// Mains low by its tolerance; a DC supply at its lowest.
    Low,
    /// As rated, or as measured.
    Nominal,
    /// Mains high by its tolerance; a DC supply at its highest.
    High,
}

impl MainsLevel {
    /// From low to high.
    pub const ALL: [Self; 3] = [Self::Low, Self::Nominal, Self::High];

    /// As in the JSON and on paper.
    pub fn name(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Nominal => "nominal",
            Self::High => "high",
        }
    }
}

/// Which evening it is in the relay box.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoxTemperature {
    /// The coldest of the year.
    Coldest,
    /// An ordinary one.
    Typical,
    /// The hottest of the year.
    Hottest,
}

impl BoxTemperature {
    /// From cold to hot.
    pub const ALL: [Self; 3] = [Self::Coldest, Self::Typical, Self::Hottest];

    /// As in the JSON and on paper.
    pub fn name(self) -> &'static str {
        match self {
            Self::Coldest => "coldest",
            Self::Typical => "typical",
            Self::Hottest => "hottest",
        }
    }

    /// The box's temperature [°C].
    pub fn celsius(self, site: &Site) -> f64 {
        match self {
            Self::Coldest => site.temperatures.coldest_c,
            Self::Typical => site.temperatures.typical_c,
            Self::Hottest => site.temperatures.hottest_c,
        }
    }
}

/// Which end of their tolerance coil and capacitor are at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parts {
    /// As printed on them.
    Nominal,
    /// Coil and capacitor small: the coil voltage is lowest.
    AgainstOperate,
    /// Coil large: the coil voltage is highest.
    AgainstCoil,
}

/// What a case is about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Case {
    /// How the mains stands.
    pub mains: MainsLevel,
    /// Temperature of box and diodes [°C].
    pub box_c: f64,
    /// Tolerances.
    pub parts: Parts,
}

/// A link in one case.
#[derive(Debug, Clone, PartialEq)]
pub struct PaperCase {
    /// What it is about.
    pub case: Case,
    /// Voltage at the tapping point, near zone lit [V RMS or V DC].
    pub tap_v: f64,
    /// Resistance of the source behind the tapping point [Ω].
    pub supply_ohm: f64,
    /// Both conductors, splices and series resistor [Ω].
    pub loop_ohm: f64,
    /// Coil at box temperature [Ω].
    pub coil_ohm: f64,
    /// The steady state at dusk, coil at box temperature.
    pub dusk: Rectified,
    /// Surely pulls in at, coil at box temperature [V].
    pub operate_v: f64,
    /// Surely lets go at, coil at box temperature [V].
    pub release_v: f64,
    /// The coil when it has been on for hours.
    pub warm: WarmCoil,
    /// Surely pulls in at, coil warm [V].
    pub operate_warm_v: f64,
    /// Coil voltage over operate voltage, less one, at dusk.
    pub margin_dusk: f64,
    /// The same for a warm coil that was let go for a moment.
    pub margin_restart: f64,
    /// Mean coil voltage with the master off, coil at box temperature [V].
    pub residual_v: f64,
}

impl PaperCase {
    /// What the slave does in this case.
    pub fn outcome(&self) -> Outcome {
        if self.margin_dusk < 0.0 {
            Outcome::StaysDark
        } else if self.residual_v >= self.release_v {
            Outcome::StaysLit
        } else {
            Outcome::Follows
        }
    }
}

/// The source of a link: volts at the tapping point with the near zone lit, and the ohms behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tap {
    pub(super) volts: f64,
    pub(super) source_ohm: f64,
}

/// Load on a transformer with all its zones lit [VA].
pub(crate) fn load_va(site: &Site, supply: crate::site::SupplyId) -> f64 {
    site.zones
        .iter()
        .filter(|zone| zone.supply == supply)
        .map(crate::site::Zone::lamp_va)
        .sum()
}

/// The mains as a factor of nominal.
pub(crate) fn mains_factor(site: &Site, level: MainsLevel) -> f64 {
    match level {
        MainsLevel::Low => 1.0 - site.mains.tolerance,
        MainsLevel::Nominal => 1.0,
        MainsLevel::High => 1.0 + site.mains.tolerance,
    }
}

pub(super) fn tap(site: &Site, link: &Link, level: MainsLevel) -> Tap {
    let supply = site[link.master].supply;
    match site[supply].output {
        SupplyOutput::Ac {
            no_load_v,
            full_load_v,
            rated_va,
        } => {
            let transformer = Transformer {
                no_load_v,
                full_load_v,
                rated_va,
            };
            // What hangs on the transformer besides the master may be dark when the relay is in:
            // that is when its coil gets most.
            let load_va = match level {
                MainsLevel::Low | MainsLevel::Nominal => load_va(site, supply),
                MainsLevel::High => site[link.master].lamp_va(),
            };
            Tap {
                volts: transformer
                    .terminal_v(load_va, mains_factor(site, level))
                    .max(0.0),
                source_ohm: transformer.source_ohm(),
            }
        }
        SupplyOutput::Dc {
            voltage_v,
            lowest_v,
            highest_v,
            ..
        } => Tap {
            volts: match level {
                MainsLevel::Low => lowest_v,
                MainsLevel::Nominal => voltage_v,
                MainsLevel::High => highest_v,
            },
            // The voltage was measured, or is regulated, with the lamps lit.
            source_ohm: 0.0,
        },
    }
}

/// The pair alone, both conductors and splices [Ω].
pub(crate) fn pair_ohm(site: &Site, link: &Link) -> f64 {
    if let Some(measured) = link.measured_loop_ohm {
        return measured;
    }
    let cable = link.cable.expect("a link has a cable or a measured loop");
    wire::loop_ohm(
        cable.gauge,
        cable.stranding,
        cable.length_m,
        site.temperatures.wire_c,
        link.splices,
        link.splice_ohm,
    )
    .expect("the site file has only sizes in the trade")
}

/// What feeds the pair at `volts`.
pub(super) fn feed(site: &Site, link: &Link, volts: f64) -> Feed {
    if site[site[link.master].supply].is_ac() {
        Feed::Ac {
            rms_v: volts,
            hz: site.mains.frequency_hz,
        }
    } else {
        Feed::Dc { volts }
    }
}

/// Works one case out, with any relay in the place of the link's own.
pub(crate) fn work_out(site: &Site, link: &Link, relay: &Relay, case: Case) -> PaperCase {
    let (coil_part, capacitor_part) = match (case.parts, link.capacitor) {
        (Parts::Nominal, _) => (1.0, 1.0),
        (Parts::AgainstOperate, capacitor) => (
            1.0 - relay.coil_tolerance,
            1.0 - capacitor.map_or(0.0, |part| part.tolerance),
        ),
        (Parts::AgainstCoil, _) => (1.0 + relay.coil_tolerance, 1.0),
    };
    let tap = tap(site, link, case.mains);
    let loop_ohm = pair_ohm(site, link) + link.series_ohm;
    let coil_20c = relay.coil_ohm * coil_part;
    let at_coil = |coil_ohm: f64| Input {
        feed: feed(site, link, tap.volts),
        rectifier: link.rectifier,
        diode: link.diode,
        diode_c: case.box_c,
        source_ohm: tap.source_ohm + loop_ohm,
        coil_ohm,
        capacitance_f: link.capacitor.map(|part| part.farad * capacitor_part),
    };
    let coil_ohm = relay::coil_ohm(coil_20c, case.box_c);
    let dusk = rectifier::steady_state(&at_coil(coil_ohm));
    let warm = relay::warm_coil(coil_20c, case.box_c, relay.thermal_k_per_w, |ohm| {
        rectifier::steady_state(&at_coil(ohm)).coil_v
    });
    let operate_v = relay::threshold_v(relay.operate_v, case.box_c);
    let operate_warm_v = relay::threshold_v(relay.operate_v, warm.coil_c);
    let off = residual::steady_state_off(&at_coil(coil_ohm), feed(site, link, link.off_state_v));
    PaperCase {
        case,
        tap_v: tap.volts,
        supply_ohm: tap.source_ohm,
        loop_ohm,
        coil_ohm,
        margin_dusk: relay::operate_margin(dusk.coil_v, operate_v),
        margin_restart: relay::operate_margin(warm.coil_v, operate_warm_v),
        dusk,
        operate_v,
        release_v: relay::threshold_v(relay.release_v, case.box_c),
        warm,
        operate_warm_v,
        residual_v: off.coil_v,
    }
}
