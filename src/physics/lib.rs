//! The long calculations: the sun's times, and circuits from transformer to relay coil.
//!
//! A package of its own, because the compiler takes one optimisation level per package: this one is built for
//! speed, the service around it for size. It knows nothing of site files, zones or clocks.
//!
//! Why small: the kernel maps sixteen pages around each one that is touched, so nearly all of the text stays
//! in memory however little of it runs. Measured idle, one link worked out: 8.3 to 8.8 MB with everything at
//! `opt-level = 3`, of them 4.6 MB text and 0.7 MB the service's own; 7.5 to 7.6 MB with the crates at `s`.
//! Since page and readings are in: 8.0 to 8.1 MB with the program's own code at 2, 7.5 to 7.9 MB with all of
//! it at `s` and SQLite without what the store has no use for (`.cargo/config.toml`). With this package at
//! `s` a transient took half as long again.
//!
//! The program re-exports the three modules under their own names. They do not use types of the site file; its
//! schema has its own types for the three words that it reads into types of this package.

pub mod almanac;
pub mod circuit;
pub mod transient;

#[cfg(test)]
#[path = "../../tests/support/cases.rs"]
mod cases;
