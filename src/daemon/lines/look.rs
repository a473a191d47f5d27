//! One look at the machine's GPIO chips. It requests nothing and changes nothing.
//!
//! The kernel's own list in `/sys/bus/gpio/devices` shows a chip that systemd hides from the service, which
//! a missing one is not. Tried with systemd 252 (`tests/board/run sandbox`): `DevicePolicy=closed` gives
//! EPERM until `DeviceAllow=char-gpiochip`, of which `r` is enough to drive; `PrivateDevices=yes` hides the
//! chip, and needs both `BindPaths=/dev/gpiochip0` and that `DeviceAllow`.

use std::collections::BTreeSet;
use std::fs;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

use gpiocdev::chip;
use gpiocdev::line::{Bias as Pull, Direction, Info};
use gpiocdev_uapi::Error as UapiError;

use crate::site::Bias;

use super::board::{Board, Chip, Closed, LineState};

/// Where the kernel lists the chips it has, whatever `/dev` shows.
const KERNELS_LIST: &str = "/sys/bus/gpio/devices";

/// What the machine offers right now.
pub fn look() -> Board {
    let mut board = Board::default();
    for path in chip::chips().unwrap_or_default() {
        match chip_at(&path) {
            Ok(chip) => board.chips.push(chip),
            Err(error) => board.closed.push(Closed {
                name: name_of(&path),
                errno: errno(&error),
                group: group_of(&path),
            }),
        }
    }
    for (alias, path) in aliases() {
        let name = name_of(&path);
        if let Some(chip) = board.chips.iter_mut().find(|chip| chip.name == name) {
            chip.aliases.push(alias);
        }
    }
    let shown: BTreeSet<&String> = board
        .chips
        .iter()
        .map(|chip| &chip.name)
        .chain(board.closed.iter().map(|closed| &closed.name))
        .collect();
    let hidden = names_in(Path::new(KERNELS_LIST))
        .into_iter()
        .filter(|name| name.starts_with("gpiochip") && !shown.contains(name));
    board.hidden = hidden.collect();
    board
}

/// What the kernel answered, as an error number; 0 where it was not the kernel.
pub(super) fn errno(error: &gpiocdev::Error) -> i32 {
    match error {
        gpiocdev::Error::Os(errno) | gpiocdev::Error::Uapi(_, UapiError::Os(errno)) => errno.0,
        _ => 0,
    }
}

fn chip_at(path: &Path) -> gpiocdev::Result<Chip> {
    let chip = gpiocdev::Chip::from_path(path)?;
    let label = chip.info()?.label;
    let lines = chip.line_info_iter()?.map(|info| info.map(state));
    Ok(Chip {
        name: chip.name(),
        aliases: Vec::new(),
        label,
        lines: lines.collect::<gpiocdev::Result<_>>()?,
    })
}

fn state(info: Info) -> LineState {
    LineState {
        offset: info.offset,
        name: info.name,
        output: info.direction == Direction::Output,
        held_by: info.used.then_some(info.consumer),
        active_low: info.active_low,
        bias: info.bias.map(|pull| match pull {
            Pull::PullUp => Bias::PullUp,
            Pull::PullDown => Bias::PullDown,
            Pull::Disabled => Bias::Disabled,
        }),
        debounce_s: info
            .debounce_period
            .filter(|period| !period.is_zero())
            .map(|period| period.as_secs_f64()),
    }
}

/// Links in `/dev` to a chip, and the chip.
fn aliases() -> Vec<(String, PathBuf)> {
    let links = names_in(Path::new("/dev")).into_iter().filter(|name| {
        fs::symlink_metadata(Path::new("/dev").join(name)).is_ok_and(|file| file.is_symlink())
    });
    links
        .filter_map(|name| {
            let path = chip::is_chip(Path::new("/dev").join(&name)).ok()?;
            Some((name, path))
        })
        .collect()
}

/// The group that a device belongs to, unless that is root's.
fn group_of(path: &Path) -> Option<String> {
    let gid = fs::metadata(path).ok()?.gid();
    let groups = fs::read_to_string("/etc/group").ok()?;
    let name = groups.lines().find_map(|line| {
        let mut parts = line.split(':');
        let name = parts.next()?;
        (parts.nth(1)?.parse() == Ok(gid)).then(|| name.to_owned())
    });
    name.filter(|_| gid != 0)
}

fn name_of(path: &Path) -> String {
    path.file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

/// Names in a folder, in order; none if it cannot be read.
fn names_in(folder: &Path) -> BTreeSet<String> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect()
}
