//! The lines that a board drives and reads.

use std::fmt;
use std::os::fd::BorrowedFd;

use crate::site::ZoneId;

pub mod board;
mod gpio;
mod look;
mod printed;
mod trouble;
mod wire;

pub use gpio::GpioLines;
pub use look::look;
pub mod taken;

pub use printed::Printed;
pub use trouble::Trouble;
pub use wire::{Role, Wire, inputs, outputs};

/// Why a line does not do what it should, and what to do about it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LineFault {
    /// What is wrong, with chip and line in it.
    pub what: String,
    /// What to do.
    pub remedy: String,
}

impl fmt::Display for LineFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.what, self.remedy)
    }
}

impl std::error::Error for LineFault {}

/// What a line says, or why it says nothing.
pub type Level = Result<bool, LineFault>;

/// The switched lines of a yard: those of GPIO chips, printed ones, or those of a simulated yard.
///
/// Levels are those of the zone: true is lit, whatever the line's polarity. A zone without a line does
/// not occur.
pub trait Lines {
    /// Drives the outputs to `levels`, which holds every output of the site, those of one chip
    /// together; gives back what is wrong with those that could not be driven. A line that was lost is
    /// sought again.
    fn drive(&mut self, levels: &[(ZoneId, bool)]) -> Vec<(ZoneId, LineFault)>;

    /// What the outputs are, as the board sees them.
    fn read_back(&mut self) -> Vec<(ZoneId, Level)>;

    /// What the inputs say.
    fn senses(&mut self) -> Vec<(ZoneId, Level)>;

    /// What becomes readable when an input changes.
    fn wakers(&self) -> Vec<BorrowedFd<'_>> {
        Vec::new()
    }

    /// Takes away what made the wakers readable.
    fn drain(&mut self) {}

    /// Whether an input may change without waking anybody, so that somebody must look now and then.
    fn must_be_watched(&self) -> bool {
        false
    }
}

impl<L: Lines + ?Sized> Lines for Box<L> {
    fn drive(&mut self, levels: &[(ZoneId, bool)]) -> Vec<(ZoneId, LineFault)> {
        (**self).drive(levels)
    }

    fn read_back(&mut self) -> Vec<(ZoneId, Level)> {
        (**self).read_back()
    }

    fn senses(&mut self) -> Vec<(ZoneId, Level)> {
        (**self).senses()
    }

    fn wakers(&self) -> Vec<BorrowedFd<'_>> {
        (**self).wakers()
    }

    fn drain(&mut self) {
        (**self).drain();
    }

    fn must_be_watched(&self) -> bool {
        (**self).must_be_watched()
    }
}
