//! What is computed for long: the sun's times, and circuits from transformer to relay coil.
//!
//! A package of its own so that it can be built for speed, while the service around it is built small: the
//! compiler takes one level of optimisation a package. It knows nothing of site files, zones or clocks.

pub mod almanac;
pub mod circuit;
pub mod transient;

#[cfg(test)]
#[path = "../../tests/support/cases.rs"]
mod cases;
