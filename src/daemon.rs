//! What `pilotwire run` does, but for waiting.
//!
//! ```text
//! now, plan, holds, senses ─ controller (pure) ─► what every zone should be, and why
//!                                     │
//!        engine: compare, drive the lines, read them back, record, say when to look again
//!           │                  │                   │
//!         lines              store              control
//!    GPIO · printed ·    SQLite, or memory   requests and answers,
//!    the simulated yard   if that is lost     one line of JSON each
//! ```
//!
//! The engine waits for nothing and asks no clock: the service ([`crate::service`]) and the rehearsal
//! tell it what time it is. Every wake is only a hint: it works everything out again, and so a step of
//! the clock, a suspended board, a restart and a missed wake are all the same case.

pub mod ahead;
pub mod control;
pub mod controller;
pub mod engine;
pub mod lines;
pub mod moment;
pub mod planned;
pub mod readings;
pub mod store;
pub mod watch;
