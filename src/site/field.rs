//! One value of the site file: its place, and its value or fault.
//!
//! Reading a field never fails, so that a report can list every faulty value of a file at once. `resolve`
//! collects the faults.

use std::borrow::Cow;
use std::ops::Range;

use chrono::{NaiveDate, NaiveTime, Weekday};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer};
use toml::{Spanned, Value};

use crate::circuit::wire::Gauge;

use super::fault::{Fault, listed, nearest};
use super::moment::{Moment, NoTwilight, parse_clock, parse_moment, parse_no_twilight};
use super::quantity::{Capacitance, Current, Length, Quantity, parse_gauge};

/// A value with its place in the file.
#[derive(Debug, Clone)]
pub(crate) struct Field<T> {
    /// Its place in the file [bytes].
    pub(crate) span: Range<usize>,
    /// Its value, or what is wrong with it.
    pub(crate) value: Result<T, Fault>,
}

impl<'de, T: FromValue> Deserialize<'de> for Field<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let spanned = Spanned::<Value>::deserialize(deserializer)?;
        Ok(Self {
            span: spanned.span(),
            value: T::from_value(spanned.get_ref()),
        })
    }
}

impl<T: JsonSchema> JsonSchema for Field<T> {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        T::json_schema(generator)
    }
}

/// A type that a field can hold.
pub(crate) trait FromValue: Sized {
    /// Reads a TOML value.
    fn from_value(value: &Value) -> Result<Self, Fault>;
}

/// The value as a message shows it.
fn shown(value: &Value) -> String {
    match value {
        Value::String(text) => format!("`\"{text}\"`"),
        Value::Integer(_) | Value::Float(_) | Value::Boolean(_) | Value::Datetime(_) => {
            format!("`{value}`")
        }
        Value::Array(_) => "a list".into(),
        Value::Table(_) => "a table".into(),
    }
}

pub(super) fn wrong_kind(value: &Value, wanted: &str, remedy: impl Into<String>) -> Fault {
    Fault::new(format!("{} is not {wanted}", shown(value)), remedy)
}

/// A time of day in TOML's own syntax, where this file needs text.
fn unquoted(value: &Value) -> Fault {
    Fault::new(
        format!("`{value}` is not in quotes"),
        format!("write `\"{value}\"`"),
    )
}

/// The text of a string value; for anything else, a fault that asks for a string.
fn text<'a>(value: &'a Value, wanted: &str, example: &str) -> Result<&'a str, Fault> {
    value
        .as_str()
        .ok_or_else(|| wrong_kind(value, wanted, format!("write a string such as `{example}`")))
}

impl<Q: Quantity> FromValue for Q {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        match value {
            Value::String(text) => Q::parse(text),
            // For a bare number, the fault lists the units it could take.
            Value::Integer(_) | Value::Float(_) => Q::parse(&value.to_string()),
            other => Err(wrong_kind(
                other,
                Q::KIND,
                format!("write a string such as `\"10 {}\"`", Q::USUAL[0]),
            )),
        }
    }
}

impl FromValue for Gauge {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        match value {
            Value::Integer(_) | Value::Float(_) => parse_gauge(&value.to_string()),
            other => parse_gauge(text(other, "a wire size", "\"22 AWG\"")?),
        }
    }
}

impl FromValue for f64 {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        let number = match value {
            Value::Float(number) => Some(*number),
            #[expect(clippy::cast_precision_loss, reason = "degrees and prices are small")]
            Value::Integer(number) => Some(*number as f64),
            _ => None,
        };
        match number {
            Some(number) if number.is_finite() => Ok(number),
            Some(_) => Err(wrong_kind(
                value,
                "a number to reckon with",
                "write a plain number, such as `12.5`",
            )),
            None => {
                let text = value.as_str().unwrap_or_default().trim();
                let share = text
                    .strip_suffix('%')
                    .map(|number| number.trim().parse::<f64>());
                let remedy = if let Some(Ok(share)) = share {
                    format!("write it as a fraction: `{}`", share / 100.0)
                } else if text.parse::<f64>().is_ok_and(f64::is_finite) {
                    format!("write it without quotes: `{text}`")
                } else {
                    "write a bare number, without quotes and without a unit".into()
                };
                Err(wrong_kind(value, "a number", remedy))
            }
        }
    }
}

impl FromValue for u32 {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        value
            .as_integer()
            .and_then(|count| u32::try_from(count).ok())
            .ok_or_else(|| {
                wrong_kind(
                    value,
                    "a count",
                    "write a whole number, without quotes, from 0 up",
                )
            })
    }
}

impl FromValue for bool {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        value.as_bool().ok_or_else(|| {
            wrong_kind(
                value,
                "a yes or no",
                "write `true` or `false`, without quotes",
            )
        })
    }
}

impl FromValue for String {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        let Some(text) = value.as_str() else {
            let remedy = match value {
                Value::Array(_) | Value::Table(_) => "write one text in quotes".into(),
                bare => format!("write it in quotes: `\"{bare}\"`"),
            };
            return Err(wrong_kind(value, "text", remedy));
        };
        if text.trim().is_empty() {
            return Err(Fault::new(
                "the text is empty",
                "write something between the quotes",
            ));
        }
        if text.chars().any(char::is_control) || text.chars().count() > 64 {
            return Err(Fault::new(
                "the text has control characters or more than 64 letters",
                "write one short line",
            ));
        }
        Ok(text.into())
    }
}

/// A name that other tables refer to: `[a-z0-9_-]+`.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(crate) struct Name(pub(crate) String);

impl FromValue for Name {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        let text = text(value, "a name", "\"fence\"")?;
        let fits = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_' || c == '-';
        if !text.is_empty() && text.len() <= 64 && text.chars().all(fits) {
            return Ok(Self(text.into()));
        }
        let mended: String = text
            .chars()
            .map(|c| c.to_ascii_lowercase())
            .map(|c| if fits(c) { c } else { '-' })
            .take(64)
            .collect();
        Err(Fault::new(
            format!("`\"{}\"` is not a name", text.escape_default()),
            if mended.is_empty() {
                "a name has lower-case letters, digits, `_` and `-`, as in `\"fence\"`".into()
            } else {
                format!("names have lower-case letters, digits, `_` and `-`: write `\"{mended}\"`")
            },
        ))
    }
}

impl JsonSchema for Name {
    fn schema_name() -> Cow<'static, str> {
        "Name".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "pattern": "^[a-z0-9_-]{1,64}$" })
    }
}

/// Like [`quantity_schema`](super::quantity), for the types that are read from a string here.
macro_rules! string_schema {
    ($name:ty, $title:literal, $pattern:literal) => {
        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                $title.into()
            }
            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({ "type": "string", "pattern": $pattern })
            }
        }
    };
}

/// A wire size in the schema (its own type is of another package and has no schema).
pub(crate) struct WireSize;
string_schema!(
    WireSize,
    "WireSize",
    r"^\s*([0-9]+ ?AWG|[0-9.]+ ?mm[2²])\s*$"
);

impl FromValue for Moment {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        if let Value::Datetime(_) = value {
            return Err(unquoted(value));
        }
        parse_moment(text(value, "a moment", "\"civil_dusk\"")?)
    }
}
string_schema!(
    Moment,
    "Moment",
    r"^\s*([0-9]{1,2}:[0-9]{2}|(sunrise|sunset|(civil|nautical|astronomical)_(dawn|dusk)|sun *[-+]? ?[0-9.]+ ?deg)( *[-+−] *[0-9.]+ ?(s|min|h))?)\s*$"
);

impl FromValue for NoTwilight {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        parse_no_twilight(text(value, "a stand-in for twilight", "\"sunset\"")?)
    }
}
string_schema!(
    NoTwilight,
    "NoTwilight",
    r"^(sunset|skip|[0-9]{1,2}:[0-9]{2})$"
);

/// A time of day on the local clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Clock(pub(crate) NaiveTime);

impl FromValue for Clock {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        if let Value::Datetime(_) = value {
            return Err(unquoted(value));
        }
        parse_clock(text(value, "a time of day", "\"21:30\"")?).map(Self)
    }
}
string_schema!(Clock, "ClockTime", "^[0-9]{1,2}:[0-9]{2}$");

impl FromValue for NaiveDate {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        let date = match value {
            Value::Datetime(moment) if moment.time.is_none() && moment.offset.is_none() => {
                moment.date.and_then(|date| {
                    Self::from_ymd_opt(date.year.into(), date.month.into(), date.day.into())
                })
            }
            _ => None,
        };
        date.ok_or_else(|| {
            wrong_kind(
                value,
                "a date",
                "write a date without quotes, as in `2027-12-24`",
            )
        })
    }
}

/// A date in the schema (chrono's own schema would need another feature of the library).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Date(pub(crate) NaiveDate);

impl FromValue for Date {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        NaiveDate::from_value(value).map(Self)
    }
}

impl JsonSchema for Date {
    fn schema_name() -> Cow<'static, str> {
        "Date".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "format": "date" })
    }
}

/// The evenings of the week on which a zone is lit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Days(pub(crate) Vec<Weekday>);

const DAY_NAMES: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];

impl FromValue for Days {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        let shape = "write a list such as `[\"fri\", \"sat\"]`";
        let list = value
            .as_array()
            .ok_or_else(|| wrong_kind(value, "a list of days", shape))?;
        if list.is_empty() {
            return Err(Fault::new(
                "the list of days is empty: the zone would never be lit",
                format!("{shape}, or leave `days` out for every evening"),
            ));
        }
        let position = |entry: &Value| {
            let name = entry.as_str()?;
            DAY_NAMES.iter().position(|day| *day == name)
        };
        let strangers: Vec<usize> = (0..list.len())
            .filter(|entry| position(&list[*entry]).is_none())
            .collect();
        let Some(first) = strangers.first() else {
            #[expect(clippy::cast_possible_truncation, reason = "below seven")]
            let day = |at: usize| Weekday::try_from(at as u8).expect("seven days");
            return Ok(Self(list.iter().filter_map(position).map(day).collect()));
        };
        let all: Vec<String> = strangers.iter().map(|at| shown(&list[*at])).collect();
        let name = list[*first].as_str().unwrap_or_default();
        let name = name.to_ascii_lowercase();
        let near = DAY_NAMES.iter().find(|day| name.starts_with(**day));
        let fault = match (all.as_slice(), near) {
            ([one], Some(near)) => Fault::new(
                format!("{one} is not a day of the week"),
                format!("did you mean `\"{near}\"`?"),
            ),
            ([one], None) => Fault::new(
                format!("{one} is not a day of the week"),
                format!("it takes {}", listed(DAY_NAMES, "or")),
            ),
            (several, _) => Fault::new(
                format!("{} are not days of the week", several.join(", ")),
                format!("it takes {}", listed(DAY_NAMES, "or")),
            ),
        };
        Err(fault.of_entries(strangers))
    }
}

impl JsonSchema for Days {
    fn schema_name() -> Cow<'static, str> {
        "Days".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "array", "minItems": 1, "items": { "enum": DAY_NAMES } })
    }
}

/// The kinds of current that a lamp takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Accepts {
    pub(crate) ac: bool,
    pub(crate) dc: bool,
}

impl FromValue for Accepts {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        let shape = "write `[\"ac\"]`, `[\"dc\"]` or `[\"ac\", \"dc\"]`";
        let list = value
            .as_array()
            .ok_or_else(|| wrong_kind(value, "a list of currents", shape))?;
        let mut accepts = Self {
            ac: false,
            dc: false,
        };
        for (at, entry) in list.iter().enumerate() {
            match entry.as_str() {
                Some("ac") => accepts.ac = true,
                Some("dc") => accepts.dc = true,
                _ => {
                    return Err(Fault::new(
                        format!("{} is not a kind of current", shown(entry)),
                        shape,
                    )
                    .of_entries(vec![at]));
                }
            }
        }
        if accepts.ac || accepts.dc {
            Ok(accepts)
        } else {
            Err(Fault::new(
                "the list is empty: the lamp would take no current at all",
                shape,
            ))
        }
    }
}

impl JsonSchema for Accepts {
    fn schema_name() -> Cow<'static, str> {
        "Accepts".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "array", "minItems": 1, "items": { "enum": ["ac", "dc"] } })
    }
}

/// Places of the lamps along a trunk.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Spread {
    /// Evenly spread, the last one at the end.
    Even,
    /// All at the end.
    End,
    /// At these distances from the supply.
    At(Vec<Length>),
}

impl FromValue for Spread {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        let shape = "it takes `\"even\"`, `\"end\"` or a list of distances such as `[\"10 ft\", \"25 ft\"]`";
        match value {
            Value::String(word) if word == "even" => Ok(Self::Even),
            Value::String(word) if word == "end" => Ok(Self::End),
            Value::String(word) => Err(Fault::new(
                format!("`\"{word}\"` does not say where the lamps hang"),
                match nearest(word, ["even", "end"]) {
                    Some(near) => format!("did you mean `\"{near}\"`?"),
                    None => shape.into(),
                },
            )),
            Value::Array(list) => list
                .iter()
                .enumerate()
                .map(|(at, entry)| {
                    Length::from_value(entry).map_err(|fault| fault.of_entries(vec![at]))
                })
                .collect::<Result<_, _>>()
                .map(Self::At),
            other => Err(wrong_kind(other, "a place for lamps", shape)),
        }
    }
}

impl JsonSchema for Spread {
    fn schema_name() -> Cow<'static, str> {
        "Spread".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let distance = generator.subschema_for::<Length>();
        json_schema!({ "anyOf": [{ "enum": ["even", "end"] }, { "type": "array", "items": distance }] })
    }
}

/// A quantity, or `"none"` for a part that is not fitted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct OrNone<Q>(pub(crate) Option<Q>);

impl<Q: Quantity> FromValue for OrNone<Q> {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        match value.as_str() {
            Some("none") => Ok(Self(None)),
            Some(_) => Q::from_value(value).map(|quantity| Self(Some(quantity))),
            None if value.is_bool() => Err(wrong_kind(
                value,
                Q::KIND,
                format!("write one such as `\"10 {}\"`, or `\"none\"`", Q::USUAL[0]),
            )),
            None => Q::from_value(value).map(|quantity| Self(Some(quantity))),
        }
    }
}

impl JsonSchema for OrNone<Capacitance> {
    fn schema_name() -> Cow<'static, str> {
        "CapacitanceOrNone".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let quantity = generator.subschema_for::<Capacitance>();
        json_schema!({ "anyOf": [{ "const": "none" }, quantity] })
    }
}

impl JsonSchema for OrNone<Current> {
    fn schema_name() -> Cow<'static, str> {
        "CurrentOrNone".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let quantity = generator.subschema_for::<Current>();
        json_schema!({ "anyOf": [{ "const": "none" }, quantity] })
    }
}

/// A GPIO line of a chip: its offset, or its name.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Line {
    /// Its number on the chip, from 0.
    Offset(u32),
    /// The board's name for it.
    Named(String),
}

impl FromValue for Line {
    fn from_value(value: &Value) -> Result<Self, Fault> {
        match value {
            Value::Integer(_) => u32::from_value(value).map(Self::Offset),
            Value::String(_) => String::from_value(value).map(Self::Named),
            other => Err(wrong_kind(
                other,
                "a GPIO line",
                "write its offset as a bare number, or its name in quotes",
            )),
        }
    }
}

impl JsonSchema for Line {
    fn schema_name() -> Cow<'static, str> {
        "Line".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": ["integer", "string"], "minimum": 0 })
    }
}

/// Declares the spelling of an enum in the file, for reading and for the schema; for an enum of another
/// package, a type of ours carries the schema.
macro_rules! words {
    ($name:ty, $kind:literal, [$($word:literal => $value:expr),+ $(,)?]) => {
        crate::site::field::words!($name, schema $name, $kind, [$($word => $value),+]);
    };
    ($name:ty, schema $schema:ty, $kind:literal, [$($word:literal => $value:expr),+ $(,)?]) => {
        impl crate::site::field::FromValue for $name {
            fn from_value(value: &toml::Value) -> Result<Self, crate::site::fault::Fault> {
                match value.as_str() {
                    $(Some($word) => Ok($value),)+
                    _ => Err(crate::site::field::not_a_word(value, $kind, &[$($word),+])),
                }
            }
        }
        impl schemars::JsonSchema for $schema {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }
            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({ "enum": [$($word),+] })
            }
        }
    };
}
pub(crate) use words;

pub(crate) fn not_a_word(value: &Value, kind: &str, words: &[&str]) -> Fault {
    let all = || format!("it takes {}", listed(words.iter().copied(), "or"));
    // The nearest word would be exactly the one that this must not be taken for.
    if value
        .as_str()
        .is_some_and(|word| word.to_lowercase().contains("electronic"))
    {
        return wrong_kind(
            value,
            kind,
            "an electronic transformer gives tens of kHz, which neither the pair nor its diodes carry: a pilot wire takes a magnetic one, so feed the pair from another supply".to_owned(),
        );
    }
    let remedy = match value
        .as_str()
        .and_then(|word| nearest(word, words.iter().copied()))
    {
        Some(near) => format!("did you mean `\"{near}\"`?"),
        None => all(),
    };
    wrong_kind(value, kind, remedy)
}
