//! The samples, for other programs.

use std::fmt::Write;

use super::{Trace, contact};

/// One line per sample, SI units; armature 0 open … 1 closed, contact 0 or 1.
pub fn waveform_csv(trace: &Trace) -> String {
    let mut out = String::from(
        "at_s,far_v,dc_v,coil_v,wire_a,rectifier_a,capacitor_a,coil_a,armature,contact\n",
    );
    for (sample, closed) in trace.samples.iter().zip(contact(&trace.samples)) {
        let s = sample;
        // Avoids −0.
        let [far_v, dc_v, coil_v] = [s.far_v, s.dc_v, s.coil_v].map(|v| round(v, 1e4));
        let [wire_a, rectifier_a, capacitor_a, coil_a] =
            [s.wire_a, s.rectifier_a, s.capacitor_a, s.coil_a].map(|v| round(v, 1e6));
        let _ = writeln!(
            out,
            "{:.6},{far_v:.4},{dc_v:.4},{coil_v:.4},{wire_a:.6},{rectifier_a:.6},{capacitor_a:.6},\
             {coil_a:.6},{:.3},{}",
            s.at_s,
            s.position,
            u8::from(closed)
        );
    }
    out
}

fn round(value: f64, parts: f64) -> f64 {
    (value * parts).round() / parts + 0.0
}
