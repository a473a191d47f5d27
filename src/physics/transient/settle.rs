//! The periodic state, by shooting: the state that one period maps onto itself.
//!
//! ```text
//!   x* = P(x*)        x ← x + (1 − M)⁻¹·(P(x) − x)        M = ∂P/∂x
//! ```
//!
//! P is one half-period behind a bridge (both halves are alike), one period behind a single diode.
//! M is the product of the pieces' own sensitivities: exact where the course is in closed form, the
//! exponential of the slope's Jacobian in the middle of a step. The slope is continuous where a
//! diode starts or stops, so nothing else enters.
//!
//! Source: Aprille and Trick 1972. Holds: the armature at rest.

use super::armature::Armature;
use super::linear::{Matrix, product, solve_two};
use super::measure::{Measure, Window};
use super::network::Network;
use super::passage::settled;
use super::run::Run;
use super::{CannotConclude, Link, Source};
use crate::circuit::rectifier::{Rectifier, half_conduction_angle};

/// Rounds of Newton's method; three are usual.
const ROUNDS: u32 = 60;

/// Rounds after which a search that goes to and fro within [`COARSE`] ends.
const MANY: u32 = 16;

/// Where next to nothing flows, the current below which a diode counts as blocking breaks the map into
/// steps of about this size [V], and of the flux's full scale. On a lit link it is 0.01 % of the voltage.
const COARSE: [f64; 2] = [2e-3, 1e-3];

/// A state that a period changes by less than this, of full scale, repeats.
pub(super) const REPEATS: f64 = 1e-5;

/// The same for the search behind a switch that leaks: the diodes carry so little that they bend the map within
/// millivolts.
const CLOSE: f64 = 2e-4;

/// The same on direct voltage, where nothing moves.
const RESTS: f64 = 1e-9;

/// Steps of Newton's method in volts and in flux below these, of full scale, leave less than 1e-4 of it:
/// the mean is then good to 0.02 %. The diodes bend the map along the voltage; along the flux it is
/// nearly straight.
const NEAR: [f64; 2] = [5e-3, 3e-2];

/// The same of the flux alone, without a capacitor.
const NEAR_BARE: f64 = 1.2e-2;

/// Time constants between a crest and the rise of the next half below which a capacitor is as good as
/// empty then.
const DRIED: f64 = 3.0;

/// Ripple as a part of the voltage, squared, times this is missing in the mean behind a stiff source (by
/// simulation of twenty links; only where the search begins).
const SAGS: f64 = 0.9;

/// Ripple as a part of the voltage, times this is what the coil current is above its mean where the
/// source passes zero (likewise).
const LAGS: f64 = 0.1;

/// Relative tolerance of a step. The periodic mean is then good to 0.001 %.
pub(super) const TOLERANCE: f64 = 4e-6;

/// A periodic state and how departures from it die away.
#[derive(Debug, Clone, Copy)]
pub(super) struct Orbit {
    pub(super) state: [f64; 2],
    pub(super) decay: Matrix,
    /// Least and greatest coil current on it [A].
    pub(super) coil_a: (f64, f64),
    /// What meters show on it, if it was measured.
    pub(super) window: Window,
}

/// Half-periods after which everything may repeat.
pub(super) fn halves(run: &Run<'_>) -> u32 {
    let alternating = run.wave.omega != 0.0;
    if alternating && run.network.rectifier != Rectifier::Bridge {
        2
    } else {
        1
    }
}

/// Largest departure as a fraction of full scale; without end where one of them is no number, as after many
/// periods that each make a departure grow.
pub(super) fn departure(run: &Run<'_>, from: [f64; 2], to: [f64; 2]) -> f64 {
    let [volts, flux] = run.full_scale();
    let off = [
        (to[0] - from[0]).abs() / volts,
        (to[1] - from[1]).abs() / flux,
    ];
    if off.iter().any(|part| part.is_nan()) {
        return f64::INFINITY;
    }
    off[0].max(off[1])
}

/// Finds the orbit, starting from where `run` stands, which must be at a boundary with the armature
/// at rest; measures it if told the wire's resistance [Ω]. `None` if the relay acts on the way: then
/// there is no orbit with this armature; or if the search does not close in on one.
pub(super) fn orbit(
    run: &Run<'_>,
    measured_with: Option<f64>,
) -> Result<Option<Orbit>, CannotConclude> {
    let mut run = run.clone();
    let start_s = run.now;
    let until = start_s + f64::from(halves(&run)) * run.wave.half_s;
    let mut x = run.state;
    let mut change = f64::INFINITY;
    let mut last: Option<Grown> = None;
    // With one state, the map rises less than its argument: a bracket always closes.
    let mut bracket = (f64::NEG_INFINITY, f64::INFINITY);
    for round in 0..ROUNDS {
        run.jump(start_s, x);
        // Close by, the last round's sensitivity serves for this one, too.
        let mut measure = measured_with.filter(|_| last.is_some()).map(Measure::new);
        let Some(grown) = grow(&mut run, until, last, measure.as_mut())? else {
            return Ok(None);
        };
        let Grown { decay, coil_a } = grown;
        let mapped = run.state;
        let rest = [mapped[0] - x[0], mapped[1] - x[1]];
        let now = departure(&run, x, mapped);
        let loose = [
            [1.0 - decay[0][0], -decay[0][1]],
            [-decay[1][0], 1.0 - decay[1][1]],
        ];
        // A step that makes things worse, or none, falls back to letting the link itself settle.
        let newton = solve_two(&loose, rest).filter(|by| by[0].is_finite() && by[1].is_finite());
        let better = now < change;
        change = now;
        let mut next = match newton {
            Some(by) if better => [x[0] + by[0], x[1] + by[1]],
            _ => mapped,
        };
        if run.network.is_bare() {
            if rest[1] > 0.0 {
                bracket.0 = x[1];
            } else {
                bracket.1 = x[1];
            }
            let (low, high) = bracket;
            if !(low..=high).contains(&next[1]) {
                next[1] = if low.is_finite() && high.is_finite() {
                    f64::midpoint(low, high)
                } else {
                    mapped[1]
                };
            }
        }
        // A state that changes little in a period may still be far from where it is going.
        let by = departure(&run, x, next);
        let direct = run.wave.omega == 0.0;
        let near = newton.is_some() && better && is_near(&run, x, next)
            || round >= MANY && is_within(&run, x, next, COARSE);
        // On direct voltage any change at all would show as a ripple; what is left is rounding.
        let stalls = direct && now < REPEATS && (!better || round >= MANY);
        let repeats = if direct {
            by < RESTS || stalls
        } else {
            by < REPEATS || near
        };
        let found = if measured_with.is_some() {
            measure.is_some() && repeats
        } else {
            near && by < CLOSE || now == 0.0
        };
        if found {
            return Ok(Some(Orbit {
                state: next,
                decay,
                coil_a,
                window: measure.map(|measure| measure.window()).unwrap_or_default(),
            }));
        }
        let close = near || stalls || now == 0.0;
        last = (close && measured_with.is_some()).then_some(grown);
        x = next;
    }
    Ok(None)
}

/// Whether a step is no larger than so many volts, and that part of the flux's full scale.
fn is_within(run: &Run<'_>, from: [f64; 2], to: [f64; 2], [volts, share]: [f64; 2]) -> bool {
    let [_, flux] = run.full_scale();
    (to[0] - from[0]).abs() < volts && (to[1] - from[1]).abs() < share * flux
}

/// Whether Newton's method ends with a step from one state to the other.
fn is_near(run: &Run<'_>, from: [f64; 2], to: [f64; 2]) -> bool {
    let [volts, flux] = run.full_scale();
    let by = [
        (to[0] - from[0]).abs() / volts,
        (to[1] - from[1]).abs() / flux,
    ];
    if run.network.is_bare() {
        by[1] < NEAR_BARE
    } else {
        by[0] < NEAR[0] && by[1] < NEAR[1]
    }
}

/// What one period does to a small departure.
#[derive(Debug, Clone, Copy)]
pub(super) struct Grown {
    pub(super) decay: Matrix,
    /// Range of the coil current [A].
    pub(super) coil_a: (f64, f64),
}

/// Runs to `until` and returns how a small departure at the start has grown by then, unless that is
/// `known`; `None` if the relay acts.
pub(super) fn grow(
    run: &mut Run<'_>,
    until: f64,
    known: Option<Grown>,
    mut measure: Option<&mut Measure>,
) -> Result<Option<Grown>, CannotConclude> {
    let mut decay = [[1.0, 0.0], [0.0, 1.0]];
    let per_henry = 1.0 / run.inductance_h();
    let (mut least, mut most) = (run.coil_a(), run.coil_a());
    while run.now < until {
        let (piece, happening) = run.advance(until)?;
        if happening.is_some() {
            return Ok(None);
        }
        if let Some(measure) = &mut measure {
            measure.add(run, &piece);
        }
        if known.is_some() {
            continue;
        }
        decay = product(&run.growth(&piece), &decay);
        // The middle catches what the ends miss.
        let middle = piece.state_at(f64::midpoint(piece.start_s, piece.end_s));
        for state in [middle, piece.end] {
            least = least.min(state[1] * per_henry);
            most = most.max(state[1] * per_henry);
        }
    }
    Ok(Some(known.unwrap_or(Grown {
        decay,
        coil_a: (least, most),
    })))
}

/// The periodic state of a link that is left on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteadyState {
    /// What meters show, over one period.
    pub window: Window,
}

/// The periodic state with the switch on and the armature closed.
pub fn steady_state(link: &Link) -> Result<SteadyState, CannotConclude> {
    let link = link.checked()?;
    let network = Network::new(link, link.feed(link.switch_on_ohm));
    // The relay is held: its thresholds are out of the way.
    let mut coil = link.coil;
    coil.release_a = f64::NEG_INFINITY;
    let mut wave = link.wave();
    wave.phase = 0.0;
    let mut run = Run::new(&coil, network, wave, TOLERANCE);
    run.armature = Armature {
        driven: true,
        position: 1.0,
        closed: true,
    };
    run.state = first_guess(link, &run.network, coil.closed_h);
    let window = match orbit(&run, Some(link.wire_ohm))? {
        Some(orbit) => orbit.window,
        // Then it settles by itself.
        None => settled(link, run)?,
    };
    Ok(SteadyState { window })
}

/// Capacitor voltage and flux near the periodic state: the flat-output rectifier.
fn first_guess(link: &Link, network: &Network, inductance_h: f64) -> [f64; 2] {
    let load_ohm = link.series_ohm + link.coil.ohm;
    let drop_v = |a: f64| {
        f64::from(link.rectifier.diodes_in_path())
            * (network.bridge.slope_v * (a.max(0.0) / network.bridge.saturation_a).ln_1p())
    };
    let volts = match (link.source, link.rectifier) {
        (Source::Dc { .. }, _) => {
            let net_v = network.feed.peak_v - drop_v(network.feed.peak_v / load_ohm);
            net_v.max(0.0) / (1.0 + network.feed.ohm / load_ohm)
        }
        (Source::Ac { .. }, Rectifier::None) => 0.0,
        (Source::Ac { .. }, _) if network.is_bare() => {
            return [
                0.0,
                bare_guess_a(link, network, inductance_h, drop_v) * inductance_h,
            ];
        }
        (Source::Ac { hz, .. }, rectifier) => {
            let pulses = if rectifier == Rectifier::Bridge {
                2.0
            } else {
                1.0
            };
            let diodes_ohm = f64::from(rectifier.diodes_in_path()) * network.bridge.series_ohm;
            let ohm = network.feed.ohm + diodes_ohm + network.inner_ohm;
            let theta = half_conduction_angle(std::f64::consts::PI / pulses * ohm / load_ohm);
            let cos = theta.cos();
            // The drop at the pulse's own peak.
            let peak_a = network.feed.peak_v * (1.0 - cos) / ohm;
            let net_v = network.feed.peak_v - drop_v(peak_a);
            // A dried capacitor has emptied since the last crest; another hardly has.
            let since_s = (0.25 + if pulses > 1.0 { 0.0 } else { 0.5 }) / hz;
            let farad = network.capacitance_f.unwrap_or_default();
            let empties_s = load_ohm * farad;
            if empties_s < DRIED * since_s {
                net_v.max(0.0) * (-since_s / empties_s).exp()
            } else {
                // The ripple, as a part of the voltage, lowers it; the coil lags behind its fall.
                let ripple = 1.0 / (pulses * hz * empties_s);
                let volts = net_v.max(0.0) * cos * (1.0 - SAGS * cos * cos * ripple * ripple);
                return [
                    volts,
                    volts * (1.0 + LAGS * ripple) / load_ohm * inductance_h,
                ];
            }
        }
    };
    let capacitor_v = if network.capacitance_f.is_some() {
        volts
    } else {
        0.0
    };
    [capacitor_v, volts / load_ohm * inductance_h]
}

/// Coil current without a capacitor where the source rises through zero [A], each diode a constant
/// voltage:
///
/// ```text
///   i(t) = (V/Z)·sin(ωt − φ) + K·e^(−t/τ) − V_d/R,   tan φ = ωL/R,   i(T/2) = i(0) behind a bridge,
///                                                    i(T/2)·e^(−T/2τ) = i(0) behind one diode
/// ```
fn bare_guess_a(
    link: &Link,
    network: &Network,
    inductance_h: f64,
    drop_v: impl Fn(f64) -> f64,
) -> f64 {
    let Source::Ac { hz, .. } = link.source else {
        return 0.0;
    };
    let ohm = network.feed.ohm + link.series_ohm + link.coil.ohm;
    let reactance = 2.0 * std::f64::consts::PI * hz * inductance_h;
    // (V/Z)·sin φ
    let turned_a = network.feed.peak_v * reactance / (ohm * ohm + reactance * reactance);
    let decay = (-0.5 * ohm / (hz * inductance_h)).exp();
    let driven = if network.rectifier == Rectifier::Bridge {
        (1.0 + decay) / (1.0 - decay)
    } else {
        decay / (1.0 - decay)
    };
    let rest_a = drop_v(turned_a * driven) / ohm;
    (turned_a * driven - rest_a).max(0.0)
}
