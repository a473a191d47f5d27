//! The world of a rehearsal: true time, the board's clocks, its lines and inputs, and the yard.
//!
//! ```text
//! true time ─┬─ + offset ─► the board's wall clock        levels ─► yard ─► lit ─ debounce ─► inputs
//!            └─ − start of the board ─► its boot clock       ▲
//!                                              the service's lines, its store: one effect each
//! ```

use std::cell::RefCell;
use std::rc::Rc;
use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};

use crate::chain::Yard;
use crate::daemon::lines::{Level, LineFault, Lines};
use crate::daemon::moment::{Evidence, Now, quality};
use crate::site::{Site, ZoneId};

use super::Chip;

/// What the service does to the world, one thing after the other, and when it dies at that.
#[derive(Debug, Default)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a fault of its own, and any may come with any"
)]
pub(super) struct Effects {
    /// It dies at the one that makes this zero.
    left: Option<u32>,
    /// That one is still made.
    after: bool,
    /// It is dead: nothing that it does has an effect.
    pub(super) dead: bool,
    /// The disk is full.
    pub(super) full: bool,
    /// The power fails in the middle of the next write, with this seed.
    pub(super) tears: Option<u64>,
    /// It failed in the middle of one.
    pub(super) torn: bool,
}

impl Effects {
    /// Has it die at the `effect`-th thing from now.
    pub(super) fn die_at(&mut self, effect: u32, after: bool) {
        self.left = Some(effect);
        self.after = after;
    }

    /// A service that has just started is alive.
    pub(super) fn revive(&mut self) {
        self.left = None;
        self.dead = false;
        self.torn = false;
    }

    /// Whether the next thing that it does is done.
    pub(super) fn next(&mut self) -> bool {
        if self.dead {
            return false;
        }
        if let Some(left) = &mut self.left {
            *left -= 1;
            if *left == 0 {
                self.left = None;
                self.dead = true;
                return self.after;
            }
        }
        true
    }

    /// What becomes of a write to the disk.
    pub(super) fn write(&mut self) -> Write {
        if !self.next() {
            Write::Lost
        } else if self.full {
            Write::Full
        } else {
            match self.tears.take() {
                Some(seed) => {
                    self.torn = true;
                    self.dead = true;
                    Write::Torn(seed)
                }
                None => Write::Made,
            }
        }
    }
}

/// What becomes of a write to the disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Write {
    Made,
    /// The service died before it, and nobody is left to notice.
    Lost,
    /// The disk is full.
    Full,
    /// The power fails while it is made: of its sectors some arrive, as this seed decides.
    Torn(u64),
}

/// An input, from the zone to the board.
#[derive(Debug, Clone)]
pub(super) struct Sense {
    pub(super) zone: ZoneId,
    /// What it says.
    pub(super) lit: bool,
    /// It turns then, unless the zone turns back before.
    turns: Option<Duration>,
    pub(super) stuck: Option<bool>,
    pub(super) cut: bool,
    pub(super) debounce: Duration,
}

/// A line that was toggled faster than it may be.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hasty {
    pub(super) zone: ZoneId,
    pub(super) at: Duration,
    pub(super) after: Duration,
    pub(super) lit: bool,
}

/// The world.
#[derive(Debug)]
pub(super) struct World {
    /// True time since the beginning.
    pub(super) now: Duration,
    /// When that is.
    pub(super) start: DateTime<Utc>,
    pub(super) yard: Yard,
    /// The board's wall clock is ahead of true time by this.
    pub(super) offset: TimeDelta,
    /// When the board was started.
    pub(super) booted: Duration,
    /// What its boot clock showed then.
    pub(super) uptime: Duration,
    pub(super) evidence: Evidence,
    pub(super) released: DateTime<Utc>,
    /// By zone: what its line is driven to.
    pub(super) levels: Vec<bool>,
    /// By zone: its line cannot be driven.
    pub(super) lost: Vec<bool>,
    pub(super) outputs: Vec<ZoneId>,
    /// By zone: it has a line.
    pub(super) wired: Vec<bool>,
    pub(super) senses: Vec<Sense>,
    /// By zone: where its input is among them.
    sense_of: Vec<Option<usize>>,
    pub(super) effects: Effects,
    /// By zone: when its line last went on or off.
    toggled: Vec<Option<Duration>>,
    minimums: Vec<(Duration, Duration)>,
    pub(super) hasty: Vec<Hasty>,
    chip: Chip,
}

impl World {
    pub(super) fn new(site: &Site, yard: Yard, start: DateTime<Utc>, chip: Chip) -> Self {
        let zones = site.zones.len();
        let seconds = Duration::from_secs_f64;
        let mut wired = vec![false; zones];
        for output in &site.outputs {
            wired[output.zone.0] = true;
        }
        let mut sense_of = vec![None; zones];
        for (index, input) in site.inputs.iter().enumerate() {
            sense_of[input.zone.0] = Some(index);
        }
        Self {
            now: Duration::ZERO,
            start,
            yard,
            offset: TimeDelta::zero(),
            booted: Duration::ZERO,
            uptime: Duration::from_secs(20),
            evidence: Evidence {
                set_from_network: true,
                kept_by_battery: true,
            },
            released: start - TimeDelta::days(30),
            levels: vec![false; zones],
            lost: vec![false; zones],
            outputs: site.outputs.iter().map(|output| output.zone).collect(),
            wired,
            sense_of,
            senses: site
                .inputs
                .iter()
                .map(|input| Sense {
                    zone: input.zone,
                    lit: false,
                    turns: None,
                    stuck: None,
                    cut: false,
                    debounce: seconds(input.debounce_s),
                })
                .collect(),
            effects: Effects::default(),
            toggled: vec![None; zones],
            minimums: site
                .zones
                .iter()
                .map(|zone| (seconds(zone.minimum_lit_s), seconds(zone.minimum_dark_s)))
                .collect(),
            hasty: Vec::new(),
            chip,
        }
    }

    /// True time.
    pub(super) fn utc(&self, at: Duration) -> DateTime<Utc> {
        self.start + TimeDelta::from_std(at).unwrap_or(TimeDelta::MAX)
    }

    /// What the board's wall clock shows at an instant, if nobody sets it till then.
    pub(super) fn wall(&self, at: Duration) -> DateTime<Utc> {
        self.utc(at) + self.offset
    }

    /// When the wall clock shows this; the beginning if that is over.
    pub(super) fn when(&self, wall: DateTime<Utc>) -> Duration {
        (wall - self.offset - self.start)
            .to_std()
            .unwrap_or_default()
    }

    /// What the boot clock shows.
    pub(super) fn boot(&self, at: Duration) -> Duration {
        at.saturating_sub(self.booted) + self.uptime
    }

    /// When the boot clock shows this.
    pub(super) fn when_boot(&self, boot: Duration) -> Duration {
        boot.saturating_sub(self.uptime).saturating_add(self.booted)
    }

    /// The moment as the service sees it.
    pub(super) fn moment(&self, newest: Option<DateTime<Utc>>) -> Now {
        let utc = self.wall(self.now);
        Now {
            utc,
            boot: self.boot(self.now),
            quality: quality(self.evidence, utc, self.released, newest),
        }
    }

    /// What an input says; `None` if the zone has none.
    pub(super) fn sensed(&self, zone: ZoneId) -> Option<bool> {
        self.sense_of[zone.0].map(|index| self.senses[index].lit)
    }

    /// A line cannot be driven.
    pub(super) fn has_lost(&self) -> bool {
        self.outputs.iter().any(|zone| self.lost[zone.0])
    }

    /// Inputs follow what the yard has become; gives back whether one has turned.
    pub(super) fn look(&mut self) -> bool {
        let mut turned = false;
        for sense in &mut self.senses {
            let lit = sense
                .stuck
                .unwrap_or_else(|| !sense.cut && self.yard.lit(sense.zone));
            if lit == sense.lit {
                sense.turns = None;
                continue;
            }
            let at = *sense.turns.get_or_insert(self.now + sense.debounce);
            if at <= self.now {
                sense.lit = lit;
                sense.turns = None;
                turned = true;
            }
        }
        turned
    }

    /// When the yard or an input next does something of itself.
    pub(super) fn next_at(&self) -> Option<Duration> {
        let turns = self.senses.iter().filter_map(|sense| sense.turns).min();
        self.yard.next_event_at().into_iter().chain(turns).min()
    }

    /// A line goes on or off, by whatever hand.
    pub(super) fn set_level(&mut self, zone: ZoneId, lit: bool) {
        if self.levels[zone.0] == lit {
            return;
        }
        self.levels[zone.0] = lit;
        self.toggled[zone.0] = Some(self.now);
        self.yard.switch(zone, lit, self.now);
    }

    /// No line is driven any more.
    pub(super) fn all_dark(&mut self) {
        for zone in self.outputs.clone() {
            self.set_level(zone, false);
        }
    }

    /// The service drives a line.
    fn driven(&mut self, zone: ZoneId, lit: bool) {
        if self.levels[zone.0] == lit {
            return;
        }
        let (lit_for, dark_for) = self.minimums[zone.0];
        let least = if lit { dark_for } else { lit_for };
        if let Some(after) = self.toggled[zone.0].map(|at| self.now.saturating_sub(at))
            && after < least
        {
            self.hasty.push(Hasty {
                zone,
                at: self.now,
                after,
                lit,
            });
        }
        self.set_level(zone, lit);
    }
}

/// The lines of the board, as the service has them.
#[derive(Debug)]
pub(super) struct SimLines(pub(super) Rc<RefCell<World>>);

impl Drop for SimLines {
    /// The service that held them is dead.
    fn drop(&mut self) {
        let mut world = self.0.borrow_mut();
        match world.chip {
            Chip::LetsGo => world.all_dark(),
            Chip::Keeps => {}
        }
    }
}

fn lost() -> LineFault {
    LineFault {
        what: "the chip is gone".into(),
        remedy: "look at its cable".into(),
    }
}

impl Lines for SimLines {
    fn drive(&mut self, levels: &[(ZoneId, bool)]) -> Vec<(ZoneId, LineFault)> {
        let mut world = self.0.borrow_mut();
        if !world.effects.next() {
            return Vec::new();
        }
        let mut faults = Vec::new();
        for &(zone, lit) in levels {
            if world.lost[zone.0] {
                faults.push((zone, lost()));
            } else {
                world.driven(zone, lit);
            }
        }
        faults
    }

    fn read_back(&mut self) -> Vec<(ZoneId, Level)> {
        let world = self.0.borrow();
        let level = |zone: ZoneId| {
            if world.lost[zone.0] {
                Err(lost())
            } else {
                Ok(world.levels[zone.0])
            }
        };
        world
            .outputs
            .iter()
            .map(|zone| (*zone, level(*zone)))
            .collect()
    }

    fn senses(&mut self) -> Vec<(ZoneId, Level)> {
        let world = self.0.borrow();
        let senses = world.senses.iter();
        senses.map(|sense| (sense.zone, Ok(sense.lit))).collect()
    }
}
