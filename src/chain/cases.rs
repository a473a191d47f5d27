//! Dips, stars, heads, failures: small yards, each worked out by hand.

use std::time::Duration;

use crate::site::{SupplyId, ZoneId};

use super::stage::{Delays, Fed, Stage, Wiring};
use super::{Doubt, Failure, Input, Pace, Timeline, What, Yard, timeline};

/// The relay closes after 10 ms (5 to 20), opens after 200 ms (100 to 400) and bounces for 2 ms; the supply is
/// up after 300 ms and stays up for 16 ms.
const STAGE: Stage = Stage {
    master: ZoneId(0),
    fed: Fed::Ac,
    pull_in: Delays {
        least_s: Some(0.005),
        typical_s: Some(0.010),
        most_s: Some(0.020),
    },
    drop_out: Delays {
        least_s: Some(0.1),
        typical_s: Some(0.2),
        most_s: Some(0.4),
    },
    bounce_s: 0.002,
    start_s: 0.3,
    hold_up_s: 0.016,
    holds: None,
};

const fn ms(milliseconds: u64) -> Duration {
    Duration::from_millis(milliseconds)
}

/// A yard of these zones, each with the master given and a desktop-PC supply of its own.
fn yard(masters: &[Option<usize>]) -> Vec<Wiring> {
    masters
        .iter()
        .enumerate()
        .map(|(index, master)| Wiring {
            name: format!("zone-{index}"),
            supply: SupplyId(index),
            remote_on: true,
            restart_s: 0.1,
            stage: master.map(|master| Stage {
                master: ZoneId(master),
                ..STAGE
            }),
            wakers: Vec::new(),
            wakes: true,
        })
        .collect()
}

fn on(zone: usize) -> Input {
    Input::Switch(ZoneId(zone), true)
}

fn off(zone: usize) -> Input {
    Input::Switch(ZoneId(zone), false)
}

fn run(wiring: &[Wiring], inputs: &[(u64, Input)]) -> Timeline {
    let inputs: Vec<_> = inputs.iter().map(|(at, input)| (ms(*at), *input)).collect();
    timeline(wiring, Pace::Typical, &inputs, ms(60_000))
}

/// When a zone is lit [ms]; the end is `u128::MAX` if it is still lit.
fn lit(timeline: &Timeline, zone: usize) -> Vec<(u128, u128)> {
    timeline.lit[zone]
        .iter()
        .map(|stretch| {
            let until = stretch.until.map_or(u128::MAX, |until| until.as_millis());
            (stretch.from.as_millis(), until)
        })
        .collect()
}

fn happens(timeline: &Timeline, zone: usize, what: What) -> Vec<u128> {
    timeline
        .events
        .iter()
        .filter(|event| event.zone.0 == zone && event.what == what)
        .map(|event| event.at.as_millis())
        .collect()
}

const EVER: u128 = u128::MAX;

#[test]
fn everything_happens_in_its_order() {
    let course = run(&yard(&[None, Some(0)]), &[(0, on(0)), (1000, off(0))]);
    let said: Vec<_> = course
        .events
        .iter()
        .map(|event| (event.at.as_millis(), event.zone.0, event.what))
        .collect();
    assert_eq!(
        said,
        [
            (0, 0, What::SwitchedOn),
            (0, 0, What::Lit),
            (0, 1, What::PairLive),
            (10, 1, What::RelayCloses),
            (12, 1, What::BounceOver),
            (12, 1, What::AskedOn),
            (312, 1, What::Lit),
            (1000, 0, What::SwitchedOff),
            (1000, 0, What::Dark),
            (1000, 1, What::PairDead),
            (1200, 1, What::RelayOpens),
            (1200, 1, What::AskedOff),
            (1216, 1, What::Dark),
        ]
    );
}

#[test]
fn a_dip_that_the_capacitor_carries_is_not_noticed() {
    for (dip, expected) in [
        (20, vec![(312, EVER)]),
        (199, vec![(312, EVER)]),
        // Opens at 1200 and is at rest again 12 ms after the end of the dip: within the supply's hold-up, which
        // ends at 1216, or just after it.
        (203, vec![(312, EVER)]),
        (205, vec![(312, 1216), (1517, EVER)]),
        (500, vec![(312, 1216), (1812, EVER)]),
    ] {
        let inputs = [(0, on(0)), (1000, off(0)), (1000 + dip, on(0))];
        let course = run(&yard(&[None, Some(0)]), &inputs);
        assert_eq!(lit(&course, 1), expected, "{dip} ms");
        let ridden = happens(&course, 1, What::RodeThrough).len();
        assert_eq!(ridden, usize::from(dip < 200), "{dip} ms");
    }
}

#[test]
fn a_master_on_for_less_than_the_pull_in_time_moves_nothing() {
    let course = run(&yard(&[None, Some(0)]), &[(0, on(0)), (9, off(0))]);
    assert_eq!(happens(&course, 1, What::RelayCloses), [0; 0]);
    // Closed at 10 ms, released 200 ms after the pair: the supply is not up by then.
    let course = run(&yard(&[None, Some(0)]), &[(0, on(0)), (11, off(0))]);
    assert_eq!(happens(&course, 1, What::AskedOff), [211]);
    assert_eq!(lit(&course, 1), []);
}

/// Open from 1200 ms; closed and at rest 12 ms after the end of the dip.
#[test]
fn a_supply_let_go_for_less_than_100_ms_is_not_sure_to_start_again() {
    for (dip, open_ms, unsure) in [(250, 62, true), (287, 99, true), (288, 100, false)] {
        let inputs = [(0, on(0)), (1000, off(0)), (1000 + dip, on(0))];
        let course = run(&yard(&[None, Some(0)]), &inputs);
        let [first, again] = happens(&course, 1, What::AskedOn)[..] else {
            panic!("asked on twice")
        };
        assert_eq!((first, again), (12, 1200 + open_ms));
        let said = happens(&course, 1, What::Unsure(Doubt::ShortOff));
        assert_eq!(said.len(), usize::from(unsure), "{dip} ms");
    }
}

#[test]
fn a_supply_that_is_asked_on_again_within_its_hold_up_does_not_go_dark() {
    let inputs = [(0, on(0)), (1000, off(0)), (1203, on(0))];
    let course = run(&yard(&[None, Some(0)]), &inputs);
    // Released at 1200, asked on at 1215; hold-up would end at 1216.
    assert_eq!(lit(&course, 1), [(312, EVER)]);
    assert_eq!(happens(&course, 1, What::Unsure(Doubt::ShortOff)), [1215]);
}

#[test]
fn delays_add_along_a_chain_and_not_over_a_star() {
    let inputs = [(0, on(0)), (5000, off(0))];
    let chain = run(&yard(&[None, Some(0), Some(1)]), &inputs);
    assert_eq!(lit(&chain, 2), [(624, 5432)]);
    let star = run(&yard(&[None, Some(0), Some(0)]), &inputs);
    assert_eq!(lit(&star, 1), [(312, 5216)]);
    assert_eq!(lit(&star, 2), [(312, 5216)]);
}

#[test]
fn two_heads_do_not_know_of_each_other() {
    let course = run(
        &yard(&[None, None, Some(0), Some(1)]),
        &[(0, on(0)), (500, on(1)), (1000, off(0)), (2000, off(1))],
    );
    assert_eq!(lit(&course, 2), [(312, 1216)]);
    assert_eq!(lit(&course, 3), [(812, 2216)]);
}

#[test]
fn what_fails_darkens_what_hangs_on_it() {
    let wiring = yard(&[None, Some(0), Some(1), Some(0)]);
    let lit_after = |failure| {
        let inputs = [(0, on(0)), (5000, Input::Fail(failure))];
        let course = run(&wiring, &inputs);
        (0..4)
            .filter(|zone| lit(&course, *zone).iter().any(|(_, until)| *until == EVER))
            .collect::<Vec<_>>()
    };
    for (failure, expected) in [
        (Failure::SupplyDead(SupplyId(0)), vec![]),
        (Failure::SupplyDead(SupplyId(1)), vec![0, 3]),
        (Failure::SupplyLatched(SupplyId(1)), vec![0, 3]),
        (Failure::PairOpen(ZoneId(1)), vec![0, 3]),
        (Failure::StaysOut(ZoneId(2)), vec![0, 1, 3]),
        (Failure::StaysIn(ZoneId(1)), vec![0, 1, 2, 3]),
        (Failure::DirtyContact(ZoneId(2), 400.0), vec![0, 1, 2, 3]),
        (Failure::DirtyContact(ZoneId(2), 2000.0), vec![0, 1, 3]),
    ] {
        assert_eq!(lit_after(failure), expected, "{failure:?}");
    }
}

#[test]
fn a_welded_contact_keeps_its_zone_and_those_behind_it_lit() {
    let inputs = [
        (0, on(0)),
        (5000, Input::Fail(Failure::StaysIn(ZoneId(1)))),
        (6000, off(0)),
    ];
    let course = run(&yard(&[None, Some(0), Some(1), Some(0)]), &inputs);
    assert_eq!(lit(&course, 0), [(0, 6000)]);
    assert_eq!(lit(&course, 1), [(312, EVER)]);
    assert_eq!(lit(&course, 2), [(624, EVER)]);
    assert_eq!(lit(&course, 3), [(312, 6216)]);
}

#[test]
fn what_is_mended_comes_back() {
    for (failure, back) in [
        // The supply starts again by itself.
        (Failure::SupplyDead(SupplyId(1)), 6300),
        // The relay pulls in again.
        (Failure::PairOpen(ZoneId(1)), 6312),
        (Failure::StaysOut(ZoneId(1)), 6312),
    ] {
        let inputs = [
            (0, on(0)),
            (5000, Input::Fail(failure)),
            (6000, Input::Mend(failure)),
        ];
        let course = run(&yard(&[None, Some(0)]), &inputs);
        let stretches = lit(&course, 1);
        assert_eq!(stretches.last(), Some(&(back, EVER)), "{failure:?}");
    }
}

/// The output drops at once, without hold-up; the contact stays closed.
#[test]
fn a_supply_that_latched_off_starts_again_once_it_is_let_go_for_long_enough() {
    let latch = Input::Fail(Failure::SupplyLatched(SupplyId(1)));
    let wiring = yard(&[None, Some(0)]);
    // Released at 6200; closed again 12 ms after the head, so 62 ms, then 312 ms later.
    for (on_again, expected) in [
        (6250, vec![(312, 5000)]),
        (6500, vec![(312, 5000), (6812, EVER)]),
    ] {
        let inputs = [(0, on(0)), (5000, latch), (6000, off(0)), (on_again, on(0))];
        assert_eq!(lit(&run(&wiring, &inputs), 1), expected, "{on_again}");
    }
    // Or its mains was away.
    let dead = Failure::SupplyDead(SupplyId(1));
    let inputs = [
        (0, on(0)),
        (5000, latch),
        (6000, Input::Fail(dead)),
        (7000, Input::Mend(dead)),
    ];
    assert_eq!(lit(&run(&wiring, &inputs), 1), [(312, 5000), (7300, EVER)]);
}

#[test]
fn a_line_between_its_levels_is_nobodys_promise() {
    let dirty = Input::Fail(Failure::DirtyContact(ZoneId(1), 800.0));
    let course = run(&yard(&[None, Some(0)]), &[(0, dirty), (10, on(0))]);
    assert_eq!(lit(&course, 1), []);
    assert_eq!(
        happens(&course, 1, What::Unsure(Doubt::BetweenLevels)),
        [22]
    );
    // The enable input of another kind of supply need not keep to these levels.
    let mut other = yard(&[None, Some(0)]);
    other[1].remote_on = false;
    let course = run(&other, &[(0, dirty), (10, on(0))]);
    assert_eq!(lit(&course, 1), [(322, EVER)]);
}

/// The supply of the first zone also feeds the last zone of the chain, whose contact keeps its own pair live.
#[test]
fn a_slave_on_its_own_masters_supply_holds_itself_and_all_between_on() {
    let mut wiring = yard(&[None, Some(0), Some(1)]);
    wiring[2].supply = SupplyId(0);
    wiring[2].stage.as_mut().unwrap().holds = Some(ZoneId(0));
    let course = run(&wiring, &[(0, on(0)), (5000, off(0))]);
    for (zone, since) in [(0, 0), (1, 312), (2, 624)] {
        assert_eq!(lit(&course, zone), [(since, EVER)]);
    }
    assert_eq!(happens(&course, 0, What::HeldOn), [5000]);
    // Switched off before the last contact has closed, the chain does not hold itself.
    let course = run(&wiring, &[(0, on(0)), (100, off(0))]);
    assert!((0..3).all(|zone| lit(&course, zone).iter().all(|(_, until)| *until < EVER)));
}

#[test]
fn a_board_in_line_with_the_contact_cuts_the_slave_and_nothing_above() {
    let inputs = [(0, on(0)), (5000, off(1)), (6000, on(1))];
    let course = run(&yard(&[None, Some(0), Some(1)]), &inputs);
    assert_eq!(lit(&course, 0), [(0, EVER)]);
    assert_eq!(lit(&course, 1), [(312, 5016), (6300, EVER)]);
    assert_eq!(lit(&course, 2), [(624, 5232), (6612, EVER)]);
}

#[test]
fn a_relay_that_never_closes_or_opens_says_so_by_staying() {
    let never = Delays {
        least_s: None,
        typical_s: None,
        most_s: None,
    };
    let mut wiring = yard(&[None, Some(0), Some(0)]);
    wiring[1].stage.as_mut().unwrap().pull_in = never;
    wiring[2].stage.as_mut().unwrap().drop_out = never;
    let course = run(&wiring, &[(0, on(0)), (5000, off(0))]);
    assert_eq!(lit(&course, 1), []);
    assert_eq!(lit(&course, 2), [(312, EVER)]);
}

/// A yard advanced step by step does the same as in one go, and tells when its next event is due.
#[test]
fn a_yard_can_be_moved_on_bit_by_bit() {
    let wiring = yard(&[None, Some(0)]);
    let mut yard = Yard::new(&wiring, Pace::Typical);
    assert_eq!(yard.next_event_at(), None);
    yard.switch(ZoneId(0), true, ms(0));
    assert!(yard.lit(ZoneId(0)) && !yard.lit(ZoneId(1)));
    let mut asked = Vec::new();
    while let Some(at) = yard.next_event_at() {
        asked.push(at.as_millis());
        yard.advance_to(at);
    }
    assert_eq!(asked, [10, 12, 312]);
    assert!(yard.lit(ZoneId(1)));
    assert_eq!(yard.doubt(ZoneId(1)), None);
    assert_eq!(yard.take_events().len(), 7);
    assert_eq!(yard.take_events(), []);
}

/// Four zones in a chain, as the trade reckons: relay 15 ms, power-on up to 500 ms, rise up to 20 ms per stage
/// (ATX12V design guides), "about 0.55 s per zone; chain of four about 1.7 s on, 0.13 to 0.25 s per stage off".
/// By hand: 3 × (0.015 + 0.002 + 0.520) = 1.611 s; off, with hold-up of 16 ms, 3 × (0.25 + 0.016) = 0.798 s.
#[test]
fn a_chain_of_four_takes_at_most_as_long_as_the_trade_says() {
    let mut wiring = yard(&[None, Some(0), Some(1), Some(2)]);
    for stage in wiring.iter_mut().filter_map(|wired| wired.stage.as_mut()) {
        stage.pull_in = Delays::fixed(0.015);
        stage.drop_out = Delays::fixed(0.25);
        stage.start_s = 0.5 + 0.02;
        stage.hold_up_s = 0.016;
    }
    let inputs = [(ms(0), on(0)), (ms(10_000), off(0))];
    let course = timeline(&wiring, Pace::Slowest, &inputs, ms(20_000));
    assert_eq!(lit(&course, 3), [(1611, 10_798)]);
    assert!(lit(&course, 3)[0].0 < 1700);
}
