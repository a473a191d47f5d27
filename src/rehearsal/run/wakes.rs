//! When the service is woken.

use std::time::Duration;

use crate::daemon::moment::Again;
use crate::rehearsal::Ticks;
use crate::rehearsal::dice::Dice;
use crate::rehearsal::world::World;

/// The safety tick.
const TICK: Duration = Duration::from_secs(60);

/// Where nothing has happened for long, one tick of so many is tried in a campaign.
const QUIET_TICKS: u32 = 10;

/// So long after something happened nothing is called quiet.
const BUSY: Duration = Duration::from_secs(180);

/// A timer that is due already runs out a little later.
pub(super) const A_LITTLE: Duration = Duration::from_micros(50);

#[derive(Debug)]
pub(super) struct Wakes {
    ticks: Ticks,
    pub(super) count: u64,
    pub(super) again: Again,
    pub(super) last_tick: Duration,
    pub(super) last_busy: Duration,
    /// Something was to wake the service at this very instant.
    pub(super) edge: bool,
    /// Faults in force that keep all but ticks from it.
    pub(super) missed: u32,
    /// Faults in force that wake it for nothing.
    pub(super) spurious: u32,
    /// From one of those wakes to the next.
    pub(super) spread: Duration,
    pub(super) dice: Dice,
}

impl Wakes {
    pub(super) fn new(ticks: Ticks, seed: u64) -> Self {
        Self {
            ticks,
            count: 0,
            again: Again::default(),
            last_tick: Duration::ZERO,
            last_busy: Duration::ZERO,
            edge: false,
            missed: 0,
            spurious: 0,
            spread: Duration::ZERO,
            dice: Dice::new(seed, 0),
        }
    }

    pub(super) fn tick_at(&self, world: &World) -> Duration {
        let quiet = self.ticks == Ticks::Sparse
            && self.last_tick.saturating_sub(self.last_busy) > BUSY
            && self.missed == 0
            && !world.has_lost();
        self.last_tick + if quiet { TICK * QUIET_TICKS } else { TICK }
    }

    /// When the service wants to be woken.
    pub(super) fn due(&self, world: &World) -> Option<Duration> {
        let utc = self.again.utc.map(|utc| world.when(utc));
        let boot = self.again.boot.map(|boot| world.when_boot(boot));
        let due = utc.into_iter().chain(boot).min()?;
        Some(due.max(world.now + A_LITTLE))
    }

    /// The soonest of all that wakes a service that runs.
    pub(super) fn next_at(&self, world: &World) -> Duration {
        let due = self.due(world).filter(|_| self.missed == 0);
        let spurious = (self.spurious > 0).then_some(world.now + self.spread);
        let others = due.into_iter().chain(spurious);
        others.fold(self.tick_at(world), Duration::min)
    }

    /// From half a second to seven and a half till the next wake for nothing.
    pub(super) fn next_spurious(&mut self) {
        self.spread = Duration::from_millis(500 + self.dice.of(7_000) as u64);
    }
}
