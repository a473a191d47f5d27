//! The readings of meters and an oscilloscope over a stretch of time.

use super::network::{Flow, Guess};
use super::run::{Piece, Run};

mod extremes;

pub(super) use extremes::Extremes;

/// Lobatto's nodes within 0…1 and the weight of each; the ends share the rest.
const NODES: [f64; 2] = [0.276_393_202_250_021, 0.723_606_797_749_979];
const NODE_WEIGHT: f64 = 5.0 / 12.0;
const END_WEIGHT: f64 = 1.0 / 12.0;

/// Fewest panels in a half-period.
const PANELS: f64 = 4.0;

/// RMS divided by mean of a sine, π/(2√2): the factor built into an average-responding meter.
const FORM_FACTOR: f64 = std::f64::consts::FRAC_PI_2 * std::f64::consts::FRAC_1_SQRT_2;

/// Every voltage and current at one instant.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Sample {
    /// Time since switch-on [s].
    pub at_s: f64,
    /// At the near end of the wire [V].
    pub term_v: f64,
    /// At the far end of the wire [V].
    pub far_v: f64,
    /// Across the capacitor [V].
    pub dc_v: f64,
    /// Across the coil [V].
    pub coil_v: f64,
    /// In the wire [A].
    pub wire_a: f64,
    /// Out of the rectifier [A].
    pub rectifier_a: f64,
    /// Into the capacitor [A].
    pub capacitor_a: f64,
    /// In the coil [A].
    pub coil_a: f64,
    /// Armature, 0 open … 1 closed.
    pub position: f64,
}

/// A small whole number as one.
pub(super) fn count(whole: f64) -> u32 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a whole number of panels or periods, far below 2^32; beyond it, it saturates"
    )]
    let count = whole as u32;
    count
}

/// Currents and voltages at an instant of a piece.
pub(super) fn sample(
    run: &Run<'_>,
    wire_ohm: f64,
    piece: &Piece,
    at_s: f64,
    guess: &mut Guess,
) -> Sample {
    let (flow, coil_a) = run.flow_at(piece, at_s, guess);
    shown(run, wire_ohm, piece, at_s, &flow, coil_a)
}

/// The same from the flow.
fn shown(
    run: &Run<'_>,
    wire_ohm: f64,
    piece: &Piece,
    at_s: f64,
    flow: &Flow,
    coil_a: f64,
) -> Sample {
    let network = &run.network;
    let source_v = network.feed.peak_v * run.wave.at(at_s);
    let far_v = source_v - network.feed.ohm * flow.ac_a;
    Sample {
        at_s,
        term_v: far_v + wire_ohm * flow.ac_a,
        far_v,
        dc_v: flow.node_v,
        coil_v: flow.coil_v,
        wire_a: flow.ac_a,
        rectifier_a: flow.dc_a,
        capacitor_a: if network.capacitance_f.is_some() {
            flow.dc_a - (coil_a - flow.flyback_a) - flow.node_v * network.leak_s
        } else {
            0.0
        },
        coil_a,
        position: piece.position_at(at_s),
    }
}

/// Means, RMS values and extremes over a window.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Window {
    /// Mean voltage across the capacitor [V].
    pub dc_mean_v: f64,
    /// Highest voltage across the capacitor [V].
    pub dc_peak_v: f64,
    /// Lowest voltage across the capacitor [V].
    pub dc_trough_v: f64,
    /// Mean coil voltage [V].
    pub coil_mean_v: f64,
    /// Coil voltage on a meter set to AC volts, true RMS and without the mean [V RMS].
    pub coil_ac_v: f64,
    /// Mean coil current [A].
    pub coil_mean_a: f64,
    /// Lowest coil current [A].
    pub coil_least_a: f64,
    /// Highest coil current [A].
    pub coil_most_a: f64,
    /// Peak current out of the rectifier [A].
    pub rectifier_peak_a: f64,
    /// In the wire [A RMS].
    pub wire_rms_a: f64,
    /// In the capacitor [A RMS].
    pub capacitor_rms_a: f64,
    /// Near end: RMS, average-responding, mean [V].
    pub term: Meter,
    /// Far end: RMS, average-responding, mean [V].
    pub far: Meter,
}

/// One voltage on three kinds of meter.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
#[expect(clippy::struct_field_names, reason = "the unit ends every name")]
pub struct Meter {
    /// True RMS [V].
    pub rms_v: f64,
    /// Average-responding, calibrated for a sine [V].
    pub average_v: f64,
    /// Direct voltage [V].
    pub mean_v: f64,
}

/// Collects a [`Window`].
#[derive(Debug, Clone, Default)]
pub(super) struct Measure {
    wire_ohm: f64,
    total_s: f64,
    /// Coil voltage beyond the resistive drop, integrated over time [Vs].
    flux_vs: f64,
    coil_ohm: f64,
    sums: [f64; 12],
    dc: Extremes,
    coil: Extremes,
    rectifier: Extremes,
    guess: Guess,
    /// Sample at the end of the last piece.
    last: Option<Sample>,
}

impl Measure {
    pub(super) fn new(wire_ohm: f64) -> Self {
        Self {
            wire_ohm,
            ..Self::default()
        }
    }

    pub(super) fn add(&mut self, run: &Run<'_>, piece: &Piece) {
        let whole_s = piece.end_s - piece.start_s;
        if whole_s <= 0.0 {
            return;
        }
        let panels = if piece.course().is_some() {
            (whole_s / run.wave.half_s * PANELS).ceil().max(1.0)
        } else {
            1.0
        };
        let h = whole_s / panels;
        let mut from = piece.start_s;
        let mut first = match self.last {
            Some(last) if last.at_s >= piece.start_s => last,
            _ => {
                let first = self.sample(run, piece, from);
                self.look(&first);
                first
            }
        };
        for _ in 0..count(panels) {
            self.sum(&first, END_WEIGHT * h);
            for node in NODES {
                let sample = self.sample(run, piece, from + node * h);
                self.look(&sample);
                self.sum(&sample, NODE_WEIGHT * h);
            }
            from += h;
            first = match piece.end_flow() {
                Some(flow) => {
                    let coil_a =
                        piece.end[1] / run.coil.inductance_h(piece.position_at(piece.end_s));
                    shown(run, self.wire_ohm, piece, piece.end_s, flow, coil_a)
                }
                None => self.sample(run, piece, from),
            };
            self.look(&first);
            self.sum(&first, END_WEIGHT * h);
        }
        self.flux_vs += piece.end[1] - piece.start[1];
        self.coil_ohm = run.network.coil_ohm;
        first.at_s = piece.end_s;
        self.last = Some(first);
        self.total_s += whole_s;
    }

    fn sample(&mut self, run: &Run<'_>, piece: &Piece, at_s: f64) -> Sample {
        sample(run, self.wire_ohm, piece, at_s, &mut self.guess)
    }

    fn sum(&mut self, s: &Sample, weight: f64) {
        for (sum, value) in self.sums.iter_mut().zip([
            s.dc_v,
            s.coil_a,
            s.wire_a * s.wire_a,
            s.capacitor_a * s.capacitor_a,
            s.term_v * s.term_v,
            s.term_v.abs(),
            s.term_v,
            s.far_v * s.far_v,
            s.far_v.abs(),
            s.far_v,
            s.coil_v,
            s.coil_v * s.coil_v,
        ]) {
            *sum += weight * value;
        }
    }

    fn look(&mut self, sample: &Sample) {
        self.dc.look(sample.at_s, sample.dc_v);
        self.coil.look(sample.at_s, sample.coil_a);
        self.rectifier.look(sample.at_s, sample.rectifier_a);
    }

    pub(super) fn window(&self) -> Window {
        let mean = self.sums.map(|sum| sum / self.total_s);
        let meter = |k: usize| Meter {
            rms_v: mean[k].sqrt(),
            average_v: FORM_FACTOR * mean[k + 1],
            mean_v: mean[k + 2],
        };
        Window {
            dc_mean_v: mean[0],
            dc_peak_v: self.dc.most,
            dc_trough_v: self.dc.least,
            // By the law of induction, however sharply the voltage bends.
            coil_mean_v: self.flux_vs / self.total_s + self.coil_ohm * mean[1],
            coil_ac_v: (mean[11] - mean[10] * mean[10]).max(0.0).sqrt(),
            coil_mean_a: mean[1],
            coil_least_a: self.coil.least,
            coil_most_a: self.coil.most,
            rectifier_peak_a: self.rectifier.most,
            wire_rms_a: mean[2].sqrt(),
            capacitor_rms_a: mean[3].sqrt(),
            term: meter(4),
            far: meter(7),
        }
    }
}
