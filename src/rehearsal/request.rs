//! What the owner asks of the service in a rehearsal.

use chrono::{DateTime, NaiveDate, Utc};

use crate::daemon::control::{Request, Until};
use crate::site::{Site, ZoneId};

use super::fault::{parts, zone_named};
use super::span::{parse_span, say_instant, say_span};

/// How requests are written, for the help; no line is longer than 50 letters.
pub const WORDS: &str = "\
force ZONE|--all on|off at WHEN
    also with 30m, until 23:30 or until-next
    before `at`
release ZONE|--all at WHEN
status at WHEN";

/// Stands for every zone with a line, as on the command line.
const ALL: &str = "--all";

/// A request.
#[derive(Debug, Clone, PartialEq)]
pub struct Ask {
    /// What is asked for.
    pub what: Asked,
    /// When.
    pub at: DateTime<Utc>,
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq)]
pub enum Asked {
    /// A zone is to be held.
    Force(ZoneId, bool, Option<Until>),
    /// Every zone with a line is.
    ForceAll(bool, Option<Until>),
    /// A zone is to follow its plan again.
    Release(ZoneId),
    /// Every zone is.
    ReleaseAll,
    /// How the yard is.
    Status,
}

impl Ask {
    /// Reads a request; `first` is the date of day 1.
    ///
    /// # Errors
    /// In words, if it is not one.
    pub fn parse(text: &str, site: &Site, first: NaiveDate) -> Result<Self, String> {
        let wrong = || format!("{text:?} is no request; write it as one of these:\n{WORDS}");
        let (head, at, lasts) = parts(text.trim(), site, first)?;
        if lasts.is_some() {
            return Err(wrong());
        }
        let what = if head == "status" {
            Asked::Status
        } else if let Some(zone) = head.strip_prefix("release ") {
            match zone.trim() {
                ALL => Asked::ReleaseAll,
                zone => Asked::Release(zone_named(site, zone)?),
            }
        } else {
            let rest = head.strip_prefix("force ").ok_or_else(wrong)?;
            let (zone, lit, until) = [(" on", true), (" off", false)]
                .into_iter()
                .filter_map(|(word, lit)| {
                    let place = rest.rfind(word)?;
                    let after = &rest[place + word.len()..];
                    (after.is_empty() || after.starts_with(' '))
                        .then(|| (&rest[..place], lit, after.trim()))
                })
                .max_by_key(|(zone, ..)| zone.len())
                .ok_or_else(wrong)?;
            let until = match until {
                "" => None,
                "until-next" => Some(Until::Next),
                text => Some(match text.strip_prefix("until ") {
                    Some(time) => Until::Clock(time.trim().to_owned()),
                    None => Until::For(
                        u32::try_from(parse_span(text)?.num_seconds()).map_err(|_| wrong())?,
                    ),
                }),
            };
            match zone.trim() {
                ALL => Asked::ForceAll(lit, until),
                zone => Asked::Force(zone_named(site, zone)?, lit, until),
            }
        };
        Ok(Self { what, at })
    }

    /// As it is read.
    pub fn say(&self, site: &Site) -> String {
        let force = |zone: &str, lit: bool, until: &Option<Until>| {
            let lit = if lit { "on" } else { "off" };
            let until = match until {
                None => String::new(),
                Some(Until::For(seconds)) => format!(
                    " {}",
                    say_span(chrono::TimeDelta::seconds(i64::from(*seconds)))
                ),
                Some(Until::Clock(time)) => format!(" until {time}"),
                Some(Until::Next) => " until-next".to_owned(),
            };
            format!("force {zone} {lit}{until}")
        };
        let what = match &self.what {
            Asked::Status => "status".to_owned(),
            Asked::Release(zone) => format!("release {}", site[*zone].name),
            Asked::ReleaseAll => format!("release {ALL}"),
            Asked::Force(zone, lit, until) => force(&site[*zone].name, *lit, until),
            Asked::ForceAll(lit, until) => force(ALL, *lit, until),
        };
        format!("{what} at {}", say_instant(self.at, &site.timezone))
    }

    pub(super) fn request(&self, site: &Site) -> Request {
        match &self.what {
            Asked::Status => Request::Status,
            Asked::Release(zone) => Request::Release {
                zone: site[*zone].name.clone(),
            },
            Asked::ReleaseAll => Request::ReleaseAll {},
            Asked::ForceAll(lit, until) => Request::ForceAll {
                lit: *lit,
                until: until.clone(),
            },
            Asked::Force(zone, lit, until) => Request::Force {
                zone: site[*zone].name.clone(),
                lit: *lit,
                until: until.clone(),
            },
        }
    }
}
