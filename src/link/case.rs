//! One link in one case: mains level, box temperature, parts.

use crate::circuit::rectifier::{self, Feed, Input, Rectified};
use crate::circuit::relay::{self, WarmCoil};
use crate::site::{Link, Site};
use crate::transient::{self, CannotConclude, SteadyState, Window};

use super::corner::{self, Corner, Lamps};
use super::worn;
use super::{Outcome, Undecided};

/// The level of the mains, or of a DC supply.
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

    /// The name that the JSON and the sheet use.
    pub fn name(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Nominal => "nominal",
            Self::High => "high",
        }
    }
}

/// Which evening's temperature the relay box has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoxTemperature {
    /// The coldest of the year.
    Coldest,
    Typical,
    /// The hottest of the year.
    Hottest,
}

impl BoxTemperature {
    /// From cold to hot.
    pub const ALL: [Self; 3] = [Self::Coldest, Self::Typical, Self::Hottest];

    /// The name that the JSON and the sheet use.
    pub fn name(self) -> &'static str {
        match self {
            Self::Coldest => "coldest",
            Self::Typical => "typical",
            Self::Hottest => "hottest",
        }
    }

    pub fn celsius(self, site: &Site) -> f64 {
        match self {
            Self::Coldest => site.temperatures.coldest_c,
            Self::Typical => site.temperatures.typical_c,
            Self::Hottest => site.temperatures.hottest_c,
        }
    }
}

/// The ends of their tolerance at which coil and capacitor are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parts {
    /// As marked.
    Nominal,
    /// Coil and capacitor small: the coil voltage is lowest.
    AgainstOperate,
    /// Coil large: the coil voltage is highest.
    AgainstCoil,
    /// Coil small, capacitor small and at the end of its life, mains crest flat: the relay is closest to
    /// letting go.
    Worn,
}

impl Parts {
    /// The name that the JSON uses.
    pub fn name(self) -> &'static str {
        match self {
            Self::Nominal => "rated",
            Self::AgainstOperate => "against pull-in",
            Self::AgainstCoil => "against the coil",
            Self::Worn => "worn",
        }
    }

    /// Coil resistance as a fraction of rated.
    pub(super) fn coil_part(self, link: &Link) -> f64 {
        let tolerance = link.relay.coil_tolerance;
        match self {
            Self::Nominal => 1.0,
            Self::AgainstOperate | Self::Worn => 1.0 - tolerance,
            Self::AgainstCoil => 1.0 + tolerance,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Case {
    pub mains: MainsLevel,
    /// Temperature of box and diodes [°C].
    pub box_c: f64,
    pub parts: Parts,
}

/// The pair and the parts at its far end, with master and slave lit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lit {
    /// Mean coil voltage [V].
    pub coil_v: f64,
    /// Lowest voltage across the capacitor [V]: it must hold the relay in.
    pub trough_v: f64,
    /// Difference of highest and lowest voltage across the capacitor [V].
    pub ripple_v: f64,
    /// Mean coil current [A].
    pub coil_a: f64,
    /// Lowest coil current [A].
    pub coil_least_a: f64,
    /// In the pair [A RMS]: what a true-RMS meter shows.
    pub pair_rms_a: f64,
    /// Peak current in the diodes, pulse by pulse [A].
    pub diode_peak_a: f64,
    /// In the capacitor [A RMS].
    pub capacitor_ripple_a: f64,
}

impl Lit {
    pub(super) fn of(window: &Window) -> Self {
        Self {
            coil_v: window.coil_mean_v,
            trough_v: window.dc_trough_v,
            ripple_v: window.dc_peak_v - window.dc_trough_v,
            coil_a: window.coil_mean_a,
            coil_least_a: window.coil_least_a,
            pair_rms_a: window.wire_rms_a,
            diode_peak_a: window.rectifier_peak_a,
            capacitor_ripple_a: window.capacitor_rms_a,
        }
    }
}

/// A link in one case.
#[derive(Debug, Clone, PartialEq)]
pub struct LinkCase {
    pub case: Case,
    /// Voltage at the tapping point, near zone lit [V RMS or V DC].
    pub tap_v: f64,
    /// Resistance of the source behind the tapping point [Ω].
    pub supply_ohm: f64,
    /// Both conductors, splices and series resistor [Ω].
    pub loop_ohm: f64,
    /// Coil at box temperature [Ω].
    pub coil_ohm: f64,
    /// Settled at dusk, coil at box temperature, as simulated.
    pub dusk: Lit,
    /// The same by hand, with a stiff source at `tap_v`, as a cross-check.
    pub paper: Rectified,
    /// From switch-on to contact closed [s], at the guaranteed operate voltage; `None` if it never closes.
    pub pull_in_s: Option<f64>,
    /// From switch-off to contact open [s], coil cold, usual release voltage.
    pub drop_out_s: Option<f64>,
    /// Contact or armature lets go and pulls in repeatedly while the master is on.
    pub chatters: bool,
    /// Voltage at which it surely pulls in, coil at box temperature [V].
    pub operate_v: f64,
    /// Voltage at which it surely lets go, coil at box temperature [V].
    pub release_v: f64,
    /// Voltage above which it surely stays in, coil at box temperature [V].
    pub hold_v: f64,
    /// The coil after hours of being on.
    pub warm: WarmCoil,
    /// Voltage at which it surely pulls in, coil warm [V].
    pub operate_warm_v: f64,
    /// Coil voltage over operate voltage, less one, at dusk [fraction].
    pub margin_dusk: f64,
    /// The same for a warm coil after a brief interruption.
    pub margin_restart: f64,
    /// Mean coil voltage with the master off, coil at box temperature [V].
    pub residual_v: f64,
}

impl LinkCase {
    pub fn outcome(&self) -> Outcome {
        if self.chatters {
            Outcome::Chatters
        } else if self.margin_dusk < 0.0 || self.pull_in_s.is_none() {
            Outcome::StaysDark
        } else if self.residual_v >= self.release_v {
            Outcome::StaysLit
        } else {
            Outcome::Follows
        }
    }

    /// Too little voltage to surely pull in, enough to surely stay in: the relay stays as it is.
    pub fn hovers(&self) -> bool {
        self.outcome() == Outcome::StaysDark
            && self.dusk.coil_least_a * self.coil_ohm >= self.hold_v
    }
}

/// The mains as a fraction of nominal.
pub(crate) fn mains_factor(site: &Site, level: MainsLevel) -> f64 {
    match level {
        MainsLevel::Low => 1.0 - site.mains.tolerance,
        MainsLevel::Nominal => 1.0,
        MainsLevel::High => 1.0 + site.mains.tolerance,
    }
}

/// The feed of the pair at `volts`.
fn feed(site: &Site, link: &Link, volts: f64) -> Feed {
    if site.feeding(link).is_ac() {
        Feed::Ac {
            rms_v: volts,
            hz: site.mains.frequency_hz,
        }
    } else {
        Feed::Dc { volts }
    }
}

/// A warm coil's temperature counts as settled when it changes by less than this [K].
const SETTLED_K: f64 = 0.01;

pub(super) fn corner_of(site: &Site, link: &Link, case: Case) -> Corner {
    if case.parts == Parts::Worn {
        return worn::corner(site, link, case.box_c);
    }
    let capacitor_part = match (case.parts, link.capacitor) {
        (Parts::AgainstOperate, Some(part)) => 1.0 - part.tolerance,
        _ => 1.0,
    };
    let (level, lamps) = match case.mains {
        MainsLevel::Low => (-1.0, Lamps::All),
        MainsLevel::Nominal => (0.0, Lamps::All),
        // Other lamps on the transformer may be out while the relay is in: its coil then gets most.
        MainsLevel::High => (1.0, Lamps::Masters),
    };
    Corner {
        level,
        lamps,
        coil_part: case.parts.coil_part(link),
        capacitor_part,
        ..Corner::ordinary(site, link).in_box(case.box_c)
    }
}

/// The coil of a corner after hours of being on.
pub(super) fn warmed(
    site: &Site,
    link: &Link,
    corner: &Corner,
) -> Result<WarmCoil, CannotConclude> {
    warm(link, corner, &corner::circuit(site, link, corner))
}

/// The coil after hours of being on, in a circuit of this corner.
pub(super) fn warm(
    link: &Link,
    corner: &Corner,
    circuit: &transient::Link,
) -> Result<WarmCoil, CannotConclude> {
    let relay = &link.relay;
    relay::warm_coil(
        relay.coil_ohm * corner.coil_part,
        corner.box_c,
        relay.thermal_k_per_w,
        SETTLED_K,
        |ohm| Ok(settled(&with_coil(circuit, ohm))?.window.coil_mean_v),
    )
}

pub(super) fn with_coil(circuit: &transient::Link, ohm: f64) -> transient::Link {
    let mut with = *circuit;
    with.coil.ohm = ohm;
    with
}

pub(super) fn settled(circuit: &transient::Link) -> Result<SteadyState, CannotConclude> {
    transient::steady_state(circuit)
}

pub(crate) fn work_out(site: &Site, link: &Link, case: Case) -> Result<LinkCase, Undecided> {
    work_out_altered(site, link, case, &|circuit| circuit)
}

/// Works one case out for a circuit that differs from the site file: a fault. The coil's resistance must be the
/// file's, and the calculation by hand uses the file's wire and capacitor.
pub(crate) fn work_out_altered(
    site: &Site,
    link: &Link,
    case: Case,
    alter: &dyn Fn(transient::Link) -> transient::Link,
) -> Result<LinkCase, Undecided> {
    let undecided = |why| Undecided::new(site, link, case, why);
    let relay = &link.relay;
    let corner = corner_of(site, link, case);
    let circuit = alter(corner::circuit(site, link, &corner));
    let tap = corner::tap(site, link, corner.level, corner.lamps);
    let threshold = |volts: f64| relay::threshold_v(volts, case.box_c);
    let operate_v = threshold(relay.operate_v);
    let paper = rectifier::steady_state(&Input {
        feed: feed(site, link, tap.volts),
        rectifier: link.rectifier,
        diode: link.diode,
        diode_c: case.box_c,
        source_ohm: tap.source_ohm + circuit.wire_ohm,
        coil_ohm: circuit.coil.ohm,
        capacitance_f: circuit.capacitor.map(|part| part.farad),
    });
    let transient = transient::simulate(&circuit).map_err(undecided)?;
    let warm = warm(link, &corner, &circuit).map_err(undecided)?;
    let operate_warm_v = relay::threshold_v(relay.operate_v, warm.coil_c);
    let residual_v = match corner::off_circuit(site, link, &corner) {
        Some(off) => settled(&alter(off)).map_err(undecided)?.window.coil_mean_v,
        None => 0.0,
    };
    let dusk = Lit::of(&transient.window);
    // A DC coil on bare AC does not pull in; it only buzzes.
    let bare = corner::bare(site, link);
    Ok(LinkCase {
        case,
        tap_v: tap.volts,
        supply_ohm: tap.source_ohm,
        loop_ohm: circuit.wire_ohm,
        coil_ohm: circuit.coil.ohm,
        pull_in_s: transient.pull_in_s.filter(|_| !bare),
        drop_out_s: transient.drop_out_s.filter(|_| !bare),
        chatters: transient.keeps_letting_go() && !bare,
        margin_dusk: relay::operate_margin(dusk.coil_v, operate_v),
        margin_restart: relay::operate_margin(warm.coil_v, operate_warm_v),
        dusk,
        paper,
        operate_v,
        release_v: threshold(relay.release_v),
        hold_v: threshold(relay.hold_v),
        warm,
        operate_warm_v,
        residual_v,
    })
}
