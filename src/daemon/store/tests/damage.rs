//! Power cuts, and disks that do not hold what was written.

use super::*;

/// A store that was killed after some evenings, all of them in its log, and how long the log was after
/// each.
fn killed(evenings: i64) -> (Folder, Vec<u64>) {
    let folder = Folder::new();
    let mut store = folder.store();
    let mut lengths = vec![store.wal_length().unwrap()];
    for number in 0..evenings {
        store.keep(&evening(number)).unwrap();
        lengths.push(store.wal_length().unwrap());
    }
    store.killed();
    (folder, lengths)
}

/// The events from the first on, as many as there are; what else was kept is of the same transaction.
fn whole(folder: &Folder) -> usize {
    let read = Store::read(&folder.0, &Filter::default());
    let (mut store, trouble) = Store::open(&folder.0, Durability::None);
    let events = all(&mut store);
    let expected: Vec<Event> = (0..).take(events.len()).map(event).collect();
    assert_eq!(events, expected);
    if trouble.is_none() {
        // Our own reading of the log, and SQLite's.
        assert_eq!(read.unwrap(), events);
    }
    let last = signed(events.len()) - 1;
    let kept = store.load();
    if last >= 0 {
        assert_eq!(kept.holds, [hold("porch", last)]);
        assert_eq!(kept.zones, [record("porch", last.unsigned_abs())]);
        assert_eq!(kept.newest, Some(at(last)));
    } else {
        assert_eq!(kept, Kept::default());
    }
    works(store);
    events.len()
}

#[test]
fn a_log_cut_anywhere_has_every_transaction_before_the_cut() {
    let (folder, lengths) = killed(12);
    let log = fs::read(folder.file("pilotwire.db-wal")).unwrap();
    assert_eq!(log.len() as u64, lengths[12]);
    let mut before = 0;
    for cut in (0..=log.len()).step_by(512).chain([log.len()]) {
        let folder = folder.copy();
        fs::write(folder.file("pilotwire.db-wal"), &log[..cut]).unwrap();
        let events = whole(&folder);
        let due = lengths[1..]
            .iter()
            .filter(|&&length| length <= cut as u64)
            .count();
        assert_eq!(events, due, "cut at {cut}");
        assert!(events >= before);
        before = events;
    }
    assert_eq!(before, 12);
}

#[test]
fn a_sector_lost_from_the_log_ends_the_history_there() {
    let (folder, lengths) = killed(8);
    let log = fs::read(folder.file("pilotwire.db-wal")).unwrap();
    for start in (0..log.len()).step_by(512 * 3) {
        let folder = folder.copy();
        let mut log = log.clone();
        let end = log.len().min(start + 512);
        log[start..end].fill(0);
        fs::write(folder.file("pilotwire.db-wal"), log).unwrap();
        let safe = lengths[1..]
            .iter()
            .filter(|&&length| length <= start as u64)
            .count();
        assert!(whole(&folder) >= safe);
    }
}

#[test]
fn a_sector_lost_from_the_file_never_stops_the_store() {
    let folder = Folder::new();
    let mut store = folder.store();
    for number in 0..300 {
        store.keep(&evening(number)).unwrap();
    }
    drop(store);
    let bytes = fs::read(folder.file("pilotwire.db")).unwrap();
    let mut noticed = 0;
    for start in (0..bytes.len()).step_by(512) {
        let folder = Folder::new();
        let mut bytes = bytes.clone();
        bytes[start..start + 512].fill(0);
        fs::write(folder.file("pilotwire.db"), bytes).unwrap();
        let (mut store, trouble) = Store::open(&folder.0, Durability::None);
        assert!(!store.is_in_memory());
        if let Some(Trouble(said)) = trouble {
            noticed += 1;
            assert!(said.contains("pilotwire.db.bad-1"), "{said}");
            assert_eq!(all(&mut store), []);
        }
        works(store);
    }
    let sectors = bytes.len() / 512;
    println!("{noticed} of {sectors} lost sectors noticed");
    assert!(noticed * 3 > sectors, "{noticed} of {sectors}");
}

#[test]
fn a_power_cut_leaves_what_was_acknowledged_and_all_or_nothing_of_the_rest() {
    let (mut none, mut every) = (0, 0);
    for seed in 0..200_i64 {
        let folder = Folder::new();
        let mut store = folder.store();
        let acknowledged = seed % 7;
        for number in 0..acknowledged {
            store.keep(&evening(number)).unwrap();
        }
        if seed % 3 == 0 {
            // The next write begins the log anew.
            store
                .db
                .query_row("PRAGMA wal_checkpoint(RESTART)", [], |_| Ok(()))
                .unwrap();
        }
        store
            .lose_power_in(&evening(acknowledged), seed.unsigned_abs())
            .unwrap();
        match signed(whole(&folder)) - acknowledged {
            0 => none += 1,
            1 => every += 1,
            other => panic!("{other} more events than acknowledged, seed {seed}"),
        }
    }
    println!("{none} of 200 writes lost, {every} made");
    assert!(none > 40 && every > 20, "{none} lost, {every} made");
}

#[test]
fn a_torn_log_is_cut_at_every_point_of_the_last_write() {
    let (folder, lengths) = killed(4);
    let log = fs::read(folder.file("pilotwire.db-wal")).unwrap();
    let (kept, end) = (lengths[3], lengths[4]);
    for cut in (kept..=end).step_by(97).chain([end - 1, end]) {
        let folder = folder.copy();
        fs::write(
            folder.file("pilotwire.db-wal"),
            &log[..usize::try_from(cut).unwrap()],
        )
        .unwrap();
        assert_eq!(
            whole(&folder),
            if cut == end { 4 } else { 3 },
            "cut at {cut}"
        );
    }
    for seed in 0..50 {
        let folder = folder.copy();
        tear(&folder.0, kept, seed).unwrap();
        assert!((3..=4).contains(&whole(&folder)), "seed {seed}");
    }
}
