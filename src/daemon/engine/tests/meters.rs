//! Readings of meters: taken all or none, kept, judged by what the supply gave in the same round.

use std::collections::BTreeMap;

use tempfile::TempDir;

use super::*;
use crate::commissioning::{Found, Sheet};
use crate::daemon::control::{Measured, Refusal};
use crate::daemon::readings::{Given, PointReading};
use crate::daemon::store::PointRecord;

fn given(of: &[(&str, &str)]) -> BTreeMap<String, Given> {
    let text = |(name, value): &(&str, &str)| ((*name).to_owned(), Given::Text((*value).into()));
    of.iter().map(text).collect()
}

impl Bench {
    /// The yard at noon, once it is worked out what meters should show.
    fn measurable() -> Self {
        let mut bench = Self::at(yard(), "2027-03-01T12:00:00Z");
        let sheet = Sheet::of(bench.engine.site()).unwrap();
        bench.engine.set_sheet(Ok(sheet));
        bench.engine.take_said();
        bench
    }

    pub(super) fn measure(&mut self, zone: &str, of: &[(&str, &str)]) -> Result<Measured, Refusal> {
        match self.ask(Request::Measured {
            zone: zone.into(),
            readings: given(of),
        }) {
            Reply::Measured(measured) => Ok(*measured),
            Reply::Refused(refusal) => Err(refusal),
            other => panic!("{other:?}"),
        }
    }

    fn point(&mut self, zone: &str, name: &str) -> PointReading {
        let readings = self.engine.readings(self.now);
        let zone = readings.zones.iter().find(|it| it.zone == zone);
        let points = &zone.expect("the zone").points;
        let point = points.iter().find(|it| it.name == name);
        point.expect("the point").clone()
    }

    fn expected(&mut self, zone: &str, name: &str) -> f64 {
        self.point(zone, name).typical.expect("a value")
    }

    fn kept_points(&mut self) -> Vec<PointRecord> {
        self.engine.journal.store.load().points
    }
}

/// Readings are given back as they were taken, to the last bit.
fn values(point: &PointReading) -> [Option<f64>; 2] {
    [point.first, point.last].map(|taken| taken.map(|taken| taken.value))
}

pub(super) struct Folder(TempDir);

impl Folder {
    pub(super) fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    pub(super) fn store(&self) -> Disk {
        let (store, trouble) = Database::open(self.0.path(), Durability::None);
        assert_eq!(trouble, None);
        Disk::of(store)
    }
}

#[test]
fn nothing_is_taken_before_it_is_worked_out_what_there_is() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    let refusal = bench.measure("front", &[("TP1", "12.5")]).unwrap_err();
    assert!(refusal.why.contains("is being worked out"), "{refusal:?}");
    assert!(bench.engine.readings(bench.now).comes && bench.engine.has_no_sheet());
    bench.engine.set_sheet(Err("it swings".into()));
    let why = bench.engine.readings(bench.now).in_short();
    assert!(why.contains("cannot be worked out: it swings"), "{why}");
    assert!(!bench.engine.readings(bench.now).comes && !bench.engine.has_no_sheet());
}

#[test]
fn readings_are_judged_said_and_kept() {
    let mut bench = Bench::measurable();
    let volts = bench.expected("front", "TP1");
    let coil = bench.expected("fence", "TP3 DC");
    let measured = bench
        .measure(
            "front",
            &[("TP1", &format!("{volts:.1}").replace('.', ","))],
        )
        .unwrap();
    assert_eq!(measured.what, "1 reading of front: as it should be");
    assert!(!measured.kept, "there is no disk");
    assert_eq!(measured.note, None);
    // The slave's readings go with what its master's supply gives.
    let zones: Vec<&str> = measured.zones.iter().map(|it| it.zone.as_str()).collect();
    assert_eq!(zones, ["front", "fence"]);
    let low = format!("{:.2}", coil * 0.7);
    let measured = bench
        .measure("fence", &[("TP3 DC", &low), ("TP4 open", "OL")])
        .unwrap();
    assert!(
        measured
            .what
            .starts_with("2 readings of fence: TP3 DC low; fits: "),
        "{}",
        measured.what
    );
    assert_eq!(bench.point("fence", "TP3 DC").found, Some(Found::Low));
    assert_eq!(bench.point("fence", "TP4 open").found, Some(Found::Within));
    let short = bench.engine.readings(bench.now).in_short();
    assert!(
        short.starts_with("1 of 3 readings is off: fence/TP3 DC low; fence fits: "),
        "{short}"
    );
    let said = bench.engine.take_said();
    assert_eq!(said.len(), 2);
    assert_eq!(said[1].kind, Kind::Measured);
    assert_eq!(said[1].zone.as_deref(), Some("fence"));
    assert!(
        said[1].why.contains(&format!(
            "TP3 DC {} V DC, TP4 open OL",
            low.trim_end_matches('0')
        )),
        "{said:?}"
    );
}

#[test]
fn all_readings_are_taken_or_none() {
    let mut bench = Bench::measurable();
    let refusal = bench
        .measure(
            "fence",
            &[
                ("TP2", "12.1"),
                ("TP3", "14"),
                ("TP3 AC", "x"),
                ("TP77", "1"),
                ("tp1", "12.5"),
                ("TP11", "OL"),
                ("tp2", "12.1"),
            ],
        )
        .unwrap_err();
    let at: Vec<&str> = refusal.at.keys().map(String::as_str).collect();
    assert_eq!(at, ["TP11", "TP3", "TP3 AC", "TP77", "tp1", "tp2"]);
    let elsewhere = "fence has no such point: it is one of front, porch";
    assert_eq!(refusal.at["tp1"], elsewhere);
    assert!(refusal.at["tp2"].contains("perhaps TP2"), "{refusal:?}");
    let three = "perhaps TP11 pair or TP11 earth 1 or TP11 earth 2";
    assert!(refusal.at["TP11"].contains(three), "{refusal:?}");
    assert!(
        refusal.at["TP3"].contains("perhaps TP3 DC or TP3 AC"),
        "{refusal:?}"
    );
    assert!(refusal.at["TP3 AC"].contains("not a number"), "{refusal:?}");
    assert_eq!(bench.kept_points(), []);
    assert_eq!(bench.point("fence", "TP2").last, None);
    assert_eq!(bench.engine.take_said(), []);
    for (zone, of, why, remedy) in [
        ("fence", &[][..], "nothing was measured", "one reading"),
        (
            "fench",
            &[("TP2", "1")],
            "there is no zone",
            "did you mean fence?",
        ),
    ] {
        let refusal = bench.measure(zone, of).unwrap_err();
        assert!(refusal.why.contains(why), "{refusal:?}");
        assert!(refusal.remedy.contains(remedy), "{refusal:?}");
    }
}

#[test]
fn a_supply_that_was_read_on_another_day_says_nothing_of_today() {
    let mut bench = Bench::measurable();
    let volts = bench.expected("front", "TP1");
    let coil = bench.expected("fence", "TP3 DC");
    // A tenth less at the supply, a tenth less at the coil: in its band only because of that.
    let (supply, low) = (format!("{:.2}", volts * 0.9), format!("{:.2}", coil * 0.89));
    bench.measure("front", &[("TP1", &supply)]).unwrap();
    bench
        .after(11.0 * 3600.0)
        .measure("fence", &[("TP3 DC", &low)])
        .unwrap();
    let point = bench.point("fence", "TP3 DC");
    assert_eq!(point.found, Some(Found::Within), "{point:?}");
    assert_eq!(point.then.unwrap().of, "front/TP1");
    bench
        .after(2.0 * 3600.0)
        .measure("fence", &[("TP3 DC", &low)])
        .unwrap();
    let point = bench.point("fence", "TP3 DC");
    assert_eq!((point.found, point.then), (Some(Found::Low), None));
}

#[test]
fn readings_survive_a_restart_and_the_first_stands_beside_the_newest() {
    let folder = Folder::new();
    let mut bench = Bench::measurable();
    bench.engine.journal.store = folder.store();
    assert!(bench.measure("fence", &[("TP3 DC", "14.7")]).unwrap().kept);
    bench.after(86_400.0);
    assert!(bench.measure("fence", &[("TP3 DC", "14.2")]).unwrap().kept);
    drop(bench);
    let mut bench = Bench::measurable();
    let (wired, now) = (Wired(Rc::clone(&bench.board)), bench.now);
    bench.engine = Engine::new(yard(), "boot".into(), wired, (folder.store(), None), now);
    bench.engine.set_sheet(Ok(Sheet::of(&yard()).unwrap()));
    let point = bench.point("fence", "TP3 DC");
    assert_eq!(values(&point), [Some(14.7), Some(14.2)]);
    // Of a zone that has another name they stay, and are not shown.
    let renamed = yard_with(&[
        ("name = \"fence\"", "name = \"hedge\""),
        ("slave = \"fence\"", "slave = \"hedge\""),
        ("zone = \"fence\"", "zone = \"hedge\""),
    ]);
    let sheet = Sheet::of(&renamed).unwrap();
    bench.engine.replace(renamed, None, bench.now);
    assert!(
        bench.engine.readings(bench.now).missing.is_some(),
        "it holds no more"
    );
    bench.engine.set_sheet(Ok(sheet));
    assert_eq!(bench.point("hedge", "TP3 DC").last, None);
    bench.engine.replace(yard(), None, bench.now);
    bench.engine.set_sheet(Ok(Sheet::of(&yard()).unwrap()));
    assert_eq!(
        values(&bench.point("fence", "TP3 DC")),
        [Some(14.7), Some(14.2)]
    );
    assert_eq!(bench.kept_points().len(), 1);
}

/// What drifts is held against a reading that was as it should be, not against a mistyped one.
#[test]
fn the_first_reading_is_the_first_that_was_as_it_should_be() {
    let folder = Folder::new();
    let mut bench = Bench::measurable();
    bench.engine.journal.store = folder.store();
    let coil = bench.expected("fence", "TP3 DC");
    let (right, less) = (
        (coil * 10.0).round() / 10.0,
        (coil * 10.0).round() / 10.0 - 0.1,
    );
    let read = |bench: &mut Bench, value: f64| {
        let text = value.to_string();
        bench
            .after(86_400.0)
            .measure("fence", &[("TP3 DC", &text)])
            .unwrap();
        values(&bench.point("fence", "TP3 DC"))
    };
    assert_eq!(read(&mut bench, 1.47), [Some(1.47), Some(1.47)]);
    assert_eq!(read(&mut bench, 2.0), [Some(1.47), Some(2.0)]);
    assert_eq!(read(&mut bench, right), [Some(right), Some(right)]);
    assert_eq!(read(&mut bench, 1.47), [Some(right), Some(1.47)]);
    assert_eq!(read(&mut bench, less), [Some(right), Some(less)]);
    let kept = &bench.kept_points()[0];
    assert_eq!(Some(kept.first.value), Some(right));
}

#[test]
fn what_was_read_more_than_a_year_ago_is_to_be_read_again() {
    let mut bench = Bench::measurable();
    let coil = format!("{:.1}", bench.expected("fence", "TP3 DC"));
    let volts = format!("{:.1}", bench.expected("front", "TP1"));
    bench.measure("front", &[("TP1", &volts)]).unwrap();
    let first = bench.now.utc;
    bench
        .after(3600.0)
        .measure("fence", &[("TP3 DC", &coil)])
        .unwrap();
    let of_link = |bench: &mut Bench| {
        let readings = bench.engine.readings(bench.now);
        let fence = readings.zones.iter().find(|it| it.zone == "fence");
        fence.unwrap().link.clone().unwrap()
    };
    let link = of_link(&mut bench);
    assert_eq!(
        (link.oldest, link.newest),
        (Some(first), Some(bench.now.utc))
    );
    bench.after(366.0 * 86_400.0 - 3600.0);
    assert!(!of_link(&mut bench).old && !bench.point("fence", "TP3 DC").old);
    bench.after(86_400.0);
    assert!(of_link(&mut bench).old && bench.point("fence", "TP3 DC").old);
    let short = bench.engine.readings(bench.now).in_short();
    assert!(
        short.contains("; 2 older than a year: measure again; "),
        "{short}"
    );
    // A clock in doubt says nothing of age.
    bench.now.quality = ClockQuality::Doubtful;
    assert!(!bench.after(1.0).point("fence", "TP3 DC").old);
    bench.now.quality = ClockQuality::Good;
    bench
        .after(1.0)
        .measure("fence", &[("TP3 DC", &coil)])
        .unwrap();
    // What the supply gave a year ago says nothing of today.
    let link = of_link(&mut bench);
    assert_eq!((link.oldest, link.old), (link.newest, false));
}

#[test]
fn a_full_disk_is_told_and_takes_them_later() {
    let folder = Folder::new();
    let mut bench = Bench::measurable();
    bench.engine.journal.store = folder.store();
    bench.engine.journal.store.full = true;
    assert!(!bench.measure("fence", &[("TP2", "12")]).unwrap().kept);
    assert_eq!(
        values(&bench.point("fence", "TP2")),
        [Some(12.0), Some(12.0)]
    );
    assert_eq!(bench.kept_points(), []);
    bench.engine.journal.store.full = false;
    assert!(bench.measure("fence", &[("TP3 DC", "14")]).unwrap().kept);
    assert_eq!(bench.kept_points().len(), 2);
}

/// Readings that nobody could keep do not fill the memory of the board.
#[test]
fn what_waits_for_a_disk_is_bounded() {
    let folder = Folder::new();
    let mut bench = Bench::measurable();
    bench.engine.journal.store = folder.store();
    bench.engine.journal.store.full = true;
    for _ in 0..1500 {
        // An hour has no more than sixty.
        let answer = bench.after(61.0).measure("fence", &[("TP2", "12")]);
        assert!(!answer.unwrap().kept);
    }
    assert!(bench.engine.journal.pending.len() <= super::super::journal::MOST_PENDING + 10);
    assert!(bench.engine.journal.lost > 0);
}

/// A card wears out, and a flood would drive out the readings of years.
#[test]
fn a_flood_of_readings_is_refused_till_the_hour_is_over() {
    let mut bench = Bench::measurable();
    for _ in 0..60 {
        bench.measure("fence", &[("TP2", "12")]).unwrap();
    }
    let refused = bench.measure("fence", &[("TP2", "12")]).unwrap_err();
    assert_eq!(refused.why, "fence was measured 60 times within an hour");
    // Another zone is not meant.
    bench.measure("front", &[("TP1", "12")]).unwrap();
    bench
        .after(3601.0)
        .measure("fence", &[("TP2", "12")])
        .unwrap();
}

#[test]
fn a_store_that_can_keep_again_gets_what_was_read_meanwhile() {
    let folder = Folder::new();
    let mut bench = Bench::measurable();
    bench.engine.journal.store = folder.store();
    bench.measure("fence", &[("TP2", "12.0")]).unwrap();
    let there = std::mem::replace(
        &mut bench.engine.journal.store,
        Disk::of(Database::without_file()),
    );
    bench.engine.meters = super::super::measured::Meters::new(Vec::new());
    bench.engine.set_sheet(Ok(Sheet::of(&yard()).unwrap()));
    bench
        .after(60.0)
        .measure("fence", &[("TP2", "11.5"), ("TP3 DC", "14")])
        .unwrap();
    bench
        .after(60.0)
        .measure("fence", &[("TP2", "11.0")])
        .unwrap();
    bench.engine.take_store(there, bench.now);
    let expected = [Some(12.0), Some(11.0)];
    assert_eq!(values(&bench.point("fence", "TP2")), expected);
    let kept = bench.kept_points();
    assert_eq!(kept.len(), 2);
    let both = [kept[0].first, kept[0].last];
    assert_eq!(both.map(|taken| Some(taken.value)), expected);
}

#[test]
fn a_clock_in_doubt_is_told_beside_the_readings() {
    let mut bench = Bench::measurable();
    bench.now.quality = ClockQuality::Doubtful;
    bench.after(1.0);
    let note = bench.measure("fence", &[("TP2", "12")]).unwrap().note;
    assert!(note.unwrap().contains("the clock is doubtful"));
}
