//! Relay-linked low-voltage lighting zones: sun, schedule, link physics and verdicts.

pub use pilotwire_physics::{almanac, circuit, transient};

#[cfg(test)]
#[path = "../tests/support/cases.rs"]
mod cases;
pub mod cautions;
pub mod chain;
pub mod check;
pub mod civil_time;
pub mod commissioning;
pub mod daemon;
mod fuse_size;
pub mod lamp_run;
pub mod link;
pub mod page;
pub mod parallel;
pub mod parts;
pub mod picture;
pub mod rehearsal;
pub mod report;
pub mod schedule;
pub mod season;
pub mod service;
pub mod sheet;
pub mod site;
pub mod sweep;
mod text;
mod wrap;
