//! One whole transient: on, settled, off.

use super::armature::Happening;
use super::measure::{Extremes, Measure, Sample, Window, sample};
use super::network::{Guess, Network};
use super::run::{INSTANT_S, Piece, Run};
use super::settle::TOLERANCE;
use super::{CannotConclude, Link, Source};

mod skip;

/// Seconds before switch-off over which the steady figures are taken.
const WINDOW_S: f64 = 0.1;

/// How often an armature may start and fall back while the capacitor charges for the first time.
const FALSE_STARTS: u32 = 2;

/// The result of switching on and off once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transient {
    /// The last tenth of a second before switch-off, in whole periods.
    pub window: Window,
    /// Peak current out of the rectifier during the whole on-time [A].
    pub inrush_a: f64,
    /// From switch-on to the first closing of the contact [s]; `None` if it never closes.
    pub pull_in_s: Option<f64>,
    /// From switch-off to the first opening of the contact after it [s]; `None` if it never opens, or never
    /// closed.
    pub drop_out_s: Option<f64>,
    /// How often the contact opened while on.
    pub opens_while_on: u32,
    /// How often the armature fell back while on.
    pub releases_while_on: u32,
    /// The contact at the end.
    pub closed_at_end: bool,
    /// Voltage across the capacitor at the end [V].
    pub end_dc_v: f64,
    /// Coil current at the end [A].
    pub end_coil_a: f64,
}

impl Transient {
    /// The relay lets go repeatedly while on: the contact opened, or the armature fell back more often than the
    /// first charge of the capacitor explains.
    pub fn keeps_letting_go(&self) -> bool {
        self.opens_while_on > 0 || self.releases_while_on > FALSE_STARTS
    }

    /// The contact opened, or the armature fell back, at least once while on.
    pub fn chatters(&self) -> bool {
        self.opens_while_on > 0 || self.releases_while_on > 0
    }
}

/// Switches the link on and off once.
pub fn simulate(link: &Link) -> Result<Transient, CannotConclude> {
    Passage::new(link.checked()?).complete(true, &mut |_, _| {})
}

/// The same, and calls `show` with the sample at each of the `instants` (in rising order, in seconds since
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
                show(sample(run, link.wire_ohm, piece, at_s, &mut guess));
            }
        }
    })
}

/// Time constants of coil and capacitor in which a link settles.
const SETTLES: f64 = 12.0;

/// The figures of a link whose `run` stands somewhere with the switch on, once it has settled.
pub(super) fn settled(link: &Link, run: Run<'_>) -> Result<Window, CannotConclude> {
    let coil = run.coil;
    let farad = link.capacitor.map_or(0.0, |capacitor| capacitor.farad);
    let slowest_s = (coil.ohm + link.series_ohm) * farad + coil.closed_h / coil.ohm;
    let mut passage = Passage {
        link,
        off: run.network.clone(),
        run,
        log: Log::default(),
    };
    let window_s = passage.window_s();
    let end_s = window_s * (1.0 + (SETTLES * slowest_s / window_s).ceil());
    if let Some(cycle) = passage.go(end_s, true, true, &mut |_, _| {})? {
        return passage.measure_cycle(&cycle, end_s);
    }
    passage.log.measure = Some(Measure::new(link.wire_ohm));
    passage.plainly(end_s + window_s, true, &mut |_, _| {})?;
    Ok(passage
        .log
        .measure
        .map(|measure| measure.window())
        .unwrap_or_default())
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
    /// How often the relay has acted.
    actions: u32,
    /// Whether anything happened since this was cleared.
    stirred: bool,
}

impl Log {
    fn note(&mut self, happening: Happening, at_s: f64, on: bool) {
        self.stirred = true;
        self.actions += 1;
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
        S: FnMut(&Run<'_>, &Piece),
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
        let end = self.run.flow();
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

    /// Runs to `until` without skipping.
    fn plainly<S>(&mut self, until: f64, on: bool, show: &mut S) -> Result<(), CannotConclude>
    where
        S: FnMut(&Run<'_>, &Piece),
    {
        let mut half = self.run.wave.half_at(self.run.now);
        while self.run.now < until - INSTANT_S {
            half += 1.0;
            let boundary = self.run.wave.start_of(half);
            self.stretch(boundary.min(until), on, show)?;
        }
        Ok(())
    }

    /// Runs to a boundary.
    fn stretch<S>(&mut self, until: f64, on: bool, show: &mut S) -> Result<(), CannotConclude>
    where
        S: FnMut(&Run<'_>, &Piece),
    {
        while self.run.now < until {
            self.step_on(until, on, show)?;
        }
        Ok(())
    }

    /// Runs one piece, not beyond `until`.
    fn step_on<S>(&mut self, until: f64, on: bool, show: &mut S) -> Result<(), CannotConclude>
    where
        S: FnMut(&Run<'_>, &Piece),
    {
        let (piece, happening) = self.run.advance(until)?;
        if let Some(happening) = happening {
            self.log.note(happening, self.run.now, on);
        }
        if on {
            self.log.inrush.look(piece.start_s, piece.start_flow.dc_a);
        }
        if let Some(measure) = &mut self.log.measure {
            measure.add(&self.run, &piece);
        }
        show(&self.run, &piece);
        Ok(())
    }
}
