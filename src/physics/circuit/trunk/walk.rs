//! The backward walk along a trunk, and the search for the voltage at its end.

use super::super::bisection::zero_of_falling;
use super::{LampState, Tap, Trunk};

/// Most steps: 0.8^400 of any supply is zero, so the search ends by itself long before.
const STEPS: u32 = 400;

/// A step keeps at least this fraction of the voltage, so that it cannot jump over the turning point.
const LONGEST_STEP: f64 = 0.8;

/// Tolerance of the supply voltage, as a fraction.
const MET: f64 = 1e-13;

/// The supply voltage that a certain voltage at the last lamp calls for.
struct Need {
    /// Supply voltage needed [V].
    supply_v: f64,
    /// Its change per volt at the last lamp.
    slope: f64,
}

/// State of every lamp in the order of the trunk's taps, with all powers times `factor`; `None` if the supply
/// cannot feed them.
pub(super) fn lamps_at(trunk: &Trunk, factor: f64) -> Option<Vec<LampState>> {
    let order = far_to_near(&trunk.taps);
    let end_v = end_voltage(trunk, &order, factor)?;
    let mut lamps = vec![
        LampState {
            volts: trunk.supply_v,
            amps: 0.0
        };
        trunk.taps.len()
    ];
    walk(trunk, &order, factor, end_v, |tap, lamp| lamps[tap] = lamp);
    Some(lamps)
}

fn far_to_near(taps: &[Tap]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..taps.len()).collect();
    order.sort_by(|&a, &b| taps[b].distance_m.total_cmp(&taps[a].distance_m));
    order
}

/// The highest voltage at the last lamp for which the supply suffices.
///
/// The search starts at the supply's own voltage (no drop at all) and walks down by Newton's
/// method. Where the need is convex (LED drivers) a step never passes the answer; where it is not
/// (filaments) it may, and the bracket closes on it.
fn end_voltage(trunk: &Trunk, order: &[usize], factor: f64) -> Option<f64> {
    let supply_v = trunk.supply_v;
    let need = |end_v: f64| walk(trunk, order, factor, end_v, |_, _| ());
    let closing = |low_v: f64, high_v: f64| {
        zero_of_falling(low_v, high_v, |end_v| supply_v - need(end_v).supply_v)
    };

    let (mut end_v, mut above_v) = (supply_v, supply_v);
    for _ in 0..STEPS {
        let now = need(end_v);
        let excess_v = now.supply_v - supply_v;
        if excess_v.abs() <= MET * supply_v {
            return Some(end_v);
        }
        if excess_v < 0.0 {
            return Some(closing(end_v, above_v));
        }
        if now.slope <= 0.0 {
            // Below the turning point, where a lower voltage calls for more supply voltage again: the lowest
            // need lies in between.
            let turning_v = zero_of_falling(end_v, above_v, |end_v| -need(end_v).slope);
            return (need(turning_v).supply_v <= supply_v).then(|| closing(turning_v, above_v));
        }
        above_v = end_v;
        end_v = (end_v - excess_v / now.slope).max(LONGEST_STEP * end_v);
        if end_v >= above_v {
            // Rounding ends the walk.
            return Some(end_v);
        }
    }
    None
}

/// From the last lamp to the supply, adding up currents and drops.
fn walk(
    trunk: &Trunk,
    order: &[usize],
    factor: f64,
    end_v: f64,
    mut visit: impl FnMut(usize, LampState),
) -> Need {
    let (mut volts, mut volts_slope) = (end_v, 1.0);
    let (mut amps, mut amps_slope) = (0.0, 0.0);
    for (position, &tap) in order.iter().enumerate() {
        let Tap { distance_m, lamp } = trunk.taps[tap];
        let lamp_a = factor * lamp.current_a(volts, trunk.current);
        visit(
            tap,
            LampState {
                volts,
                amps: lamp_a,
            },
        );
        amps += lamp_a;
        amps_slope += factor * lamp.current_slope(volts, trunk.current) * volts_slope;

        let next_m = order
            .get(position + 1)
            .map_or(0.0, |&nearer| trunk.taps[nearer].distance_m);
        let mut ohm = (distance_m - next_m) * trunk.loop_ohm_per_m;
        if position + 1 == order.len() {
            ohm += trunk.supply_ohm;
        }
        volts += ohm * amps;
        volts_slope += ohm * amps_slope;
    }
    Need {
        supply_v: volts,
        slope: volts_slope,
    }
}
