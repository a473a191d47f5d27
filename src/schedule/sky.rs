//! The sky of each evening: when it gets dark, and when it gets light again.

use std::ops::RangeInclusive;

use chrono::{DateTime, Days, NaiveDate, Utc};

use crate::almanac::{AlmanacError, Half, Occurrence, SunEvent, SunTable};
use crate::site::{Site, SunMark};

use super::evening::{Evening, SunOf};

/// The sky from one noon to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sky {
    pub evening: Evening,
    /// The sun stands above sunset, civil, nautical and astronomical dusk until the first instant, and again
    /// from the second. If it does not sink that low, both are the moment of the lowest sun; if it does not
    /// rise that high, they are the two noons.
    pub brighter: [(DateTime<Utc>, DateTime<Utc>); 4],
}

/// Marks of the sun, from bright to dark, setting and rising.
const MARKS: [(SunEvent, SunEvent); 4] = [
    (SunEvent::Sunset, SunEvent::Sunrise),
    (SunEvent::CivilDusk, SunEvent::CivilDawn),
    (SunEvent::NauticalDusk, SunEvent::NauticalDawn),
    (SunEvent::AstronomicalDusk, SunEvent::AstronomicalDawn),
];

/// The sky of the evenings from the first to the last date.
///
/// # Errors
/// If an evening lies outside the years of the almanac.
pub fn skies(site: &Site, evenings: RangeInclusive<NaiveDate>) -> Result<Vec<Sky>, AlmanacError> {
    let table =
        SunTable::for_dates(*evenings.start() - Days::new(2)..=*evenings.end() + Days::new(3))?;
    let mut evening = Evening::of(site, *evenings.start());
    let mut sun = SunOf::new(site, &table, &evening);
    let mut skies = Vec::new();
    while evening.date <= *evenings.end() {
        sun.turn_to(&evening);
        let lowest = sun.lowest()?;
        let mut brighter = [(evening.begins, evening.ends); 4];
        for ((setting, rising), bright) in MARKS.into_iter().zip(&mut brighter) {
            let at = |occurrence, noon| match occurrence {
                Occurrence::At(at) => at,
                Occurrence::StaysAbove => lowest,
                Occurrence::StaysBelow => noon,
            };
            let sets = sun.passage(SunMark::Event(setting), Half::Evening)?;
            let rises = sun.passage(SunMark::Event(rising), Half::Morning)?;
            *bright = (
                at(sets, evening.begins).clamp(evening.begins, evening.ends),
                at(rises, evening.ends).clamp(evening.begins, evening.ends),
            );
        }
        skies.push(Sky { evening, brighter });
        evening = evening.next(site);
    }
    Ok(skies)
}
