//! A link of the site file as a circuit, at one corner of everything that may differ between evenings and
//! between builds.

use std::f64::consts::TAU;

use crate::circuit::copper;
use crate::circuit::rectifier::Rectifier;
use crate::circuit::wire;
use crate::site::{Link, Relay, Site};
use crate::transient;

mod tap;

pub(crate) use tap::{Tap, load_va, tap};

/// Loss angle of an electrolytic capacitor, tan δ at 120 Hz (50 V types; from memory).
const LOSS: f64 = 0.12;

/// Frequency for which data sheets give it [Hz].
const LOSS_HZ: f64 = 120.0;

/// Leakage resistance of an electrolytic capacitor times its capacitance [s]: 0.01·C·V in µA, the usual data
/// sheet limit (from memory).
const LEAK_S: f64 = 100.0;

/// Coil inductance with the armature open divided by its resistance, if not stated [s] (small relays have 1.2
/// to 5 ms; from memory).
const OPEN_COIL_S: f64 = 2.5e-3;

/// Inductance with the armature closed, as a multiple of that with it open (1.6 to 1.9; from memory).
const CLOSED_OVER_OPEN: f64 = 1.75;

/// Smallest share of the data sheet's operate time that the armature travels.
const LEAST_TRAVEL: f64 = 0.2;

/// Resistance of the master's open contact [Ω].
const OPEN_OHM: f64 = 1e9;

/// Lowest resistance taken for a closed switch [Ω].
const SHORTED_OHM: f64 = 1e-3;

/// Simulated time for a link to settle, in time constants of coil and capacitor.
const SETTLES: f64 = 12.0;

/// Additional simulated time, in travels of the armature.
const TRAVELS: f64 = 4.0;

/// Additional simulated time for the fast parts of a link [s].
const SETTLES_S: f64 = 0.6;

/// Which lamps load the master's transformer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lamps {
    /// The lamps of all its zones.
    All,
    /// The master's lamps only.
    Masters,
    /// None: unplugged or burnt out.
    Unplugged,
}

/// Everything that may differ between evenings and between builds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corner {
    /// −1 at the lowest mains or supply voltage, 0 at nominal, +1 at the highest.
    pub level: f64,
    /// Share of the peak voltage that remains where the mains crest is flat, or lamps load it.
    pub crest: f64,
    /// The load on the master's transformer.
    pub lamps: Lamps,
    /// Temperature of box and diodes [°C].
    pub box_c: f64,
    /// Temperature of the buried pair [°C].
    pub wire_c: f64,
    /// Temperature of the coil [°C].
    pub coil_c: f64,
    /// Resistance of the pair as a fraction of the tables'.
    pub pair_part: f64,
    /// Coil resistance as a fraction of rated.
    pub coil_part: f64,
    /// Capacitance as a fraction of rated, age included.
    pub capacitor_part: f64,
    /// ESR of the capacitor as a multiple of a new one's.
    pub esr_part: f64,
    /// Leakage of the capacitor as a fraction of its data sheet limit; a good one has next to none.
    pub leak_part: f64,
    /// Operate voltage, coil at 20 °C [V].
    pub operate_v: f64,
    /// Release voltage, coil at 20 °C [V].
    pub release_v: f64,
    /// Travel time of the armature as a fraction of the data sheet's.
    pub travel_part: f64,
    /// Phase of the mains at switch-on [rad].
    pub on_rad: f64,
    /// Phase at switch-off, counted from the end of a period [rad].
    pub off_rad: f64,
}

impl Corner {
    /// Everything as rated, on an ordinary evening; the operate voltage that the data sheet guarantees, and the
    /// usual release voltage.
    pub fn ordinary(site: &Site, link: &Link) -> Self {
        Self {
            level: 0.0,
            crest: 1.0,
            lamps: Lamps::All,
            box_c: site.temperatures.typical_c,
            wire_c: site.temperatures.wire_c,
            coil_c: site.temperatures.typical_c,
            pair_part: 1.0,
            coil_part: 1.0,
            capacitor_part: 1.0,
            esr_part: 1.0,
            leak_part: 0.0,
            operate_v: link.relay.operate_v,
            release_v: link.relay.typical_release_v,
            travel_part: 1.0,
            on_rad: 0.0,
            off_rad: 0.0,
        }
    }

    /// The same in a box of another temperature, coil cold.
    #[must_use]
    pub fn in_box(self, celsius: f64) -> Self {
        Self {
            box_c: celsius,
            coil_c: celsius,
            ..self
        }
    }
}

/// The pair alone, both conductors and splices [Ω], at a wire temperature [°C].
pub(crate) fn pair_ohm(site: &Site, link: &Link, wire_c: f64) -> f64 {
    if let Some(measured) = link.measured_loop_ohm {
        // The loop was measured at the ground's temperature that day: only the change from the yard's usual is
        // known.
        return measured * copper::factor(wire_c) / copper::factor(site.temperatures.wire_c);
    }
    let cable = link.cable.expect("a link has a cable or a measured loop");
    wire::loop_ohm(
        cable.gauge,
        cable.stranding,
        cable.length_m,
        wire_c,
        link.splices,
        link.splice_ohm,
    )
    .expect("the site file has only sizes in the trade")
}

impl Relay {
    /// Coil inductance, armature open [H]: the stated value, which is what a meter shows.
    pub(crate) fn open_h(&self) -> f64 {
        self.inductance_h.unwrap_or(OPEN_COIL_S * self.coil_ohm)
    }

    /// The same, armature closed [H].
    pub(crate) fn closed_h(&self) -> f64 {
        CLOSED_OVER_OPEN * self.open_h()
    }

    /// Travel time of the armature [s]: the data sheet's operate time less the time the current takes to rise
    /// at rated voltage.
    fn travel_s(&self) -> f64 {
        let share = (self.operate_v / self.rated_v).min(0.99);
        let rise_s = -self.open_h() / self.coil_ohm * (1.0 - share).ln();
        (self.operate_s - rise_s).max(LEAST_TRAVEL * self.operate_s)
    }
}

/// Highest release voltage as a fraction of the same relay's operate voltage (assumed).
const RELEASE_BELOW: f64 = 0.95;

/// Shortest travel time [s]: the simulation needs one above zero.
const LEAST_TRAVEL_S: f64 = 1e-5;

/// The link as a circuit.
pub fn circuit(site: &Site, link: &Link, corner: &Corner) -> transient::Link {
    let tap = tap(site, link, corner.level, corner.lamps);
    let relay = &link.relay;
    let on_ac = site.feeding(link).is_ac();
    let coil_20c = relay.coil_ohm * corner.coil_part;
    let coil_ohm = coil_20c * copper::factor(corner.coil_c);
    let capacitor = link.capacitor.map(|part| transient::Capacitor {
        farad: part.farad * corner.capacitor_part,
        esr_ohm: LOSS / (TAU * LOSS_HZ * part.farad) * corner.esr_part,
        leak_ohm: (corner.leak_part > 0.0).then(|| LEAK_S / (part.farad * corner.leak_part)),
    });
    let junction = link.diode.junction_at(corner.box_c);
    let settles_s = SETTLES_S
        + SETTLES * coil_ohm * capacitor.map_or(0.0, |part| part.farad)
        + SETTLES * relay.closed_h() / coil_ohm
        + TRAVELS * (relay.operate_s + relay.release_s);
    let (source, period_s) = if on_ac {
        let hz = site.mains.frequency_hz;
        let source = transient::Source::Ac {
            rms_v: tap.open_v * corner.crest,
            hz,
            phase_rad: corner.on_rad,
        };
        (source, 1.0 / hz)
    } else {
        (transient::Source::Dc { volts: tap.open_v }, 0.01)
    };
    // Whole periods, then the phase at switch-off.
    let on_for_s = ((settles_s / period_s).ceil() + corner.off_rad / TAU) * period_s;
    transient::Link {
        source,
        source_ohm: tap.source_ohm,
        // A sound contact has milliohms, which do not show beside the pair.
        switch_on_ohm: 0.0,
        switch_off_ohm: leak_ohm(link, &tap, coil_ohm),
        lamps_ohm: tap.lamps_ohm,
        wire_ohm: pair_ohm(site, link, corner.wire_c) * corner.pair_part + link.series_ohm,
        rectifier: link.rectifier,
        diode: junction,
        capacitor,
        series_ohm: 0.0,
        coil: transient::Coil {
            ohm: coil_ohm,
            open_h: relay.open_h(),
            closed_h: relay.closed_h(),
            operate_a: corner.operate_v / coil_20c,
            // The release voltage stays below the operate voltage, whatever the corner.
            release_a: corner.release_v.min(RELEASE_BELOW * corner.operate_v) / coil_20c,
            close_s: (relay.travel_s() * corner.travel_part).max(LEAST_TRAVEL_S),
            open_s: (relay.release_s * corner.travel_part).max(LEAST_TRAVEL_S),
        },
        flyback: (link.flyback_diode).then_some(junction),
        on_for_s,
        off_for_s: settles_s,
    }
}

/// Leakage resistance across the master's open switch that gives the pair its off-state voltage [Ω].
fn leak_ohm(link: &Link, tap: &Tap, coil_ohm: f64) -> f64 {
    if link.off_state_v <= 0.0 || tap.open_v <= link.off_state_v {
        return if link.off_state_v > 0.0 {
            SHORTED_OHM
        } else {
            OPEN_OHM
        };
    }
    let load_ohm = tap.lamps_ohm.unwrap_or(coil_ohm);
    (load_ohm * (tap.open_v / link.off_state_v - 1.0) - tap.source_ohm).max(SHORTED_OHM)
}

/// The link with its master off, the pair held at its off-state voltage; `None` where that is zero.
pub(crate) fn off_circuit(site: &Site, link: &Link, corner: &Corner) -> Option<transient::Link> {
    if link.off_state_v <= 0.0 {
        return None;
    }
    let on_ac = site.feeding(link).is_ac();
    let lit = circuit(site, link, corner);
    Some(transient::Link {
        source: if on_ac {
            transient::Source::Ac {
                rms_v: link.off_state_v,
                hz: site.mains.frequency_hz,
                phase_rad: 0.0,
            }
        } else {
            transient::Source::Dc {
                volts: link.off_state_v,
            }
        },
        source_ohm: 0.0,
        lamps_ohm: None,
        ..lit
    })
}

/// Whether an AC pair feeds the coil without a rectifier: the relay only buzzes.
pub(crate) fn bare(site: &Site, link: &Link) -> bool {
    link.rectifier == Rectifier::None && site.feeding(link).is_ac()
}
