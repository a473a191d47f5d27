//! Looks from outside whether all is as it should be, and says what is not.
//!
//! It is tried too: `rehearsal/broken.rs` (tests only) puts a service in the place of the engine whose store,
//! lines, inputs, clock, timer or answers are wrong, one by one, and it must find each.
//!
//! What it may not claim: a hold over a start of the board ends by the wall clock. Where that was wrong when
//! the owner asked for the hold, and the board started again before the network set it, the board cannot
//! know; so the judge asks for no more than the hold's length from then on. A wire that chatters and the
//! slow corrections of a clock are left out.

use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};

use crate::daemon::control::{Reply, Until};
use crate::daemon::moment::ClockQuality;
use crate::link::{LinkJudgement, Outcome};
use crate::site::{Site, Switching, ZoneId};

use super::Finding;
use super::oracle::{Life, Oracle, Owed, Want};
use super::request::Asked;
use super::world::World;

/// How long the service may take for what it does at once [s] (assumed).
const AT_ONCE_S: f64 = 1.0;

/// How long a board may take to let its lines go dark when its service is gone [s] (assumed).
const DEAD_S: f64 = 0.1;

/// The safety tick repairs a missed wake within this [s]: one tick to see what is new, and one more for
/// what has to wait for a delay after that.
const TICK_S: f64 = 121.0;

/// How far a zone with a timer of its own may stray from its plan before that is a fault [s].
const STRAY_S: f64 = 3600.0;

/// More than a zone's slowest that passes before it is called late: debounce on top [s].
const LOOKING_S: f64 = 0.5;

/// A thing that is looked at.
#[derive(Debug, Clone, Copy, Default)]
struct Watched {
    /// It has not been as it should be since then.
    wrong_since: Option<Duration>,
    /// It is lit, and should not be.
    lit: bool,
    /// That was said.
    said: bool,
}

/// What an input should say.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Cause {
    lit: bool,
    within_s: f64,
    /// It has been so for as long by the clock, which may have been set since.
    since_s: Option<f64>,
}

/// What a zone whose input is watched should say, and since when it does not.
#[derive(Debug, Clone, Copy, Default)]
struct Alarm {
    expected: Option<bool>,
    /// Its own line.
    level: bool,
    sensed: bool,
    differs_since: Option<Duration>,
    /// The same, whatever its own line did.
    first: Option<Duration>,
    said: bool,
}

/// The judge.
#[derive(Debug)]
pub(super) struct Judge<'a> {
    site: &'a Site,
    judged: &'a [LinkJudgement],
    pub(super) oracle: Oracle<'a>,
    lines: Vec<Watched>,
    lamps: Vec<Watched>,
    alarms: Vec<Alarm>,
    /// The last instant that was looked at.
    before: Duration,
    /// A wake may be missing till then.
    missed_until: Duration,
    /// By zone: something of it, or of what it hangs on, is broken.
    pub(super) impaired: Vec<bool>,
    /// The links are worked out since then.
    pub(super) links_since: Option<Duration>,
    spins: (Duration, u32),
    pub(super) findings: Vec<Finding>,
}

impl<'a> Judge<'a> {
    pub(super) fn new(site: &'a Site, judged: &'a [LinkJudgement], oracle: Oracle<'a>) -> Self {
        let zones = site.zones.len();
        Self {
            site,
            judged,
            oracle,
            lines: vec![Watched::default(); zones],
            lamps: vec![Watched::default(); zones],
            alarms: vec![Alarm::default(); zones],
            before: Duration::ZERO,
            missed_until: Duration::ZERO,
            impaired: vec![false; zones],
            links_since: None,
            spins: (Duration::ZERO, 0),
            findings: Vec::new(),
        }
    }

    pub(super) fn find(&mut self, world: &World, zone: Option<ZoneId>, what: String) {
        self.findings.push(Finding {
            at: world.utc(world.now),
            zone,
            what,
        });
    }

    /// A wake was kept from the service.
    pub(super) fn missed(&mut self, now: Duration) {
        self.missed_until = now + Duration::from_secs_f64(2.0 * TICK_S);
    }

    fn missed_s(&self, now: Duration) -> f64 {
        if now < self.missed_until { TICK_S } else { 0.0 }
    }

    /// How long any line may take, whatever its least times; `None` while nobody drives them.
    fn any_line_s(&self, world: &World, life: Life) -> Option<f64> {
        let stagger_s = self.site.daemon.stagger_s * self.site.outputs.len() as f64;
        // Lines that were lost are sought again with every tick.
        let lost_s = if world.has_lost() { TICK_S } else { 0.0 };
        let slack_s = lost_s.max(self.missed_s(world.now));
        life.alive.then_some(AT_ONCE_S + stagger_s + slack_s)
    }

    /// How long a line may take.
    fn line_s(&self, zone: ZoneId, any_line_s: Option<f64>) -> f64 {
        let zone = &self.site[zone];
        let least_s = zone.minimum_lit_s.max(zone.minimum_dark_s);
        any_line_s.map_or(DEAD_S, |any_line_s| any_line_s + least_s)
    }

    /// What has gone by since the last look, in which nothing happened: `world` is as it was then, and
    /// shows the new time.
    pub(super) fn before(&mut self, world: &World, life: Life) {
        let now = world.now;
        let any_line_s = self.any_line_s(world, life);
        for zone in (0..self.site.zones.len()).map(ZoneId) {
            if world.wired[zone.0] {
                let is = world.levels[zone.0];
                let within_s = self.line_s(zone, any_line_s);
                let want = |oracle: &Oracle<'_>, at| oracle.line(zone, at, world, life);
                let watched = self.lines[zone.0];
                self.lines[zone.0] = self.passed(watched, is, now, want);
                if Self::too_long(self.lines[zone.0], now, within_s) {
                    self.lines[zone.0].said = true;
                    let what = format!(
                        "its line is {} and should be {} for {} already",
                        lit(is),
                        lit(!is),
                        Self::since(self.lines[zone.0], now)
                    );
                    self.find(world, Some(zone), what);
                }
            }
            if matches!(self.site[zone].switching, Switching::Follows(_)) {
                let is = world.yard.lit(zone);
                let want = |oracle: &Oracle<'_>, at| oracle.lamps(zone, at, world, life);
                let mut watched = self.lamps[zone.0];
                if self.impaired[zone.0] {
                    watched = Watched::default();
                } else {
                    watched = self.passed(watched, is, now, want);
                }
                self.lamps[zone.0] = watched;
                let within_s = self.line_s(zone, any_line_s)
                    + self.oracle.link_s(zone)
                    + self.line_s(ZoneId(0), any_line_s);
                if Self::too_long(watched, now, within_s) {
                    self.lamps[zone.0].said = true;
                    let what = format!(
                        "it is {} and should be {} for {} already",
                        lit(is),
                        lit(!is),
                        Self::since(watched, now)
                    );
                    self.find(world, Some(zone), what);
                }
            }
        }
        self.before = now;
    }

    fn since(watched: Watched, now: Duration) -> String {
        let since = watched.wrong_since.unwrap_or(now);
        format!("{:.1} s", now.saturating_sub(since).as_secs_f64())
    }

    fn too_long(watched: Watched, now: Duration, within_s: f64) -> bool {
        let wrong = watched.wrong_since.map(|since| now.saturating_sub(since));
        !watched.said && wrong.is_some_and(|wrong| wrong.as_secs_f64() > within_s)
    }

    /// Since when a thing is wrong that does not change, while what it should be may have changed.
    fn passed(
        &self,
        watched: Watched,
        is: bool,
        now: Duration,
        want: impl Fn(&Oracle<'_>, Duration) -> Want,
    ) -> Watched {
        let just_before = now.saturating_sub(Duration::from_micros(1));
        if want(&self.oracle, just_before).allows(is) {
            return Watched::default();
        }
        if watched.wrong_since.is_some() {
            return watched;
        }
        let (mut right, mut wrong) = (self.before, just_before.max(self.before));
        while wrong.saturating_sub(right) > Duration::from_millis(5) {
            let middle = right + wrong.saturating_sub(right) / 2;
            if want(&self.oracle, middle).allows(is) {
                right = middle;
            } else {
                wrong = middle;
            }
        }
        Watched {
            wrong_since: Some(wrong),
            lit: is,
            said: false,
        }
    }

    /// How it is now that all that happens at this instant has happened.
    pub(super) fn after(&mut self, world: &World, life: Life) {
        let now = world.now;
        self.oracle.remember(world, life);
        for zone in (0..self.site.zones.len()).map(ZoneId) {
            if world.wired[zone.0] {
                let is = world.levels[zone.0];
                let right = self.oracle.line(zone, now, world, life).allows(is);
                turn(&mut self.lines[zone.0], is, right, now);
            }
            if matches!(self.site[zone].switching, Switching::Follows(_)) {
                let is = world.yard.lit(zone);
                let right =
                    self.impaired[zone.0] || self.oracle.lamps(zone, now, world, life).allows(is);
                turn(&mut self.lamps[zone.0], is, right, now);
            }
        }
    }

    /// The service has died, or the board: from now on all should be dark, soon.
    pub(super) fn died(&mut self, world: &World, life: Life, board: bool) {
        self.oracle.died(world, life, board);
        self.lines.fill(Watched::default());
        self.lamps.fill(Watched::default());
    }

    /// A wake may bring something new that nobody asked for.
    pub(super) fn unsettled(&self, now: Duration) -> bool {
        now < self.missed_until
    }

    /// Lines that were toggled too fast.
    pub(super) fn hasty(&mut self, world: &mut World) {
        for hasty in std::mem::take(&mut world.hasty) {
            let what = format!(
                "its line went {} after {:.3} s, faster than it may",
                if hasty.lit { "on" } else { "off" },
                hasty.after.as_secs_f64()
            );
            let at = world.utc(hasty.at);
            self.findings.push(Finding {
                at,
                zone: Some(hasty.zone),
                what,
            });
        }
    }

    /// The service asks to be woken at once, again and again.
    pub(super) fn wakes_at_once(&mut self, world: &World) {
        let (since, count) = &mut self.spins;
        if world.now.saturating_sub(*since) > Duration::from_secs(1) {
            self.spins = (world.now, 1);
            return;
        }
        *count += 1;
        if *count == 200 {
            self.find(world, None, "the service does not come to rest".into());
        }
    }

    /// What an input should say by what it hangs on; `None` if nobody can say.
    fn cause(&self, zone: ZoneId, world: &World, life: Life) -> Option<Cause> {
        let supply = &self.site[self.site[zone].supply];
        let own_s = |lit: bool| {
            if lit {
                supply.start_s
            } else {
                supply.hold_up_s
            }
        };
        let level = world.wired[zone.0].then_some(world.levels[zone.0]);
        match self.site[zone].switching {
            Switching::Follows(link) => {
                let judged = &self.judged[link.0];
                let follows = judged.ordinary().outcome() == Outcome::Follows;
                let (on, off) = (judged.times.pull_in?, judged.times.drop_out?);
                if !follows {
                    return None;
                }
                let master = self.site[link].master;
                let cause = match world.sensed(master) {
                    Some(lit) => Cause {
                        lit,
                        within_s: 0.0,
                        since_s: None,
                    },
                    None => self.cause(master, world, life)?,
                };
                let lit = cause.lit && level != Some(false);
                // Its own line cuts it off, whatever the relay does.
                let relay_s = if level == Some(false) {
                    0.0
                } else if lit {
                    on.most_s + judged.times.bounce_s
                } else {
                    off.most_s
                };
                Some(Cause {
                    lit,
                    within_s: cause.within_s + relay_s + own_s(lit),
                    since_s: cause.since_s,
                })
            }
            _ => match level {
                Some(lit) => Some(Cause {
                    lit,
                    within_s: own_s(lit),
                    since_s: None,
                }),
                None if life.quality == ClockQuality::Good => {
                    let wall = world.wall(world.now);
                    let (stretch, lit) = self.oracle.planned(zone, wall)?;
                    // By a clock that was set, all has been so for as long as it says.
                    let since_s = (wall - stretch.start).as_seconds_f64();
                    Some(Cause {
                        lit,
                        within_s: STRAY_S + own_s(lit),
                        since_s: Some(since_s),
                    })
                }
                None => None,
            },
        }
    }

    /// What the service says of its inputs, against what they say: `said` is whether it calls a zone
    /// broken.
    pub(super) fn alarms(
        &mut self,
        world: &World,
        life: Life,
        said: impl Fn(ZoneId) -> bool,
        woken: bool,
    ) {
        let now = world.now;
        for sense in &world.senses {
            let zone = sense.zone;
            let cause = self.cause(zone, world, life);
            let expected = cause.map(|cause| cause.lit);
            let alarm = &mut self.alarms[zone.0];
            if !life.alive || life.hung {
                *alarm = Alarm::default();
                continue;
            }
            let level = world.levels[zone.0];
            let same = (alarm.expected, alarm.sensed) == (expected, sense.lit);
            if !same || alarm.level != level {
                let differs = expected.is_some_and(|lit| lit != sense.lit);
                *alarm = Alarm {
                    first: alarm.first.filter(|_| same).or(differs.then_some(now)),
                    expected,
                    level,
                    sensed: sense.lit,
                    differs_since: differs.then_some(now),
                    said: false,
                };
            }
            let Some(cause) = cause else { continue };
            if !woken || alarm.said {
                continue;
            }
            let for_s = |since: Option<Duration>| {
                since.map(|since| now.saturating_sub(since).as_secs_f64())
            };
            let differs_s = for_s(alarm.differs_since);
            let first_s = for_s(alarm.first).unwrap_or(0.0);
            let slack_s = sense.debounce.as_secs_f64() + LOOKING_S + AT_ONCE_S + self.missed_s(now);
            let calls_broken = said(zone);
            // Slaves are known to be broken once their links are worked out.
            let known_s = self
                .links_since
                .map_or(0.0, |since| now.saturating_sub(since).as_secs_f64());
            let what = match differs_s {
                Some(differs_s)
                    if differs_s.min(known_s) > cause.within_s + slack_s && !calls_broken =>
                {
                    format!(
                        "its input says {} for {differs_s:.1} s and should say {}; the service does \
                         not notice",
                        lit(sense.lit),
                        lit(cause.lit)
                    )
                }
                Some(differs_s)
                    if first_s.max(cause.since_s.unwrap_or(0.0)) < cause.within_s
                        && calls_broken =>
                {
                    format!("called broken {differs_s:.3} s after its cause: too soon")
                }
                None if calls_broken => "called broken, and is as it should be".to_owned(),
                _ => continue,
            };
            self.alarms[zone.0].said = true;
            self.find(world, Some(zone), what);
        }
    }

    /// What the owner was answered; `None` if the answer never came.
    pub(super) fn asked(&mut self, asked: &Asked, reply: Option<&Reply>, world: &World) {
        match asked {
            Asked::Status => {}
            // All of them, or none: what each of them is owed is what it would be owed alone.
            Asked::ReleaseAll => {
                for output in &self.site.outputs {
                    self.asked(&Asked::Release(output.zone), reply, world);
                }
            }
            Asked::ForceAll(lit, until) => {
                for output in &self.site.outputs {
                    let one = Asked::Force(output.zone, *lit, until.clone());
                    self.asked(&one, reply, world);
                }
            }
            Asked::Release(zone) => match reply {
                Some(Reply::Done(done)) => {
                    let owed = self.oracle.owed[zone.0].take();
                    if !done.kept
                        && let Some(owed) = owed
                    {
                        // After a death it may be in force again.
                        self.oracle.unreleased[zone.0] = owed.latest;
                    } else {
                        self.oracle.unreleased[zone.0] = Duration::ZERO;
                    }
                    self.oracle.ghosts[zone.0] = Duration::ZERO;
                }
                Some(_) => {}
                None => {
                    if let Some(owed) = &mut self.oracle.owed[zone.0] {
                        owed.sure = false;
                    }
                }
            },
            Asked::Force(zone, lit, until) => {
                let acknowledged = matches!(reply, Some(Reply::Done(_)));
                if !acknowledged && reply.is_some() {
                    return;
                }
                let Some((wall_end, by_clock)) = self.end_of_hold(*zone, until.as_ref(), world)
                else {
                    return;
                };
                let left = (wall_end - world.wall(world.now))
                    .to_std()
                    .unwrap_or_default();
                if !acknowledged {
                    // Either what was before, or this.
                    let ghost = &mut self.oracle.ghosts[zone.0];
                    *ghost = (*ghost).max(world.now + left);
                    let before = self.oracle.owed[zone.0].take();
                    if let Some(before) = before {
                        *ghost = (*ghost).max(before.latest);
                    }
                    return;
                }
                let kept = matches!(reply, Some(Reply::Done(done)) if done.kept);
                let before = self.oracle.owed[zone.0].take();
                if !kept && let Some(before) = before {
                    self.oracle.unreleased[zone.0] = before.latest;
                } else if kept {
                    self.oracle.unreleased[zone.0] = Duration::ZERO;
                }
                self.oracle.ghosts[zone.0] = Duration::ZERO;
                self.oracle.owed[zone.0] = Some(Owed {
                    lit: *lit,
                    span: left,
                    until: world.now + left,
                    latest: world.now + left,
                    by_clock: by_clock.then_some(wall_end),
                    orphan: None,
                    kept,
                    sure: true,
                });
            }
        }
    }

    /// When the wall clock shows the end of a hold, and whether it ends just then.
    fn end_of_hold(
        &self,
        zone: ZoneId,
        until: Option<&Until>,
        world: &World,
    ) -> Option<(DateTime<Utc>, bool)> {
        let wall = world.wall(world.now);
        Some(match until {
            None => {
                let seconds = Duration::from_secs_f64(self.site.daemon.hold_s);
                (wall + TimeDelta::from_std(seconds).ok()?, false)
            }
            Some(Until::For(seconds)) => (wall + TimeDelta::seconds(i64::from(*seconds)), false),
            Some(Until::Clock(text)) => {
                let time = chrono::NaiveTime::parse_from_str(text, "%H:%M").ok()?;
                let zone = &self.site.timezone;
                let today = zone.to_local(wall).date();
                let next = (0..=2)
                    .map(|days| today + chrono::Days::new(days))
                    .map(|date| zone.resolve(date.and_time(time)).utc)
                    .find(|at| *at > wall)?;
                (next, true)
            }
            Some(Until::Next) => (self.oracle.next_switching(zone, wall)?, true),
        })
    }
}

/// It is so now, and right or wrong.
fn turn(watched: &mut Watched, is: bool, right: bool, now: Duration) {
    if right {
        *watched = Watched::default();
    } else if watched.wrong_since.is_none() || watched.lit != is {
        *watched = Watched {
            wrong_since: Some(now),
            lit: is,
            said: false,
        };
    }
}

fn lit(is: bool) -> &'static str {
    if is { "lit" } else { "dark" }
}
