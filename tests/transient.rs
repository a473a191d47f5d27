//! The transient link: its reference figures, the batch interface, and laws that hold for any link.

mod batches;
mod laws;
mod leaks;
mod nocap;
mod reference;
