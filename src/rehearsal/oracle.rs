//! What every line and every zone should be, worked out without the controller: from the season's plan,
//! the holds that were acknowledged, and what is broken.
//!
//! The controller looks from one wake to the next; this looks from outside, at any instant, and knows
//! the true time. They share the plan, the site and the quality of the clock, and nothing else: what they
//! shared could hide a mistake of either. Where nothing happened between two looks, the instant since when a
//! line is not as it should be is found by bisection.

use std::cell::RefCell;
use std::collections::HashMap;
use std::ops::Range;
use std::time::Duration;

use chrono::{DateTime, Days, NaiveDate, Utc};

use crate::daemon::moment::ClockQuality;
use crate::link::FollowingByMonth;
use crate::link::{LinkJudgement, Outcome};
use crate::schedule::{Evening, plan};
use crate::site::{IfSilent, OnDoubtfulClock, Sensing, Site, Switching, ZoneId};

use super::world::World;

/// What a zone should be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Want {
    Lit,
    Dark,
    /// Nobody can know, or it does not matter.
    Either,
}

impl Want {
    pub(super) fn of(lit: bool) -> Self {
        if lit { Self::Lit } else { Self::Dark }
    }

    pub(super) fn allows(self, lit: bool) -> bool {
        self == Self::Either || self == Self::of(lit)
    }
}

/// A hold that the owner was told of.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Owed {
    pub(super) lit: bool,
    /// How long it was asked for.
    pub(super) span: Duration,
    /// It is owed until then, by true time.
    pub(super) until: Duration,
    /// It must be over by then.
    pub(super) latest: Duration,
    /// It ends when the wall clock shows this.
    pub(super) by_clock: Option<DateTime<Utc>>,
    /// The board was started anew since, and the clock not good yet: by the clock it ends then.
    pub(super) orphan: Option<DateTime<Utc>>,
    /// The owner was told that it is on the disk.
    pub(super) kept: bool,
    /// Whether it is in force: a service that died may not have kept it, or may have, unacknowledged.
    pub(super) sure: bool,
}

/// How the service is, as far as the oracle must know.
#[derive(Debug, Clone, Copy)]
pub(super) struct Life {
    /// It runs.
    pub(super) alive: bool,
    /// It does not answer, and nobody has ended it yet.
    pub(super) hung: bool,
    /// It was started then.
    pub(super) since: Duration,
    /// The quality of its clock.
    pub(super) quality: ClockQuality,
}

/// What is remembered of an input since the service started.
#[derive(Debug, Clone, Copy)]
pub(super) struct Heard {
    pub(super) lit: bool,
    pub(super) since: Duration,
    /// It was so when the service started.
    pub(super) from_start: bool,
}

/// When a zone is lit by the plan.
type Stretches = Vec<Range<DateTime<Utc>>>;

/// What is remembered between two looks.
#[derive(Debug)]
pub(super) struct Oracle<'a> {
    site: &'a Site,
    following: &'a [FollowingByMonth],
    judged: &'a [LinkJudgement],
    /// The plan, by zone.
    plan: Vec<Stretches>,
    covers: Range<DateTime<Utc>>,
    /// Plans of days far away, where a wrong clock leads.
    far: RefCell<HashMap<NaiveDate, Vec<Stretches>>>,
    /// The stretch of the plan that was last asked for, by zone.
    near: RefCell<Vec<(Range<DateTime<Utc>>, bool)>>,
    pub(super) owed: Vec<Option<Owed>>,
    /// By zone: a hold may come back after a death until then.
    pub(super) ghosts: Vec<Duration>,
    /// By zone: a hold that was let go, which the disk did not take, may last till then after a death.
    pub(super) unreleased: Vec<Duration>,
    /// By zone: what its input says.
    pub(super) heard: Vec<Option<Heard>>,
    /// By zone that follows an input: what it was before the input turned.
    settled: Vec<bool>,
    /// By zone: what it should have been when the clock was last good.
    last: Vec<Want>,
    /// By zone: till then that may not be on the disk.
    loose: Vec<Duration>,
}

/// What changes without a line being switched is on the disk after this.
const KEPT_WITHIN: Duration = Duration::from_secs(3660);

/// Lit stretches of a range of evenings, by zone; touching ones are one.
fn stretches(
    site: &Site,
    following: &[FollowingByMonth],
    first: NaiveDate,
    last: NaiveDate,
) -> Option<Vec<Stretches>> {
    let rows = plan(site, first..=last, following).ok()?.rows;
    let mut lit = vec![Stretches::new(); site.zones.len()];
    for row in rows {
        let Some((on, off)) = row.on.zip(row.lit_until(site)) else {
            continue;
        };
        let zone: &mut Stretches = &mut lit[row.zone.0];
        match zone.last_mut() {
            Some(before) if before.end >= on => before.end = before.end.max(off),
            _ => zone.push(on..off),
        }
    }
    Some(lit)
}

impl<'a> Oracle<'a> {
    pub(super) fn new(
        site: &'a Site,
        judged: &'a [LinkJudgement],
        following: &'a [FollowingByMonth],
        evenings: Range<NaiveDate>,
    ) -> Self {
        let first = evenings.start - Days::new(2);
        let last = evenings.end + Days::new(2);
        let zones = site.zones.len();
        let nothing = DateTime::<Utc>::MIN_UTC..DateTime::<Utc>::MIN_UTC;
        Self {
            site,
            following,
            judged,
            plan: stretches(site, following, first, last)
                .unwrap_or_else(|| vec![Vec::new(); zones]),
            covers: Evening::of(site, first + Days::new(1)).begins..Evening::of(site, last).begins,
            far: RefCell::default(),
            near: RefCell::new(vec![(nothing, false); zones]),
            owed: vec![None; zones],
            ghosts: vec![Duration::ZERO; zones],
            unreleased: vec![Duration::ZERO; zones],
            heard: vec![None; zones],
            settled: vec![false; zones],
            last: vec![Want::Either; zones],
            loose: vec![Duration::ZERO; zones],
        }
    }

    /// The stretch of the plan around a time, and whether it is lit; `None` outside the almanac.
    pub(super) fn planned(
        &self,
        zone: ZoneId,
        wall: DateTime<Utc>,
    ) -> Option<(Range<DateTime<Utc>>, bool)> {
        if let (range, lit) = &self.near.borrow()[zone.0]
            && range.contains(&wall)
        {
            return Some((range.clone(), *lit));
        }
        let found = if self.covers.contains(&wall) {
            around(&self.plan[zone.0], wall, &self.covers)
        } else {
            let evening = Evening::at(self.site, wall);
            let mut far = self.far.borrow_mut();
            if far.len() > 64 {
                far.clear();
            }
            let covers = evening.begins..evening.ends;
            let plans = far.entry(evening.date).or_insert_with(|| {
                let first = evening.date - Days::new(1);
                let last = evening.date + Days::new(2);
                stretches(self.site, self.following, first, last).unwrap_or_default()
            });
            around(plans.get(zone.0)?, wall, &covers)
        };
        self.near.borrow_mut()[zone.0] = found.clone();
        Some(found)
    }

    /// The plan, by zone.
    pub(super) fn plans(&self) -> impl Iterator<Item = (ZoneId, &Stretches)> {
        self.plan
            .iter()
            .enumerate()
            .map(|(index, lit)| (ZoneId(index), lit))
    }

    /// When its plan next switches a zone.
    pub(super) fn next_switching(
        &self,
        zone: ZoneId,
        wall: DateTime<Utc>,
    ) -> Option<DateTime<Utc>> {
        self.planned(zone, wall).map(|(range, _)| range.end)
    }

    /// Whether its plan decides, or what stands in for it.
    fn in_doubt(&self, zone: ZoneId, quality: ClockQuality) -> Option<Want> {
        let policy = self.site.daemon.on_doubtful_clock;
        match (quality, policy) {
            (ClockQuality::Good, _) | (ClockQuality::Doubtful, OnDoubtfulClock::Schedule) => None,
            (_, OnDoubtfulClock::Last) => Some(self.last[zone.0]),
            _ => Some(Want::Dark),
        }
    }

    /// What a line should be at an instant up to which nothing happens.
    pub(super) fn line(&self, zone: ZoneId, at: Duration, world: &World, life: Life) -> Want {
        if !life.alive || world.lost[zone.0] {
            return Want::Dark;
        }
        if life.hung {
            return Want::Either;
        }
        if let Some(owed) = &self.owed[zone.0]
            && let Some(want) = held(owed, at, world)
        {
            return want;
        }
        if at < self.ghosts[zone.0] {
            return Want::Either;
        }
        self.unheld(zone, at, world, life)
    }

    /// What a line should be that is not held.
    fn unheld(&self, zone: ZoneId, at: Duration, world: &World, life: Life) -> Want {
        let wall = world.wall(at);
        match self.site[zone].switching {
            Switching::Timed(_) => self
                .in_doubt(zone, life.quality)
                .unwrap_or_else(|| Want::of(self.planned(zone, wall).is_some_and(|(_, lit)| lit))),
            Switching::Follows(_) => self.curfew(zone, wall, life).unwrap_or(Want::Lit),
            Switching::Senses(sensing) => self
                .curfew(zone, wall, life)
                .unwrap_or_else(|| Want::of(self.follows_input(zone, sensing, at, world, life).0)),
        }
    }

    /// Dark by curfew, or because nobody knows whether it is.
    fn curfew(&self, zone: ZoneId, wall: DateTime<Utc>, life: Life) -> Option<Want> {
        let time = self.site[zone].curfew?;
        match self.in_doubt(zone, life.quality) {
            Some(Want::Lit) => None,
            Some(other) => Some(other),
            None => {
                let evening = Evening::at(self.site, wall);
                (wall >= evening.clock(self.site, time)).then_some(Want::Dark)
            }
        }
    }

    /// What a zone does that follows an input, and whether by its master's plan.
    fn follows_input(
        &self,
        zone: ZoneId,
        sensing: Sensing,
        at: Duration,
        world: &World,
        life: Life,
    ) -> (bool, bool) {
        let heard = self.heard[sensing.master.0].unwrap_or(Heard {
            lit: false,
            since: life.since,
            from_start: true,
        });
        let for_so_long = at.saturating_sub(heard.since).as_secs_f64();
        let delay_s = if heard.lit {
            sensing.on_delay_s
        } else {
            sensing.off_delay_s
        };
        let lit = if for_so_long >= delay_s {
            heard.lit
        } else {
            self.settled[zone.0]
        };
        let clock_counts = match life.quality {
            ClockQuality::Good => true,
            ClockQuality::Doubtful => {
                self.site.daemon.on_doubtful_clock == OnDoubtfulClock::Schedule
            }
            ClockQuality::Impossible => false,
        };
        if heard.lit || sensing.if_silent == IfSilent::Dark || !clock_counts {
            return (lit, false);
        }
        let wall = world.wall(at);
        let Some((window, true)) = self.planned(sensing.master, wall) else {
            return (lit, false);
        };
        let went_dark = world.wall(heard.since);
        if !heard.from_start && went_dark > window.start {
            return (lit, false);
        }
        let silent_since = went_dark.max(window.start);
        let silent_s = (wall - silent_since).as_seconds_f64();
        if silent_s >= sensing.silent_after_s {
            return (true, true);
        }
        (lit, false)
    }

    /// What a zone should be whose supply and link, and those before it, are whole.
    pub(super) fn lamps(&self, zone: ZoneId, at: Duration, world: &World, life: Life) -> Want {
        let own = if world.wired[zone.0] {
            self.line(zone, at, world, life)
        } else {
            Want::Lit
        };
        match self.site[zone].switching {
            Switching::Follows(link) => {
                let master = self.site[link].master;
                match (self.lamps(master, at, world, life), own) {
                    (Want::Dark, _) | (_, Want::Dark) => Want::Dark,
                    (Want::Either, _) | (_, Want::Either) => Want::Either,
                    // A link that is no good is no fault of the board's.
                    _ if self.judged[link.0].ordinary().outcome() != Outcome::Follows => {
                        Want::Either
                    }
                    _ => Want::Lit,
                }
            }
            _ if world.wired[zone.0] => own,
            // Switched by a timer of its own.
            _ => {
                let planned = self.planned(zone, world.utc(at));
                Want::of(planned.is_some_and(|(_, lit)| lit))
            }
        }
    }

    /// How long a zone may take after its line, or its master's [s].
    pub(super) fn link_s(&self, zone: ZoneId) -> f64 {
        let Switching::Follows(link) = self.site[zone].switching else {
            return 0.0;
        };
        let supply = &self.site[self.site[zone].supply];
        let times = &self.judged[link.0].times;
        let relay_s = times
            .pull_in
            .map_or(0.0, |band| band.most_s + times.bounce_s)
            .max(times.drop_out.map_or(0.0, |band| band.most_s));
        relay_s + supply.start_s.max(supply.hold_up_s) + self.link_s(self.site[link].master)
    }

    /// Remembers what has become of inputs, delays and holds.
    pub(super) fn remember(&mut self, world: &World, life: Life) {
        let at = world.now;
        let full = world.effects.full;
        for sense in world.senses.iter().filter(|_| life.alive) {
            let heard = &mut self.heard[sense.zone.0];
            match heard {
                Some(before) if before.lit == sense.lit => {}
                Some(_) => {
                    *heard = Some(Heard {
                        lit: sense.lit,
                        since: at,
                        from_start: false,
                    });
                }
                None => {
                    *heard = Some(Heard {
                        lit: sense.lit,
                        since: life.since,
                        from_start: true,
                    });
                }
            }
        }
        for index in 0..self.owed.len() {
            if let Some(owed) = &mut self.owed[index] {
                if let Some(wall_end) = owed.orphan
                    && life.alive
                    && life.quality == ClockQuality::Good
                {
                    let left = (wall_end - world.wall(at)).to_std().unwrap_or_default();
                    let by_clock = at + left.min(owed.span);
                    owed.orphan = None;
                    (owed.until, owed.latest) = (
                        owed.until.min(by_clock),
                        owed.latest.max(by_clock).min(at + owed.span),
                    );
                }
                // Without a service nobody lets go of anything.
                let over = life.alive && held(owed, at, world).is_none();
                if over {
                    self.owed[index] = None;
                }
            }
        }
        if !life.alive || life.hung {
            return;
        }
        for zone in (0..self.site.zones.len()).map(ZoneId) {
            if let Switching::Senses(sensing) = self.site[zone].switching {
                let (lit, _) = self.follows_input(zone, sensing, at, world, life);
                self.settled[zone.0] = lit;
            }
            if life.quality == ClockQuality::Good && world.wired[zone.0] {
                let want = self.unheld(zone, at, world, life);
                let held = self.owed[zone.0].is_some() || at < self.ghosts[zone.0];
                if want != self.last[zone.0] && (held || full) {
                    self.loose[zone.0] = at + KEPT_WITHIN;
                }
                self.last[zone.0] = want;
            }
        }
    }

    /// The service has died. What it said is on the disk; the rest may be.
    pub(super) fn died(&mut self, world: &World, life: Life, board: bool) {
        for zone in (0..self.site.zones.len()).map(ZoneId) {
            let changing = life.quality == ClockQuality::Good
                && self.unheld(zone, world.now, world, life) != self.last[zone.0];
            if changing {
                self.last[zone.0] = Want::Either;
            }
        }
        self.heard.fill(None);
        self.settled.fill(false);
        let full = world.effects.full;
        for (last, loose) in self.last.iter_mut().zip(&self.loose) {
            if full || world.now < *loose {
                *last = Want::Either;
            }
        }
        for (ghost, unreleased) in self.ghosts.iter_mut().zip(&mut self.unreleased) {
            *ghost = (*ghost).max(std::mem::take(unreleased));
        }
        for owed in self.owed.iter_mut().flatten() {
            owed.sure &= owed.kept;
            if board && owed.orphan.is_none() {
                owed.orphan = Some(owed.by_clock.unwrap_or_else(|| world.wall(owed.until)));
            }
        }
    }
}

fn around(
    lit: &Stretches,
    wall: DateTime<Utc>,
    covers: &Range<DateTime<Utc>>,
) -> (Range<DateTime<Utc>>, bool) {
    let next = lit.partition_point(|stretch| stretch.end <= wall);
    match lit.get(next) {
        Some(stretch) if stretch.start <= wall => (stretch.clone(), true),
        after => {
            let start = next
                .checked_sub(1)
                .map_or(covers.start, |before| lit[before].end);
            let end = after.map_or(covers.end, |stretch| stretch.start);
            (start..end, false)
        }
    }
}

/// What a hold makes of a line; `None` if it is over.
fn held(owed: &Owed, at: Duration, world: &World) -> Option<Want> {
    if owed.orphan.is_some() {
        // Lights fail dark: nobody knows whether it is over.
        let over = world.boot(at) >= owed.span;
        return (!over).then_some(if owed.sure || !owed.lit {
            Want::Dark
        } else {
            Want::Either
        });
    }
    let passed = owed.by_clock.is_some_and(|by| world.wall(at) >= by);
    if at >= owed.latest || passed {
        return None;
    }
    Some(if owed.sure && at < owed.until {
        Want::of(owed.lit)
    } else {
        Want::Either
    })
}
