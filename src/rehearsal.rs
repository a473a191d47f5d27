//! The service against a simulated clock and a simulated yard, with faults, and a judge beside it.
//!
//! ```text
//! faults, requests ─┐            ┌─► lines ─► yard as the circuit simulation says ─► inputs ─┐
//! true time ─ world ┼─► engine ──┤                                                           │
//!             ▲     │    ▲       └─► store (SQLite)       judge: what it should be, from ────┤
//!             │     │    └───────────────────────────┐    plan, holds told of, true time     │
//!             └─────┴── what happens next ◄──────────┴───────────────────────────────────────┘
//! ```
//!
//! The engine, its controller, the store and the answers are those of `pilotwire run`; only what they
//! stand on is simulated: the clocks of a board, its power, its lines, its inputs, its disk. Nothing
//! waits: what happens next happens next.
//!
//! Source: the unit files of the service for what follows its death; notes beside each constant.
//! Holds: one board, any yard that `check` judges. Leaves out: contacts that bounce for so long that an
//! input hears it, a supply between two failures, the network's slow corrections of a clock.

use std::collections::HashMap;
use std::io;

use chrono::{DateTime, Days, NaiveDate, Utc};

use crate::chain::{Pace, Stage, Wiring, wiring};
use crate::daemon::engine::Engine;
use crate::link::FollowingByMonth;
use crate::link::{Draw, LinkJudgement, Undecided, judge_link};
use crate::schedule::Evening;
use crate::site::{Site, ZoneId};

#[cfg(test)]
mod broken;
pub mod campaign;
mod dice;
mod disk;
mod fault;
mod judge;
mod oracle;
mod request;
mod run;
mod service;
mod span;
mod world;
pub mod yards;

pub use fault::{BootClock, Fails, Fault, WORDS, Who};
pub use request::{Ask, Asked, WORDS as ASK_WORDS};

use judge::Judge;
use oracle::Oracle;
use run::Run;
use service::{Board, Service};

/// What the links of a yard do, whole and worn.
#[derive(Debug, Clone)]
pub struct Links {
    judged: Vec<LinkJudgement>,
    following: Vec<FollowingByMonth>,
    wiring: Vec<Wiring>,
    worn: HashMap<(usize, u8, u64), Stage>,
}

fn worn_key(fails: Fails) -> Option<(usize, u8, u64)> {
    match fails {
        Fails::BadSplice(zone, ohm) => Some((zone.0, 0, ohm.to_bits())),
        Fails::DriedCapacitor(zone, part) => Some((zone.0, 1, part.to_bits())),
        _ => None,
    }
}

impl Links {
    /// Judges the links of a yard, and those that faults wear out.
    ///
    /// # Errors
    /// If a simulation cannot conclude.
    pub fn judge(site: &Site, draw: Draw, faults: &[Fault]) -> Result<Self, Undecided> {
        let judged: Vec<_> = site
            .links
            .iter()
            .map(|link| judge_link(site, link, draw))
            .collect::<Result<_, _>>()?;
        let mut links = Self {
            following: judged.iter().map(|judged| judged.following).collect(),
            wiring: wiring(site, &judged),
            judged,
            worn: HashMap::new(),
        };
        links.wear(site, draw, faults)?;
        Ok(links)
    }

    /// Judges the links that further faults wear out.
    ///
    /// # Errors
    /// If a simulation cannot conclude.
    pub fn wear(&mut self, site: &Site, draw: Draw, faults: &[Fault]) -> Result<(), Undecided> {
        for fault in faults {
            let Some(key) = worn_key(fault.fails) else {
                continue;
            };
            if self.worn.contains_key(&key) {
                continue;
            }
            let mut worn = site.clone();
            let slave = ZoneId(key.0);
            let Some(index) = site.links.iter().position(|link| link.slave == slave) else {
                continue;
            };
            let link = &mut worn.links[index];
            match fault.fails {
                Fails::BadSplice(_, ohm) => {
                    if let Some(loop_ohm) = &mut link.measured_loop_ohm {
                        *loop_ohm += ohm;
                    } else {
                        let before_ohm = f64::from(link.splices) * link.splice_ohm;
                        link.splices = link.splices.max(1);
                        link.splice_ohm = (before_ohm + ohm) / f64::from(link.splices);
                    }
                }
                Fails::DriedCapacitor(_, part) => {
                    if let Some(capacitor) = &mut link.capacitor {
                        capacitor.farad *= part;
                    }
                }
                _ => {}
            }
            let mut judged = self.judged.clone();
            judged[index] = judge_link(&worn, &worn.links[index], draw)?;
            if let Some(stage) = wiring(&worn, &judged)[slave.0].stage {
                self.worn.insert(key, stage);
            }
        }
        Ok(())
    }

    fn worn(&self, fails: Fails) -> Option<Stage> {
        self.worn.get(&worn_key(fails)?).copied()
    }
}

/// What a line does when nobody holds it any more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Chip {
    /// It falls back to dark, as with the kernel's own drivers.
    LetsGo,
    /// It stays as it is until somebody drives it, as with some boards' kernels.
    Keeps,
}

/// How often nothing is tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ticks {
    /// With every safety tick.
    All,
    /// With every tenth, where nothing has happened for three minutes: more of them would say the same.
    Sparse,
}

/// What is rehearsed.
#[derive(Debug)]
pub struct Script<'a> {
    /// The yard.
    pub site: &'a Site,
    /// What its links do.
    pub links: &'a Links,
    /// First evening.
    pub from: NaiveDate,
    /// So many evenings.
    pub nights: u32,
    /// What goes wrong.
    pub faults: Vec<Fault>,
    /// What the owner asks for.
    pub asks: Vec<Ask>,
    /// How fast the yard is.
    pub pace: Pace,
    /// What lines do whose service is dead.
    pub chip: Chip,
    /// How often nothing is tried.
    pub ticks: Ticks,
    /// Seed of what is left to chance: spurious wakes, torn writes.
    pub seed: u64,
    /// All that the owner would see is kept.
    pub watch: bool,
    /// It ends after so many findings.
    pub most_findings: usize,
}

impl Script<'_> {
    fn start(&self) -> DateTime<Utc> {
        Evening::of(self.site, self.from).begins
    }

    fn end(&self) -> DateTime<Utc> {
        Evening::of(self.site, self.from + Days::new(u64::from(self.nights))).begins
    }
}

/// Something that the owner would see.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// By true time.
    pub at: DateTime<Utc>,
    /// Who: one of the constants.
    pub who: &'static str,
    /// The zone, if it is one's.
    pub zone: Option<ZoneId>,
    /// What.
    pub what: String,
}

impl Seen {
    /// The lamps.
    pub const YARD: &'static str = "yard";
    /// The log of the service.
    pub const SERVICE: &'static str = "service";
    /// What goes wrong.
    pub const WORLD: &'static str = "fault";
    /// What the owner asks for, and is answered.
    pub const OWNER: &'static str = "owner";
}

/// Something that is not as it should be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// By true time.
    pub at: DateTime<Utc>,
    /// The zone, if it is one's.
    pub zone: Option<ZoneId>,
    /// What.
    pub what: String,
}

/// What came of a rehearsal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rehearsed {
    /// What the owner would have seen.
    pub seen: Vec<Seen>,
    /// What is not as it should be.
    pub findings: Vec<Finding>,
    /// How often the service was woken.
    pub wakes: u64,
}

/// Rehearses; its store lies in a folder of its own, which is made and taken away again.
///
/// # Errors
/// If there can be no such folder.
pub fn rehearse(script: &Script<'_>) -> io::Result<Rehearsed> {
    rehearse_with(script, &|board| {
        let Board {
            site,
            boot_id,
            lines,
            store,
            now,
        } = board;
        Engine::new(site, boot_id, lines, store, now)
    })
}

/// The same with a service that `start` starts on its board.
fn rehearse_with<S: Service>(
    script: &Script<'_>,
    start: &dyn Fn(Board) -> S,
) -> io::Result<Rehearsed> {
    let folder = tempfile::tempdir()?;
    let last = script.from + Days::new(u64::from(script.nights));
    let oracle = Oracle::new(
        script.site,
        &script.links.judged,
        &script.links.following,
        script.from..last,
    );
    let judge = Judge::new(script.site, &script.links.judged, oracle);
    let rehearsed = Run::new(script, judge, folder.path(), start).go();
    folder.close()?;
    Ok(rehearsed)
}
