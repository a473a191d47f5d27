//! Where a text is shown: how wide it is, and whether it takes colours.

use std::io::IsTerminal;
use std::os::fd::AsFd;

/// Where there is no terminal, and where it does not say how wide it is [columns].
const USUAL: usize = 80;

/// Width and colours of a stream.
pub(super) struct Terminal {
    /// How many letters a line holds.
    pub(super) columns: usize,
    /// Whether colours may be used.
    pub(super) colour: bool,
}

impl Terminal {
    /// That of a standard stream: `COLUMNS` if it is set, else what the terminal says. Colours only on a
    /// terminal, and not where `NO_COLOR` is set to anything.
    pub(super) fn of(stream: &(impl AsFd + IsTerminal)) -> Self {
        let stated = std::env::var("COLUMNS")
            .ok()
            .and_then(|columns| columns.parse().ok());
        let told = rustix::termios::tcgetwinsize(stream)
            .ok()
            .map(|size| usize::from(size.ws_col));
        let no_colour = std::env::var_os("NO_COLOR").is_some_and(|word| !word.is_empty());
        Self {
            columns: stated
                .or(told)
                .filter(|columns| *columns > 0)
                .unwrap_or(USUAL),
            colour: stream.is_terminal() && !no_colour,
        }
    }
}
