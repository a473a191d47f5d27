//! When to sample: densely around switch-on and switch-off, not at all in between.

use crate::picture::scale::whole;
use crate::transient::{Link, Source, Transient};

/// Step where anything may happen fast [s].
const DENSE_S: f64 = 50e-6;

/// Roughly the most steps in one stretch; longer stretches have longer steps.
const STEPS: f64 = 2000.0;

/// Shortest time shown after the last event [s].
const BEYOND_S: f64 = 25e-3;

/// Time shown of a relay that never settles [mains periods].
const CHATTER_PERIODS: f64 = 6.0;

/// Shortest break in the time axis, as a fraction of the time shown.
const WORTH_A_GAP: f64 = 0.2;

/// Instants after switch-on [s], in rising order, for [`crate::transient::record`]: all that a picture of this
/// link should show. `transient` is the result of [`crate::transient::simulate`].
pub fn instants(link: &Link, transient: &Transient) -> Vec<f64> {
    let off_s = link.on_for_s;
    let end_s = off_s + after_s(link, transient).min(link.off_for_s);
    let (on_s, before_s) = (on_s(link, transient), off_s - before_s(end_s - off_s));
    if before_s - on_s < WORTH_A_GAP * (on_s + end_s - before_s) {
        let step_s = (off_s / STEPS).max(DENSE_S);
        let mut instants = even(0.0, off_s, step_s);
        instants.extend(off_stretch(off_s, off_s, end_s));
        return instants;
    }
    let mut instants = even(0.0, on_s, (on_s / STEPS).max(DENSE_S));
    instants.extend(off_stretch(before_s, off_s, end_s));
    instants
}

/// From switch-on until the relay has settled [s].
fn on_s(link: &Link, transient: &Transient) -> f64 {
    let charge_s = link.capacitor.map_or(0.0, |capacitor| {
        (link.source_ohm + link.wire_ohm) * capacitor.farad
    });
    let coil_s = link.coil.closed_h / link.coil.ohm;
    let settled_s = match transient.pull_in_s {
        Some(pull_in_s) if transient.chatters() => {
            let period_s = match link.source {
                Source::Ac { hz, .. } => 1.0 / hz,
                Source::Dc { .. } => 0.02,
            };
            pull_in_s + CHATTER_PERIODS * period_s
        }
        Some(pull_in_s) => 1.3 * pull_in_s + BEYOND_S + coil_s,
        None => 4.0 * BEYOND_S + 5.0 * (charge_s + coil_s),
    };
    settled_s.min(link.on_for_s)
}

/// From switch-off until the contact is open and nothing else will happen [s].
fn after_s(link: &Link, transient: &Transient) -> f64 {
    match transient.drop_out_s {
        Some(drop_out_s) => 1.2 * drop_out_s + 0.4 * BEYOND_S,
        // The relay stays in, or never was: shows the capacitor.
        None if transient.closed_at_end => link.off_for_s,
        None => link.capacitor.map_or(BEYOND_S, |capacitor| {
            BEYOND_S + 2.0 * (link.series_ohm + link.coil.ohm) * capacitor.farad
        }),
    }
}

/// Time shown before switch-off [s].
fn before_s(after_s: f64) -> f64 {
    (0.1 * after_s).max(BEYOND_S)
}

/// Switch-off itself and 1 µs later, so that a jump shows as one; longer steps where nothing is fast.
fn off_stretch(from_s: f64, off_s: f64, end_s: f64) -> Vec<f64> {
    let quiet_s = off_s + (0.1 * (end_s - off_s)).max(BEYOND_S).min(end_s - off_s);
    let quick_s = ((off_s - from_s) / STEPS).max(DENSE_S);
    let mut instants = even(from_s, off_s, quick_s);
    instants.push(off_s);
    instants.extend(even(off_s + 1e-6, quiet_s, quick_s));
    let slow_s = ((end_s - quiet_s) / STEPS).max(DENSE_S);
    instants.extend(even(quiet_s, end_s, slow_s));
    instants.push(end_s);
    instants
}

/// Evenly spaced instants from `from_s`, the last before `to_s`.
fn even(from_s: f64, to_s: f64, step_s: f64) -> Vec<f64> {
    let count = ((to_s - from_s) / step_s - 0.01).ceil();
    (0..whole(count))
        .map(|n| from_s + n as f64 * step_s)
        .collect()
}
