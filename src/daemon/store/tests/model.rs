//! The store beside two maps and a list.

use std::collections::BTreeMap;

use proptest::option;
use proptest::prelude::*;

use super::*;

#[derive(Debug, Clone, PartialEq, Default)]
struct Model {
    holds: BTreeMap<String, Hold>,
    zones: BTreeMap<String, ZoneRecord>,
    readings: BTreeMap<String, Vec<Taken>>,
    newest: Option<DateTime<Utc>>,
    events: Vec<Event>,
}

impl Model {
    fn keep(&mut self, entries: &[Entry]) {
        for entry in entries.iter().cloned() {
            match entry {
                Entry::Event(event) => self.events.push(event),
                Entry::Hold(hold) => drop(self.holds.insert(hold.zone.clone(), hold)),
                Entry::Released(zone) => drop(self.holds.remove(&zone)),
                Entry::Zone(zone) => drop(self.zones.insert(zone.zone.clone(), zone)),
                Entry::Reading(point, taken) => self.readings.entry(point).or_default().push(taken),
                Entry::Newest(at) if self.newest.is_some_and(|newest| newest > at) => {}
                Entry::Newest(at) | Entry::NewestIs(at) => self.newest = Some(at),
            }
        }
    }

    fn kept(&self) -> Kept {
        Kept {
            holds: self.holds.values().cloned().collect(),
            zones: self.zones.values().cloned().collect(),
            points: self
                .readings
                .iter()
                .map(|(point, taken)| PointRecord {
                    point: point.clone(),
                    first: *taken.iter().find(|it| it.fine).unwrap_or(&taken[0]),
                    last: *taken.last().unwrap(),
                })
                .collect(),
            newest: self.newest,
        }
    }

    fn history(&self, filter: &Filter) -> Vec<Event> {
        let passes = |event: &&Event| {
            filter
                .zone
                .iter()
                .all(|zone| event.zone.as_ref() == Some(zone))
                && filter.from.is_none_or(|from| event.at >= from)
                && filter.to.is_none_or(|to| event.at < to)
        };
        let all: Vec<Event> = self.events.iter().filter(passes).cloned().collect();
        let most = filter.most.map_or(all.len(), |most| most as usize);
        all[all.len().saturating_sub(most)..].to_vec()
    }
}

/// What is done to a store.
#[derive(Debug, Clone)]
enum Deed {
    Keep(Vec<Entry>),
    /// Ends in good order, or is killed; then the next one opens it.
    Reopen {
        killed: bool,
    },
    Ask(Filter),
}

fn instant() -> impl Strategy<Value = DateTime<Utc>> {
    // Year 1970 to 2106, and the farthest that there are.
    let near = (0..4_294_967_296_000_000_i64).prop_map(DateTime::from_timestamp_micros);
    let far = prop_oneof![
        Just(Some(DateTime::<Utc>::MIN_UTC)),
        Just(Some(at(-5_000_000_000)))
    ];
    prop_oneof![9 => near, 1 => far].prop_map(Option::unwrap)
}

fn name() -> impl Strategy<Value = String> {
    prop_oneof![4 => "[abc]", 1 => any::<String>()]
}

fn kind() -> impl Strategy<Value = Kind> {
    prop_oneof![
        Just(Kind::Switched),
        Just(Kind::Sensed),
        Just(Kind::Held),
        Just(Kind::Measured),
        Just(Kind::Fault),
        Just(Kind::Mended),
        Just(Kind::Service)
    ]
}

fn duration() -> impl Strategy<Value = Duration> {
    (0..i64::MAX.unsigned_abs()).prop_map(Duration::from_micros)
}

fn entry() -> impl Strategy<Value = Entry> {
    let event = (
        instant(),
        duration(),
        kind(),
        option::of(name()),
        name(),
        name(),
    )
        .prop_map(|(at, boot, kind, zone, what, why)| Event {
            at,
            boot,
            kind,
            zone,
            what,
            why,
        });
    let hold = (
        name(),
        any::<bool>(),
        instant(),
        instant(),
        name(),
        duration(),
        any::<bool>(),
    )
        .prop_map(
            |(zone, lit, since, until, boot_id, until_boot, by_clock)| Hold {
                zone,
                lit,
                since,
                until,
                boot_id,
                until_boot,
                by_clock,
            },
        );
    let finite = any::<f64>().prop_filter("a number", |value| value.is_finite());
    let zone = (
        name(),
        any::<bool>(),
        instant(),
        finite,
        0..i64::MAX.unsigned_abs(),
    )
        .prop_map(|(zone, lit, since, lit_s, operations)| ZoneRecord {
            zone,
            lit,
            since,
            lit_s,
            operations,
        });
    let shown = any::<f64>().prop_filter("a number", |value| !value.is_nan());
    let reading = (name(), instant(), shown, any::<bool>())
        .prop_map(|(point, at, value, fine)| Entry::Reading(point, Taken { at, value, fine }));
    prop_oneof![
        4 => event.prop_map(Entry::Event),
        3 => reading,
        2 => hold.prop_map(Entry::Hold),
        1 => name().prop_map(Entry::Released),
        2 => zone.prop_map(Entry::Zone),
        2 => instant().prop_map(Entry::Newest),
        1 => instant().prop_map(Entry::NewestIs),
    ]
}

fn deed() -> impl Strategy<Value = Deed> {
    let keep = proptest::collection::vec(entry(), 1..5);
    let ask = (
        option::of(name()),
        option::of(instant()),
        option::of(instant()),
        option::of(0_u32..9),
    );
    prop_oneof![
        6 => keep.prop_map(Deed::Keep),
        1 => any::<bool>().prop_map(|killed| Deed::Reopen { killed }),
        2 => ask.prop_map(|(zone, from, to, most)| Deed::Ask(Filter { zone, from, to, most })),
    ]
}

proptest! {
    #![proptest_config(crate::cases::cases(100))]

    #[test]
    fn the_store_has_what_a_plain_model_has(deeds in proptest::collection::vec(deed(), 1..30)) {
        let folder = Folder::new();
        let mut model = Model::default();
        let mut store = folder.store();
        for deed in deeds {
            match deed {
                Deed::Keep(entries) => {
                    store.keep(&entries).unwrap();
                    model.keep(&entries);
                }
                Deed::Reopen { killed } => {
                    if killed {
                        store.killed();
                    } else {
                        drop(store);
                    }
                    prop_assert_eq!(read(&folder), model.history(&Filter::default()));
                    store = folder.store();
                }
                Deed::Ask(filter) => {
                    prop_assert_eq!(store.history(&filter).unwrap(), model.history(&filter));
                }
            }
            prop_assert_eq!(store.load(), model.kept());
        }
        drop(store);
        let mut store = folder.store();
        prop_assert_eq!(store.load(), model.kept());
        prop_assert_eq!(all(&mut store), model.events);
    }
}
