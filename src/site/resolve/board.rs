//! GPIO lines, parts at hand, and the service's own settings.

use std::net::SocketAddr;

use toml::Spanned;

use crate::site::field::Field;
use crate::site::file::{DaemonTable, InputTable, OutputTable, ShelfTable};
use crate::site::quantity::{TimeSpan, parse_gauge};
use crate::site::{
    Bias, Daemon, Input, Line, OnDoubtfulClock, Output, ShelfKind, ShelfPart, ZoneId,
};

use super::{At, Names, Resolver, Table, numbered, said};

impl Resolver {
    pub(super) fn outputs(
        &mut self,
        tables: Vec<Spanned<OutputTable>>,
        zones: &Names,
    ) -> Vec<Output> {
        let mut outputs: Vec<Output> = Vec::new();
        for (index, table) in tables.into_iter().enumerate() {
            let place = numbered("output", index, said(table.get_ref().zone.as_ref()));
            let mut at = self.table(place, table.span());
            let table = table.into_inner();
            let wired = at.wired(table.zone, table.chip, table.line, zones);
            let active_low = at.take(table.active_low).is_some_and(|at| at.value);
            let Some((zone, chip, line)) = wired else {
                continue;
            };
            if let Some(other) = outputs.iter().find(|other| {
                other.zone == zone || (other.chip == chip && other.line == line.value)
            }) {
                let (what, remedy) = if other.zone == zone {
                    ("its zone has another output", "keep one line per zone")
                } else {
                    (
                        "its line drives another zone as well",
                        "give each zone a line of its own",
                    )
                };
                at.problem(line.span, what, remedy);
                continue;
            }
            outputs.push(Output {
                zone,
                chip,
                line: line.value,
                active_low,
            });
        }
        outputs
    }

    pub(super) fn inputs(
        &mut self,
        tables: Vec<Spanned<InputTable>>,
        zones: &Names,
        outputs: &[Output],
    ) -> Vec<Input> {
        let mut inputs: Vec<Input> = Vec::new();
        for (index, table) in tables.into_iter().enumerate() {
            let place = numbered("input", index, said(table.get_ref().zone.as_ref()));
            let mut at = self.table(place, table.span());
            let table = table.into_inner();
            let wired = at.wired(table.zone, table.chip, table.line, zones);
            let active_low = at.take(table.active_low).is_some_and(|at| at.value);
            let bias = at.take(table.bias).map_or(Bias::AsIs, |at| at.value);
            let debounce_s = at.bounded_or(
                "debounce",
                table.debounce,
                TimeSpan(0.02),
                0.0..10.0,
                "write a time between 0 s and 10 s",
            );
            let Some((zone, chip, line)) = wired else {
                continue;
            };
            let taken = outputs
                .iter()
                .any(|other| other.chip == chip && other.line == line.value)
                || inputs
                    .iter()
                    .any(|other| other.chip == chip && other.line == line.value);
            if taken {
                at.problem(
                    line.span,
                    "its line is in use already",
                    "give each output and input a line of its own",
                );
                continue;
            }
            if inputs.iter().any(|other| other.zone == zone) {
                at.problem(
                    line.span,
                    "its zone has another input",
                    "keep one line per zone",
                );
                continue;
            }
            inputs.push(Input {
                zone,
                chip,
                line: line.value,
                active_low,
                bias,
                debounce_s,
            });
        }
        inputs
    }

    pub(super) fn shelf(&mut self, tables: Vec<Spanned<ShelfTable>>) -> Vec<ShelfPart> {
        let mut parts = Vec::new();
        for (index, table) in tables.into_iter().enumerate() {
            let mut at = self.table(numbered("shelf", index, None), table.span());
            parts.extend(at.part(table.into_inner()));
        }
        parts
    }

    pub(super) fn daemon(&mut self, table: DaemonTable) -> Daemon {
        let mut at = self.table("[daemon]", 0..0);
        let state_dir = at.path("state_dir", table.state_dir, "/var/lib/pilotwire");
        let socket = at.path("socket", table.socket, "/run/pilotwire/control.sock");
        let listen = at.take(table.listen).and_then(|text| {
            if let Ok(address) = text.value.parse::<SocketAddr>() {
                Some(address)
            } else {
                let message = format!("`\"{}\"` is not an address to listen on", text.value);
                at.problem(
                    text.span,
                    message,
                    "write address and port, such as `\"127.0.0.1:8470\"`",
                );
                None
            }
        });
        Daemon {
            state_dir,
            socket,
            listen,
            on_doubtful_clock: OnDoubtfulClock::Dark,
            clock_proof: "/run/systemd/timesync/synchronized".into(),
            stagger_s: 1.0,
            hold_s: 3600.0,
        }
    }
}

impl Table<'_> {
    fn wired(
        &mut self,
        zone: Option<Field<crate::site::field::Name>>,
        chip: Option<Field<String>>,
        line: Option<Field<Line>>,
        zones: &Names,
    ) -> Option<(ZoneId, String, At<Line>)> {
        let zone = self.refer("zone", zone, zones);
        let chip = self.need("chip", chip, "chip = \"gpiochip0\"");
        let line = self.need("line", line, "line = 17");
        Some((ZoneId(zone?.value), chip?.value, line?))
    }

    fn path(&mut self, key: &str, field: Option<Field<String>>, default: &str) -> String {
        match self.take(field) {
            Some(at) if at.value.starts_with('/') => at.value,
            Some(at) => {
                self.problem(
                    at.span,
                    format!("`{key}` is not a full path"),
                    "start it with `/`",
                );
                default.into()
            }
            None => default.into(),
        }
    }

    fn part(&mut self, table: ShelfTable) -> Option<ShelfPart> {
        let kind = self.need("kind", table.kind, "kind = \"wire\"");
        let item = self.need("item", table.item, "item = \"20 AWG\"");
        let length = self.take(table.length);
        let length = self.bound("length", length, 0.0..1e6, "write the length on the reel");
        let count = self.take(table.count);
        let price = self.take(table.price);
        if let Some(at) = &price
            && at.value < 0.0
        {
            self.problem(
                at.span.clone(),
                "`price` cannot be negative",
                "write what one costs, or 0.0",
            );
        }
        if let (Some(kind), Some(item)) = (&kind, &item)
            && kind.value == ShelfKind::Wire
            && let Err(fault) = parse_gauge(&item.value)
        {
            self.problem(item.span.clone(), fault.message, fault.remedy);
        }
        Some(ShelfPart {
            kind: kind?.value,
            item: item?.value,
            length_m: length.map(|at| at.value.0),
            count: count.map_or(1, |at| at.value),
            price: price.map(|at| at.value),
        })
    }
}
