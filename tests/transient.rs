//! The transient link: its reference figures, and laws that hold for any link.

#[path = "transient/reference.rs"]
mod reference;
