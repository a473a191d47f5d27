//! What to vary, in the words of the command line: `length=20..200m`, `relay=r400,r720`.
//!
//! ```text
//! length=20..200m          ends and round steps between them, about ten values
//! length=20..200m/4        four values, evenly spaced
//! length=60,120,240ft      these
//! relay=all, wire=18AWG,20AWG     things, in the order given
//! capacitor=47..470uF      the values that are sold
//! ```

use std::fmt;

use crate::circuit::rectifier::Rectifier;
use crate::site::{Fault, Link, Site, listed, nearest, parse_gauge};

use super::Setting;
use super::parameter::{Parameter, Scale};
use super::range::{as_sold, cleaned, evenly, roundly};

/// Most values of an axis.
const MOST_VALUES: usize = 200;

/// The values of an axis.
#[derive(Debug, Clone, PartialEq)]
pub enum Points {
    /// In rising order, in the unit of the axis.
    Numbers(Vec<f64>),
    /// Named, in the order given.
    Things(Vec<(String, Setting)>),
}

#[derive(Debug, Clone, PartialEq)]
pub struct Variation {
    pub parameter: Parameter,
    /// The unit of its numbers, as site files spell it; empty if it has none.
    pub unit: &'static str,
    pub points: Points,
}

impl Variation {
    /// Reads `length=20..200m` for a link.
    ///
    /// # Errors
    /// If the words are not understood, or the link has no such part.
    pub fn parse(site: &Site, link: &Link, text: &str) -> Result<Self, Fault> {
        let (name, values) = text.split_once('=').unwrap_or((text, ""));
        let (name, values) = (name.trim(), values.trim());
        let names = || Parameter::ALL.map(Parameter::name);
        let Some(parameter) = Parameter::ALL.into_iter().find(|it| it.name() == name) else {
            return Err(Fault::new(
                format!("`{name}` is nothing that can be varied"),
                match nearest(name, names()) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("it takes {}", listed(names(), "or")),
                },
            ));
        };
        if values.is_empty() {
            return Err(Fault::new(
                format!("`{name}` has no values"),
                format!("write `{}`", parameter.example()),
            ));
        }
        parameter.fits(site, link)?;
        let Some(scale) = parameter.scale() else {
            return Ok(Self {
                parameter,
                unit: "",
                points: Points::Things(things(site, parameter, values)?),
            });
        };
        if parameter == Parameter::Capacitor
            && values.split(',').any(|value| value.trim() == "none")
        {
            return Ok(Self {
                parameter,
                unit: "",
                points: Points::Things(capacitors(values, &scale)?),
            });
        }
        let (numbers, unit) = numbers(parameter, values, &scale)?;
        Ok(Self {
            parameter,
            unit,
            points: Points::Numbers(numbers),
        })
    }

    #[expect(clippy::len_without_is_empty, reason = "an axis is never empty")]
    pub fn len(&self) -> usize {
        match &self.points {
            Points::Numbers(numbers) => numbers.len(),
            Points::Things(things) => things.len(),
        }
    }

    /// Its values, if they are numeric.
    pub fn numbers(&self) -> Option<&[f64]> {
        match &self.points {
            Points::Numbers(numbers) => Some(numbers),
            Points::Things(_) => None,
        }
    }

    /// A numeric value of this axis in SI units.
    pub fn si(&self, value: f64) -> f64 {
        self.parameter
            .scale()
            .and_then(|scale| (scale.convert)(value, self.unit))
            .unwrap_or(value)
    }

    /// The setting for one of its values.
    pub(super) fn setting(&self, index: usize) -> Setting {
        match &self.points {
            Points::Numbers(numbers) => self.setting_at(numbers[index]),
            Points::Things(things) => things[index].1.clone(),
        }
    }

    /// The setting for any number in its unit.
    pub(super) fn setting_at(&self, value: f64) -> Setting {
        self.parameter.setting(self.si(value))
    }
}

/// The parts of a list; none may be empty.
fn parts(parameter: Parameter, values: &str) -> Result<Vec<&str>, Fault> {
    let parts: Vec<&str> = values.split(',').map(str::trim).collect();
    if parts.contains(&"") {
        return Err(Fault::new(
            format!("`{values}` has an empty place"),
            format!(
                "write values with commas between them, as in `{}`",
                parameter.example()
            ),
        ));
    }
    if parts.len() > MOST_VALUES {
        return Err(too_many(parts.len()));
    }
    Ok(parts)
}

fn too_many(count: impl fmt::Display) -> Fault {
    Fault::new(
        format!("{count} values are too many for an axis"),
        format!("take {MOST_VALUES} at most"),
    )
}

fn things(
    site: &Site,
    parameter: Parameter,
    values: &str,
) -> Result<Vec<(String, Setting)>, Fault> {
    if values.contains("..") {
        return Err(Fault::new(
            format!("`{parameter}` takes a list, not a range"),
            format!("write `{}`", parameter.example()),
        ));
    }
    let all = values == "all";
    let parts = parts(parameter, values)?;
    match parameter {
        Parameter::Relay if all => Ok(site.relays.iter().map(relay).collect()),
        Parameter::Relay => parts
            .into_iter()
            .map(|name| {
                let found = site.relays.iter().find(|relay| relay.name == name);
                found.map(relay).ok_or_else(|| {
                    let names = || site.relays.iter().map(|relay| relay.name.as_str());
                    Fault::new(
                        format!("there is no relay called `{name}`"),
                        match nearest(name, names()) {
                            Some(near) => format!("did you mean `{near}`?"),
                            None => format!("the site file has {}", listed(names(), "and")),
                        },
                    )
                })
            })
            .collect(),
        Parameter::Rectifier => {
            const WORDS: [(&str, Rectifier); 3] = [
                ("bridge", Rectifier::Bridge),
                ("single-diode", Rectifier::SingleDiode),
                ("none", Rectifier::None),
            ];
            let words = || WORDS.map(|(word, _)| word);
            let parts = if all { words().to_vec() } else { parts };
            parts
                .into_iter()
                .map(|name| {
                    let found = WORDS.iter().find(|(word, _)| *word == name);
                    found
                        .map(|(word, kind)| ((*word).to_owned(), Setting::Rectifier(*kind)))
                        .ok_or_else(|| {
                            Fault::new(
                                format!("`{name}` is not a rectifier"),
                                match nearest(name, words()) {
                                    Some(near) => format!("did you mean `{near}`?"),
                                    None => format!("it takes {}", listed(words(), "or")),
                                },
                            )
                        })
                })
                .collect()
        }
        _ => {
            if all {
                return Err(Fault::new(
                    "`all` sizes of wire are more than anybody has",
                    format!("name some, as in `{}`", parameter.example()),
                ));
            }
            // `18,20,22AWG`: the last unit counts for all.
            let unit = ["AWG", "awg", "mm2", "mm²"]
                .into_iter()
                .find(|unit| values.ends_with(unit));
            parts
                .into_iter()
                .map(|part| {
                    let bare = part.chars().all(|c| c.is_ascii_digit() || c == '.');
                    let whole = match unit {
                        Some(unit) if bare => format!("{part} {unit}"),
                        _ => part.to_owned(),
                    };
                    let gauge = parse_gauge(&whole)?;
                    Ok((gauge.to_string(), Setting::Wire(gauge)))
                })
                .collect()
        }
    }
}

fn relay(relay: &crate::site::Relay) -> (String, Setting) {
    (relay.name.clone(), Setting::Relay(Box::new(relay.clone())))
}

/// A list of capacitors with `none` among them.
fn capacitors(values: &str, scale: &Scale) -> Result<Vec<(String, Setting)>, Fault> {
    parts(Parameter::Capacitor, values)?
        .into_iter()
        .map(|part| {
            if part == "none" {
                return Ok(("none".to_owned(), Setting::Capacitor(None)));
            }
            let (value, unit) = number(part, unit_of(values), scale)?;
            let farad = (scale.convert)(value, unit).unwrap_or_default();
            within(Parameter::Capacitor, part, farad, scale)?;
            Ok((format!("{value} {unit}"), Setting::Capacitor(Some(farad))))
        })
        .collect()
}

/// What follows the last digit of a text: the unit that counts for all.
fn unit_of(text: &str) -> &str {
    text.rfind(|c: char| c.is_ascii_digit() || c == '.')
        .map_or("", |at| text[at + 1..].trim())
}

/// A value, and the unit it is in: its own, else `unit`.
fn number(part: &str, unit: &str, scale: &Scale) -> Result<(f64, &'static str), Fault> {
    let bare = unit_of(part).is_empty();
    let whole = if bare && !unit.is_empty() {
        format!("{part} {unit}")
    } else {
        part.to_owned()
    };
    let si = (scale.parse)(&whole).map_err(|fault| Fault {
        remedy: fault.remedy.replace(['"'], ""),
        ..fault
    })?;
    let unit = scale
        .units
        .iter()
        .map(|(unit, _)| *unit)
        .filter(|unit| whole.trim_end().ends_with(unit))
        .max_by_key(|unit| unit.len())
        .unwrap_or(scale.units[0].0);
    Ok((in_unit(si, unit, scale), unit))
}

/// An SI value in a unit: each unit is a factor and an offset.
fn in_unit(si: f64, unit: &str, scale: &Scale) -> f64 {
    let at = |value| (scale.convert)(value, unit).unwrap_or(value);
    let zero = at(0.0);
    cleaned((si - zero) / (at(1.0) - zero))
}

fn within(parameter: Parameter, said: &str, si: f64, scale: &Scale) -> Result<(), Fault> {
    // A little slack: conversions are not exact.
    let (least, most) = scale.bounds;
    let slack = 1e-9 * (most - least);
    if (least - slack..=most + slack).contains(&si) {
        return Ok(());
    }
    Err(Fault::new(
        format!("{parameter} `{said}` is out of bounds"),
        format!("write {}", scale.said),
    ))
}

/// A list or a range of numbers in rising order, and their unit.
fn numbers(
    parameter: Parameter,
    values: &str,
    scale: &Scale,
) -> Result<(Vec<f64>, &'static str), Fault> {
    let Some((first, rest)) = values.split_once("..") else {
        let shared = unit_of(values);
        let mut numbers = Vec::new();
        let mut shown = None;
        for part in parts(parameter, values)? {
            let (value, unit) = number(part, shared, scale)?;
            let si = (scale.convert)(value, unit).unwrap_or(value);
            within(parameter, part, si, scale)?;
            let shown = *shown.get_or_insert(unit);
            numbers.push(in_unit(si, shown, scale));
        }
        numbers.sort_by(f64::total_cmp);
        numbers.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * b.abs());
        return Ok((numbers, shown.unwrap_or_default()));
    };
    let (last, count) = match rest.split_once('/') {
        None => (rest, None),
        Some((last, count)) => (last, Some(how_many(count.trim())?)),
    };
    let (first, last) = (first.trim(), last.trim());
    if first.is_empty() || last.is_empty() {
        return Err(Fault::new(
            format!("the range `{values}` has one end"),
            format!("write both, as in `{}`", parameter.example()),
        ));
    }
    let (last_value, unit) = number(last, "", scale)?;
    let (first_value, first_unit) = number(first, unit, scale)?;
    let si = |value, unit| (scale.convert)(value, unit).unwrap_or(value);
    let (first_si, last_si) = (si(first_value, first_unit), si(last_value, unit));
    within(parameter, first, first_si, scale)?;
    within(parameter, last, last_si, scale)?;
    let (from, to) = (in_unit(first_si, unit, scale), last_value);
    if from >= to {
        return Err(Fault::new(
            format!("the range `{values}` does not rise"),
            format!(
                "write the smaller value first, as in `{}`",
                parameter.example()
            ),
        ));
    }
    let mut numbers = match (parameter, count) {
        (Parameter::Capacitor, count) => as_sold(from, to, count),
        (_, Some(count)) => evenly(from, to, count),
        (_, None) => roundly(from, to, parameter.is_whole()),
    };
    if parameter.is_whole() {
        for value in &mut numbers {
            *value = value.round();
        }
        numbers.dedup();
    }
    Ok((numbers, unit))
}

fn how_many(count: &str) -> Result<usize, Fault> {
    match count.parse::<usize>() {
        Ok(count) if count > MOST_VALUES => Err(too_many(count)),
        Ok(count) if count >= 2 => Ok(count),
        _ => Err(Fault::new(
            format!("`/{count}` is not how many values to take"),
            "write a whole number from 2 up, as in `length=20..200m/10`",
        )),
    }
}
