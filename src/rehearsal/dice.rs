//! Random numbers, the same on every machine.

use chrono::TimeDelta;
use rand_distr::{Distribution, Uniform};
use rand_pcg::Pcg64;

/// Random numbers of one run.
#[derive(Debug)]
pub(super) struct Dice(Pcg64);

impl Dice {
    /// Stream `number` of a seed.
    pub(super) fn new(seed: u64, number: u64) -> Self {
        Self(Pcg64::new(seed.into(), number.into()))
    }

    /// One of so many.
    pub(super) fn of(&mut self, count: usize) -> usize {
        let range = Uniform::new(0, count.max(1) as u64).expect("more than none");
        usize::try_from(range.sample(&mut self.0)).unwrap_or(0)
    }

    /// The same, as a number to count with.
    pub(super) fn small(&mut self, count: i32) -> i32 {
        let range = Uniform::new(0, count).expect("more than none");
        range.sample(&mut self.0)
    }

    pub(super) fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.of(of.len())]
    }

    pub(super) fn uniform(&mut self, low: f64, high: f64) -> f64 {
        let range = Uniform::new(low, high).expect("low below high");
        range.sample(&mut self.0)
    }

    pub(super) fn chance(&mut self, part: f64) -> bool {
        self.uniform(0.0, 1.0) < part
    }

    /// Whole seconds, short ones as likely as long ones.
    pub(super) fn seconds(&mut self, low: f64, high: f64) -> TimeDelta {
        let seconds = self.uniform(low.ln(), high.ln()).exp();
        #[expect(clippy::cast_possible_truncation, reason = "at most a century")]
        TimeDelta::seconds(seconds.round() as i64)
    }
}
