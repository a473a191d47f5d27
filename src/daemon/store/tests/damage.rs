//! Power cuts, and disks that do not hold what was written.

use std::io::{BufRead, BufReader};

use super::*;

/// A store that was killed after some evenings, all of them in its log, and how long the log was after
/// each.
fn killed(evenings: i64) -> (Folder, Vec<u64>) {
    let folder = Folder::new();
    let mut store = folder.store();
    let length = || fs::metadata(folder.file("pilotwire.db-wal")).map_or(0, |log| log.len());
    let mut lengths = vec![length()];
    for number in 0..evenings {
        store.keep(&evening(number)).unwrap();
        lengths.push(length());
    }
    store.killed();
    (folder, lengths)
}

/// The events from the first on, as many as there are; what else was kept is of the same transaction.
pub(crate) fn whole(folder: &Folder) -> usize {
    let read = Database::read(folder.path(), &Filter::default());
    let (mut store, trouble) = Database::open(folder.path(), Durability::None);
    let events = all(&mut store);
    let expected: Vec<Event> = (0..).take(events.len()).map(event).collect();
    assert_eq!(events, expected);
    if let Ok(read) = read {
        // A copy, and the store itself.
        assert_eq!(read.events, events);
        assert_eq!(read.trouble.is_some(), trouble.is_some());
    } else {
        assert!(trouble.is_some());
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

/// All that is in a folder, name and bytes.
fn files(folder: &Folder) -> Vec<(String, Vec<u8>)> {
    let read = |name: String| (name.clone(), fs::read(folder.file(&name)).unwrap());
    folder.names().into_iter().map(read).collect()
}

/// Where the process that is killed finds its folder.
const OF_KILLED: &str = "PILOTWIRE_TEST_KILLED";

#[test]
fn all_that_a_killed_process_had_kept_is_read_and_its_files_stay_as_they_are() {
    let folder = Folder::new();
    let test = "daemon::store::tests::damage::keeps_five_hundred_and_waits_to_be_killed";
    let mut other = process::Command::new(env::current_exe().unwrap())
        .args(["--ignored", "--exact", test, "--nocapture"])
        .env(OF_KILLED, folder.path())
        .stdout(process::Stdio::piped())
        .spawn()
        .unwrap();
    let out = BufReader::new(other.stdout.take().unwrap());
    let ready = out
        .lines()
        .any(|line| line.unwrap().contains("all are kept"));
    // SIGKILL.
    other.kill().unwrap();
    other.wait().unwrap();
    assert!(ready);
    let before = files(&folder);
    assert_eq!(before.len(), 2, "a file and its log");
    let expected: Vec<Event> = (0..500).map(event).collect();
    assert!(read(&folder) == expected);
    assert!(files(&folder) == before);
    assert!(all(&mut folder.store()) == expected);
}

#[test]
#[ignore = "run by the test before it"]
fn keeps_five_hundred_and_waits_to_be_killed() {
    let folder = env::var_os(OF_KILLED).expect("the test before it says where");
    let (mut store, trouble) = Database::open(Path::new(&folder), Durability::Full);
    assert_eq!(trouble, None);
    for number in 0..500 {
        store.keep(&[Entry::Event(event(number))]).unwrap();
    }
    println!("all are kept");
    loop {
        std::thread::park();
    }
}

#[test]
fn of_a_torn_log_all_is_read_that_was_kept_before_the_tear() {
    let folder = Folder::new();
    let mut store = folder.store();
    let log = |folder: &Folder| fs::read(folder.file("pilotwire.db-wal")).unwrap();
    let mut before = Vec::new();
    for number in 0..500 {
        if [487, 499].contains(&number) {
            before.push((number, log(&folder)));
        }
        store.keep(&[Entry::Event(event(number))]).unwrap();
    }
    store.killed();
    let after = log(&folder);
    for (kept, before) in before {
        let same = after.iter().zip(&before);
        let same = same.take_while(|(after, before)| after == before).count();
        assert!(same > 32, "the log has not begun again since");
        let torn = folder.copy();
        let mut bytes = after.clone();
        bytes[same..same + 512].fill(0);
        fs::write(torn.file("pilotwire.db-wal"), bytes).unwrap();
        let before = files(&torn);
        let expected: Vec<Event> = (0..kept).map(event).collect();
        assert!(read(&torn) == expected, "{kept}");
        assert!(files(&torn) == before);
    }
}

/// Every bit of the header counts: SQLite takes the log for empty and is silent about it.
#[test]
fn a_log_damaged_where_it_begins_is_told_and_kept() {
    let (folder, _) = killed(3);
    // What an orderly end has put into the file is not in the log.
    drop(folder.store());
    let mut store = folder.store();
    store.keep(&evening(3)).unwrap();
    store.killed();
    for byte in 0..32 {
        let folder = folder.copy();
        let log = folder.file("pilotwire.db-wal");
        let mut bytes = fs::read(&log).unwrap();
        bytes[byte] ^= 1 << (byte % 8);
        fs::write(&log, &bytes).unwrap();
        let read = Database::read(folder.path(), &Filter::default()).unwrap();
        assert_eq!(read.events.len(), 3, "byte {byte}");
        let said = read.trouble.expect("trouble").0;
        assert!(
            said.contains("pilotwire.db-wal is damaged where it begins"),
            "{said}"
        );
        let (store, trouble) = Database::open(folder.path(), Durability::None);
        let said = trouble.expect("trouble").0;
        assert!(
            said.contains("kept as") && said.contains("pilotwire.db.bad-1-wal"),
            "{said}"
        );
        assert!(fs::read(folder.file("pilotwire.db.bad-1-wal")).unwrap() == bytes);
        works(store);
        // It is told once.
        assert_eq!(all(&mut folder.store()).len(), 4);
    }
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
        let (mut store, trouble) = Database::open(folder.path(), Durability::None);
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
}
