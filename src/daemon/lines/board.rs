//! What a board offers, as one look at it finds it, and where on it a line of the site is.

use crate::site::{Bias, Line};

use super::{Trouble, Wire};

/// What lines held by this program begin their consumer with.
pub const CONSUMER: &str = "pilotwire:";

/// All that one look at the machine finds.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Board {
    /// Chips that could be opened, in the order of their names.
    pub chips: Vec<Chip>,
    /// Chips that could not.
    pub closed: Vec<Closed>,
    /// Names of chips that the kernel has, but `/dev` does not show.
    pub hidden: Vec<String>,
}

/// A chip.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Chip {
    /// Name of its device, such as `gpiochip0`.
    pub name: String,
    /// Names of links to the device.
    pub aliases: Vec<String>,
    /// What it is, as its driver says.
    pub label: String,
    /// Its lines by offset.
    pub lines: Vec<LineState>,
}

/// A chip that cannot be opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Closed {
    /// Name of its device.
    pub name: String,
    /// What the kernel answers, as an error number.
    pub errno: i32,
    /// Group of its device, unless that is root's.
    pub group: Option<String>,
}

/// A line as the board has it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LineState {
    /// Number on the chip.
    pub offset: u32,
    /// Its name; empty if it has none.
    pub name: String,
    /// Whether it is an output.
    pub output: bool,
    /// What holds it, as that calls itself, perhaps not at all.
    pub held_by: Option<String>,
    /// Active when low.
    pub active_low: bool,
    /// Pull, if known.
    pub bias: Option<Bias>,
    /// How long a level must last to count [s].
    pub debounce_s: Option<f64>,
}

impl LineState {
    /// Whether this program holds it, in this process or in another.
    pub fn is_ours(&self) -> bool {
        self.held_by
            .as_ref()
            .is_some_and(|holder| holder.starts_with(CONSUMER))
    }
}

impl Board {
    /// The chip that the site file calls `chip`: by the name of its device, or else by its label,
    /// which must be the only one.
    pub fn chip(&self, chip: &str) -> Result<&Chip, Trouble> {
        let name = chip.strip_prefix("/dev/").unwrap_or(chip);
        let called = |known: &String| known == name;
        if let Some(found) = self
            .chips
            .iter()
            .find(|chip| called(&chip.name) || chip.aliases.iter().any(called))
        {
            return Ok(found);
        }
        if let Some(closed) = self.closed.iter().find(|closed| called(&closed.name)) {
            return Err(Trouble::Closed(closed.clone()));
        }
        if self.hidden.iter().any(called) {
            return Err(Trouble::Hidden(name.to_owned()));
        }
        let labelled: Vec<&Chip> = self
            .chips
            .iter()
            .filter(|known| known.label == chip)
            .collect();
        match labelled[..] {
            [only] => Ok(only),
            [] => Err(self.absent(chip)),
            _ => Err(Trouble::LabelOfSeveral(
                labelled.iter().map(|chip| chip.name.clone()).collect(),
            )),
        }
    }

    /// Why a chip is not there: a label cannot be read off a chip that cannot be opened.
    fn absent(&self, chip: &str) -> Trouble {
        if let Some(closed) = self.closed.first() {
            Trouble::Closed(closed.clone())
        } else if let Some(hidden) = self.hidden.first() {
            Trouble::Hidden(hidden.clone())
        } else if self.chips.is_empty() {
            Trouble::NoChips
        } else {
            let offered = self
                .chips
                .iter()
                .map(|chip| (chip.name.clone(), chip.label.clone()));
            Trouble::NoSuchChip {
                chip: chip.to_owned(),
                offered: offered.collect(),
            }
        }
    }

    /// Where a line of the site is on this board, whether or not it is free.
    pub fn locate(&self, wire: &Wire) -> Result<(&Chip, &LineState), Trouble> {
        let chip = self.chip(&wire.chip)?;
        chip.line(&wire.line).map(|line| (chip, line))
    }
}

impl Chip {
    /// The line of that offset, or of that name, which must be the only one.
    fn line(&self, line: &Line) -> Result<&LineState, Trouble> {
        match line {
            Line::Offset(offset) => self
                .lines
                .iter()
                .find(|line| line.offset == *offset)
                .ok_or_else(|| Trouble::BeyondChip {
                    chip: self.name.clone(),
                    lines: self.lines.len(),
                }),
            Line::Named(name) => {
                let named: Vec<&LineState> = self
                    .lines
                    .iter()
                    .filter(|line| line.name == *name)
                    .collect();
                match named[..] {
                    [only] => Ok(only),
                    [] => Err(Trouble::NoSuchName {
                        chip: self.name.clone(),
                        name: name.clone(),
                        offered: self.names(),
                    }),
                    _ => Err(Trouble::NameOfSeveral(
                        named.iter().map(|line| line.offset).collect(),
                    )),
                }
            }
        }
    }

    fn names(&self) -> Vec<String> {
        let names = self.lines.iter().map(|line| line.name.clone());
        names.filter(|name| !name.is_empty()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::daemon::lines::Role;
    use crate::site::ZoneId;

    /// A chip with one line per name.
    fn chip(name: &str, label: &str, lines: &[&str]) -> Chip {
        let lines = (0..).zip(lines).map(|(offset, name)| LineState {
            offset,
            name: (*name).into(),
            ..LineState::default()
        });
        Chip {
            name: name.into(),
            label: label.into(),
            lines: lines.collect(),
            ..Chip::default()
        }
    }

    fn board() -> Board {
        let mut soc = chip("gpiochip0", "soc", &["SDA", "SCL", "", "GPIO3", "GPIO3"]);
        soc.aliases.push("gpiochip4".into());
        Board {
            chips: vec![
                soc,
                chip("gpiochip1", "expander", &["relay-1", "relay-2"]),
                chip("gpiochip2", "expander", &["relay-1", "relay-2"]),
                chip("gpiochip3", "gpiochip1", &["trap"]),
            ],
            ..Board::default()
        }
    }

    fn found(board: &Board, chip: &str, line: Line) -> Result<(String, u32), Trouble> {
        let wire = Wire {
            zone: ZoneId(0),
            name: "walk".into(),
            chip: chip.into(),
            line,
            active_low: false,
            role: Role::Output,
        };
        let (chip, line) = board.locate(&wire)?;
        Ok((chip.name.clone(), line.offset))
    }

    fn named(name: &str) -> Line {
        Line::Named(name.into())
    }

    #[test]
    fn a_line_is_found_by_name_or_label_of_its_chip_and_by_its_offset_or_name() {
        for (chip, line, expected) in [
            ("gpiochip0", Line::Offset(2), ("gpiochip0", 2)),
            ("/dev/gpiochip0", named("SCL"), ("gpiochip0", 1)),
            ("gpiochip4", named("SDA"), ("gpiochip0", 0)),
            ("soc", named("SDA"), ("gpiochip0", 0)),
            ("gpiochip2", named("relay-2"), ("gpiochip2", 1)),
            // A chip's label may be another's name: the name counts.
            ("gpiochip1", Line::Offset(0), ("gpiochip1", 0)),
        ] {
            let (name, offset) = found(&board(), chip, line).unwrap();
            assert_eq!((name.as_str(), offset), expected, "{chip}");
        }
    }

    #[test]
    fn a_label_or_a_line_name_that_two_have_is_refused() {
        assert_eq!(
            found(&board(), "expander", Line::Offset(0)),
            Err(Trouble::LabelOfSeveral(vec![
                "gpiochip1".into(),
                "gpiochip2".into()
            ]))
        );
        assert_eq!(
            found(&board(), "soc", named("GPIO3")),
            Err(Trouble::NameOfSeveral(vec![3, 4]))
        );
    }

    #[test]
    fn lines_without_a_name_are_not_found_by_no_name() {
        assert!(matches!(
            found(&board(), "soc", named("GPIO4")),
            Err(Trouble::NoSuchName { .. })
        ));
    }

    #[test]
    fn a_chip_that_cannot_be_opened_is_not_called_missing() {
        let closed = Closed {
            name: "gpiochip9".into(),
            errno: 13,
            group: None,
        };
        let locked = Board {
            closed: vec![closed.clone()],
            ..board()
        };
        for chip in ["gpiochip9", "some-label"] {
            assert_eq!(
                found(&locked, chip, Line::Offset(0)),
                Err(Trouble::Closed(closed.clone()))
            );
        }
        assert!(found(&locked, "soc", Line::Offset(0)).is_ok());
    }

    #[test]
    fn a_chip_that_the_kernel_has_but_dev_does_not_is_hidden() {
        let sandbox = Board {
            hidden: vec!["gpiochip0".into()],
            ..Board::default()
        };
        for chip in ["gpiochip0", "soc"] {
            assert_eq!(
                found(&sandbox, chip, Line::Offset(0)),
                Err(Trouble::Hidden("gpiochip0".into()))
            );
        }
    }

    #[test]
    fn a_line_is_ours_by_what_its_holder_is_called() {
        let held = |by: Option<&str>| LineState {
            held_by: by.map(Into::into),
            ..LineState::default()
        };
        assert!(held(Some("pilotwire:walk")).is_ours());
        for other in [None, Some(""), Some("gpio-leds")] {
            assert!(!held(other).is_ours());
        }
    }
}
