//! Laws that hold in any yard, whatever is done to it.

use std::time::Duration;

use proptest::collection::vec;
use proptest::prelude::*;

use crate::site::{SupplyId, ZoneId};

use super::stage::{Delays, Fed, Stage, Wiring};
use super::{Failure, Input, Pace, Timeline, What, timeline};

/// One tree or several: every zone is a head, or follows an earlier one.
fn yards() -> impl Strategy<Value = Vec<Wiring>> {
    let zone = (
        any::<prop::sample::Index>(),
        0.0..1.0_f64,
        [1..40_u32, 40..80, 80..120],
        [1..100_u32, 100..300, 300..900],
        0..600_u32,
        0..50_u32,
        any::<bool>(),
    );
    vec(zone, 1..8).prop_map(|zones| {
        let s = |milliseconds: u32| f64::from(milliseconds) / 1000.0;
        let band = |[least, typical, most]: [u32; 3]| Delays {
            least_s: Some(s(least)),
            typical_s: Some(s(typical)),
            most_s: Some(s(most)),
        };
        zones
            .into_iter()
            .enumerate()
            .map(
                |(index, (master, head, pull_in, drop_out, start, hold_up, pc))| Wiring {
                    name: format!("zone-{index}"),
                    supply: SupplyId(index),
                    remote_on: pc,
                    restart_s: if pc { 0.1 } else { 0.0 },
                    stage: (index > 0 && head > 0.3).then(|| Stage {
                        master: ZoneId(master.index(index)),
                        fed: Fed::Ac,
                        pull_in: band(pull_in),
                        drop_out: band(drop_out),
                        bounce_s: 0.002,
                        start_s: s(start),
                        hold_up_s: s(hold_up),
                        holds: None,
                    }),
                    wakers: Vec::new(),
                    wakes: true,
                },
            )
            .collect()
    })
}

fn paces() -> impl Strategy<Value = Pace> {
    prop::sample::select(Pace::ALL.to_vec())
}

/// Switchings of any zone and any failure except (without `weld`) welded contacts, so close together that they
/// coincide with events that are due.
fn inputs(weld: bool) -> impl Strategy<Value = Vec<(Duration, prop::sample::Index, u8, bool)>> {
    let kinds = if weld { 0..9_u8 } else { 0..8 };
    let input = (
        0..4000_u64,
        any::<prop::sample::Index>(),
        kinds,
        any::<bool>(),
    );
    vec(input, 0..30).prop_map(|inputs| {
        inputs
            .into_iter()
            .map(|(at, zone, kind, on)| (Duration::from_millis(at), zone, kind, on))
            .collect()
    })
}

/// Fits the inputs to a yard of so many zones; most of them are switchings.
fn put(
    zones: usize,
    drawn: &[(Duration, prop::sample::Index, u8, bool)],
) -> Vec<(Duration, Input)> {
    let input = |(at, zone, kind, on): &(Duration, prop::sample::Index, u8, bool)| {
        let zone = ZoneId(zone.index(zones));
        let failure = match kind {
            0..=3 => return (*at, Input::Switch(zone, *on)),
            4 => Failure::SupplyDead(SupplyId(zone.0)),
            5 => Failure::SupplyLatched(SupplyId(zone.0)),
            6 => Failure::PairOpen(zone),
            7 => Failure::StaysOut(zone),
            _ => Failure::StaysIn(zone),
        };
        let input = if *on {
            Input::Fail(failure)
        } else {
            Input::Mend(failure)
        };
        (*at, input)
    };
    let mut inputs: Vec<_> = drawn.iter().map(input).collect();
    inputs.sort_by_key(|(at, _)| *at);
    inputs
}

/// Drops what a head cannot have: it has no pair and no relay.
fn possible(wiring: &[Wiring], inputs: Vec<(Duration, Input)>) -> Vec<(Duration, Input)> {
    let of_slave = |(_, input): &(Duration, Input)| match input {
        Input::Fail(failure) | Input::Mend(failure) => match failure {
            Failure::PairOpen(zone)
            | Failure::StaysOut(zone)
            | Failure::StaysIn(zone)
            | Failure::DirtyContact(zone, _) => wiring[zone.0].stage.is_some(),
            Failure::SupplyDead(_) | Failure::SupplyLatched(_) => true,
        },
        Input::Switch(..) => true,
    };
    inputs.into_iter().filter(of_slave).collect()
}

const END: Duration = Duration::from_secs(20);

fn lit_at(timeline: &Timeline, zone: usize, at: Duration) -> bool {
    timeline.lit[zone]
        .iter()
        .any(|stretch| stretch.from <= at && stretch.until.is_none_or(|until| at < until))
}

/// When a zone is dark: the gaps between its lit stretches.
fn dark(timeline: &Timeline, zone: usize) -> Vec<(Duration, Duration)> {
    let mut since = Duration::ZERO;
    let mut gaps = Vec::new();
    for stretch in &timeline.lit[zone] {
        gaps.push((since, stretch.from));
        since = stretch.until.unwrap_or(END);
    }
    gaps.push((since, END));
    gaps
}

proptest! {
    #![proptest_config(crate::cases::cases(512))]

    #[test]
    fn events_never_go_back_and_a_zone_goes_lit_and_dark_by_turns(
        wiring in yards(), pace in paces(), drawn in inputs(true),
    ) {
        let inputs = possible(&wiring, put(wiring.len(), &drawn));
        let course = timeline(&wiring, pace, &inputs, END);
        prop_assert!(course.events.is_sorted_by_key(|event| event.at));
        for zone in 0..wiring.len() {
            let turns: Vec<What> = course
                .events
                .iter()
                .filter(|event| event.zone.0 == zone && matches!(event.what, What::Lit | What::Dark))
                .map(|event| event.what)
                .collect();
            for (index, what) in turns.into_iter().enumerate() {
                prop_assert_eq!(what, if index % 2 == 0 { What::Lit } else { What::Dark });
            }
        }
    }

    #[test]
    fn no_zone_outlives_its_master_by_more_than_drop_out_and_hold_up(
        wiring in yards(), pace in paces(), drawn in inputs(false),
    ) {
        let inputs = possible(&wiring, put(wiring.len(), &drawn));
        let course = timeline(&wiring, pace, &inputs, END);
        for (zone, wired) in wiring.iter().enumerate() {
            let Some(stage) = wired.stage else { continue };
            let most = Duration::from_secs_f64(stage.drop_out.most_s.unwrap() + stage.hold_up_s);
            for (since, until) in dark(&course, stage.master.0) {
                let mut at = since + most;
                while at < until {
                    prop_assert!(!lit_at(&course, zone, at), "zone {zone} at {at:?}");
                    at += Duration::from_millis(1);
                }
            }
        }
    }

    #[test]
    fn the_order_of_the_file_does_not_matter(
        wiring in yards(), pace in paces(), drawn in inputs(true), keys in vec(any::<u32>(), 8),
    ) {
        let inputs = possible(&wiring, put(wiring.len(), &drawn));
        let course = timeline(&wiring, pace, &inputs, END);
        // The new place of each zone.
        let mut order: Vec<usize> = (0..wiring.len()).collect();
        order.sort_by_key(|zone| keys[*zone]);
        let place = |zone: ZoneId| ZoneId(order.iter().position(|at| *at == zone.0).unwrap());
        let shuffled: Vec<Wiring> = order
            .iter()
            .map(|zone| {
                let mut wired = wiring[*zone].clone();
                if let Some(stage) = &mut wired.stage {
                    stage.master = place(stage.master);
                }
                wired
            })
            .collect();
        let moved = |input: &Input| {
            let failure = |failure: &Failure| match failure {
                Failure::PairOpen(zone) => Failure::PairOpen(place(*zone)),
                Failure::StaysOut(zone) => Failure::StaysOut(place(*zone)),
                Failure::StaysIn(zone) => Failure::StaysIn(place(*zone)),
                Failure::DirtyContact(zone, ohm) => Failure::DirtyContact(place(*zone), *ohm),
                supply => *supply,
            };
            match input {
                Input::Switch(zone, on) => Input::Switch(place(*zone), *on),
                Input::Fail(what) => Input::Fail(failure(what)),
                Input::Mend(what) => Input::Mend(failure(what)),
            }
        };
        let inputs: Vec<_> = inputs.iter().map(|(at, input)| (*at, moved(input))).collect();
        let other = timeline(&shuffled, pace, &inputs, END);
        for (zone, lit) in course.lit.iter().enumerate() {
            prop_assert_eq!(lit, &other.lit[place(ZoneId(zone)).0]);
        }
        let named = |course: &Timeline, wiring: &[Wiring]| -> Vec<(Duration, String, What)> {
            course
                .events
                .iter()
                .map(|event| (event.at, wiring[event.zone.0].name.clone(), event.what))
                .collect()
        };
        prop_assert_eq!(named(&course, &wiring), named(&other, &shuffled));
    }
}
