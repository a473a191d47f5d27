//! Many rehearsals with faults and requests drawn at random; one that goes wrong is shrunk to the
//! shortest that still does.

use std::collections::HashMap;
use std::fmt::Write;
use std::io;

use chrono::{DateTime, Datelike, Days, NaiveDate, TimeDelta, Utc};

use crate::chain::Pace;
use crate::daemon::control::Until;
use crate::link::{Draw, Undecided};
use crate::schedule::{Evening, plan};
use crate::site::{Site, SupplyId, Switching, ZoneId};

use super::dice::Dice;
use super::{
    Ask, Asked, BootClock, Chip, Fails, Fault, Links, Rehearsed, Script, Ticks, Who, rehearse,
};

/// The builds drawn for each link do not matter to a rehearsal.
pub const DRAW: Draw = Draw {
    seed: 1,
    builds: std::num::NonZeroU32::MIN,
};

/// Evenings of one run.
pub const NIGHTS: u32 = 20;

/// A yard of a campaign.
#[derive(Debug)]
pub struct Yard {
    /// How the command line calls it: `--yard pair`, or the path of a site file.
    pub words: String,
    /// The yard.
    pub site: Site,
    /// What its links do.
    pub links: Links,
    /// Clock changes of the years that are rehearsed.
    changes: Vec<NaiveDate>,
    /// Switchings by year, so that faults can be put near them.
    switchings: HashMap<i32, Vec<DateTime<Utc>>>,
}

/// The years that are rehearsed.
const YEARS: std::ops::RangeInclusive<i32> = 2027..=2035;

/// What is left of a capacitor [%], and what a splice adds [Ω]: few, so that each is judged once.
const PARTS: [f64; 3] = [0.5, 0.3, 0.1];
const OHMS: [f64; 4] = [25.0, 100.0, 200.0, 1000.0];

impl Yard {
    /// Gets a yard ready.
    ///
    /// # Errors
    /// If a link cannot be judged.
    pub fn new(words: String, site: Site) -> Result<Self, Undecided> {
        let worn: Vec<_> = site
            .links
            .iter()
            .flat_map(|link| {
                let ohms = OHMS.map(|ohm| Fails::BadSplice(link.slave, ohm));
                let parts = PARTS.map(|part| Fails::DriedCapacitor(link.slave, part));
                ohms.into_iter().chain(parts)
            })
            .map(|fails| Fault {
                fails,
                at: DateTime::UNIX_EPOCH,
                lasts: None,
            })
            .collect();
        let links = Links::judge(&site, DRAW, &worn)?;
        let instant = |year: i32| {
            let day = NaiveDate::from_ymd_opt(year, 1, 1).expect("a first of January");
            Evening::of(&site, day).begins
        };
        let changes = site
            .timezone
            .transitions_between(instant(*YEARS.start()), instant(YEARS.end() + 1))
            .iter()
            .map(|change| site.timezone.to_local(change.at).date())
            .collect();
        Ok(Self {
            words,
            links,
            changes,
            switchings: HashMap::new(),
            site,
        })
    }

    fn switchings(&mut self, year: i32) -> &[DateTime<Utc>] {
        let (site, links) = (&self.site, &self.links);
        self.switchings.entry(year).or_insert_with(|| {
            let day = |month, day| NaiveDate::from_ymd_opt(year, month, day).expect("a date");
            let rows = plan(site, day(1, 1)..=day(12, 31), &links.following);
            let mut all: Vec<_> = rows
                .map(|plan| plan.rows)
                .unwrap_or_default()
                .iter()
                .flat_map(|row| row.on.into_iter().chain(row.off))
                .collect();
            all.sort();
            all
        })
    }
}

/// What a run of a campaign rehearses.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// Which of the yards.
    pub yard: usize,
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
    /// Seed of the rest.
    pub seed: u64,
}

impl Case {
    fn script<'a>(&self, yard: &'a Yard) -> Script<'a> {
        Script {
            site: &yard.site,
            links: &yard.links,
            from: self.from,
            nights: self.nights,
            faults: self.faults.clone(),
            asks: self.asks.clone(),
            pace: self.pace,
            chip: self.chip,
            ticks: self.ticks,
            seed: self.seed,
            watch: false,
            most_findings: 1,
        }
    }

    /// The command that repeats it.
    pub fn command(&self, yard: &Yard) -> String {
        let mut text = format!(
            "pilotwire rehearse {} --from {} --nights {}",
            yard.words, self.from, self.nights
        );
        match self.pace {
            Pace::Typical => {}
            Pace::Quickest => text.push_str(" --pace quickest"),
            Pace::Slowest => text.push_str(" --pace slowest"),
        }
        if self.chip == Chip::Keeps {
            text.push_str(" --chip keeps");
        }
        if self.ticks == Ticks::Sparse {
            text.push_str(" --ticks sparse");
        }
        let _ = write!(text, " --seed {}", self.seed);
        for fault in &self.faults {
            let _ = write!(text, " --fault \"{}\"", fault.say(&yard.site));
        }
        for ask in &self.asks {
            let _ = write!(text, " --ask \"{}\"", ask.say(&yard.site));
        }
        text
    }
}

/// Draws run `number` of a campaign.
pub fn draw(yards: &mut [Yard], seed: u64, number: u64) -> Case {
    let mut dice = Dice::new(seed, number);
    let index = dice.of(yards.len());
    let yard = &mut yards[index];
    let from = if dice.chance(0.4) && !yard.changes.is_empty() {
        let change = yard.changes[dice.of(yard.changes.len())];
        change - Days::new(dice.of(NIGHTS as usize) as u64)
    } else {
        let first = NaiveDate::from_ymd_opt(*YEARS.start(), 1, 1).expect("a date");
        first + Days::new(dice.of(9 * 365) as u64)
    };
    let start = Evening::of(&yard.site, from).begins;
    let end = Evening::of(&yard.site, from + Days::new(u64::from(NIGHTS))).begins;
    let mut near: Vec<_> = yard
        .switchings(from.year())
        .iter()
        .copied()
        .filter(|at| (start..end).contains(at))
        .collect();
    let site = &yard.site;
    let mut instant = |dice: &mut Dice| {
        let by = dice.seconds(1.0, 3600.0);
        let at = match dice.of(4) {
            0 if !near.is_empty() => near[dice.of(near.len())] - by,
            1 | 2 if !near.is_empty() => near[dice.of(near.len())] + by,
            _ => start + (end - start).checked_div(10_000).unwrap_or_default() * dice.small(10_000),
        };
        let at = DateTime::from_timestamp(at.timestamp(), 0).unwrap_or(at);
        let at = at.clamp(start + TimeDelta::seconds(10), end - TimeDelta::seconds(10));
        // What happens next may well be near what has happened.
        near.push(at);
        at
    };
    let faults = (0..dice.of(7))
        .map(|_| {
            let at = instant(&mut dice);
            let (fails, lasts) = fault(&mut dice, site);
            Fault { fails, at, lasts }
        })
        .collect();
    let outputs: Vec<_> = site.outputs.iter().map(|output| output.zone).collect();
    let asks = (0..dice.of(7))
        .filter_map(|_| {
            let at = instant(&mut dice);
            let what = ask(&mut dice, &outputs)?;
            Some(Ask { what, at })
        })
        .collect();
    Case {
        yard: index,
        from,
        nights: NIGHTS,
        faults,
        asks,
        pace: dice.one(&Pace::ALL),
        chip: dice.one(&[Chip::LetsGo, Chip::Keeps]),
        ticks: Ticks::Sparse,
        seed: dice.of(1 << 30) as u64,
    }
}

fn ask(dice: &mut Dice, outputs: &[ZoneId]) -> Option<Asked> {
    if outputs.is_empty() {
        return None;
    }
    let zone = dice.one(outputs);
    Some(match dice.of(8) {
        0 => Asked::Status,
        1 => Asked::Release(zone),
        2 => Asked::ReleaseAll,
        kind => {
            let until = match kind {
                3 => None,
                4 => Some(Until::Next),
                5 => Some(Until::Clock(format!(
                    "{:02}:{:02}",
                    dice.of(24),
                    dice.of(60)
                ))),
                _ => {
                    let seconds = dice.seconds(1.0, 86_400.0).num_seconds();
                    Some(Until::For(u32::try_from(seconds).unwrap_or(60)))
                }
            };
            if dice.chance(0.2) {
                Asked::ForceAll(dice.chance(0.5), until)
            } else {
                Asked::Force(zone, dice.chance(0.5), until)
            }
        }
    })
}

/// A fault that the yard can have, and how long it lasts.
fn fault(dice: &mut Dice, site: &Site) -> (Fails, Option<TimeDelta>) {
    let slaves: Vec<_> = site.links.iter().map(|link| link.slave).collect();
    let inputs: Vec<_> = site.inputs.iter().map(|input| input.zone).collect();
    let outputs: Vec<_> = site.outputs.iter().map(|output| output.zone).collect();
    loop {
        let mut lasts = Some(dice.seconds(1.0, 43_200.0));
        let fails = match dice.of(22) {
            0..=3 => {
                let by = dice.seconds(1.0, 56.0 * 365.25 * 86_400.0);
                let by = if dice.chance(0.6) {
                    by
                } else {
                    dice.seconds(1.0, 7200.0)
                };
                lasts = lasts.filter(|_| dice.chance(0.85));
                Fails::ClockStep(if dice.chance(0.5) { by } else { -by })
            }
            4 => {
                lasts = Some(dice.seconds(1.0, 7200.0));
                Fails::NoBatteryClock(dice.one(&[BootClock::Saved, BootClock::Epoch]))
            }
            5 | 6 => Fails::PowerCut(Who::Board),
            7 => {
                let supply = SupplyId(dice.of(site.supplies.len()));
                Fails::PowerCut(dice.one(&[Who::All, Who::Master, Who::Slave, Who::Supply(supply)]))
            }
            8..=10 => {
                lasts = None;
                Fails::Crash {
                    effect: 1 + dice.small(12).unsigned_abs(),
                    after: dice.chance(0.5),
                }
            }
            11 => {
                lasts = None;
                Fails::Hang
            }
            12 if !slaves.is_empty() => Fails::OpenWire(dice.one(&slaves)),
            12 if !inputs.is_empty() => Fails::OpenWire(dice.one(&inputs)),
            13 if !slaves.is_empty() => Fails::BadSplice(dice.one(&slaves), dice.one(&OHMS)),
            14 if !slaves.is_empty() => Fails::DriedCapacitor(dice.one(&slaves), dice.one(&PARTS)),
            15 if !slaves.is_empty() => Fails::WeldedContact(dice.one(&slaves)),
            16 => {
                lasts = None;
                let follows =
                    |zone: &crate::site::Zone| matches!(zone.switching, Switching::Follows(_));
                let supplies: Vec<_> = site
                    .zones
                    .iter()
                    .filter(|zone| follows(zone))
                    .map(|zone| zone.supply)
                    .collect();
                if supplies.is_empty() {
                    continue;
                }
                Fails::SupplyLatched(dice.one(&supplies))
            }
            17 if !inputs.is_empty() => Fails::StuckInput(dice.one(&inputs), dice.chance(0.5)),
            18 if !outputs.is_empty() => Fails::LineLost(dice.one(&outputs)),
            19 => Fails::DiskFull,
            20 => {
                lasts = Some(dice.seconds(1.0, 3600.0));
                Fails::TornWrite
            }
            21 => dice.one(&[Fails::MissedWakes, Fails::SpuriousWakes]),
            _ => continue,
        };
        return (fails, lasts);
    }
}

/// What came of a campaign.
#[derive(Debug)]
pub struct Outcome {
    /// So many runs were made.
    pub runs: u64,
    /// Of so many nights.
    pub nights: u64,
    /// With so many faults.
    pub faults: u64,
    /// With so many requests.
    pub asks: u64,
    /// The service was woken so often.
    pub wakes: u64,
    /// The first that went wrong, shrunk, and what came of it.
    pub wrong: Option<(Case, Rehearsed)>,
    /// Its number.
    pub number: u64,
}

/// Rehearses run after run till one goes wrong; `tell` is told of each.
///
/// # Errors
/// If there is no folder for the stores.
pub fn campaign(
    yards: &mut [Yard],
    runs: u64,
    seed: u64,
    first: u64,
    mut tell: impl FnMut(u64),
) -> io::Result<Outcome> {
    let mut outcome = Outcome {
        runs: 0,
        nights: 0,
        faults: 0,
        asks: 0,
        wakes: 0,
        wrong: None,
        number: 0,
    };
    for number in first..first + runs {
        let case = draw(yards, seed, number);
        let rehearsed = rehearse(&case.script(&yards[case.yard]))?;
        outcome.runs += 1;
        outcome.nights += u64::from(case.nights);
        outcome.faults += case.faults.len() as u64;
        outcome.asks += case.asks.len() as u64;
        outcome.wakes += rehearsed.wakes;
        if !rehearsed.findings.is_empty() {
            outcome.wrong = Some(shrink(case, yards)?);
            outcome.number = number;
            break;
        }
        tell(number);
    }
    Ok(outcome)
}

/// The shortest case found that still goes wrong.
fn shrink(mut case: Case, yards: &[Yard]) -> io::Result<(Case, Rehearsed)> {
    let yard = &yards[case.yard];
    let wrong = |case: &Case| -> io::Result<bool> {
        Ok(!rehearse(&case.script(yard))?.findings.is_empty())
    };
    loop {
        let before = case.clone();
        for simpler in simpler(&case, yard) {
            if wrong(&simpler)? {
                case = simpler;
                break;
            }
        }
        if case == before {
            break;
        }
    }
    let mut script = case.script(yard);
    script.watch = true;
    script.most_findings = 20;
    let rehearsed = rehearse(&script)?;
    Ok((case, rehearsed))
}

/// All that is a little simpler, the simplest first.
fn simpler(case: &Case, yard: &Yard) -> Vec<Case> {
    let mut simpler = Vec::new();
    let mut add = |change: &dyn Fn(&mut Case)| {
        let mut next = case.clone();
        change(&mut next);
        if next != *case && next.nights > 0 {
            simpler.push(next);
        }
    };
    for index in 0..case.faults.len() {
        add(&|next| {
            next.faults.remove(index);
        });
    }
    for index in 0..case.asks.len() {
        add(&|next| {
            next.asks.remove(index);
        });
    }
    for part in [2, 4, 1] {
        let less = (case.nights / part).max(1);
        let less = if part == 1 { 1 } else { less };
        add(&|next| next.nights -= less.min(next.nights));
        // Evenings at the beginning go as long as nothing is drawn for them.
        let from = case.from + Days::new(u64::from(less));
        let begins = Evening::of(&yard.site, from).begins;
        let first = case
            .faults
            .iter()
            .map(|fault| fault.at)
            .chain(case.asks.iter().map(|ask| ask.at))
            .min();
        if first.is_none_or(|first| first >= begins) {
            add(&|next| {
                next.from = from;
                next.nights -= less.min(next.nights);
            });
        }
    }
    add(&|next| next.pace = Pace::Typical);
    add(&|next| next.chip = Chip::LetsGo);
    add(&|next| next.ticks = Ticks::All);
    add(&|next| next.seed = 1);
    simpler
}
