//! Finds every unknown key and every table of the wrong shape in one pass.
//!
//! The typed reader stops at its first error. When it does, this pass compares the raw tables with the schema
//! made from the same types, reports everything that does not belong, and removes it, so that the typed reader
//! can go on to the values.
//!
//! People fix a file faster when they see everything at once. The schema is made from the very types that
//! read the file, so this walk cannot know other keys than the reader, and a good file pays nothing for it.
//! A misspelt key is moved to where it was meant: otherwise `lenght` gives two messages, and the second
//! (`length` is missing) is untrue.

use serde_json::Value as Schema;
use toml::Spanned;
use toml::de::{DeArray, DeTable, DeValue};

use super::fault::{listed, nearest};
use super::problem::Problem;

/// The tables that a file has at most once; it may have any number of the others.
const SINGLE: [&str; 3] = ["site", "temperature", "daemon"];

/// Whether a file has `table` at most once.
pub(super) fn is_single(table: &str) -> bool {
    SINGLE.contains(&table)
}

/// The name of a table in the brackets it is written in.
fn bracketed(table: &str) -> String {
    if is_single(table) {
        format!("[{table}]")
    } else {
        format!("[[{table}]]")
    }
}

/// Whether every top-level value is a table, or a list of tables where several are allowed. The typed reader
/// would take a list for a table, entry by entry, and complain about the wrong thing.
pub(super) fn are_tables(root: &DeTable<'_>) -> bool {
    root.iter().all(|(name, value)| match value.get_ref() {
        DeValue::Table(_) => is_single(name.get_ref()),
        DeValue::Array(list) => {
            !is_single(name.get_ref()) && list.iter().all(|entry| entry.get_ref().is_table())
        }
        _ => false,
    })
}

/// The entries that did not belong.
pub(super) struct Weeds {
    pub(super) problems: Vec<Problem>,
    /// Whether a whole table was removed: a missing key may be in there.
    pub(super) lost: bool,
}

/// Reports the entries that do not belong, and removes them from `document`, or moves them to where they were
/// meant.
pub(super) fn weed(document: &mut Spanned<DeTable<'_>>, schema: &Schema) -> Weeds {
    let mut gardener = Gardener {
        schema,
        problems: Vec::new(),
        lost: false,
    };
    gardener.weed_file(document.get_mut());
    Weeds {
        problems: gardener.problems,
        lost: gardener.lost,
    }
}

struct Gardener<'a> {
    schema: &'a Schema,
    problems: Vec<Problem>,
    lost: bool,
}

impl<'a> Gardener<'a> {
    /// The tables of a file and their shapes, in the order of the schema.
    fn tables(&self) -> impl Iterator<Item = &'a str> + use<'a> {
        let tables = self.schema["properties"].as_object();
        tables
            .expect("a file has tables")
            .keys()
            .map(String::as_str)
    }

    fn keys(&self, table: &str) -> Vec<&'a str> {
        let property = &self.schema["properties"][table];
        let shape = [property, &property["items"]]
            .into_iter()
            .find_map(|place| self.referred(place));
        let keys = shape.and_then(|shape| shape["properties"].as_object());
        let keys = keys.expect("a table has properties");
        keys.keys().map(String::as_str).collect()
    }

    /// The definition that a property refers to, wherever the generator put the reference.
    fn referred(&self, property: &'a Schema) -> Option<&'a Schema> {
        [
            &property["$ref"],
            &property["anyOf"][0]["$ref"],
            &property["allOf"][0]["$ref"],
        ]
        .into_iter()
        .find_map(Schema::as_str)
        .and_then(|path| self.schema.pointer(path.strip_prefix('#')?))
    }

    fn say(&mut self, at: std::ops::Range<usize>, message: String, remedy: String) {
        self.problems.push(Problem::new(at, message, remedy));
    }

    fn weed_file(&mut self, root: &mut DeTable<'_>) {
        let strangers: Vec<_> = root
            .keys()
            .filter(|key| !self.tables().any(|table| table == key.get_ref().as_ref()))
            .cloned()
            .collect();
        for key in strangers {
            let Some(value) = root.remove(&key) else {
                continue;
            };
            let name: &str = key.get_ref();
            if !(value.get_ref().is_table() || value.get_ref().is_array()) {
                self.stray(name, key.span(), value, root);
                continue;
            }
            let message = format!("there is no table called `{}`", name.escape_debug());
            let Some(near) = nearest(name, self.tables()) else {
                let known: Vec<String> = self.tables().map(bracketed).collect();
                let remedy = format!(
                    "it takes {}",
                    listed(known.iter().map(String::as_str), "and")
                );
                self.say(key.span(), message, remedy);
                self.lost = true;
                continue;
            };
            self.say(
                key.span(),
                message,
                format!("did you mean `{}`?", bracketed(near)),
            );
            if root.contains_key(near) {
                self.lost = true;
            } else {
                root.insert(Spanned::new(key.span(), near.to_owned().into()), value);
            }
        }
        let mut weeds = Vec::new();
        for (key, value) in root.iter_mut() {
            if !self.weed_value(key.get_ref(), value) {
                weeds.push(key.clone());
            }
        }
        for key in weeds {
            root.remove(&key);
            self.lost = true;
        }
    }

    /// A key above the first table: it goes to the single table that has such a key.
    fn stray<'i>(
        &mut self,
        name: &str,
        span: std::ops::Range<usize>,
        value: Spanned<DeValue<'i>>,
        root: &mut DeTable<'i>,
    ) {
        let message = format!("`{}` stands above the first table", name.escape_debug());
        let homes = self.homes(name);
        let remedy = if homes.is_empty() {
            "a file begins with `[site]`, and keys stand below the name of their table".into()
        } else {
            format!(
                "move it below {}",
                listed(homes.iter().map(String::as_str), "or")
            )
        };
        self.say(span.clone(), message, remedy);
        let home = SINGLE.iter().find(|table| self.keys(table).contains(&name));
        if let Some(home) = home
            && let Some(DeValue::Table(table)) = root.get_mut(*home).map(Spanned::get_mut)
            && !table.contains_key(name)
        {
            table.insert(Spanned::new(span, name.to_owned().into()), value);
        }
    }

    /// The tables that have a key of this name, if they are few.
    fn homes(&self, key: &str) -> Vec<String> {
        let homes: Vec<String> = self
            .tables()
            .filter(|table| self.keys(table).contains(&key))
            .map(bracketed)
            .collect();
        if homes.len() > 3 { Vec::new() } else { homes }
    }

    /// Removes the keys that `table` does not have. A misspelt key stays under the nearest name, so that its
    /// value is judged too, and it is not reported as missing as well.
    fn weed_table(&mut self, table: &mut DeTable<'_>, kind: &str) {
        let known = self.keys(kind);
        let place = bracketed(kind);
        let strangers: Vec<_> = table
            .keys()
            .filter(|key| !known.contains(&key.get_ref().as_ref()))
            .cloned()
            .collect();
        for key in strangers {
            let Some(value) = table.remove(&key) else {
                continue;
            };
            let name: &str = key.get_ref();
            let is_table = value.get_ref().is_table() || value.get_ref().is_array();
            if is_table && self.tables().any(|table| table == name) {
                let message = format!("{place}: `{name}` is a table of its own");
                self.say(key.span(), message, format!("write `{}`", bracketed(name)));
                self.lost = true;
                continue;
            }
            let message = format!("{place}: unknown key `{}`", name.escape_debug());
            if let Some(near) = nearest(name, known.iter().copied()) {
                self.say(key.span(), message, format!("did you mean `{near}`?"));
                if !table.contains_key(near) {
                    table.insert(Spanned::new(key.span(), near.to_owned().into()), value);
                }
                continue;
            }
            let homes = self.homes(name);
            let remedy = if homes.is_empty() {
                format!("{place} takes {}", listed(known.iter().copied(), "and"))
            } else {
                let homes = listed(homes.iter().map(String::as_str), "or");
                format!("it belongs in {homes}")
            };
            self.say(key.span(), message, remedy);
        }
    }

    /// Whether the value can be read as the table or tables called `name`; its own keys are checked on the way.
    fn weed_value(&mut self, name: &str, value: &mut Spanned<DeValue<'_>>) -> bool {
        let single = is_single(name);
        let span = value.span();
        match value.get_mut() {
            DeValue::Table(table) if single => {
                self.weed_table(table, name);
                true
            }
            // One `[zone]` where `[[zone]]` is meant: reports it, and reads it as a list of one.
            DeValue::Table(table) => {
                let message = format!("[{name}]: there can be several, so it has two brackets");
                self.say(span.clone(), message, format!("write `[[{name}]]`"));
                self.weed_table(table, name);
                let table = std::mem::take(table);
                let mut list = DeArray::new();
                list.push(Spanned::new(span, DeValue::Table(table)));
                *value.get_mut() = DeValue::Array(list);
                true
            }
            // The reverse: a list where one table is meant.
            DeValue::Array(list) if single => {
                let second = list.get(1).map(Spanned::span);
                let Some(first) = list.iter_mut().next() else {
                    self.say(
                        span,
                        format!("`{name}` is a table"),
                        format!("write `[{name}]`"),
                    );
                    return false;
                };
                let at = second.unwrap_or(first.span());
                let message = format!("[[{name}]]: there is only one, so it has one bracket");
                self.say(at, message, format!("write `[{name}]`, once"));
                let span = first.span();
                let DeValue::Table(table) = first.get_mut() else {
                    return false;
                };
                self.weed_table(table, name);
                let table = std::mem::take(table);
                *value = Spanned::new(span, DeValue::Table(table));
                true
            }
            DeValue::Array(list) => {
                let stray = list.iter().find(|entry| !entry.get_ref().is_table());
                if let Some(stray) = stray {
                    self.say(
                        stray.span(),
                        format!("`{name}` is not a list of tables"),
                        format!("write a `[[{name}]]` for each"),
                    );
                    return false;
                }
                for entry in list.iter_mut() {
                    if let DeValue::Table(table) = entry.get_mut() {
                        self.weed_table(table, name);
                    }
                }
                true
            }
            _ => {
                let whole = bracketed(name);
                self.say(
                    span,
                    format!("`{name}` is a table"),
                    format!("write `{whole}` on a line, and its keys on the lines below"),
                );
                false
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_schema_agrees_on_which_tables_a_file_has_once() {
        let tables = crate::site::schema()["properties"].as_object().unwrap();
        for (name, shape) in tables {
            assert_eq!(is_single(name), shape["type"] != "array", "{name}");
        }
    }
}
