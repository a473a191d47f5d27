//! The sun's course over a place: its extremes, and when it passes an altitude between them.
//!
//! Times are days of TT from noon TT of a base day. Altitudes are sines of the altitude seen from the earth's
//! centre: the sine follows directly from the geometry, and saves an arc sine per step.
//!
//! An event needs a first look at the sun, and mostly no other. The code for it is inlined into the loop over a
//! day's events, so that the processor works at several in parallel; called one by one they take a sixth more
//! time.
//!
//! Rotation by a small or known angle replaces most sines and cosines: a day needs one pair of them, an event
//! another.

#![expect(
    clippy::inline_always,
    reason = "measured: see above, the compiler's own choice costs a sixth more"
)]

use std::f64::consts::PI;

use super::position::Frame;
use super::sine::sin_cos;
use super::sky::{Cubic, Path};

/// A search ends when what it leaves is below this: ten microseconds [days].
const CLOSE_ENOUGH_DAYS: f64 = 1e-10;

/// The sun's direction, and the place that turns under it, around one noon.
#[derive(Debug, Clone, Copy)]
pub(super) struct Course {
    frame: Frame,
    /// The sun's direction, x and y times the cosine of the latitude and z times its sine.
    x: Cubic,
    y: Cubic,
    z: Cubic,
}

/// A time, and how far the place has turned by then.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moment {
    pub(super) time: f64,
    /// Sine and cosine of the sidereal time at the place.
    sin: f64,
    cos: f64,
}

/// A highest or lowest sun.
#[derive(Debug, Clone, Copy)]
pub(super) struct Extreme {
    pub(super) moment: Moment,
    pub(super) sin_altitude: f64,
}

/// A sine of altitude to be found between two times.
#[derive(Debug, Clone, Copy)]
pub(super) struct Search {
    pub(super) target: f64,
    /// A time when the sun is below it.
    pub(super) below: f64,
    /// A time when the sun is above it.
    pub(super) above: f64,
    /// Where the search starts.
    pub(super) start: f64,
}

/// The sine of the altitude and its derivatives per day.
#[derive(Debug, Clone, Copy)]
struct Climb {
    value: f64,
    slope: f64,
    curvature: f64,
    third: f64,
}

/// Altitude and rate of climb of the sun at a moment.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    moment: Moment,
    climb: Climb,
}

impl Course {
    pub(super) fn new(frame: Frame, path: &Path) -> Self {
        Self {
            frame,
            x: path.x.scaled(frame.cos_latitude),
            y: path.y.scaled(frame.cos_latitude),
            z: path.z.scaled(frame.sin_latitude),
        }
    }

    pub(super) fn moment(&self, time: f64) -> Moment {
        let (sin, cos) = sin_cos(self.frame.angle(time));
        Moment { time, sin, cos }
    }

    /// One step closer to the time of zero hour angle: to within a millisecond from a quarter of an hour away.
    pub(super) fn towards_transit(&self, from: Moment) -> Moment {
        let Moment { time, sin, cos } = from;
        let (x, y) = (self.x.value(time), self.y.value(time));
        let (x_slope, y_slope) = (self.x.slope(time), self.y.slope(time));
        let hour_angle = (x * sin - y * cos).atan2(x * cos + y * sin);
        let right_ascension_rate = (x * y_slope - y * x_slope) / (x * x + y * y);
        self.moved(from, -hour_angle / (self.frame.rate - right_ascension_rate))
    }

    /// The highest or lowest sun next to a moment.
    pub(super) fn extreme_near(&self, mut moment: Moment) -> Extreme {
        let mut sin_altitude = 0.0;
        // The start is within minutes, so two steps are enough even at 89°.
        for _ in 0..8 {
            let Climb {
                value,
                slope,
                curvature,
                ..
            } = self.climb(moment);
            let step = -slope / curvature;
            moment = self.moved(moment, step);
            sin_altitude = value + 0.5 * slope * step;
            // The curve is symmetric about its extreme to third order, so a step leaves about its cube.
            if step.abs() < 1e-3 {
                break;
            }
        }
        Extreme {
            moment,
            sin_altitude,
        }
    }

    /// A start for a search, right to within seconds: treats the sine of the altitude as a cosine of time.
    pub(super) fn estimate(lowest: &Extreme, highest: &Extreme, target: f64) -> f64 {
        let middle = 0.5 * (highest.sin_altitude + lowest.sin_altitude);
        let reach = 0.5 * (highest.sin_altitude - lowest.sin_altitude);
        let phase = ((target - middle) / reach).clamp(-1.0, 1.0).acos();
        highest.moment.time + (lowest.moment.time - highest.moment.time) * phase / PI
    }

    /// Looks at several times: none has to wait for another's result.
    pub(super) fn looks<const N: usize>(&self, times: [f64; N]) -> [Look; N] {
        let turned = times.map(|time| sin_cos(self.frame.angle(time)));
        std::array::from_fn(|i| {
            let (sin, cos) = turned[i];
            self.look(Moment {
                time: times[i],
                sin,
                cos,
            })
        })
    }

    /// The time of a sine of altitude, from a first look that may be minutes off: one more step is mostly
    /// enough.
    #[inline(always)]
    pub(super) fn crossing(&self, search: &Search, mut look: Look) -> f64 {
        let Search {
            target,
            mut below,
            mut above,
            ..
        } = *search;
        // Halving alone needs 33 turns from half a day down to ten microseconds.
        for _ in 0..40 {
            let Look { moment, climb } = look;
            let miss = climb.value - target;
            if miss < 0.0 {
                below = moment.time;
            } else {
                above = moment.time;
            }
            let step = self.step(&climb, miss);
            let time = moment.time + step;
            let (first, last) = (below.min(above), below.max(above));
            // A step leaves about the fifth power of itself, from the turn of the earth and the change of slope
            // on the way.
            let turn = self.frame.rate * step;
            let bend = step * climb.curvature / climb.slope;
            let share = turn * turn + bend * bend;
            if step.abs() * share * share < CLOSE_ENOUGH_DAYS {
                return time.clamp(first, last);
            }
            look = self.look(if first < time && time < last {
                self.moved(moment, step)
            } else {
                self.moment(0.5 * (first + last))
            });
        }
        look.moment.time
    }

    /// The step to where the miss becomes zero: Householder's method of fourth order, the next after Newton's
    /// and Halley's.
    fn step(&self, climb: &Climb, miss: f64) -> f64 {
        let inverse = 1.0 / climb.slope;
        let newton = miss * inverse;
        let second = newton * climb.curvature * inverse * 0.5;
        let third = newton * newton * climb.third * inverse * (1.0 / 6.0);
        // As in a plain cosine, the fourth derivative is about to the second as the third is to the first.
        let turn = self.frame.rate * newton;
        let fourth = -turn * turn * second * (1.0 / 12.0);
        -newton * (1.0 - 2.0 * second + third)
            / (1.0 - 3.0 * second + second * second + 2.0 * third - fourth)
    }

    /// Half a day earlier (−1) or later (+1).
    pub(super) fn half_a_day(&self, from: Moment, direction: f64) -> Moment {
        // Half a turn of the earth, and a little more.
        let (sin, cos) = small_sin_cos(direction * (0.5 * self.frame.rate - PI));
        from.turned(from.time + 0.5 * direction, (-sin, -cos))
    }

    fn moved(&self, moment: Moment, step: f64) -> Moment {
        let turn = self.frame.rate * step;
        if turn.abs() < SMALL_TURN {
            moment.turned(moment.time + step, small_sin_cos(turn))
        } else {
            self.moment(moment.time + step)
        }
    }

    #[inline(always)]
    fn look(&self, moment: Moment) -> Look {
        Look {
            moment,
            climb: self.climb(moment),
        }
    }

    #[inline(always)]
    fn climb(&self, Moment { time, sin, cos }: Moment) -> Climb {
        let (x, y) = (self.x.value(time), self.y.value(time));
        let (x_slope, y_slope) = (self.x.slope(time), self.y.slope(time));
        let up = x * cos + y * sin;
        let east = y * cos - x * sin;
        let up_slope = x_slope * cos + y_slope * sin;
        let east_slope = y_slope * cos - x_slope * sin;
        let own_curvature =
            self.z.curvature(time) + self.x.curvature(time) * cos + self.y.curvature(time) * sin;
        let rate = self.frame.rate;
        Climb {
            value: self.z.value(time) + up,
            slope: self.z.slope(time) + up_slope + rate * east,
            curvature: own_curvature + rate * (2.0 * east_slope - rate * up),
            // The curvature of the sun's own path is left out: it is 10⁻⁴ of this.
            third: -rate * rate * (3.0 * up_slope + rate * east),
        }
    }
}

impl Moment {
    /// At another time, after turning by an angle with this sine and cosine.
    fn turned(self, time: f64, (sin, cos): (f64, f64)) -> Self {
        Self {
            time,
            sin: self.sin * cos + self.cos * sin,
            cos: self.cos * cos - self.sin * sin,
        }
    }
}

/// Largest angle for [`small_sin_cos`] [rad]: its series then leave less than 10⁻¹³. That is half an hour's
/// turn.
const SMALL_TURN: f64 = 0.13;

fn small_sin_cos(turn: f64) -> (f64, f64) {
    let square = turn * turn;
    let sin = turn
        * (1.0
            - square / 6.0 * (1.0 - square / 20.0 * (1.0 - square / 42.0 * (1.0 - square / 72.0))));
    let cos =
        1.0 - square / 2.0 * (1.0 - square / 12.0 * (1.0 - square / 30.0 * (1.0 - square / 56.0)));
    (sin, cos)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_turns_agree_with_the_library() {
        for i in -130..=130 {
            let turn = f64::from(i) / 1000.0;
            let (sin, cos) = small_sin_cos(turn);
            assert!(
                (sin - turn.sin()).abs() < 1e-13 && (cos - turn.cos()).abs() < 1e-13,
                "{turn}"
            );
        }
    }
}
