//! All zones forced and let go in one stroke: what holds for one holds for each.

use super::meters::Folder;
use super::*;
use crate::daemon::control::{Done, Refusal};

impl Bench {
    fn force_all(&mut self, lit: bool, until: Option<Until>) -> Result<Done, Refusal> {
        done(self.ask(Request::ForceAll { lit, until }))
    }

    fn release_all(&mut self) -> Done {
        done(self.ask(Request::ReleaseAll {})).unwrap()
    }

    /// By zone: how it is held.
    fn held(&self) -> [Option<bool>; 4] {
        let zones = self.engine.holds.zones.iter();
        let held: Vec<_> = zones.map(|hold| hold.as_ref().map(|it| it.lit)).collect();
        held.try_into().expect("four zones")
    }
}

pub(super) fn done(reply: Reply) -> Result<Done, Refusal> {
    match reply {
        Reply::Done(done) => Ok(done),
        Reply::Refused(refusal) => Err(refusal),
        other => panic!("{other:?}"),
    }
}

const NOBODY: [Option<bool>; 4] = [None; 4];
const BOTH_ON: [Option<bool>; 4] = [Some(true), None, None, Some(true)];
const MINUTES: Until = Until::For(900);

#[test]
fn every_zone_with_a_line_is_held_one_after_the_other_and_the_rest_follows() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(10.0).engine.take_said();
    let done = bench.force_all(true, Some(MINUTES)).unwrap();
    assert_eq!(
        done.what,
        "2 zones held on until 2027-03-01 12:15:10 UTC: front, far"
    );
    assert_eq!(
        done.note.as_deref(),
        Some("far: one zone after the other; by wire: fence; without a line: porch")
    );
    assert_eq!(bench.held(), BOTH_ON);
    assert!(bench.lit(FRONT) && !bench.lit(FAR), "not both at once");
    let stagger_s = bench.engine.site().daemon.stagger_s;
    assert!(bench.after(stagger_s).lit(FAR));
    let said = bench.engine.take_said();
    let of = |what: &str| -> Vec<_> {
        let these = said.iter().filter(|event| event.what == what);
        these
            .map(|event| event.zone.clone().expect("a zone"))
            .collect()
    };
    assert_eq!(of("held on"), ["front", "far"]);
    assert_eq!(of("on"), ["front", "far"]);
    assert!(bench.after(900.0 - stagger_s - 0.001).lit(FRONT));
    bench.after(0.001);
    assert!(!bench.lit(FRONT) && !bench.lit(FAR));
    assert_eq!(bench.held(), NOBODY);
}

#[test]
fn all_are_held_or_none_and_a_refusal_names_the_zone() {
    // The front is lit on Saturdays alone; its Monday begins two days without one.
    let site = yard_with(&[(
        "off = \"23:00\"\nminimum_lit",
        "off = \"23:00\"\ndays = [\"sat\"]\nminimum_lit",
    )]);
    let mut bench = Bench::at(site, "2027-03-01T12:00:00Z");
    let refusal = bench.force_all(true, Some(Until::Next)).unwrap_err();
    assert_eq!(
        refusal.why,
        "the plan of front does not switch it within two days"
    );
    assert_eq!(bench.held(), NOBODY);
    for (until, why) in [
        (
            Until::For(0),
            "a zone is held for a second at least and for a week at most",
        ),
        (
            Until::For(7 * 86_400 + 1),
            "a zone is held for a second at least and for a week at most",
        ),
        (Until::Clock("25:00".into()), "\"25:00\" is no time of day"),
    ] {
        assert_eq!(bench.force_all(true, Some(until)).unwrap_err().why, why);
    }
    bench.now.quality = ClockQuality::Doubtful;
    bench.after(10.0);
    for until in [Until::Next, Until::Clock("23:30".into())] {
        let refusal = bench.force_all(true, Some(until)).unwrap_err();
        assert!(refusal.why.contains("the clock is doubtful"), "{refusal:?}");
    }
    assert_eq!(bench.held(), NOBODY);
    // For a while needs no clock.
    bench.force_all(true, Some(MINUTES)).unwrap();
    assert_eq!(bench.held(), BOTH_ON);
    assert!(bench.lit(FRONT));
    let lines = [
        ("minimum_lit = \"5 s\"\nminimum_dark = \"5 s\"\n", ""),
        (
            "[[output]]\nzone = \"front\"\nchip = \"gpiochip0\"\nline = 1\n",
            "",
        ),
        (
            "[[output]]\nzone = \"far\"\nchip = \"gpiochip0\"\nline = 2\n",
            "",
        ),
        (
            "follows_input = \"porch\"\non_delay = \"2 s\"\noff_delay = \"3 s\"\nsilent_after = \"10 min\"\nif_master_silent = \"schedule\"",
            "on = \"20:00\"\noff = \"23:00\"",
        ),
    ];
    let mut bench = Bench::at(yard_with(&lines), "2027-03-01T12:00:00Z");
    let refusal = bench.force_all(true, None).unwrap_err();
    assert_eq!(refusal.why, "this board has no line for any zone");
}

#[test]
fn each_until_its_own_plan_next_switches_it() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(10.0);
    let done = bench.force_all(true, Some(Until::Next)).unwrap();
    // `far` is two seconds later.
    assert_eq!(
        done.what,
        "2 zones held on until its plan next switches each: front, far"
    );
    bench.after(8.0 * 3600.0 - 10.0);
    assert_eq!(bench.held(), [None, None, None, Some(true)]);
}

#[test]
fn what_a_hold_replaces_is_said() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(10.0);
    bench.force("far", false, Some(Until::For(86_400)));
    let note = bench.force_all(true, Some(MINUTES)).unwrap().note.unwrap();
    let said = "far was held off until 2027-03-02 12:00:10 UTC: that hold is over";
    assert!(note.ends_with(said), "{note}");
    // Longer than before replaces nothing.
    let note = bench.force_all(true, Some(Until::For(1800))).unwrap().note;
    assert!(!note.unwrap_or_default().contains("was held"));
}

#[test]
fn least_times_and_lost_lines_count_and_are_told_of() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(10.0).force("front", true, None);
    bench.board.borrow_mut().lost = Some(FAR);
    bench.after(1.0);
    let note = bench.force_all(false, Some(MINUTES)).unwrap().note.unwrap();
    assert!(
        note.contains("front: minimum on-time not over yet"),
        "{note}"
    );
    assert!(
        note.contains("far: chip gpiochip0: gone; plug it in"),
        "{note}"
    );
    assert!(bench.lit(FRONT) && !bench.after(5.0).lit(FRONT));
}

#[test]
fn all_that_are_held_are_let_go_and_the_others_are_left_alone() {
    let mut bench = Bench::at(yard(), "2027-03-01T20:30:00Z");
    bench.after(10.0);
    assert_eq!(bench.release_all().what, "no zone was held");
    bench.force("far", true, None);
    bench.engine.take_said();
    assert_eq!(bench.release_all().what, "1 zone released: far off");
    assert_eq!(bench.said("released"), 1);
    bench.force_all(false, Some(MINUTES)).unwrap();
    bench.after(10.0);
    assert_eq!(
        bench.release_all().what,
        "2 zones released: front on, far off"
    );
    assert_eq!(bench.held(), NOBODY);
    assert!(bench.after(5.0).lit(FRONT));
}

/// Whenever the power fails, all of them are held afterwards or none.
#[test]
fn what_is_kept_of_it_is_all_or_nothing() {
    for writes in 0..4 {
        let folder = Folder::new();
        let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
        bench.after(10.0);
        bench.engine.journal.store = folder.store();
        bench.engine.journal.store.left = writes;
        bench.force_all(true, Some(MINUTES)).unwrap();
        let now = bench.now;
        drop(bench);
        let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
        let wired = Wired(Rc::clone(&bench.board));
        bench.engine = Engine::new(yard(), "boot".into(), wired, (folder.store(), None), now);
        let expected = if writes == 0 { NOBODY } else { BOTH_ON };
        assert_eq!(bench.held(), expected, "{writes} writes");
    }
}
