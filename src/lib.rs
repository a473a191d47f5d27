//! Relay-linked low-voltage lighting zones: sun, schedule, link physics and verdicts.

pub mod almanac;
pub mod circuit;
pub mod schedule;
