//! Functions shared by the tests of several promises.

pub(crate) mod cases;
pub(crate) mod kept;
pub(crate) mod program;
pub(crate) mod read;
pub(crate) mod scenarios;
pub(crate) mod scratch;
pub(crate) mod yards;
