//! The far end's bridge (or single diode) and capacitor: from the pair's volts to the coil's volts.
//!
//! ```text
//!   ○──R_s──┬─►├─┬───●──┬────┐         R_s: pair, splices, series resistor, source
//!     AC    │    │   +  │    │
//!           ├─►├─┘     ═╪═ C ▭ coil R
//!   ○───────┴─(2 more)──●────┘
//!
//!   AC, capacitor:  tan θ − θ = (π/p)·(R_s/R)         θ: half the conduction angle
//!                   V = (√2·V_rms − n·V_f)·cos θ      p: pulses per period, 2 bridge, 1 single diode
//!                   I_peak = (√2·V_rms − n·V_f)·(1 − cos θ)/R_s
//!                   ripple ≤ I/(p·f·C)                n: diodes in the path, 2 bridge, 1 single diode
//!   AC, no capacitor, inductive coil:  V = (p/π·√2·V_rms − n·V_f)/(1 + p·R_s/(2R))
//!   DC:             V = (V_s − n·V_f)/(1 + R_s/R)
//! ```
//!
//! Source: textbook capacitor-input rectifier (Schade 1943 drew its curves); the charge that the
//! pulse brings equals the charge the coil takes, at a flat output. The pair carries short pulses
//! of 2–11 times the coil's current, so the everyday formula, peak less drops less mean current
//! times resistance, is up to 3.4 V too high: it promises a pull-in that does not come, and is not
//! used.
//!
//! The drop is the diode law at the pulse's own peak current, found together with it. Inside the
//! range below, the mean is 0.00…0.09 V above nine circuit simulations (ngspice). A fixed 0.80 V −
//! 2 mV/K gives 0.00…0.18 V, a straight line through the law at 0.2 and 0.85 of the peak 0.05…0.15
//! V. Once printed, the drop is one number, and the rest is pocket-calculator work. Half the ripple
//! *bound* below the mean is the trough to 0.2 V; the peak is 0–10 % high.
//!
//! Holds: p·f·R·C ≥ 10 and `R_s` ≥ 2 Ω for the bridge, 1 Ω for the single diode, whose pulse has
//! the same angle at half the resistance (within 0.17 V of a step-by-step integration). Outside,
//! the answer is high, by volts for a dried-out capacitor, and says so in [`Rectified::outside`].
//! Leaves out: capacitor ESR and leakage, a flattened mains crest (up to −4 %), electronic
//! transformers, the coil's inductance where there is a capacitor.

use super::bisection::zero_of_falling;
use super::diode::Diode;

mod conduction;
mod no_capacitor;

pub use conduction::half_conduction_angle;

/// The rectifier between pair and coil.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rectifier {
    /// Four diodes.
    Bridge,
    /// One diode in series.
    SingleDiode,
    /// A plain connection.
    None,
}

impl Rectifier {
    /// Diodes that the current passes on its way to the coil.
    pub fn diodes_in_path(self) -> u8 {
        match self {
            Self::Bridge => 2,
            Self::SingleDiode => 1,
            Self::None => 0,
        }
    }

    /// Reverse voltage [V] that each diode must withstand in front of a capacitor on AC of `peak_v`
    /// (at high mains).
    ///
    /// In a bridge the other diodes hold half of it; a single diode sees the capacitor plus the
    /// opposite crest.
    pub fn reverse_v(self, peak_v: f64) -> f64 {
        match self {
            Self::Bridge => peak_v,
            Self::SingleDiode => 2.0 * peak_v,
            Self::None => 0.0,
        }
    }
}

/// What feeds the pair at its near end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Feed {
    /// A sine at mains frequency.
    Ac {
        /// Voltage with the near zone lit [V RMS].
        rms_v: f64,
        /// Mains frequency [Hz].
        hz: f64,
    },
    Dc {
        /// Voltage with the near zone lit [V].
        volts: f64,
    },
}

/// Everything that decides the coil's voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Input {
    pub feed: Feed,
    pub rectifier: Rectifier,
    pub diode: Diode,
    /// Temperature of the diodes [°C].
    pub diode_c: f64,
    /// All resistance before the rectifier [Ω]: pair, splices, series resistor, the source's own.
    pub source_ohm: f64,
    /// Resistance of the coil at its temperature [Ω].
    pub coil_ohm: f64,
    /// Smoothing capacitor [F]; `None` when there is none.
    pub capacitance_f: Option<f64>,
}

/// Which formula gave the answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// AC, rectifier and capacitor: the conduction angle.
    ConductionAngle,
    /// AC and rectifier without capacitor: the mean of the rectified sine.
    RectifiedMean,
    /// DC: a voltage divider behind the diodes.
    Divider,
    /// AC straight on a DC coil: no mean voltage at all.
    BareAlternating,
}

/// Why an answer may miss the stated accuracy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OutsideRange {
    /// The capacitor empties too far between two pulses; the true mean is lower.
    CapacitorTooSmall {
        /// p·f·R·C, the coil's time constant in charging intervals.
        intervals: f64,
        /// Smallest value for which the method holds.
        least: f64,
    },
    /// So little resistance that the ripple, not the pulse, sets the mean; the true mean is lower.
    SourceTooStiff {
        /// Resistance before the rectifier [Ω].
        source_ohm: f64,
        /// Smallest value for which the method holds [Ω].
        least_ohm: f64,
    },
    /// No smoothing: the coil gets two thirds of the usual voltage and may buzz; how it behaves
    /// depends on its inductance.
    NoCapacitor,
    /// AC straight on a DC coil: it buzzes and does not pull in, and an electrolytic capacitor
    /// across it fails.
    NoRectifierOnAc,
}

/// The steady state of a link and every number on the way to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Rectified {
    /// Which formula gave the answer.
    pub method: Method,
    /// √`2·V_rms`, or the direct voltage [V].
    pub peak_v: f64,
    /// Diodes in the path, n.
    pub diodes: u8,
    /// Charging pulses per mains period, p; 0 where nothing pulses.
    pub pulses_per_period: u8,
    /// Drop of one diode `V_f` [V].
    pub diode_drop_v: f64,
    /// Peak voltage less the diodes' drops, `peak_v` − n·`V_f` [V].
    pub net_peak_v: f64,
    /// `R_s/R`.
    pub resistance_ratio: f64,
    /// x = (`π/p)·(R_s/R`), the right-hand side of tan θ − θ = x; 0 where no angle is needed.
    pub x: f64,
    /// θ, half the conduction angle [rad]; 0 where no angle is needed.
    pub theta_rad: f64,
    /// cos θ; 1 where no angle is needed.
    pub cos_theta: f64,
    /// Mean coil voltage [V].
    pub coil_v: f64,
    /// Mean coil current [A].
    pub coil_a: f64,
    /// Peak-to-peak ripple [V], an upper bound.
    pub ripple_v: f64,
    /// Lowest coil voltage [V]: mean less half the ripple bound. This voltage must hold the relay in.
    pub coil_least_v: f64,
    /// Peak current in the pair and the diodes [A].
    pub peak_a: f64,
    /// Current in the pair [A RMS]: what a true-RMS meter shows.
    pub pair_rms_a: f64,
    /// Where the method does not hold; empty when it does.
    pub outside: Vec<OutsideRange>,
}

/// The steady state of a link.
///
/// All resistances must be finite, `coil_ohm` positive and `source_ohm` not negative.
pub fn steady_state(input: &Input) -> Rectified {
    assert!(
        input.coil_ohm > 0.0
            && input.source_ohm >= 0.0
            && input.coil_ohm.is_finite()
            && input.source_ohm.is_finite(),
        "a link has a coil and no negative resistance: {input:?}"
    );
    match (input.feed, input.rectifier, input.capacitance_f) {
        (Feed::Dc { volts }, _, _) => behind_direct_voltage(input, volts),
        (Feed::Ac { rms_v, .. }, Rectifier::None, _) => {
            no_capacitor::bare_alternating(input, rms_v)
        }
        (Feed::Ac { rms_v, hz }, _, Some(capacitance_f)) if capacitance_f > 0.0 => {
            conduction::conduction_angle(input, rms_v, hz, capacitance_f)
        }
        (Feed::Ac { rms_v, .. }, ..) => no_capacitor::rectified_mean(input, rms_v),
    }
}

fn behind_direct_voltage(input: &Input, supply_v: f64) -> Rectified {
    let diodes = input.rectifier.diodes_in_path();
    let ratio = input.source_ohm / input.coil_ohm;
    let coil_v = |drop_v: f64| (supply_v - f64::from(diodes) * drop_v).max(0.0) / (1.0 + ratio);
    let diode_drop_v =
        self_consistent_drop(input, supply_v, |drop_v| coil_v(drop_v) / input.coil_ohm);
    let coil_v = coil_v(diode_drop_v);
    let coil_a = coil_v / input.coil_ohm;
    Rectified {
        method: Method::Divider,
        peak_v: supply_v,
        diodes,
        pulses_per_period: 0,
        diode_drop_v,
        net_peak_v: supply_v - f64::from(diodes) * diode_drop_v,
        resistance_ratio: ratio,
        x: 0.0,
        theta_rad: 0.0,
        cos_theta: 1.0,
        coil_v,
        coil_a,
        ripple_v: 0.0,
        coil_least_v: coil_v,
        peak_a: coil_a,
        pair_rms_a: coil_a,
        outside: Vec::new(),
    }
}

/// The drop of one diode that fits the current which flows at that drop.
fn self_consistent_drop(input: &Input, peak_v: f64, current_a: impl Fn(f64) -> f64) -> f64 {
    let diodes = input.rectifier.diodes_in_path();
    if diodes == 0 || peak_v <= 0.0 {
        return 0.0;
    }
    zero_of_falling(0.0, peak_v / f64::from(diodes), |drop_v| {
        input.diode.forward_v(current_a(drop_v), input.diode_c) - drop_v
    })
}

#[cfg(test)]
mod tests;
