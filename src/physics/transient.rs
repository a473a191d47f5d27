//! A link from switch-on to drop-out: the waveforms, the relay, and what a meter would show.
//!
//! ```text
//!   R_src   switch   ┌── wire R_w ──┬─►├─┬──●──┬────R_ser──┬───────┐
//!  ┌─▭──────o/ o──●──┘              │    │     │           │       │
//!  ~ v_s          ▭ lamps           ├─►├─┘    ═╪═ C, ESR   ▲ D_f   ◯ coil R, L(p)
//!  └──────────────●─────────────────┴─(2)───●──┴─ R_p ─────┴───────┘   ┊ armature p
//!
//!   k = R_L/(R_L + R_src + R_on),   R_th = R_L‖(R_src + R_on) + R_w      (lamps sag and stiffen)
//! ```
//!
//! Two states, the capacitor's voltage and the coil's flux, and an armature. Diodes follow SPICE's
//! junction law at every instant. Stretches in which none conducts are solved in closed form, the
//! others by steps under an error estimate; once a half-period repeats, the settled part of the
//! on-time is replaced by the periodic solution, with its phase kept.
//!
//! Source: Kirchhoff's laws; the parts name theirs. Holds: magnetic transformers and direct supplies,
//! resistive lamps at the near end. Leaves out: electronic transformers, a flattened mains crest,
//! transformer leakage inductance (−0.1 % at 0.5 mH), self-heating within one transient (the coil's
//! resistance is given warm).

use crate::circuit::diode::Junction;
use crate::circuit::rectifier::Rectifier;

mod armature;
pub mod batch;
pub mod case;
mod linear;
mod measure;
mod network;
mod passage;
mod run;
mod settle;

pub use measure::{Sample, Window};
pub use passage::{Transient, record, simulate};
pub use settle::{SteadyState, steady_state};

/// What feeds the near end, unloaded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Source {
    Ac {
        /// Open-circuit voltage [V RMS].
        rms_v: f64,
        /// Mains frequency [Hz].
        hz: f64,
        /// Phase of the sine at switch-on [rad].
        phase_rad: f64,
    },
    Dc {
        /// Open-circuit voltage [V].
        volts: f64,
    },
}

/// The capacitor behind the rectifier.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capacitor {
    /// Actual capacitance, tolerance and age included [F].
    pub farad: f64,
    /// Equivalent series resistance [Ω].
    pub esr_ohm: f64,
    /// Leakage across its terminals [Ω].
    pub leak_ohm: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coil {
    /// Resistance at the coil's temperature [Ω].
    pub ohm: f64,
    /// Inductance with the armature open [H].
    pub open_h: f64,
    /// Inductance with the armature closed [H].
    pub closed_h: f64,
    /// Current at which it starts to pull in [A].
    pub operate_a: f64,
    /// Current at which it lets go [A].
    pub release_a: f64,
    /// Travel time to closed [s].
    pub close_s: f64,
    /// Travel time to open [s].
    pub open_s: f64,
}

/// One link, switched on and off once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Link {
    pub source: Source,
    /// Resistance of the source [Ω].
    pub source_ohm: f64,
    /// Resistance of the master's closed switch [Ω].
    pub switch_on_ohm: f64,
    /// Leakage resistance of the master's open switch [Ω].
    pub switch_off_ohm: f64,
    /// Lamps across the near end, behind the switch [Ω].
    pub lamps_ohm: Option<f64>,
    /// The loop of both conductors, splices included [Ω].
    pub wire_ohm: f64,
    pub rectifier: Rectifier,
    /// Each of its diodes, at its temperature.
    pub diode: Junction,
    /// Smoothing capacitor, if any.
    pub capacitor: Option<Capacitor>,
    /// Resistance between capacitor and coil [Ω].
    pub series_ohm: f64,
    pub coil: Coil,
    /// Diode across the coil, if any.
    pub flyback: Option<Junction>,
    /// How long the master is on [s].
    pub on_for_s: f64,
    /// How long the simulation goes on afterwards [s].
    pub off_for_s: f64,
}

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CannotConclude {
    /// A parameter value that no link can have.
    Impossible { what: &'static str, value: f64 },
    /// The transient used up its number of steps.
    TooManySteps {
        /// Time since switch-on [s].
        at_s: f64,
    },
}

impl std::fmt::Display for CannotConclude {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match *self {
            Self::Impossible { what, value } => write!(f, "no link has {what} = {value}"),
            Self::TooManySteps { at_s } => write!(
                f,
                "gave up {at_s:.6} s after switch-on: too much happens in too short a time"
            ),
        }
    }
}

impl std::error::Error for CannotConclude {}

impl Link {
    /// Refuses values that no link can have.
    fn checked(&self) -> Result<&Self, CannotConclude> {
        let (hz, volts, phase) = match self.source {
            Source::Ac {
                rms_v,
                hz,
                phase_rad,
            } => (hz, rms_v, phase_rad),
            Source::Dc { volts } => (50.0, volts, 0.0),
        };
        let capacitor = self.capacitor.unwrap_or(Capacitor {
            farad: 1.0,
            esr_ohm: 0.0,
            leak_ohm: None,
        });
        let fly = self.flyback.unwrap_or(self.diode);
        let coil = &self.coil;
        let positive = [
            ("frequency", hz),
            (
                "wire and source resistance",
                self.wire_ohm + self.source_ohm,
            ),
            ("leakage of the open switch", self.switch_off_ohm),
            ("lamp resistance", self.lamps_ohm.unwrap_or(1.0)),
            ("diode saturation current", self.diode.saturation_a),
            ("diode slope", self.diode.slope_v),
            ("flyback saturation current", fly.saturation_a),
            ("flyback slope", fly.slope_v),
            ("capacitance", capacitor.farad),
            ("capacitor leakage", capacitor.leak_ohm.unwrap_or(1.0)),
            ("coil resistance", coil.ohm),
            ("open inductance", coil.open_h),
            ("closed inductance", coil.closed_h),
            ("operate current", coil.operate_a),
            ("closing time", coil.close_s),
            ("opening time", coil.open_s),
            ("on-time", self.on_for_s),
        ];
        let not_negative = [
            ("source voltage", volts),
            ("source resistance", self.source_ohm),
            ("switch resistance", self.switch_on_ohm),
            ("wire resistance", self.wire_ohm),
            ("series resistance", self.series_ohm),
            ("diode series resistance", self.diode.series_ohm),
            ("flyback series resistance", fly.series_ohm),
            ("ESR", capacitor.esr_ohm),
            ("release current", coil.release_a),
            ("off-time", self.off_for_s),
            // The phase may be any finite number.
            ("phase", phase.abs()),
        ];
        for (what, value) in positive {
            if !(value > 0.0 && value.is_finite()) {
                return Err(CannotConclude::Impossible { what, value });
            }
        }
        for (what, value) in not_negative {
            if !(value >= 0.0 && value.is_finite()) {
                return Err(CannotConclude::Impossible { what, value });
            }
        }
        if coil.release_a >= coil.operate_a {
            return Err(CannotConclude::Impossible {
                what: "release current at or above its operate current",
                value: coil.release_a,
            });
        }
        Ok(self)
    }

    /// The near end seen through the wire, with the switch at that resistance.
    fn feed(&self, switch_ohm: f64) -> network::Feed {
        let inner_ohm = self.source_ohm + switch_ohm;
        let peak_v = match self.source {
            Source::Ac { rms_v, .. } => rms_v * std::f64::consts::SQRT_2,
            Source::Dc { volts } => volts,
        };
        // Lamps sag the voltage and stiffen the source.
        let share = self.lamps_ohm.map_or(1.0, |ohm| ohm / (ohm + inner_ohm));
        network::Feed {
            peak_v: share * peak_v,
            ohm: share * inner_ohm + self.wire_ohm,
        }
    }

    fn wave(&self) -> run::Wave {
        match self.source {
            Source::Ac { hz, phase_rad, .. } => run::Wave {
                omega: 2.0 * std::f64::consts::PI * hz,
                phase: phase_rad,
                half_s: 0.5 / hz,
            },
            Source::Dc { .. } => run::Wave {
                omega: 0.0,
                phase: 0.0,
                half_s: 0.01,
            },
        }
    }
}
