//! The JSON Schema for editors fits the files that the program reads.

use std::path::Path;

use pilotwire::circuit::wire::{Gauge, Stranding};
use pilotwire::civil_time::ZoneInfo;
use pilotwire::site::{Fuse, Moment, Off, Site, SunMark, SupplyOutput, Switching, read, schema};
use regex::Regex;
use serde_json::Value as Json;
use toml::Value;

use crate::support::kept;
use crate::support::program::program;

const WHOLE: &str = include_str!("data/whole-site.toml");

fn demo_yards() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("config");
    let entries = std::fs::read_dir(folder).expect("the folder is there");
    let paths = entries.map(|entry| entry.expect("a file").path());
    let yards: Vec<_> = paths
        .filter(|path| path.extension().is_some_and(|kind| kind == "toml"))
        .map(|path| {
            let text = std::fs::read_to_string(&path).expect("a yard is text");
            (path.display().to_string(), text)
        })
        .collect();
    assert!(yards.len() >= 4, "only {} yards are there", yards.len());
    yards
}

fn whole_site() -> Site {
    let zones = ZoneInfo::from_environment();
    read(WHOLE.as_bytes(), "whole-site.toml", &|name| {
        zones.open(name)
    })
    .unwrap_or_else(|problems| panic!("{problems}"))
}

/// The definition that a schema refers to, or itself.
fn resolved(shape: &Json) -> &Json {
    match shape["$ref"].as_str() {
        Some(path) => schema()
            .pointer(path.trim_start_matches('#'))
            .expect("a reference leads somewhere"),
        None => shape,
    }
}

/// Whether the part of JSON Schema that this one uses allows `value`.
fn allows(shape: &Json, value: &Value) -> bool {
    let shape = resolved(shape);
    if let Some(either) = shape["anyOf"].as_array() {
        return either.iter().any(|shape| allows(shape, value));
    }
    let word = value.as_str();
    if !shape["const"].is_null() {
        return shape["const"].as_str() == word;
    }
    if let Some(words) = shape["enum"].as_array() {
        return word.is_some() && words.iter().any(|known| known.as_str() == word);
    }
    let kind = match value {
        Value::String(_) | Value::Datetime(_) => "string",
        Value::Integer(_) => "integer",
        Value::Float(_) => "number",
        Value::Boolean(_) => "boolean",
        Value::Array(_) => "array",
        Value::Table(_) => "object",
    };
    let fits = |known: &Json| known == kind || (known == "number" && kind == "integer");
    let of_kind = match &shape["type"] {
        Json::Array(kinds) => kinds.iter().any(fits),
        one => fits(one),
    };
    let by_pattern = match (shape["pattern"].as_str(), word) {
        (Some(pattern), Some(word)) => Regex::new(pattern).expect("a pattern").is_match(word),
        _ => true,
    };
    let within = match value {
        Value::Array(list) => list.iter().all(|entry| allows(&shape["items"], entry)),
        Value::Table(table) => table.iter().all(|(key, value)| {
            let property = &shape["properties"][key];
            property.is_object() && allows(property, value)
        }),
        _ => true,
    };
    of_kind && by_pattern && within
}

/// Every property of every table: the table's name, the key, its schema.
fn properties() -> Vec<(&'static str, &'static str, &'static Json)> {
    let mut all = Vec::new();
    for (table, shape) in schema()["properties"].as_object().expect("tables") {
        let entry = if shape["items"].is_object() {
            &shape["items"]
        } else {
            shape
        };
        for (key, property) in resolved(entry)["properties"].as_object().expect("keys") {
            all.push((table.as_str(), key.as_str(), property));
        }
    }
    all
}

#[test]
fn the_schema_beside_the_demo_yards_is_the_one_the_program_prints() {
    let output = program().arg("schema").output().expect("the program runs");
    assert!(output.status.success());
    let printed = String::from_utf8(output.stdout).expect("a schema is UTF-8");
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("config/site.schema.json");
    if kept::write("SCHEMA") {
        std::fs::write(path, printed).expect("the schema can be written");
        return;
    }
    let kept = std::fs::read_to_string(path).expect("SCHEMA=write cargo test --test all schema::");
    kept::assert_same("config/site.schema.json", &printed, &kept);
}

#[test]
fn every_table_and_every_key_says_what_it_is() {
    for (table, shape) in schema()["properties"].as_object().expect("tables") {
        assert!(shape["description"].is_string(), "{table}");
    }
    assert!(properties().len() > 100, "{}", properties().len());
    for (table, key, property) in properties() {
        let description = property["description"].as_str().unwrap_or_default();
        assert!(description.ends_with('.'), "{table}.{key}: {description:?}");
    }
}

#[test]
fn the_schema_allows_the_demo_yards_and_the_whole_site() {
    let mut yards = demo_yards();
    yards.push(("whole-site.toml".into(), WHOLE.into()));
    for (name, text) in yards {
        let tables: toml::Table = text.parse().expect("a yard is TOML");
        for (table, value) in tables {
            let shape = &schema()["properties"][&table];
            assert!(shape.is_object(), "{name}: no table {table}");
            let entries = match value {
                Value::Array(list) => list,
                one => vec![one],
            };
            let shape = if shape["items"].is_object() {
                &shape["items"]
            } else {
                shape
            };
            for entry in entries {
                for (key, value) in entry.as_table().expect("a table") {
                    let property = &resolved(shape)["properties"][key];
                    assert!(property.is_object(), "{name}: no key {table}.{key}");
                    assert!(allows(property, value), "{name}: {table}.{key} = {value}");
                }
            }
        }
    }
}

#[test]
fn the_schema_refuses_a_number_without_its_unit() {
    let bare = [
        Value::Integer(12),
        Value::Float(12.0),
        Value::String("12".into()),
    ];
    let quantities: Vec<_> = properties()
        .into_iter()
        .filter(|(.., property)| {
            let shapes = resolved(property)["anyOf"].as_array();
            let shapes = shapes.into_iter().flatten().chain([*property]);
            shapes.map(resolved).any(|shape| {
                let pattern = shape["pattern"].as_str().unwrap_or_default();
                pattern.contains("[0-9.]+") && !pattern.contains("sunset")
            })
        })
        .collect();
    assert!(quantities.len() > 45, "{}", quantities.len());
    for (table, key, property) in quantities {
        for number in &bare {
            assert!(!allows(property, number), "{table}.{key} = {number}");
        }
    }
}

#[test]
#[expect(clippy::float_cmp, reason = "exact by the definition of the units")]
fn the_whole_site_is_read_in_si_units() {
    let site = whole_site();
    assert_eq!((site.mains.voltage_v, site.mains.tolerance), (120.0, 0.10));
    assert_eq!(site.temperatures.wire_c, 10.0);
    let march = site.temperatures.of_month(chrono::Month::March);
    let march = (march.coldest_c, march.typical_c, march.hottest_c);
    assert_eq!(march, (-10.0, 5.0, 17.0));
    let SupplyOutput::Dc {
        lowest_v, max_a, ..
    } = site.supplies[1].output
    else {
        panic!("the shed's supply gives DC");
    };
    assert_eq!((lowest_v, max_a), (11.4, Some(10.0)));
    // Remote-on to rail up, and the rail's rise.
    assert_eq!(site.supplies[1].start_s, 0.5 + 0.02);
    let Switching::Timed(windows) = &site.zones[0].switching else {
        panic!("the front keeps its own time");
    };
    assert_eq!(windows.len(), 2);
    let rise = Off::At(Moment::Sun {
        mark: SunMark::Event(pilotwire::almanac::SunEvent::Sunrise),
        offset_s: 0,
    });
    assert_eq!(windows[1].off, rise);
    let trunk = &site.zones[1].trunks[0];
    let cable = trunk.cable.expect("it has a cable");
    assert_eq!(cable.length_m, 60.0 * 0.3048);
    assert_eq!(trunk.distances_m.len(), 12);
    assert_eq!(trunk.fuse, Fuse::Rated(7.5));
    let link = &site.links[0];
    let pair = link.cable.expect("it has a pair");
    assert_eq!(
        (pair.gauge, pair.stranding),
        (Gauge::Awg(22), Stranding::Solid)
    );
    assert_eq!(pair.length_m, 210.0 * 0.3048);
    assert_eq!((link.splices, link.splice_ohm), (2, 0.010));
    assert_eq!((link.measured_loop_ohm, link.series_ohm), (Some(6.9), 22.0));
    let capacitor = link.capacitor.expect("it has a capacitor");
    assert_eq!(capacitor.farad, 220.0 * 1e-6);
    assert_eq!((capacitor.tolerance, capacitor.rating_v), (0.20, 50.0));
    assert_eq!(link.fuse, Fuse::Rated(0.5));
    let relay = &site.relays[0];
    assert_eq!((relay.operate_s, relay.release_s), (0.010, 0.005));
    assert_eq!(
        (relay.inductance_h, relay.thermal_k_per_w),
        (Some(0.9), 97.0)
    );
    assert_eq!(relay.contact_minimum_a, Some(0.001));
    assert_eq!(site.inputs[0].debounce_s, 0.02);
    assert_eq!(site.shelf[0].length_m, Some(300.0 * 0.3048));
}

/// Temperatures of the year that follow from the months: the coldest and the hottest of all, and the mean of
/// the typical evenings, 134 C / 12 = 11.17 C.
#[test]
fn a_year_that_is_left_out_is_that_of_its_months() {
    let year = "coldest = \"-20 C\"\ntypical = \"15 C\"\nhottest = \"35 C\"\n";
    assert!(WHOLE.contains(year));
    let zones = ZoneInfo::from_environment();
    let text = WHOLE.replace(year, "");
    let site = read(text.as_bytes(), "whole-site.toml", &|name| zones.open(name))
        .unwrap_or_else(|problems| panic!("{problems}"));
    let year = site.temperatures;
    let year = (year.coldest_c, year.typical_c, year.hottest_c);
    assert_eq!(year, (-20.0, 11.2, 35.0));
    let assumed: Vec<String> = site.assumed.iter().map(ToString::to_string).collect();
    for line in [
        "[temperature]: coldest = -20 C (January of `monthly`)",
        "[temperature]: typical = 11.2 C (mean of `monthly`)",
        "[temperature]: hottest = 35 C (July of `monthly`)",
    ] {
        assert!(assumed.iter().any(|known| known == line), "{assumed:#?}");
    }
}

#[test]
fn what_the_whole_site_leaves_out_is_recorded() {
    let assumed: Vec<String> = whole_site()
        .assumed
        .iter()
        .map(ToString::to_string)
        .collect();
    for line in [
        "supply front: efficiency = 0.9",
        "supply shed: remote_on_current = 0.0016 A",
        "relay r400: max_coil_temperature = 105 C",
    ] {
        assert!(
            assumed.iter().any(|known| known == line),
            "{line} is not in {assumed:#?}"
        );
    }
    let stated = "relay r400: operate_voltage";
    assert!(!assumed.iter().any(|known| known.starts_with(stated)));
}
