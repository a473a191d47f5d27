//! One small yard after the other, each worked out by hand.

mod ahead;
mod forced;
mod meters;
mod told;

use std::cell::RefCell;
use std::rc::Rc;
use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};

use super::Engine;
use crate::civil_time::ZoneInfo;
use crate::daemon::control::Filter;
use crate::daemon::control::{Reply, Request, Until};
use crate::daemon::lines::{Level, LineFault, Lines};
use crate::daemon::moment::{ClockQuality, Now};
use crate::daemon::store::{Database, Durability, Entry, Event, Hold, Kept, Kind, Store, Trouble};
use crate::site::{self, Site, ZoneId};

/// A yard on UTC: `front` by the clock from 20:00 to 23:00, watched and followed over a relay by
/// `fence`, which is watched too; `far`, which follows the input of `porch`.
const YARD: &str = r#"
[site]
name = "Test"
latitude = 51.0
longitude = 0.0
timezone = "UTC"

[[supply]]
name = "near"
kind = "transformer"
no_load_voltage = "13.2 V"
full_load_voltage = "12.0 V"
rated_load = "100 VA"

[[supply]]
name = "shed"
kind = "desktop-pc"
voltage = "12 V"
start_time = "300 ms"

[[zone]]
name = "front"
supply = "near"
on = "20:00"
off = "23:00"
minimum_lit = "5 s"
minimum_dark = "5 s"

[[zone]]
name = "fence"
supply = "shed"

[[link]]
master = "front"
slave = "fence"
wire = "22 AWG"
length = "20 m"
relay = "r"

[[relay]]
name = "r"
coil_resistance = "400 ohm"

[[zone]]
name = "porch"
supply = "near"
on = "20:00"
off = "23:00"

[[zone]]
name = "far"
supply = "shed"
follows_input = "porch"
on_delay = "2 s"
off_delay = "3 s"
silent_after = "10 min"
if_master_silent = "schedule"

[[output]]
zone = "front"
chip = "gpiochip0"
line = 1

[[output]]
zone = "far"
chip = "gpiochip0"
line = 2

[[input]]
zone = "fence"
chip = "gpiochip0"
line = 3

[[input]]
zone = "porch"
chip = "gpiochip0"
line = 4
"#;

const FRONT: ZoneId = ZoneId(0);
const FENCE: ZoneId = ZoneId(1);
const PORCH: ZoneId = ZoneId(2);
const FAR: ZoneId = ZoneId(3);

#[derive(Default)]
struct Board {
    driven: Vec<bool>,
    senses: Vec<(ZoneId, Level)>,
    broken: bool,
    shorted: bool,
    stuck_dark: bool,
    lost: Option<ZoneId>,
    drives: u32,
}

#[derive(Clone)]
struct Wired(Rc<RefCell<Board>>);

fn fault() -> LineFault {
    LineFault {
        what: "chip gpiochip0: gone".into(),
        remedy: "plug it in".into(),
    }
}

impl Lines for Wired {
    fn drive(&mut self, levels: &[(ZoneId, bool)]) -> Vec<(ZoneId, LineFault)> {
        let mut board = self.0.borrow_mut();
        board.drives += 1;
        if board.broken {
            return levels.iter().map(|(zone, _)| (*zone, fault())).collect();
        }
        let (stuck, lost) = (board.stuck_dark, board.lost);
        for (zone, lit) in levels {
            board.driven[zone.0] = *lit && !stuck && lost != Some(*zone);
        }
        lost.map(|zone| (zone, fault())).into_iter().collect()
    }

    fn read_back(&mut self) -> Vec<(ZoneId, Level)> {
        let board = self.0.borrow();
        [FRONT, FAR]
            .into_iter()
            .map(|zone| {
                let level = board.driven[zone.0] != board.shorted;
                let lost = board.broken || board.lost == Some(zone);
                (zone, if lost { Err(fault()) } else { Ok(level) })
            })
            .collect()
    }

    fn senses(&mut self) -> Vec<(ZoneId, Level)> {
        self.0.borrow().senses.clone()
    }
}

/// A disk that is full at times, and on which a program may die.
struct Disk {
    store: Database,
    full: bool,
    /// Writes till the program dies; from then on nothing is kept, and nobody is left to notice.
    left: u32,
}

impl Disk {
    fn of(store: Database) -> Self {
        Self {
            store,
            full: false,
            left: u32::MAX,
        }
    }
}

impl Store for Disk {
    fn is_in_memory(&self) -> bool {
        self.store.is_in_memory()
    }

    fn load(&self) -> Kept {
        self.store.load()
    }

    fn keep(&mut self, entries: &[Entry]) -> Result<(), Trouble> {
        if self.full {
            return Err(Trouble("database or disk is full".into()));
        }
        let Some(left) = self.left.checked_sub(1) else {
            return Ok(());
        };
        self.left = left;
        self.store.keep(entries)
    }

    fn history(&self, filter: &Filter) -> Result<Vec<Event>, Trouble> {
        self.store.history(filter)
    }
}

struct Bench {
    engine: Engine<Wired, Disk>,
    board: Rc<RefCell<Board>>,
    now: Now,
}

fn yard() -> Site {
    yard_with(&[])
}

fn yard_with(changes: &[(&str, &str)]) -> Site {
    let mut text = YARD.to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replacen(from, to, 1);
    }
    let zones = ZoneInfo::from_environment();
    site::read(text.as_bytes(), "test", &|zone| zones.open(zone))
        .unwrap_or_else(|problems| panic!("{problems}"))
}

impl Bench {
    fn at(site: Site, utc: &str) -> Self {
        let board = Rc::new(RefCell::new(Board {
            driven: vec![false; 4],
            senses: vec![(FENCE, Ok(false)), (PORCH, Ok(false))],
            ..Board::default()
        }));
        let now = Now {
            utc: utc.parse().expect("a time"),
            boot: Duration::from_secs(100),
            quality: ClockQuality::Good,
        };
        let store = (Disk::of(Database::without_file()), None);
        let mut bench = Self {
            engine: Engine::new(site, "boot".into(), Wired(Rc::clone(&board)), store, now),
            board,
            now,
        };
        bench.engine.wake(now);
        bench
    }

    /// Wakes it so many seconds later.
    fn after(&mut self, seconds: f64) -> &mut Self {
        let by = Duration::from_secs_f64(seconds);
        self.now.boot += by;
        self.now.utc += TimeDelta::from_std(by).expect("a short time");
        self.engine.wake(self.now);
        self
    }

    /// Steps its wall clock.
    fn step(&mut self, seconds: i64) -> &mut Self {
        self.now.utc += TimeDelta::seconds(seconds);
        self.engine.wake(self.now);
        self
    }

    fn sense(&mut self, zone: ZoneId, lit: bool) -> &mut Self {
        self.board
            .borrow_mut()
            .senses
            .iter_mut()
            .filter(|(sensed, _)| *sensed == zone)
            .for_each(|(_, level)| *level = Ok(lit));
        self.engine.wake(self.now);
        self
    }

    fn lit(&self, zone: ZoneId) -> bool {
        self.board.borrow().driven[zone.0]
    }

    fn ask(&mut self, request: Request) -> Reply {
        self.engine.answer(request, self.now).expect("not a reload")
    }

    fn force(&mut self, zone: &str, lit: bool, until: Option<Until>) -> Reply {
        self.ask(Request::Force {
            zone: zone.into(),
            lit,
            until,
        })
    }

    fn condition(&self, zone: &str) -> String {
        let status = self.engine.status(self.now);
        let zone = status.zones.iter().find(|it| it.zone == zone);
        zone.expect("the zone").condition.to_string()
    }

    fn said(&mut self, what: &str) -> usize {
        let said = self.engine.take_said();
        said.iter().filter(|event| event.what == what).count()
    }
}

#[test]
fn a_timed_zone_goes_on_and_off_by_its_plan() {
    let mut bench = Bench::at(yard(), "2027-03-01T19:59:50Z");
    assert!(!bench.lit(FRONT));
    let woken = bench.engine.wake(bench.now);
    let due: DateTime<Utc> = "2027-03-01T20:00:00Z".parse().unwrap();
    assert_eq!(woken.again.utc, Some(due));
    assert!(bench.after(10.0).lit(FRONT));
    assert!(bench.after(3.0 * 3600.0 - 0.001).lit(FRONT));
    assert!(!bench.after(0.001).lit(FRONT));
}

#[test]
fn a_wake_too_many_changes_nothing_and_drives_nothing() {
    let mut bench = Bench::at(yard(), "2027-03-01T20:30:00Z");
    bench.after(10.0);
    let drives = bench.board.borrow().drives;
    for _ in 0..50 {
        bench.after(0.01);
    }
    assert_eq!(bench.board.borrow().drives, drives);
    assert_eq!(bench.said("on"), 1);
}

#[test]
fn after_a_start_a_line_stays_dark_for_its_least_time_first() {
    let mut bench = Bench::at(yard(), "2027-03-01T20:30:00Z");
    assert!(!bench.lit(FRONT));
    assert!(!bench.after(4.999).lit(FRONT));
    assert!(bench.after(0.001).lit(FRONT));
    bench.force("front", false, None);
    assert!(bench.lit(FRONT), "lit for its least time");
    assert!(!bench.after(5.0).lit(FRONT));
}

#[test]
fn a_step_of_the_clock_is_said_once_and_its_lights_follow() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(60.0).step(9 * 3600);
    assert!(bench.lit(FRONT), "21:01");
    assert_eq!(bench.said("clock stepped by +32400.0 s"), 1);
    bench.after(60.0).step(-9 * 3600);
    assert!(!bench.after(5.0).lit(FRONT));
    bench.after(60.0).after(60.0);
    assert_eq!(bench.said("clock stepped by -32400.0 s"), 1);
}

#[test]
fn the_slow_correction_of_a_clock_is_no_step() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.engine.take_said();
    for _ in 0..100 {
        bench.now.utc += TimeDelta::milliseconds(30);
        bench.after(60.0);
    }
    assert_eq!(bench.engine.take_said(), []);
}

#[test]
fn a_clock_in_doubt_darkens_what_goes_by_it_alone() {
    for quality in [ClockQuality::Doubtful, ClockQuality::Impossible] {
        let mut bench = Bench::at(yard(), "2027-03-01T20:30:00Z");
        bench.after(10.0).sense(PORCH, true).after(10.0);
        assert!(bench.lit(FRONT) && bench.lit(FAR));
        bench.now.quality = quality;
        bench.after(1.0);
        assert!(!bench.lit(FRONT), "{quality}");
        assert!(bench.lit(FAR), "an input needs no clock");
        bench.now.quality = ClockQuality::Good;
        assert!(bench.after(10.0).lit(FRONT));
    }
}

#[test]
fn the_site_file_says_what_is_done_in_doubt() {
    let last = [(
        "[[relay]]",
        "[daemon]\non_doubtful_clock = \"last\"\n\n[[relay]]",
    )];
    let mut bench = Bench::at(yard_with(&last), "2027-03-01T20:30:00Z");
    bench.after(10.0);
    bench.now.quality = ClockQuality::Impossible;
    assert!(bench.after(1.0).step(-20 * 3600).lit(FRONT));
    let plan = [(
        "[[relay]]",
        "[daemon]\non_doubtful_clock = \"schedule\"\n\n[[relay]]",
    )];
    let mut bench = Bench::at(yard_with(&plan), "2027-03-01T20:30:00Z");
    bench.now.quality = ClockQuality::Doubtful;
    assert!(bench.after(10.0).lit(FRONT));
    bench.now.quality = ClockQuality::Impossible;
    assert!(
        !bench.after(10.0).lit(FRONT),
        "no plan by a time that is past"
    );
}

#[test]
fn a_hold_lasts_its_time_whatever_the_wall_clock_does() {
    for step in [-56 * 365 * 86_400, -86_400, -1, 1, 3600, 86_400] {
        let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
        bench.after(10.0);
        assert!(matches!(
            bench.force("front", true, Some(Until::For(600))),
            Reply::Done(_)
        ));
        assert!(bench.lit(FRONT));
        bench.after(300.0).step(step);
        // A step may bring the evening: look at the hold alone.
        let held = |bench: &Bench| bench.engine.status(bench.now).zones[0].held;
        assert_eq!(held(&bench), Some(true), "{step}");
        bench.after(299.9);
        assert_eq!(held(&bench), Some(true), "{step}");
        bench.after(0.1);
        assert_eq!(held(&bench), None, "{step}");
    }
}

#[test]
fn a_hold_until_a_time_of_day_ends_with_it_and_never_later() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(10.0);
    bench.force("front", true, Some(Until::Clock("12:30".into())));
    bench.step(1800);
    assert!(!bench.after(5.0).lit(FRONT), "the clock has passed it");
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(10.0);
    bench.force("front", true, Some(Until::Clock("12:30".into())));
    bench.step(-1800);
    bench.after(1780.0);
    assert!(bench.lit(FRONT));
    assert!(!bench.after(10.0).lit(FRONT), "half an hour is over");
}

#[test]
fn a_hold_until_the_next_switching_ends_with_it() {
    let mut bench = Bench::at(yard(), "2027-03-01T19:00:00Z");
    bench.after(10.0);
    bench.force("front", true, Some(Until::Next));
    let held = bench.engine.status(bench.now).zones[0].until;
    assert_eq!(held, Some("2027-03-01T20:00:00Z".parse().unwrap()));
    assert!(bench.after(3600.0).lit(FRONT), "now by its plan");
    assert_eq!(bench.engine.status(bench.now).zones[0].held, None);
}

#[test]
fn what_cannot_be_forced_is_refused_with_a_remedy() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    for (zone, until, why, remedy) in [
        (
            "frond",
            None,
            "there is no zone \"frond\"",
            "did you mean front?",
        ),
        (
            "fence",
            None,
            "this board has no line for fence",
            "it follows front: force that one",
        ),
        (
            "front",
            Some(Until::For(0)),
            "a zone is held for a second at least and for a week at most",
            "for longer, change the site file",
        ),
        (
            "front",
            Some(Until::Clock("25:00".into())),
            "\"25:00\" is no time of day",
            "write it as 23:30",
        ),
    ] {
        let Reply::Refused(refusal) = bench.force(zone, true, until) else {
            panic!("{zone} was forced");
        };
        assert_eq!(
            (refusal.why.as_str(), refusal.remedy.as_str()),
            (why, remedy)
        );
    }
    bench.now.quality = ClockQuality::Doubtful;
    assert!(matches!(
        bench.force("front", true, Some(Until::Next)),
        Reply::Refused(_)
    ));
    assert!(matches!(bench.force("front", true, None), Reply::Done(_)));
}

#[test]
fn an_input_is_followed_after_its_delays() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(10.0).sense(PORCH, true);
    assert!(!bench.after(1.999).lit(FAR));
    assert!(bench.after(0.001).lit(FAR));
    bench.after(10.0).sense(PORCH, false);
    assert!(bench.after(1.0).lit(FAR));
    bench.sense(PORCH, true).after(1.0).sense(PORCH, false);
    assert!(bench.after(2.999).lit(FAR), "a blip begins anew");
    assert!(!bench.after(0.001).lit(FAR));
}

#[test]
fn a_wire_that_is_dead_all_evening_is_replaced_by_the_plan() {
    let mut bench = Bench::at(yard(), "2027-03-01T19:00:00Z");
    assert!(!bench.after(3600.0).after(599.0).lit(FAR));
    assert!(bench.after(1.0).lit(FAR));
    assert!(!bench.after(3.0 * 3600.0 - 600.0).lit(FAR), "23:00");
    // Switched off by somebody in the evening: that is no dead wire.
    let mut bench = Bench::at(yard(), "2027-03-01T19:00:00Z");
    bench.after(3600.0).sense(PORCH, true).after(60.0);
    assert!(bench.lit(FAR));
    bench.sense(PORCH, false).after(3.0);
    assert!(!bench.lit(FAR));
    assert!(!bench.after(3600.0).lit(FAR));
}

#[test]
fn a_slave_that_does_not_do_as_its_master_is_told_of() {
    let mut bench = Bench::at(yard(), "2027-03-01T19:59:00Z");
    let links = crate::link::judge(
        bench.engine.site(),
        crate::link::Draw {
            builds: std::num::NonZeroU32::MIN,
            ..Default::default()
        },
    )
    .unwrap();
    let most_s = links[0].times.pull_in.unwrap().most_s + links[0].times.bounce_s;
    bench.engine.set_links(links);
    bench.after(60.0);
    assert!(bench.lit(FRONT));
    // Its supply takes 300 ms, and 20 ms to rise unless stated; its input is debounced for 20 ms.
    let start_s = bench.engine.site()[bench.engine.site()[FENCE].supply].start_s;
    let within = most_s + start_s + 0.02 + super::super::watch::LOOKING_S;
    bench.after(within - 0.01);
    assert_eq!(bench.condition("fence"), "dark");
    bench.after(0.02);
    assert_eq!(bench.condition("fence"), "late");
    bench.after(10.0);
    assert_eq!(bench.condition("fence"), "does not follow");
    bench.sense(FENCE, true);
    assert_eq!(bench.condition("fence"), "lit");
    bench.after(3.0 * 3600.0);
    assert!(!bench.lit(FRONT));
    bench.after(20.0);
    assert_eq!(bench.condition("fence"), "does not release");
    // 06:38 UTC is sunrise there on the 2nd of March (a table of the almanac's own tests is finer).
    bench.after(9.0 * 3600.0);
    assert_eq!(bench.condition("fence"), "lit by day");
    bench.sense(FENCE, false);
    assert_eq!(bench.condition("fence"), "dark");
}

#[test]
fn a_lost_line_is_sought_again_and_told_of_once() {
    let mut bench = Bench::at(yard(), "2027-03-01T20:30:00Z");
    bench.after(10.0);
    bench.board.borrow_mut().broken = true;
    for _ in 0..5 {
        bench.after(60.0);
    }
    let status = bench.engine.status(bench.now);
    assert_eq!(status.alarms[0], "front: chip gpiochip0: gone; plug it in");
    assert_eq!(status.zones[0].driven, None);
    assert_eq!(bench.said("line lost"), 2, "one a line");
    bench.board.borrow_mut().broken = false;
    bench.after(60.0);
    assert!(bench.lit(FRONT));
    assert_eq!(bench.said("line back"), 2);
    assert!(bench.engine.status(bench.now).alarms.is_empty());
}

#[test]
fn a_line_that_reads_back_otherwise_is_told_of_once_and_not_sound_once() {
    let mut bench = Bench::at(yard(), "2027-03-01T20:30:00Z");
    bench.after(10.0);
    bench.board.borrow_mut().shorted = true;
    let mut sound = Vec::new();
    for _ in 0..4 {
        bench.now.boot += Duration::from_secs(60);
        bench.now.utc += TimeDelta::seconds(60);
        sound.push(bench.engine.wake(bench.now).sound);
    }
    // The watchdog must not shoot a service that has said what is wrong.
    assert_eq!(sound, [false, true, true, true]);
    assert_eq!(bench.said("line lost"), 2);
}

#[test]
fn zones_go_on_one_after_the_other() {
    let both = [(
        "follows_input = \"porch\"\non_delay = \"2 s\"\noff_delay = \"3 s\"\nsilent_after = \"10 min\"\nif_master_silent = \"schedule\"",
        "on = \"20:00\"\noff = \"23:00\"",
    )];
    let mut bench = Bench::at(yard_with(&both), "2027-03-01T19:59:00Z");
    bench.after(60.0);
    assert!(bench.lit(FRONT) && !bench.lit(FAR));
    assert!(!bench.after(0.999).lit(FAR));
    assert!(bench.after(0.001).lit(FAR));
    bench.after(3.0 * 3600.0);
    assert!(!bench.lit(FRONT) && !bench.lit(FAR), "off all at once");
}

#[test]
fn stopping_is_dark_and_told() {
    let mut bench = Bench::at(yard(), "2027-03-01T20:30:00Z");
    bench.after(10.0);
    assert!(bench.lit(FRONT));
    bench.engine.stop(bench.now, "told to stop");
    assert!(!bench.lit(FRONT));
    let history = match bench.ask(Request::History(crate::daemon::control::Filter::default())) {
        Reply::History(events) => events,
        other => panic!("{other:?}"),
    };
    let last: Vec<_> = history
        .iter()
        .rev()
        .take(2)
        .map(|it| (it.kind, it.what.as_str()))
        .collect();
    assert_eq!(last, [(Kind::Service, "stopped"), (Kind::Switched, "off")]);
}

#[test]
fn hours_and_operations_are_counted() {
    let mut bench = Bench::at(yard(), "2027-03-01T19:59:00Z");
    bench.after(60.0);
    for _ in 0..180 {
        bench.after(60.0);
    }
    bench.after(60.0);
    let front = &bench.engine.status(bench.now).zones[0];
    assert_eq!((front.lit_h, front.operations), (3.0, 1));
}

#[test]
fn a_new_site_file_keeps_holds_and_hours_of_zones_that_keep_their_name() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(10.0);
    bench.force("front", true, None);
    bench.after(60.0);
    let moved = yard_with(&[("on = \"20:00\"", "on = \"21:00\"")]);
    bench.engine.replace(moved, None, bench.now);
    bench.after(60.0);
    assert!(bench.lit(FRONT));
    let front = &bench.engine.status(bench.now).zones[0];
    assert_eq!((front.held, front.operations), (Some(true), 1));
    bench.force("front", false, Some(Until::For(5)));
    bench.after(8.0 * 3600.0 - 180.0);
    assert!(!bench.lit(FRONT), "20:00 is not yet its time");
}

#[test]
fn an_input_that_chatters_is_told_of_and_no_more_recorded() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.engine.take_said();
    for n in 0..200 {
        bench.after(0.1).sense(PORCH, n % 2 == 0);
    }
    let said = bench.engine.take_said();
    let sensed = said.iter().filter(|event| event.kind == Kind::Sensed);
    assert_eq!(sensed.count(), 60);
    let chatters = said.iter().filter(|event| event.what == "input chatters");
    assert_eq!(chatters.count(), 1);
    bench.after(3600.0).sense(PORCH, true);
    assert_eq!(bench.said("lit"), 1, "a new hour");
}

#[test]
fn an_input_that_is_lost_counts_as_dark_and_its_return_as_no_change() {
    let mut bench = Bench::at(yard(), "2027-03-01T19:00:00Z");
    let lost = |bench: &Bench| bench.board.borrow_mut().senses[1].1 = Err(fault());
    lost(&bench);
    bench.after(3600.0).after(600.0);
    assert!(bench.lit(FAR), "silent all evening");
    bench.sense(PORCH, false).after(60.0);
    assert!(bench.lit(FAR), "read again, and still dark");
    assert_eq!(bench.said("input back"), 1);
}

#[test]
fn the_closed_line_of_a_slave_is_no_light() {
    let series = [(
        "[[input]]\nzone = \"fence\"",
        "[[output]]\nzone = \"fence\"\nchip = \"gpiochip0\"\nline = 9\n\n[[input]]\nzone = \"front\"",
    )];
    let mut bench = Bench::at(yard_with(&series), "2027-03-01T12:00:00Z");
    bench.after(10.0).after(3600.0);
    assert!(
        bench.lit(FENCE),
        "its line is closed, so that it can follow"
    );
    let status = bench.engine.status(bench.now);
    let fence = status.zones.iter().find(|it| it.zone == "fence").unwrap();
    assert_eq!((fence.lit_h, fence.driven), (0.0, Some(true)));
}

#[test]
fn a_time_that_the_network_shows_to_be_wrong_is_forgotten() {
    let mut bench = Bench::at(yard(), "2028-03-01T12:00:00Z");
    bench.after(60.0).step(-365 * 86_400);
    let newest = bench.engine.newest().unwrap();
    assert_eq!(newest, bench.now.utc);
    assert_eq!(bench.engine.journal.store.load().newest, Some(newest));
}

/// Two timed zones, one after the other.
fn two_timed() -> Site {
    yard_with(&[(
        "follows_input = \"porch\"\non_delay = \"2 s\"\noff_delay = \"3 s\"\nsilent_after = \"10 min\"\nif_master_silent = \"schedule\"",
        "on = \"20:00\"\noff = \"23:00\"",
    )])
}

#[test]
fn a_lost_line_keeps_no_other_zone_dark() {
    let mut bench = Bench::at(two_timed(), "2027-03-01T19:59:00Z");
    bench.board.borrow_mut().lost = Some(FRONT);
    bench.after(60.0).after(5.0).after(5.0);
    assert!(bench.lit(FAR), "one line of two is lost");
}

#[test]
fn what_it_was_before_a_doubt_is_what_the_plan_wanted_not_a_hold() {
    let last = [(
        "[[relay]]",
        "[daemon]\non_doubtful_clock = \"last\"\n\n[[relay]]",
    )];
    let mut bench = Bench::at(yard_with(&last), "2027-03-01T12:00:00Z");
    bench.after(10.0);
    bench.force("front", true, Some(Until::For(60)));
    bench.after(10.0);
    bench.now.quality = ClockQuality::Doubtful;
    assert!(bench.after(10.0).lit(FRONT), "held");
    assert!(!bench.after(60.0).lit(FRONT), "the hold is over");
}

#[test]
fn a_hold_of_a_zone_that_is_gone_does_not_come_back() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(10.0);
    bench.force("front", true, Some(Until::For(86_400)));
    let renamed = yard_with(&[
        ("name = \"front\"", "name = \"path\""),
        ("master = \"front\"", "master = \"path\""),
        ("zone = \"front\"", "zone = \"path\""),
    ]);
    bench.engine.replace(renamed, None, bench.now);
    bench.after(1.0);
    assert_eq!(bench.engine.journal.store.load().holds, []);
    bench.engine.replace(yard(), None, bench.now);
    bench.after(10.0);
    let front = &bench.engine.status(bench.now).zones[0];
    assert_eq!(front.held, None);
    assert_eq!(front.operations, 1, "what was kept of it is still known");
}

#[test]
fn what_a_full_disk_did_not_take_is_never_said_to_be_kept() {
    let folder = meters::Folder::new();
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.engine.journal.store = folder.store();
    let kept = |reply: Reply| match reply {
        Reply::Done(done) => done.kept,
        other => panic!("{other:?}"),
    };
    let release = || Request::Release {
        zone: "front".into(),
    };
    bench.after(10.0);
    assert!(kept(bench.force("front", true, None)));
    bench.engine.journal.store.full = true;
    assert!(!kept(bench.ask(release())));
    assert!(
        !kept(bench.ask(release())),
        "not even when nothing is left to do"
    );
    bench.engine.journal.store.full = false;
    assert!(kept(bench.ask(release())));
    assert_eq!(bench.engine.journal.store.load().holds, []);
}

#[test]
fn a_time_of_day_is_kept_while_the_clock_steps_back_and_forth() {
    let mut bench = Bench::at(yard(), "2027-03-01T20:10:00Z");
    bench.after(10.0);
    bench.force("front", false, Some(Until::Clock("22:30".into())));
    bench.after(10.0).step(-7200).after(2.0).step(7200);
    assert!(!bench.after(3600.0).after(3600.0).lit(FRONT), "22:10");
    assert!(bench.after(1200.0).lit(FRONT), "22:30");
}

#[test]
fn a_line_that_will_not_go_on_does_not_flap() {
    let mut bench = Bench::at(yard(), "2027-03-01T19:59:50Z");
    bench.after(1.0);
    bench.board.borrow_mut().stuck_dark = true;
    bench.engine.take_said();
    for _ in 0..100 {
        bench.after(5.0);
    }
    let said: Vec<_> = bench
        .engine
        .take_said()
        .into_iter()
        .map(|it| it.what)
        .collect();
    assert_eq!(said, ["on", "line lost"]);
    bench.board.borrow_mut().stuck_dark = false;
    bench.after(5.0);
    assert!(bench.lit(FRONT));
    assert!(bench.engine.status(bench.now).alarms.is_empty());
}

#[test]
fn an_input_that_changes_all_the_time_spares_the_contact() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(10.0);
    for n in 0..1000 {
        bench.after(3.1).sense(PORCH, n % 2 == 0);
    }
    assert!(!bench.lit(FAR));
    let on = bench.said("on");
    assert!(on <= 31, "{on}");
    // An hour after the chatter began it means something again.
    bench.sense(PORCH, true).after(600.0).after(2.0);
    assert!(bench.lit(FAR));
}

#[test]
fn a_hold_in_doubt_makes_nothing_darker() {
    let plan = [(
        "[[relay]]",
        "[daemon]\non_doubtful_clock = \"schedule\"\n\n[[relay]]",
    )];
    let mut bench = Bench::at(yard_with(&plan), "2027-03-01T20:10:00Z");
    bench.after(10.0);
    bench.force("front", true, Some(Until::For(7200)));
    bench.engine.holds.boot_id = "the next".into();
    bench.now.boot = Duration::from_secs(60);
    bench.engine.clock.last.boot = bench.now.boot;
    bench.now.quality = ClockQuality::Doubtful;
    assert!(bench.after(10.0).lit(FRONT), "its plan is lit anyway");
}

#[test]
fn a_time_that_the_clocks_show_twice_is_also_the_second_of_them() {
    // 2027-11-07, 02:00 CDT: the clocks go back to 01:00 CST. 07:10 UTC is the second 01:10.
    let chicago = [("timezone = \"UTC\"", "timezone = \"America/Chicago\"")];
    let mut bench = Bench::at(yard_with(&chicago), "2027-11-07T07:10:00Z");
    bench.after(10.0);
    bench.force("front", true, Some(Until::Clock("01:30".into())));
    let until = bench.engine.status(bench.now).zones[0].until;
    assert_eq!(until, Some("2027-11-07T07:30:00Z".parse().unwrap()));
}

#[test]
fn a_hold_that_was_damaged_on_its_way_is_dropped() {
    let mut store = Disk::of(Database::without_file());
    let now: DateTime<Utc> = "2027-03-01T12:00:00Z".parse().unwrap();
    store
        .keep(&[Entry::Hold(Hold {
            zone: "front".into(),
            lit: true,
            since: now,
            until: now + TimeDelta::hours(1),
            boot_id: "boot".into(),
            until_boot: Duration::from_secs(1 << 40),
            by_clock: false,
        })])
        .unwrap();
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    let lines = Wired(Rc::clone(&bench.board));
    bench.engine = Engine::new(yard(), "boot".into(), lines, (store, None), bench.now);
    bench.after(10.0).step(3600);
    assert!(!bench.lit(FRONT));
}

#[test]
fn the_owners_word_for_the_clock_lasts_until_it_steps() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    assert!(!bench.engine.clock_trusted());
    bench.ask(Request::TrustClock);
    assert!(bench.engine.clock_trusted());
    bench.after(60.0);
    assert!(bench.engine.clock_trusted());
    bench.step(60);
    assert!(!bench.engine.clock_trusted());
}
