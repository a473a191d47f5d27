//! Zones that this board switches by an input: which zone each follows, how, and with which lines.
//!
//! This board may drive the master of a `follows_input` as well. The input shows what the master really
//! does, its output only what was asked for: a zone that follows the input stays dark when the master's fuse
//! is gone, which a second timed zone would not. What could go round in a circle is refused or warned of
//! elsewhere: loops of links and inputs by the reader, a shared supply by S18.
//!
//! `if_master_silent = "schedule"` always has a plan to fall back on: every chain of links and inputs
//! without a loop ends at a timed zone, and a zone that nothing switches is refused. So there is no message
//! for it.

use std::ops::Range;

use toml::Spanned;

use crate::site::fault::listed;
use crate::site::field::{Field, Name};
use crate::site::file::{InputTable, OutputTable, ZoneTable};
use crate::site::quantity::TimeSpan;
use crate::site::{IfSilent, Sensing, Supply, ZoneId};

use super::links::Masters;
use super::{At, Names, Resolver, Table, numbered, said};

/// What the file states about inputs and outputs, before other facts about zones and lines are known.
pub(super) struct Sensed {
    /// For every zone, the input that it follows.
    of: Vec<Follows>,
    outputs: Lined,
    inputs: Lined,
}

/// The zone whose input a zone follows.
enum Follows {
    /// The file names none.
    Nobodys,
    /// The file names one, but not usably.
    Somebodys,
    /// The input of this zone.
    Of(At<usize>),
}

/// The zones that have a line of one kind.
struct Lined {
    zones: Vec<bool>,
    /// Whether some line does not name its zone usably.
    unsure: bool,
}

impl Lined {
    fn new<'a>(fields: impl Iterator<Item = Option<&'a Field<Name>>>, zones: &Names) -> Self {
        let mut lined = Self {
            zones: vec![false; zones.list.len()],
            unsure: zones.unsure,
        };
        for field in fields {
            match said(field).and_then(|name| zones.position(name)) {
                Some(zone) => lined.zones[zone] = true,
                None => lined.unsure = true,
            }
        }
        lined
    }

    /// Whether the zone surely has no such line.
    fn lacks(&self, zone: usize) -> bool {
        !self.zones[zone] && !self.unsure
    }
}

impl Sensed {
    /// The zone whose input `zone` follows, and the place in the file that says so.
    pub(super) fn master_of(&self, zone: usize) -> Option<(usize, Range<usize>)> {
        match &self.of[zone] {
            Follows::Of(at) => Some((at.value, at.span.clone())),
            Follows::Nobodys | Follows::Somebodys => None,
        }
    }

    /// Whether the file names an input for `zone` to follow, usably or not.
    pub(super) fn says(&self, zone: usize) -> bool {
        !matches!(self.of[zone], Follows::Nobodys)
    }
}

/// Which zone follows which, over links and by inputs.
#[derive(Clone, Copy)]
pub(super) struct Following<'a> {
    pub(super) masters: &'a Masters,
    pub(super) sensed: &'a Sensed,
    pub(super) names: &'a Names,
}

pub(super) struct Leader {
    /// The zone at its head.
    pub(super) master: String,
    /// `front`, or `the input of front`.
    pub(super) said: String,
    /// How to stop it following.
    pub(super) undo: String,
}

impl Following<'_> {
    fn name(&self, zone: usize) -> &str {
        self.names.list[zone].as_deref().unwrap_or("it")
    }

    pub(super) fn leader(&self, zone: usize) -> Option<Leader> {
        if let Some((_, master)) = self.masters.link_to(zone) {
            return Some(Leader {
                undo: format!("take out the link {master} > {}", self.name(zone)),
                said: master.clone(),
                master,
            });
        }
        let (master, _) = self.sensed.master_of(zone)?;
        let master = self.name(master).to_owned();
        Some(Leader {
            undo: "take out `follows_input`".into(),
            said: format!("the input of {master}"),
            master,
        })
    }
}

impl Resolver {
    pub(super) fn sensed(
        &mut self,
        tables: &[Spanned<ZoneTable>],
        (outputs, inputs): (&[Spanned<OutputTable>], &[Spanned<InputTable>]),
        zones: &Names,
    ) -> Sensed {
        let mut of = Vec::new();
        for (index, table) in tables.iter().enumerate() {
            let Some(field) = table.get_ref().follows_input.clone() else {
                of.push(Follows::Nobodys);
                continue;
            };
            let name = zones.list[index].as_deref();
            let mut at = self.table(numbered("zone", index, name), table.span());
            let master = at.refer("follows_input", Some(field), zones);
            of.push(match master {
                Some(master) if master.value == index => {
                    at.problem(
                        master.span,
                        "it would follow its own input, and never go off",
                        "name another zone as its master",
                    );
                    Follows::Somebodys
                }
                Some(master) => Follows::Of(master),
                None => Follows::Somebodys,
            });
        }
        let outputs = outputs.iter().map(|at| at.get_ref().zone.as_ref());
        let inputs = inputs.iter().map(|at| at.get_ref().zone.as_ref());
        Sensed {
            of,
            outputs: Lined::new(outputs, zones),
            inputs: Lined::new(inputs, zones),
        }
    }
}

/// The keys of a `[[zone]]` about its lines.
pub(super) struct Keys {
    on_delay: Option<Field<TimeSpan>>,
    off_delay: Option<Field<TimeSpan>>,
    if_silent: Option<Field<IfSilent>>,
    silent_after: Option<Field<TimeSpan>>,
    minimum_lit: Option<Field<TimeSpan>>,
    minimum_dark: Option<Field<TimeSpan>>,
}

impl Keys {
    /// Takes the keys out of their table.
    pub(super) fn of(table: &mut ZoneTable) -> Self {
        Self {
            on_delay: table.on_delay.take(),
            off_delay: table.off_delay.take(),
            if_silent: table.if_master_silent.take(),
            silent_after: table.silent_after.take(),
            minimum_lit: table.minimum_lit.take(),
            minimum_dark: table.minimum_dark.take(),
        }
    }
}

/// What the lines of a zone do.
pub(super) struct Lines {
    /// How it follows an input, if it does.
    pub(super) sensing: Option<Sensing>,
    /// Minimum on-time [s].
    pub(super) minimum_lit_s: f64,
    /// Minimum off-time [s].
    pub(super) minimum_dark_s: f64,
}

/// Default of a line's times [s]: longer than any contact bounces, shorter than a person would wait (assumed).
const USUAL: TimeSpan = TimeSpan(1.0);

/// Longest delay of a line, and longest minimum on-time or off-time [s] (assumed).
const LONGEST_S: f64 = 3600.0;

const UP_TO_AN_HOUR: &str = "write a time between 0 s and 1 h, such as `\"2 s\"`";

impl Table<'_> {
    /// The keys about lines for the zone at `index`, whose supply is `supply`.
    pub(super) fn lines(
        &mut self,
        keys: Keys,
        index: usize,
        following: Following<'_>,
        supply: Option<&Supply>,
    ) -> Lines {
        let sensed = following.sensed;
        let zone = following.name(index);
        let mut sensing = None;
        if let Some((master, span)) = sensed.master_of(index) {
            let master_name = following.name(master);
            if sensed.inputs.lacks(master) && !self.resolver.only_values {
                self.problem(
                    span.clone(),
                    format!("no [[input]] tells whether {master_name} is lit"),
                    format!(
                        "add an [[input]] with `zone = \"{master_name}\"`, the line that its voltage reaches"
                    ),
                );
            }
            if sensed.outputs.lacks(index) && !self.resolver.only_values {
                self.problem(
                    span,
                    format!("it follows the input of {master_name}, and no [[output]] switches it"),
                    format!("add an [[output]] with `zone = \"{zone}\"`"),
                );
            }
            sensing = Some(ZoneId(master));
        }
        let sensing = if sensed.says(index) {
            let how = self.sensing(
                keys.on_delay,
                keys.off_delay,
                keys.if_silent,
                keys.silent_after,
            );
            sensing.map(how)
        } else {
            self.needless(
                [
                    at("on_delay", keys.on_delay.as_ref()),
                    at("off_delay", keys.off_delay.as_ref()),
                    at("if_master_silent", keys.if_silent.as_ref()),
                    at("silent_after", keys.silent_after.as_ref()),
                ],
                "follows no input",
                "say with `follows_input` whose input it follows",
            );
            None
        };
        let (minimum_lit_s, minimum_dark_s) = if sensed.outputs.lacks(index) && !sensed.says(index)
        {
            self.needless(
                [
                    at("minimum_lit", keys.minimum_lit.as_ref()),
                    at("minimum_dark", keys.minimum_dark.as_ref()),
                ],
                "no [[output]] switches it",
                &format!("add an [[output]] with `zone = \"{zone}\"`"),
            );
            (USUAL.0, USUAL.0)
        } else {
            self.minimums(keys.minimum_lit, keys.minimum_dark, supply)
        };
        Lines {
            sensing,
            minimum_lit_s,
            minimum_dark_s,
        }
    }

    /// How a zone follows an input, whichever zone's it is.
    fn sensing(
        &mut self,
        on_delay: Option<Field<TimeSpan>>,
        off_delay: Option<Field<TimeSpan>>,
        if_silent: Option<Field<IfSilent>>,
        silent_after: Option<Field<TimeSpan>>,
    ) -> impl Fn(ZoneId) -> Sensing {
        let range = 0.0..LONGEST_S;
        let on_delay_s = self.bounded_or("on_delay", on_delay, USUAL, range.clone(), UP_TO_AN_HOUR);
        let off_delay_s = self.bounded_or("off_delay", off_delay, USUAL, range, UP_TO_AN_HOUR);
        let if_silent = self.word_or("if_master_silent", if_silent, IfSilent::Dark, "dark");
        let silent_after_s = self.bounded_or(
            "silent_after",
            silent_after,
            TimeSpan(600.0),
            1.0..43_200.0,
            "write a time between 1 s and 12 h, such as `\"10 min\"`",
        );
        move |master| Sensing {
            master,
            on_delay_s,
            off_delay_s,
            if_silent,
            silent_after_s,
        }
    }

    fn minimums(
        &mut self,
        lit: Option<Field<TimeSpan>>,
        dark: Option<Field<TimeSpan>>,
        supply: Option<&Supply>,
    ) -> (f64, f64) {
        let range = 0.0..LONGEST_S;
        let lit_s = self.bounded_or("minimum_lit", lit, USUAL, range.clone(), UP_TO_AN_HOUR);
        let span = dark.as_ref().map(|field| field.span.clone());
        let dark_s = self.bounded_or("minimum_dark", dark, USUAL, range, UP_TO_AN_HOUR);
        let needed_s = supply.map_or(0.0, Supply::restart_s);
        if let Some(span) = span
            && dark_s < needed_s
        {
            self.problem(
                span,
                format!(
                    "`minimum_dark` {} is less than the {} for which its supply must be let go to start again",
                    TimeSpan(dark_s),
                    TimeSpan(needed_s)
                ),
                format!("write `\"{}\"` or more", TimeSpan(needed_s)),
            );
        }
        (lit_s, dark_s)
    }

    /// Reports keys that have no effect because the zone lacks what they are about.
    fn needless<const N: usize>(
        &mut self,
        given: [Option<(&'static str, Range<usize>)>; N],
        lack: &str,
        remedy: &str,
    ) {
        let mut given: Vec<_> = given.into_iter().flatten().collect();
        given.sort_by_key(|(_, span)| span.start);
        let Some((_, span)) = given.first().cloned() else {
            return;
        };
        if !self.resolver.only_values {
            let keys = listed(given.iter().map(|(key, _)| *key), "and");
            self.problem(
                span,
                format!("it has {keys}, but {lack}"),
                format!("take {keys} out, or {remedy}"),
            );
        }
    }
}

fn at<T>(key: &'static str, field: Option<&Field<T>>) -> Option<(&'static str, Range<usize>)> {
    field.map(|field| (key, field.span.clone()))
}
