//! A list in the site file whose entries each know their place, so that a mark can point to the wrong one.

use std::borrow::Cow;
use std::fmt;
use std::marker::PhantomData;
use std::ops::Range;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::value::MapAccessDeserializer;
use serde::de::{MapAccess, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer};
use toml::{Spanned, Value};

/// A list of `N` entries, if it is a list; the resolver checks the number.
#[derive(Debug, Clone)]
pub(crate) struct List<T, const N: usize> {
    /// Its place in the file [bytes].
    pub(crate) span: Range<usize>,
    /// Its entries, or the value in place of a list.
    pub(crate) entries: Result<Vec<T>, Value>,
}

impl<'de, T: Deserialize<'de>, const N: usize> Deserialize<'de> for List<T, N> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let spanned = Spanned::<Entries<T>>::deserialize(deserializer)?;
        Ok(Self {
            span: spanned.span(),
            entries: spanned.into_inner().0,
        })
    }
}

impl<T: JsonSchema, const N: usize> JsonSchema for List<T, N> {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        format!("{N}Of{}", T::schema_name()).into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let entry = generator.subschema_for::<T>();
        json_schema!({ "type": "array", "minItems": N, "maxItems": N, "items": entry })
    }
}

struct Entries<T>(Result<Vec<T>, Value>);

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Entries<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(Reader(PhantomData))
    }
}

struct Reader<T>(PhantomData<T>);

impl<'de, T: Deserialize<'de>> Visitor<'de> for Reader<T> {
    type Value = Entries<T>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Self::Value, A::Error> {
        let mut entries = Vec::new();
        while let Some(entry) = list.next_element()? {
            entries.push(entry);
        }
        Ok(Entries(Ok(entries)))
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Self::Value, A::Error> {
        // Dates arrive this way too.
        Value::deserialize(MapAccessDeserializer::new(map)).map(|value| Entries(Err(value)))
    }

    fn visit_str<E>(self, text: &str) -> Result<Self::Value, E> {
        Ok(Entries(Err(Value::String(text.into()))))
    }

    fn visit_i64<E>(self, number: i64) -> Result<Self::Value, E> {
        Ok(Entries(Err(Value::Integer(number))))
    }

    fn visit_f64<E>(self, number: f64) -> Result<Self::Value, E> {
        Ok(Entries(Err(Value::Float(number))))
    }

    fn visit_bool<E>(self, yes: bool) -> Result<Self::Value, E> {
        Ok(Entries(Err(Value::Boolean(yes))))
    }
}
