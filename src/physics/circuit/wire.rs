//! The wire pair: ohms per metre, the loop, and what current it may carry.
//!
//! ```text
//!   near end  ●──────────── L ────────────●  far end
//!             ●──────────── L ────────────●          loop = 2·L·r(T) + splices
//! ```
//!
//! American sizes: d = 0.127 mm · 92^((36−n)/39) (ASTM B258), r = 17.241/A Ω/km, stranded +2.4 %.
//! Metric sizes: the *maximum* of IEC 60228, not 17.241/A of the nominal area; real wire is 1–4 %
//! lower.
//! Holds: copper, AWG 0–30 and the metric sizes in the trade, DC and mains frequency (the pair's
//! inductance, about 1 µH/m, shifts nothing that can be read on a meter).
//! Leaves out: tinning (+3–6 %), copper-clad aluminium (×1.5–1.6), corroded splices (enter their
//! ohms).

use std::fmt;

use super::copper;

mod ampacity;
mod size;

pub use ampacity::{Ampacity, AmpacityBasis, ampacity};
pub use size::WireError;

/// Conductor size as printed on the reel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Gauge {
    /// American Wire Gauge number, 0 to 30.
    Awg(u8),
    /// Nominal cross-section [mm²].
    SquareMillimetres(f64),
}

/// How the conductor is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stranding {
    /// One solid wire (IEC 60228 class 1).
    Solid,
    /// A few thick strands, commonly seven (IEC 60228 class 2).
    Stranded,
    /// Many thin strands, flexible (IEC 60228 class 5).
    Class5,
}

/// Resistance of one good splice [Ω]. Common practice: 5–10 mΩ; the larger is used.
pub const SPLICE_OHM: f64 = 0.010;

/// Seven strands over solid: 7.95/7.77 and 1.98/1.93 Ω/kft, NEC chapter 9 table 8.
const SEVEN_STRANDS: f64 = 1.024;

/// Fine strands over solid, for sizes that no table covers. Assumed: the upper end of what
/// stranding adds.
const FINE_STRANDS: f64 = 1.06;

impl Gauge {
    /// Default stranding: American wire solid, metric wire flexible (the column with more resistance).
    pub fn usual_stranding(self) -> Stranding {
        match self {
            Self::Awg(_) => Stranding::Solid,
            Self::SquareMillimetres(_) => Stranding::Class5,
        }
    }

    /// Cross-section [mm²]: of the solid wire for AWG (ASTM B258), nominal for metric.
    pub fn area_mm2(self) -> f64 {
        match self {
            Self::Awg(number) => {
                let diameter_mm = 0.127 * 92_f64.powf((36.0 - f64::from(number)) / 39.0);
                std::f64::consts::FRAC_PI_4 * diameter_mm * diameter_mm
            }
            Self::SquareMillimetres(area) => area,
        }
    }
}

impl fmt::Display for Gauge {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Awg(number) => write!(f, "{number} AWG"),
            Self::SquareMillimetres(area) => write!(f, "{area} mm²"),
        }
    }
}

/// Resistance of one conductor [Ω/m] at `wire_c` [°C].
pub fn ohm_per_m(gauge: Gauge, stranding: Stranding, wire_c: f64) -> Result<f64, WireError> {
    let ohm_per_km = match gauge {
        Gauge::Awg(number) => {
            size::check_awg(number)?;
            let built = match stranding {
                Stranding::Solid => 1.0,
                Stranding::Stranded => SEVEN_STRANDS,
                Stranding::Class5 => FINE_STRANDS,
            };
            copper::RESISTIVITY_NANOHM_M / gauge.area_mm2() * built
        }
        Gauge::SquareMillimetres(area) => size::iec_60228_maximum(area, stranding)
            .or_else(|| {
                size::traded_elsewhere(area)
                    .map(|mm2| copper::RESISTIVITY_NANOHM_M / mm2 * FINE_STRANDS)
            })
            .ok_or_else(|| size::unknown_metric(area))?,
    };
    Ok(ohm_per_km / 1000.0 * copper::factor(wire_c))
}

/// Resistance there and back [Ω] of a pair `one_way_m` long with `splices` splices of `splice_ohm`
/// each.
///
/// [`SPLICE_OHM`] is the ordinary splice. Splices do not follow the copper's temperature.
pub fn loop_ohm(
    gauge: Gauge,
    stranding: Stranding,
    one_way_m: f64,
    wire_c: f64,
    splices: u32,
    splice_ohm: f64,
) -> Result<f64, WireError> {
    Ok(2.0 * one_way_m * ohm_per_m(gauge, stranding, wire_c)? + f64::from(splices) * splice_ohm)
}

#[cfg(test)]
mod tests {
    use super::*;
    use Gauge::{Awg, SquareMillimetres};
    use Stranding::{Class5, Solid, Stranded};

    #[test]
    fn awg_follows_the_published_chart() {
        // Published AWG charts (ASTM B258, 20 °C): mm² and Ω/km.
        for (number, mm2, ohm_per_km) in [
            (24, 0.2047, 84.21),
            (22, 0.3255, 52.96),
            (20, 0.5176, 33.31),
            (18, 0.8230, 20.95),
            (16, 1.309, 13.17),
            (14, 2.081, 8.285),
            (12, 3.309, 5.211),
            (10, 5.261, 3.277),
            (8, 8.366, 2.061),
            (6, 13.30, 1.296),
        ] {
            assert!(
                (Awg(number).area_mm2() / mm2 - 1.0).abs() < 3e-4,
                "{number} AWG"
            );
            let ours = 1000.0 * ohm_per_m(Awg(number), Solid, 20.0).unwrap();
            assert!(
                (ours / ohm_per_km - 1.0).abs() < 5e-4,
                "{number} AWG: {ours}"
            );
        }
    }

    #[test]
    fn flexible_metric_wire_is_worse_than_its_nominal_area() {
        let ours = 1000.0 * ohm_per_m(SquareMillimetres(0.75), Class5, 20.0).unwrap();
        assert!((ours - 26.0).abs() < 1e-9, "IEC 60228 class 5: {ours}");
        assert!(ours / (17.241 / 0.75) > 1.13);
    }

    #[test]
    fn sizes_of_other_countries_cost_six_percent() {
        let ours = 1000.0 * ohm_per_m(SquareMillimetres(1.25), Stranded, 20.0).unwrap();
        assert!((ours - 17.241 / 1.25 * 1.06).abs() < 1e-9, "{ours}");
    }

    #[test]
    fn unknown_sizes_name_the_nearest() {
        let metric = ohm_per_m(SquareMillimetres(0.8), Solid, 20.0).unwrap_err();
        assert_eq!(
            metric.to_string(),
            "no wire of 0.8 mm² is in the trade; the nearest size is 0.75 mm²"
        );
        let awg = ohm_per_m(Awg(40), Solid, 20.0).unwrap_err();
        assert_eq!(
            awg.to_string(),
            "no wire of 40 AWG is in the trade; the nearest size is 30 AWG"
        );
        for nonsense in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(ohm_per_m(SquareMillimetres(nonsense), Solid, 20.0).is_err());
        }
    }

    #[test]
    fn splices_do_not_warm_with_the_copper() {
        let plain = loop_ohm(Awg(22), Solid, 64.0, 10.0, 0, SPLICE_OHM).unwrap();
        let spliced = loop_ohm(Awg(22), Solid, 64.0, 10.0, 2, SPLICE_OHM).unwrap();
        assert!((spliced - plain - 0.02).abs() < 1e-12);
    }
}
