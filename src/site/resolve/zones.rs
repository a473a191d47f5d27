//! Zones, their windows, and the days out of the ordinary.

use chrono::{NaiveTime, Timelike};
use toml::Spanned;

use crate::site::fault::listed;
use crate::site::field::{self, Field};
use crate::site::file::{DateTable, WindowTable, ZoneTable};
use crate::site::quantity::TimeSpan;
use crate::site::{
    Change, Days, Exception, Moment, NoTwilight, Off, SupplyId, Switching, Trunk, Window, Zone,
    ZoneId,
};

use super::links::Masters;
use super::{Names, Resolver, Table, numbered};

/// The timing keys of a `[[zone]]` or `[[window]]`.
struct Timing {
    on: Option<Field<Moment>>,
    off: Option<Field<Moment>>,
    lasting: Option<Field<TimeSpan>>,
    not_before: Option<Field<field::Clock>>,
    not_after: Option<Field<field::Clock>>,
    days: Option<Field<field::Days>>,
    if_no_twilight: Option<Field<NoTwilight>>,
}

impl Timing {
    /// The timing keys that are given, and where.
    fn given(&self) -> Vec<(&'static str, std::ops::Range<usize>)> {
        fn at<T>(
            key: &'static str,
            field: Option<&Field<T>>,
        ) -> Option<(&'static str, std::ops::Range<usize>)> {
            field.map(|field| (key, field.span.clone()))
        }
        [
            at("on", self.on.as_ref()),
            at("off", self.off.as_ref()),
            at("for", self.lasting.as_ref()),
            at("not_before", self.not_before.as_ref()),
            at("not_after", self.not_after.as_ref()),
            at("days", self.days.as_ref()),
            at("if_no_twilight", self.if_no_twilight.as_ref()),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

/// Minutes since noon: the order of clock times within an evening.
fn since_noon(time: NaiveTime) -> u32 {
    (time.hour() * 60 + time.minute() + 720) % 1440
}

impl Resolver {
    pub(super) fn zone_names(&mut self, tables: &[Spanned<ZoneTable>]) -> Names {
        let fields = tables
            .iter()
            .map(|table| (table.get_ref().name.as_ref(), table.span()));
        self.names("zone", fields)
    }

    pub(super) fn zones(
        &mut self,
        tables: Vec<Spanned<ZoneTable>>,
        windows: Vec<Spanned<WindowTable>>,
        names: &Names,
        supplies: &Names,
        masters: &Masters,
        trunks: Vec<Vec<Trunk>>,
    ) -> Vec<Option<Zone>> {
        let mut zones = Vec::new();
        for ((index, table), trunks) in tables.into_iter().enumerate().zip(trunks) {
            let name = names.list[index].as_deref();
            let mut at = self.table(numbered("zone", index, name), table.span());
            zones.push(at.zone(table.into_inner(), name, supplies, (masters, index), trunks));
        }
        for (index, table) in windows.into_iter().enumerate() {
            let place = numbered("window", index, None);
            self.table(place, table.span()).window_of(
                table.into_inner(),
                names,
                masters,
                &mut zones,
            );
        }
        zones
    }

    pub(super) fn exceptions(
        &mut self,
        tables: Vec<Spanned<DateTable>>,
        names: &Names,
        masters: &Masters,
    ) -> Vec<Exception> {
        let mut exceptions = Vec::new();
        for (index, table) in tables.into_iter().enumerate() {
            let mut at = self.table(numbered("date", index, None), table.span());
            exceptions.extend(at.exception(table.into_inner(), names, masters));
        }
        exceptions
    }
}

impl Table<'_> {
    fn zone(
        &mut self,
        table: ZoneTable,
        name: Option<&str>,
        supplies: &Names,
        (masters, index): (&Masters, usize),
        trunks: Vec<Trunk>,
    ) -> Option<Zone> {
        let supply = self.refer("supply", table.supply, supplies);
        let curfew = self.take(table.curfew).map(|at| at.value.0);
        let timing = Timing {
            on: table.on,
            off: table.off,
            lasting: table.r#for,
            not_before: table.not_before,
            not_after: table.not_after,
            days: table.days,
            if_no_twilight: table.if_no_twilight,
        };
        let given = timing.given();
        let switching = match (masters.link_to(index), given.first()) {
            (Some((link, _)), None) => Switching::Follows(link),
            (Some((_, master)), Some((_, first))) => {
                let keys = |joiner| listed(given.iter().map(|(key, _)| *key), joiner);
                self.problem(
                    first.clone(),
                    format!(
                        "it follows {master}, so it cannot have {} of its own",
                        keys("or")
                    ),
                    format!(
                        "take {} out, or take out the link {master} > {}",
                        keys("and"),
                        name.unwrap_or("it")
                    ),
                );
                return None;
            }
            (None, None) if self.resolver.only_values || masters.unsure => return None,
            (None, None) => {
                let span = self.span.clone();
                self.problem(
                    span,
                    "nothing switches it: it has no `on`, and no link ends at it",
                    "add `on` and `off`, or a [[link]] with this zone as its slave",
                );
                return None;
            }
            (None, Some(_)) => Switching::Timed(vec![self.window(timing, None)?]),
        };
        Some(Zone {
            name: name?.into(),
            supply: SupplyId(supply?.value),
            switching,
            curfew,
            minimum_lit_s: 1.0,
            minimum_dark_s: 1.0,
            trunks,
        })
    }

    fn window_of(
        &mut self,
        table: WindowTable,
        names: &Names,
        masters: &Masters,
        zones: &mut [Option<Zone>],
    ) {
        let zone = self.refer("zone", table.zone, names);
        let timing = Timing {
            on: table.on,
            off: table.off,
            lasting: table.r#for,
            not_before: table.not_before,
            not_after: table.not_after,
            days: table.days,
            if_no_twilight: table.if_no_twilight,
        };
        if let Some(at) = &zone
            && let Some((_, master)) = masters.link_to(at.value)
        {
            let slave = names.list[at.value].as_deref().unwrap_or_default();
            self.problem(
                at.span.clone(),
                format!("zone {slave} follows {master}, so it cannot have a window of its own"),
                format!("give the window to {master}, or take out the link {master} > {slave}"),
            );
            return;
        }
        let mut owner = zone.and_then(|at| zones[at.value].as_mut());
        let first = match owner.as_ref().map(|zone| &zone.switching) {
            Some(Switching::Timed(windows)) => windows.first().cloned(),
            _ => None,
        };
        let window = self.window(timing, first.as_ref());
        if let (Some(Switching::Timed(windows)), Some(window)) =
            (owner.as_mut().map(|zone| &mut zone.switching), window)
        {
            windows.push(window);
        }
    }

    /// A lit window; what it leaves out comes from the zone's own window, if there is one.
    fn window(&mut self, timing: Timing, own: Option<&Window>) -> Option<Window> {
        let on = self.need("on", timing.on, "on = \"civil_dusk\"");
        let both = timing
            .off
            .as_ref()
            .zip(timing.lasting.as_ref())
            .map(|(_, lasting)| lasting.span.clone());
        if let Some(span) = both {
            self.problem(span, "it has both `off` and `for`", "keep one of them");
        }
        let off = match timing.lasting {
            None => self
                .need("off", timing.off, "off = \"23:00\"")
                .map(|at| Off::At(at.value)),
            Some(lasting) => {
                self.take(timing.off);
                let lasting = self.take(Some(lasting));
                let at = self.bound(
                    "for",
                    lasting,
                    1.0..86_400.0,
                    "write a time between 1 s and 24 h, such as `\"4 h\"`",
                );
                #[expect(clippy::cast_possible_truncation, reason = "at most a day of seconds")]
                at.map(|at| Off::For(at.value.0.round() as i32))
            }
        };
        let not_before = self.take(timing.not_before);
        let not_after = self.take(timing.not_after);
        if let (Some(early), Some(late)) = (&not_before, &not_after)
            && since_noon(early.value.0) > since_noon(late.value.0)
        {
            self.problem(
                late.span.clone(),
                format!(
                    "`not_after` {} is before `not_before` {}",
                    late.value.0.format("%H:%M"),
                    early.value.0.format("%H:%M")
                ),
                "swap them; an evening runs from noon to noon",
            );
        }
        if own.is_none() {
            if timing.days.is_none() {
                self.assume("days", "every evening");
            }
            if timing.if_no_twilight.is_none() {
                self.assume("if_no_twilight", "sunset");
            }
        }
        let days = self
            .take(timing.days)
            .map(|at| at.value.0.into_iter().collect());
        let if_no_twilight = self.take(timing.if_no_twilight).map(|at| at.value);
        Some(Window {
            on: on?.value,
            off: off?,
            not_before: not_before.map(|at| at.value.0),
            not_after: not_after.map(|at| at.value.0),
            days: days.unwrap_or(own.map_or(Days::ALL, |own| own.days)),
            if_no_twilight: if_no_twilight
                .unwrap_or(own.map_or(NoTwilight::Sunset, |own| own.if_no_twilight)),
        })
    }

    fn exception(
        &mut self,
        table: DateTable,
        names: &Names,
        masters: &Masters,
    ) -> Option<Exception> {
        let from = self.need("from", table.from, "from = 2027-12-24");
        let to = self.take(table.to);
        let zone = table
            .zone
            .map(|field| self.refer("zone", Some(field), names));
        let on = self.take(table.on);
        let off = self.take(table.off);
        let dark = self.take(table.dark);
        if let Some(Some(at)) = &zone
            && let Some((_, master)) = masters.link_to(at.value)
        {
            let slave = names.list[at.value].as_deref().unwrap_or_default();
            self.problem(
                at.span.clone(),
                format!("zone {slave} follows {master}, so it has no days of its own"),
                format!("give the dates to {master}, or leave `zone` out"),
            );
        }
        if let (Some(first), Some(last)) = (&from, &to)
            && first.value.0 > last.value.0
        {
            self.problem(
                last.span.clone(),
                format!(
                    "the dates run backwards: {} is before {}",
                    last.value.0, first.value.0
                ),
                "swap `from` and `to`",
            );
        }
        let change = match (dark.filter(|at| at.value), on, off) {
            (Some(_), None, None) => Change::Dark,
            (Some(dark), ..) => {
                self.problem(
                    dark.span,
                    "it is both dark and lit",
                    "keep `dark`, or keep `on` and `off`",
                );
                return None;
            }
            (None, None, None) if self.resolver.only_values => return None,
            (None, None, None) => {
                let span = self.span.clone();
                self.problem(
                    span,
                    "it says nothing of these days",
                    "add `dark = true`, `on` or `off`",
                );
                return None;
            }
            (None, on, off) => Change::Moments {
                on: on.map(|at| at.value),
                off: off.map(|at| at.value),
            },
        };
        let from = from?.value.0;
        Some(Exception {
            from,
            to: to.map_or(from, |at| at.value.0),
            zone: match zone {
                None => None,
                Some(at) => Some(ZoneId(at?.value)),
            },
            change,
        })
    }
}
