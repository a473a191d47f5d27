//! Cautions of place and schedule: S41, S42, S43.

use chrono::{Datelike, Days, NaiveDate, TimeDelta, Timelike};

use crate::almanac::{AlmanacError, Occurrence, SunEvent, SunTable};
use crate::schedule::{Evening, Reason, Row, clock, plan};
use crate::site::{Site, Switching, ZoneId};

use super::{Caution, Code, Level, Notes, Place};

/// Hours between a zone's clock and the sun beyond which one of them is doubted (China's west has 3).
const DOUBTFUL_H: f64 = 3.0;

pub(super) fn cautions(site: &Site, from: NaiveDate) -> Result<Vec<Caution>, AlmanacError> {
    let to = from + Days::new(364);
    let mut list = whereabouts(site, from)?;
    let plan = plan(site, from..=to, &crate::chain::following(site))?;
    for (index, zone) in site.zones.iter().enumerate() {
        let id = ZoneId(index);
        let mut notes = Notes::at(Place::Zone(id));
        let rows = || plan.rows.iter().filter(move |row| row.zone == id);
        if matches!(zone.switching, Switching::Timed(_)) {
            twilight(site, rows(), &mut notes);
        } else if !site.outputs.iter().any(|output| output.zone == id) {
            curfew(site, id, rows(), &mut notes);
        }
        list.extend(notes.list);
    }
    Ok(list)
}

fn whereabouts(site: &Site, from: NaiveDate) -> Result<Vec<Caution>, AlmanacError> {
    let mut notes = Notes::at(Place::Site);
    let noon = Evening::of(site, from).begins;
    let offset_h = f64::from(site.timezone.offset_at(noon).utc_offset_s) / 3600.0;
    let ahead_h = offset_h - site.place.longitude_deg() / 15.0;
    let ahead_h = ahead_h - 24.0 * (ahead_h / 24.0).round();
    if ahead_h.abs() > DOUBTFUL_H {
        notes.add(
            Code::S41,
            Level::Note,
            format!(
                "the clocks of {} are {:.1} h {} the sun at longitude {}: check the sign of the longitude, and the zone",
                site.timezone.name(),
                ahead_h.abs(),
                if ahead_h > 0.0 { "ahead of" } else { "behind" },
                site.place.longitude_deg()
            ),
        );
        return Ok(notes.list);
    }
    // The sunset of an evening by the clock: after midnight, or in the early afternoon.
    let table = SunTable::for_dates(from..=from + Days::new(364))?;
    let mut odd = None;
    for day in 0..365 {
        let date = from + Days::new(day);
        if let Occurrence::At(sunset) = table.day(site.place, date)?.event(SunEvent::Sunset) {
            let hour = site.timezone.to_local(sunset).hour();
            if hour < 13 {
                odd = odd.or(Some(sunset));
            }
        }
    }
    if let Some(sunset) = odd {
        notes.add(
            Code::S41,
            Level::Note,
            format!(
                "sunset comes at {} on {}: if that cannot be, check longitude and time zone",
                clock(&site.timezone, sunset),
                site.timezone.to_local(sunset).date()
            ),
        );
    }
    Ok(notes.list)
}

/// What happens on nights without a twilight, without the hour of any one of them.
fn stand_in(why: Reason, site: &Site) -> String {
    let said = match why {
        Reason::Instead {
            of,
            mut mark,
            offset_s,
        } => {
            mark.at = None;
            Reason::Instead { of, mark, offset_s }.say(site)
        }
        other => other.kind(site),
    };
    said.strip_suffix(" tonight").unwrap_or(&said).to_owned()
}

fn twilight<'a>(site: &Site, rows: impl Iterator<Item = &'a Row>, notes: &mut Notes) {
    let mut nights: Vec<NaiveDate> = Vec::new();
    let mut said = String::new();
    for row in rows {
        let missing = [row.why_on, row.why_off]
            .into_iter()
            .find(|why| why.missing().is_some());
        if let Some(why) = missing
            && nights.last() != Some(&row.evening)
        {
            nights.push(row.evening);
            said = stand_in(why, site);
        }
    }
    let (Some(first), Some(last)) = (nights.first(), nights.last()) else {
        return;
    };
    let span = if usize::try_from((*last - *first).num_days()) == Ok(nights.len() - 1) {
        format!("{first} to {last}")
    } else {
        format!("within {first} to {last}")
    };
    notes.add(
        Code::S42,
        Level::Note,
        format!(
            "{} nights without the chosen twilight, {span}: {said}",
            nights.len()
        ),
    );
}

fn curfew<'a>(site: &Site, id: ZoneId, rows: impl Iterator<Item = &'a Row>, notes: &mut Notes) {
    let Some(time) = site[id].curfew else { return };
    let mut nights = 0;
    let mut latest: Option<(TimeDelta, &Row)> = None;
    for row in rows {
        let evening = Evening::of(site, row.evening);
        let (Some(_), off) = (row.on, row.off.unwrap_or(evening.ends)) else {
            continue;
        };
        let over = off - evening.clock(site, time);
        if over > TimeDelta::zero() {
            nights += 1;
            if latest.is_none_or(|(most, _)| over > most) {
                latest = Some((over, row));
            }
        }
    }
    let Some((_, row)) = latest else { return };
    let until = row.off.map_or_else(
        || "all night".into(),
        |off| format!("until {}", clock(&site.timezone, off)),
    );
    notes.add(
        Code::S43,
        Level::Warn,
        format!(
            "lit {until} on {nights} nights of the year from {}, its curfew is {}; a relay cannot know the hour: end its master sooner, or give it an [[output]]",
            row.evening.year(),
            time.format("%H:%M")
        ),
    );
}
