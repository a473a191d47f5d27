//! Reads a site file: text, tables, values, then the yard.

use std::sync::OnceLock;

use serde::Deserialize;
use toml::Spanned;
use toml::de::{DeTable, Deserializer};

use crate::civil_time::{SiteZone, ZoneError};

use super::Site;
use super::file::SiteFile;
use super::keys;
use super::problem::{Problem, Problems};
use super::resolve::resolve;
use super::syntax;

/// Largest site file accepted [bytes].
pub const LARGEST_FILE: usize = 1 << 20;

/// Most tables of one kind; a yard of 256 zones has a few of each per zone.
const MOST_TABLES: usize = 4096;

/// Most lines of broken TOML that are examined.
const MOST_LINES: usize = 100;

/// Most zones of a yard.
pub const MOST_ZONES: usize = 256;

/// Reads the bytes of a site file, which messages call `path`; `rules` looks up a time zone by name.
///
/// # Errors
/// Every problem of the file.
pub fn read(
    bytes: &[u8],
    path: &str,
    rules: &dyn Fn(&str) -> Result<SiteZone, ZoneError>,
) -> Result<Site, Problems> {
    if bytes.len() > LARGEST_FILE {
        let message = "the file is larger than 1 MiB";
        let problem = Problem::whole(
            message,
            "give a site file; a yard of 256 zones fits in a tenth of that",
        );
        return Err(Problems::new(path, "", vec![problem]));
    }
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text,
        Err(error) => {
            let lossy = String::from_utf8_lossy(bytes);
            let at = error.valid_up_to();
            let message = format!("byte {} is not UTF-8 text", at + 1);
            let stand_in = at..at + char::REPLACEMENT_CHARACTER.len_utf8();
            let problem = Problem::new(stand_in, message, "save the file as UTF-8 in your editor");
            return Err(Problems::new(path, &lossy, vec![problem]));
        }
    };
    // A byte-order mark is invisible, and some editors write one.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    parse(text, rules).map_err(|problems| Problems::new(path, text, problems))
}

fn parse(
    text: &str,
    rules: &dyn Fn(&str) -> Result<SiteZone, ZoneError>,
) -> Result<Site, Vec<Problem>> {
    let (document, errors) = DeTable::parse_recoverable(text);
    let mut broken = !errors.is_empty();
    if !broken && document.get_ref().is_empty() {
        return Err(vec![Problem::whole(
            "the file says nothing",
            "start from one of the examples in `config/`, or see `pilotwire schema`",
        )]);
    }
    let mut first_error = None;
    if !broken && keys::are_tables(document.get_ref()) {
        match typed(document) {
            Ok(file) => return resolved(file, rules, false),
            Err(error) => first_error = Some(error),
        }
    }
    let syntax = syntax::complaints(text, &errors[..errors.len().min(MOST_LINES)]);
    if syntax.tables_unsure {
        return Err(syntax.problems);
    }
    // The first attempt consumed the tables; only a faulty file costs the time of a second reading.
    let (mut document, _) = DeTable::parse_recoverable(text);
    let weeds = keys::weed(&mut document, schema());
    broken |= weeds.lost;
    let mut problems = weeds.problems;
    problems.retain(|problem| !problem.starts_where(|at| syntax.cover(at)));
    let more = match typed(document) {
        Ok(file) => resolved(file, rules, broken).err().unwrap_or_default(),
        Err(error) => syntax::complaints(text, &[error]).problems,
    };
    problems.extend(
        more.into_iter()
            .filter(|problem| !problem.starts_where(|at| syntax.cover(at))),
    );
    problems.extend(syntax.problems);
    if let (Some(error), true) = (first_error, problems.is_empty()) {
        problems = syntax::complaints(text, &[error]).problems;
    }
    Err(problems)
}

fn resolved(
    file: SiteFile,
    rules: &dyn Fn(&str) -> Result<SiteZone, ZoneError>,
    broken: bool,
) -> Result<Site, Vec<Problem>> {
    let tables = [
        file.supply.len(),
        file.window.len(),
        file.lamp.len(),
        file.trunk.len(),
        file.link.len(),
        file.relay.len(),
        file.diode.len(),
        file.output.len(),
        file.input.len(),
        file.date.len(),
        file.shelf.len(),
    ];
    if tables.into_iter().any(|count| count > MOST_TABLES) {
        return Err(vec![Problem::whole(
            format!("the file has more than {MOST_TABLES} tables of one kind"),
            "split the yard into several site files, or count lamps with `count`",
        )]);
    }
    if file.zone.len() > MOST_ZONES {
        let message = format!(
            "the file has {} zones, more than {MOST_ZONES}",
            file.zone.len()
        );
        return Err(vec![Problem::new(
            file.zone[MOST_ZONES].span(),
            message,
            "split the yard into several site files",
        )]);
    }
    resolve(file, rules, broken)
}

fn typed(document: Spanned<DeTable<'_>>) -> Result<SiteFile, toml::de::Error> {
    SiteFile::deserialize(Deserializer::from(document))
}

/// The JSON Schema of the site file.
pub fn schema() -> &'static serde_json::Value {
    static SCHEMA: OnceLock<serde_json::Value> = OnceLock::new();
    SCHEMA.get_or_init(|| {
        let mut schema = schemars::schema_for!(SiteFile).to_value();
        without_null(&mut schema);
        schema["title"] = "pilotwire site file".into();
        schema
    })
}

/// Removes `null` as a value of keys: the generator uses it for a key that may be left out, but TOML has no
/// null.
fn without_null(schema: &mut serde_json::Value) {
    let null = serde_json::json!({ "type": "null" });
    match schema {
        serde_json::Value::Object(map) => {
            if let Some(types) = map.get_mut("type").and_then(|types| types.as_array_mut()) {
                types.retain(|kind| kind != "null");
                if let [only] = types.as_slice() {
                    let only = only.clone();
                    map.insert("type".into(), only);
                }
            }
            if let Some(either) = map
                .get_mut("anyOf")
                .and_then(|either| either.as_array_mut())
            {
                either.retain(|shape| *shape != null);
                if let [serde_json::Value::Object(only)] = either.as_slice() {
                    let only = only.clone();
                    map.remove("anyOf");
                    map.extend(only);
                }
            }
            if let Some(words) = map.get_mut("enum").and_then(|words| words.as_array_mut()) {
                words.retain(|word| !word.is_null());
            }
            map.values_mut().for_each(without_null);
        }
        serde_json::Value::Array(list) => list.iter_mut().for_each(without_null),
        _ => {}
    }
}
