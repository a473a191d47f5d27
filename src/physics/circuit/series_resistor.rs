//! A resistor in the pair that removes a coil's over-voltage.
//!
//! ```text
//!   ○──▭ R_series ──── pair ──►├── C ── coil        smallest E12 value with V_coil(R_series) ≤ limit
//! ```
//!
//! It sits on the AC side, where it also softens the charging pulses, and becomes part of `R_s`. The rectifier
//! gives voltage and current for every value tried, since the voltage rises as the load falls.
//! Source: IEC 60063 for the E12 values; a rating of twice the heat is common practice.
//! Holds: 1 Ω…820 kΩ. Leaves out: the resistor's tolerance (5 %), and the pull-in margin at low
//! mains, which has to be computed again with the resistor in place.

/// E12 series of IEC 60063: the values in an ordinary drawer.
pub const E12: [f64; 12] = [1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2];

/// Decades searched [Ω].
const DECADES_OHM: [f64; 6] = [1.0, 10.0, 100.0, 1e3, 1e4, 1e5];

/// Power ratings on sale [W]. Common practice.
const RATINGS_W: [f64; 8] = [0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 25.0];

/// Rating over heat. Common practice.
const DERATING: f64 = 2.0;

/// State of a link with a given series resistor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loaded {
    /// Coil voltage [V].
    pub coil_v: f64,
    /// Current in the pair [A RMS].
    pub pair_rms_a: f64,
}

/// A resistor chosen for a link.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeriesResistor {
    /// E12 value [Ω].
    pub ohm: f64,
    /// Heat in it [W].
    pub power_w: f64,
    /// Smallest rating on sale that is at least twice the heat [W]; `None` if there is none.
    pub rating_w: Option<f64>,
    /// Coil voltage with it [V].
    pub coil_v: f64,
}

/// The smallest E12 resistor that keeps the coil at or below `limit_v`; `None` if the largest does
/// not.
///
/// `with_series_ohm` gives the link's state with that much resistance added; call it for the high corner (mains
/// +10 %, lightly loaded transformer, cold wire). The caller checks at 0 Ω whether a resistor is needed at all.
pub fn smallest_below(
    limit_v: f64,
    with_series_ohm: impl Fn(f64) -> Loaded,
) -> Option<SeriesResistor> {
    DECADES_OHM
        .into_iter()
        .flat_map(|decade| E12.into_iter().map(move |value| value * decade))
        .map(|ohm| (ohm, with_series_ohm(ohm)))
        .find(|(_, loaded)| loaded.coil_v <= limit_v)
        .map(|(ohm, loaded)| {
            let power_w = loaded.pair_rms_a * loaded.pair_rms_a * ohm;
            let rating_w = RATINGS_W
                .into_iter()
                .find(|&rating_w| rating_w >= DERATING * power_w);
            SeriesResistor {
                ohm,
                power_w,
                rating_w,
                coil_v: loaded.coil_v,
            }
        })
}

#[cfg(test)]
mod tests {
    use super::super::diode::Diode;
    use super::super::rectifier::{Feed, Input, Rectifier, steady_state};
    use super::*;

    #[test]
    fn takes_the_overvoltage_of_a_high_mains_off() {
        let link = |series_ohm: f64| {
            let state = steady_state(&Input {
                feed: Feed::Ac {
                    rms_v: 13.84,
                    hz: 60.0,
                },
                rectifier: Rectifier::Bridge,
                diode: Diode::usual(),
                diode_c: 15.0,
                source_ohm: 6.534 + series_ohm,
                coil_ohm: 392.1,
                capacitance_f: Some(220e-6),
            });
            Loaded {
                coil_v: state.coil_v,
                pair_rms_a: state.pair_rms_a,
            }
        };
        assert!(link(0.0).coil_v > 15.6);
        let chosen = smallest_below(15.6, link).unwrap();
        assert!(chosen.coil_v <= 15.6);
        let index = E12
            .iter()
            .position(|value| (value - chosen.ohm).abs() < 1e-9)
            .unwrap();
        assert!(
            link(E12[index - 1]).coil_v > 15.6,
            "{} Ω would do",
            E12[index - 1]
        );
        assert_eq!(chosen.rating_w, Some(0.25));
        // It takes about twenty ohms to bring the coil to a little above the relay's rated voltage.
        assert!((20.0..40.0).contains(&smallest_below(14.1, link).unwrap().ohm));
    }

    #[test]
    fn gives_up_when_nothing_helps() {
        assert_eq!(
            smallest_below(12.0, |_| Loaded {
                coil_v: 15.0,
                pair_rms_a: 0.1
            }),
            None
        );
    }
}
