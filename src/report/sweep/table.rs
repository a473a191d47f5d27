//! A sweep for scripts: JSON and CSV, in SI units.

use serde::Serialize;
use serde_json::{Map, Value};

use crate::link::{Aspect, Judgement};
use crate::site::Site;
use crate::sweep::{Cell, Edge, Parameter, Points, Sweep, Variation};

use super::super::check::LeastJson;
use super::super::{csv_field, json};
use super::{Row, answer, why};

/// The name of an axis in JSON and CSV: with the SI unit of its numbers.
fn key(axis: &Variation) -> &'static str {
    match axis.parameter {
        Parameter::Length => "length_m",
        Parameter::Loop => "loop_ohm",
        Parameter::Wire => "wire",
        Parameter::Relay => "relay",
        Parameter::Capacitor if axis.numbers().is_none() => "capacitor",
        Parameter::Capacitor => "capacitor_f",
        Parameter::Temperature => "box_c",
        Parameter::Mains => "mains_off",
        Parameter::Voltage => "supply_v",
        Parameter::Series => "series_ohm",
        Parameter::Splices => "splices",
        Parameter::Rectifier => "rectifier",
    }
}

/// A number in SI units without the digits that a conversion has left behind.
fn si(axis: &Variation, value: f64) -> f64 {
    let value = axis.si(value);
    format!("{value:.9e}").parse().unwrap_or(value)
}

fn value(axis: &Variation, index: usize) -> Value {
    match &axis.points {
        Points::Numbers(values) => si(axis, values[index]).into(),
        Points::Things(things) => things[index].0.clone().into(),
    }
}

#[derive(Serialize)]
struct SweepJson<'a> {
    site: &'a str,
    master: &'a str,
    slave: &'a str,
    answer: String,
    varied: Vec<AxisJson>,
    rows: Vec<RowJson>,
    cells: Vec<Map<String, Value>>,
}

#[derive(Serialize)]
struct AxisJson {
    name: &'static str,
    key: &'static str,
    values: Vec<Value>,
}

#[derive(Serialize)]
struct RowJson {
    #[serde(flatten)]
    at: Map<String, Value>,
    answer: String,
    edges: Vec<EdgeJson>,
}

#[derive(Serialize)]
struct EdgeJson {
    better: Option<&'static str>,
    worse: Option<&'static str>,
    better_below: bool,
    last_good: Option<f64>,
    first_bad: Option<f64>,
    limited_by: Option<&'static str>,
    trouble: Option<String>,
}

impl EdgeJson {
    fn of(axis: &Variation, edge: &Edge) -> Self {
        let in_si = |value: Option<f64>| value.map(|value| si(axis, value));
        Self {
            better: edge.better.map(crate::link::Verdict::name),
            worse: edge.worse.map(crate::link::Verdict::name),
            better_below: edge.better_below,
            last_good: in_si(edge.last_good),
            first_bad: in_si(edge.first_bad),
            limited_by: edge.trouble.map(|trouble| trouble.aspect().name()),
            trouble: edge.trouble.map(|trouble| trouble.name().to_owned()),
        }
    }
}

/// The columns of a cell after its axes; empty where there is no answer.
fn columns(site: &Site, sweep: &Sweep, cell: &Cell) -> Vec<(String, Value)> {
    let known = cell.as_ref().ok();
    let of = |get: &dyn Fn(&Judgement) -> Value| known.map_or(Value::Null, get);
    let mut list = vec![
        (
            "verdict".to_owned(),
            of(&|judged| judged.verdict().name().into()),
        ),
        (
            "outcome".to_owned(),
            of(&|judged| judged.outcome().to_string().into()),
        ),
        (
            "margin".to_owned(),
            of(&|judged| judged.least().fraction.into()),
        ),
        (
            "limited_by".to_owned(),
            of(&|judged| judged.least().aspect.name().into()),
        ),
    ];
    for aspect in Aspect::ALL {
        list.push((
            format!("margin_{}", aspect.name().replace(' ', "_")),
            of(&|judged| judged.margin(aspect).fraction.into()),
        ));
    }
    list.push((
        "pair_ohm".to_owned(),
        of(&|judged| judged.ordinary.loop_ohm.into()),
    ));
    list.push((
        "coil_v".to_owned(),
        of(&|judged| judged.ordinary.dusk.coil_v.into()),
    ));
    list.push(("why".to_owned(), why(site, sweep, cell).into()));
    list
}

/// The axes of a cell.
fn place(sweep: &Sweep, index: usize) -> Vec<(&'static str, Value)> {
    let wide = sweep.x.len();
    let mut list = vec![(key(&sweep.x), value(&sweep.x, index % wide))];
    if let Some(y) = &sweep.y {
        list.push((key(y), value(y, index / wide)));
    }
    list
}

/// `{site, master, slave, answer, varied, rows, cells}`, in SI units, margins as fractions; a cell
/// without an answer has null for its verdict and margins, and says why.
pub fn sweep_json(site: &Site, sweep: &Sweep) -> String {
    let link = &site[sweep.link];
    let axes = [Some(&sweep.x), sweep.y.as_ref()];
    let cells = sweep.cells.iter().enumerate().map(|(index, cell)| {
        let place = place(sweep, index)
            .into_iter()
            .map(|(key, value)| (key.to_owned(), value));
        let least = cell.as_ref().ok().map(LeastJson::of);
        let least = serde_json::to_value(least).expect("numbers and words");
        place
            .chain(columns(site, sweep, cell))
            .chain([("least".to_owned(), least)])
            .collect()
    });
    let rows = (0..sweep.rows()).map(|row| RowJson {
        at: sweep
            .y
            .iter()
            .map(|y| (key(y).to_owned(), value(y, row)))
            .collect(),
        answer: Row::of(sweep, row).said(),
        edges: sweep.edges[row]
            .iter()
            .map(|edge| EdgeJson::of(&sweep.x, edge))
            .collect(),
    });
    json(&SweepJson {
        site: &site.name,
        master: &site[link.master].name,
        slave: &site[link.slave].name,
        answer: answer(site, sweep),
        varied: axes
            .into_iter()
            .flatten()
            .map(|axis| AxisJson {
                name: axis.parameter.name(),
                key: key(axis),
                values: (0..axis.len()).map(|index| value(axis, index)).collect(),
            })
            .collect(),
        rows: rows.collect(),
        cells: cells.collect(),
    })
}

/// A line for every cell, in SI units, margins as fractions; empty fields where there is no answer.
pub fn sweep_csv(site: &Site, sweep: &Sweep) -> String {
    let field = |value: &Value| match value {
        Value::Null => String::new(),
        Value::String(text) => csv_field(text),
        other => other.to_string(),
    };
    let mut out = String::new();
    for (index, cell) in sweep.cells.iter().enumerate() {
        let place = place(sweep, index);
        let columns = columns(site, sweep, cell);
        if index == 0 {
            let names = place.iter().map(|(name, _)| *name);
            let names: Vec<&str> = names
                .chain(columns.iter().map(|(name, _)| name.as_str()))
                .collect();
            out.push_str(&names.join(","));
            out.push('\n');
        }
        let fields = place.iter().map(|(_, value)| field(value));
        let fields: Vec<String> = fields
            .chain(columns.iter().map(|(_, value)| field(value)))
            .collect();
        out.push_str(&fields.join(","));
        out.push('\n');
    }
    out
}
