//! Why a yard cannot be planned or judged.

use std::fmt;

use crate::almanac::AlmanacError;
use crate::link::Undecided;

#[derive(Debug, Clone, PartialEq)]
pub enum NoAnswer {
    /// The year lies outside the almanac.
    Almanac(AlmanacError),
    /// A link cannot be judged.
    Undecided(Undecided),
}

impl From<AlmanacError> for NoAnswer {
    fn from(error: AlmanacError) -> Self {
        Self::Almanac(error)
    }
}

impl From<Undecided> for NoAnswer {
    fn from(error: Undecided) -> Self {
        Self::Undecided(error)
    }
}

impl fmt::Display for NoAnswer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Almanac(error) => error.fmt(f),
            Self::Undecided(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for NoAnswer {}
