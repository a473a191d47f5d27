//! AC through diodes into a capacitor: the conduction angle.

use std::f64::consts::{PI, SQRT_2};

use super::{Input, Method, OutsideRange, Rectified, Rectifier, self_consistent_drop};

/// Least p·f·R·C: the coil then takes at most a tenth of the charge between two pulses. From
/// simulation: the mean is good to 0.3 V.
const LEAST_INTERVALS: f64 = 10.0;

/// Least resistance before a bridge, from simulation; a single diode has the same angle at half of
/// it (x has π/1, not π/2) [Ω].
const LEAST_OHM_BRIDGE: f64 = 2.0;

/// Resistance that no real pair goes below [Ω]; keeps the pulse finite. Assumed: two meter leads.
const FLOOR_OHM: f64 = 0.001;

/// Newton steps; five are enough from the upper bounds used, for any x.
const NEWTON_STEPS: u32 = 60;

/// θ in 0…π/2 [rad] for which tan θ − θ = `x`, with x ≥ 0.
///
/// tan θ − θ is convex, and both (3x)^⅓ and atan(x + π/2) lie above the root, so Newton's method
/// walks down to it and cannot miss. By hand: y = (3x)^⅓, θ ≈ y·(1 − 2y²/15).
pub fn half_conduction_angle(x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    let mut theta = (3.0 * x).cbrt().min((x + PI / 2.0).atan());
    for _ in 0..NEWTON_STEPS {
        let tan = theta.tan();
        let step = (tan - theta - x) / (tan * tan);
        // Rounding ends the walk: the last steps would go up again.
        if step <= 0.0 || theta - step >= theta {
            break;
        }
        theta -= step;
    }
    theta
}

pub(super) fn conduction_angle(
    input: &Input,
    rms_v: f64,
    hz: f64,
    capacitance_f: f64,
) -> Rectified {
    let diodes = input.rectifier.diodes_in_path();
    let pulses_per_period = if input.rectifier == Rectifier::Bridge {
        2
    } else {
        1
    };
    let p = f64::from(pulses_per_period);
    let source_ohm = input.source_ohm.max(FLOOR_OHM);
    let peak_v = SQRT_2 * rms_v;

    let ratio = source_ohm / input.coil_ohm;
    let x = PI / p * ratio;
    let theta_rad = half_conduction_angle(x);
    let (sin, cos) = theta_rad.sin_cos();

    let net_peak_v = |drop_v: f64| (peak_v - f64::from(diodes) * drop_v).max(0.0);
    // 1 − cos θ without cancellation.
    let versine = 2.0 * (theta_rad / 2.0).sin().powi(2);
    let peak_a = |drop_v: f64| net_peak_v(drop_v) * versine / source_ohm;
    let diode_drop_v = self_consistent_drop(input, peak_v, peak_a);
    let net_peak_v = net_peak_v(diode_drop_v);

    let coil_v = net_peak_v * cos;
    let coil_a = coil_v / input.coil_ohm;
    let ripple_v = coil_a / (p * hz * capacitance_f);
    // ∫(cos φ − cos θ)² dφ from −θ to θ, p times in a period.
    let pulse = (theta_rad * (1.0 + 2.0 * cos * cos) - 3.0 * sin * cos).max(0.0);
    let pair_rms_a = net_peak_v / source_ohm * (p / (2.0 * PI) * pulse).sqrt();

    let mut outside = Vec::new();
    let intervals = p * hz * input.coil_ohm * capacitance_f;
    if intervals < LEAST_INTERVALS {
        outside.push(OutsideRange::CapacitorTooSmall {
            intervals,
            least: LEAST_INTERVALS,
        });
    }
    let least_ohm = LEAST_OHM_BRIDGE * p / 2.0;
    if input.source_ohm < least_ohm {
        outside.push(OutsideRange::SourceTooStiff {
            source_ohm: input.source_ohm,
            least_ohm,
        });
    }

    Rectified {
        method: Method::ConductionAngle,
        peak_v,
        diodes,
        pulses_per_period,
        diode_drop_v,
        net_peak_v,
        resistance_ratio: ratio,
        x,
        theta_rad,
        cos_theta: cos,
        coil_v,
        coil_a,
        ripple_v,
        coil_least_v: (coil_v - ripple_v / 2.0).max(0.0),
        peak_a: peak_a(diode_drop_v),
        pair_rms_a,
        outside,
    }
}
