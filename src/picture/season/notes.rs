//! Unusual nights: nights without light, nights of `[[date]]`, nights at risk.

use chrono::{Days, NaiveDate};

use super::Group;
use crate::season::Season;
use crate::site::{Change, Moment, Site, SunMark, Switching, ZoneId};
use crate::text::with_minus;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sort {
    /// Nothing is lit.
    Dark,
    /// Lit at other times than usual.
    Other,
    /// A slave may not follow.
    AtRisk,
}

/// Nights with something in common.
pub(super) struct Note {
    pub(super) sort: Sort,
    pub(super) why: String,
    /// First and last evening of every run, counted from the first of the season.
    pub(super) runs: Vec<(usize, usize)>,
}

impl Note {
    pub(super) fn nights(&self) -> usize {
        self.runs.iter().map(|(first, last)| last - first + 1).sum()
    }

    /// `8 nights without light: dark by [[date]]; 2027-02-13 to 2027-02-20`.
    pub(super) fn said(&self, from: NaiveDate) -> String {
        let nights = match self.nights() {
            1 => "1 night".into(),
            many => format!("{many} nights"),
        };
        let sort = match self.sort {
            Sort::Dark => " without light",
            Sort::Other => " with other times",
            Sort::AtRisk => " at risk",
        };
        let date = |index: usize| from + Days::new(index as u64);
        let span = match (self.runs.first(), self.runs.last()) {
            (Some(&(first, _)), Some(&(_, last))) if first == last => date(first).to_string(),
            (Some(&(first, _)), Some(&(_, last))) if self.runs.len() == 1 => {
                format!("{} to {}", date(first), date(last))
            }
            (Some(&(first, _)), Some(&(_, last))) => {
                format!("between {} and {}", date(first), date(last))
            }
            _ => String::new(),
        };
        format!("{nights}{sort}: {}; {span}", self.why)
    }
}

/// The notes of a group: dark nights first.
pub(super) fn notes(site: &Site, season: &Season, group: &Group) -> Vec<Note> {
    let mut notes: Vec<Note> = Vec::new();
    let lead = group.zones[0];
    let index = |evening: NaiveDate| usize::try_from((evening - season.from).num_days()).ok();
    for row in &season.plan.rows {
        let Some(evening) = index(row.evening) else {
            continue;
        };
        if row.zone == lead && row.on.is_none() && group.lit[evening].is_empty() {
            add(&mut notes, Sort::Dark, row.why_on.kind(site), evening);
        }
    }
    for (evening, why) in other_times(site, season, lead) {
        if !group.lit[evening].is_empty() {
            add(&mut notes, Sort::Other, why, evening);
        }
    }
    for nights in season.nights.iter().flatten() {
        let slave = site[nights.link].slave;
        if group.zones.contains(&slave) {
            let why = format!("{} may fail, see season", site[slave].name);
            for evening in nights.at_risk.iter().filter_map(|at| index(*at)) {
                add(&mut notes, Sort::AtRisk, why.clone(), evening);
            }
        }
    }
    notes
}

/// Evenings on which `[[date]]` changes the times of a timed zone, or of the timed head of its chain.
fn other_times(site: &Site, season: &Season, zone: ZoneId) -> Vec<(usize, String)> {
    let mut head = zone;
    while let Some(master) = site.master_of(head) {
        head = master;
    }
    debug_assert!(matches!(site[head].switching, Switching::Timed(_)));
    let mut nights = Vec::new();
    for exception in &site.exceptions {
        let Change::Moments { on, off } = exception.change else {
            continue;
        };
        if exception.zone.is_some_and(|only| only != head) {
            continue;
        }
        let moments = [("from", on), ("until", off)]
            .map(|(word, moment)| moment.map(|moment| format!("{word} {}", moment_said(moment))));
        let moments: Vec<String> = moments.into_iter().flatten().collect();
        let other = format!("{}, by [[date]]", moments.join(" "));
        let (from, to) = (exception.from.max(season.from), exception.to.min(season.to));
        let mut date = from;
        while date <= to {
            if let Ok(index) = usize::try_from((date - season.from).num_days()) {
                nights.push((index, other.clone()));
            }
            date = date + Days::new(1);
        }
    }
    nights.sort_unstable();
    nights.dedup();
    nights
}

/// `01:30`, `civil dusk + 10 min`, `sun at −3.5°`.
fn moment_said(moment: Moment) -> String {
    let (mark, offset_s) = match moment {
        Moment::Clock(time) => return time.format("%H:%M").to_string(),
        Moment::Sun { mark, offset_s } => (mark, offset_s),
    };
    let name = match mark {
        SunMark::Event(event) => event.name().replace('_', " "),
        SunMark::Altitude(degrees) => with_minus(&format!("sun at {degrees}°")),
    };
    match offset_s {
        0 => name,
        after if after > 0 => format!("{name} + {} min", after / 60),
        before => format!("{name} − {} min", -before / 60),
    }
}

fn add(notes: &mut Vec<Note>, sort: Sort, why: String, evening: usize) {
    let known = notes
        .iter()
        .position(|note| note.sort == sort && note.why == why);
    let at = known.unwrap_or_else(|| {
        notes.push(Note {
            sort,
            why,
            runs: Vec::new(),
        });
        notes.len() - 1
    });
    let note = &mut notes[at];
    match note.runs.last_mut() {
        Some((_, last)) if *last == evening => {}
        Some((_, last)) if *last + 1 == evening => *last = evening,
        _ => note.runs.push((evening, evening)),
    }
}
