//! What the site file says of a line.

use std::time::Duration;

use crate::site::{Bias, Line, Site, ZoneId};

/// A line of the site, driven or read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wire {
    /// Whose.
    pub zone: ZoneId,
    /// What the zone is called.
    pub name: String,
    /// Name or label of the chip.
    pub chip: String,
    /// The line.
    pub line: Line,
    /// Lit when low.
    pub active_low: bool,
    /// Driven or read.
    pub role: Role,
}

/// Whether a line is driven or read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Driven.
    Output,
    /// Read.
    Input {
        /// Pull.
        bias: Bias,
        /// How long a level must last to count.
        debounce: Duration,
    },
}

impl Role {
    /// `output`, `input`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Output => "output",
            Self::Input { .. } => "input",
        }
    }
}

impl Wire {
    /// `chip gpiochip0, line 17`, as messages call it.
    pub fn place(&self) -> String {
        format!("chip {}, line {}", self.chip, said(&self.line))
    }
}

/// A line as the site file writes it.
fn said(line: &Line) -> String {
    match line {
        Line::Offset(offset) => offset.to_string(),
        Line::Named(name) => format!("`{name}`"),
    }
}

/// The lines that the board drives, in the order of the file.
pub fn outputs(site: &Site) -> Vec<Wire> {
    let wires = site.outputs.iter().map(|output| Wire {
        zone: output.zone,
        name: site[output.zone].name.clone(),
        chip: output.chip.clone(),
        line: output.line.clone(),
        active_low: output.active_low,
        role: Role::Output,
    });
    wires.collect()
}

/// The lines that the board reads, in the order of the file.
pub fn inputs(site: &Site) -> Vec<Wire> {
    let wires = site.inputs.iter().map(|input| Wire {
        zone: input.zone,
        name: site[input.zone].name.clone(),
        chip: input.chip.clone(),
        line: input.line.clone(),
        active_low: input.active_low,
        role: Role::Input {
            bias: input.bias,
            debounce: Duration::try_from_secs_f64(input.debounce_s).unwrap_or_default(),
        },
    });
    wires.collect()
}
