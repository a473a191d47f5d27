//! Skips what repeats: the settled part of the on-time, a relay that chatters, a source that leaks.

use super::super::armature::Armature;
use super::super::linear::{Matrix, product};
use super::super::measure::{Measure, Window, count};
use super::super::run::{INSTANT_S, Piece, Run};
use super::super::settle::{Grown, Orbit, REPEATS, departure, grow, halves, orbit};
use super::{CannotConclude, Passage};

/// Largest change over one period, of full scale, at which the search for a periodic solution starts.
const NEARLY: f64 = 0.05;

/// Largest departure from the periodic solution, of full scale, that decays linearly, to the same fraction of
/// what is left.
const LINEARLY: f64 = 0.05;

/// Largest difference, of full scale or of the travel, at which a chattering relay counts as repeating itself.
const SAME: f64 = 1e-5;

/// Largest remaining departure, of full scale, that may be trusted to that fraction.
const LEFT: f64 = 1e-3;

/// Length of a leap, of full scale: further, the diodes bend what a period does.
const FAR: f64 = 0.1;

/// Shortest leap worth its cost of two periods.
const LEAST_LEAP: f64 = 8.0;

/// Largest error of a leap's prediction, of full scale; far less remains after its correction.
const STRAIGHT: f64 = 1e-3;

/// Actions of a relay in one stretch after which it counts as going on like that.
const TIRING: u32 = 500;

/// A state that repeats after so many half-periods, and the relay's actions in between.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cycle {
    state: [f64; 2],
    armature: Armature,
    halves: f64,
    opens: u32,
    releases: u32,
    /// The meters' readings over it, if known already.
    window: Option<Window>,
}

/// The link at a boundary.
#[derive(Debug, Clone, Copy)]
struct Boundary {
    state: [f64; 2],
    armature: Armature,
    opens: u32,
    releases: u32,
}

impl Passage<'_> {
    /// Runs to `until`. With `skip`, jumps over what repeats as soon as it does; returns the cycle if the link
    /// is on one, and then stands at the last boundary before `until`.
    pub(super) fn go<S>(
        &mut self,
        until: f64,
        on: bool,
        skip: bool,
        show: &mut S,
    ) -> Result<Option<Cycle>, CannotConclude>
    where
        S: FnMut(&Run<'_>, &Piece),
    {
        if self.run.is_silent() {
            self.stretch(until, on, show)?;
            return Ok(None);
        }
        let period_halves = halves(&self.run);
        let period = f64::from(period_halves);
        let mut half = self.run.wave.half_at(self.run.now);
        // The last two boundaries.
        let mut before: [Option<Boundary>; 2] = [None; 2];
        let mut known: Option<Orbit> = None;
        let mut patience = 0;
        let actions = self.log.actions;
        while self.run.now < until - INSTANT_S {
            if skip && !on && self.coast(until, show)? {
                half = self.run.wave.half_at(self.run.now);
                before = [None; 2];
                continue;
            }
            half += 1.0;
            let boundary = self.run.wave.start_of(half);
            self.stretch(boundary.min(until), on, show)?;
            // Where a period has two halves, only even boundaries compare.
            let comparable = period_halves == 1 || half.rem_euclid(2.0) < 0.5;
            if !skip || boundary > until || !comparable {
                continue;
            }
            let here = self.boundary();
            let earlier = before;
            before = [Some(here), before[0]];
            let stirred = std::mem::take(&mut self.log.stirred);
            let periods =
                ((until - self.run.now) / (period * self.run.wave.half_s) + INSTANT_S).floor();
            if periods < 4.0 {
                continue;
            }
            if stirred || self.run.armature.rate(&self.link.coil) != 0.0 {
                known = None;
                let tired = self.log.actions - actions > TIRING;
                if let Some(cycle) = self.chatter_cycle(&here, &earlier, period, tired) {
                    self.skip_cycles(&cycle, until);
                    return Ok(Some(cycle));
                }
                continue;
            }
            let Some(last) = earlier[0] else { continue };
            if known.is_none() && departure(&self.run, last.state, here.state) < NEARLY {
                if patience > 0 {
                    patience -= 1;
                    continue;
                }
                known = orbit(&self.run, on.then_some(self.link.wire_ohm))?;
                patience = 8;
            }
            let settled = known
                .as_ref()
                .and_then(|orbit| Some((orbit, self.jump_along(orbit, periods, period)?)));
            let by = departure(&self.run, last.state, here.state);
            if settled.is_none() && by * LEAST_LEAP < FAR && self.leap(FAR / by, periods, period)? {
                half = self.run.wave.half_at(self.run.now);
                before = [None; 2];
            }
            if let Some((orbit, settled)) = settled {
                if settled {
                    return Ok(Some(Cycle {
                        state: orbit.state,
                        armature: self.run.armature,
                        halves: period,
                        opens: 0,
                        releases: 0,
                        window: on.then_some(orbit.window),
                    }));
                }
                // Close, but not there yet: the rest runs without skipping.
                self.plainly(until, on, show)?;
                return Ok(None);
            }
        }
        Ok(None)
    }

    /// Runs on in one piece while the source is too low to drive anything; true if it did.
    fn coast<S>(&mut self, until: f64, show: &mut S) -> Result<bool, CannotConclude>
    where
        S: FnMut(&Run<'_>, &Piece),
    {
        let node_v = self.run.flow().node_v;
        let network = &self.run.network;
        let coasts = self.run.armature.rate(&self.link.coil) == 0.0
            && network.pair.is_some()
            && network.drive_v(network.feed.peak_v, node_v) < 0.0;
        if coasts {
            let now = self.run.now;
            self.step_on(until, false, show)?;
            return Ok(self.run.now > now);
        }
        Ok(false)
    }

    /// Leaps over as many periods as change the link by no more than [`FAR`], or fewer, extrapolating from the
    /// effect of one period here and there; true if it did.
    ///
    /// ```text
    ///   x_n = x + (1 + M + … + Mⁿ⁻¹)·d + n·m/3      d = P(x) − x,  m = d_n − Mⁿ·d
    /// ```
    ///
    /// m is the error of the straight prediction in the last period; it grows with the square of the distance,
    /// hence the third.
    fn leap(&mut self, most: f64, left: f64, period: f64) -> Result<bool, CannotConclude> {
        let period_s = period * self.run.wave.half_s;
        let Some((here, d)) = self.period_from(self.run.now, self.run.state, period_s)? else {
            return Ok(false);
        };
        let mut n = count(most.min(left - 1.0));
        while f64::from(n) >= LEAST_LEAP {
            let (sum, power) = geometric(&here.decay, n);
            let by = apply(&sum, d);
            let x = self.run.state;
            let straight = [x[0] + by[0], x[1] + by[1]];
            let at_s = self.run.now + f64::from(n) * period_s;
            let far = departure(&self.run, x, straight) > 2.0 * FAR;
            if !far && let Some((there, now_d)) = self.period_from(at_s, straight, period_s)? {
                let expected = apply(&power, d);
                let missed = [0, 1].map(|k| f64::from(n) * (now_d[k] - expected[k]) / 3.0);
                let end = [straight[0] + missed[0], straight[1] + missed[1]];
                if departure(&self.run, straight, end) < STRAIGHT
                    && self.is_content(&[here.coil_a, there.coil_a])
                {
                    self.run.jump(at_s, end);
                    return Ok(true);
                }
            }
            n /= 2;
        }
        Ok(false)
    }

    /// What a period does to this state, and to one nearby; `None` if the relay acts in it.
    fn period_from(
        &self,
        now: f64,
        state: [f64; 2],
        period_s: f64,
    ) -> Result<Option<(Grown, [f64; 2])>, CannotConclude> {
        let mut run = self.run.clone();
        run.jump(now, state);
        let grown = grow(&mut run, now + period_s, None, None)?;
        Ok(grown.map(|grown| (grown, [run.state[0] - state[0], run.state[1] - state[1]])))
    }

    /// Whether these coil currents leave the relay as it is, with a reserve.
    fn is_content(&self, ranges: &[(f64, f64)]) -> bool {
        let coil = &self.link.coil;
        ranges.iter().all(|&(least, most)| {
            let in_hand_a = most - least;
            if self.run.armature.driven {
                least - in_hand_a > coil.release_a
            } else {
                most + in_hand_a < coil.operate_a
            }
        })
    }

    fn boundary(&self) -> Boundary {
        Boundary {
            state: self.run.state,
            armature: self.run.armature,
            opens: self.log.opens,
            releases: self.log.releases,
        }
    }

    /// The cycle of a relay that acts repeatedly, once it repeats or is `tired`.
    fn chatter_cycle(
        &self,
        here: &Boundary,
        before: &[Option<Boundary>; 2],
        period: f64,
        tired: bool,
    ) -> Option<Cycle> {
        let mut halves = 0.0;
        for earlier in before {
            let earlier = (*earlier)?;
            halves += period;
            let (now, then) = (here.armature, earlier.armature);
            let same = tired
                || now.driven == then.driven
                    && now.closed == then.closed
                    && (now.position - then.position).abs() < SAME
                    && departure(&self.run, earlier.state, here.state) < SAME;
            if same {
                return Some(Cycle {
                    state: here.state,
                    armature: now,
                    halves,
                    opens: here.opens - earlier.opens,
                    releases: here.releases - earlier.releases,
                    window: None,
                });
            }
        }
        None
    }

    /// Jumps to the last beginning of a cycle before `until`.
    fn skip_cycles(&mut self, cycle: &Cycle, until: f64) {
        let cycle_s = cycle.halves * self.run.wave.half_s;
        let cycles = ((until - self.run.now) / cycle_s + INSTANT_S).floor();
        self.log.opens += cycle.opens * count(cycles);
        self.log.releases += cycle.releases * count(cycles);
        self.run.armature = cycle.armature;
        self.run.jump(self.run.now + cycles * cycle_s, cycle.state);
    }

    /// Jumps so many periods along the decaying departure from the orbit, if that is small and cannot make the
    /// relay act; returns whether nothing is left of it.
    fn jump_along(&mut self, orbit: &Orbit, periods: f64, period: f64) -> Option<bool> {
        let run = &mut self.run;
        let off = [run.state[0] - orbit.state[0], run.state[1] - orbit.state[1]];
        if departure(run, orbit.state, run.state) > LINEARLY {
            return None;
        }
        let coil = &self.link.coil;
        let reach_a = off[1].abs() / run.inductance_h() + off[0].abs() / coil.ohm;
        let (least, most) = orbit.coil_a;
        let safe = if run.armature.driven {
            least - reach_a > coil.release_a
        } else {
            most + reach_a < coil.operate_a
        };
        if !safe {
            return None;
        }
        let (_, power) = geometric(&orbit.decay, count(periods));
        let left = apply(&power, off);
        let state = [orbit.state[0] + left[0], orbit.state[1] + left[1]];
        let remains = departure(run, orbit.state, state);
        if remains > LEFT {
            return None;
        }
        let now = run.now + periods * period * run.wave.half_s;
        run.jump(now, state);
        Some(remains < REPEATS)
    }

    /// Takes the window's figures from one cycle, then goes to the last cycle that begins before switch-off.
    pub(super) fn measure_cycle(
        &mut self,
        cycle: &Cycle,
        off_s: f64,
    ) -> Result<Window, CannotConclude> {
        if let Some(window) = cycle.window {
            self.log.inrush.break_off();
            self.skip_cycles(cycle, off_s);
            return Ok(window);
        }
        let run = &mut self.run;
        let start_s = run.now;
        run.jump(start_s, cycle.state);
        let first = run.wave.half_at(start_s);
        let mut measure = Measure::new(self.link.wire_ohm);
        for half in 1..=count(cycle.halves) {
            let boundary = run.wave.start_of(first + f64::from(half));
            while run.now < boundary - INSTANT_S {
                let (piece, _) = run.advance(boundary)?;
                measure.add(run, &piece);
            }
        }
        self.log.inrush.break_off();
        run.now = start_s;
        self.skip_cycles(cycle, off_s);
        Ok(measure.window())
    }
}

/// `by`·x.
fn apply(by: &Matrix, x: [f64; 2]) -> [f64; 2] {
    [0, 1].map(|k| by[k][0] * x[0] + by[k][1] * x[1])
}

/// 1 + M + … + Mⁿ⁻¹, and Mⁿ.
fn geometric(m: &Matrix, mut n: u32) -> (Matrix, Matrix) {
    let plus = |a: &Matrix, b: &Matrix| [0, 1].map(|k| [0, 1].map(|l| a[k][l] + b[k][l]));
    let (mut sum, mut power) = ([[0.0; 2]; 2], [[1.0, 0.0], [0.0, 1.0]]);
    // The values for as many periods as the next bit of n stands for.
    let (mut sum_of, mut power_of) = (power, *m);
    while n > 0 {
        if n & 1 == 1 {
            sum = plus(&sum, &product(&power, &sum_of));
            power = product(&power, &power_of);
        }
        sum_of = plus(&sum_of, &product(&power_of, &sum_of));
        power_of = product(&power_of, &power_of);
        n >>= 1;
    }
    (sum, power)
}
