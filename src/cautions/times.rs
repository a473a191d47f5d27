//! Cautions of place and schedule: S41, S42, S43, S49.

use chrono::{Datelike, Days, NaiveDate, TimeDelta, Timelike};

use crate::almanac::{AlmanacError, Half, Occurrence, SunEvent, SunTable};
use crate::link::FollowingByMonth;
use crate::schedule::{Evening, Reason, Row, clock, plan};
use crate::site::{Moment, NoTwilight, Off, Site, SunMark, Switching, Window, ZoneId};

use super::{Caution, Code, Level, Notes, Place};

/// Largest believable difference between a zone's clock and the sun [h]; beyond it, one of them is doubted
/// (western China has 3).
const DOUBTFUL_H: f64 = 3.0;

pub(super) fn cautions(
    site: &Site,
    following: &[FollowingByMonth],
    from: NaiveDate,
) -> Result<Vec<Caution>, AlmanacError> {
    let to = from + Days::new(364);
    let mut list = whereabouts(site, from)?;
    let plan = plan(site, from..=to, following)?;
    let mut bright = Bright {
        site,
        from,
        table: SunTable::for_dates(from..=to + Days::new(1))?,
        known: Vec::new(),
    };
    for (index, zone) in site.zones.iter().enumerate() {
        let id = ZoneId(index);
        let mut notes = Notes::at(Place::Zone(id));
        let rows = || plan.rows.iter().filter(move |row| row.zone == id);
        if let Switching::Timed(windows) = &zone.switching {
            twilight(windows, &mut bright, &mut notes)?;
            never_begun(rows(), &mut notes);
        } else if !site.outputs.iter().any(|output| output.zone == id) {
            curfew(site, id, rows(), &mut notes);
        }
        list.extend(notes.list);
    }
    Ok(list)
}

/// Evenings that a timed zone stays dark because its rules end the light before they begin it.
fn never_begun<'a>(rows: impl Iterator<Item = &'a Row>, notes: &mut Notes) {
    let mut evenings = 0;
    let mut empty: Vec<NaiveDate> = Vec::new();
    let rows: Vec<&Row> = rows.collect();
    for rows in rows.chunk_by(|a, b| a.evening == b.evening) {
        evenings += 1;
        let ends_first = |row: &&Row| {
            matches!(
                row.why_on,
                Reason::OffBeforeOn { .. } | Reason::CurfewFirst(_)
            )
        };
        if rows.iter().all(|row| row.on.is_none()) && rows.iter().any(ends_first) {
            empty.push(rows[0].evening);
        }
    }
    let (Some(first), Some(last)) = (empty.first(), empty.last()) else {
        return;
    };
    let (level, said) = if empty.len() == evenings {
        (Level::Warn, "it is never lit".to_owned())
    } else {
        let said = format!("dark on {} evenings, {first} to {last}", empty.len());
        (Level::Note, said)
    };
    notes.add(
        Code::S49,
        level,
        format!("{said}: its off time or curfew comes before its on time. Look at one of them with `plan --date {first}`"),
    );
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
    // Sunset by the clock: after midnight, or in the early afternoon.
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

/// Nights of a year on which the sun stays above an altitude.
struct Bright<'a> {
    site: &'a Site,
    from: NaiveDate,
    table: SunTable,
    known: Vec<(Half, f64, Vec<NaiveDate>)>,
}

impl Bright<'_> {
    fn nights(&mut self, half: Half, altitude_deg: f64) -> Result<&[NaiveDate], AlmanacError> {
        let same = |(at, altitude, _): &(Half, f64, Vec<NaiveDate>)| {
            *at == half && altitude.total_cmp(&altitude_deg).is_eq()
        };
        let index = if let Some(index) = self.known.iter().position(same) {
            index
        } else {
            let mut nights = Vec::new();
            for day in 0..365 {
                let evening = self.from + Days::new(day);
                let date = match half {
                    Half::Evening => evening,
                    Half::Morning => evening + Days::new(1),
                };
                let passage = self
                    .table
                    .day(self.site.place, date)?
                    .passage(half, altitude_deg);
                if passage == Occurrence::StaysAbove {
                    nights.push(evening);
                }
            }
            self.known.push((half, altitude_deg, nights));
            self.known.len() - 1
        };
        Ok(&self.known[index].2)
    }
}

fn twilight(
    windows: &[Window],
    bright: &mut Bright<'_>,
    notes: &mut Notes,
) -> Result<(), AlmanacError> {
    for window in windows {
        let off = match window.off {
            Off::At(moment) => Some(moment),
            Off::For(_) => None,
        };
        for (moment, half) in [(Some(window.on), Half::Evening), (off, Half::Morning)] {
            let Some(Moment::Sun { mark, .. }) = moment else {
                continue;
            };
            let (half, altitude_deg, name) = match mark {
                SunMark::Event(event) => (
                    event.half(),
                    event.altitude_deg(),
                    event.name().replace('_', " "),
                ),
                SunMark::Altitude(degrees) => (half, degrees, format!("the sun at {degrees}°")),
            };
            let edge = match half {
                Half::Evening => SunEvent::Sunset,
                Half::Morning => SunEvent::Sunrise,
            };
            let instead = match window.if_no_twilight {
                _ if mark == SunMark::Event(edge) => "no lights".into(),
                NoTwilight::Skip => "no lights".into(),
                NoTwilight::Clock(time) if half == Half::Evening => {
                    format!("{} stands in", time.format("%H:%M"))
                }
                NoTwilight::Sunset | NoTwilight::Clock(_) => {
                    format!("{} stands in", edge.name())
                }
            };
            let nights = bright.nights(half, altitude_deg)?;
            let (Some(first), Some(last)) = (nights.first(), nights.last()) else {
                continue;
            };
            let whole = usize::try_from((*last - *first).num_days()) == Ok(nights.len() - 1);
            notes.add(
                Code::S42,
                Level::Note,
                format!(
                    "{} nights without {name}, {}{first} to {last}: {instead}",
                    nights.len(),
                    if whole { "" } else { "within " }
                ),
            );
        }
    }
    Ok(())
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
