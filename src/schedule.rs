//! When every zone is lit, evening by evening.
//!
//! ```text
//! site file ─ windows ─┐
//! dates ─ sun table ───┼─ evening ─► lit or why not ─┐
//! dates ─ clock rules ─┘                             ├─ plan ─► rows in UTC, each with its reasons
//! links ─ what each slave does ──────────────────────┘
//! ```
//!
//! An evening is named by its local date D and holds the local clock times from D 12:00 to the next 12:00. All
//! times are resolved to UTC and compared there; the plan and everything after it are UTC. Local time
//! (`civil_time`) exists only in this module and where times are printed.
//!
//! The date is that of the solar noon before the evening, so a dusk after midnight belongs to the evening
//! before it. That holds for Kiritimati, a day ahead of its sun, and for Kashgar, three hours ahead of it.

mod asleep;
mod evening;
mod no_answer;
mod plan;
mod reason;
mod sky;
mod windows;

pub use evening::{Evening, evening_at};
pub use no_answer::NoAnswer;
pub use plan::{Plan, Row, month_of, plan};
pub use reason::{Reason, clock};
pub(crate) use reason::{event_name, span};
pub use sky::{Sky, skies};
