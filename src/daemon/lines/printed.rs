//! Lines without hardware, for a daemon that only says what it would switch.

use crate::site::ZoneId;

use super::{Level, LineFault, Lines};

/// Remembers what it was driven to. Whoever drives it prints, because only that one knows the reasons.
#[derive(Debug, Clone, Default)]
pub struct Printed {
    levels: Vec<(ZoneId, bool)>,
}

impl Lines for Printed {
    fn drive(&mut self, levels: &[(ZoneId, bool)]) -> Vec<(ZoneId, LineFault)> {
        self.levels = levels.to_vec();
        Vec::new()
    }

    fn read_back(&mut self) -> Vec<(ZoneId, Level)> {
        let levels = self.levels.iter();
        levels.map(|&(zone, lit)| (zone, Ok(lit))).collect()
    }

    /// Nothing: nobody can say whether a zone is really lit.
    fn senses(&mut self) -> Vec<(ZoneId, Level)> {
        Vec::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn printed_lines_are_what_they_were_last_driven_to() {
        let mut lines = Printed::default();
        assert_eq!(lines.read_back(), []);
        for lit in [true, false] {
            assert_eq!(lines.drive(&[(ZoneId(1), lit)]), []);
            assert_eq!(lines.read_back(), [(ZoneId(1), Ok(lit))]);
            assert_eq!(lines.senses(), []);
        }
    }
}
