//! Turns the tables as written into the checked yard: references, ranges, defaults, every problem.

use std::fmt::Display;
use std::ops::Range;

use crate::civil_time::{SiteZone, ZoneError};

use super::fault::{listed, nearest};
use super::field::{Field, Name};
use super::file::SiteFile;
use super::problem::Problem;
use super::quantity::{Quantity, rounded};
use super::{Assumed, Site};

mod board;
mod lamps;
mod links;
mod months;
mod parts;
mod place;
mod sensing;
mod supplies;
mod zones;

use sensing::Following;

pub(crate) use board::TIME_DELAY;
pub(super) use months::Monthly;
pub(crate) use supplies::usual_band;

/// Looks up a zone's rules in the machine's time-zone database.
pub(super) type ZoneRules<'a> = &'a dyn Fn(&str) -> Result<SiteZone, ZoneError>;

/// Resolves `file`. With `only_values`, messages about missing keys and other tables are left out: the file
/// could not be read whole, so they would mislead.
pub(super) fn resolve(
    file: SiteFile,
    rules: ZoneRules<'_>,
    only_values: bool,
) -> Result<Site, Vec<Problem>> {
    let mut resolver = Resolver {
        problems: Vec::new(),
        assumed: Vec::new(),
        only_values,
    };
    let site = resolver.site(file, rules);
    match site {
        Some(site) if resolver.problems.is_empty() => Ok(Site {
            assumed: resolver.assumed,
            ..site
        }),
        _ => Err(resolver.problems),
    }
}

impl Resolver {
    fn site(&mut self, file: SiteFile, rules: ZoneRules<'_>) -> Option<Site> {
        if file.zone.is_empty() && !self.only_values {
            self.problems.push(Problem::whole(
                "the file has no zone: there is nothing to light",
                "add a `[[supply]]`, and a `[[zone]]` with its `name`, that `supply`, `on` and `off`; the yards in `config/` show how",
            ));
        }
        let whereabouts = self.whereabouts(file.site, rules);
        let temperatures = self.temperatures(file.temperature);
        let supply_names = self.supply_names(&file.supply);
        let zone_names = self.zone_names(&file.zone);
        let sensed = self.sensed(&file.zone, (&file.output, &file.input), &zone_names);
        let supplies = self.supplies(file.supply, &supply_names);
        let links = self.links(file.link, file.relay, file.diode, (&zone_names, &sensed));
        let trunks = self.trunks(file.trunk, file.lamp, &zone_names);
        let following = Following {
            masters: &links.masters,
            sensed: &sensed,
            names: &zone_names,
        };
        // If one is faulty, the positions of the others have shifted.
        let whole = supplies.len() == supply_names.list.len();
        let known_supplies = if whole { supplies.as_slice() } else { &[] };
        let zones = self.zones(
            file.zone,
            file.window,
            (&supply_names, known_supplies),
            following,
            trunks,
        );
        self.off_states(&links, &zones, known_supplies);
        let exceptions = self.exceptions(file.date, following);
        let outputs = self.outputs(file.output, &zone_names);
        let inputs = self.inputs(file.input, &zone_names, &outputs);
        let shelf = self.shelf(file.shelf);
        let daemon = self.daemon(file.daemon, !outputs.is_empty());
        Some(Site {
            name: whereabouts.name,
            place: whereabouts.place?,
            timezone: whereabouts.timezone?,
            region: whereabouts.region,
            mains: whereabouts.mains,
            tariff: whereabouts.tariff,
            temperatures,
            supplies,
            zones: zones.into_iter().collect::<Option<_>>()?,
            relays: links.relays.clone(),
            links: links.in_order()?,
            exceptions,
            outputs,
            inputs,
            shelf,
            daemon,
            assumed: Vec::new(),
        })
    }
}

/// Collects problems and assumptions.
pub(super) struct Resolver {
    problems: Vec<Problem>,
    assumed: Vec<Assumed>,
    only_values: bool,
}

/// A value, and its place in the file.
#[derive(Debug, Clone)]
struct At<T> {
    value: T,
    span: Range<usize>,
}

/// The names of one kind of table, in the order of the file; `None` for a missing or bad name.
struct Names {
    kind: &'static str,
    list: Vec<Option<String>>,
    /// Whether a name is missing or bad: it may be the one that a reference means.
    unsure: bool,
}

impl Names {
    fn known(&self) -> impl Iterator<Item = &str> {
        self.list.iter().flatten().map(String::as_str)
    }

    fn position(&self, name: &str) -> Option<usize> {
        self.list
            .iter()
            .position(|known| known.as_deref() == Some(name))
    }
}

/// The name of a table without a usable name, for a message.
fn numbered(kind: &str, index: usize, name: Option<&str>) -> String {
    match name {
        Some(name) => format!("{kind} {name}"),
        None => format!("[[{kind}]] number {}", index + 1),
    }
}

/// The name in a field, if it has one, for messages about its table.
fn said(field: Option<&Field<Name>>) -> Option<&str> {
    field?.value.as_ref().ok().map(|name| name.0.as_str())
}

impl Resolver {
    fn table(&mut self, place: impl Into<String>, span: Range<usize>) -> Table<'_> {
        Table {
            place: place.into(),
            span,
            resolver: self,
        }
    }

    /// Collects the names of one kind of table; a duplicate name is a problem.
    fn names<'a>(
        &mut self,
        kind: &'static str,
        fields: impl Iterator<Item = (Option<&'a Field<Name>>, Range<usize>)>,
    ) -> Names {
        let mut names = Names {
            kind,
            list: Vec::new(),
            unsure: false,
        };
        let mut spans: Vec<Range<usize>> = Vec::new();
        for (index, (field, table)) in fields.enumerate() {
            let mut span = table.clone();
            let mut name = None;
            match field.map(|field| (&field.value, &field.span)) {
                Some((Ok(given), at)) => {
                    span = at.clone();
                    name = Some(given.0.clone());
                }
                Some((Err(fault), at)) => {
                    let place = numbered(kind, index, None);
                    self.problems
                        .push(Problem::fault(at.clone(), &place, fault.clone()));
                }
                None if self.only_values => {}
                None => self.problems.push(Problem::new(
                    table,
                    format!("{} has no name", numbered(kind, index, None)),
                    format!("add a line such as `name = \"{kind}-{}\"`", index + 1),
                )),
            }
            let mut twice = false;
            if let Some(given) = &name
                && let Some(first) = names.position(given)
            {
                self.problems.push(
                    Problem::new(
                        span.clone(),
                        format!("two {kind} tables are called `{given}`"),
                        "give each its own name",
                    )
                    .and_see(spans[first].clone(), "the first one"),
                );
                name = None;
                twice = true;
            }
            names.unsure |= name.is_none() && !twice;
            names.list.push(name);
            spans.push(span);
        }
        names
    }
}

/// One table while it is resolved.
struct Table<'a> {
    place: String,
    span: Range<usize>,
    resolver: &'a mut Resolver,
}

impl Table<'_> {
    fn problem(&mut self, span: Range<usize>, message: impl Display, remedy: impl Into<String>) {
        let message = format!("{}: {message}", self.place);
        self.resolver
            .problems
            .push(Problem::new(span, message, remedy));
    }

    /// The same, for one entry of the list at `span`.
    fn problem_of_entry(
        &mut self,
        (span, entry): (Range<usize>, usize),
        message: impl Display,
        remedy: impl Into<String>,
    ) {
        let message = format!("{}: {message}", self.place);
        let problem = Problem::new(span, message, remedy).of_entries(vec![entry]);
        self.resolver.problems.push(problem);
    }

    /// The value of an optional field.
    fn take<T>(&mut self, field: Option<Field<T>>) -> Option<At<T>> {
        let Field { span, value } = field?;
        match value {
            Ok(value) => Some(At { value, span }),
            Err(fault) => {
                self.resolver
                    .problems
                    .push(Problem::fault(span, &self.place, fault));
                None
            }
        }
    }

    /// The value of a required field; `example` is a whole line.
    fn need<T>(&mut self, key: &str, field: Option<Field<T>>, example: &str) -> Option<At<T>> {
        if field.is_none() && !self.resolver.only_values {
            let span = self.span.clone();
            self.problem(
                span,
                format!("`{key}` is missing"),
                format!("add a line such as `{example}`"),
            );
        }
        self.take(field)
    }

    /// Records that `key` was left out and `value` taken.
    fn assume(&mut self, key: &'static str, value: impl Display) {
        self.resolver.assumed.push(Assumed {
            place: self.place.clone(),
            key,
            value: value.to_string(),
        });
    }

    /// A quantity in SI units within `bounds`, which a message words as `limits`; or the default, recorded.
    fn bounded_or<Q: Quantity + Display>(
        &mut self,
        key: &'static str,
        field: Option<Field<Q>>,
        default: Q,
        bounds: Range<f64>,
        limits: &str,
    ) -> f64 {
        if field.is_none() {
            self.assume(key, default);
        }
        let at = self.take(field);
        self.bound(key, at, bounds, limits)
            .map_or(default.si(), |at| at.value.si())
    }

    /// A word, a count or the like; or the default, recorded as the file would write it.
    fn word_or<T>(
        &mut self,
        key: &'static str,
        field: Option<Field<T>>,
        default: T,
        said: &str,
    ) -> T {
        if field.is_none() {
            self.assume(key, said);
        }
        self.take(field).map_or(default, |at| at.value)
    }

    /// A quantity in SI units within `bounds`, which a message words as `limits`, for a key without a default.
    fn stated<Q: Quantity + Display>(
        &mut self,
        key: &str,
        field: Option<Field<Q>>,
        bounds: Range<f64>,
        limits: &str,
    ) -> Option<f64> {
        let at = self.take(field);
        self.bound(key, at, bounds, limits).map(|at| at.value.si())
    }

    /// Passes on a quantity that lies within `bounds` in SI units, both ends included.
    fn bound<Q: Quantity + Display>(
        &mut self,
        key: &str,
        at: Option<At<Q>>,
        bounds: Range<f64>,
        limits: &str,
    ) -> Option<At<Q>> {
        let at = at?;
        if at.value.si() >= bounds.start && at.value.si() <= bounds.end {
            return Some(at);
        }
        self.problem(
            at.span,
            format!("`{key}` cannot be {}", rounded(at.value)),
            limits,
        );
        None
    }

    /// The position of the table that a field names.
    fn refer(&mut self, key: &str, field: Option<Field<Name>>, names: &Names) -> Option<At<usize>> {
        let kind = names.kind;
        let example = format!("{key} = \"{}\"", names.known().next().unwrap_or(kind));
        let at = self.need(key, field, &example)?;
        let name = at.value.0;
        if let Some(value) = names.position(&name) {
            return Some(At {
                value,
                span: at.span,
            });
        }
        if self.resolver.only_values || names.unsure {
            return None;
        }
        let remedy = match nearest(&name, names.known()) {
            Some(near) => format!("did you mean `{near}`?"),
            None if names.list.is_empty() => format!("add a [[{kind}]] with `name = \"{name}\"`"),
            None => format!("there is {}", listed(names.known(), "and")),
        };
        self.problem(
            at.span,
            format!("there is no {kind} called `{name}`"),
            remedy,
        );
        None
    }
}
