//! Pilot wires, relays and diodes: which zone follows which, and over what.

use std::ops::Range;

use toml::Spanned;

use crate::circuit::diode::Diode;
use crate::circuit::rectifier::Rectifier;
use crate::circuit::wire::{Gauge, Stranding};
use crate::site::fault::{listed, nearest};
use crate::site::field::{Field, OrNone};
use crate::site::file::{DiodeTable, LinkTable, RelayTable};
use crate::site::problem::Problem;
use crate::site::quantity::{Capacitance, Current, Length, Resistance, Share, Volts, VoltsDc};
use crate::site::{
    Cable, Capacitor, Fuse, Laid, Link, LinkId, Relay, Supply, SupplyOutput, Zone, ZoneId,
};

use super::sensing::Sensed;
use super::{At, Names, Resolver, Table, numbered, said};

/// The links of a file, as far as they could be resolved.
pub(super) struct Links {
    pub(super) masters: Masters,
    pub(super) relays: Vec<Relay>,
    list: Vec<Option<Link>>,
    /// The places in the file that state each pair's voltage with its master off.
    off_states: Vec<Option<Range<usize>>>,
}

impl Links {
    /// All links, each after the one that feeds its master; `None` if one is faulty.
    pub(super) fn in_order(self) -> Option<Vec<Link>> {
        let mut list: Vec<Link> = self.list.into_iter().collect::<Option<_>>()?;
        list.sort_by_key(|link| {
            self.masters
                .order
                .iter()
                .position(|slave| *slave == link.slave.0)
        });
        Some(list)
    }
}

pub(super) struct Masters {
    /// For every zone: the name of its master.
    of: Vec<Option<String>>,
    /// Slaves of links, each after its master.
    order: Vec<usize>,
    /// Whether an end of some link is wrong: a zone may follow though no link seems to name it.
    pub(super) unsure: bool,
}

impl Masters {
    /// The link that switches the zone, and the name of its master.
    pub(super) fn link_to(&self, zone: usize) -> Option<(LinkId, String)> {
        let master = self.of.get(zone)?.clone()?;
        let link = self
            .order
            .iter()
            .position(|slave| *slave == zone)
            .unwrap_or_default();
        Some((LinkId(link), master))
    }
}

/// The two zones of a link, before anything else about it is known.
struct Ends {
    master: Option<At<usize>>,
    slave: Option<At<usize>>,
}

impl Resolver {
    pub(super) fn links(
        &mut self,
        links: Vec<Spanned<LinkTable>>,
        relays: Vec<Spanned<RelayTable>>,
        diodes: Vec<Spanned<DiodeTable>>,
        (zones, sensed): (&Names, &Sensed),
    ) -> Links {
        let fields = relays
            .iter()
            .map(|table| (table.get_ref().name.as_ref(), table.span()));
        let relay_names = self.names("relay", fields);
        let relays: Vec<Relay> = relays
            .into_iter()
            .enumerate()
            .map(|(index, table)| {
                let name = relay_names.list[index].as_deref();
                let mut at = self.table(numbered("relay", index, name), table.span());
                at.relay(table.into_inner(), name)
            })
            .collect();
        let diodes = self.diodes(diodes);
        let mut ends = Vec::new();
        let mut list = Vec::new();
        let mut off_states = Vec::new();
        for (index, table) in links.into_iter().enumerate() {
            let span = table.span();
            let table = table.into_inner();
            let place = match (said(table.master.as_ref()), said(table.slave.as_ref())) {
                (Some(master), Some(slave)) => format!("link {master} > {slave}"),
                _ => numbered("link", index, None),
            };
            let off_state = table.off_state_voltage.as_ref();
            off_states.push(off_state.map(|field| field.span.clone()));
            let mut at = self.table(place, span);
            let (end, link) = at.link(table, zones, (&relay_names, &relays), &diodes);
            ends.push(end);
            list.push(link);
        }
        let masters = self.masters(&ends, zones, sensed);
        Links {
            masters,
            relays,
            list,
            off_states,
        }
    }

    /// With its master off, a pair cannot have more voltage than the master's supply gives.
    pub(super) fn off_states(
        &mut self,
        links: &Links,
        zones: &[Option<Zone>],
        supplies: &[Supply],
    ) {
        for (link, span) in links.list.iter().zip(&links.off_states) {
            let (Some(link), Some(span)) = (link, span) else {
                continue;
            };
            let zone = |id: ZoneId| zones.get(id.0)?.as_ref();
            let (Some(master), Some(slave)) = (zone(link.master), zone(link.slave)) else {
                continue;
            };
            let Some(supply) = supplies.get(master.supply.0) else {
                continue;
            };
            let most_v = match supply.output {
                SupplyOutput::Ac { no_load_v, .. } => no_load_v,
                SupplyOutput::Dc { highest_v, .. } => highest_v,
            };
            if link.off_state_v > most_v {
                let message = format!(
                    "link {} > {}: `off_state_voltage` {} is above the {} that its supply {} gives",
                    master.name,
                    slave.name,
                    Volts(link.off_state_v),
                    Volts(most_v),
                    supply.name
                );
                let remedy = "write what a meter reads on the pair while the master is off";
                self.problems
                    .push(Problem::new(span.clone(), message, remedy));
            }
        }
    }

    /// Finds second masters, zones that follow themselves, and loops.
    fn masters(&mut self, ends: &[Ends], zones: &Names, sensed: &Sensed) -> Masters {
        let name = |zone: usize| zones.list[zone].clone().unwrap_or_default();
        let mut master_of: Vec<Option<(usize, Range<usize>)>> = vec![None; zones.list.len()];
        for end in ends {
            let (Some(master), Some(slave)) = (&end.master, &end.slave) else {
                continue;
            };
            if master.value == slave.value {
                self.problems.push(Problem::new(
                    slave.span.clone(),
                    format!(
                        "zone {} would follow itself, and never go off",
                        name(slave.value)
                    ),
                    "name another zone as its master",
                ));
            } else if let Some((first, span)) = &master_of[slave.value] {
                let message = format!(
                    "zone {} has two masters, {} and {}",
                    name(slave.value),
                    name(*first),
                    name(master.value)
                );
                self.problems.push(
                    Problem::new(slave.span.clone(), message, "keep one of the two links")
                        .and_see(span.clone(), "the first one"),
                );
            } else {
                master_of[slave.value] = Some((master.value, slave.span.clone()));
            }
        }
        let linked: Vec<bool> = master_of.iter().map(Option::is_some).collect();
        let of: Vec<Option<String>> = master_of
            .iter()
            .map(|master| master.as_ref().map(|(at, _)| name(*at)))
            .collect();
        for (zone, slot) in master_of.iter_mut().enumerate() {
            let Some((master, span)) = sensed.master_of(zone) else {
                continue;
            };
            if let Some((first, link)) = slot {
                let message = format!(
                    "zone {} follows the input of {}, and the link {} > {} as well",
                    name(zone),
                    name(master),
                    name(*first),
                    name(zone)
                );
                self.problems.push(
                    Problem::new(
                        span,
                        message,
                        "keep the link if its relay switches the zone, `follows_input` if this board does",
                    )
                    .and_see(link.clone(), "the link"),
                );
            } else {
                *slot = Some((master, span));
            }
        }
        self.loops(&master_of, &linked, zones);
        let mut order: Vec<usize> = (0..master_of.len())
            .filter(|zone| master_of[*zone].is_none())
            .collect();
        let roots = order.len();
        let mut next = 0;
        while next < order.len() {
            let master = order[next];
            let of = |zone: &usize| {
                master_of[*zone]
                    .as_ref()
                    .is_some_and(|(at, _)| *at == master)
            };
            order.extend((0..master_of.len()).filter(of));
            next += 1;
        }
        let mut order = order.split_off(roots);
        order.retain(|zone| linked[*zone]);
        Masters {
            of,
            order,
            unsure: ends.iter().any(|end| match (&end.master, &end.slave) {
                (Some(master), Some(slave)) => master.value == slave.value,
                _ => true,
            }),
        }
    }

    fn loops(
        &mut self,
        master_of: &[Option<(usize, Range<usize>)>],
        linked: &[bool],
        zones: &Names,
    ) {
        let mut seen = vec![false; master_of.len()];
        for start in 0..master_of.len() {
            let mut path = Vec::new();
            let mut zone = start;
            while let Some((master, _)) = &master_of[zone] {
                if seen[zone] {
                    break;
                }
                seen[zone] = true;
                path.push(zone);
                zone = *master;
            }
            let Some(entry) = path.iter().position(|at| *at == zone) else {
                continue;
            };
            let what = if path[entry..].iter().all(|zone| linked[*zone]) {
                "links run"
            } else {
                "zones follow each other"
            };
            let mut around: Vec<&str> = path[entry..]
                .iter()
                .rev()
                .map(|at| zones.list[*at].as_deref().unwrap_or_default())
                .collect();
            around.rotate_right(1);
            around.push(around[0]);
            let span = master_of[zone]
                .as_ref()
                .map_or(0..0, |(_, span)| span.clone());
            self.problems.push(Problem::new(
                span,
                format!("the {what} in a loop: {}", around.join(" > ")),
                "cut one of them and give that zone `on` and `off`: a loop would hold itself on for ever",
            ));
        }
    }
}

impl Table<'_> {
    /// How the conductor is made; if the file does not say, the column with more resistance for mm².
    pub(super) fn stranding(&mut self, stated: Option<Stranding>, gauge: Gauge) -> Stranding {
        stated.unwrap_or_else(|| {
            let usual = gauge.usual_stranding();
            let said = match usual {
                Stranding::Solid => "solid",
                Stranding::Stranded => "stranded",
                Stranding::Class5 => "class5",
            };
            self.assume("stranding", said);
            usual
        })
    }

    /// How a run is laid; what is not stated is not assumed.
    pub(super) fn laid(
        &mut self,
        depth: Option<Field<Length>>,
        colours: Option<Field<String>>,
    ) -> Laid {
        let depth = self.take(depth);
        let depth = self.bound(
            "depth",
            depth,
            0.0..5.0,
            "write the cover over it, such as `\"150 mm\"` or `\"6 in\"`",
        );
        let colours = self.take(colours).and_then(|at| {
            let length = at.value.chars().count();
            if (1..=60).contains(&length) && !at.value.chars().any(char::is_control) {
                return Some(at.value);
            }
            self.problem(
                at.span,
                "`colours` is a few words on one line",
                "write what the conductors look like, such as `\"red and black\"`",
            );
            None
        });
        Laid {
            depth_m: depth.map(|at| at.value.0),
            colours,
        }
    }

    pub(super) fn fuse(&mut self, at: Option<At<OrNone<Current>>>) -> Fuse {
        match at {
            None => Fuse::NotStated,
            Some(At {
                value: OrNone(None),
                ..
            }) => Fuse::None,
            Some(At {
                value: OrNone(Some(rating)),
                span,
            }) => {
                if rating.0 <= 0.0 {
                    self.problem(
                        span,
                        format!("a fuse cannot be rated {rating}"),
                        "write its rating, such as `\"500 mA\"`, or `\"none\"`",
                    );
                }
                Fuse::Rated(rating.0)
            }
        }
    }

    fn link(
        &mut self,
        table: LinkTable,
        zones: &Names,
        (relay_names, relays): (&Names, &[Relay]),
        diodes: &[(String, Diode)],
    ) -> (Ends, Option<Link>) {
        let ends = Ends {
            master: self.refer("master", table.master, zones),
            slave: self.refer("slave", table.slave, zones),
        };
        let relay = self
            .refer("relay", table.relay, relay_names)
            .map(|at| relays[at.value].clone());
        let measured = self.take(table.loop_resistance);
        let measured = self.bound(
            "loop_resistance",
            measured,
            0.01..10_000.0,
            "write the ohms measured with the far end shorted",
        );
        let stranding = self.take(table.stranding).map(|at| at.value);
        let (gauge, length) = if measured.is_some() {
            (self.take(table.wire), self.take(table.length))
        } else {
            (
                self.need("wire", table.wire, "wire = \"22 AWG\""),
                self.need("length", table.length, "length = \"210 ft\""),
            )
        };
        let length = self.bound(
            "length",
            length,
            0.01..10_000.0,
            "write the one-way route, such as `\"210 ft\"`",
        );
        let cable = gauge.zip(length).map(|(gauge, length)| Cable {
            gauge: gauge.value,
            stranding: self.stranding(stranding, gauge.value),
            length_m: length.value.0,
        });
        let splices = self.word_or("splices", table.splices, 0, "0");
        let splice_ohm = self.bounded_or(
            "splice_resistance",
            table.splice_resistance,
            Resistance(0.010),
            0.0..1000.0,
            "write ohms, from 0 up",
        );
        let series = self.take(table.series_resistor);
        let series = self.bound(
            "series_resistor",
            series,
            0.0..10_000.0,
            "write ohms, from 0 up",
        );
        let rectifier = self.word_or("rectifier", table.rectifier, Rectifier::Bridge, "bridge");
        let (diode_name, diode) = self.diode_named(table.diode, diodes);
        let capacitor = self.capacitor(
            table.capacitor,
            table.capacitor_rating,
            table.capacitor_tolerance,
        );
        let fuse = self.take(table.fuse);
        let fuse = self.fuse(fuse);
        let off_state_v = self.bounded_or(
            "off_state_voltage",
            table.off_state_voltage,
            Volts(0.0),
            0.0..100.0,
            "write what the pair carries when the master is off, such as `\"0 V\"`",
        );
        let laid = self.laid(table.depth, table.colours);
        let flyback_diode = self.word_or("flyback_diode", table.flyback_diode, true, "true");
        let link = (|| {
            if cable.is_none() && measured.is_none() {
                return None;
            }
            Some(Link {
                master: ZoneId(ends.master.as_ref()?.value),
                slave: ZoneId(ends.slave.as_ref()?.value),
                cable,
                splices,
                splice_ohm,
                measured_loop_ohm: measured.map(|at| at.value.0),
                series_ohm: series.map_or(0.0, |at| at.value.0),
                rectifier,
                diode,
                diode_name,
                capacitor,
                flyback_diode,
                relay: relay?,
                off_state_v,
                fuse,
                laid,
            })
        })();
        (ends, link)
    }

    fn diode_named(
        &mut self,
        field: Option<Field<String>>,
        own: &[(String, Diode)],
    ) -> (String, Diode) {
        let usual = ("1N4007".to_owned(), Diode::usual());
        if field.is_none() {
            self.assume("diode", &usual.0);
        }
        let Some(At { value: name, span }) = self.take(field) else {
            return usual;
        };
        if let Some((_, diode)) = own.iter().find(|(known, _)| *known == name) {
            return (name, *diode);
        }
        if let Some(diode) = Diode::named(&name) {
            return (name, diode);
        }
        let mut known: Vec<&str> = Diode::names().collect();
        known.extend(own.iter().map(|(name, _)| name.as_str()));
        let remedy = match nearest(&name, known.iter().copied()) {
            Some(near) => format!("did you mean `\"{near}\"`?"),
            None => format!(
                "it takes {}, or the name of a [[diode]]",
                listed(known, "or")
            ),
        };
        self.problem(span, format!("there is no diode called `{name}`"), remedy);
        usual
    }

    fn capacitor(
        &mut self,
        farad: Option<Field<OrNone<Capacitance>>>,
        rating: Option<Field<VoltsDc>>,
        tolerance: Option<Field<Share>>,
    ) -> Option<Capacitor> {
        let usual = Capacitance(220e-6);
        if farad.is_none() {
            self.assume("capacitor", "220 uF");
        }
        let farad = match self.take(farad) {
            None => usual.0,
            Some(At {
                value: OrNone(None),
                ..
            }) => {
                self.take(rating);
                self.take(tolerance);
                return None;
            }
            Some(At {
                value: OrNone(Some(value)),
                span,
            }) => {
                let at = Some(At { value, span });
                self.bound(
                    "capacitor",
                    at,
                    1e-9..0.1,
                    "write its capacitance, such as `\"220 uF\"`, or `\"none\"`",
                )
                .map_or(usual.0, |at| at.value.0)
            }
        };
        Some(Capacitor {
            farad,
            tolerance: self.bounded_or(
                "capacitor_tolerance",
                tolerance,
                Share(0.20),
                0.0..0.9,
                "write a share up to 90 %",
            ),
            rating_v: self.bounded_or(
                "capacitor_rating",
                rating,
                VoltsDc(50.0),
                1.0..1000.0,
                "write its rated voltage, such as `\"50 V\"`",
            ),
        })
    }
}
