//! Trunks and the lamps along them.

use toml::Spanned;

use crate::site::fault::{listed, nearest};
use crate::site::field::{Accepts, Field, Name, Spread};
use crate::site::file::{LampTable, TrunkTable};
use crate::site::problem::Problem;
use crate::site::quantity::{ApparentPower, Length, Power, Volts, rounded};
use crate::site::{Cable, Fuse, Laid, LampGroup, LampKind, Trunk};

use super::{At, Names, Resolver, Table, numbered, said};

/// Apparent power divided by real power of an LED lamp on AC if the file gives none (from memory: 1.2 to 2).
const LED_VA_PER_W: f64 = 1.5;

/// Most lamps of a zone: far beyond any yard, far below what would fill the memory.
const MOST_LAMPS: u32 = 10_000;

/// A trunk as written, before its lamps are placed.
struct Bare {
    zone: Option<usize>,
    name: Option<String>,
    cable: Option<Cable>,
    spread: Option<At<Spread>>,
    fuse: Fuse,
    laid: Laid,
    place: String,
    span: std::ops::Range<usize>,
    lamps: Vec<LampGroup>,
}

enum Hung {
    /// On this trunk of the file.
    On(usize),
    /// On none: the file states no cable for its zone.
    Loose,
}

impl Resolver {
    /// The trunks of every zone, with their lamps.
    pub(super) fn trunks(
        &mut self,
        trunks: Vec<Spanned<TrunkTable>>,
        lamps: Vec<Spanned<LampTable>>,
        zones: &Names,
    ) -> Vec<Vec<Trunk>> {
        let mut bare: Vec<Bare> = Vec::new();
        let mut names: Vec<std::ops::Range<usize>> = Vec::new();
        for (index, table) in trunks.into_iter().enumerate() {
            let place = numbered("trunk", index, said(table.get_ref().zone.as_ref()));
            let span = table.span();
            let (trunk, name) = self
                .table(place, span.clone())
                .trunk(table.into_inner(), zones);
            if let Some(at) = &name
                && let Some(first) = bare.iter().position(|other: &Bare| {
                    trunk.zone.is_some() && other.zone == trunk.zone && other.name == trunk.name
                })
            {
                let message = format!(
                    "{}: it has two trunks called `{}`",
                    zone_of(&trunk, zones),
                    at.value.0
                );
                let problem = Problem::new(at.span.clone(), message, "give each its own name");
                let first = names[first].clone();
                self.problems.push(problem.and_see(first, "the first one"));
            }
            names.push(name.map_or(span, |at| at.span));
            bare.push(trunk);
        }
        let mut whole = !self.only_values;
        let mut counts = vec![0; zones.list.len()];
        let mut loose: Vec<Vec<LampGroup>> = vec![Vec::new(); zones.list.len()];
        for (index, table) in lamps.into_iter().enumerate() {
            let place = numbered("lamp", index, said(table.get_ref().zone.as_ref()));
            let span = table.span();
            let mut at = self.table(place, span.clone());
            let Some((zone, hung, group)) = at.lamp(table.into_inner(), zones, &bare) else {
                whole = false;
                continue;
            };
            let before = counts[zone];
            counts[zone] += group.count;
            if counts[zone] > MOST_LAMPS {
                if before <= MOST_LAMPS {
                    let message = format!("its zone would have more than {MOST_LAMPS} lamps");
                    at.problem(
                        span,
                        message,
                        "look at the counts, or make it several zones",
                    );
                }
                whole = false;
                continue;
            }
            match hung {
                Hung::On(trunk) => bare[trunk].lamps.push(group),
                Hung::Loose => loose[zone].push(group),
            }
        }
        let mut hung: Vec<Vec<Trunk>> = loose
            .into_iter()
            .map(|lamps| {
                let count: u32 = lamps.iter().map(|group| group.count).sum();
                let loose = Trunk {
                    cable: None,
                    distances_m: vec![0.0; count as usize],
                    lamps,
                    fuse: Fuse::NotStated,
                    laid: Laid::default(),
                };
                if count == 0 { Vec::new() } else { vec![loose] }
            })
            .collect();
        for trunk in bare {
            let Some(zone) = trunk.zone else { continue };
            hung[zone].extend(self.hang(trunk, whole));
        }
        hung
    }

    /// Places the lamps; the number of lamps is only checked if they are the `whole` of them.
    fn hang(&mut self, bare: Bare, whole: bool) -> Option<Trunk> {
        let Bare {
            cable,
            spread,
            fuse,
            laid,
            place,
            span,
            lamps,
            ..
        } = bare;
        let cable = cable?;
        let count = lamps
            .iter()
            .map(|group| group.count as usize)
            .sum::<usize>();
        let mut table = self.table(place, span);
        let length_m = cable.length_m;
        let distances_m = match spread {
            None
            | Some(At {
                value: Spread::Even,
                ..
            }) => even(count, length_m),
            Some(At {
                value: Spread::End, ..
            }) => vec![length_m; count],
            Some(At {
                value: Spread::At(list),
                span,
            }) => {
                let distances: Vec<f64> = list.iter().map(|distance| distance.0).collect();
                let beyond = |d: &f64| *d > length_m * (1.0 + 1e-9);
                if whole && distances.len() != count {
                    table.problem(
                        span,
                        format!("it has {count} lamps but {} distances", distances.len()),
                        "write one distance for each lamp, nearest first",
                    );
                } else if let Some(back) = (0..distances.len())
                    .find(|at| distances[*at] < at.checked_sub(1).map_or(0.0, |one| distances[one]))
                {
                    table.problem_of_entry(
                        (span, back),
                        "its distances are not in order along the trunk",
                        "write them from the supply outward",
                    );
                } else if let Some(first) = distances.iter().position(beyond) {
                    let message = format!(
                        "lamp {} hangs at {}, beyond the end of the trunk at {}",
                        first + 1,
                        rounded(Length(distances[first])),
                        rounded(Length(length_m))
                    );
                    table.problem_of_entry(
                        (span, first),
                        message,
                        "write distances along the trunk, or lengthen it",
                    );
                }
                distances
            }
        };
        Some(Trunk {
            cable: Some(cable),
            distances_m,
            lamps,
            fuse,
            laid,
        })
    }
}

/// The zone of a trunk, for a message.
fn zone_of(trunk: &Bare, zones: &Names) -> String {
    let name = trunk.zone.and_then(|at| zones.list[at].as_deref());
    format!("zone {}", name.unwrap_or_default())
}

/// Evenly spread, the last one at the end.
fn even(count: usize, length_m: f64) -> Vec<f64> {
    (1..=count)
        .map(|lamp| length_m * lamp as f64 / count as f64)
        .collect()
}

impl Table<'_> {
    fn trunk(&mut self, table: TrunkTable, zones: &Names) -> (Bare, Option<At<Name>>) {
        let zone = self.refer("zone", table.zone, zones).map(|at| at.value);
        let gauge = self.need("wire", table.wire, "wire = \"12 AWG\"");
        let stranding = self.take(table.stranding).map(|at| at.value);
        let length = self.need("length", table.length, "length = \"60 ft\"");
        let length = self.bound(
            "length",
            length,
            0.01..10_000.0,
            "write the one-way route, such as `\"60 ft\"`",
        );
        let name = self.take(table.name);
        if table.lamps.is_none() {
            self.assume("lamps", "even");
        }
        let spread = self.take(table.lamps);
        let fuse = self.take(table.fuse);
        let cable = gauge.zip(length).map(|(gauge, length)| Cable {
            gauge: gauge.value,
            stranding: self.stranding(stranding, gauge.value),
            length_m: length.value.0,
        });
        let laid = self.laid(table.depth, table.colours);
        let bare = Bare {
            zone,
            name: name.as_ref().map(|at| at.value.0.clone()),
            cable,
            spread,
            fuse: self.fuse(fuse),
            laid,
            place: self.place.clone(),
            span: self.span.clone(),
            lamps: Vec::new(),
        };
        (bare, name)
    }

    fn lamp(
        &mut self,
        table: LampTable,
        zones: &Names,
        trunks: &[Bare],
    ) -> Option<(usize, Hung, LampGroup)> {
        let zone = self.refer("zone", table.zone, zones).map(|at| at.value);
        let named = self.take(table.trunk);
        let group = self.lamp_group(
            (table.count, table.kind),
            (table.power, table.apparent_power),
            [
                table.rated_voltage,
                table.lowest_voltage,
                table.highest_voltage,
            ],
            table.accepts,
        );
        let zone = zone?;
        let hung = self.trunk_for(zone, named, trunks);
        Some((zone, hung?, group?))
    }

    /// The trunk of a lamp, if its zone has one.
    fn trunk_for(&mut self, zone: usize, named: Option<At<Name>>, trunks: &[Bare]) -> Option<Hung> {
        let mine: Vec<usize> = (0..trunks.len())
            .filter(|at| trunks[*at].zone == Some(zone))
            .collect();
        match (named, mine.as_slice()) {
            (None, []) => Some(Hung::Loose),
            (None, [only]) => Some(Hung::On(*only)),
            (None, _) => {
                let span = self.span.clone();
                let names = mine.iter().filter_map(|at| trunks[*at].name.as_deref());
                let lines: Vec<String> = names.map(|name| format!("trunk = \"{name}\"")).collect();
                let remedy = if lines.len() == mine.len() {
                    format!("add {}", listed(lines.iter().map(String::as_str), "or"))
                } else {
                    "give each [[trunk]] of the zone a `name`, and add `trunk` with one of them"
                        .into()
                };
                self.problem(span, "its zone has several trunks", remedy);
                None
            }
            (Some(at), _) => {
                let found = mine
                    .iter()
                    .find(|index| trunks[**index].name.as_ref() == Some(&at.value.0));
                if found.is_none() && !self.resolver.only_values {
                    let names = || mine.iter().filter_map(|at| trunks[*at].name.as_deref());
                    let remedy = match nearest(&at.value.0, names()) {
                        Some(near) => format!("did you mean `{near}`?"),
                        None if names().next().is_none() => {
                            "give the [[trunk]] of this zone that `name`".into()
                        }
                        None => format!("there is {}", listed(names(), "and")),
                    };
                    let message = format!("its zone has no trunk called `{}`", at.value.0);
                    self.problem(at.span, message, remedy);
                }
                found.map(|index| Hung::On(*index))
            }
        }
    }

    fn lamp_group(
        &mut self,
        (count, kind): (Option<Field<u32>>, Option<Field<LampKind>>),
        (power, apparent): (Option<Field<Power>>, Option<Field<ApparentPower>>),
        [rated, lowest, highest]: [Option<Field<Volts>>; 3],
        accepts: Option<Field<Accepts>>,
    ) -> Option<LampGroup> {
        let counted = count.is_none();
        let count = self.take(count).filter(|at| {
            let some = (1..=1000).contains(&at.value);
            if !some {
                self.problem(
                    at.span.clone(),
                    format!("`count` cannot be {}", at.value),
                    "write a count from 1 to 1000",
                );
            }
            some
        });
        let counted = counted || count.is_some();
        let kind = self.word_or("kind", kind, LampKind::Led, "led");
        let power = self.need("power", power, "power = \"4 W\"");
        let power = self.bound(
            "power",
            power,
            0.001..2000.0,
            "write the power of one lamp, such as `\"4 W\"`",
        );
        let power_w = power.map(|at| at.value.0);
        let apparent = self.take(apparent);
        if let (Some(at), Some(power_w)) = (&apparent, power_w)
            && at.value.0 < power_w
        {
            self.problem(
                at.span.clone(),
                format!(
                    "`apparent_power` {} is below the power {power_w} W",
                    at.value
                ),
                "apparent power is at least the real power: look at the label again",
            );
        }
        let usual_va = power_w.unwrap_or_default()
            * if kind == LampKind::Led {
                LED_VA_PER_W
            } else {
                1.0
            };
        if apparent.is_none() {
            self.assume("apparent_power", ApparentPower(usual_va));
        }
        let rated_v = self.take(rated);
        let rated_v = self.bound(
            "rated_voltage",
            rated_v,
            1.0..250.0,
            "write the lamp's voltage, such as `\"12 V\"`",
        );
        let said = "write a voltage of the label, such as `\"9 V\"`";
        let lowest = self.take(lowest);
        let lowest = self.bound("lowest_voltage", lowest, 0.0..250.0, said);
        let highest = self.take(highest);
        let highest = self.bound("highest_voltage", highest, 0.0..250.0, said);
        if let (Some(low), Some(high)) = (&lowest, &highest)
            && low.value.0 > high.value.0
        {
            self.problem(
                high.span.clone(),
                format!(
                    "`highest_voltage` {} is below `lowest_voltage` {}",
                    high.value, low.value
                ),
                "swap them",
            );
        }
        let accepts = self.take(accepts).map(|at| at.value);
        if !counted {
            return None;
        }
        Some(LampGroup {
            count: count.map_or(1, |at| at.value),
            kind,
            power_w: power_w?,
            apparent_va: apparent.map_or(usual_va, |at| at.value.0),
            rated_v: rated_v.map_or(12.0, |at| at.value.0),
            lowest_v: lowest.map(|at| at.value.0),
            highest_v: highest.map(|at| at.value.0),
            accepts_ac: accepts.map(|accepts| accepts.ac),
            accepts_dc: accepts.map(|accepts| accepts.dc),
        })
    }
}
