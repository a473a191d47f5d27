use chrono::{DateTime, Utc};

use crate::chain::{Pace, Yard};
use crate::civil_time::ZoneInfo;
use crate::daemon::store::tests::damage::whole;
use crate::daemon::store::tests::{Folder, all, evening, event, signed};
use crate::rehearsal::Chip;

use super::*;

/// A disk in a yard of no consequence.
fn disk(folder: &Folder) -> (SimStore, Rc<RefCell<World>>) {
    let zones = ZoneInfo::from_environment();
    let site = crate::rehearsal::yards::yard("pair", &|zone| zones.open(zone)).unwrap();
    let start: DateTime<Utc> = "2027-03-26T12:00:00Z".parse().unwrap();
    let yard = Yard::new(&[], Pace::Typical);
    let world = Rc::new(RefCell::new(World::new(&site, yard, start, Chip::LetsGo)));
    let (store, trouble) = SimStore::open(folder.path(), world.clone());
    assert_eq!(trouble, None);
    (store, world)
}

#[test]
fn a_full_disk_of_the_rehearsal_is_as_a_full_disk() {
    let folder = Folder::new();
    let (mut store, world) = disk(&folder);
    store.keep(&evening(1)).unwrap();
    world.borrow_mut().effects.full = true;
    let said = store.keep(&evening(2)).unwrap_err().0;
    assert!(said.contains("database or disk is full"), "{said}");
    world.borrow_mut().effects.full = false;
    store.keep(&evening(3)).unwrap();
    assert_eq!(all(&mut store.store), [event(1), event(3)]);
}

#[test]
fn the_dead_keep_nothing_and_leave_their_files_alone() {
    let folder = Folder::new();
    let (mut store, world) = disk(&folder);
    store.keep(&evening(1)).unwrap();
    world.borrow_mut().effects.die_at(1, false);
    for number in 2..5 {
        store.keep(&evening(number)).unwrap();
    }
    assert_eq!(all(&mut store.store).len(), 1);
    store.killed();
    assert!(folder.names().contains(&"pilotwire.db-wal".into()));
    assert_eq!(all(&mut folder.store()), [event(1)]);
}

#[test]
fn a_power_cut_leaves_what_was_acknowledged_and_all_or_nothing_of_the_rest() {
    let (mut none, mut every) = (0, 0);
    for seed in 0..200_i64 {
        let folder = Folder::new();
        let (mut store, world) = disk(&folder);
        let acknowledged = seed % 7;
        for number in 0..acknowledged {
            store.keep(&evening(number)).unwrap();
        }
        if seed % 3 == 0 {
            // As after an orderly end: the next write begins the log again.
            drop(store);
            store = SimStore::open(folder.path(), world.clone()).0;
        }
        world.borrow_mut().effects.tears = Some(seed.unsigned_abs());
        store.keep(&evening(acknowledged)).unwrap();
        assert!(world.borrow().effects.torn);
        store.killed();
        match signed(whole(&folder)) - acknowledged {
            0 => none += 1,
            1 => every += 1,
            other => panic!("{other} more events than acknowledged, seed {seed}"),
        }
    }
    println!("{none} of 200 writes lost, {every} made");
    assert!(none > 40 && every > 20, "{none} lost, {every} made");
}
