//! The sun's course over a place: its extremes, and when it passes an altitude between them.
//!
//! Times are days of TT from noon TT of a base day, and altitudes are sines of the altitude seen from the earth's centre.
//! The sine is what comes out of the geometry, and it spares an arc sine per step.
//!
//! Turning by a small or a known angle replaces most sines and cosines: a day needs two of them, an event none.

use std::f64::consts::PI;

use super::position::Frame;
use super::sky::{Cubic, Path};

/// A search ends when what it leaves is below this: ten microseconds [days].
const CLOSE_ENOUGH_DAYS: f64 = 1e-10;

/// The sun's direction and the place that turns under it, around one noon.
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

/// The sine of the altitude and how it changes per day.
struct Climb {
    value: f64,
    slope: f64,
    curvature: f64,
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
        let (sin, cos) = self.frame.angle(time).sin_cos();
        Moment { time, sin, cos }
    }

    /// Closer to the time at which the hour angle is zero: within a millisecond from a quarter of an hour away.
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
        // The start is within minutes, so that two steps do even at 89°.
        for _ in 0..8 {
            let Climb {
                value,
                slope,
                curvature,
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

    /// The time of a sine of altitude that lies between a lowest sun and the highest.
    ///
    /// Halley's steps, which use the curvature too, from an estimate; a bracket keeps them between the extremes.
    pub(super) fn crossing(&self, lowest: &Extreme, highest: &Extreme, target: f64) -> f64 {
        let (mut below, mut above) = (lowest.moment.time, highest.moment.time);
        let mut moment = self.estimate(lowest, highest, target);
        // Halving alone needs 33 turns from half a day down to ten microseconds.
        for _ in 0..40 {
            let Climb {
                value,
                slope,
                curvature,
            } = self.climb(moment);
            let miss = value - target;
            if miss < 0.0 {
                below = moment.time;
            } else {
                above = moment.time;
            }
            let step = -miss * slope / (slope * slope - 0.5 * miss * curvature);
            let time = moment.time + step;
            let (first, last) = (below.min(above), below.max(above));
            // A step leaves about its cube, by the turn of the earth and by how the slope changes on the way.
            let turn = self.frame.rate * step;
            let bend = step * curvature / slope;
            if step.abs() * (turn * turn + bend * bend) < CLOSE_ENOUGH_DAYS {
                return time.clamp(first, last);
            }
            moment = if first < time && time < last {
                self.moved(moment, step)
            } else {
                self.moment(0.5 * (first + last))
            };
        }
        moment.time
    }

    /// Half a day earlier (−1) or later (+1).
    pub(super) fn half_a_day(&self, from: Moment, direction: f64) -> Moment {
        // Half a turn of the earth and a little more.
        let (sin, cos) = small_sin_cos(direction * (0.5 * self.frame.rate - PI));
        from.turned(from.time + 0.5 * direction, (-sin, -cos))
    }

    /// Takes the sine of the altitude for a cosine of time between the extremes, which misses by seconds.
    fn estimate(&self, lowest: &Extreme, highest: &Extreme, target: f64) -> Moment {
        let middle = 0.5 * (highest.sin_altitude + lowest.sin_altitude);
        let reach = 0.5 * (highest.sin_altitude - lowest.sin_altitude);
        let cos = ((target - middle) / reach).clamp(-1.0, 1.0);
        let sin = ((1.0 - cos) * (1.0 + cos)).sqrt();
        let phase = cos.acos();
        let half_day = lowest.moment.time - highest.moment.time;
        let direction = half_day.signum();
        let time = highest.moment.time + half_day * phase / PI;
        // The earth turns by the phase and, as the sun moves on and the extremes shift, a little more or less.
        let more = (self.frame.rate * half_day - direction * PI) * phase / PI;
        highest
            .moment
            .turned(time, (direction * sin, cos))
            .turned(time, small_sin_cos(more))
    }

    fn moved(&self, moment: Moment, step: f64) -> Moment {
        let turn = self.frame.rate * step;
        if turn.abs() < SMALL_TURN {
            moment.turned(moment.time + step, small_sin_cos(turn))
        } else {
            self.moment(moment.time + step)
        }
    }

    fn climb(&self, Moment { time, sin, cos }: Moment) -> Climb {
        let (x, y) = (self.x.value(time), self.y.value(time));
        let (x_slope, y_slope) = (self.x.slope(time), self.y.slope(time));
        let up = x * cos + y * sin;
        let east = y * cos - x * sin;
        Climb {
            value: self.z.value(time) + up,
            slope: self.z.slope(time) + x_slope * cos + y_slope * sin + self.frame.rate * east,
            // The curvature of the sun's own path is 10⁻⁴ of this, too little to slow a search down.
            curvature: self.frame.rate
                * (2.0 * (y_slope * cos - x_slope * sin) - self.frame.rate * up),
        }
    }
}

impl Moment {
    /// At another time, turned by an angle of this sine and cosine.
    fn turned(self, time: f64, (sin, cos): (f64, f64)) -> Self {
        Self {
            time,
            sin: self.sin * cos + self.cos * sin,
            cos: self.cos * cos - self.sin * sin,
        }
    }
}

/// Up to this angle [rad] the series of [`small_sin_cos`] leave less than 10⁻¹³: half an hour's turn.
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
