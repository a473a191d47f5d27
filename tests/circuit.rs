//! The link's electrical promises: published tables, the worked sites, and laws that hold for any
//! input.

#[path = "circuit/laws.rs"]
mod laws;
#[path = "circuit/published_tables.rs"]
mod published_tables;
#[path = "circuit/worked_sites.rs"]
mod worked_sites;
