//! Sizes in the trade, and the resistance that a standard gives them.

use std::fmt;

use super::{Gauge, Stranding};

/// Thinnest AWG number covered.
const THINNEST_AWG: u8 = 30;

/// Maximum resistance of plain copper at 20 °C [Ω/km], IEC 60228: mm², classes 1 and 2, class 5.
const IEC_60228: [(f64, f64, f64); 8] = [
    (0.5, 36.0, 39.0),
    (0.75, 24.5, 26.0),
    (1.0, 18.1, 19.5),
    (1.5, 12.1, 13.3),
    (2.5, 7.41, 7.98),
    (4.0, 4.61, 4.95),
    (6.0, 3.08, 3.30),
    (10.0, 1.83, 1.91),
];

/// Other sizes on sale [mm²]: signal cable, Japanese cords and conductors, and the thick end. Common practice.
const TRADED_ELSEWHERE: [f64; 20] = [
    0.05, 0.08, 0.1, 0.14, 0.2, 0.22, 0.25, 0.3, 0.34, 0.35, 0.4, 1.25, 2.0, 3.5, 5.5, 8.0, 14.0,
    16.0, 25.0, 35.0,
];

/// A conductor size that is not on sale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WireError {
    /// The size asked for.
    pub asked: Gauge,
    /// The nearest size on sale (by ratio of areas).
    pub nearest: Gauge,
}

impl fmt::Display for WireError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "no wire of {} is in the trade; the nearest size is {}",
            self.asked, self.nearest
        )
    }
}

impl std::error::Error for WireError {}

pub(super) fn check_awg(number: u8) -> Result<(), WireError> {
    if number <= THINNEST_AWG {
        Ok(())
    } else {
        Err(WireError {
            asked: Gauge::Awg(number),
            nearest: Gauge::Awg(THINNEST_AWG),
        })
    }
}

/// Ω/km of a size that IEC 60228 lists.
pub(super) fn iec_60228_maximum(area_mm2: f64, stranding: Stranding) -> Option<f64> {
    let row = IEC_60228.iter().find(|row| same_size(row.0, area_mm2))?;
    Some(match stranding {
        Stranding::Solid | Stranding::Stranded => row.1,
        Stranding::Class5 => row.2,
    })
}

/// The size itself if it is on sale but not in the table of IEC 60228.
pub(super) fn traded_elsewhere(area_mm2: f64) -> Option<f64> {
    TRADED_ELSEWHERE
        .into_iter()
        .find(|&mm2| same_size(mm2, area_mm2))
}

pub(super) fn unknown_metric(area_mm2: f64) -> WireError {
    let nearest = IEC_60228
        .iter()
        .map(|row| row.0)
        .chain(TRADED_ELSEWHERE)
        .min_by(|a, b| ratio_apart(*a, area_mm2).total_cmp(&ratio_apart(*b, area_mm2)))
        .expect("the tables are not empty");
    WireError {
        asked: Gauge::SquareMillimetres(area_mm2),
        nearest: Gauge::SquareMillimetres(nearest),
    }
}

/// Sizes that agree to a part in a thousand are the same size.
fn same_size(listed_mm2: f64, asked_mm2: f64) -> bool {
    (asked_mm2 / listed_mm2 - 1.0).abs() < 1e-3
}

fn ratio_apart(listed_mm2: f64, asked_mm2: f64) -> f64 {
    (asked_mm2.max(1e-9) / listed_mm2).ln().abs()
}
