//! All tests that see the program from outside, in one binary, so that the library is linked once. Each promise
//! is a module: `cargo test --test all sheet::` runs the tests of the sheet.

mod support;

mod almanac;
mod cautions;
mod chain;
mod circuit;
mod commissioning;
mod legal_links;
mod link;
mod link_laws;
mod local_time;
mod one_judge;
mod page;
mod picture;
mod readme;
mod rehearsal;
mod schema;
mod service;
mod sheet;
mod site_reader;
mod sweep;
mod times;
mod transient;
mod walls;
mod weak_links;
mod worked_sites;
mod wrong_files;
