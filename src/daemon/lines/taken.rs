//! Which lines a service drives, written down so that they can be driven dark after its death.
//!
//! The site file may have changed since, or be in the middle of being edited.

use std::io::Write;
use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::site::{Line, ZoneId};

use super::{Role, Wire};

const FILE: &str = "lines.json";

#[derive(Serialize, Deserialize)]
struct Taken {
    zone: String,
    chip: String,
    offset: Option<u32>,
    name: Option<String>,
    active_low: bool,
}

/// Writes down the lines that are driven.
///
/// # Errors
/// If the folder does not take it.
pub fn write(folder: &Path, wires: &[Wire]) -> std::io::Result<()> {
    let taken: Vec<Taken> = wires
        .iter()
        .map(|wire| {
            let (offset, name) = match &wire.line {
                Line::Offset(offset) => (Some(*offset), None),
                Line::Named(name) => (None, Some(name.clone())),
            };
            Taken {
                zone: wire.name.clone(),
                chip: wire.chip.clone(),
                offset,
                name,
                active_low: wire.active_low,
            }
        })
        .collect();
    // Whole or not at all: the old one is as good as any until the new one is there.
    let new = folder.join("lines.new");
    let mut file = std::fs::File::create(&new)?;
    file.write_all(&serde_json::to_vec(&taken)?)?;
    file.sync_all()?;
    std::fs::rename(new, folder.join(FILE))
}

/// The lines that were driven, and are not among `wires`.
pub fn others(folder: &Path, wires: &[Wire]) -> Vec<Wire> {
    let taken: Vec<Taken> = std::fs::read(folder.join(FILE))
        .ok()
        .and_then(|bytes| serde_json::from_slice(&bytes).ok())
        .unwrap_or_default();
    let as_wire = |taken: Taken| {
        let line = match (taken.offset, taken.name) {
            (Some(offset), _) => Line::Offset(offset),
            (None, name) => Line::Named(name?),
        };
        Some(Wire {
            zone: ZoneId(0),
            name: taken.zone,
            chip: taken.chip,
            line,
            active_low: taken.active_low,
            role: Role::Output,
        })
    };
    taken
        .into_iter()
        .filter_map(as_wire)
        .filter(|wire| {
            !wires
                .iter()
                .any(|other| other.chip == wire.chip && other.line == wire.line)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_driven_is_known_after_the_site_file_has_changed() {
        let folder = std::env::temp_dir().join(format!("pilotwire-taken-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let wire = |name: &str, line: Line| Wire {
            zone: ZoneId(3),
            name: name.into(),
            chip: "gpiochip0".into(),
            line,
            active_low: true,
            role: Role::Output,
        };
        let was = [
            wire("walk", Line::Offset(17)),
            wire("gate", Line::Named("RELAY2".into())),
        ];
        write(&folder, &was).unwrap();
        let is = [wire("walk", Line::Offset(27)), was[1].clone()];
        let others = others(&folder, &is);
        assert_eq!(others.len(), 1);
        assert_eq!(
            (
                others[0].name.as_str(),
                &others[0].line,
                others[0].active_low
            ),
            ("walk", &Line::Offset(17), true)
        );
        std::fs::write(folder.join(FILE), "no list at all").unwrap();
        assert!(super::others(&folder, &is).is_empty());
        std::fs::remove_dir_all(folder).unwrap();
    }
}
