//! Stretches in which no diode conducts.

use std::f64::consts::PI;

use super::piece::Shape;
use super::{Course, Evaluated, INSTANT_S, Piece, Rectifier, Run, crossing};

/// Coil current below which a coil without a capacitor counts as idle [A]; it gives less than a millionth of a
/// relay's power.
const IDLE_A: f64 = 2e-6;

/// Most rounds of Newton's method before the onset is bracketed; three are usual.
const MOST_ROUNDS: u32 = 8;

impl Run<'_> {
    /// The quiet piece that begins here, and whether the relay turns round at its end; `None` if a diode
    /// conducts here.
    pub(super) fn quiet_piece(
        &mut self,
        limit: f64,
        here: &Evaluated,
        at_rest: bool,
    ) -> Option<(Piece, bool)> {
        if self.network.is_bare() {
            return self.idle_coil(limit, here);
        }
        if self.network.capacitance_f.is_none()
            && self.is_silent()
            && let Some(idle) = self.idle_coil(limit, here)
        {
            return Some(idle);
        }
        if !at_rest {
            return None;
        }
        let network = &self.network;
        let plain = network.rectifier == Rectifier::None;
        let direct = self.wave.omega == 0.0 || self.is_silent();
        let source_v = here.sign * here.drive.volts;
        let blocks = if plain {
            direct
        } else {
            network.drive_v(source_v, here.flow.node_v) < 0.0
        };
        if !blocks || network.freewheel_v(here.flow.node_v, here.flow.coil_v) >= 0.0 {
            return None;
        }
        let inductance_h = self.inductance_h();
        let (matrix, push) = network.quiet(source_v, inductance_h);
        let course = Course::from(self.state, matrix, push)?;
        let mut end = limit - self.now;
        if end > course.single_turn_s() && !self.dies_away(&course, inductance_h) {
            end = course.single_turn_s();
        }
        if !plain && let Some(onset) = self.onset(&course, end, inductance_h) {
            end = onset;
        }
        let freewheel = |x: [f64; 2]| {
            let node_v = self.quiet_node_v(x, inductance_h);
            let coil_v = node_v - self.network.series_ohm * x[1] / inductance_h;
            self.network.freewheel_v(node_v, coil_v)
        };
        let mut there = course.at(end);
        if freewheel(there) >= 0.0 {
            end = crossing(0.0, end, INSTANT_S, |t| freewheel(course.at(t)));
            there = course.at(end);
        }
        let turns_s = self.turns_in_course(&course, end, there, inductance_h);
        if let Some(turns_s) = turns_s {
            end = turns_s;
            there = course.at(end);
        }
        if end <= INSTANT_S && turns_s.is_none() && end < limit - self.now {
            return None;
        }
        let piece = Piece {
            start_s: self.now,
            end_s: if end >= limit - self.now {
                limit
            } else {
                self.now + end
            },
            start: self.state,
            end: there,
            position: self.armature.position,
            rate: 0.0,
            start_flow: here.flow,
            shape: Shape::Course(course),
        };
        self.last = None;
        Some((piece, turns_s.is_some()))
    }

    /// Whether the oscillation between capacitor and coil is too small to make a diode conduct or the relay
    /// act, however long it lasts.
    fn dies_away(&self, course: &Course, inductance_h: f64) -> bool {
        let network = &self.network;
        let [(rest_v, reach_v), (rest_vs, reach_vs)] = course.bounds();
        let (rest_a, reach_a) = (rest_vs / inductance_h, reach_vs / inductance_h);
        let node_v = self.quiet_node_v([rest_v, rest_vs], inductance_h);
        let least_v = node_v - network.gain * reach_v - network.inner_ohm * reach_a;
        let coil_v = least_v - network.series_ohm * (rest_a + reach_a);
        let blocks = network.rectifier == Rectifier::None
            || network.drive_v(network.feed.peak_v, least_v) < 0.0;
        blocks
            && network.freewheel_v(least_v, coil_v) < 0.0
            && self
                .content_a(rest_a - reach_a)
                .min(self.content_a(rest_a + reach_a))
                > 0.0
    }

    /// When the relay turns round on a course that ends `there` after `end` seconds.
    fn turns_in_course(
        &self,
        course: &Course,
        end: f64,
        there: [f64; 2],
        inductance_h: f64,
    ) -> Option<f64> {
        let content = |x: [f64; 2]| self.content_a(x[1] / inductance_h);
        if content(there) <= 0.0 {
            return Some(crossing(0.0, end, INSTANT_S, |t| content(course.at(t))));
        }
        let (first, last) = (course.slope(self.state)[1], course.slope(there)[1]);
        if first * last >= 0.0 {
            return None;
        }
        // An extremum lies between; the steeper end limits how far out.
        let reach_a = first.abs().max(last.abs()) * end / inductance_h;
        if content(self.state).min(content(there)) > reach_a {
            return None;
        }
        let slope = |t: f64| course.slope(course.at(t))[1];
        let turning = crossing(0.0, end, INSTANT_S, slope);
        (content(course.at(turning)) <= 0.0)
            .then(|| crossing(0.0, turning, INSTANT_S, |t| content(course.at(t))))
    }

    /// Without a capacitor, a coil that carries almost no current waits for the source to rise.
    fn idle_coil(&mut self, limit: f64, here: &Evaluated) -> Option<(Piece, bool)> {
        let network = &self.network;
        let inductance_h = self.inductance_h();
        let drops_v = f64::from(network.rectifier.diodes_in_path())
            * network.bridge.slope_v
            * (IDLE_A / network.bridge.saturation_a).ln_1p()
            + network.feed.ohm * IDLE_A;
        let drive = |t: f64| {
            let source_v = self.source_v(self.now + t);
            let bridge = network.rectifier == Rectifier::Bridge;
            (if bridge { source_v.abs() } else { source_v }) - drops_v
        };
        if self.coil_a().abs() > 1.001 * IDLE_A || drive(0.0) >= 0.0 {
            return None;
        }
        let matrix = [
            [-1.0, 0.0],
            [0.0, -(network.coil_ohm + network.series_ohm) / inductance_h],
        ];
        let course = Course::from(self.state, matrix, [0.0, 0.0])?;
        let most = limit - self.now;
        let mut end = most;
        // A source that never gets there; otherwise one half-period after another.
        if network.feed.peak_v > drops_v && self.wave.omega != 0.0 {
            let mut half = self.wave.half_at(self.now);
            while end >= most {
                let start = self.wave.start_of(half) - self.now;
                if start >= most {
                    break;
                }
                let crest = (start + 0.5 * self.wave.half_s).min(most);
                if crest > start.max(0.0) && drive(crest) >= 0.0 {
                    end = crossing(start.max(0.0), crest, INSTANT_S, drive);
                }
                half += 1.0;
            }
        }
        // Already at the onset.
        if end <= INSTANT_S && end < most {
            return None;
        }
        let mut state = course.at(end);
        if end < most {
            state[1] = state[1].max(IDLE_A * inductance_h);
        }
        self.last = None;
        Some((
            Piece {
                start_s: self.now,
                end_s: if end < most { self.now + end } else { limit },
                start: self.state,
                end: state,
                position: self.armature.position,
                rate: self.armature.rate(self.coil),
                start_flow: here.flow,
                shape: Shape::Course(course),
            },
            false,
        ))
    }

    fn quiet_node_v(&self, x: [f64; 2], inductance_h: f64) -> f64 {
        let network = &self.network;
        let idle_v = network.idle_node_v(x[0], x[1] / inductance_h);
        if network.rectifier == Rectifier::None {
            let share = network.inner_ohm / network.feed.ohm;
            (idle_v + share * network.feed.peak_v) / (1.0 + share)
        } else {
            idle_v + network.inner_ohm * network.reverse_a()
        }
    }

    /// When the source begins to drive the rectifier, counted from now; `None` if it does not within `end`.
    fn onset(&self, course: &Course, end: f64, inductance_h: f64) -> Option<f64> {
        let node_v = |t: f64| self.quiet_node_v(course.at(t), inductance_h);
        let drive = |t: f64| self.network.drive_v(self.source_v(self.now + t), node_v(t));
        let omega = self.wave.omega;
        // The lowest node voltage that the crest can still exceed.
        let crest = |t: f64| self.network.drive_v(self.network.feed.peak_v, node_v(t));
        if omega == 0.0 {
            return (drive(end) >= 0.0).then(|| crossing(0.0, end, INSTANT_S, drive));
        }
        let mut from = 0.0;
        if crest(0.0) < 0.0 {
            if crest(end) < 0.0 {
                return None;
            }
            from = crossing(0.0, end, INSTANT_S, crest) - INSTANT_S;
        }
        let mut half = self.wave.half_at(self.now + from.max(0.0));
        loop {
            let start = self.wave.start_of(half) - self.now;
            if start >= end {
                return None;
            }
            // A single diode only conducts in positive halves.
            let positive = half.rem_euclid(2.0) < 0.5;
            if self.network.rectifier == Rectifier::Bridge || positive {
                let crest_s = start + 0.5 * self.wave.half_s;
                // Further than a falling node could add.
                if crest_s + 0.5 * self.wave.half_s <= 0.0 {
                    half += 1.0;
                    continue;
                }
                // The drive is greatest where the source falls as fast as the node does.
                let fall = {
                    let x = course.at(crest_s.max(0.0));
                    let slope = course.slope(x);
                    let node = self.network.gain * slope[0]
                        - self.network.inner_ohm * slope[1] / inductance_h;
                    (-node / (omega * self.network.feed.peak_v)).clamp(0.0, 1.0)
                };
                let best = crest_s + (fall.asin() / omega).min(PI / (2.0 * omega));
                let high = best.min(end);
                let low = start.max(0.0);
                if high > low && drive(high) >= 0.0 {
                    if drive(low) >= 0.0 {
                        return Some(low);
                    }
                    return Some(self.rise(course, low, high, inductance_h));
                }
            }
            half += 1.0;
        }
    }

    /// The instant between `low`, where the source does not drive the rectifier yet, and `high`, where it does.
    fn rise(&self, course: &Course, low: f64, high: f64, inductance_h: f64) -> f64 {
        let network = &self.network;
        let drive = |t: f64| {
            let x = course.at(t);
            let source = self.drive(self.now + t, 1.0);
            let sign = if source.volts < 0.0 { -1.0 } else { 1.0 };
            let slope = course.slope(x);
            let fall = network.gain * slope[0] - network.inner_ohm * slope[1] / inductance_h;
            (
                network.drive_v(source.volts, self.quiet_node_v(x, inductance_h)),
                sign * source.slope - fall,
            )
        };
        // From the left, the curvature of the sine keeps Newton's method on the left.
        let need = (drive(low).0 / -network.feed.peak_v).clamp(0.0, 1.0);
        let mut t = (low + need.asin() / self.wave.omega).clamp(low, high);
        for _ in 0..MOST_ROUNDS {
            let (off_v, slope) = drive(t);
            let next = t - off_v / slope;
            if !(low..=high).contains(&next) {
                break;
            }
            if (next - t).abs() <= INSTANT_S {
                return next;
            }
            t = next;
        }
        crossing(low, high, INSTANT_S, |t| drive(t).0)
    }
}
