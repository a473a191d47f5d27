//! Local time: the cases that site owners trip over, a second opinion on every zone of the machine,
//! and what happens when the database or the name is wrong.

mod cases;
mod database;
pub(crate) mod frozen;
mod second_opinion;
