//! Why a zone goes on or off when it does, or stays dark.

use chrono::{DateTime, Month, NaiveDate, NaiveTime, Utc, Weekday};

use crate::almanac::{Half, SunEvent};
use crate::site::{Site, SunMark, ZoneId};

use crate::civil_time::SiteZone;

/// The rule that set a switching time, or kept a zone dark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// A clock time from the file.
    Clock(NaiveTime),
    /// A clock time that the clocks skip on this night, and the instant used instead.
    ClockSkipped(NaiveTime, DateTime<Utc>),
    /// A clock time that the clocks show twice on this night: the first one.
    ClockTwice(NaiveTime),
    /// A passage of the sun, with an offset in seconds.
    Sun(Mark, i32),
    /// A passage used because this night lacks the one asked for.
    Instead {
        /// The passage that the file asks for.
        of: Mark,
        /// The passage used, with its offset in seconds.
        mark: Mark,
        offset_s: i32,
    },
    /// A clock time used because this night lacks the twilight asked for.
    ClockInstead(Mark, NaiveTime),
    /// The sun does not rise above the mark: the evening is dark from noon to noon.
    DarkAllDay(Mark),
    NotBefore(NaiveTime),
    NotAfter(NaiveTime),
    /// Lit for this many seconds.
    Lasting(i32),
    /// The evening ends at noon.
    Noon,
    /// The curfew begins: dark from then on.
    Curfew(NaiveTime),
    /// The curfew begins before the zone would go on.
    CurfewFirst(NaiveTime),
    /// So many seconds after the master.
    Follows(ZoneId, f64),
    /// So many seconds after the master, as the board's input sees it.
    FollowsInput(ZoneId, f64),
    /// The zone is not lit on this day of the week.
    NotOn(Weekday),
    /// An exception keeps it dark, from one date to another.
    DarkDates(NaiveDate, NaiveDate),
    /// The sun does not sink to the mark, and the file names no substitute.
    NoTwilight(Mark),
    OffBeforeOn {
        /// When it would go on.
        on: DateTime<Utc>,
        /// When it would go off.
        off: DateTime<Utc>,
    },
    /// The master is not lit.
    MasterDark(ZoneId),
    /// The master is lit for fewer seconds than the slave needs to come on.
    MasterTooShort(ZoneId, f64),
    /// The relay of the link does not pull in; in this month, if the site has temperatures by month.
    StaysDark(ZoneId, Option<Month>),
    /// Its supply sleeps while this zone is dark.
    Asleep(ZoneId),
    /// Its supply is awake from when this zone goes on.
    Woken(ZoneId),
    /// Its supply sleeps from when this zone goes off.
    LetGo(ZoneId),
    /// The relay does not let go; in this month, where the months have temperatures.
    StaysLit(ZoneId, Option<Month>),
}

/// A passage of the sun, and when it happens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    pub passage: SunMark,
    pub half: Half,
    /// When it happens, if it does.
    pub at: Option<DateTime<Utc>>,
}

impl Mark {
    fn name(&self) -> String {
        match self.passage {
            SunMark::Event(event) => event_name(event).into(),
            SunMark::Altitude(degrees) => {
                let way = if self.half == Half::Evening {
                    "sinking"
                } else {
                    "rising"
                };
                format!("sun at {degrees}° {way}").replace('-', "−")
            }
        }
    }

    fn said(&self, offset_s: i32, zone: &SiteZone) -> String {
        let name = match self.at {
            Some(at) => format!("{} {}", self.name(), clock(zone, at)),
            None => self.name(),
        };
        match offset_s {
            0 => name,
            later if later > 0 => format!("{} after {name}", span(later)),
            sooner => format!("{} before {name}", span(-sooner)),
        }
    }
}

pub(crate) fn event_name(event: SunEvent) -> &'static str {
    match event {
        SunEvent::Sunrise => "sunrise",
        SunEvent::Sunset => "sunset",
        SunEvent::CivilDawn => "civil dawn",
        SunEvent::CivilDusk => "civil dusk",
        SunEvent::NauticalDawn => "nautical dawn",
        SunEvent::NauticalDusk => "nautical dusk",
        SunEvent::AstronomicalDawn => "astronomical dawn",
        SunEvent::AstronomicalDusk => "astronomical dusk",
    }
}

/// `19:54 CDT`: local hours and minutes, with the zone's abbreviation.
pub fn clock(zone: &SiteZone, at: DateTime<Utc>) -> String {
    let local = zone.to_local(at);
    format!(
        "{} {}",
        local.format("%H:%M"),
        zone.offset_at(at).abbreviation
    )
}

/// `4 h`, `1 h 30 min`, `1 min 30 s`.
pub(crate) fn span(seconds: i32) -> String {
    let parts = [
        (seconds / 3600, "h"),
        (seconds / 60 % 60, "min"),
        (seconds % 60, "s"),
    ];
    let said: Vec<String> = parts
        .iter()
        .filter(|(count, _)| *count != 0)
        .map(|(count, unit)| format!("{count} {unit}"))
        .collect();
    said.join(" ")
}

/// When a relay fails, or which command explains why it always does.
fn when(month: Option<Month>) -> String {
    month.map_or_else(
        || ", see check".into(),
        |month| format!(" on a typical evening of {}", month.name()),
    )
}

fn day_name(day: Weekday) -> &'static str {
    [
        "Mondays",
        "Tuesdays",
        "Wednesdays",
        "Thursdays",
        "Fridays",
        "Saturdays",
        "Sundays",
    ][day.num_days_from_monday() as usize]
}

impl Reason {
    /// Whether it keeps a zone dark, rather than sets a switching time.
    pub fn keeps_dark(&self) -> bool {
        matches!(
            self,
            Self::NotOn(_)
                | Self::DarkDates(..)
                | Self::NoTwilight(_)
                | Self::OffBeforeOn { .. }
                | Self::CurfewFirst(_)
                | Self::MasterDark(_)
                | Self::MasterTooShort(..)
                | Self::StaysDark(..)
                | Self::Asleep(_)
        )
    }

    /// The reason in words, with local times.
    pub fn say(&self, site: &Site) -> String {
        let zone = &site.timezone;
        match *self {
            Self::Clock(time) => format!("fixed time {}", time.format("%H:%M")),
            Self::ClockSkipped(time, at) => format!(
                "fixed time {}, which the clocks skip: {}",
                time.format("%H:%M"),
                clock(zone, at)
            ),
            Self::ClockTwice(time) => {
                format!("fixed time {}, the first of two", time.format("%H:%M"))
            }
            Self::Sun(mark, offset_s) => mark.said(offset_s, zone),
            Self::Instead { of, mark, offset_s } => {
                format!(
                    "{} instead, no {} tonight",
                    mark.said(offset_s, zone),
                    of.name()
                )
            }
            Self::ClockInstead(of, time) => {
                format!(
                    "fixed time {} instead, no {} tonight",
                    time.format("%H:%M"),
                    of.name()
                )
            }
            Self::DarkAllDay(mark) => format!("dark all day: no {}", mark.name()),
            Self::NotBefore(time) => format!("not before {}", time.format("%H:%M")),
            Self::NotAfter(time) => format!("not after {}", time.format("%H:%M")),
            Self::Lasting(seconds) => format!("{} after it went on", span(seconds)),
            Self::Noon => "noon, where the evening ends".into(),
            Self::Curfew(time) => format!("curfew {}", time.format("%H:%M")),
            Self::CurfewFirst(time) => {
                format!("no lights: the curfew begins at {}", time.format("%H:%M"))
            }
            Self::Follows(master, delay_s) => {
                format!("follows {} + {delay_s:.2} s", site[master].name)
            }
            Self::FollowsInput(master, delay_s) => {
                format!(
                    "follows the input of {} + {delay_s:.2} s",
                    site[master].name
                )
            }
            Self::NotOn(day) => format!("no lights on {}", day_name(day)),
            Self::DarkDates(from, to) if from == to => format!("no lights on {from}"),
            Self::DarkDates(from, to) => format!("no lights from {from} to {to}"),
            Self::NoTwilight(mark) => format!("no lights: no {} tonight", mark.name()),
            Self::OffBeforeOn { on, off } => {
                format!(
                    "no lights: off at {} comes before on at {}",
                    clock(zone, off),
                    clock(zone, on)
                )
            }
            Self::MasterDark(master) => format!("{} stays dark", site[master].name),
            Self::MasterTooShort(master, needed_s) => {
                format!(
                    "{} is lit for less than the {needed_s:.2} s it takes",
                    site[master].name
                )
            }
            Self::StaysDark(slave, month) => format!(
                "{} stays dark: its relay does not pull in{}",
                site[slave].name,
                when(month)
            ),
            Self::Asleep(waker) => {
                format!("its supply sleeps while {} is dark", site[waker].name)
            }
            Self::Woken(waker) => format!("{} wakes its supply", site[waker].name),
            Self::LetGo(waker) => format!("{} lets its supply go", site[waker].name),
            Self::StaysLit(slave, month) => format!(
                "{} stays lit: its relay does not let go{}",
                site[slave].name,
                when(month)
            ),
        }
    }

    /// The reason without what changes from night to night, for counting nights.
    pub fn kind(&self, site: &Site) -> String {
        match self {
            Self::OffBeforeOn { .. } => "off comes before on".into(),
            Self::NotOn(_) => "not lit on that day of the week".into(),
            Self::DarkDates(..) => "dark by [[date]]".into(),
            Self::NoTwilight(mark) => format!("no {}", mark.name()),
            Self::StaysDark(slave, Some(_)) => format!(
                "{} stays dark: its relay does not pull in on typical evenings of that month",
                site[*slave].name
            ),
            other => other.say(site),
        }
    }

    /// The twilight that was missing, if a substitute or darkness was the result.
    pub fn missing(&self) -> Option<Mark> {
        match *self {
            Self::Instead { of, .. } | Self::ClockInstead(of, _) | Self::NoTwilight(of) => Some(of),
            _ => None,
        }
    }
}
