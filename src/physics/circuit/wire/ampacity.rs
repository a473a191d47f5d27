//! The current a copper pair may carry without overheating.
//!
//! Source: NEC 240.4(D) for 18–10 AWG (largest overcurrent device), table 310.16 at 60 °C for
//! thicker wire, both from memory; common practice for thinner wire. A size between two rows takes
//! the thinner row.
//! Holds: single pairs in ordinary surroundings. Leaves out: bundling, hot attics, insulation
//! class.

use super::Gauge;

/// Source of an ampacity.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AmpacityBasis {
    /// National Electrical Code 240.4(D), small conductors.
    SmallConductorRule,
    /// National Electrical Code table 310.16, 60 °C column.
    ConductorTable,
    /// No code figure: what a careful installer allows on thin wire.
    CommonPractice,
}

impl AmpacityBasis {
    /// The source in a few words, and whether it was looked up.
    pub fn source(self) -> &'static str {
        match self {
            Self::SmallConductorRule => "NEC 240.4(D), from memory",
            Self::ConductorTable => "NEC table 310.16 at 60 °C, from memory",
            Self::CommonPractice => "common practice",
        }
    }
}

/// A permissible current and its standing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ampacity {
    /// Permissible continuous current [A].
    pub amps: f64,
    pub basis: AmpacityBasis,
}

use AmpacityBasis::{CommonPractice, ConductorTable, SmallConductorRule};

/// AWG number and its current, thick to thin.
const TABLE: [(u8, f64, AmpacityBasis); 17] = [
    (0, 125.0, ConductorTable),
    (1, 110.0, ConductorTable),
    (2, 95.0, ConductorTable),
    (3, 85.0, ConductorTable),
    (4, 70.0, ConductorTable),
    (6, 55.0, ConductorTable),
    (8, 40.0, ConductorTable),
    (10, 30.0, SmallConductorRule),
    (12, 20.0, SmallConductorRule),
    (14, 15.0, SmallConductorRule),
    (16, 10.0, SmallConductorRule),
    (18, 7.0, SmallConductorRule),
    (20, 3.0, CommonPractice),
    (22, 2.0, CommonPractice),
    (24, 1.0, CommonPractice),
    (26, 0.75, CommonPractice),
    (28, 0.5, CommonPractice),
];

/// Everything thinner than the last row, 30 AWG included.
const THINNEST: Ampacity = Ampacity {
    amps: 0.3,
    basis: CommonPractice,
};

/// Permissible current of a copper pair. Metric wire takes the row of the next smaller American
/// area.
pub fn ampacity(gauge: Gauge) -> Ampacity {
    // A little slack, so that a size entered as an AWG number finds its own row.
    let area = gauge.area_mm2() * (1.0 + 1e-9);
    TABLE
        .iter()
        .find(|row| Gauge::Awg(row.0).area_mm2() <= area)
        .map_or(THINNEST, |&(_, amps, basis)| Ampacity { amps, basis })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_conductors_follow_the_code() {
        for (number, amps) in [(18, 7.0), (16, 10.0), (14, 15.0), (12, 20.0), (10, 30.0)] {
            assert_eq!(
                ampacity(Gauge::Awg(number)),
                Ampacity {
                    amps,
                    basis: SmallConductorRule
                }
            );
        }
    }

    #[test]
    fn a_size_between_two_rows_takes_the_thinner() {
        assert_eq!(ampacity(Gauge::Awg(13)), ampacity(Gauge::Awg(14)));
        assert_eq!(
            ampacity(Gauge::SquareMillimetres(2.5)),
            ampacity(Gauge::Awg(14))
        );
        assert_eq!(
            ampacity(Gauge::SquareMillimetres(0.75)),
            ampacity(Gauge::Awg(20))
        );
        assert_eq!(ampacity(Gauge::Awg(30)), THINNEST);
    }
}
