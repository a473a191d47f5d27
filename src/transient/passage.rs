//! On, settled, off: one whole transient.

use super::armature::{Armature, Happening};
use super::linear::product;
use super::measure::{Extremes, Measure, Sample, Window, count, sample};
use super::network::{Guess, Network};
use super::run::{INSTANT_S, Piece, Run};
use super::settle::{Orbit, REPEATS, TOLERANCE, departure, halves, orbit};
use super::{CannotConclude, Link, Source};

/// Seconds before switch-off over which the steady figures are taken.
const WINDOW_S: f64 = 0.1;

/// Change over one period, of full scale, below which the periodic solution is looked for.
const NEARLY: f64 = 0.05;

/// Departure from the periodic solution, of full scale, below which it dies away linearly, to the
/// same fraction of what is left.
const LINEARLY: f64 = 0.05;

/// Difference of full scale, or of the travel, below which a chattering relay repeats itself.
const SAME: f64 = 1e-5;

/// What may be left of it, of full scale, to be trusted to that fraction.
const LEFT: f64 = 1e-3;

/// What one switching on and off does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transient {
    /// The last tenth of a second before switch-off, in whole periods.
    pub window: Window,
    /// Greatest current out of the rectifier in the whole on-time [A].
    pub inrush_a: f64,
    /// First closing of the contact, after switch-on [s]; `None` if it never closes.
    pub pull_in_s: Option<f64>,
    /// First opening of the contact after switch-off, from there [s]; `None` if it never opens, or
    /// never closed.
    pub drop_out_s: Option<f64>,
    /// How often the contact opened while on.
    pub opens_while_on: u32,
    /// How often the armature was let go while on.
    pub releases_while_on: u32,
    /// The contact at the end.
    pub closed_at_end: bool,
    /// Voltage across the capacitor at the end [V].
    pub end_dc_v: f64,
    /// Coil current at the end [A].
    pub end_coil_a: f64,
}

impl Transient {
    /// The contact opened, or the armature was let go, at least once while on.
    pub fn chatters(&self) -> bool {
        self.opens_while_on > 0 || self.releases_while_on > 0
    }
}

/// Switches the link on and off once.
pub fn simulate(link: &Link) -> Result<Transient, CannotConclude> {
    Passage::new(link.checked()?).complete(true, &mut |_, _| Ok(()))
}

/// The same, and tells `show` what flows at each of the `instants` (rising, in seconds since
/// switch-on). Nothing is skipped.
pub fn record(
    link: &Link,
    instants: impl IntoIterator<Item = f64>,
    mut show: impl FnMut(Sample),
) -> Result<Transient, CannotConclude> {
    let mut instants = instants.into_iter().peekable();
    let mut guess = Guess::default();
    Passage::new(link.checked()?).complete(false, &mut |run, piece| {
        while let Some(at_s) = instants.next_if(|&at_s| at_s <= piece.end_s) {
            if at_s >= piece.start_s {
                show(sample(run, link.wire_ohm, piece, at_s, &mut guess)?);
            }
        }
        Ok(())
    })
}

/// A state that repeats after so many half-periods, and what the relay does in between.
#[derive(Debug, Clone, Copy)]
struct Cycle {
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

struct Passage<'a> {
    link: &'a Link,
    run: Run<'a>,
    off: Network,
    log: Log,
}

#[derive(Default)]
struct Log {
    inrush: Extremes,
    measure: Option<Measure>,
    pull_in_s: Option<f64>,
    drop_out_at_s: Option<f64>,
    opens: u32,
    releases: u32,
    /// Anything happened since this was cleared.
    stirred: bool,
}

impl Log {
    fn note(&mut self, happening: Happening, at_s: f64, on: bool) {
        self.stirred = true;
        match happening {
            Happening::Closed if self.pull_in_s.is_none() => self.pull_in_s = Some(at_s),
            Happening::Released if on => self.releases += 1,
            Happening::Opened if on => self.opens += 1,
            Happening::Opened if self.drop_out_at_s.is_none() => self.drop_out_at_s = Some(at_s),
            _ => {}
        }
    }
}

impl<'a> Passage<'a> {
    fn new(link: &'a Link) -> Self {
        let on = Network::new(link, link.feed(link.switch_on_ohm));
        Self {
            link,
            run: Run::new(&link.coil, on, link.wave(), TOLERANCE),
            off: Network::new(link, link.feed(link.switch_off_ohm)),
            log: Log::default(),
        }
    }

    fn complete<S>(mut self, skip: bool, show: &mut S) -> Result<Transient, CannotConclude>
    where
        S: FnMut(&Run<'_>, &Piece) -> Result<(), CannotConclude>,
    {
        let off_s = self.link.on_for_s;
        let window_s = (off_s - self.window_s()).max(0.0);
        let settled = self.go(window_s, true, skip, show)?;
        let window = if let Some(cycle) = settled {
            let window = self.measure_cycle(&cycle, off_s)?;
            self.plainly(off_s, true, show)?;
            window
        } else {
            self.log.measure = Some(Measure::new(self.link.wire_ohm));
            self.plainly(off_s, true, show)?;
            let measure = self.log.measure.take();
            measure.map(|measure| measure.window()).unwrap_or_default()
        };
        let inrush_a = self.log.inrush.most;
        self.run.switch_to(self.off.clone());
        let end_s = off_s + self.link.off_for_s;
        self.log.stirred = true;
        self.go(end_s, false, skip, show)?;
        self.plainly(end_s, false, show)?;
        let end = self.run.flow()?;
        let log = self.log;
        Ok(Transient {
            inrush_a: inrush_a.max(window.rectifier_peak_a),
            window,
            pull_in_s: log.pull_in_s.filter(|&s| s <= off_s),
            drop_out_s: log.drop_out_at_s.map(|s| s - off_s),
            opens_while_on: log.opens,
            releases_while_on: log.releases,
            closed_at_end: self.run.armature.closed,
            end_dc_v: end.node_v,
            end_coil_a: self.run.coil_a(),
        })
    }

    /// Length of the window: whole periods.
    fn window_s(&self) -> f64 {
        match self.link.source {
            Source::Ac { hz, .. } => (WINDOW_S * hz).round().max(1.0) / hz,
            Source::Dc { .. } => WINDOW_S,
        }
    }

    /// Runs to `until`. With `skip`, jumps over what repeats as soon as it does; returns the cycle
    /// if the link is on one, in which case it stands at the last boundary before `until`.
    fn go<S>(
        &mut self,
        until: f64,
        on: bool,
        skip: bool,
        show: &mut S,
    ) -> Result<Option<Cycle>, CannotConclude>
    where
        S: FnMut(&Run<'_>, &Piece) -> Result<(), CannotConclude>,
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

    /// Runs to `until` as it comes.
    fn plainly<S>(&mut self, until: f64, on: bool, show: &mut S) -> Result<(), CannotConclude>
    where
        S: FnMut(&Run<'_>, &Piece) -> Result<(), CannotConclude>,
    {
        let mut half = self.run.wave.half_at(self.run.now);
        while self.run.now < until - INSTANT_S {
            half += 1.0;
            let boundary = self.run.wave.start_of(half);
            self.stretch(boundary.min(until), on, show)?;
        }
        Ok(())
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
    fn measure_cycle(&mut self, cycle: &Cycle, off_s: f64) -> Result<Window, CannotConclude> {
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
                measure.add(run, &piece)?;
            }
        }
        self.log.inrush.break_off();
        run.now = start_s;
        self.skip_cycles(cycle, off_s);
        Ok(measure.window())
    }

    /// Runs to a boundary.
    fn stretch<S>(&mut self, until: f64, on: bool, show: &mut S) -> Result<(), CannotConclude>
    where
        S: FnMut(&Run<'_>, &Piece) -> Result<(), CannotConclude>,
    {
        while self.run.now < until {
            let (piece, happening) = self.run.advance(until)?;
            if let Some(happening) = happening {
                self.log.note(happening, self.run.now, on);
            }
            if on {
                self.log.inrush.look(piece.start_s, piece.start_flow.dc_a);
            }
            if let Some(measure) = &mut self.log.measure {
                measure.add(&self.run, &piece)?;
            }
            show(&self.run, &piece)?;
        }
        Ok(())
    }
}
