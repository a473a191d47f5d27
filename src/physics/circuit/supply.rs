//! The supply: its voltage under load, and the fuse between it and the wire.
//!
//! ```text
//!   ~ V_noload ──▭ R_source ──●── V        V = V_noload − (V_noload − V_full)·S/S_rated
//!                             │            R_source = (V_noload − V_full)/(S_rated/V_full)
//!                  fuse ──────┘            I_short = V/R_loop;  fuse ≤ I_short/2.75
//! ```
//!
//! Source: linear regulation between a label's two points (transformer makers' notes). Fuse gate
//! `2.75·I_n` of IEC 60127-2 time-lag fuses, and the fuse ratings, from memory.
//! Holds: magnetic transformers up to their rating, mains within ±10 %. Leaves out: electronic
//! transformers, the power factor of the load, the transformer's own temperature.

/// A transformer by its label and one meter reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transformer {
    /// Voltage without load [V RMS].
    pub no_load_v: f64,
    /// Voltage at rated load [V RMS].
    pub full_load_v: f64,
    /// Rated load [VA].
    pub rated_va: f64,
}

impl Transformer {
    /// Terminal voltage [V RMS] under `load_va`, at `mains` times the rated mains voltage.
    pub fn terminal_v(&self, load_va: f64, mains: f64) -> f64 {
        mains * (self.no_load_v - (self.no_load_v - self.full_load_v) * load_va / self.rated_va)
    }

    /// Resistance of the source [Ω]: the sag divided by the current that causes it.
    pub fn source_ohm(&self) -> f64 {
        (self.no_load_v - self.full_load_v) * self.full_load_v / self.rated_va
    }

    /// Sag from no load to full load, as a fraction of the full-load voltage.
    pub fn regulation(&self) -> f64 {
        (self.no_load_v - self.full_load_v) / self.full_load_v
    }
}

/// Current [A] when the pair is shorted at its far end.
///
/// `supply_v`: [V RMS or V DC]; `loop_ohm`: the pair when warm [Ω]; `source_ohm`: the supply's own,
/// 0 to leave it out [Ω].
pub fn short_circuit_a(supply_v: f64, loop_ohm: f64, source_ohm: f64) -> f64 {
    supply_v / (loop_ohm + source_ohm)
}

/// Current, as a multiple of its rating, that makes a time-lag fuse blow within seconds. IEC 60127-2 (from
/// memory).
pub const BLOWS_AT: f64 = 2.75;

/// Fuse rating as a multiple of the steady load. Common practice.
pub const LOAD_HEADROOM: f64 = 1.25;

/// Ratings on sale [A]: miniature fuses of IEC 60127, and the 3, 5, 7.5, 15, 20, 25 and 30 A blade sizes (from
/// memory).
pub const FUSES_A: [f64; 32] = [
    0.032, 0.04, 0.05, 0.063, 0.08, 0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8, 1.0,
    1.25, 1.6, 2.0, 2.5, 3.0, 3.15, 4.0, 5.0, 6.3, 7.5, 8.0, 10.0, 15.0, 20.0, 25.0, 30.0,
];

/// Largest fuse current [A] that a far-end short of `short_a` still blows.
pub fn largest_blown_a(short_a: f64) -> f64 {
    short_a / BLOWS_AT
}

/// The ratings that fit one run of wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FuseRange {
    /// Smallest rating that carries the load [A].
    pub smallest_a: f64,
    /// Largest rating that protects the wire [A].
    pub largest_a: f64,
}

/// Why no fuse fits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NoFuse {
    /// The smallest fuse that carries the load is more than the wire may carry.
    WireTooThin {
        /// Smallest rating for the load [A]; infinite beyond the list.
        needed_a: f64,
        /// What the wire may carry [A].
        ampacity_a: f64,
    },
    /// The smallest fuse that carries the load does not blow in a far-end short.
    ShortNotSeen {
        /// Smallest rating for the load [A].
        needed_a: f64,
        /// Largest fuse current that the short blows [A].
        blown_a: f64,
    },
}

/// Every rating from the smallest that carries `load_a` with a quarter in hand to the largest that
/// the wire's `ampacity_a` and a far-end short of `short_a` allow.
pub fn fuse_range(load_a: f64, short_a: f64, ampacity_a: f64) -> Result<FuseRange, NoFuse> {
    // A little slack: a limit equal to a rating still admits it.
    let at_most = |rating_a: f64, limit_a: f64| rating_a <= limit_a * (1.0 + 1e-9);
    let blown_a = largest_blown_a(short_a);
    let needed_a = FUSES_A
        .into_iter()
        .find(|&rating_a| at_most(load_a * LOAD_HEADROOM, rating_a));
    let Some(needed_a) = needed_a.filter(|&rating_a| at_most(rating_a, ampacity_a)) else {
        return Err(NoFuse::WireTooThin {
            needed_a: needed_a.unwrap_or(f64::INFINITY),
            ampacity_a,
        });
    };
    if !at_most(needed_a, blown_a) {
        return Err(NoFuse::ShortNotSeen { needed_a, blown_a });
    }
    let largest_a = FUSES_A
        .into_iter()
        .rev()
        .find(|&rating_a| at_most(rating_a, ampacity_a.min(blown_a)))
        .expect("the smallest that carries the load is one of them");
    Ok(FuseRange {
        smallest_a: needed_a,
        largest_a,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const LABEL: Transformer = Transformer {
        no_load_v: 13.2,
        full_load_v: 12.0,
        rated_va: 300.0,
    };

    #[test]
    fn terminal_voltage_falls_with_load_and_follows_the_mains() {
        assert!((LABEL.terminal_v(155.0, 1.0) - 12.58).abs() < 1e-9);
        assert!((LABEL.terminal_v(0.0, 0.9) - 11.88).abs() < 1e-9);
        assert!((LABEL.terminal_v(300.0, 1.1) - 13.2).abs() < 1e-9);
    }

    #[test]
    fn source_resistance_is_sag_over_current() {
        assert!((LABEL.source_ohm() - 1.2 / 25.0).abs() < 1e-12);
        // Transformer maker's example: 11 V unloaded, 10 V loaded is 10 %.
        let printed = Transformer {
            no_load_v: 11.0,
            full_load_v: 10.0,
            rated_va: 50.0,
        };
        assert!((printed.regulation() - 0.10).abs() < 1e-12);
    }

    #[test]
    fn fuse_sees_the_far_end_short_and_carries_the_load() {
        // 12.58 V into 6.53 Ω: 1.93 A, so at most 0.70 A.
        let short_a = short_circuit_a(12.58, 6.53, 0.0);
        assert!((largest_blown_a(short_a) - 0.70).abs() < 0.005);
        let range = fuse_range(0.078, short_a, 2.0).unwrap();
        assert_eq!(
            range,
            FuseRange {
                smallest_a: 0.1,
                largest_a: 0.63
            }
        );
        // 11.6 V into 24.18 Ω: at most 0.17 A; an 86 mA coil still fits.
        let range = fuse_range(0.086, short_circuit_a(11.6, 24.18, 0.0), 3.0).unwrap();
        assert_eq!(
            range,
            FuseRange {
                smallest_a: 0.125,
                largest_a: 0.16
            }
        );
    }

    #[test]
    fn says_why_no_fuse_fits() {
        assert!(
            matches!(fuse_range(6.0, 100.0, 7.0), Err(NoFuse::WireTooThin { needed_a, .. }) if needed_a > 7.0)
        );
        assert!(matches!(
            fuse_range(0.2, 0.48, 7.0),
            Err(NoFuse::ShortNotSeen { .. })
        ));
        assert!(matches!(
            fuse_range(100.0, 1e4, 200.0),
            Err(NoFuse::WireTooThin { .. })
        ));
    }
}
