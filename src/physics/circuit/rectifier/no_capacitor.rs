//! AC without smoothing: the coil voltage when the capacitor or the rectifier is missing.

use std::f64::consts::{PI, SQRT_2};

use super::{Input, Method, OutsideRange, Rectified, Rectifier, self_consistent_drop};

/// Mean of the rectified sine less the drops; the coil's inductance keeps its current flowing
/// through the diodes (bridge) or the diode across the coil (single diode), which costs the drop
/// all the time.
pub(super) fn rectified_mean(input: &Input, rms_v: f64) -> Rectified {
    let diodes = input.rectifier.diodes_in_path();
    let pulses_per_period = if input.rectifier == Rectifier::Bridge {
        2
    } else {
        1
    };
    let p = f64::from(pulses_per_period);
    let n = f64::from(diodes);
    let peak_v = SQRT_2 * rms_v;
    let ratio = input.source_ohm / input.coil_ohm;

    // The pair carries the coil's current for p/2 of the time.
    let mean_v = |drop_v: f64| (p / PI * peak_v - n * drop_v).max(0.0) / (1.0 + ratio * p / 2.0);
    let diode_drop_v =
        self_consistent_drop(input, peak_v, |drop_v| mean_v(drop_v) / input.coil_ohm);
    let coil_v = mean_v(diode_drop_v);
    let coil_a = coil_v / input.coil_ohm;
    let net_peak_v = (peak_v - n * diode_drop_v).max(0.0);
    Rectified {
        method: Method::RectifiedMean,
        peak_v,
        diodes,
        pulses_per_period,
        diode_drop_v,
        net_peak_v,
        resistance_ratio: ratio,
        x: 0.0,
        theta_rad: 0.0,
        cos_theta: 1.0,
        coil_v,
        coil_a,
        ripple_v: net_peak_v,
        coil_least_v: 0.0,
        // As if the coil were a plain resistor; its inductance only flattens the current.
        peak_a: net_peak_v / (input.source_ohm + input.coil_ohm),
        pair_rms_a: net_peak_v / (input.source_ohm + input.coil_ohm) * (p / 4.0).sqrt(),
        outside: vec![OutsideRange::NoCapacitor],
    }
}

/// A DC coil straight on AC: mean zero.
pub(super) fn bare_alternating(input: &Input, rms_v: f64) -> Rectified {
    let peak_v = SQRT_2 * rms_v;
    // As if the coil were a plain resistor; its inductance makes it less.
    let peak_a = peak_v / (input.source_ohm + input.coil_ohm);
    Rectified {
        method: Method::BareAlternating,
        peak_v,
        diodes: 0,
        pulses_per_period: 0,
        diode_drop_v: 0.0,
        net_peak_v: peak_v,
        resistance_ratio: input.source_ohm / input.coil_ohm,
        x: 0.0,
        theta_rad: 0.0,
        cos_theta: 1.0,
        coil_v: 0.0,
        coil_a: 0.0,
        ripple_v: 0.0,
        coil_least_v: 0.0,
        peak_a,
        pair_rms_a: peak_a / SQRT_2,
        outside: vec![OutsideRange::NoRectifierOnAc],
    }
}
