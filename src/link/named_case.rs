//! The words that name a case: `low-mains,hottest`.

use crate::circuit::relay;
use crate::site::{Link, Site};
use crate::transient::{self, CannotConclude, Transient, simulate};

use super::case::warmed;
use super::corner::{Corner, Lamps, circuit};
use super::worn::{AGED, AGED_ESR, FLAT_CREST};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CaseWord {
    /// Mains, or supply, at its lowest.
    LowMains,
    NominalMains,
    HighMains,
    /// Box on the coldest evening.
    Coldest,
    /// Box on an ordinary evening.
    Typical,
    /// Box on the hottest evening.
    Hottest,
    /// The coil has been on for hours: a restart after a brief interruption.
    WarmCoil,
    /// All lamps of the transformer are lit.
    AllLamps,
    /// Only the master's lamps are lit.
    MastersLamps,
    NoLamps,
    /// The mains crest is as flat as is usual.
    FlatCrest,
    /// The capacitor is at the end of its life.
    AgedCapacitor,
    /// Coil and capacitor are at the ends of their tolerance that make the coil voltage lowest.
    WorstParts,
    /// The coil is at the end of its tolerance that makes the coil voltage highest.
    LargeCoil,
    /// The relay lets go only at the guaranteed release voltage.
    LateRelease,
    /// The relay lets go as soon as it may.
    EarlyRelease,
}

impl CaseWord {
    /// Every word, as it is written.
    pub const ALL: [(&'static str, Self); 16] = [
        ("low-mains", Self::LowMains),
        ("nominal-mains", Self::NominalMains),
        ("high-mains", Self::HighMains),
        ("coldest", Self::Coldest),
        ("typical", Self::Typical),
        ("hottest", Self::Hottest),
        ("warm-coil", Self::WarmCoil),
        ("all-lamps", Self::AllLamps),
        ("masters-lamps", Self::MastersLamps),
        ("no-lamps", Self::NoLamps),
        ("flat-crest", Self::FlatCrest),
        ("aged-capacitor", Self::AgedCapacitor),
        ("worst-parts", Self::WorstParts),
        ("large-coil", Self::LargeCoil),
        ("late-release", Self::LateRelease),
        ("early-release", Self::EarlyRelease),
    ];

    /// The quantity that it sets: a case takes at most one word about each.
    pub fn about(self) -> &'static str {
        match self {
            Self::LowMains | Self::NominalMains | Self::HighMains => "mains",
            Self::Coldest | Self::Typical | Self::Hottest => "box",
            Self::WarmCoil => "coil heat",
            Self::AllLamps | Self::MastersLamps | Self::NoLamps => "lamps",
            Self::FlatCrest => "crest",
            Self::AgedCapacitor => "age",
            Self::WorstParts | Self::LargeCoil => "parts",
            Self::LateRelease | Self::EarlyRelease => "release",
        }
    }

    /// The word as it is written.
    pub fn name(self) -> &'static str {
        Self::ALL
            .iter()
            .find(|(_, word)| *word == self)
            .map_or("", |(name, _)| name)
    }

    /// Applies the word to a corner. A box temperature sets the coil's as well.
    fn change(self, site: &Site, link: &Link, corner: Corner) -> Corner {
        let relay = &link.relay;
        let tolerance = link.capacitor.map_or(0.0, |part| part.tolerance);
        match self {
            Self::LowMains => Corner {
                level: -1.0,
                ..corner
            },
            Self::NominalMains => Corner {
                level: 0.0,
                ..corner
            },
            Self::HighMains => Corner {
                level: 1.0,
                ..corner
            },
            Self::Coldest => corner.in_box(site.temperatures.coldest_c),
            Self::Typical => corner.in_box(site.temperatures.typical_c),
            Self::Hottest => corner.in_box(site.temperatures.hottest_c),
            Self::AllLamps => Corner {
                lamps: Lamps::All,
                ..corner
            },
            Self::MastersLamps => Corner {
                lamps: Lamps::Masters,
                ..corner
            },
            Self::NoLamps => Corner {
                lamps: Lamps::Unplugged,
                ..corner
            },
            Self::FlatCrest if site.feeding(link).is_ac() => Corner {
                crest: FLAT_CREST,
                ..corner
            },
            // The coil warms after all other words are applied: they decide how much.
            Self::FlatCrest | Self::WarmCoil => corner,
            Self::AgedCapacitor => Corner {
                capacitor_part: corner.capacitor_part * AGED,
                esr_part: AGED_ESR,
                leak_part: 1.0,
                ..corner
            },
            Self::WorstParts => Corner {
                coil_part: 1.0 - relay.coil_tolerance,
                capacitor_part: corner.capacitor_part * (1.0 - tolerance),
                ..corner
            },
            Self::LargeCoil => Corner {
                coil_part: 1.0 + relay.coil_tolerance,
                ..corner
            },
            Self::LateRelease => Corner {
                release_v: relay.release_v,
                ..corner
            },
            Self::EarlyRelease => Corner {
                release_v: relay.hold_v,
                ..corner
            },
        }
    }
}

/// The corner that the words describe.
///
/// # Errors
/// If the temperature of a warm coil cannot be found.
fn corner_of_words(site: &Site, link: &Link, words: &[CaseWord]) -> Result<Corner, CannotConclude> {
    let corner = words
        .iter()
        .fold(Corner::ordinary(site, link), |corner, word| {
            word.change(site, link, corner)
        });
    if !words.contains(&CaseWord::WarmCoil) {
        return Ok(corner);
    }
    let coil_c = warmed(site, link, &corner)?.coil_c;
    Ok(Corner { coil_c, ..corner })
}

/// Coil currents at which the relay of a corner acts [A]: it surely lets go below the first, surely stays in
/// above the second, pulls in at the third, and carries at most the fourth continuously.
pub fn thresholds(link: &Link, corner: &Corner) -> [f64; 4] {
    let relay = &link.relay;
    let coil_20c = relay.coil_ohm * corner.coil_part;
    [
        relay.release_v / coil_20c,
        relay.hold_v / coil_20c,
        corner.operate_v / coil_20c,
        relay.max_coil_v / relay::coil_ohm(coil_20c, corner.coil_c),
    ]
}

/// A link switched on and off once, in the case that the words name.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseRun {
    pub words: Vec<CaseWord>,
    pub corner: Corner,
    pub circuit: transient::Link,
    pub transient: Transient,
}

impl CaseRun {
    /// Switches the link on and off.
    ///
    /// # Errors
    /// If the simulation cannot conclude.
    pub fn new(site: &Site, link: &Link, words: &[CaseWord]) -> Result<Self, CannotConclude> {
        let corner = corner_of_words(site, link, words)?;
        let circuit = circuit(site, link, &corner);
        Ok(Self {
            words: words.to_vec(),
            transient: simulate(&circuit)?,
            corner,
            circuit,
        })
    }

    /// `low-mains,hottest`, or `ordinary`.
    pub fn said(&self) -> String {
        if self.words.is_empty() {
            return "ordinary".into();
        }
        let words: Vec<&str> = self.words.iter().map(|word| word.name()).collect();
        words.join(",")
    }
}
