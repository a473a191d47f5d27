//! Both pairs of the bridge and the flyback diode at once, where more than one of them conducts.
//!
//! ```text
//!   bridge:        P = −v_n = N·V_T·(y₁ + y₂) + R_s·(i₁ + i₂)
//!                  N·V_T·y₁ + (R_s + R_th)·i₁ − e = N·V_T·y₂ + (R_s + R_th)·i₂         (1)
//!   single diode:  P = −v_n = N·V_T·y₁ + (R_s + R_th)·i₁ − e,  i₂ = 0
//!   flyback:       N_f·V_T·y_f + (R_sf + R_ser)·i_f = P + R_ser·i                      (2)
//!   node:          P + v_n0 + R_eq·(i₁ + i₂ + i_f) = 0                                 (3)
//! ```
//!
//! Newton's method on all three usually converges in a few steps from the last solution. Where it does not, y₁
//! is the one unknown: (1) gives y₂ and (2) gives `y_f` from it, each a junction behind a resistance, and the
//! left side of (3) rises with y₁ from minus to plus infinity. So there is one solution, and bisection with
//! Newton's steps inside the bracket always finds it.
//!
//! Source: Kirchhoff's laws; the bridge's symmetry makes (1) and (3) of five nodes.
//! Holds: always.

use super::super::run::exp;
use super::bare::Response;
use super::junction::junction_y;
use super::{Flow, Guess, Network};
use crate::circuit::diode::Junction;
use crate::circuit::rectifier::Rectifier;

/// Most steps of the quick method before the sure one takes over.
const QUICK_STEPS: u32 = 12;

/// Size of the last step of y in the quick method; half its square remains.
const QUICK_STILL: f64 = 1e-4;

/// Most steps of the sure method: forty doublings and a hundred halvings are enough for any bracket.
const SURE_STEPS: u32 = 200;

/// Size of the last step of y in the sure method: behind megohms, 1e-10 of y is a tenth of a microvolt.
const SURE_STILL: f64 = 1e-14;

/// First step of the sure method towards a bracket.
const FIRST_REACH: f64 = 4.0;

/// Highest current of any iterate [A].
const GREATEST_A: f64 = 1e5;

/// The equations at one instant.
#[derive(Debug, Clone, Copy)]
pub(super) struct Together {
    is_bridge: bool,
    source_v: f64,
    idle_v: f64,
    inner_ohm: f64,
    /// `R_th` [Ω].
    feed_ohm: f64,
    bridge: Junction,
    flyback: Option<Junction>,
    series_ohm: f64,
    coil_a: f64,
}

/// A step of Newton's method, and the left side of (3) with its slope against y₁ along (1) and (2).
struct Newton {
    step: [f64; 3],
    left_v: f64,
    slope_v: f64,
}

impl Together {
    pub(super) fn of(network: &Network, source_v: f64, idle_v: f64, coil_a: f64) -> Self {
        Self {
            is_bridge: network.rectifier == Rectifier::Bridge,
            source_v,
            idle_v,
            inner_ohm: network.inner_ohm,
            feed_ohm: network.feed.ohm,
            bridge: network.bridge,
            flyback: network.flyback,
            series_ohm: network.series_ohm,
            coil_a,
        }
    }

    /// Solves the equations, starting from the last solution; stores this one as the next guess.
    pub(super) fn solve(&self, guess: &mut Guess) -> [f64; 3] {
        let start = if guess.known { guess.y } else { self.cold() };
        let y = self.quick(start).unwrap_or_else(|| self.sure());
        *guess = Guess { y, known: true };
        y
    }

    /// `R_s + R_th` [Ω].
    fn loop_ohm(&self) -> f64 {
        self.bridge.series_ohm + self.feed_ohm
    }

    /// A start without a guess: the coil's current is shared evenly.
    fn cold(&self) -> [f64; 3] {
        let Junction {
            saturation_a: is,
            slope_v,
            ..
        } = self.bridge;
        let coil_a = self.coil_a.max(0.0);
        let share = if self.is_bridge { 0.5 } else { 1.0 };
        let own = (share * coil_a / is).ln_1p();
        let Some(fly) = &self.flyback else {
            return [own, if self.is_bridge { own } else { 0.0 }, 0.0];
        };
        let yf = (coil_a / fly.saturation_a).ln_1p();
        if self.is_bridge {
            let half = own.min(0.5 * yf * fly.slope_v / slope_v);
            [half, half, yf]
        } else {
            let driven = (self.source_v + yf * fly.slope_v) / slope_v;
            [own.min(driven), 0.0, yf]
        }
    }

    /// y beyond which the exponential dominates: a diode then carries more than the coil's current, and drops
    /// more in the resistances than in the junction.
    fn steep_y(&self, k: usize) -> f64 {
        let (diode, ohm) = match &self.flyback {
            Some(fly) if k == 2 => (fly, fly.series_ohm + self.series_ohm),
            _ => (&self.bridge, self.loop_ohm()),
        };
        let own_a = diode.slope_v / (ohm + self.inner_ohm);
        (self.coil_a.max(own_a) / diode.saturation_a).ln_1p()
    }

    /// Newton's method on all three from `y`; `None` where it diverges.
    fn quick(&self, mut y: [f64; 3]) -> Option<[f64; 3]> {
        for _ in 0..QUICK_STEPS {
            let Newton { step, .. } = self.newton(y);
            // A sum, because a maximum would ignore NaN.
            let mut moved = 0.0;
            for k in 0..3 {
                // In the exponential part, a Newton step in the current is the logarithm of one in y.
                let mut next = y[k] + step[k];
                if step[k] > 0.5 {
                    let base = self.steep_y(k).max(y[k]);
                    next = next.min(base + (next - base).max(0.0).ln_1p());
                }
                moved += (next - y[k]).abs();
                y[k] = next;
            }
            if moved < QUICK_STILL {
                return Some(y);
            }
        }
        None
    }

    /// One unknown in a bracket: Newton's step where it stays inside and halves the step before,
    /// bisection otherwise.
    fn sure(&self) -> [f64; 3] {
        let most = (GREATEST_A / self.bridge.saturation_a).ln();
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        let mut y = self.following(0.0);
        let mut reach = FIRST_REACH;
        for _ in 0..SURE_STEPS {
            let Newton {
                left_v, slope_v, ..
            } = self.newton(y);
            if left_v > 0.0 {
                high = y[0];
            } else {
                low = y[0];
            }
            let bracketed = low.is_finite() && high.is_finite();
            let newton = y[0] - left_v / slope_v;
            let next = if newton > low && newton < high && (newton - y[0]).abs() < reach {
                newton
            } else if bracketed {
                f64::midpoint(low, high)
            } else if left_v > 0.0 {
                y[0] - reach
            } else {
                (y[0] + reach).min(most)
            };
            let moved = (next - y[0]).abs();
            reach = if bracketed { 0.5 * moved } else { 2.0 * reach };
            y = self.following(next);
            if moved < SURE_STILL + f64::EPSILON * next.abs() {
                break;
            }
        }
        y
    }

    /// y₂ and `y_f` that (1) and (2) demand.
    fn following(&self, y1: f64) -> [f64; 3] {
        let Junction {
            saturation_a: is,
            slope_v,
            series_ohm,
        } = self.bridge;
        let i1 = is * (exp(y1) - 1.0);
        let loop_ohm = self.loop_ohm();
        let far_v = slope_v * y1 + loop_ohm * i1 - self.source_v;
        let (y2, minus_node_v) = if self.is_bridge {
            let y2 = junction_y(far_v, loop_ohm, slope_v, is, f64::MAX);
            let i2 = is * (exp(y2) - 1.0);
            (y2, slope_v * (y1 + y2) + series_ohm * (i1 + i2))
        } else {
            (0.0, far_v)
        };
        let yf = self.flyback.map_or(0.0, |fly| {
            let ohm = fly.series_ohm + self.series_ohm;
            let across_v = minus_node_v + self.series_ohm * self.coil_a;
            junction_y(across_v, ohm, fly.slope_v, fly.saturation_a, f64::MAX)
        });
        [y1, y2, yf]
    }

    /// The linear equations of one step, solved by hand: each has at most two unknowns.
    #[inline]
    fn newton(&self, y: [f64; 3]) -> Newton {
        let Junction {
            saturation_a: is,
            slope_v,
            series_ohm: rs,
        } = self.bridge;
        let (inner, all) = (self.inner_ohm, self.loop_ohm());
        // Currents, and their slopes against y.
        let d1 = is * exp(y[0]);
        let i1 = d1 - is;
        // dy₂ = s·dy₁ + t, dP = α·dy₁ + β.
        let (d2, i2, s, t, minus_node_v, alpha, beta);
        if self.is_bridge {
            d2 = is * exp(y[1]);
            i2 = d2 - is;
            let per = 1.0 / (slope_v + all * d2);
            s = (slope_v + all * d1) * per;
            t = (slope_v * (y[0] - y[1]) + all * (i1 - i2) - self.source_v) * per;
            minus_node_v = slope_v * (y[0] + y[1]) + rs * (i1 + i2);
            let p2 = slope_v + rs * d2;
            alpha = slope_v + rs * d1 + p2 * s;
            beta = p2 * t;
        } else {
            (d2, i2, s, t, beta) = (0.0, 0.0, 0.0, 0.0, 0.0);
            minus_node_v = slope_v * y[0] + all * i1 - self.source_v;
            alpha = slope_v + all * d1;
        }
        let (mut df, mut i_f, mut per, mut rest) = (0.0, 0.0, 0.0, 0.0);
        if let Some(fly) = &self.flyback {
            let ohm = fly.series_ohm + self.series_ohm;
            df = fly.saturation_a * exp(y[2]);
            i_f = df - fly.saturation_a;
            per = 1.0 / (fly.slope_v + ohm * df);
            rest = fly.slope_v * y[2] + ohm * i_f - minus_node_v - self.series_ohm * self.coil_a;
        }
        let left_v = minus_node_v + self.idle_v + inner * (i1 + i2 + i_f);
        let slope = alpha + inner * (d1 + d2 * s + df * alpha * per);
        let dy1 = -(left_v + beta + inner * (d2 * t + df * per * (beta - rest))) / slope;
        Newton {
            step: [dy1, s * dy1 + t, (alpha * dy1 + beta - rest) * per],
            left_v,
            slope_v: slope,
        }
    }

    /// Change of the coil's voltage at a solution: the same equations, each diode taken as a resistance.
    pub(super) fn response(&self, y: [f64; 3]) -> Response {
        let Junction {
            saturation_a: is,
            slope_v,
            series_ohm: rs,
        } = self.bridge;
        let conductance_s = |ohm: f64, y: f64| {
            let d = is * exp(y);
            d / (slope_v + ohm * d)
        };
        // d i_dc/dP and d i_dc/de.
        let (by_node_s, by_source_s) = if self.is_bridge {
            let (g1, g2) = (conductance_s(rs, y[0]), conductance_s(rs, y[1]));
            let (mean, half) = (0.5 * (g1 + g2), 0.5 * (g1 - g2));
            let by_source_s = half / (1.0 + self.feed_ohm * mean);
            (mean - half * self.feed_ohm * by_source_s, by_source_s)
        } else {
            let g = conductance_s(self.loop_ohm(), y[0]);
            (g, g)
        };
        let flyback_s = self.flyback.map_or(0.0, |fly| {
            let d = fly.saturation_a * exp(y[2]);
            d / (fly.slope_v + (fly.series_ohm + self.series_ohm) * d)
        });
        let per = 1.0 / (1.0 + self.inner_ohm * (by_node_s + flyback_s));
        let past = 1.0 - flyback_s * self.series_ohm;
        Response {
            per_a: -past * (self.inner_ohm * per * past + self.series_ohm),
            per_v: past * self.inner_ohm * by_source_s * per,
        }
    }

    /// Currents and voltages, each calculated the way that makes an error of y matter least.
    pub(super) fn flow(&self, y: [f64; 3]) -> Flow {
        let Junction {
            saturation_a: is,
            slope_v,
            series_ohm: rs,
        } = self.bridge;
        let i1 = is * (exp(y[0]) - 1.0);
        let (mut flyback_a, mut flyback_v, mut rise_a) = (0.0, 0.0, 0.0);
        if let Some(fly) = &self.flyback {
            rise_a = fly.saturation_a * exp(y[2]);
            flyback_a = rise_a - fly.saturation_a;
            flyback_v = fly.slope_v * y[2] + fly.series_ohm * flyback_a;
        }
        let ohm = self.loop_ohm();
        let (i2, ac_a, node_v) = if self.is_bridge {
            let i2 = is * (exp(y[1]) - 1.0);
            let all_a = i1 + i2 + 2.0 * is;
            // Behind megohms, the difference of two amperes says nothing about microamperes.
            let ac_a = if all_a * self.feed_ohm > 2.0 * slope_v + rs * all_a {
                (self.source_v - slope_v * (y[0] - y[1]) - rs * (i1 - i2)) / self.feed_ohm
            } else {
                i1 - i2
            };
            (i2, ac_a, -slope_v * (y[0] + y[1]) - rs * (i1 + i2))
        } else {
            let by_feed = (
                slope_v + ohm * (i1 + is),
                self.source_v - slope_v * y[0] - ohm * i1,
            );
            let by_node = (
                self.inner_ohm * (i1 + is + rise_a),
                self.idle_v + self.inner_ohm * (i1 + flyback_a),
            );
            let by_flyback = self.flyback.map_or((f64::INFINITY, 0.0), |fly| {
                (
                    fly.slope_v + (fly.series_ohm + self.series_ohm) * rise_a,
                    self.series_ohm * (self.coil_a - flyback_a) - flyback_v,
                )
            });
            let least = |a: (f64, f64), b: (f64, f64)| if a.0 < b.0 { a } else { b };
            let (_, node_v) = least(least(by_node, by_feed), by_flyback);
            (0.0, i1, node_v)
        };
        let coil_v = match &self.flyback {
            Some(fly) if self.series_ohm * rise_a > fly.slope_v + fly.series_ohm * rise_a => {
                -flyback_v
            }
            _ => node_v - self.series_ohm * (self.coil_a - flyback_a),
        };
        Flow {
            dc_a: i1 + i2,
            ac_a,
            flyback_a,
            node_v,
            coil_v,
        }
    }
}

#[cfg(test)]
mod tests;
