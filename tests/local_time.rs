//! Local time: the cases that surprise site owners, a second opinion on every zone of the machine, and the
//! behaviour with a wrong database or name.

mod cases;
mod database;
pub(crate) mod frozen;
mod second_opinion;
