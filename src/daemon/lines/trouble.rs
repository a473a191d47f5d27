//! What can be wrong with a line, and what to do about it.

use rustix::io::Errno;

use crate::site::{listed, nearest};

use super::board::{CONSUMER, Closed};
use super::{LineFault, Wire};

/// Group that the devices belong to on boards that have one for them.
const GROUP: &str = "pilotwire-gpio";

/// What is wrong with a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Trouble {
    /// The machine has no GPIO chip at all.
    NoChips,
    /// No chip has that name or label.
    NoSuchChip {
        /// The chip asked for.
        chip: String,
        /// Names and labels of those there are.
        offered: Vec<(String, String)>,
    },
    /// Several chips, of these names, have that label.
    LabelOfSeveral(Vec<String>),
    /// The chip cannot be opened.
    Closed(Closed),
    /// The kernel has this chip, but `/dev` does not show it.
    Hidden(String),
    /// The chip has fewer lines.
    BeyondChip {
        /// Its name.
        chip: String,
        /// How many it has.
        lines: usize,
    },
    /// The chip has no line of that name.
    NoSuchName {
        /// The chip's name.
        chip: String,
        /// The name asked for.
        name: String,
        /// The names there are.
        offered: Vec<String>,
    },
    /// Several lines, of these offsets, have that name.
    NameOfSeveral(Vec<u32>),
    /// Another zone has the same line, under another name.
    Shared(String),
    /// Somebody else holds the line, as it calls itself, perhaps not at all.
    Busy(String),
    /// The chip was there, and is gone.
    Gone,
    /// The kernel refuses, with this error number.
    Refused(i32),
}

impl Trouble {
    /// From the answer to a call.
    pub(super) fn of(errno: i32) -> Self {
        if errno == Errno::NODEV.raw_os_error() {
            Self::Gone
        } else if errno == Errno::BUSY.raw_os_error() {
            Self::Busy(String::new())
        } else {
            Self::Refused(errno)
        }
    }

    /// In a word or two, for a first line.
    pub fn in_short(&self) -> &'static str {
        match self {
            Self::NoChips
            | Self::NoSuchChip { .. }
            | Self::BeyondChip { .. }
            | Self::NoSuchName { .. }
            | Self::Gone => "missing",
            Self::LabelOfSeveral(_) | Self::NameOfSeveral(_) | Self::Shared(_) => "ambiguous",
            Self::Busy(_) => "busy",
            Self::Closed(_) | Self::Hidden(_) => "forbidden",
            Self::Refused(_) => "refused",
        }
    }

    /// What is said of `wire`.
    pub fn of_wire(&self, wire: &Wire) -> LineFault {
        let (what, remedy) = self.words();
        LineFault {
            what: format!("{}: {what}", wire.place()),
            remedy,
        }
    }

    /// What is wrong, and what to do.
    pub(crate) fn words(&self) -> (String, String) {
        match self {
            Self::NoChips => (
                "this machine has no GPIO chip".into(),
                "run it on a board with GPIO lines and a kernel that has the driver of its chip; \
                 anywhere else, `pilotwire run --print` says what it would switch"
                    .into(),
            ),
            Self::NoSuchChip { chip, offered } => {
                let words = offered.iter().flat_map(|(name, label)| [name, label]);
                let meant = nearest(chip, words.map(String::as_str));
                let meant = meant.map_or_else(String::new, |near| format!("write `{near}`, or "));
                let chips = offered
                    .iter()
                    .map(|(name, label)| format!("{name} ({label})"));
                (
                    "no chip has this name or label".into(),
                    format!(
                        "{meant}plug it in; the board has {}",
                        chips.collect::<Vec<_>>().join(", ")
                    ),
                )
            }
            Self::LabelOfSeveral(names) => (
                format!("{} chips have this label", names.len()),
                format!(
                    "write the name of the one that is meant: {}",
                    listed(names.iter().map(String::as_str), "or")
                ),
            ),
            Self::Closed(closed) => closed_words(closed),
            Self::Hidden(name) => (
                format!("the kernel has {name}, but /dev does not show it (ENOENT)"),
                format!(
                    "give the sandbox of the service the device: in `systemctl edit pilotwire`, \
                     below [Service], `BindPaths=/dev/{name}` and `DeviceAllow=char-gpiochip rw`, \
                     or `PrivateDevices=no`"
                ),
            ),
            Self::BeyondChip { chip, lines } => (
                match lines.checked_sub(1) {
                    None => format!("{chip} has no lines"),
                    Some(last) => format!("{chip} has the lines 0 to {last} only"),
                },
                "give the offset or the name of one of them; `pilotwire lines` lists them".into(),
            ),
            Self::NoSuchName {
                chip,
                name,
                offered,
            } => (
                format!("{chip} has no line of this name"),
                match nearest(name, offered.iter().map(String::as_str)) {
                    Some(near) => format!("write `{near}`, or the offset"),
                    None if offered.is_empty() => {
                        "write its offset: no line of this chip has a name".into()
                    }
                    None => {
                        "write one that it has, or the offset; `pilotwire lines` lists them".into()
                    }
                },
            ),
            Self::NameOfSeveral(offsets) => {
                let offsets: Vec<String> = offsets.iter().map(u32::to_string).collect();
                (
                    format!("{} lines have this name", offsets.len()),
                    format!(
                        "write the offset of the one that is meant: {}",
                        listed(offsets.iter().map(String::as_str), "or")
                    ),
                )
            }
            Self::Shared(zone) => (
                format!("it is the same line as that of {zone}"),
                "give each zone a line of its own".into(),
            ),
            Self::Busy(holder) => busy_words(holder),
            Self::Gone => (
                "its chip is gone (ENODEV)".into(),
                "plug it in again; it is sought at every look".into(),
            ),
            Self::Refused(errno) => (
                format!("the kernel refuses it: {}", said(*errno)),
                "look for its reason with `journalctl -k`, and whether `gpioinfo` shows the line \
                 in another use"
                    .into(),
            ),
        }
    }
}

fn busy_words(holder: &str) -> (String, String) {
    if holder.is_empty() {
        return (
            "busy, held by something without a name".into(),
            "free it: a driver or another program has it; or take another line".into(),
        );
    }
    let what = format!("busy, held by {holder}");
    let remedy = if holder.starts_with(CONSUMER) {
        "stop the pilotwire that runs already: `systemctl stop pilotwire`"
    } else {
        "end that program, or free the line in the board's configuration; or take another line"
    };
    (what, remedy.into())
}

fn closed_words(closed: &Closed) -> (String, String) {
    let name = &closed.name;
    if closed.errno == Errno::ACCESS.raw_os_error() {
        let rule = format!(
            "SUBSYSTEM==\"gpio\", KERNEL==\"gpiochip[0-9]*\", GROUP=\"{GROUP}\", MODE=\"0660\""
        );
        let remedy = match &closed.group {
            Some(group) => format!(
                "put the user into its group, `usermod -aG {group} USER`, for a service \
                 `SupplementaryGroups={group}`"
            ),
            None => format!(
                "only root may: give it to a group with the udev rule `{rule}` in \
                 /etc/udev/rules.d, and put the user into that group"
            ),
        };
        (format!("/dev/{name}: permission denied (EACCES)"), remedy)
    } else if closed.errno == Errno::PERM.raw_os_error() {
        (
            format!("/dev/{name}: the sandbox of the service forbids it (EPERM)"),
            "allow it: in `systemctl edit pilotwire`, below [Service], \
             `DeviceAllow=char-gpiochip rw`"
                .into(),
        )
    } else if closed.errno == Errno::INVAL.raw_os_error() {
        (
            format!("/dev/{name}: the kernel does not know this kind of request (EINVAL)"),
            "use Linux 5.10 or newer".into(),
        )
    } else {
        (
            format!("/dev/{name} cannot be opened: {}", said(closed.errno)),
            "look for its reason with `journalctl -k`".into(),
        )
    }
}

fn said(errno: i32) -> std::io::Error {
    std::io::Error::from_raw_os_error(errno)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::daemon::lines::Role;
    use crate::site::{Line, ZoneId};

    fn said_of(trouble: &Trouble) -> String {
        let wire = Wire {
            zone: ZoneId(0),
            name: "walk".into(),
            chip: "gpiochip0".into(),
            line: Line::Offset(17),
            active_low: false,
            role: Role::Output,
        };
        trouble.of_wire(&wire).to_string()
    }

    fn closed(errno: i32, group: Option<&str>) -> Trouble {
        Trouble::Closed(Closed {
            name: "gpiochip0".into(),
            errno,
            group: group.map(Into::into),
        })
    }

    #[test]
    fn every_trouble_names_chip_and_line_and_says_what_to_do() {
        for (trouble, said) in [
            (
                Trouble::NoChips,
                "chip gpiochip0, line 17: this machine has no GPIO chip; run it on a board with GPIO lines and a kernel that has the driver of its chip; anywhere else, `pilotwire run --print` says what it would switch",
            ),
            (
                Trouble::NoSuchChip {
                    chip: "gpiochip0".into(),
                    offered: vec![("gpiochip2".into(), "expander".into())],
                },
                "chip gpiochip0, line 17: no chip has this name or label; write `gpiochip2`, or plug it in; the board has gpiochip2 (expander)",
            ),
            (
                Trouble::LabelOfSeveral(vec!["gpiochip1".into(), "gpiochip2".into()]),
                "chip gpiochip0, line 17: 2 chips have this label; write the name of the one that is meant: `gpiochip1` or `gpiochip2`",
            ),
            (
                closed(13, Some("gpio")),
                "chip gpiochip0, line 17: /dev/gpiochip0: permission denied (EACCES); put the user into its group, `usermod -aG gpio USER`, for a service `SupplementaryGroups=gpio`",
            ),
            (
                closed(13, None),
                "chip gpiochip0, line 17: /dev/gpiochip0: permission denied (EACCES); only root may: give it to a group with the udev rule `SUBSYSTEM==\"gpio\", KERNEL==\"gpiochip[0-9]*\", GROUP=\"pilotwire-gpio\", MODE=\"0660\"` in /etc/udev/rules.d, and put the user into that group",
            ),
            (
                closed(1, None),
                "chip gpiochip0, line 17: /dev/gpiochip0: the sandbox of the service forbids it (EPERM); allow it: in `systemctl edit pilotwire`, below [Service], `DeviceAllow=char-gpiochip rw`",
            ),
            (
                closed(22, None),
                "chip gpiochip0, line 17: /dev/gpiochip0: the kernel does not know this kind of request (EINVAL); use Linux 5.10 or newer",
            ),
            (
                Trouble::Hidden("gpiochip0".into()),
                "chip gpiochip0, line 17: the kernel has gpiochip0, but /dev does not show it (ENOENT); give the sandbox of the service the device: in `systemctl edit pilotwire`, below [Service], `BindPaths=/dev/gpiochip0` and `DeviceAllow=char-gpiochip rw`, or `PrivateDevices=no`",
            ),
            (
                Trouble::BeyondChip {
                    chip: "gpiochip0".into(),
                    lines: 8,
                },
                "chip gpiochip0, line 17: gpiochip0 has the lines 0 to 7 only; give the offset or the name of one of them; `pilotwire lines` lists them",
            ),
            (
                Trouble::NoSuchName {
                    chip: "gpiochip0".into(),
                    name: "GPIO17".into(),
                    offered: vec!["SDA".into(), "GPIO_17".into()],
                },
                "chip gpiochip0, line 17: gpiochip0 has no line of this name; write `GPIO_17`, or the offset",
            ),
            (
                Trouble::NameOfSeveral(vec![3, 9]),
                "chip gpiochip0, line 17: 2 lines have this name; write the offset of the one that is meant: `3` or `9`",
            ),
            (
                Trouble::Shared("orchard".into()),
                "chip gpiochip0, line 17: it is the same line as that of orchard; give each zone a line of its own",
            ),
            (
                Trouble::Busy("gpio-leds".into()),
                "chip gpiochip0, line 17: busy, held by gpio-leds; end that program, or free the line in the board's configuration; or take another line",
            ),
            (
                Trouble::Busy("pilotwire:walk,orchard".into()),
                "chip gpiochip0, line 17: busy, held by pilotwire:walk,orchard; stop the pilotwire that runs already: `systemctl stop pilotwire`",
            ),
            (
                Trouble::Gone,
                "chip gpiochip0, line 17: its chip is gone (ENODEV); plug it in again; it is sought at every look",
            ),
            (
                Trouble::Refused(5),
                "chip gpiochip0, line 17: the kernel refuses it: Input/output error (os error 5); look for its reason with `journalctl -k`, and whether `gpioinfo` shows the line in another use",
            ),
        ] {
            assert_eq!(said_of(&trouble), said);
        }
    }

    #[test]
    fn answers_of_the_kernel_are_told_apart() {
        assert_eq!(Trouble::of(19), Trouble::Gone);
        assert_eq!(Trouble::of(16), Trouble::Busy(String::new()));
        assert_eq!(Trouble::of(5), Trouble::Refused(5));
    }
}
