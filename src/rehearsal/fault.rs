//! Faults: what goes wrong, where, when and for how long, and how that is written.

use std::fmt::Write;

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};

use crate::site::{Site, SupplyId, ZoneId};

use super::span::{parse_instant, parse_span, say_instant, say_span};

/// How faults are written, for the help; no line is longer than 50 letters.
pub const WORDS: &str = "\
clock-step +1h at 2027-03-28 01:30 for 10m
    the clock is set wrong; after 10 min the
    network sets it right
no-battery-clock saved|1970 at WHEN for 5m
    from then on the board starts with the time it
    saved last, or in 1970, till the network
    answers 5 min after the start
power-cut WHOSE at day 3 21:00 for 40s
    WHOSE: board, master, slave, all, or the name
    of a supply
crash N [after] at WHEN
    the service dies before (after) the N-th thing
    it does from then on
hang at WHEN
    the service stops; the watchdog ends it
open-wire ZONE at WHEN for 2h
    the pair to a slave; of a zone with an input
    that another one follows, that wire
bad-splice ZONE 200ohm at WHEN for 2d
    more ohms in the pair to a slave
dried-capacitor ZONE 30% at WHEN for 2d
    what is left of its capacitor
welded-contact ZONE at WHEN for 2d
    the relay of a slave stays in
supply-latched-off SUPPLY at WHEN
    it shuts down after an overload
stuck-input ZONE lit|dark at WHEN for 1h
    its input says the same all the time
line-lost ZONE at WHEN for 10m
    the line cannot be driven
disk-full at WHEN for 1h
    the disk takes nothing
torn-write at WHEN for 1m
    the board's power fails in the middle of the
    next write to its disk
missed-wakes at WHEN for 1h
    no timer and no edge arrives but the safety
    tick's
spurious-wakes at WHEN for 1h
    wakes that nothing calls for

WHEN: 2027-03-28 01:30, or day 3 21:00 counted
from --from, both by the yard's clocks, or
2027-03-28T00:30:00Z. Without `for` a fault lasts
to the end.";

/// With what a board without a battery clock begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BootClock {
    /// With the time that it saved last.
    Saved,
    /// With the first second of 1970.
    Epoch,
}

/// Who is without power.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    /// The board.
    Board,
    /// The supplies of all zones that do not follow over a link.
    Master,
    /// The supplies of all zones that follow over a link.
    Slave,
    /// The board and all supplies.
    All,
    /// One supply.
    Supply(SupplyId),
}

/// What goes wrong.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fails {
    /// The wall clock steps.
    ClockStep(TimeDelta),
    /// The board has no battery clock any more.
    NoBatteryClock(BootClock),
    /// No power.
    PowerCut(Who),
    /// The service dies at the n-th thing that it does.
    Crash {
        /// Counted from one.
        effect: u32,
        /// That is still done.
        after: bool,
    },
    /// The service stops doing anything.
    Hang,
    /// A cut wire.
    OpenWire(ZoneId),
    /// More resistance in the pair to a slave [Ω].
    BadSplice(ZoneId, f64),
    /// What is left of the capacitor, as a fraction.
    DriedCapacitor(ZoneId, f64),
    /// The contact of a slave's relay does not open.
    WeldedContact(ZoneId),
    /// A supply has shut itself down.
    SupplyLatched(SupplyId),
    /// An input that always says the same.
    StuckInput(ZoneId, bool),
    /// A line that cannot be driven.
    LineLost(ZoneId),
    /// The disk takes nothing.
    DiskFull,
    /// The board's power fails in the middle of a write.
    TornWrite,
    /// Only the safety tick arrives.
    MissedWakes,
    /// Wakes that nobody asked for.
    SpuriousWakes,
}

/// A fault.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fault {
    /// What goes wrong.
    pub fails: Fails,
    /// From then on.
    pub at: DateTime<Utc>,
    /// For so long; to the end if left out.
    pub lasts: Option<TimeDelta>,
}

const NAMES: [&str; 16] = [
    "clock-step",
    "no-battery-clock",
    "power-cut",
    "crash",
    "hang",
    "open-wire",
    "bad-splice",
    "dried-capacitor",
    "welded-contact",
    "supply-latched-off",
    "stuck-input",
    "line-lost",
    "disk-full",
    "torn-write",
    "missed-wakes",
    "spurious-wakes",
];

/// The zone of a name.
pub(super) fn zone_named(site: &Site, name: &str) -> Result<ZoneId, String> {
    let found = site.zones.iter().position(|zone| zone.name == name);
    found.map(ZoneId).ok_or_else(|| {
        let names: Vec<_> = site.zones.iter().map(|zone| zone.name.as_str()).collect();
        format!(
            "there is no zone {name:?}; the zones are {}",
            names.join(", ")
        )
    })
}

fn supply_named(site: &Site, name: &str) -> Result<SupplyId, String> {
    let found = site.supplies.iter().position(|supply| supply.name == name);
    found.map(SupplyId).ok_or_else(|| {
        let names: Vec<_> = site.supplies.iter().map(|it| it.name.as_str()).collect();
        format!(
            "there is no supply {name:?}; the supplies are {}",
            names.join(", ")
        )
    })
}

fn slave_named(site: &Site, name: &str) -> Result<ZoneId, String> {
    let zone = zone_named(site, name)?;
    if site.link_to(zone).is_none() {
        return Err(format!("{name} follows nobody over a link"));
    }
    Ok(zone)
}

/// `NAME REST at WHEN [for SPAN]`, taken apart.
pub(super) fn parts<'a>(
    text: &'a str,
    site: &Site,
    first: NaiveDate,
) -> Result<(&'a str, DateTime<Utc>, Option<TimeDelta>), String> {
    let (head, tail) = text
        .rsplit_once(" at ")
        .ok_or_else(|| format!("{text:?} does not say when; end it with `at day 3 21:00`"))?;
    let (when, lasts) = match tail.split_once(" for ") {
        Some((when, span)) => (when, Some(parse_span(span.trim())?)),
        None => (tail, None),
    };
    let at = parse_instant(when.trim(), first, &site.timezone)?;
    Ok((head.trim(), at, lasts))
}

impl Fault {
    /// Reads a fault; `first` is the date of day 1.
    ///
    /// # Errors
    /// In words, if it is not one.
    pub fn parse(text: &str, site: &Site, first: NaiveDate) -> Result<Self, String> {
        let text = text.trim();
        let name = text.split_whitespace().next().unwrap_or_default();
        if !NAMES.contains(&name) {
            let near = NAMES
                .iter()
                .map(|known| (strsim::damerau_levenshtein(known, name), known))
                .min();
            return Err(match near {
                Some((distance, known)) if distance <= 3 => {
                    format!("there is no fault {name:?}; did you mean {known}?")
                }
                _ => format!(
                    "there is no fault {name:?}; the faults are {}",
                    NAMES.join(", ")
                ),
            });
        }
        let (head, at, lasts) = parts(text, site, first)?;
        let words = head.strip_prefix(name).unwrap_or_default().trim();
        let fails = Self::fails(name, words, site).map_err(|why| format!("{name}: {why}"))?;
        Ok(Self { fails, at, lasts })
    }

    fn fails(name: &str, words: &str, site: &Site) -> Result<Fails, String> {
        let nothing = |fails| {
            if words.is_empty() {
                Ok(fails)
            } else {
                Err(format!("{words:?} is one word too many"))
            }
        };
        let last = |what: &str| {
            words
                .rsplit_once(' ')
                .map(|(zone, last)| (zone.trim(), last))
                .ok_or_else(|| format!("write the zone, then {what}"))
        };
        Ok(match name {
            "clock-step" => {
                let ahead = words.strip_prefix('+').map(parse_span);
                let back = words.strip_prefix(['-', '−']).map(parse_span);
                match (ahead, back) {
                    (Some(by), _) => Fails::ClockStep(by?),
                    (_, Some(by)) => Fails::ClockStep(-by?),
                    _ => return Err("write how far and which way: +1h or -30s".into()),
                }
            }
            "no-battery-clock" => match words {
                "" | "saved" => Fails::NoBatteryClock(BootClock::Saved),
                "1970" => Fails::NoBatteryClock(BootClock::Epoch),
                _ => return Err("write saved or 1970".into()),
            },
            "power-cut" => Fails::PowerCut(match words {
                "board" => Who::Board,
                "master" => Who::Master,
                "slave" => Who::Slave,
                "all" => Who::All,
                "" => return Err("write board, master, slave, all or the name of a supply".into()),
                name => Who::Supply(supply_named(site, name)?),
            }),
            "crash" => {
                let (number, after) = match words.strip_suffix(" after") {
                    Some(number) => (number, true),
                    None => (words, false),
                };
                let effect = number
                    .parse()
                    .ok()
                    .filter(|effect| (1..=1000).contains(effect))
                    .ok_or("write which thing it dies at, from 1 to 1000")?;
                Fails::Crash { effect, after }
            }
            "hang" => nothing(Fails::Hang)?,
            "open-wire" => {
                let zone = zone_named(site, words)?;
                if site.link_to(zone).is_none() && site.input_of(zone).is_none() {
                    return Err(format!("{words} has neither a pair nor an input"));
                }
                Fails::OpenWire(zone)
            }
            "bad-splice" => {
                let (zone, ohm) = last("how many ohms: fence 200ohm")?;
                let ohm: f64 = ohm
                    .strip_suffix("ohm")
                    .and_then(|ohm| ohm.parse().ok())
                    .filter(|ohm| (0.0..=1e6).contains(ohm))
                    .ok_or_else(|| format!("{ohm:?} is no resistance; write 200ohm"))?;
                Fails::BadSplice(slave_named(site, zone)?, ohm)
            }
            "dried-capacitor" => {
                let (zone, part) = last("what is left: fence 30%")?;
                let percent: f64 = part
                    .strip_suffix('%')
                    .and_then(|percent| percent.parse().ok())
                    .filter(|percent| (1.0..=100.0).contains(percent))
                    .ok_or_else(|| format!("{part:?} is no part; write 30%"))?;
                let slave = slave_named(site, zone)?;
                if site.link_to(slave).is_none_or(|it| it.capacitor.is_none()) {
                    return Err(format!("the link to {zone} has no capacitor"));
                }
                Fails::DriedCapacitor(slave, percent / 100.0)
            }
            "welded-contact" => Fails::WeldedContact(slave_named(site, words)?),
            "supply-latched-off" => Fails::SupplyLatched(supply_named(site, words)?),
            "stuck-input" => {
                let (name, level) = last("lit or dark")?;
                let zone = zone_named(site, name)?;
                if site.input_of(zone).is_none() {
                    return Err(format!("{name} has no input"));
                }
                match level {
                    "lit" => Fails::StuckInput(zone, true),
                    "dark" => Fails::StuckInput(zone, false),
                    _ => return Err(format!("{level:?} is neither lit nor dark")),
                }
            }
            "line-lost" => {
                let zone = zone_named(site, words)?;
                if site.output_of(zone).is_none() {
                    return Err(format!("{words} has no output"));
                }
                Fails::LineLost(zone)
            }
            "disk-full" => nothing(Fails::DiskFull)?,
            "torn-write" => nothing(Fails::TornWrite)?,
            "missed-wakes" => nothing(Fails::MissedWakes)?,
            _ => nothing(Fails::SpuriousWakes)?,
        })
    }

    /// Its name and what it concerns.
    pub fn what(&self, site: &Site) -> String {
        let zone = |zone: ZoneId| &site[zone].name;
        match self.fails {
            Fails::ClockStep(by) => {
                let sign = if by < TimeDelta::zero() { '-' } else { '+' };
                format!("clock-step {sign}{}", say_span(by))
            }
            Fails::NoBatteryClock(BootClock::Saved) => "no-battery-clock saved".into(),
            Fails::NoBatteryClock(BootClock::Epoch) => "no-battery-clock 1970".into(),
            Fails::PowerCut(who) => match who {
                Who::Board => "power-cut board".into(),
                Who::Master => "power-cut master".into(),
                Who::Slave => "power-cut slave".into(),
                Who::All => "power-cut all".into(),
                Who::Supply(supply) => format!("power-cut {}", site[supply].name),
            },
            Fails::Crash { effect, after } => {
                format!("crash {effect}{}", if after { " after" } else { "" })
            }
            Fails::Hang => "hang".into(),
            Fails::OpenWire(of) => format!("open-wire {}", zone(of)),
            Fails::BadSplice(of, ohm) => format!("bad-splice {} {ohm}ohm", zone(of)),
            Fails::DriedCapacitor(of, part) => {
                format!("dried-capacitor {} {:.0}%", zone(of), part * 100.0)
            }
            Fails::WeldedContact(of) => format!("welded-contact {}", zone(of)),
            Fails::SupplyLatched(of) => format!("supply-latched-off {}", site[of].name),
            Fails::StuckInput(of, lit) => {
                format!(
                    "stuck-input {} {}",
                    zone(of),
                    if lit { "lit" } else { "dark" }
                )
            }
            Fails::LineLost(of) => format!("line-lost {}", zone(of)),
            Fails::DiskFull => "disk-full".into(),
            Fails::TornWrite => "torn-write".into(),
            Fails::MissedWakes => "missed-wakes".into(),
            Fails::SpuriousWakes => "spurious-wakes".into(),
        }
    }

    /// As it is read.
    pub fn say(&self, site: &Site) -> String {
        let mut text = format!(
            "{} at {}",
            self.what(site),
            say_instant(self.at, &site.timezone)
        );
        if let Some(lasts) = self.lasts {
            let _ = write!(text, " for {}", say_span(lasts));
        }
        text
    }
}
