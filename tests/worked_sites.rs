//! Four yards worked by hand and by circuit simulation, judged by the program itself.

mod program;
mod table;
mod verdicts;
