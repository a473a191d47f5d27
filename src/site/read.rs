//! Reads a site file: text, tables, values, then the yard.

use std::sync::OnceLock;

use serde::Deserialize;
use toml::Spanned;
use toml::de::{DeTable, Deserializer};

use crate::schedule::local_time::{SiteZone, ZoneError};

use super::Site;
use super::file::SiteFile;
use super::keys;
use super::problem::{Problem, Problems};
use super::resolve::resolve;

/// Largest site file that is read [bytes].
pub const LARGEST_FILE: usize = 1 << 20;

/// Most zones of a yard.
pub const MOST_ZONES: usize = 256;

/// Reads the bytes of a site file called `path` in messages; `rules` looks up a time zone by name.
///
/// # Errors
/// Every problem of the file.
pub fn read(
    bytes: &[u8],
    path: &str,
    rules: &dyn Fn(&str) -> Result<SiteZone, ZoneError>,
) -> Result<Site, Problems> {
    if bytes.len() > LARGEST_FILE {
        let message = format!("the file has {} bytes, more than 1 MiB", bytes.len());
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
            let problem =
                Problem::new(at..at + 1, message, "save the file as UTF-8 in your editor");
            return Err(Problems::new(path, &lossy, vec![problem]));
        }
    };
    // A byte-order mark is invisible, and some editors write it.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    parse(text, rules).map_err(|problems| Problems::new(path, text, problems))
}

fn parse(
    text: &str,
    rules: &dyn Fn(&str) -> Result<SiteZone, ZoneError>,
) -> Result<Site, Vec<Problem>> {
    let (mut document, errors) = DeTable::parse_recoverable(text);
    let mut problems: Vec<Problem> = errors.iter().map(|error| syntax(text, error)).collect();
    if problems.is_empty() && document.get_ref().is_empty() {
        return Err(vec![Problem::whole(
            "the file says nothing",
            "start from one of the examples in `config/`, or see `pilotwire schema`",
        )]);
    }
    let broken = !problems.is_empty();
    let first_try = if broken {
        None
    } else {
        typed(document.clone()).ok()
    };
    let file = if let Some(file) = first_try {
        file
    } else {
        problems.extend(keys::weed(&mut document, schema()));
        match typed(document) {
            Ok(file) => file,
            Err(error) => {
                problems.push(syntax(text, &error));
                return Err(problems);
            }
        }
    };
    if file.zone.len() > MOST_ZONES {
        let message = format!(
            "the file has {} zones, more than {MOST_ZONES}",
            file.zone.len()
        );
        problems.push(Problem::new(
            file.zone[MOST_ZONES].span(),
            message,
            "split the yard into several site files",
        ));
        return Err(problems);
    }
    match resolve(file, rules, broken) {
        Ok(site) if problems.is_empty() => Ok(site),
        Ok(_) => Err(problems),
        Err(more) => {
            problems.extend(more);
            Err(problems)
        }
    }
}

fn typed(document: Spanned<DeTable<'_>>) -> Result<SiteFile, toml::de::Error> {
    SiteFile::deserialize(Deserializer::from(document))
}

/// A complaint of the TOML reader, with a remedy for what beginners write.
fn syntax(text: &str, error: &toml::de::Error) -> Problem {
    let span = error.span().unwrap_or(0..0);
    let start = span.start.min(text.len());
    let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
    let line = text[line_start..].lines().next().unwrap_or_default();
    let message = error.message().lines().collect::<Vec<_>>().join("; ");
    Problem::new(span, message, remedy_for(line))
}

fn remedy_for(line: &str) -> String {
    let (key, value) = match line.split_once('=') {
        Some((key, value)) => (
            key.trim(),
            value.split('#').next().unwrap_or_default().trim(),
        ),
        None => ("", ""),
    };
    let bare =
        !value.is_empty() && !value.starts_with(['"', '\'', '[', '{']) && !value.contains('"');
    if bare && value.parse::<f64>().is_err() {
        return format!("a quantity, a name or a word is a string: write `{key} = \"{value}\"`");
    }
    if line.trim_start().starts_with('[') {
        return "a table begins with its name on a line of its own: `[site]` or `[[zone]]`".into();
    }
    "write `key = value`, one to a line, each key once in its table".into()
}

/// The JSON Schema of the site file.
pub fn schema() -> &'static serde_json::Value {
    static SCHEMA: OnceLock<serde_json::Value> = OnceLock::new();
    SCHEMA.get_or_init(|| {
        let mut schema = schemars::schema_for!(SiteFile).to_value();
        schema["title"] = "pilotwire site file".into();
        schema
    })
}
