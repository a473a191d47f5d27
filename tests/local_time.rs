//! Local time: the cases that site owners trip over, a second opinion on every zone of the machine,
//! and what happens when the database or the name is wrong.

#[path = "local_time/cases.rs"]
mod cases;
#[path = "local_time/database.rs"]
mod database;
#[path = "local_time/frozen.rs"]
mod frozen;
#[path = "local_time/second_opinion.rs"]
mod second_opinion;
