//! When every zone is next switched, and to what, worked out by hand.

use super::*;
use crate::link::{Draw, judge};

impl Bench {
    /// The yard, once it is worked out what its link does.
    fn judged(site: Site, utc: &str) -> Self {
        let mut bench = Self::at(site, utc);
        let one = Draw {
            builds: std::num::NonZeroU32::MIN,
            ..Draw::default()
        };
        let links = judge(bench.engine.site(), one).unwrap();
        bench.engine.set_links(links);
        bench.after(10.0);
        bench
    }

    /// `on 01 20:00:00`: to what, on which day of the month, when.
    fn next(&self, zone: &str) -> Option<String> {
        let status = self.engine.status(self.now);
        let zone = status.zones.iter().find(|it| it.zone == zone);
        let next = zone.expect("the zone").next.as_ref()?;
        Some(format!("{} {}", next.what(), next.at.format("%d %T")))
    }

    fn all_next(&self) -> [Option<String>; 4] {
        ["front", "fence", "porch", "far"].map(|zone| self.next(zone))
    }
}

fn all(expected: [&str; 4]) -> [Option<String>; 4] {
    expected.map(|it| (!it.is_empty()).then(|| it.to_owned()))
}

#[test]
fn every_zone_is_switched_next_by_its_plan_or_with_the_zone_before_it() {
    let mut bench = Bench::judged(yard(), "2027-03-01T12:00:00Z");
    // `far` is two seconds later than its input, `fence` as much later as its relay and its supply take.
    let by_plan = [
        "on 01 20:00:00",
        "on 01 20:00:00",
        "on 01 20:00:00",
        "on 01 20:00:02",
    ];
    assert_eq!(bench.all_next(), all(by_plan));
    bench.after(8.0 * 3600.0);
    let by_plan = [
        "off 01 23:00:00",
        "off 01 23:00:00",
        "off 01 23:00:00",
        "off 01 23:00:03",
    ];
    assert_eq!(bench.all_next(), all(by_plan));
    bench.after(3.0 * 3600.0);
    let by_plan = [
        "on 02 20:00:00",
        "on 02 20:00:00",
        "on 02 20:00:00",
        "on 02 20:00:02",
    ];
    assert_eq!(bench.all_next(), all(by_plan));
    let next = bench.engine.status(bench.now).next.expect("a switching");
    assert_eq!((&*next.zone, next.lit), ("front", true), "masters first");
}

#[test]
fn while_a_zone_is_held_it_is_what_the_plan_does_when_the_hold_ends() {
    for (lit, until, expected) in [
        // Its plan is dark then, or lit then already, or goes on at that instant.
        (true, "18:00", "off 01 18:00:00"),
        (true, "21:00", "off 01 23:00:00"),
        (true, "20:00", "off 01 23:00:00"),
        (true, "23:30", "off 01 23:30:00"),
        (false, "18:00", "on 01 20:00:00"),
        (false, "21:00", "on 01 21:00:00"),
        (false, "23:30", "on 02 20:00:00"),
    ] {
        let mut bench = Bench::judged(yard(), "2027-03-01T12:00:00Z");
        bench.force("front", lit, Some(Until::Clock(until.into())));
        assert_eq!(bench.next("front").as_deref(), Some(expected), "{until}");
        // Its slave goes with it, and the headline tells of the first of all.
        assert_eq!(bench.next("fence").as_deref(), Some(expected), "{until}");
        assert_eq!(bench.next("far").as_deref(), Some("on 01 20:00:02"));
    }
    let mut bench = Bench::judged(yard(), "2027-03-01T12:00:00Z");
    bench.force("far", true, Some(Until::For(7 * 86_400)));
    assert_eq!(bench.next("far"), None, "later than any plan");
    bench.force("front", true, Some(Until::For(3600)));
    let next = bench.engine.status(bench.now).next.expect("the hold's end");
    assert_eq!((&*next.zone, next.lit), ("front", false));
    assert_eq!(next.local, "2027-03-01 13:00:10 UTC");
}

#[test]
fn a_curfew_and_a_line_of_its_own_bind_a_zone_that_follows() {
    let site = yard_with(&[(
        "off_delay = \"3 s\"",
        "off_delay = \"3 s\"\ncurfew = \"22:00\"",
    )]);
    let mut bench = Bench::judged(site, "2027-03-01T20:30:00Z");
    assert_eq!(bench.next("far").as_deref(), Some("off 01 22:00:00"));
    bench.force("far", true, Some(Until::Clock("22:30".into())));
    assert_eq!(bench.next("far").as_deref(), Some("off 01 22:30:00"));
    bench.after(3.0 * 3600.0);
    assert_eq!(bench.next("far").as_deref(), Some("on 02 20:00:02"));
}

#[test]
fn what_nobody_knows_is_not_said() {
    // Until it is worked out what the link does.
    let bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    assert_eq!(bench.next("fence"), None);
    // A clock in doubt switches nothing but the end of a hold.
    let mut bench = Bench::judged(yard(), "2027-03-01T12:00:00Z");
    bench.now.quality = ClockQuality::Doubtful;
    bench.after(1.0);
    assert_eq!(bench.all_next(), all([""; 4]));
    assert_eq!(bench.engine.status(bench.now).next, None);
    bench.force("front", true, Some(Until::For(3600)));
    assert_eq!(bench.next("front").as_deref(), Some("off 01 13:00:11"));
    assert_eq!(bench.next("fence").as_deref(), Some("off 01 13:00:11"));
}

#[test]
fn a_zone_that_is_so_already_is_not_said_to_become_so() {
    let mut bench = Bench::judged(yard(), "2027-03-01T20:30:00Z");
    let said = |bench: &Bench| {
        let status = bench.engine.status(bench.now);
        let fence = status.zones.iter().find(|zone| zone.zone == "fence");
        fence?.next_change().map(|next| next.lit)
    };
    bench.sense(FENCE, true);
    assert_eq!(said(&bench), Some(false));
    bench.sense(FENCE, false);
    assert_eq!(said(&bench), None, "dark by a fault");
}
