//! The highest and the lowest value between samples.

/// The highest and the lowest value of a smooth curve that is sampled here and there: a parabola through the
/// last three samples.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Extremes {
    pub(in super::super) most: f64,
    pub(in super::super) least: f64,
    last: [(f64, f64); 2],
    looks: u8,
}

impl Default for Extremes {
    fn default() -> Self {
        Self {
            most: f64::NEG_INFINITY,
            least: f64::INFINITY,
            last: [(0.0, 0.0); 2],
            looks: 0,
        }
    }
}

impl Extremes {
    /// Forgets the samples, but not the extremes: what follows does not continue the curve.
    pub(in super::super) fn break_off(&mut self) {
        self.looks = 0;
    }

    pub(in super::super) fn look(&mut self, t: f64, x: f64) {
        self.most = self.most.max(x);
        self.least = self.least.min(x);
        let [(t0, x0), (t1, x1)] = self.last;
        if self.looks >= 2 && (x1 - x0) * (x - x1) < 0.0 && t1 > t0 && t > t1 {
            // Newton's divided differences; the vertex of the parabola.
            let d01 = (x1 - x0) / (t1 - t0);
            let d12 = (x - x1) / (t - t1);
            let curve = (d12 - d01) / (t - t0);
            let slope = d01 + curve * (t1 - t0);
            let vertex = x1 - slope * slope / (4.0 * curve);
            if curve < 0.0 {
                self.most = self.most.max(vertex);
            } else {
                self.least = self.least.min(vertex);
            }
        }
        self.last = [(t1, x1), (t, x)];
        self.looks = (self.looks + 1).min(2);
    }
}
