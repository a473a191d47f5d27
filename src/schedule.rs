//! When the zones of a site are switched: the one place where local time exists.

pub mod local_time;
