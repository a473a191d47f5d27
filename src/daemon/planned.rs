//! The plan around an instant, as the controller asks it.

use std::ops::Range;

use chrono::{DateTime, Days, Utc};

use crate::almanac::AlmanacError;
use crate::link::FollowingByMonth;
use crate::schedule::{Evening, Reason, Row, plan};
use crate::site::{Site, ZoneId};

/// What the plan says of a zone at an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Lit, or dark.
    pub lit: bool,
    /// The rule that made it so; `None` if the plan begins and ends dark.
    pub why: Option<Reason>,
    /// Since when, if it changed within the plan.
    pub since: Option<DateTime<Utc>>,
    /// Until when, if it changes within the plan.
    pub until: Option<DateTime<Utc>>,
}

/// The plan of the evening at hand and of those beside it.
#[derive(Debug, Clone)]
pub struct Planned {
    /// Lit rows of every zone, in the order of their times, and when each ends.
    lit: Vec<Vec<(Row, Range<DateTime<Utc>>)>>,
    /// Why a zone is dark the whole evening at hand, if it is.
    dark: Vec<Option<Reason>>,
    /// It is good for this time.
    covers: Range<DateTime<Utc>>,
    /// The last evening that it knows ends then.
    reaches: DateTime<Utc>,
}

impl Planned {
    /// Plans around an instant.
    ///
    /// # Errors
    /// If it lies outside the years of the almanac.
    pub fn around(
        site: &Site,
        utc: DateTime<Utc>,
        following: &[FollowingByMonth],
    ) -> Result<Self, AlmanacError> {
        let evening = Evening::at(site, utc);
        let evenings = evening.date - Days::new(1)..=evening.date + Days::new(2);
        let mut lit = vec![Vec::new(); site.zones.len()];
        let mut dark = vec![None; site.zones.len()];
        for row in plan(site, evenings, following)?.rows {
            match row.on.zip(row.lit_until(site)) {
                Some((on, off)) => lit[row.zone.0].push((row, on..off)),
                None if row.evening == evening.date => dark[row.zone.0] = Some(row.why_on),
                None => {}
            }
        }
        Ok(Self {
            lit,
            dark,
            covers: evening.begins..evening.ends,
            reaches: Evening::of(site, evening.date + Days::new(2)).ends,
        })
    }

    /// Whether it is good for an instant.
    pub fn covers(&self, utc: DateTime<Utc>) -> bool {
        self.covers.contains(&utc)
    }

    /// Of what is later it says nothing.
    pub fn reaches(&self) -> DateTime<Utc> {
        self.reaches
    }

    /// What it says of a zone.
    pub fn at(&self, zone: ZoneId, utc: DateTime<Utc>) -> Stretch {
        let rows = &self.lit[zone.0];
        if let Some((row, lit)) = rows.iter().find(|(_, lit)| lit.contains(&utc)) {
            return Stretch {
                lit: true,
                why: Some(row.why_on),
                since: Some(lit.start),
                until: Some(lit.end),
            };
        }
        let last = rows.iter().rev().find(|(_, lit)| lit.end <= utc);
        let next = rows.iter().find(|(_, lit)| lit.start > utc);
        Stretch {
            lit: false,
            why: self.dark[zone.0].or(last.map(|(row, _)| row.why_off)),
            since: last.map(|(_, lit)| lit.end),
            until: next.map(|(_, lit)| lit.start),
        }
    }

    /// The lit rows of a zone, and when each is lit.
    pub fn rows(&self, zone: ZoneId) -> &[(Row, Range<DateTime<Utc>>)] {
        &self.lit[zone.0]
    }

    /// When it next switches a zone, a window that goes on where another ends not counted, nor the end of what is
    /// planned.
    pub fn next_change(&self, zone: ZoneId, utc: DateTime<Utc>) -> Option<DateTime<Utc>> {
        let mut stretch = self.at(zone, utc);
        let lit = stretch.lit;
        while let Some(until) = stretch.until {
            stretch = self.at(zone, until);
            if stretch.lit != lit {
                return Some(until).filter(|until| *until < self.reaches);
            }
        }
        None
    }
}
