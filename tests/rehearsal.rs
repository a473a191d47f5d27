//! The rehearsal: the result of each fault, worked out by hand.

use chrono::NaiveDate;

use pilotwire::chain::Pace;
use pilotwire::rehearsal::{
    Ask, Chip, Fault, Links, Rehearsed, Script, Seen, Ticks, campaign, rehearse, yards,
};
use pilotwire::site::Site;

use crate::support::read::time_zones;

fn site(name: &str) -> Site {
    let zones = time_zones();
    yards::yard(name, &|zone| zones.open(zone)).expect("a built-in yard")
}

struct Case<'a> {
    site: &'a Site,
    from: NaiveDate,
    nights: u32,
    faults: &'a [&'a str],
    asks: &'a [&'a str],
    chip: Chip,
    seed: u64,
}

fn date(text: &str) -> NaiveDate {
    text.parse().expect("a date")
}

impl<'a> Case<'a> {
    fn new(site: &'a Site) -> Self {
        Self {
            site,
            from: date("2027-03-26"),
            nights: 3,
            faults: &[],
            asks: &[],
            chip: Chip::LetsGo,
            seed: 1,
        }
    }

    fn run(&self) -> Rehearsed {
        let faults: Vec<_> = self
            .faults
            .iter()
            .map(|text| Fault::parse(text, self.site, self.from).expect("a fault"))
            .collect();
        let asks = self
            .asks
            .iter()
            .map(|text| Ask::parse(text, self.site, self.from).expect("a request"))
            .collect();
        let links = Links::judge(self.site, campaign::DRAW, &faults).expect("judged");
        let script = Script {
            site: self.site,
            links: &links,
            from: self.from,
            nights: self.nights,
            faults,
            asks,
            pace: Pace::Typical,
            chip: self.chip,
            ticks: Ticks::All,
            seed: self.seed,
            watch: true,
            most_findings: 20,
        };
        rehearse(&script).expect("a folder for the store")
    }
}

#[test]
fn without_a_fault_every_built_in_yard_is_as_wanted() {
    for (name, _) in yards::NAMES {
        let site = site(name);
        let rehearsed = Case::new(&site).run();
        assert_eq!(rehearsed.findings, [], "{name}: {:#?}", rehearsed.seen);
    }
}

/// The times at which the lamps of a zone go on and off, by the yard's clocks: `26 19:46:59 on`.
fn lamps(site: &Site, rehearsed: &Rehearsed, name: &str) -> Vec<String> {
    let lamps = |seen: &&Seen| seen.who == Seen::YARD && site[seen.zone.unwrap()].name == name;
    rehearsed
        .seen
        .iter()
        .filter(lamps)
        .map(|seen| {
            let on = if seen.what == "lights up" {
                "on"
            } else {
                "off"
            };
            let local = site.timezone.to_local(seen.at);
            format!("{} {on}", local.format("%d %H:%M:%S"))
        })
        .collect()
}

/// When the service first says this about a zone, if it does.
fn says(site: &Site, rehearsed: &Rehearsed, what: &str) -> Option<String> {
    let seen = rehearsed
        .seen
        .iter()
        .find(|seen| seen.who == Seen::SERVICE && seen.what.starts_with(what))?;
    let local = site.timezone.to_local(seen.at);
    Some(local.format("%d %H:%M:%S").to_string())
}

/// On 2027-03-26 civil dusk at Hazel Bank is 19:46:59, on the 27th 19:48:14; the walk goes off at 23:15. A
/// board needs 30 s from power to service, a crashed service restarts after 1 s, and a line stays dark for at
/// least 1 s.
#[test]
fn every_fault_of_the_board_does_to_the_walk_what_it_must() {
    let site = site("pair");
    let on_time = ["26 19:46:59 on", "26 23:15:00 off"];
    let split = |off: &str, on: &str| -> Vec<String> {
        vec![
            "26 19:46:59 on".into(),
            format!("26 {off} off"),
            format!("26 {on} on"),
            "26 23:15:00 off".into(),
        ]
    };
    let whole = || on_time.map(str::to_owned).to_vec();
    let off_10m = "force walk off 10m at day 1 21:00";
    for (faults, asks, expected) in [
        (
            &["spurious-wakes at day 1 19:40 for 1h"][..],
            &[][..],
            whole(),
        ),
        // The tick of 19:47:00 repairs it; the service was started at 12:00:00.
        (
            &["missed-wakes at day 1 19:40 for 1h"],
            &[],
            vec!["26 19:47:00 on".into(), "26 23:15:00 off".into()],
        ),
        (
            &["power-cut board at day 1 21:00 for 40s"],
            &[],
            split("21:00:00", "21:01:11"),
        ),
        // Only the supply of the walk fails: its line stays on.
        (
            &["power-cut master at day 1 21:00 for 40s"],
            &[],
            split("21:00:00", "21:00:40"),
        ),
        (
            &["power-cut all at day 1 21:00 for 40s"],
            &[],
            split("21:00:00", "21:01:11"),
        ),
        // WatchdogSec is 3 min.
        (&["hang at day 1 21:00"], &[], split("21:03:00", "21:03:02")),
        (
            &["line-lost walk at day 1 21:00 for 10m"],
            &[],
            split("21:00:00", "21:10:00"),
        ),
        // The clock shows 00:00: the plan has the walk dark.
        (
            &["clock-step +4h at day 1 20:00 for 10m"],
            &[],
            split("20:00:00", "20:10:00"),
        ),
        // 21:01:00 power, 21:01:30 service, 21:06:30 the network: dark till then.
        (
            &[
                "no-battery-clock saved at day 1 13:00 for 5m",
                "power-cut board at day 1 21:00 for 1m",
            ],
            &[],
            split("21:00:00", "21:06:30"),
        ),
        (
            &[
                "no-battery-clock 1970 at day 1 13:00 for 5m",
                "power-cut board at day 1 21:00 for 1m",
            ],
            &[],
            split("21:00:00", "21:06:30"),
        ),
        (&[], &[off_10m], split("21:00:00", "21:10:00")),
        // A hold keeps its full time, whatever the clock does.
        (
            &["clock-step -1h at day 1 21:05 for 2m"],
            &[off_10m],
            split("21:00:00", "21:10:00"),
        ),
        (
            &["clock-step -56y at day 1 21:05 for 2m"],
            &[off_10m],
            split("21:00:00", "21:10:00"),
        ),
        // An acknowledged hold survives.
        (
            &["power-cut board at day 1 21:02 for 40s"],
            &[off_10m],
            split("21:00:00", "21:10:00"),
        ),
        // The service dies before the hold is on the disk: it was not acknowledged.
        (
            &["crash 1 at day 1 20:59:59"],
            &[off_10m],
            split("21:00:00", "21:00:02"),
        ),
        // The service dies just after: the hold was not acknowledged, but it is kept.
        (
            &["crash 1 after at day 1 20:59:59"],
            &[off_10m],
            split("21:00:00", "21:10:00"),
        ),
        // A full disk stops nothing.
        (
            &["disk-full at day 1 20:59 for 1h"],
            &[off_10m],
            split("21:00:00", "21:10:00"),
        ),
    ] {
        for chip in [Chip::LetsGo, Chip::Keeps] {
            let rehearsed = Case {
                faults,
                asks,
                chip,
                nights: 1,
                ..Case::new(&site)
            }
            .run();
            assert_eq!(
                lamps(&site, &rehearsed, "walk"),
                expected,
                "{faults:?} {asks:?}"
            );
            assert_eq!(rehearsed.findings, [], "{faults:?} {asks:?}");
        }
    }
}

#[test]
fn all_zones_are_held_and_let_go_as_one_is() {
    let site = site("pair");
    let all_off = "force --all off 10m at day 1 21:00";
    for (faults, asks, off, on) in [
        (&[][..], &[all_off][..], "21:00:00", "21:10:00"),
        // The hold is on the disk before it is acknowledged.
        (
            &["crash 1 after at day 1 20:59:59"],
            &[all_off],
            "21:00:00",
            "21:10:00",
        ),
        (
            &[],
            &[all_off, "release --all at day 1 21:05"],
            "21:00:00",
            "21:05:00",
        ),
    ] {
        let case = Case {
            faults,
            asks,
            nights: 1,
            ..Case::new(&site)
        };
        let rehearsed = case.run();
        let lamps = lamps(&site, &rehearsed, "walk");
        let expected = [format!("26 {off} off"), format!("26 {on} on")];
        assert_eq!(lamps[1..3], expected, "{faults:?} {asks:?}");
        assert_eq!(rehearsed.findings, [], "{faults:?} {asks:?}");
    }
}

#[test]
fn what_breaks_in_the_yard_is_noticed_and_said() {
    let site = site("pair");
    for (fault, said, at) in [
        (
            "open-wire orchard at day 1 21:00 for 1h",
            "does not follow",
            "26 21:00:11",
        ),
        (
            "bad-splice orchard 1000ohm at day 1 13:00",
            "does not follow",
            "26 19:47:1",
        ),
        (
            "stuck-input orchard dark at day 1 21:00 for 1h",
            "does not follow",
            "26 21:00:11",
        ),
        (
            "power-cut slave at day 1 21:00 for 1h",
            "does not follow",
            "26 21:00:11",
        ),
        (
            "supply-latched-off shed at day 1 21:00",
            "does not follow",
            "26 21:00:11",
        ),
        (
            "welded-contact orchard at day 1 21:00",
            "does not release",
            "26 23:15:1",
        ),
        (
            "stuck-input orchard lit at day 1 21:00",
            "does not release",
            "26 23:15:1",
        ),
        (
            "stuck-input orchard lit at day 1 13:00 for 1h",
            "lit by day",
            "26 13:00:1",
        ),
    ] {
        let rehearsed = Case {
            faults: &[fault],
            nights: 1,
            ..Case::new(&site)
        }
        .run();
        let when = says(&site, &rehearsed, &format!("orchard: {said}"));
        let when = when.unwrap_or_else(|| panic!("{fault}: {:#?}", rehearsed.seen));
        assert!(when.starts_with(at), "{fault}: {when}");
        assert_eq!(rehearsed.findings, [], "{fault}");
    }
}

/// A supply that latched off starts again on the next evening; a welded contact keeps it on.
#[test]
fn a_latched_supply_is_dark_to_the_next_evening_and_a_welded_contact_lit() {
    let site = site("pair");
    let run = |fault: &'static str| {
        let rehearsed = Case {
            faults: &[fault],
            nights: 2,
            ..Case::new(&site)
        }
        .run();
        lamps(&site, &rehearsed, "orchard")
    };
    let latched = run("supply-latched-off shed at day 1 21:00");
    assert_eq!(latched.len(), 4, "{latched:?}");
    assert_eq!(latched[1], "26 21:00:00 off");
    assert!(latched[2].starts_with("27 19:48:1"), "{latched:?}");
    let welded = run("welded-contact orchard at day 1 21:00");
    assert_eq!(welded.len(), 1, "{welded:?}");
}

#[test]
fn after_a_torn_write_the_service_goes_on_with_what_it_had() {
    let site = site("pair");
    for seed in 0..20 {
        let rehearsed = Case {
            faults: &["torn-write at day 1 20:59:59 for 1m"],
            asks: &[
                "force walk off 3h at day 1 20:30",
                "force walk off 10m at day 1 21:00",
            ],
            nights: 1,
            seed,
            ..Case::new(&site)
        }
        .run();
        assert_eq!(rehearsed.findings, [], "{seed}");
        assert!(
            rehearsed
                .seen
                .iter()
                .any(|seen| seen.what.contains("in the middle of a write")),
            "{:#?}",
            rehearsed.seen
        );
        // Held by the first request or by the second: dark at least until then.
        let lamps = lamps(&site, &rehearsed, "walk");
        assert_eq!(lamps[..2], ["26 19:46:59 on", "26 20:30:00 off"], "{seed}");
        assert!(
            lamps.len() == 2 || lamps[2] == "26 21:10:00 on",
            "{lamps:?}"
        );
    }
}

/// Found by a rehearsal: a hold until a time of day was cut short by a clock step that was later reversed.
#[test]
fn a_hold_to_a_time_of_day_survives_a_step_that_is_taken_back() {
    let site = site("pair");
    let rehearsed = Case {
        faults: &["clock-step -8m49s at day 1 20:30 for 2m"],
        asks: &["force walk off until 22:55 at day 1 20:00"],
        nights: 1,
        ..Case::new(&site)
    }
    .run();
    let expected = [
        "26 19:46:59 on",
        "26 20:00:00 off",
        "26 22:55:00 on",
        "26 23:15:00 off",
    ];
    assert_eq!(lamps(&site, &rehearsed, "walk"), expected);
}

/// Found by a rehearsal: when the service started, it had not yet compared the clock with the newest time on
/// record, and a battery clock that showed the past took over the holds.
#[test]
fn a_hold_is_not_taken_over_by_a_clock_that_shows_the_past() {
    let site = site("pair");
    let rehearsed = Case {
        faults: &[
            "power-cut board at day 1 23:16 for 1m",
            "clock-step -1h at day 1 23:16:30",
        ],
        asks: &["force walk on 1h at day 1 23:00"],
        nights: 1,
        ..Case::new(&site)
    }
    .run();
    // Power at 23:17:00, service at 23:17:30, the network sets the clock at 23:18:30.
    let expected = [
        "26 19:46:59 on",
        "26 23:16:00 off",
        "26 23:18:30 on",
        "27 00:00:00 off",
    ];
    assert_eq!(lamps(&site, &rehearsed, "walk"), expected);
    assert_eq!(rehearsed.findings, []);
}

/// Found by a rehearsal: zones that go on one after another waited for one that could not.
#[test]
fn nobody_waits_for_a_line_that_is_lost() {
    let site = site("two-heads");
    let rehearsed = Case {
        faults: &["line-lost walk at day 1 19:30 for 3h"],
        nights: 1,
        ..Case::new(&site)
    }
    .run();
    assert_eq!(lamps(&site, &rehearsed, "orchard")[0], "26 19:46:59 on");
    assert_eq!(rehearsed.findings, []);
}

/// Found by a rehearsal: a line that dropped out for a moment stayed dark for a minute.
#[test]
fn a_line_that_fell_dark_is_driven_again_at_once() {
    let site = site("two-heads");
    let rehearsed = Case {
        faults: &["line-lost orchard at day 1 20:59:30 for 1s"],
        nights: 1,
        ..Case::new(&site)
    }
    .run();
    // The tick of 21:00:00 notices it; then dark for the minimum off-time.
    assert_eq!(lamps(&site, &rehearsed, "orchard")[2], "26 21:00:01 on");
}

fn yards() -> Vec<campaign::Yard> {
    yards::NAMES
        .iter()
        .map(|(name, _)| campaign::Yard::new(format!("--yard {name}"), site(name)).expect("judged"))
        .collect()
}

#[test]
fn a_short_campaign_finds_nothing() {
    let mut yards = yards();
    let outcome = campaign::campaign(&mut yards, 20, 7, 0, |_| {}).expect("a folder");
    if let Some((case, rehearsed)) = &outcome.wrong {
        panic!(
            "{}\n{:#?}",
            case.command(&yards[case.yard]),
            rehearsed.findings
        );
    }
    assert_eq!(outcome.nights, 400);
    assert!(outcome.faults > 30, "{}", outcome.faults);
}

#[test]
fn what_is_drawn_is_written_so_that_it_reads_back_the_same() {
    let mut yards = yards();
    for number in 0..300 {
        let case = campaign::draw(&mut yards, 3, number);
        let again = campaign::draw(&mut yards, 3, number);
        assert_eq!(case, again);
        let site = &yards[case.yard].site;
        for fault in &case.faults {
            let text = fault.say(site);
            assert_eq!(Fault::parse(&text, site, case.from), Ok(*fault), "{text}");
        }
        for ask in &case.asks {
            let text = ask.say(site);
            assert_eq!(
                Ask::parse(&text, site, case.from).as_ref(),
                Ok(ask),
                "{text}"
            );
        }
    }
}

#[test]
fn bad_words_are_answered_with_better_ones() {
    let site = site("pair");
    for (words, answer) in [
        ("clok-step +1h at day 1 20:00", "did you mean clock-step?"),
        ("thunder at day 1 20:00", "the faults are clock-step,"),
        ("hang", "does not say when"),
        ("hang at noon", "is no instant; write it as"),
        ("hang at day 0 20:00", "days are counted from 1"),
        ("hang now at day 1 20:00", "one word too many"),
        ("clock-step 1h at day 1 20:00", "which way: +1h or -30s"),
        ("clock-step +1x at day 1 20:00", "is no span of time"),
        (
            "power-cut attic at day 1 20:00",
            "the supplies are house, shed",
        ),
        (
            "open-wire fence at day 1 20:00",
            "the zones are walk, orchard",
        ),
        (
            "open-wire walk at day 1 20:00",
            "neither a pair nor an input",
        ),
        (
            "bad-splice orchard at day 1 20:00",
            "write the zone, then how many ohms",
        ),
        ("bad-splice orchard 5 at day 1 20:00", "write 200ohm"),
        (
            "bad-splice walk 5ohm at day 1 20:00",
            "follows nobody over a link",
        ),
        ("dried-capacitor orchard 0% at day 1 20:00", "write 30%"),
        ("stuck-input walk lit at day 1 20:00", "walk has no input"),
        (
            "stuck-input orchard on at day 1 20:00",
            "neither lit nor dark",
        ),
        ("line-lost orchard at day 1 20:00", "orchard has no output"),
        ("crash 0 at day 1 20:00", "from 1 to 1000"),
        (
            "no-battery-clock 1971 at day 1 20:00",
            "write saved or 1970",
        ),
    ] {
        let why = Fault::parse(words, &site, date("2027-03-26")).expect_err(words);
        assert!(why.contains(answer), "{words}: {why}");
    }
    for words in [
        "force walk at day 1 20:00",
        "dance at day 1 20:00",
        "status",
    ] {
        Ask::parse(words, &site, date("2027-03-26")).expect_err(words);
    }
}
