//! The lines of a site on a real kernel, with a simulated chip.
//!
//! An ordinary `cargo test` ignores them: they need root, and a kernel whose gpio-sim has the chip `sim0` with
//! the lines relay0, relay1, relay2, sense0, sense1 (`tests/board/suites/lines` makes it). They share that
//! chip, so they run on one thread: `gpio_sim --ignored --test-threads=1`.

use std::fs;
use std::path::{Path, PathBuf};

use gpiocdev::Request;
use gpiocdev::line::Value;
use pilotwire::daemon::lines::{GpioLines, Lines, look};
use pilotwire::site::{Site, ZoneId};
use rustix::event::{PollFd, PollFlags, Timespec, poll};

#[path = "support/read.rs"]
mod read;

use read::read;

const WALK: ZoneId = ZoneId(0);
const YARD: ZoneId = ZoneId(1);
const SHED: ZoneId = ZoneId(2);

/// Three timed zones with these lines.
fn site(lines: &str) -> Site {
    let mut text = String::from(
        "[site]\nname = \"Home\"\nlatitude = 44.05\nlongitude = -89.60\ntimezone = \"Europe/London\"\n\
         [[supply]]\nname = \"house\"\nkind = \"transformer\"\nno_load_voltage = \"13.0 V\"\nrated_load = \"150 VA\"\n",
    );
    text.extend(["walk", "yard", "shed"].map(|zone| {
        format!(
            "[[zone]]\nname = \"{zone}\"\nsupply = \"house\"\non = \"civil_dusk\"\noff = \"23:15\"\n"
        )
    }));
    text.push_str(lines);
    read(&text)
}

fn output(zone: &str, chip: &str, line: &str, active_low: bool) -> String {
    format!(
        "[[output]]\nzone = \"{zone}\"\nchip = \"{chip}\"\nline = {line}\nactive_low = {active_low}\n"
    )
}

/// Walk and yard lit when high, shed when low; by name and by offset.
fn three_outputs() -> String {
    output("walk", "sim0", "\"relay0\"", false)
        + &output("yard", "sim0", "1", false)
        + &output("shed", "sim0", "\"relay2\"", true)
}

fn two_inputs() -> &'static str {
    "[[input]]\nzone = \"walk\"\nchip = \"sim0\"\nline = \"sense0\"\nbias = \"pull-down\"\ndebounce = \"10 ms\"\n\
     [[input]]\nzone = \"yard\"\nchip = \"sim0\"\nline = \"sense1\"\nbias = \"pull-up\"\nactive_low = true\ndebounce = \"0 ms\"\n"
}

const CONFIG: &str = "/sys/kernel/config/gpio-sim/sim0";

fn setting(name: &str) -> String {
    let text = fs::read_to_string(Path::new(CONFIG).join(name)).unwrap();
    text.trim().to_owned()
}

/// The chip's side of its lines.
fn pins() -> PathBuf {
    Path::new("/sys/devices/platform")
        .join(setting("dev_name"))
        .join(setting("bank/chip_name"))
}

/// Levels of the chip's first lines.
fn levels() -> [bool; 3] {
    [0, 1, 2].map(|offset| {
        let text = fs::read_to_string(pins().join(format!("sim_gpio{offset}/value"))).unwrap();
        text.trim() == "1"
    })
}

/// Pulls a line from outside.
fn pull(offset: u32, up: bool) {
    let pull = if up { "pull-up" } else { "pull-down" };
    fs::write(pins().join(format!("sim_gpio{offset}/pull")), pull).unwrap();
}

fn plugged(live: bool) {
    fs::write(Path::new(CONFIG).join("live"), if live { "1" } else { "0" }).unwrap();
}

/// Whether a waker is readable within so many milliseconds.
fn woken(lines: &GpioLines, milliseconds: i64) -> bool {
    let wakers = lines.wakers();
    let mut fds: Vec<PollFd<'_>> = wakers
        .iter()
        .map(|fd| PollFd::from_borrowed_fd(*fd, PollFlags::IN))
        .collect();
    let time = Timespec {
        tv_sec: milliseconds / 1000,
        tv_nsec: milliseconds % 1000 * 1_000_000,
    };
    poll(&mut fds, Some(&time)).unwrap() > 0
}

fn zones<T>(said: &[(ZoneId, T)]) -> Vec<ZoneId> {
    said.iter().map(|(zone, _)| *zone).collect()
}

/// The program that holds the line of this offset.
fn holder(offset: usize) -> Option<String> {
    let board = look();
    board.chip("sim0").unwrap().lines[offset].held_by.clone()
}

#[test]
#[ignore = "needs a simulated chip"]
fn outputs_are_taken_dark_and_driven_whatever_their_polarity() {
    let (mut lines, faults) = GpioLines::open(&site(&three_outputs()));
    assert_eq!(faults, []);
    assert_eq!(levels(), [false, false, true]);
    for offset in 0..3 {
        assert_eq!(holder(offset).as_deref(), Some("pilotwire:walk,yard,shed"));
    }
    for (wanted, expected) in [
        ([true, true, true], [true, true, false]),
        ([false, true, false], [false, true, true]),
    ] {
        let wanted = [WALK, YARD, SHED].into_iter().zip(wanted);
        let wanted: Vec<(ZoneId, bool)> = wanted.collect();
        assert_eq!(lines.drive(&wanted), []);
        assert_eq!(levels(), expected);
        let read: Vec<(ZoneId, bool)> = lines
            .read_back()
            .into_iter()
            .map(|(zone, level)| (zone, level.unwrap()))
            .collect();
        assert_eq!(read, wanted);
    }
    drop(lines);
    assert_eq!(holder(0), None);
}

#[test]
#[ignore = "needs a simulated chip"]
fn lines_in_trouble_do_not_keep_the_others_and_a_busy_one_is_taken_once_it_is_free() {
    let chip = Path::new("/dev").join(&look().chip("sim0").unwrap().name);
    let other = Request::builder()
        .on_chip(chip)
        .with_consumer("somebody")
        .with_line(1)
        .as_output(Value::Inactive)
        .request()
        .unwrap();
    let text = output("walk", "sim0", "\"relay0\"", false)
        + &output("yard", "sim0", "1", false)
        + &output("shed", "sim0", "\"relay9\"", false);
    let (mut lines, faults) = GpioLines::open(&site(&text));
    assert_eq!(zones(&faults), [YARD, SHED]);
    assert_eq!(
        faults[0].1.what,
        "chip sim0, line 1: busy, held by somebody"
    );
    assert!(faults[1].1.what.ends_with("has no line of this name"));
    let all = [(WALK, true), (YARD, true), (SHED, true)];
    assert_eq!(zones(&lines.drive(&all)), [YARD, SHED]);
    assert_eq!(levels()[..2], [true, false]);
    let read = lines.read_back();
    assert_eq!(read[0], (WALK, Ok(true)));
    assert!(read[1].1.is_err() && read[2].1.is_err());
    drop(other);
    assert_eq!(zones(&lines.drive(&all)), [SHED]);
    assert_eq!(levels()[..2], [true, true]);
}

#[test]
#[ignore = "needs a simulated chip"]
fn edges_of_inputs_wake_and_are_drained() {
    pull(3, false);
    pull(4, true);
    let (mut lines, faults) = GpioLines::open(&site(two_inputs()));
    assert_eq!(faults, []);
    assert_eq!(lines.wakers().len(), 1, "one request for both lines");
    assert!(!lines.must_be_watched());
    assert_eq!(lines.senses(), [(WALK, Ok(false)), (YARD, Ok(false))]);
    assert!(!woken(&lines, 50));
    pull(3, true);
    assert!(woken(&lines, 2000));
    assert_eq!(lines.senses(), [(WALK, Ok(true)), (YARD, Ok(false))]);
    lines.drain();
    assert!(!woken(&lines, 50));
    pull(4, false);
    assert!(woken(&lines, 2000), "a line that is active when low");
    assert_eq!(lines.senses(), [(WALK, Ok(true)), (YARD, Ok(true))]);
    for up in [true, false].repeat(100) {
        pull(4, up);
    }
    for _ in 0..10 {
        lines.drain();
    }
    assert!(!woken(&lines, 50), "chatter is drained in a few goes");
}

#[test]
#[ignore = "needs a simulated chip"]
fn a_chip_that_is_pulled_out_is_told_and_taken_again_at_the_level_wanted_then() {
    let (mut lines, faults) = GpioLines::open(&site(&(three_outputs() + two_inputs())));
    assert_eq!(faults, []);
    let lit = [(WALK, true), (YARD, true), (SHED, true)];
    assert_eq!(lines.drive(&lit), []);
    let before = holder(0);
    plugged(false);
    println!(
        "a waker of the chip that is gone is readable: {}",
        woken(&lines, 200)
    );
    let faults = lines.drive(&lit);
    assert_eq!(zones(&faults), [WALK, YARD, SHED]);
    println!("{}", faults[0].1);
    assert!(lines.read_back().iter().all(|(_, level)| level.is_err()));
    assert!(lines.senses().iter().all(|(_, level)| level.is_err()));
    assert!(
        lines.wakers().is_empty(),
        "nothing left that could wake for ever"
    );
    assert!(lines.must_be_watched());
    plugged(true);
    println!("the chip is back as {}", setting("bank/chip_name"));
    assert_eq!(
        lines.drive(&[(WALK, true), (YARD, false), (SHED, true)]),
        []
    );
    assert_eq!(levels(), [true, false, false]);
    assert_eq!(holder(0), before);
    assert!(lines.senses().iter().all(|(_, level)| level.is_ok()));
    assert_eq!(lines.wakers().len(), 1);
}

#[test]
#[ignore = "needs a simulated chip"]
fn a_pulled_chip_is_let_go_by_draining_alone() {
    let (mut lines, _) = GpioLines::open(&site(two_inputs()));
    plugged(false);
    lines.drain();
    assert!(lines.wakers().is_empty());
    plugged(true);
    assert!(lines.senses().iter().all(|(_, level)| level.is_ok()));
}
