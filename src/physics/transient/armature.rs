//! The relay's armature: driven or let go by the coil current, under way, closed or open.
//!
//! ```text
//!   driven: 0→1 at i ≥ I_operate, 1→0 at i ≤ I_release
//!   p: 0→1 in t_close while driven, 1→0 in t_open while not
//!   contact: closes when p arrives at 1, opens when p arrives at 0
//!   coil: flux λ = L(p)·i,  L(p) = L_open + (L_closed − L_open)·p
//! ```
//!
//! Source: constant ampere-turns (relay makers' notes on coil temperature), so the thresholds are
//! currents and do not move with temperature; the flux is the state, so the current falls while the
//! armature closes, as real coils show.
//! Holds: two-state relays. Leaves out: mass and spring (the travel is uniform); bounce, which is
//! added to the first closing where a settled contact is asked for.

use super::Coil;

/// Position and direction of the armature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Armature {
    /// Driven towards closing.
    pub(super) driven: bool,
    /// Position, 0 open … 1 closed.
    pub(super) position: f64,
    pub(super) closed: bool,
}

/// A change of the contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Happening {
    Driven,
    Released,
    Closed,
    Opened,
}

impl Armature {
    pub(super) const AT_REST: Self = Self {
        driven: false,
        position: 0.0,
        closed: false,
    };

    /// Position per second.
    pub(super) fn rate(&self, coil: &Coil) -> f64 {
        match (self.driven, self.position) {
            (true, p) if p < 1.0 => 1.0 / coil.close_s,
            (false, p) if p > 0.0 => -1.0 / coil.open_s,
            _ => 0.0,
        }
    }

    /// Time until it arrives [s]; `None` at rest.
    pub(super) fn arrives_in_s(&self, coil: &Coil) -> Option<f64> {
        match (self.driven, self.position) {
            (true, p) if p < 1.0 => Some((1.0 - p) * coil.close_s),
            (false, p) if p > 0.0 => Some(p * coil.open_s),
            _ => None,
        }
    }

    /// The current at which it would turn round, and on which side of it the current is now: +1 below.
    pub(super) fn threshold(&self, coil: &Coil) -> (f64, f64) {
        if self.driven {
            (coil.release_a, -1.0)
        } else {
            (coil.operate_a, 1.0)
        }
    }

    /// Turns to the other direction.
    pub(super) fn turn(&mut self) -> Happening {
        self.driven = !self.driven;
        if self.driven {
            Happening::Driven
        } else {
            Happening::Released
        }
    }

    /// Stops at the end of its travel; returns what that does to the contact.
    pub(super) fn arrive(&mut self) -> Option<Happening> {
        self.position = if self.driven { 1.0 } else { 0.0 };
        let happening = match (self.driven, self.closed) {
            (true, false) => Some(Happening::Closed),
            (false, true) => Some(Happening::Opened),
            _ => None,
        };
        self.closed = self.driven;
        happening
    }
}

impl Coil {
    /// Inductance at an armature position [H].
    pub(super) fn inductance_h(&self, position: f64) -> f64 {
        self.open_h + (self.closed_h - self.open_h) * position
    }
}
