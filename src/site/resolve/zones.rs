//! Zones, their windows, and exceptional dates.

use chrono::{NaiveTime, Timelike};
use toml::Spanned;

use crate::site::fault::listed;
use crate::site::field::{self, Field};
use crate::site::file::{DateTable, WindowTable, ZoneTable};
use crate::site::quantity::TimeSpan;
use crate::site::{
    Change, Days, Exception, Moment, NoTwilight, Off, Sensing, Supply, SupplyId, Switching, Trunk,
    Window, Zone, ZoneId,
};

use super::sensing::{Following, Keys, Leader};
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
    fn of_zone(table: ZoneTable) -> Self {
        Self {
            on: table.on,
            off: table.off,
            lasting: table.r#for,
            not_before: table.not_before,
            not_after: table.not_after,
            days: table.days,
            if_no_twilight: table.if_no_twilight,
        }
    }

    /// The timing keys that are given, with their places.
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
        supplies: (&Names, &[Supply]),
        following: Following<'_>,
        trunks: Vec<Vec<Trunk>>,
    ) -> Vec<Option<Zone>> {
        let mut zones = Vec::new();
        for ((index, table), trunks) in tables.into_iter().enumerate().zip(trunks) {
            let name = following.names.list[index].as_deref();
            let mut at = self.table(numbered("zone", index, name), table.span());
            zones.push(at.zone(
                table.into_inner(),
                (index, name),
                supplies,
                following,
                trunks,
            ));
        }
        for (index, table) in windows.into_iter().enumerate() {
            let place = numbered("window", index, None);
            self.table(place, table.span())
                .window_of(table.into_inner(), following, &mut zones);
        }
        zones
    }

    pub(super) fn exceptions(
        &mut self,
        tables: Vec<Spanned<DateTable>>,
        following: Following<'_>,
    ) -> Vec<Exception> {
        let mut exceptions = Vec::new();
        for (index, table) in tables.into_iter().enumerate() {
            let mut at = self.table(numbered("date", index, None), table.span());
            exceptions.extend(at.exception(table.into_inner(), following));
        }
        exceptions
    }
}

impl Table<'_> {
    fn zone(
        &mut self,
        mut table: ZoneTable,
        (index, name): (usize, Option<&str>),
        (supply_names, supplies): (&Names, &[Supply]),
        following: Following<'_>,
        trunks: Vec<Trunk>,
    ) -> Option<Zone> {
        let supply = self.refer("supply", table.supply.take(), supply_names);
        let curfew = self.take(table.curfew.take()).map(|at| at.value.0);
        let fed_by = supply.as_ref().and_then(|at| supplies.get(at.value));
        let keys = Keys::of(&mut table);
        let lines = self.lines(keys, index, following, fed_by);
        let switching = self.switching(Timing::of_zone(table), index, following, lines.sensing)?;
        Some(Zone {
            name: name?.into(),
            supply: SupplyId(supply?.value),
            switching,
            curfew,
            minimum_lit_s: lines.minimum_lit_s,
            minimum_dark_s: lines.minimum_dark_s,
            trunks,
        })
    }

    /// What switches a zone: its own times, a link or an input, and only one of these.
    fn switching(
        &mut self,
        timing: Timing,
        index: usize,
        following: Following<'_>,
        sensing: Option<Sensing>,
    ) -> Option<Switching> {
        let given = timing.given();
        let link = following.masters.link_to(index);
        let sensed = following.sensed.says(index);
        let Some((_, first)) = given.first() else {
            return match (link, sensed) {
                (Some((link, _)), false) => Some(Switching::Follows(link)),
                (None, true) => sensing.map(Switching::Senses),
                // Reported already with the links.
                (Some(_), true) => None,
                (None, false) => {
                    if !self.resolver.only_values && !following.masters.unsure {
                        let span = self.span.clone();
                        self.problem(
                            span,
                            "nothing switches it: it has no `on`, and no link ends at it",
                            "add `on` and `off`, or a [[link]] with this zone as its slave, or `follows_input`",
                        );
                    }
                    None
                }
            };
        };
        let leader = following.leader(index).or_else(|| {
            sensed.then(|| Leader {
                master: String::new(),
                said: "an input".into(),
                undo: "take out `follows_input`".into(),
            })
        });
        if let Some(leader) = leader {
            let keys = |joiner| listed(given.iter().map(|(key, _)| *key), joiner);
            self.problem(
                first.clone(),
                format!(
                    "it follows {}, so it cannot have {} of its own",
                    leader.said,
                    keys("or")
                ),
                format!("take {} out, or {}", keys("and"), leader.undo),
            );
            return None;
        }
        Some(Switching::Timed(vec![self.window(timing, None)?]))
    }

    fn window_of(
        &mut self,
        table: WindowTable,
        following: Following<'_>,
        zones: &mut [Option<Zone>],
    ) {
        let names = following.names;
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
            && let Some(leader) = following.leader(at.value)
        {
            let slave = names.list[at.value].as_deref().unwrap_or_default();
            self.problem(
                at.span.clone(),
                format!(
                    "zone {slave} follows {}, so it cannot have a window of its own",
                    leader.said
                ),
                format!("give the window to {}, or {}", leader.master, leader.undo),
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

    fn exception(&mut self, table: DateTable, following: Following<'_>) -> Option<Exception> {
        let names = following.names;
        let from = self.need("from", table.from, "from = 2027-12-24");
        let to = self.take(table.to);
        let zone = table
            .zone
            .map(|field| self.refer("zone", Some(field), names));
        let on = self.take(table.on);
        let off = self.take(table.off);
        let dark = self.take(table.dark);
        if let Some(Some(at)) = &zone
            && let Some(leader) = following.leader(at.value)
        {
            let slave = names.list[at.value].as_deref().unwrap_or_default();
            self.problem(
                at.span.clone(),
                format!(
                    "zone {slave} follows {}, so it has no days of its own",
                    leader.said
                ),
                format!("give the dates to {}, or leave `zone` out", leader.master),
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
