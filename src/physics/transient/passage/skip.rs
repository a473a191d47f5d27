//! Over what repeats: the settled part of the on-time, a relay that chatters, a source that leaks.

use super::super::armature::Armature;
use super::super::linear::product;
use super::super::measure::{Measure, Window, count};
use super::super::run::{INSTANT_S, Piece, Run};
use super::super::settle::{Orbit, REPEATS, departure, halves, orbit};
use super::{CannotConclude, Passage};

/// Change over one period, of full scale, below which the periodic solution is looked for.
const NEARLY: f64 = 0.05;

/// Departure from the periodic solution, of full scale, below which it dies away linearly, to the
/// same fraction of what is left.
const LINEARLY: f64 = 0.05;

/// Difference of full scale, or of the travel, below which a chattering relay repeats itself.
const SAME: f64 = 1e-5;

/// What may be left of it, of full scale, to be trusted to that fraction.
const LEFT: f64 = 1e-3;

/// A state that repeats after so many half-periods, and what the relay does in between.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cycle {
    state: [f64; 2],
    armature: Armature,
    halves: f64,
    opens: u32,
    releases: u32,
    /// What meters show on it, if that is known already.
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
    /// Runs to `until`. With `skip`, jumps over what repeats as soon as it does; returns the cycle
    /// if the link is on one, in which case it stands at the last boundary before `until`.
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
        // The last boundary and the one before.
        let mut before: [Option<Boundary>; 2] = [None; 2];
        let mut known: Option<Orbit> = None;
        let mut patience = 0;
        while self.run.now < until - INSTANT_S {
            half += 1.0;
            let boundary = self.run.wave.start_of(half);
            self.stretch(boundary.min(until), on, show)?;
            // Where a period has two halves, its even boundaries.
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
                if let Some(cycle) = self.chatter_cycle(&here, &earlier, period) {
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
            let Some(orbit) = &known else { continue };
            if let Some(settled) = self.jump_along(orbit, periods, period) {
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
                // Close, but not there: the rest as it comes.
                self.plainly(until, on, show)?;
                return Ok(None);
            }
        }
        Ok(None)
    }

    fn boundary(&self) -> Boundary {
        Boundary {
            state: self.run.state,
            armature: self.run.armature,
            opens: self.log.opens,
            releases: self.log.releases,
        }
    }

    /// The cycle of a relay that acts again and again, once it repeats.
    fn chatter_cycle(
        &self,
        here: &Boundary,
        before: &[Option<Boundary>; 2],
        period: f64,
    ) -> Option<Cycle> {
        let mut halves = 0.0;
        for earlier in before {
            let earlier = (*earlier)?;
            halves += period;
            let (now, then) = (here.armature, earlier.armature);
            let same = now.driven == then.driven
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

    /// Jumps so many periods along what is left of the departure from the orbit, if that is small
    /// and cannot make the relay act; says whether nothing is left of it.
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
        let mut left = off;
        let mut power = orbit.decay;
        let mut n = count(periods);
        while n > 0 {
            if n & 1 == 1 {
                left = [0, 1].map(|k| power[k][0] * left[0] + power[k][1] * left[1]);
            }
            power = product(&power, &power);
            n >>= 1;
        }
        let state = [orbit.state[0] + left[0], orbit.state[1] + left[1]];
        let remains = departure(run, orbit.state, state);
        if remains > LEFT {
            return None;
        }
        let now = run.now + periods * period * run.wave.half_s;
        run.jump(now, state);
        Some(remains < REPEATS)
    }

    /// The window's figures from one cycle; then on to the last one that begins before switch-off.
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
