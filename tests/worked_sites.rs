//! Four yards worked by hand and by circuit simulation, judged by the program itself.

#[path = "worked_sites/program.rs"]
mod program;
#[path = "worked_sites/table.rs"]
mod table;
#[path = "worked_sites/verdicts.rs"]
mod verdicts;
