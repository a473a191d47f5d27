//! The part that takes most of a link's margin.

use std::fmt;

use crate::circuit::rectifier::Method;
use crate::site::Link;

use super::case::LinkCase;

/// The part that costs the coil most [V].
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Weakest {
    /// The pair, including the effect of charging the capacitor in pulses.
    Pair(f64),
    SeriesResistor(f64),
    Diodes(f64),
    /// The coil's own heating, which raises the voltage it needs.
    CoilHeat(f64),
    /// The missing capacitor: the coil gets the mean of the pulses instead of their peak.
    NoCapacitor(f64),
    /// The missing rectifier: a DC coil is on AC.
    NoRectifier,
    /// The supply: it leaves nothing for the pair.
    NoVoltage,
}

impl fmt::Display for Weakest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Pair(volts) => write!(f, "the pair takes {volts:.1} V"),
            Self::SeriesResistor(volts) => write!(f, "pair and series resistor take {volts:.1} V"),
            Self::Diodes(volts) => write!(f, "the diodes take {volts:.1} V"),
            Self::CoilHeat(volts) => write!(f, "the warm coil needs {volts:.1} V more"),
            Self::NoCapacitor(volts) => write!(f, "the missing capacitor costs {volts:.1} V"),
            Self::NoVoltage => f.write_str("its supply gives no voltage"),
            Self::NoRectifier => f.write_str("there is no rectifier"),
        }
    }
}

pub(super) fn of(case: &LinkCase, link: &Link) -> Weakest {
    let dusk = &case.paper;
    let loop_v = dusk.net_peak_v - dusk.coil_v;
    let wire = match dusk.method {
        Method::BareAlternating => return Weakest::NoRectifier,
        Method::RectifiedMean => Weakest::NoCapacitor(loop_v),
        _ if link.series_ohm > case.loop_ohm / 2.0 => Weakest::SeriesResistor(loop_v),
        _ => Weakest::Pair(loop_v),
    };
    let diodes_v = f64::from(dusk.diodes) * dusk.diode_drop_v;
    let heat_v = case.operate_warm_v - case.operate_v;
    let candidates = [
        (loop_v, wire),
        (diodes_v, Weakest::Diodes(diodes_v)),
        (heat_v, Weakest::CoilHeat(heat_v)),
    ];
    candidates
        .into_iter()
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(wire, |(_, weakest)| weakest)
}
