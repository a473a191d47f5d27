//! What the store says when it cannot do its work.

use super::*;

fn opened(folder: &Path) -> (Database, String) {
    let (store, trouble) = Database::open(folder, Durability::Full);
    (store, trouble.expect("there is trouble").0)
}

#[test]
fn a_missing_folder_is_made() {
    let folder = Folder::new();
    let (store, trouble) = Database::open(&folder.file("a/b"), Durability::Full);
    assert_eq!(trouble, None);
    assert!(!store.is_in_memory());
    works(store);
}

#[test]
fn where_nothing_can_be_written_the_store_is_in_memory() {
    let folder = Folder::new();
    fs::write(folder.file("file"), "").unwrap();
    fs::create_dir_all(folder.file("odd/pilotwire.db")).unwrap();
    let places = [
        folder.file("file/under"),
        folder.file("odd"),
        "/proc/self".into(),
    ];
    for place in places {
        let (store, said) = opened(&place);
        assert!(store.is_in_memory());
        assert!(said.contains("nothing of it survives a restart"), "{said}");
        works(store);
    }
}

/// The folder cannot be written, which is so for its superuser too where a log is a folder.
#[test]
fn what_was_kept_still_holds_where_no_more_can_be_written() {
    let folder = Folder::new();
    folder.store().keep(&evening(1)).unwrap();
    fs::create_dir(folder.file("pilotwire.db-wal")).unwrap();
    let (store, said) = opened(folder.path());
    assert!(store.is_in_memory());
    assert!(said.contains("nothing of it survives a restart"), "{said}");
    works(store);
    fs::remove_dir(folder.file("pilotwire.db-wal")).unwrap();
    assert_eq!(folder.store().load().holds, [hold("porch", 1)]);
}

#[test]
fn a_file_that_another_has_open_is_left_alone() {
    let folder = Folder::new();
    let mut first = folder.store();
    first.keep(&evening(1)).unwrap();
    let (second, said) = opened(folder.path());
    assert!(second.is_in_memory());
    assert!(said.contains("another process has it open"), "{said}");
    works(second);
    works(first);
    assert_eq!(folder.names(), ["pilotwire.db"]);
}

#[test]
fn a_full_disk_keeps_all_or_nothing_and_the_next_try_may_succeed() {
    let folder = Folder::new();
    let mut store = folder.store();
    store.keep(&evening(1)).unwrap();
    let pages = |store: &Database, most: u32| {
        let now: u32 = store
            .db
            .pragma_query_value(None, "page_count", |row| row.get(0))
            .unwrap();
        let most = if most == 0 { now } else { most };
        store
            .db
            .query_row(&format!("PRAGMA max_page_count = {most}"), [], |_| Ok(()))
            .unwrap();
    };
    pages(&store, 0);
    let mut number = 1;
    let trouble = loop {
        let before = (store.load(), all(&mut store));
        number += 1;
        let Err(trouble) = store.keep(&evening(number)) else {
            continue;
        };
        assert_eq!((store.load(), all(&mut store)), before);
        break trouble.0;
    };
    assert!(number > 3);
    assert!(trouble.contains("database or disk is full"), "{trouble}");
    assert!(!store.is_in_memory());
    pages(&store, 1_000_000);
    works(store);
    assert_eq!(signed(all(&mut folder.store()).len()), number);
}

#[test]
fn what_is_no_store_is_put_aside_three_times_at_most() {
    let folder = Folder::new();
    for round in 1..6 {
        fs::write(
            folder.file("pilotwire.db"),
            "no database ".repeat(round * 100),
        )
        .unwrap();
        let (store, said) = opened(folder.path());
        assert!(!store.is_in_memory());
        assert!(said.contains("file is not a database"), "{said}");
        let at = format!("pilotwire.db.bad-{round}");
        assert!(said.contains(&at), "{said}");
        assert!(
            fs::read(folder.file(&at))
                .unwrap()
                .starts_with(b"no database")
        );
        works(store);
    }
    let bad = [
        "pilotwire.db.bad-3",
        "pilotwire.db.bad-4",
        "pilotwire.db.bad-5",
    ];
    assert_eq!(folder.names()[1..], bad);
}

#[test]
fn missing_tables_are_damage() {
    let folder = Folder::new();
    let store = folder.store();
    store.db.execute_batch("DROP TABLE event").unwrap();
    drop(store);
    let (store, said) = opened(folder.path());
    assert!(said.contains("no such table: event"), "{said}");
    works(store);
}

#[test]
fn a_log_without_its_file_is_put_aside() {
    let folder = Folder::new();
    let mut store = folder.store();
    store.keep(&evening(1)).unwrap();
    store.killed();
    fs::write(folder.file("pilotwire.db"), "").unwrap();
    let (store, said) = opened(folder.path());
    assert!(said.contains("its log is not"), "{said}");
    assert!(folder.names().contains(&"pilotwire.db.bad-1-wal".into()));
    works(store);
}

#[test]
fn damage_found_while_running_begins_anew_with_what_was_kept() {
    let folder = Folder::new();
    let mut store = folder.store();
    for number in 0..200 {
        store.keep(&evening(number)).unwrap();
        let entry = reading("orchard/TP3 DC", number, 14.7);
        store.keep(&[entry]).unwrap();
    }
    drop(store);
    let mut store = folder.store();
    let kept = store.load();
    assert_eq!(kept.points[0].last, taken(199, 14.7));
    // A page goes bad while the store is open, and is not in its memory any more.
    store.db.execute_batch("PRAGMA shrink_memory").unwrap();
    let mut bytes = fs::read(folder.file("pilotwire.db")).unwrap();
    bytes[4096..].fill(0x5a);
    fs::write(folder.file("pilotwire.db"), bytes).unwrap();
    let said = store.keep(&evening(200)).unwrap_err().0;
    assert!(
        said.contains("malformed") && said.contains("pilotwire.db.bad-1"),
        "{said}"
    );
    assert!(!store.is_in_memory());
    assert_eq!(store.load(), kept);
    assert_eq!(all(&mut store), []);
    drop(store);
    let store = folder.store();
    assert_eq!(store.load(), kept);
    works(store);
}

#[test]
fn an_empty_file_and_one_of_this_version_are_opened() {
    let folder = Folder::new();
    fs::write(folder.file("pilotwire.db"), "").unwrap();
    assert_eq!(read(&folder), []);
    let mut store = folder.store();
    assert_eq!(schema::version(&store.db).unwrap(), schema::VERSION);
    store.keep(&evening(1)).unwrap();
    drop(store);
    assert_eq!(
        schema::version(&folder.store().db).unwrap(),
        schema::VERSION
    );
    assert_eq!(all(&mut folder.store()), [event(1)]);
}

/// As the program before readings left it, orderly or killed: all is there, and readings are taken.
#[test]
fn a_file_of_version_1_keeps_what_it_has_and_takes_readings() {
    for killed in [false, true] {
        let folder = Folder::new();
        let mut old = rusqlite::Connection::open(folder.file("pilotwire.db")).unwrap();
        old.pragma_update(None, "journal_mode", "WAL").unwrap();
        old.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, killed)
            .unwrap();
        schema::migrate_to(&mut old, 0, 1).unwrap();
        for entry in (0..3).flat_map(evening) {
            rows::put(&old, &entry).unwrap();
        }
        drop(old);
        let events = [event(0), event(1), event(2)];
        assert_eq!(read(&folder), events, "read as it is");
        let mut store = folder.store();
        assert_eq!(schema::version(&store.db).unwrap(), schema::VERSION);
        assert_eq!(all(&mut store), events);
        let kept = store.load();
        assert_eq!(kept.holds, [hold("porch", 2)]);
        assert_eq!(kept.zones, [record("porch", 2)]);
        assert_eq!((kept.points, kept.newest), (vec![], Some(at(2))));
        store.keep(&[reading("orchard/TP3 DC", 7, 14.7)]).unwrap();
        drop(store);
        let store = folder.store();
        assert_eq!(store.load().points.len(), 1);
        works(store);
    }
}

/// What was read before it was asked whether a reading is as it should be stays what later ones are held against.
#[test]
fn a_file_of_version_2_keeps_its_first_readings() {
    let folder = Folder::new();
    let mut old = rusqlite::Connection::open(folder.file("pilotwire.db")).unwrap();
    old.pragma_update(None, "journal_mode", "WAL").unwrap();
    schema::migrate_to(&mut old, 0, 2).unwrap();
    for (point, at, value) in [
        ("orchard/TP3 DC", 1, 14.7),
        ("orchard/TP3 DC", 2, 14.2),
        ("orchard/TP11", 2, 0.3),
    ] {
        let into = "INSERT INTO reading (point, at, value) VALUES (?, ?, ?)";
        old.execute(into, (point, at, value)).unwrap();
    }
    drop(old);
    let mut store = folder.store();
    store.keep(&[reading("orchard/TP3 DC", 7, 14.0)]).unwrap();
    let mut points = store.load().points;
    points.sort_by(|a, b| a.point.cmp(&b.point));
    let [insulation, coil] = &points[..] else {
        panic!("two points");
    };
    // What was one point is the first of three: a low one is not lost.
    assert_eq!(insulation.point, "orchard/TP11 pair");
    assert_eq!((insulation.first.value, insulation.last.value), (0.3, 0.3));
    assert_eq!((coil.first.value, coil.last.value), (14.7, 14.0));
    works(store);
}

#[test]
fn a_file_of_a_newer_version_is_left_as_it_is() {
    for killed in [false, true] {
        let folder = Folder::new();
        let mut store = folder.store();
        store.keep(&evening(1)).unwrap();
        store
            .db
            .execute_batch("ALTER TABLE event ADD COLUMN more TEXT; PRAGMA user_version = 4")
            .unwrap();
        if killed {
            store.killed();
        } else {
            drop(store);
        }
        let read = |name: &str| fs::read(folder.file(name)).unwrap_or_default();
        let before = (read("pilotwire.db"), read("pilotwire.db-wal"));
        let (store, said) = opened(folder.path());
        assert!(store.is_in_memory());
        assert!(said.contains("a newer pilotwire has written it"), "{said}");
        works(store);
        assert!(before == (read("pilotwire.db"), read("pilotwire.db-wal")));
        let said = Database::read(folder.path(), &Filter::default())
            .unwrap_err()
            .0;
        assert!(said.contains("a newer pilotwire has written it"), "{said}");
    }
}

#[test]
fn a_reader_says_what_is_wrong() {
    let folder = Folder::new();
    let read = || {
        Database::read(folder.path(), &Filter::default())
            .unwrap_err()
            .0
    };
    assert!(read().contains("there is none"), "{}", read());
    fs::write(folder.file("pilotwire.db"), "no database ".repeat(100)).unwrap();
    assert!(read().contains("file is not a database"), "{}", read());
    assert_eq!(folder.names(), ["pilotwire.db"]);
}

#[test]
fn a_row_that_makes_no_sense_hides_neither_the_others_nor_itself() {
    let folder = Folder::new();
    let mut store = folder.store();
    for number in 0..3 {
        store.keep(&evening(number)).unwrap();
    }
    store
        .db
        .execute_batch("UPDATE event SET kind = 'swapped' WHERE id = 2")
        .unwrap();
    let events = all(&mut store);
    assert_eq!((&events[0], &events[2]), (&event(0), &event(2)));
    assert_eq!(events[1].what, "unreadable");
    assert_eq!(events[1].at, event(1).at);
}
