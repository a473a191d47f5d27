//! The transient link: its reference figures, the batch interface, and laws that hold for any link.

mod batches;
mod laws;
mod nocap;
mod reference;
mod slow;
