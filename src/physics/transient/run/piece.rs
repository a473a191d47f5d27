//! A finished stretch of a transient, which can be sampled anywhere within it.

use super::{Course, Flow};

/// From one instant to the next, with everything between.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Piece {
    pub(in super::super) start_s: f64,
    pub(in super::super) end_s: f64,
    pub(in super::super) start: [f64; 2],
    pub(in super::super) end: [f64; 2],
    /// Armature position at the start, and its travel per second.
    pub(in super::super) position: f64,
    pub(in super::super) rate: f64,
    /// The flow at the start.
    pub(in super::super) start_flow: Flow,
    pub(super) shape: Shape,
}

/// The course of the state between the ends.
#[derive(Debug, Clone, Copy)]
pub(super) enum Shape {
    /// In closed form.
    Course(Course),
    /// The cubic through both ends with the slopes there.
    Cubic {
        slopes: [[f64; 2]; 2],
        /// Mean conductance of the one pair that may conduct [S].
        grip_s: Option<f64>,
        /// Logarithm of the part of a departure that is left at the end, where the flux is the only state.
        fade: Option<f64>,
        end_flow: Flow,
    },
}

impl Piece {
    /// Its course, if it is in closed form.
    pub(in super::super) fn course(&self) -> Option<&Course> {
        match &self.shape {
            Shape::Course(course) => Some(course),
            Shape::Cubic { .. } => None,
        }
    }

    /// Mean conductance of the one pair that may conduct [S]; `None` if more than one may.
    pub(super) fn grip_s(&self) -> Option<f64> {
        match &self.shape {
            Shape::Course(_) => None,
            Shape::Cubic { grip_s, .. } => *grip_s,
        }
    }

    /// Logarithm of the part of a departure that is left at the end, where the flux is the only state.
    pub(super) fn fade(&self) -> Option<f64> {
        match &self.shape {
            Shape::Course(_) => None,
            Shape::Cubic { fade, .. } => *fade,
        }
    }

    /// The flow at the end, where it is known.
    pub(in super::super) fn end_flow(&self) -> Option<&Flow> {
        match &self.shape {
            Shape::Course(_) => None,
            Shape::Cubic { end_flow, .. } => Some(end_flow),
        }
    }

    /// State at an instant within it.
    pub(in super::super) fn state_at(&self, t: f64) -> [f64; 2] {
        match &self.shape {
            Shape::Course(course) => course.at(t - self.start_s),
            Shape::Cubic {
                slopes: [m0, m1], ..
            } => {
                let (h, s) = self.place(t);
                [0, 1].map(|k| cubic(self.start[k], self.end[k], h * m0[k], h * m1[k], s))
            }
        }
    }

    /// Length, and the place of an instant as a fraction of it.
    fn place(&self, t: f64) -> (f64, f64) {
        let h = self.end_s - self.start_s;
        (h, if h > 0.0 { (t - self.start_s) / h } else { 0.0 })
    }

    /// Armature position at an instant within it.
    pub(in super::super) fn position_at(&self, t: f64) -> f64 {
        self.position + self.rate * (t - self.start_s)
    }
}

/// Hermite's cubic at `s` in 0…1; `m0`, `m1` are slopes per unit of s.
pub(super) fn cubic(x0: f64, x1: f64, m0: f64, m1: f64, s: f64) -> f64 {
    let r = 1.0 - s;
    let d = x1 - x0;
    x0 + d * s + s * r * ((m0 - d) * r - (m1 - d) * s)
}
