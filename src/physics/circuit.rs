//! The link and its loads as numbers: wire, supply, rectifier, relay, trunk and lamps.
//!
//! ```text
//!  supply ──┬── trunk ── lamps (near zone)
//!           │
//!           └── pilot wire ── rectifier ─┬─ capacitor ─┬─ relay coil
//!                                        └─────────────┘      ┊
//!                                   far supply ── contact ────┘── trunk ── lamps (far zone)
//! ```
//!
//! Plain functions of numbers; nothing here knows a site, a date or a file. A bare number ends in
//! its unit. One component of the circuit is one file, which opens with its equation, the source,
//! where it holds and what it leaves out.

mod bisection;
pub mod copper;
pub mod diode;
pub mod lamp;
pub mod rectifier;
pub mod relay;
pub mod series_resistor;
pub mod supply;
pub mod trunk;
pub mod wire;
