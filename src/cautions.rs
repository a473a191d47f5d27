//! The usual cautions: what could hurt people or damage parts. Each gives the number, the limit, the place and
//! the cure.
//!
//! Codes are stable, so scripts may rely on them. STOP forbids a "go", WARN caps it at "caution", NOTE informs.
//! Where the file leaves something out, the caution says "not stated" and never takes it for a no.

use std::fmt;

use chrono::NaiveDate;

use crate::almanac::AlmanacError;
use crate::link::FollowingByMonth;
use crate::link::{LinkJudgement, Verdict};
use crate::site::{LinkId, Site, SupplyId, ZoneId};

mod board;
mod fuse;
mod laid;
mod lamps;
mod links;
mod reason;
mod supplies;
mod times;

pub(crate) use fuse::fuse_caution;
pub(crate) use reason::reason_text;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// For information.
    Note,
    /// Works, with a warning.
    Warn,
    /// Does not work, or must not be built.
    Stop,
}

impl Level {
    /// The name that the JSON and the sheet use.
    pub fn name(self) -> &'static str {
        match self {
            Self::Note => "NOTE",
            Self::Warn => "WARN",
            Self::Stop => "STOP",
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    Site,
    Supply(SupplyId),
    Zone(ZoneId),
    Link(LinkId),
}

impl Place {
    /// The name that the JSON and the sheet use.
    pub fn say(self, site: &Site) -> String {
        match self {
            Self::Site => "site".into(),
            Self::Supply(id) => format!("supply {}", site[id].name),
            Self::Zone(id) => format!("zone {}", site[id].name),
            Self::Link(id) => format!("link {}", site.link_name(&site[id])),
        }
    }
}

#[derive(Debug, Clone, PartialEq)]
pub struct Caution {
    pub code: Code,
    pub level: Level,
    pub place: Place,
    /// The computed figure, the limit with its source, and the cure.
    pub text: String,
}

/// Stable codes, in the order in which they are printed: by what hurts most when wrong. `Code::about` says what each means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Code {
    S02,
    S03,
    S04,
    S05,
    S10,
    S06,
    S07,
    S08,
    S09,
    S27,
    S32,
    S18,
    S51,
    S19,
    S21,
    S39,
    S22,
    S23,
    S37,
    S38,
    S20,
    S48,
    S26,
    S29,
    S28,
    S41,
    S42,
    S43,
    S49,
    S50,
    S17,
}

impl Code {
    /// Every code, in printed order.
    pub const ALL: [Self; 31] = [
        Self::S02,
        Self::S03,
        Self::S04,
        Self::S05,
        Self::S10,
        Self::S06,
        Self::S07,
        Self::S08,
        Self::S09,
        Self::S27,
        Self::S32,
        Self::S18,
        Self::S51,
        Self::S19,
        Self::S21,
        Self::S39,
        Self::S22,
        Self::S23,
        Self::S37,
        Self::S38,
        Self::S20,
        Self::S48,
        Self::S26,
        Self::S29,
        Self::S28,
        Self::S41,
        Self::S42,
        Self::S43,
        Self::S49,
        Self::S50,
        Self::S17,
    ];

    pub fn about(self) -> &'static str {
        match self {
            Self::S02 => "outside extra-low voltage",
            Self::S03 => "contact that might switch mains",
            Self::S04 => "desktop-PC supply outdoors",
            Self::S05 => "outdoor mains outlet without 30 mA protection",
            Self::S06 => "trunk without a fuse at its supply",
            Self::S07 => "more than 25 A without a fuse of 25 A or less",
            Self::S08 => "pair without a fuse at the tapping point",
            Self::S09 => "fuse does not see a far-end short",
            Self::S10 => "fuse does not fit load or wire",
            Self::S17 => "earthed 12 V minus",
            Self::S18 => "zone holds itself on",
            Self::S19 => "relay does not pull in",
            Self::S20 => "thin margin",
            Self::S21 => "relay may never let go",
            Self::S22 => "coil over-voltage",
            Self::S23 => "capacitor voltage too low",
            Self::S26 => "contact load below its minimum",
            Self::S27 => "lamp outside its rating",
            Self::S28 => "dim at the end of the trunk",
            Self::S29 => "supply loading",
            Self::S32 => "shallow cable",
            Self::S37 => "diode outside its rating",
            Self::S38 => "what a GPIO line bears",
            Self::S39 => "lit while nothing drives the line",
            Self::S41 => "place and time zone disagree",
            Self::S42 => "nights without the chosen twilight",
            Self::S43 => "lit inside the curfew",
            Self::S48 => "hot resistor",
            Self::S49 => "evenings that end before they begin",
            Self::S50 => "relay buzzes or chatters",
            Self::S51 => "zone on a supply that sleeps without it",
        }
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self:?}")
    }
}

/// All cautions of a yard, worst first. `judgements` are in the order of [`Site::links`]; nights are looked at
/// for a year from `from`.
///
/// # Errors
/// If that year lies outside the almanac.
pub fn cautions(
    site: &Site,
    judgements: &[LinkJudgement],
    from: NaiveDate,
) -> Result<Vec<Caution>, AlmanacError> {
    let mut list = supplies::cautions(site);
    list.extend(lamps::cautions(site));
    list.extend(board::cautions(site));
    list.extend(laid::cautions(site));
    for (index, judgement) in judgements.iter().enumerate() {
        list.extend(links::cautions(site, LinkId(index), judgement));
    }
    let following: Vec<FollowingByMonth> = judgements
        .iter()
        .map(|judgement| judgement.following)
        .collect();
    list.extend(times::cautions(site, &following, from)?);
    list.sort_by(|a, b| (b.level, a.code, a.place).cmp(&(a.level, b.code, b.place)));
    Ok(list)
}

/// The verdict that a set of cautions allows.
pub fn verdict<'a>(cautions: impl IntoIterator<Item = &'a Caution>) -> Verdict {
    let worst = cautions.into_iter().map(|caution| caution.level).max();
    match worst {
        Some(Level::Stop) => Verdict::NoGo,
        Some(Level::Warn) => Verdict::Caution,
        Some(Level::Note) | None => Verdict::Go,
    }
}

/// Collects the cautions of one place.
struct Notes {
    place: Place,
    list: Vec<Caution>,
}

impl Notes {
    fn at(place: Place) -> Self {
        Self {
            place,
            list: Vec::new(),
        }
    }

    fn add(&mut self, code: Code, level: Level, text: impl Into<String>) {
        self.list.push(Caution {
            code,
            level,
            place: self.place,
            text: text.into(),
        });
    }
}
