//! The transient link: its reference figures, the batch interface, and laws that hold for any link.

#[path = "transient/batches.rs"]
mod batches;
#[path = "transient/laws.rs"]
mod laws;
#[path = "transient/nocap.rs"]
mod nocap;
#[path = "transient/reference.rs"]
mod reference;
