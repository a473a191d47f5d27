//! Every trouble, damage of every kind, and a plain model beside it.

pub(crate) mod damage;
mod model;
mod troubles;

use std::path::{Path, PathBuf};
use std::{env, fs, process};

use rusqlite::config::DbConfig;
use tempfile::TempDir;

use super::database::READINGS_AT_ONCE;
use super::*;

/// A folder of its own, removed at the end.
pub(crate) struct Folder(TempDir);

impl Folder {
    pub(crate) fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    pub(crate) fn path(&self) -> &Path {
        self.0.path()
    }

    fn file(&self, name: &str) -> PathBuf {
        self.path().join(name)
    }

    /// Opened without trouble.
    pub(crate) fn store(&self) -> Database {
        let (store, trouble) = Database::open(self.path(), Durability::None);
        assert_eq!(trouble, None);
        store
    }

    fn copy(&self) -> Self {
        let copy = Self::new();
        for name in self.names() {
            fs::copy(self.file(&name), copy.file(&name)).unwrap();
        }
        copy
    }

    pub(crate) fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }
}

/// The history without trouble, as it is read from outside.
fn read(folder: &Folder) -> Vec<Event> {
    let read = Database::read(folder.path(), &Filter::default()).unwrap();
    assert_eq!(read.trouble, None);
    read.events
}

pub(crate) fn signed(count: usize) -> i64 {
    i64::try_from(count).unwrap()
}

fn at(s: i64) -> DateTime<Utc> {
    DateTime::from_timestamp(1_795_000_000 + s, 123_456_000).unwrap()
}

pub(crate) fn event(number: i64) -> Event {
    Event {
        at: at(number * 600),
        boot: Duration::from_millis(number.unsigned_abs() * 600_000 + 7),
        kind: Kind::Switched,
        zone: Some("porch".into()),
        what: if number % 2 == 0 { "on" } else { "off" }.into(),
        why: format!("dusk of the day, 12 min after sunset, number {number}"),
    }
}

fn hold(zone: &str, s: i64) -> Hold {
    Hold {
        zone: zone.into(),
        lit: true,
        since: at(s),
        until: at(s + 3600),
        boot_id: "5f0c".into(),
        until_boot: Duration::from_micros(7_200_000_001),
        by_clock: false,
    }
}

fn record(zone: &str, operations: u64) -> ZoneRecord {
    ZoneRecord {
        zone: zone.into(),
        lit: false,
        since: at(0),
        lit_s: 0.1 + operations as f64,
        operations,
    }
}

pub(crate) fn all(store: &mut Database) -> Vec<Event> {
    store.history(&Filter::default()).unwrap()
}

/// The evening's event, the zone's counters and a hold, as the service keeps them.
pub(crate) fn evening(number: i64) -> Vec<Entry> {
    vec![
        Entry::Event(event(number)),
        Entry::Zone(record("porch", number.unsigned_abs())),
        Entry::Hold(hold("porch", number)),
        Entry::Newest(at(number)),
    ]
}

fn taken(s: i64, value: f64) -> Taken {
    Taken {
        at: at(s),
        value,
        fine: true,
    }
}

fn reading(point: &str, s: i64, value: f64) -> Entry {
    Entry::Reading(point.into(), taken(s, value))
}

/// It takes what is kept now, and gives it back.
fn works(mut store: Database) {
    let before = all(&mut store).len();
    store.keep(&evening(1_000)).unwrap();
    let kept = store.load();
    assert!(kept.holds.contains(&hold("porch", 1_000)));
    assert_eq!(all(&mut store).len(), before + 1);
    assert_eq!(all(&mut store).last(), Some(&event(1_000)));
}

#[test]
fn what_is_kept_is_there_after_a_restart() {
    let folder = Folder::new();
    let mut store = folder.store();
    store.keep(&evening(1)).unwrap();
    store.keep(&[Entry::Hold(hold("arch", 9))]).unwrap();
    store.keep(&[Entry::Released("porch".into())]).unwrap();
    let kept = store.load();
    assert_eq!(kept.holds, [hold("arch", 9)]);
    assert_eq!(kept.zones, [record("porch", 1)]);
    assert_eq!(kept.newest, Some(at(1)));
    drop(store);
    let mut store = folder.store();
    assert_eq!(store.load(), kept);
    assert_eq!(all(&mut store), [event(1)]);
}

#[test]
fn the_newest_time_goes_back_only_when_told_that_it_was_wrong() {
    let folder = Folder::new();
    let mut store = folder.store();
    store.keep(&[Entry::Newest(at(100))]).unwrap();
    store.keep(&[Entry::Newest(at(50))]).unwrap();
    assert_eq!(store.load().newest, Some(at(100)));
    drop(store);
    let mut store = folder.store();
    assert_eq!(store.load().newest, Some(at(100)));
    store.keep(&[Entry::NewestIs(at(50))]).unwrap();
    drop(store);
    assert_eq!(folder.store().load().newest, Some(at(50)));
}

#[test]
fn the_history_is_filtered_and_keeps_the_newest() {
    let folder = Folder::new();
    let mut store = folder.store();
    for number in 0..10 {
        let zone = (number % 2 == 0).then(|| "porch".into());
        let event = Event {
            zone,
            ..event(number)
        };
        store.keep(&[Entry::Event(event)]).unwrap();
    }
    let numbers = |store: &mut Database, filter: Filter| -> Vec<i64> {
        let events = store.history(&filter).unwrap();
        events
            .iter()
            .map(|event| (event.at - at(0)).num_seconds() / 600)
            .collect()
    };
    let filter = Filter {
        zone: Some("porch".into()),
        from: Some(at(1200)),
        to: Some(at(4800)),
        most: None,
    };
    assert_eq!(numbers(&mut store, filter.clone()), [2, 4, 6]);
    let newest = Filter {
        most: Some(2),
        ..filter
    };
    assert_eq!(numbers(&mut store, newest), [4, 6]);
    let none = Filter {
        most: Some(0),
        ..Filter::default()
    };
    assert_eq!(numbers(&mut store, none), [0; 0]);
}

/// A clock that was years ahead for an hour does not make the events before it old.
#[test]
fn the_oldest_events_go_first_and_some_at_a_time() {
    let folder = Folder::new();
    let mut store = folder.store();
    store.most_events = 1000;
    let ahead = Event {
        at: at(4_000_000_000),
        ..event(0)
    };
    store.keep(&[Entry::Event(ahead)]).unwrap();
    for number in 1..1256 {
        store.keep(&[Entry::Event(event(number))]).unwrap();
        assert!(store.events < 1256);
    }
    assert_eq!(store.events, 1000);
    assert_eq!(all(&mut store).first(), Some(&event(256)));
    assert_eq!(all(&mut store).last(), Some(&event(1255)));
    drop(store);
    assert_eq!(folder.store().events, 1000);
}

#[test]
fn readings_survive_with_the_first_and_the_newest_of_each_point() {
    let folder = Folder::new();
    let mut store = folder.store();
    for (year, value) in [14.7, 14.6, 14.2].into_iter().enumerate() {
        let s = signed(year) * 31_536_000;
        store
            .keep(&[
                reading("orchard/TP3 DC", s, value),
                reading("orchard/TP4 open", s, f64::INFINITY),
            ])
            .unwrap();
    }
    // The clock was wrong: the order of taking counts.
    store.keep(&[reading("walk/TP1", 9, 12.4)]).unwrap();
    store.keep(&[reading("walk/TP1", 1, 12.3)]).unwrap();
    let expected = [
        PointRecord {
            point: "orchard/TP3 DC".into(),
            first: taken(0, 14.7),
            last: taken(2 * 31_536_000, 14.2),
        },
        PointRecord {
            point: "orchard/TP4 open".into(),
            first: taken(0, f64::INFINITY),
            last: taken(2 * 31_536_000, f64::INFINITY),
        },
        PointRecord {
            point: "walk/TP1".into(),
            first: taken(9, 12.4),
            last: taken(1, 12.3),
        },
    ];
    assert_eq!(store.load().points, expected);
    drop(store);
    let store = folder.store();
    assert_eq!(store.load().points, expected);
    assert_eq!(store.readings, 8);
}

#[test]
fn the_first_reading_of_a_point_is_the_first_that_was_as_it_should_be() {
    let folder = Folder::new();
    let mut store = folder.store();
    store.most_readings = 200;
    let off = |value: f64, s: i64| Taken {
        fine: false,
        ..taken(s, value)
    };
    let mut expected = PointRecord::new("a/TP1".into(), off(1.47, 0));
    let all = [
        off(1.47, 0),
        off(14.6, 1),
        taken(2, 14.7),
        off(3.0, 3),
        taken(4, 14.5),
    ];
    for (it, first) in all.into_iter().zip([0, 0, 2, 2, 2]) {
        store.keep(&[Entry::Reading("a/TP1".into(), it)]).unwrap();
        expected.first = all[first];
        expected.last = it;
        assert_eq!(store.load().points, std::slice::from_ref(&expected));
    }
    // Nor does it go with the oldest.
    for number in 5..700 {
        store.keep(&[reading("b/TP1", number, 1.0)]).unwrap();
    }
    assert_eq!(store.load().points[0], expected);
}

#[test]
fn of_too_many_readings_the_oldest_go_but_the_first_and_the_newest_of_each_point() {
    let folder = Folder::new();
    let mut store = folder.store();
    store.most_readings = 200;
    for point in ["a/TP1", "b/TP1", "c/TP1"] {
        store.keep(&[reading(point, 0, 1.0)]).unwrap();
    }
    for number in 1..=500_i32 {
        let entry = reading("a/TP1", i64::from(number), f64::from(number));
        store.keep(&[entry]).unwrap();
        assert!(store.readings < 200 + READINGS_AT_ONCE);
    }
    let points = store.load().points;
    assert_eq!(points[0].first, taken(0, 1.0));
    assert_eq!(points[0].last, taken(500, 500.0));
    assert_eq!(points[1].first, points[1].last);
    drop(store);
    let store = folder.store();
    assert_eq!(store.load().points, points);
    assert!(store.readings >= 200);
    let between: f64 = store
        .db
        .query_row(
            "SELECT min(value) FROM reading WHERE point = 'a/TP1' AND id > 1",
            [],
            |row| row.get(0),
        )
        .unwrap();
    assert!(between > 200.0, "the oldest in between go first: {between}");
}

#[test]
fn a_long_text_is_cut_off() {
    let folder = Folder::new();
    let mut store = folder.store();
    let event = Event {
        why: "é".repeat(100_000),
        ..event(1)
    };
    store.keep(&[Entry::Event(event)]).unwrap();
    assert_eq!(all(&mut store)[0].why, "é".repeat(500));
}

#[test]
fn a_reader_makes_and_changes_nothing() {
    let folder = Folder::new();
    let mut store = folder.store();
    store.keep(&evening(1)).unwrap();
    store.keep(&evening(2)).unwrap();
    store.killed();
    let files = || {
        let read = |name: String| (fs::read(folder.file(&name)).unwrap(), name);
        folder.names().into_iter().map(read).collect::<Vec<_>>()
    };
    let before = files();
    assert_eq!(folder.names(), ["pilotwire.db", "pilotwire.db-wal"]);
    assert_eq!(read(&folder), [event(1), event(2)]);
    assert!(before == files());
    // And after an orderly end, without a log.
    drop(folder.store());
    assert_eq!(folder.names(), ["pilotwire.db"]);
    assert_eq!(read(&folder).len(), 2);
}

/// The process that has the file is the one to ask; locks count only between processes.
#[test]
fn a_reader_leaves_a_file_to_the_process_that_has_it() {
    let folder = Folder::new();
    let mut store = folder.store();
    store.keep(&evening(1)).unwrap();
    let said_by_another = || {
        let test = "daemon::store::tests::reader_in_a_process_of_its_own";
        let out = process::Command::new(env::current_exe().unwrap())
            .args(["--ignored", "--exact", test, "--nocapture"])
            .env(OF_ANOTHER, folder.path())
            .output()
            .unwrap();
        String::from_utf8_lossy(&out.stdout).into_owned()
    };
    let said = said_by_another();
    let holder = format!("process {} has it open", process::id());
    assert!(said.contains(&holder), "{said}");
    works(store);
    let said = said_by_another();
    assert!(said.contains("2 events"), "{said}");
}

/// Where the other process finds the folder.
const OF_ANOTHER: &str = "PILOTWIRE_TEST_FOLDER";

#[test]
#[ignore = "run by the test before it"]
fn reader_in_a_process_of_its_own() {
    let folder = env::var_os(OF_ANOTHER).expect("the test before it says where");
    match Database::read(Path::new(&folder), &Filter::default()) {
        Ok(read) => println!("{} events", read.events.len()),
        Err(Trouble(said)) => println!("{said}"),
    }
}
