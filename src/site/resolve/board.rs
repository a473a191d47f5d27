//! GPIO lines, parts at hand, and the service's own settings.

use std::net::SocketAddr;

use toml::Spanned;

use crate::site::fault::nearest;
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
            let dark_at_reset = at.take(table.dark_at_reset).map(|at| at.value);
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
                dark_at_reset,
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

    /// The service's settings; their defaults are only mentioned if it has a line to drive.
    pub(super) fn daemon(&mut self, table: DaemonTable, drives: bool) -> Daemon {
        let before = self.assumed.len();
        let daemon = self.daemon_of(table);
        if !drives {
            self.assumed.truncate(before);
        }
        daemon
    }

    fn daemon_of(&mut self, table: DaemonTable) -> Daemon {
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
        let page_token = at.full_path("page_token", table.page_token);
        let page_host = at.take(table.page_host).and_then(|host| {
            let fits = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '.';
            if !host.value.is_empty() && host.value.chars().all(fits) {
                return Some(host.value);
            }
            let message = format!("`{:?}` is no name of a host", host.value);
            at.problem(
                host.span,
                message,
                "write it without scheme and port, such as `\"board.example\"`",
            );
            None
        });
        let on_doubtful_clock = at.word_or(
            "on_doubtful_clock",
            table.on_doubtful_clock,
            OnDoubtfulClock::Dark,
            "dark",
        );
        let clock_proof = at.path(
            "clock_proof",
            table.clock_proof,
            "/run/systemd/timesync/synchronized",
        );
        let stagger_s = at.bounded_or(
            "stagger",
            table.stagger,
            TimeSpan(1.0),
            0.0..60.0,
            "write a time between 0 s and 60 s",
        );
        let hold_s = at.bounded_or(
            "hold",
            table.hold,
            TimeSpan(3600.0),
            60.0..86_400.0,
            "write a time between 1 min and 24 h, such as `\"2 h\"`",
        );
        Daemon {
            state_dir,
            socket,
            listen,
            page_token,
            page_host,
            on_doubtful_clock,
            clock_proof,
            stagger_s,
            hold_s,
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

    fn full_path(&mut self, key: &str, field: Option<Field<String>>) -> Option<String> {
        let at = self.take(field)?;
        if at.value.starts_with('/') {
            return Some(at.value);
        }
        self.problem(
            at.span,
            format!("`{key}` is not a full path"),
            "start it with `/`",
        );
        None
    }

    fn path(&mut self, key: &'static str, field: Option<Field<String>>, default: &str) -> String {
        if field.is_none() {
            self.assume(key, default);
        }
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
        if let (Some(kind), Some(item)) = (&kind, &item)
            && kind.value == ShelfKind::Fuse
            && let Some((word, written)) = not_a_lag(&item.value)
        {
            self.problem(
                item.span.clone(),
                format!("`{word}` does not say how fast a fuse is"),
                format!("write `\"{written}\"` (the letter T of IEC 60127)"),
            );
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

/// Markings of a time-lag fuse, in addition to the `T` of IEC 60127.
pub(crate) const TIME_DELAY: [&str; 7] = [
    "t",
    "lag",
    "time-lag",
    "time-delay",
    "slow",
    "slow-blow",
    "delay",
];

/// A word that is almost one of these markings, and the text with the trade's word instead.
fn not_a_lag(item: &str) -> Option<(&str, String)> {
    let words = || item.split([' ', ',']).filter(|word| !word.is_empty());
    let word = words().find(|word| {
        let word = word.to_lowercase();
        !TIME_DELAY.contains(&word.as_str()) && nearest(&word, TIME_DELAY).is_some()
    })?;
    Some((word, item.replacen(word, "time-delay", 1)))
}
