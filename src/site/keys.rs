//! Finds every unknown key and every table of the wrong shape in one pass.
//!
//! The typed reader stops at its first error. When it does, this walk compares the raw tables with
//! the schema made from the same types, reports all that does not belong, and takes it out, so that
//! the typed reader can go on to the values.

use serde_json::Value as Schema;
use toml::Spanned;
use toml::de::{DeArray, DeTable, DeValue};

use super::fault::{listed, nearest};
use super::problem::Problem;

/// Reports what does not belong, and removes it from `document`, or puts it where it was meant.
pub(super) fn weed(document: &mut Spanned<DeTable<'_>>, schema: &Schema) -> Vec<Problem> {
    let mut problems = Vec::new();
    let root = document.get_mut();
    weed_table(root, "the file", schema, &mut problems);
    let shapes = schema["properties"].as_object().expect("a file has tables");
    let mut weeds = Vec::new();
    for (key, value) in root.iter_mut() {
        let name: &str = key.get_ref();
        if let Some(shape) = shapes.get(name)
            && !weed_value(name, value, shape, schema, &mut problems)
        {
            weeds.push(key.clone());
        }
    }
    for key in weeds {
        root.remove(&key);
    }
    problems
}

/// Takes out the keys that `shape` does not know. A misspelt one goes on under the name it is
/// nearest to, so that its value is judged too and it does not count as missing as well.
fn weed_table(table: &mut DeTable<'_>, place: &str, shape: &Schema, problems: &mut Vec<Problem>) {
    let known = shape["properties"]
        .as_object()
        .expect("a table has properties");
    let names = || known.keys().map(String::as_str);
    let strangers: Vec<_> = table
        .keys()
        .filter(|key| !known.contains_key(key.get_ref().as_ref()))
        .cloned()
        .collect();
    for key in strangers {
        let Some(value) = table.remove(&key) else {
            continue;
        };
        let name: &str = key.get_ref();
        let table_like = value.get_ref().is_table() || value.get_ref().is_array();
        let what = if place == "the file" && table_like {
            "table"
        } else {
            "key"
        };
        let message = format!("{place}: unknown {what} `{}`", name.escape_debug());
        let Some(near) = nearest(name, names()) else {
            let remedy = format!("{place} takes {}", listed(names(), "and"));
            problems.push(Problem::new(key.span(), message, remedy));
            continue;
        };
        problems.push(Problem::new(
            key.span(),
            message,
            format!("did you mean `{near}`?"),
        ));
        let meant = Spanned::new(key.span(), near.to_owned().into());
        if !table.contains_key(near) {
            table.insert(meant, value);
        }
    }
}

/// Whether the value has the shape of `property`; its own keys are weeded on the way.
fn weed_value(
    name: &str,
    value: &mut Spanned<DeValue<'_>>,
    property: &Schema,
    root: &Schema,
    problems: &mut Vec<Problem>,
) -> bool {
    let many = property["type"] == "array";
    let span = value.span();
    match value.get_mut() {
        DeValue::Table(table) if !many => {
            let shape = referred(property, root);
            weed_table(table, &format!("[{name}]"), shape, problems);
            true
        }
        // One `[zone]` where `[[zone]]` is meant: said, and taken for the list it should be.
        DeValue::Table(table) => {
            let wrong = format!("`{name}` can occur several times");
            problems.push(Problem::new(
                span.clone(),
                wrong,
                format!("write `[[{name}]]`"),
            ));
            let shape = referred(&property["items"], root);
            weed_table(table, &format!("[[{name}]]"), shape, problems);
            let table = std::mem::take(table);
            let mut list = DeArray::new();
            list.push(Spanned::new(span, DeValue::Table(table)));
            *value.get_mut() = DeValue::Array(list);
            true
        }
        DeValue::Array(list) if many => {
            let shape = referred(&property["items"], root);
            let place = format!("[[{name}]]");
            let mut fits = true;
            for entry in list.iter_mut() {
                let span = entry.span();
                if let DeValue::Table(table) = entry.get_mut() {
                    weed_table(table, &place, shape, problems);
                } else {
                    let remedy = format!("write one `{place}` table for each");
                    problems.push(Problem::new(
                        span,
                        format!("`{name}` is not a list of tables"),
                        remedy,
                    ));
                    fits = false;
                }
            }
            fits
        }
        _ => {
            let (wrong, remedy) = if many {
                (
                    format!("`{name}` can occur several times"),
                    format!("write `[[{name}]]`"),
                )
            } else {
                (
                    format!("`{name}` is a single table"),
                    format!("write `[{name}]`, once"),
                )
            };
            problems.push(Problem::new(span, wrong, remedy));
            false
        }
    }
}

/// The definition that a property refers to, wherever the generator put the reference.
fn referred<'a>(property: &'a Schema, root: &'a Schema) -> &'a Schema {
    let reference = [
        &property["$ref"],
        &property["anyOf"][0]["$ref"],
        &property["allOf"][0]["$ref"],
    ]
    .into_iter()
    .find_map(Schema::as_str);
    match reference
        .and_then(|path| path.strip_prefix('#'))
        .and_then(|path| root.pointer(path))
    {
        Some(definition) => definition,
        None => property,
    }
}
