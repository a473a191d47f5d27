//! The judge is tried on services that do wrong on purpose, each in one way: it must see every one.

use std::time::Duration;

use chrono::{NaiveDate, TimeDelta};

use crate::chain::Pace;
use crate::civil_time::ZoneInfo;
use crate::daemon::control::{Done, Filter, Reply, Request, Until};
use crate::daemon::lines::{Level, LineFault, Lines};
use crate::daemon::moment::{Again, ClockQuality, Now};
use crate::daemon::store::{Entry, Event, Kept, Store, Trouble};
use crate::daemon::watch::Condition;

use super::disk::SimStore;
use super::run::TWICE;
use super::world::SimLines;
use super::*;

/// What is broken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Broken {
    /// Nothing.
    Whole,
    /// A store that takes everything and forgets it with every start.
    StoreForgets,
    /// Lines that stay lit when the service is dead.
    LitWhenDead,
    /// Lines that do not go off once they are on.
    LineStaysOn,
    /// Lines that flicker when they go on.
    LinesFlicker,
    /// Inputs that say what the yard does without debounce, and nothing of what is wrong with them.
    InputsAsDriven,
    /// Inputs that say the opposite.
    InputsUpsideDown,
    /// Holds that last ten minutes longer than asked.
    HoldsTooLong,
    /// Releases that are acknowledged and ignored.
    ReleaseIgnored,
    /// A zone that is left out when all are forced.
    OneLeftOut,
    /// A timer that is 20 s late.
    TimerLate,
    /// No timer at all.
    NoTimer,
    /// A clock that is always taken for right.
    ClockAlwaysGood,
    /// A clock that is read an hour wrong.
    WrongZone,
}

struct BrokenLines {
    /// None once it is dropped.
    lines: Option<SimLines>,
    broken: Broken,
}

impl BrokenLines {
    fn lines(&mut self) -> &mut SimLines {
        self.lines.as_mut().expect("not dropped")
    }
}

impl Drop for BrokenLines {
    fn drop(&mut self) {
        if self.broken == Broken::LitWhenDead {
            std::mem::forget(self.lines.take());
        }
    }
}

impl Lines for BrokenLines {
    fn drive(&mut self, levels: &[(ZoneId, bool)]) -> Vec<(ZoneId, LineFault)> {
        let broken = self.broken;
        let lines = self.lines();
        let before = lines.0.borrow().levels.clone();
        let mut levels = levels.to_vec();
        match broken {
            Broken::LineStaysOn => {
                for (zone, lit) in &mut levels {
                    *lit |= before[zone.0];
                }
            }
            Broken::LinesFlicker => {
                let goes_on = |(zone, lit): &&(ZoneId, bool)| *lit && !before[zone.0];
                let on: Vec<_> = levels.iter().filter(goes_on).copied().collect();
                let off: Vec<_> = on.iter().map(|(zone, _)| (*zone, false)).collect();
                lines.drive(&on);
                lines.drive(&off);
            }
            _ => {}
        }
        lines.drive(&levels)
    }

    fn read_back(&mut self) -> Vec<(ZoneId, Level)> {
        self.lines().read_back()
    }

    fn senses(&mut self) -> Vec<(ZoneId, Level)> {
        let broken = self.broken;
        let lines = self.lines();
        let mut senses = lines.senses();
        let world = lines.0.borrow();
        for (zone, level) in &mut senses {
            match (broken, &level) {
                (Broken::InputsAsDriven, _) => *level = Ok(world.yard.lit(*zone)),
                (Broken::InputsUpsideDown, Ok(lit)) => *level = Ok(!lit),
                _ => {}
            }
        }
        senses
    }
}

struct BrokenStore(SimStore, Broken);

impl Store for BrokenStore {
    fn is_in_memory(&self) -> bool {
        self.0.is_in_memory()
    }

    fn load(&self) -> Kept {
        match self.1 {
            Broken::StoreForgets => Kept::default(),
            _ => self.0.load(),
        }
    }

    fn keep(&mut self, entries: &[Entry]) -> Result<(), Trouble> {
        self.0.keep(entries)
    }

    fn history(&self, filter: &Filter) -> Result<Vec<Event>, Trouble> {
        self.0.history(filter)
    }
}

struct BrokenService {
    engine: Engine<BrokenLines, BrokenStore>,
    broken: Broken,
}

impl BrokenService {
    fn start(board: Board, broken: Broken) -> Self {
        let (store, trouble) = board.store;
        let lines = BrokenLines {
            lines: Some(board.lines),
            broken,
        };
        let store = (BrokenStore(store, broken), trouble);
        let now = reads(board.now, broken);
        Self {
            engine: Engine::new(board.site, board.boot_id, lines, store, now),
            broken,
        }
    }
}

/// What it reads of its clocks.
fn reads(mut now: Now, broken: Broken) -> Now {
    match broken {
        Broken::ClockAlwaysGood => now.quality = ClockQuality::Good,
        Broken::WrongZone => now.utc += TimeDelta::hours(1),
        _ => {}
    }
    now
}

impl Service for BrokenService {
    fn wake(&mut self, now: Now) -> Again {
        let again = self.engine.wake(reads(now, self.broken)).again;
        match self.broken {
            Broken::NoTimer => Again::default(),
            Broken::TimerLate => Again {
                utc: again.utc.map(|utc| utc + TimeDelta::seconds(20)),
                boot: again.boot.map(|boot| boot + Duration::from_secs(20)),
            },
            _ => again,
        }
    }

    fn answer(&mut self, request: Request, now: Now) -> Option<Reply> {
        let request = match (self.broken, request) {
            (
                Broken::HoldsTooLong,
                Request::Force {
                    zone,
                    lit,
                    until: Some(Until::For(seconds)),
                },
            ) => Request::Force {
                zone,
                lit,
                until: Some(Until::For(seconds + 600)),
            },
            (Broken::OneLeftOut, Request::ForceAll { lit, until }) => {
                let site = self.engine.site();
                let last = site.outputs.last().expect("a line");
                Request::Force {
                    zone: site[last.zone].name.clone(),
                    lit,
                    until,
                }
            }
            (Broken::ReleaseIgnored, Request::Release { .. }) => {
                return Some(Reply::Done(Done {
                    what: String::new(),
                    kept: true,
                    note: None,
                }));
            }
            (_, request) => request,
        };
        // Requests are answered by the clock as it is: an hour wrong is what is looked for at a wake.
        self.engine.answer(request, now)
    }

    fn set_links(&mut self, links: Vec<LinkJudgement>) {
        self.engine.set_links(links);
    }

    fn newest(&self) -> Option<DateTime<Utc>> {
        self.engine.newest()
    }

    fn condition(&self, zone: ZoneId) -> Option<Condition> {
        self.engine.condition(zone)
    }

    fn take_said(&mut self) -> Vec<Event> {
        self.engine.take_said()
    }

    fn killed(self) {
        self.engine.into_store().0.killed();
    }
}

fn site(name: &str) -> Site {
    let zones = ZoneInfo::from_environment();
    yards::yard(name, &|zone| zones.open(zone)).expect("a built-in yard")
}

/// What the judge finds, beside what a wake too many shows without it.
fn findings(site: &Site, faults: &[&str], asks: &[&str], broken: Broken) -> Vec<Finding> {
    let from: NaiveDate = "2027-03-26".parse().expect("a date");
    let fault = |text: &&str| Fault::parse(text, site, from).expect("a fault");
    let faults: Vec<_> = faults.iter().map(fault).collect();
    let ask = |text: &&str| Ask::parse(text, site, from).expect("a request");
    let links = Links::judge(site, campaign::DRAW, &faults).expect("judged");
    let script = Script {
        site,
        links: &links,
        from,
        nights: 3,
        faults,
        asks: asks.iter().map(ask).collect(),
        pace: Pace::Typical,
        chip: Chip::LetsGo,
        ticks: Ticks::All,
        seed: 1,
        watch: true,
        most_findings: 20,
    };
    let start = |board| BrokenService::start(board, broken);
    let rehearsed = rehearse_with(&script, &start).expect("a folder for the store");
    let mut findings = rehearsed.findings;
    findings.retain(|finding| !finding.what.starts_with(TWICE));
    findings
}

#[test]
fn the_judge_sees_what_is_broken_on_purpose() {
    let dark = "power-cut board at day 2 21:00 for 1m";
    let cases: [(Broken, &[&str], &[&str]); 12] = [
        (
            Broken::StoreForgets,
            &[dark],
            &["force walk off 1h at day 2 20:50"],
        ),
        (
            Broken::LitWhenDead,
            &["crash 1 at day 2 20:59"],
            &["status at day 2 21:00"],
        ),
        (Broken::LineStaysOn, &[], &[]),
        (Broken::LinesFlicker, &[], &[]),
        (
            Broken::InputsAsDriven,
            &["stuck-input orchard dark at day 2 21:00"],
            &[],
        ),
        (Broken::InputsUpsideDown, &[], &[]),
        (
            Broken::HoldsTooLong,
            &[],
            &["force walk off 10m at day 2 21:00"],
        ),
        (
            Broken::ReleaseIgnored,
            &[],
            &[
                "force walk off 2h at day 2 20:00",
                "release walk at day 2 20:30",
            ],
        ),
        (Broken::TimerLate, &[], &[]),
        (Broken::NoTimer, &[], &[]),
        (
            Broken::ClockAlwaysGood,
            &["no-battery-clock saved at day 2 13:00 for 5m", dark],
            &[],
        ),
        (Broken::WrongZone, &[], &[]),
    ];
    let site = site("pair");
    for (broken, faults, asks) in cases {
        assert_ne!(findings(&site, faults, asks, broken), [], "{broken:?}");
        let whole = findings(&site, faults, asks, Broken::Whole);
        assert_eq!(whole, [], "{broken:?}");
    }
}

#[test]
fn the_judge_sees_a_zone_that_is_left_out_when_all_are_forced() {
    let site = site("chain-own-line");
    assert!(site.outputs.len() > 1);
    let asks = ["force --all off 1h at day 1 20:00"];
    assert_ne!(findings(&site, &[], &asks, Broken::OneLeftOut), []);
    assert_eq!(findings(&site, &[], &asks, Broken::Whole), []);
}
