//! When lights go on or off, as written in the site file: a clock time, a sun event, or an event with an
//! offset.

use chrono::NaiveTime;

use crate::almanac::SunEvent;

use super::fault::{Fault, listed, nearest};
use super::quantity::{Quantity, TimeSpan};

/// Longest offset from a sun event [s]: half a day; beyond that it would belong to another evening.
const LONGEST_OFFSET_S: f64 = 12.0 * 3600.0;

/// A moment of an evening.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Moment {
    Clock(NaiveTime),
    /// A passage of the sun, and seconds after it (negative: before).
    Sun {
        mark: SunMark,
        offset_s: i32,
    },
}

/// A passage of the sun.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SunMark {
    Event(SunEvent),
    /// The sun's centre at this airless altitude [°]: setting where lights go on, rising where
    /// they go off.
    Altitude(f64),
}

/// The substitute on nights without the twilight asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoTwilight {
    /// Sunset (or sunrise, for a dawn).
    Sunset,
    /// No lights that night.
    Skip,
    /// Go on at this clock time.
    Clock(NaiveTime),
}

/// Reads `"21:30"`, `"civil_dusk - 10 min"` or `"sun -3.5 deg"`.
pub fn parse_moment(text: &str) -> Result<Moment, Fault> {
    let text = text.trim();
    if text.starts_with(|c: char| c.is_ascii_digit()) {
        return parse_clock(text).map(Moment::Clock);
    }
    let word_end = text
        .find(|c: char| !(c.is_ascii_alphanumeric() || c == '_'))
        .unwrap_or(text.len());
    let (word, rest) = text.split_at(word_end);
    let (mark, rest) = if word == "sun" {
        parse_altitude(text, rest)?
    } else {
        (SunMark::Event(parse_event(word, text)?), rest)
    };
    let offset_s = parse_offset(text, rest)?;
    Ok(Moment::Sun { mark, offset_s })
}

fn parse_event(word: &str, text: &str) -> Result<SunEvent, Fault> {
    let names = || SunEvent::ALL.iter().map(|event| event.name());
    if let Some(event) = SunEvent::ALL.into_iter().find(|event| event.name() == word) {
        return Ok(event);
    }
    let remedy = match nearest(word, names()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!(
            "it takes a clock time such as `21:30`, {} or `sun -3.5 deg`",
            listed(names(), "or").replace(" or ", ", ")
        ),
    };
    Err(Fault::new(
        format!("`{text}` is not a moment of the day"),
        remedy,
    ))
}

fn parse_altitude<'a>(text: &str, rest: &'a str) -> Result<(SunMark, &'a str), Fault> {
    let shape = || {
        Fault::new(
            format!("`{text}` does not say how high the sun stands"),
            "write its altitude in degrees, below the horizon negative: `sun -3.5 deg`",
        )
    };
    let (number, after) = rest.split_once("deg").ok_or_else(shape)?;
    // "- 3.5" and "-3.5" are the same altitude.
    let altitude: f64 = number.replace(' ', "").parse().map_err(|_| shape())?;
    if !(-90.0..=90.0).contains(&altitude) {
        return Err(Fault::new(
            format!("the sun never stands at {altitude} degrees"),
            "write an altitude between -90 and 90 degrees",
        ));
    }
    Ok((SunMark::Altitude(altitude), after))
}

fn parse_offset(text: &str, rest: &str) -> Result<i32, Fault> {
    let rest = rest.trim();
    if rest.is_empty() {
        return Ok(0);
    }
    let (sign, span) = match (rest.strip_prefix('+'), rest.strip_prefix(['-', '−'])) {
        (Some(span), _) => (1.0, span),
        (_, Some(span)) => (-1.0, span),
        _ => {
            return Err(Fault::new(
                format!("`{text}`: `{rest}` is not an offset"),
                "write `+ 15 min` or `- 10 min` after the event",
            ));
        }
    };
    let span = span.trim();
    if span.parse::<f64>().is_ok() {
        return Err(Fault::new(
            format!("`{text}` has no unit after `{span}`"),
            format!("write `{text} min` or `{text} h`"),
        ));
    }
    let seconds = sign * TimeSpan::parse(span)?.si();
    if seconds.abs() > LONGEST_OFFSET_S {
        return Err(Fault::new(
            format!("`{text}` is more than 12 hours from the event"),
            "use a clock time, or an event nearer to the hour you mean",
        ));
    }
    #[expect(
        clippy::cast_possible_truncation,
        reason = "at most half a day of seconds"
    )]
    let whole = seconds.round() as i32;
    Ok(whole)
}

/// Reads `"21:30"`.
pub fn parse_clock(text: &str) -> Result<NaiveTime, Fault> {
    let text = text.trim();
    if text == "24:00" {
        return Err(Fault::new(
            "`24:00` is not a time of day",
            "write midnight as `00:00`",
        ));
    }
    let lower = text.to_ascii_lowercase();
    if let Some(half) = ["am", "pm", "a.m.", "p.m."]
        .iter()
        .find(|half| lower.ends_with(**half))
    {
        let spoken = lower.trim_end_matches(half).trim_end();
        let (hour, minute) = spoken.split_once([':', '.']).unwrap_or((spoken, "00"));
        let hour = hour
            .parse::<u32>()
            .ok()
            .filter(|hour| (1..=12).contains(hour));
        let minute = minute.parse::<u32>().ok().filter(|minute| *minute < 60);
        let remedy = match hour.zip(minute) {
            Some((hour, minute)) => {
                let noon = if half.starts_with('p') { 12 } else { 0 };
                format!("write `{:02}:{minute:02}`", hour % 12 + noon)
            }
            None => "write `21:30` for half past nine in the evening".into(),
        };
        return Err(Fault::new(
            format!("`{text}` is not on the 24-hour clock"),
            remedy,
        ));
    }
    let wrong = || {
        Fault::new(
            format!("`{text}` is not a time of day"),
            "write hours and minutes, as in `21:30`",
        )
    };
    let (hour, minute) = text.split_once(':').ok_or_else(wrong)?;
    let digits = |part: &str, longest: usize| {
        let good = (1..=longest).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
        if good { part.parse::<u32>().ok() } else { None }
    };
    let (hour, minute) = match (digits(hour, 2), digits(minute, 2)) {
        (Some(hour), Some(minute_value)) if minute.len() == 2 => (hour, minute_value),
        _ => return Err(wrong()),
    };
    NaiveTime::from_hms_opt(hour, minute, 0).ok_or_else(|| {
        Fault::new(
            format!("`{text}` is not a time of day"),
            "a day runs from `00:00` to `23:59`",
        )
    })
}

/// Reads `"sunset"`, `"skip"` or `"22:00"`.
pub fn parse_no_twilight(text: &str) -> Result<NoTwilight, Fault> {
    match text.trim() {
        "sunset" => Ok(NoTwilight::Sunset),
        "skip" => Ok(NoTwilight::Skip),
        other if other.starts_with(|c: char| c.is_ascii_digit()) => {
            parse_clock(other).map(NoTwilight::Clock)
        }
        other => Err(Fault::new(
            format!("`{other}` cannot stand in for a twilight"),
            match nearest(other, ["sunset", "skip"]) {
                Some(near) => format!("did you mean `{near}`?"),
                None => "it takes `sunset`, `skip` or a clock time such as `22:00`".into(),
            },
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clock(hour: u32, minute: u32) -> NaiveTime {
        NaiveTime::from_hms_opt(hour, minute, 0).unwrap()
    }

    #[test]
    fn every_form_of_a_moment_is_read() {
        let sun = |mark, offset_s| Moment::Sun { mark, offset_s };
        let cases = [
            ("21:30", Moment::Clock(clock(21, 30))),
            ("5:30", Moment::Clock(clock(5, 30))),
            ("civil_dusk", sun(SunMark::Event(SunEvent::CivilDusk), 0)),
            (
                "sunset + 15 min",
                sun(SunMark::Event(SunEvent::Sunset), 900),
            ),
            (
                "civil_dusk - 10 min",
                sun(SunMark::Event(SunEvent::CivilDusk), -600),
            ),
            ("sunrise-1 h", sun(SunMark::Event(SunEvent::Sunrise), -3600)),
            ("sun -3.5 deg", sun(SunMark::Altitude(-3.5), 0)),
            ("sun -3.5 deg + 5 min", sun(SunMark::Altitude(-3.5), 300)),
        ];
        for (text, moment) in cases {
            assert_eq!(parse_moment(text), Ok(moment), "{text}");
        }
    }

    #[test]
    fn what_is_not_a_moment_says_what_would_be() {
        let cases = [
            ("civil_dsk", "did you mean `civil_dusk`?"),
            ("24:00", "write midnight as `00:00`"),
            ("9:30 pm", "write `21:30`"),
            ("12:05 AM", "write `00:05`"),
            ("6 p.m.", "write `18:00`"),
            ("21:5", "write hours and minutes, as in `21:30`"),
            ("25:10", "a day runs from `00:00` to `23:59`"),
            (
                "sun low",
                "write its altitude in degrees, below the horizon negative: `sun -3.5 deg`",
            ),
            (
                "sunset 15 min",
                "write `+ 15 min` or `- 10 min` after the event",
            ),
            ("sunset + 15", "write `sunset + 15 min` or `sunset + 15 h`"),
            (
                "sunset + 13 h",
                "use a clock time, or an event nearer to the hour you mean",
            ),
        ];
        for (text, remedy) in cases {
            assert_eq!(parse_moment(text).unwrap_err().remedy, remedy, "{text}");
        }
    }
}
