//! The source in time: a sine or a constant, and its half-periods.

use super::{Rectifier, Run};

/// The voltage behind the source resistance, in time since switching on.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Wave {
    /// Angular frequency [rad/s]; 0 for direct voltage.
    pub(in super::super) omega: f64,
    /// Phase at time 0 [rad].
    pub(in super::super) phase: f64,
    /// The stretch between two boundaries [s]: half a period, or 10 ms for direct voltage.
    pub(in super::super) half_s: f64,
}

impl Wave {
    /// As a fraction of the peak.
    pub(in super::super) fn at(&self, t: f64) -> f64 {
        if self.omega == 0.0 {
            1.0
        } else {
            (self.omega * t + self.phase).sin()
        }
    }

    /// Number of the half-period that contains `t` or begins there.
    pub(in super::super) fn half_at(&self, t: f64) -> f64 {
        (t / self.half_s + self.phase / std::f64::consts::PI + 1e-9).floor()
    }

    /// Whether the half-period that contains `t` or begins there is a negative one.
    pub(super) fn is_negative(&self, t: f64) -> bool {
        let half = self.half_at(t);
        self.omega != 0.0 && half - 2.0 * (0.5 * half).floor() >= 0.5
    }

    /// Where half-period `n` begins.
    pub(in super::super) fn start_of(&self, n: f64) -> f64 {
        (n - self.phase / std::f64::consts::PI) * self.half_s
    }
}

/// The source at one instant, as the conducting pair sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drive {
    /// Voltage [V].
    pub(super) volts: f64,
    /// Its slope [V/s].
    pub(super) slope: f64,
}

/// The source along one step: sine and cosine turned on from the step's start.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turning {
    start: Drive,
    omega: f64,
}

impl Turning {
    pub(super) fn new(start: Drive, omega: f64) -> Self {
        Self { start, omega }
    }

    /// The source `h` after the start; the series hold to 1e-12 up to 0.4 rad.
    #[inline]
    pub(super) fn after(&self, h: f64) -> Drive {
        let (sin_over_omega, cos) = self.turned(h);
        Drive {
            volts: self.start.volts * cos + self.start.slope * sin_over_omega,
            slope: self.start.slope * cos
                - self.start.volts * self.omega * self.omega * sin_over_omega,
        }
    }

    /// The same, its voltage alone.
    #[inline]
    pub(super) fn volts_after(&self, h: f64) -> f64 {
        let (sin_over_omega, cos) = self.turned(h);
        self.start.volts * cos + self.start.slope * sin_over_omega
    }

    #[inline]
    fn turned(&self, h: f64) -> (f64, f64) {
        let turn = self.omega * h;
        let q = turn * turn;
        (
            h * (1.0
                - q * (1.0 / 6.0 - q * (1.0 / 120.0 - q * (1.0 / 5040.0 - q * (1.0 / 362_880.0))))),
            1.0 - q * (0.5 - q * (1.0 / 24.0 - q * (1.0 / 720.0 - q * (1.0 / 40320.0)))),
        )
    }
}

impl Run<'_> {
    /// The source at an instant as the conducting pair sees it, and its slope; `sign` of the
    /// half-period.
    pub(super) fn drive(&self, t: f64, sign: f64) -> Drive {
        let peak_v = sign * self.network.feed.peak_v;
        if self.wave.omega == 0.0 {
            return Drive {
                volts: peak_v,
                slope: 0.0,
            };
        }
        let (sin, cos) = (self.wave.omega * t + self.wave.phase).sin_cos();
        Drive {
            volts: peak_v * sin,
            slope: peak_v * cos * self.wave.omega,
        }
    }

    /// The direction in which the bridge is driven in the half-period that contains `t` or begins there.
    pub(super) fn sign(&self, t: f64) -> f64 {
        if self.network.rectifier == Rectifier::Bridge && self.wave.is_negative(t) {
            -1.0
        } else {
            1.0
        }
    }
}
