//! The link's electrical promises: published tables, the worked sites, and laws that hold for any
//! input.

mod laws;
mod published_tables;
mod worked_sites;
