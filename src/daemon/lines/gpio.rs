//! Lines of GPIO chips, through the kernel's character device.
//!
//! ```text
//! wires of the site ─ seek (look at the board, locate, request) ─► held requests ─ set, get, edges
//!                       ▲                                              │
//!                       └──────── a chip that answers ENODEV ◄─────────┘
//! ```
//!
//! All lines of a chip that go the same way are one request, so that they change together and no line
//! passes through a state of its own: an output is dark, or what is wanted, in the very call that makes
//! it an output. The kernel names a line's holder per request, not per line: `pilotwire:walk,orchard`, and of
//! names beyond the 31 bytes that the kernel keeps only how many: `pilotwire:walk,orchard,+2`. A line
//! that is refused at first (it is busy, say) and taken later is a request of its own, because the
//! others would have to be let go for an instant.
//!
//! A level is promised only as long as the request is held. Then some drivers leave the line as it is,
//! others make it an input: the pull outside the chip must be the dark one.
//!
//! A chip that was pulled out makes no noise: a wait for its edges never ends on some kernels, and on
//! others its waker stays readable. What tells is any call on it, which ends with ENODEV. So every
//! [`Lines::drive`], [`Lines::read_back`], [`Lines::senses`] and [`GpioLines::drain`] is a look for it,
//! and the chip is noticed missing at the next of them, the safety tick at the latest.
//!
//! Outputs and inputs of a chip are two requests, because outputs have no edges. Where a joint request is
//! refused, every line of the chip becomes a request of its own: then it is known which is in trouble. A
//! failing line is kept unless its chip is gone: what is let go may do anything (an input, lit, dark), and
//! an expander that answers EIO once may hear the next call.
//!
//! A chip that is missing is looked for again by name or label, and its outputs are what is wanted in the
//! call that takes them. The label is the surer: Linux 6.1 frees a chip's number only if no line was held,
//! so a chip that is put back may be gpiochip1 where it was gpiochip0 (tried, `tests/board/run follow`).

use std::os::fd::{AsFd, BorrowedFd};
use std::path::{Path, PathBuf};

use gpiocdev::Request;
use gpiocdev::line::{self, Bias as Pull, Direction, EdgeDetection, Offset, Value, Values};
use gpiocdev::request::Config;

use crate::site::{Bias, Site, ZoneId};

use super::board::{Board, CONSUMER};
use super::look::{errno, look};
use super::{Level, LineFault, Lines, Role, Trouble, Wire, inputs, outputs};

/// Most lines of one request (`GPIO_V2_LINES_MAX` of linux/gpio.h).
const MOST_LINES: usize = 64;
/// Most bytes of a consumer (`GPIO_MAX_NAME_SIZE` of linux/gpio.h, less the byte that ends it).
const LONGEST_CONSUMER: usize = 31;
/// Edges read in one go; a line that chatters faster than they are read is left to the next wake.
const MOST_EDGES: usize = 64;

/// The lines of a site, held as long as this value lives.
#[derive(Debug)]
pub struct GpioLines {
    outputs: Side,
    inputs: Side,
}

/// All lines that go one way.
#[derive(Debug)]
struct Side {
    wires: Vec<Wire>,
    held: Vec<Held>,
    /// What was last wrong with each wire.
    faults: Vec<Option<LineFault>>,
}

/// Lines of one chip, held together.
#[derive(Debug)]
struct Held {
    request: Request,
    /// Position among the wires, and offset on the chip.
    lines: Vec<(usize, Offset)>,
    /// Whether edges are reported.
    edges: bool,
}

impl GpioLines {
    /// Takes all lines of the site, outputs dark; gives back what is wrong with those it could not
    /// take, outputs first. They are sought again by [`Lines::drive`] and [`Lines::senses`].
    pub fn open(site: &Site) -> (Self, Vec<(ZoneId, LineFault)>) {
        Self::take(outputs(site), inputs(site))
    }

    /// Takes these outputs, dark.
    pub fn open_outputs(wires: Vec<Wire>) -> (Self, Vec<(ZoneId, LineFault)>) {
        Self::take(wires, Vec::new())
    }

    fn take(outputs: Vec<Wire>, inputs: Vec<Wire>) -> (Self, Vec<(ZoneId, LineFault)>) {
        let mut lines = Self {
            outputs: Side::new(outputs),
            inputs: Side::new(inputs),
        };
        lines.outputs.seek(&|_| false);
        lines.inputs.seek(&|_| false);
        let mut faults = lines.outputs.faults();
        faults.extend(lines.inputs.faults());
        (lines, faults)
    }
}

impl Lines for GpioLines {
    fn drive(&mut self, levels: &[(ZoneId, bool)]) -> Vec<(ZoneId, LineFault)> {
        let lit = |wire: &Wire| levels.contains(&(wire.zone, true));
        self.outputs.ask(|held, wires| held.drive(wires, &lit));
        self.outputs.seek(&lit);
        self.outputs.faults()
    }

    fn read_back(&mut self) -> Vec<(ZoneId, Level)> {
        self.outputs.levels()
    }

    fn senses(&mut self) -> Vec<(ZoneId, Level)> {
        self.inputs.seek(&|_| false);
        self.inputs.levels()
    }

    /// What becomes readable at an edge of an input. They change whenever a chip is lost or found, so
    /// ask again before every wait; after one, [`Lines::drain`].
    fn wakers(&self) -> Vec<BorrowedFd<'_>> {
        let held = self.inputs.held.iter().filter(|held| held.edges);
        held.map(|held| held.request.as_fd()).collect()
    }

    /// Whether some input is not seen to change, because its chip has no interrupts or is lost, so
    /// that somebody must look at it now and then.
    fn must_be_watched(&self) -> bool {
        let seen = |held: &Held| if held.edges { held.lines.len() } else { 0 };
        self.inputs.held.iter().map(seen).sum::<usize>() < self.inputs.wires.len()
    }

    /// Reads pending edges away, without blocking. What they say is of no interest: after one the
    /// levels are read anew.
    fn drain(&mut self) {
        self.inputs.ask(|held, _| held.drain());
    }
}

impl Side {
    fn new(wires: Vec<Wire>) -> Self {
        Self {
            faults: vec![None; wires.len()],
            held: Vec::new(),
            wires,
        }
    }

    fn faults(&self) -> Vec<(ZoneId, LineFault)> {
        let all = self.wires.iter().zip(&self.faults);
        all.filter_map(|(wire, fault)| Some((wire.zone, fault.clone()?)))
            .collect()
    }

    /// Asks something of every request. One whose chip is gone is closed; another that fails is kept,
    /// because a line that is let go may do anything.
    fn ask(&mut self, ask: impl Fn(&Held, &[Wire]) -> gpiocdev::Result<()>) {
        let Self {
            wires,
            held,
            faults,
        } = self;
        held.retain(|held| {
            let trouble = ask(held, wires).err().map(|error| trouble(&error));
            for &(index, _) in &held.lines {
                faults[index] = trouble
                    .as_ref()
                    .map(|trouble| trouble.of_wire(&wires[index]));
            }
            trouble != Some(Trouble::Gone)
        });
    }

    /// What every line is, in the order of the wires.
    fn levels(&mut self) -> Vec<(ZoneId, Level)> {
        let levels = std::cell::RefCell::new(vec![None; self.wires.len()]);
        self.ask(|held, _| {
            let mut values = Values::default();
            held.request.values(&mut values)?;
            for &(index, offset) in &held.lines {
                levels.borrow_mut()[index] = values.get(offset).map(|value| value == Value::Active);
            }
            Ok(())
        });
        let all = self.wires.iter().zip(&self.faults).zip(levels.into_inner());
        all.map(|((wire, fault), level)| {
            let unknown = || fault.clone().unwrap_or_else(|| Trouble::Gone.of_wire(wire));
            (wire.zone, level.ok_or_else(unknown))
        })
        .collect()
    }

    /// Looks for the lines that are not held, and takes those it finds, outputs at the level given.
    fn seek(&mut self, lit: &dyn Fn(&Wire) -> bool) {
        let held: Vec<usize> = self
            .held
            .iter()
            .flat_map(|held| held.lines.iter().map(|(index, _)| *index))
            .collect();
        let lost: Vec<usize> = (0..self.wires.len())
            .filter(|index| !held.contains(index))
            .collect();
        if lost.is_empty() {
            return;
        }
        let (found, troubles) = sort(&look(), &self.wires, &lost);
        for (index, trouble) in troubles {
            self.faults[index] = Some(trouble.of_wire(&self.wires[index]));
        }
        for (chip, lines) in found {
            let path = Path::new("/dev").join(chip);
            for lines in lines.chunks(MOST_LINES) {
                self.request(&path, lines, lit);
            }
        }
    }

    /// Takes lines of a chip together or, if that is refused, each for itself, so that one that is in
    /// trouble does not keep the others.
    fn request(&mut self, chip: &PathBuf, lines: &[(usize, Offset)], lit: &dyn Fn(&Wire) -> bool) {
        match self.requested(chip, lines, lit) {
            Ok(held) => {
                for &(index, _) in lines {
                    self.faults[index] = None;
                }
                self.held.push(held);
            }
            Err(_) if lines.len() > 1 => {
                for line in lines {
                    self.request(chip, std::slice::from_ref(line), lit);
                }
            }
            Err(error) => {
                for &(index, offset) in lines {
                    let trouble = match trouble(&error) {
                        Trouble::Busy(_) => Trouble::Busy(holder(chip, offset)),
                        other => other,
                    };
                    self.faults[index] = Some(trouble.of_wire(&self.wires[index]));
                }
            }
        }
    }

    fn requested(
        &self,
        chip: &Path,
        lines: &[(usize, Offset)],
        lit: &dyn Fn(&Wire) -> bool,
    ) -> gpiocdev::Result<Held> {
        let wires: Vec<(&Wire, Offset)> = lines
            .iter()
            .map(|&(index, offset)| (&self.wires[index], offset))
            .collect();
        let names = wires.iter().map(|(wire, _)| wire.name.as_str());
        let consumer = consumer(&names.collect::<Vec<_>>());
        let asked = |edges| {
            Request::from_config(config(&wires, lit, edges))
                .on_chip(chip)
                .with_consumer(&consumer)
                .request()
        };
        let edges = wires
            .iter()
            .any(|(wire, _)| matches!(wire.role, Role::Input { .. }));
        let (request, edges) = match asked(edges) {
            Ok(request) => (request, edges),
            // A chip whose interrupt line is not wired up reports no edges, but can be read. No error
            // number: the library found more settings than one request can hold.
            Err(error) if edges && matches!(trouble(&error), Trouble::Refused(1..)) => {
                (asked(false).map_err(|_| error)?, false)
            }
            Err(error) => return Err(error),
        };
        Ok(Held {
            request,
            lines: lines.to_vec(),
            edges,
        })
    }
}

impl Held {
    fn drive(&self, wires: &[Wire], lit: &dyn Fn(&Wire) -> bool) -> gpiocdev::Result<()> {
        let mut values = Values::default();
        for &(index, offset) in &self.lines {
            values.set(offset, value(lit(&wires[index])));
        }
        self.request.set_values(&values)
    }

    fn drain(&self) -> gpiocdev::Result<()> {
        let mut edges = vec![0; self.request.edge_event_u64_size() * 16];
        for _ in 0..MOST_EDGES / 16 {
            if !self.request.has_edge_event()? {
                break;
            }
            self.request.read_edge_events_into_slice(&mut edges)?;
        }
        Ok(())
    }
}

/// Lines that can be had, by chip, and what is wrong with the others.
type Sorted = (Vec<(String, Vec<(usize, Offset)>)>, Vec<(usize, Trouble)>);

/// Which of the `lost` wires can be had on this board.
fn sort(board: &Board, wires: &[Wire], lost: &[usize]) -> Sorted {
    let mut found: Vec<(String, Vec<(usize, Offset)>)> = Vec::new();
    let mut troubles = Vec::new();
    for &index in lost {
        let (chip, line) = match board.locate(&wires[index]) {
            Ok(place) => place,
            Err(trouble) => {
                troubles.push((index, trouble));
                continue;
            }
        };
        if let Some(holder) = &line.held_by {
            troubles.push((index, Trouble::Busy(holder.clone())));
            continue;
        }
        let known = found.iter().position(|(name, _)| *name == chip.name);
        let known = known.unwrap_or_else(|| {
            found.push((chip.name.clone(), Vec::new()));
            found.len() - 1
        });
        let lines = &mut found[known].1;
        if let Some((other, _)) = lines.iter().find(|(_, offset)| *offset == line.offset) {
            troubles.push((index, Trouble::Shared(wires[*other].name.clone())));
        } else {
            lines.push((index, line.offset));
        }
    }
    (found, troubles)
}

fn trouble(error: &gpiocdev::Error) -> Trouble {
    Trouble::of(errno(error))
}

/// What holds a line, as it calls itself.
fn holder(chip: &Path, offset: Offset) -> String {
    gpiocdev::Chip::from_path(chip)
        .and_then(|chip| chip.line_info(offset))
        .map_or_else(|_| String::new(), |info| info.consumer)
}

/// A zone's level on its line: the kernel turns it round where the line is active when low.
fn value(lit: bool) -> Value {
    if lit { Value::Active } else { Value::Inactive }
}

/// What is asked of the kernel for lines of one chip.
fn config(wires: &[(&Wire, Offset)], lit: &dyn Fn(&Wire) -> bool, edges: bool) -> Config {
    let mut config = Config::default();
    for (wire, offset) in wires {
        let line = match wire.role {
            Role::Output => line::Config {
                direction: Some(Direction::Output),
                active_low: wire.active_low,
                value: Some(value(lit(wire))),
                ..line::Config::default()
            },
            Role::Input { bias, debounce } => line::Config {
                direction: Some(Direction::Input),
                active_low: wire.active_low,
                bias: pull(bias),
                edge_detection: edges.then_some(EdgeDetection::BothEdges),
                debounce_period: (edges && !debounce.is_zero()).then_some(debounce),
                ..line::Config::default()
            },
        };
        config.with_line(*offset).from_line_config(&line);
    }
    config
}

fn pull(bias: Bias) -> Option<Pull> {
    match bias {
        Bias::PullUp => Some(Pull::PullUp),
        Bias::PullDown => Some(Pull::PullDown),
        Bias::Disabled => Some(Pull::Disabled),
        Bias::AsIs => None,
    }
}

/// `pilotwire:walk,orchard`: what tools show as the holder of the lines of these zones. Of names that
/// the kernel would cut off it says how many; a single name that is too long is cut.
fn consumer(names: &[&str]) -> String {
    let whole = format!("{CONSUMER}{}", names.join(","));
    if whole.len() <= LONGEST_CONSUMER {
        return whole;
    }
    let mut shortened = (1..names.len()).rev().map(|kept| {
        let more = names.len() - kept;
        format!("{CONSUMER}{},+{more}", names[..kept].join(","))
    });
    shortened
        .find(|text| text.len() <= LONGEST_CONSUMER)
        .unwrap_or_else(|| cut(&whole, LONGEST_CONSUMER).to_owned())
}

/// At most so many bytes of a text, and no half letter.
fn cut(text: &str, bytes: usize) -> &str {
    let end = (0..=bytes).rev().find(|end| text.is_char_boundary(*end));
    &text[..end.unwrap_or(0)]
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;
    use crate::daemon::lines::board::{Chip, LineState};
    use crate::site::Line;

    fn wire(name: &str, offset: u32, active_low: bool, role: Role) -> Wire {
        Wire {
            zone: ZoneId(offset as usize),
            name: name.into(),
            chip: "gpiochip0".into(),
            line: Line::Offset(offset),
            active_low,
            role,
        }
    }

    #[test]
    fn an_output_is_dark_in_the_call_that_makes_it_one_whatever_its_polarity() {
        for active_low in [false, true] {
            let walk = wire("walk", 3, active_low, Role::Output);
            for lit in [false, true] {
                let config = config(&[(&walk, 3)], &|_| lit, false);
                let line = config.line_config(3).unwrap();
                assert_eq!(line.direction, Some(Direction::Output));
                assert_eq!(line.active_low, active_low);
                assert_eq!(line.value, Some(value(lit)));
            }
        }
        assert_eq!(value(false), Value::Inactive);
    }

    #[test]
    fn inputs_of_a_chip_keep_pull_and_debounce_of_their_own() {
        let input = |bias, milliseconds| Role::Input {
            bias,
            debounce: Duration::from_millis(milliseconds),
        };
        let walk = wire("walk", 1, true, input(Bias::PullUp, 20));
        let yard = wire("yard", 2, false, input(Bias::AsIs, 0));
        let config = config(&[(&walk, 1), (&yard, 2)], &|_| false, true);
        let line = |offset| config.line_config(offset).unwrap();
        assert_eq!(line(1).bias, Some(Pull::PullUp));
        assert_eq!(line(1).debounce_period, Some(Duration::from_millis(20)));
        assert!(line(1).active_low);
        assert_eq!(line(2).bias, None);
        assert_eq!(line(2).debounce_period, None);
        for offset in [1, 2] {
            assert_eq!(line(offset).edge_detection, Some(EdgeDetection::BothEdges));
            assert_eq!(line(offset).direction, Some(Direction::Input));
        }
    }

    #[test]
    fn a_chip_without_interrupts_is_asked_for_neither_edges_nor_debounce() {
        let role = Role::Input {
            bias: Bias::PullDown,
            debounce: Duration::from_millis(20),
        };
        let config = config(&[(&wire("walk", 1, false, role), 1)], &|_| false, false);
        let line = config.line_config(1).unwrap();
        assert_eq!((line.edge_detection, line.debounce_period), (None, None));
        assert_eq!(line.bias, Some(Pull::PullDown));
    }

    #[test]
    fn a_consumer_names_the_zones_as_far_as_the_kernel_keeps_them() {
        for (names, said) in [
            (&["walk"][..], "pilotwire:walk"),
            (&["walk", "orchard"], "pilotwire:walk,orchard"),
            (
                &["front", "back", "fence", "shed"],
                "pilotwire:front,back,fence,shed",
            ),
            (
                &["front", "back", "fence", "sheds"],
                "pilotwire:front,back,fence,+1",
            ),
            (
                &["path-to-the-greenhouse", "shed"],
                "pilotwire:path-to-the-greenhous",
            ),
            (
                &["path-to-the-greenhouse-and-back"],
                "pilotwire:path-to-the-greenhous",
            ),
        ] {
            assert_eq!(consumer(names), said);
            assert!(said.len() <= LONGEST_CONSUMER, "{said}");
        }
        assert_eq!(cut("añejo", 2), "a");
    }

    #[test]
    fn lines_are_sorted_by_chip_and_those_in_trouble_are_left_out() {
        let mut lines: Vec<LineState> = (0..4)
            .map(|offset| LineState {
                offset,
                ..LineState::default()
            })
            .collect();
        lines[2].held_by = Some("gpio-leds".into());
        let board = Board {
            chips: vec![Chip {
                name: "gpiochip0".into(),
                label: "soc".into(),
                lines,
                ..Chip::default()
            }],
            ..Board::default()
        };
        let mut wires: Vec<Wire> = [("walk", 0), ("yard", 1), ("shed", 2), ("gate", 7)]
            .map(|(name, offset)| wire(name, offset, false, Role::Output))
            .into();
        wires.push(Wire {
            chip: "soc".into(),
            ..wire("drive", 1, false, Role::Output)
        });
        let (found, troubles) = sort(&board, &wires, &[0, 1, 2, 3, 4]);
        assert_eq!(found, [("gpiochip0".to_owned(), vec![(0, 0), (1, 1)])]);
        assert_eq!(
            troubles,
            [
                (2, Trouble::Busy("gpio-leds".into())),
                (
                    3,
                    Trouble::BeyondChip {
                        chip: "gpiochip0".into(),
                        lines: 4
                    }
                ),
                (4, Trouble::Shared("yard".into())),
            ]
        );
    }
}
