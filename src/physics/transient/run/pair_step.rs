//! A step while at most one pair conducts into the capacitor, written out in full.
//!
//! ```text
//!   z = e/S + z_0 − gain/S·v_C + R_eq/S·i         ω = ω(z),  i = λ/L
//!   v_C' = (u·ω − b − i − v_n/R_p)/C              λ' = v_n − (R_ser + R)·i
//! ```
//!
//! Three quarters of all time goes into this function, most of it waiting for the previous result, so the
//! constants are multiplied out beforehand.

use super::dormand_prince::{A1, A2, A3, A4, A5, B, C, E};
use super::pair::Pair;
use super::step::{Step, sane};
use super::wright::omega;
use super::{Evaluated, Response, Run, Turning};

/// Slopes of capacitor voltage and flux, and ω.
#[derive(Clone, Copy)]
struct Rates {
    v: f64,
    flux: f64,
    omega: f64,
}

impl Pair {
    #[inline(always)]
    #[expect(
        clippy::inline_always,
        reason = "seven calls in a row; a call takes as long as the work"
    )]
    fn rates(&self, source_v: f64, v: f64, flux: f64, per_henry: f64) -> Rates {
        let coil_a = flux * per_henry;
        let z_source = source_v * self.per_slope_v + self.shift;
        let omega = omega((z_source + coil_a * self.z_per_a) - v * self.z_per_v);
        Rates {
            v: omega * self.rise_per_omega
                - ((v * self.rise_per_v + self.rise_idle) + coil_a * self.rise_per_a),
            flux: ((v * self.gain - coil_a * self.drop_ohm) - self.drop_idle_v)
                + omega * self.lift_v,
            omega,
        }
    }
}

impl Run<'_> {
    /// A step; `None` if another diode conducts or begins to.
    pub(super) fn pair_step(&self, h: f64, here: &Evaluated) -> Option<Step> {
        let (pair, first_s) = (self.network.pair.as_ref()?, here.conductance_s?);
        let source = Turning::new(here.drive, self.wave.omega);
        let per_henry = if self.armature.rate(self.coil) == 0.0 {
            [1.0 / self.inductance_h(); 5]
        } else {
            [C[0], C[1], C[2], C[3], 1.0].map(|c| 1.0 / self.inductance_after(c * h))
        };
        let end_drive = source.after(h);
        let e = C.map(|c| source.volts_after(c * h));
        let [v, flux] = self.state;
        let [dv, dflux] = here.slope;
        let k1 = pair.rates(e[0], v + h * A1 * dv, flux + h * A1 * dflux, per_henry[0]);
        let k2 = pair.rates(
            e[1],
            (v + h * A2[0] * dv) + h * A2[1] * k1.v,
            (flux + h * A2[0] * dflux) + h * A2[1] * k1.flux,
            per_henry[1],
        );
        let k3 = pair.rates(
            e[2],
            (v + h * (A3[0] * dv + A3[1] * k1.v)) + h * A3[2] * k2.v,
            (flux + h * (A3[0] * dflux + A3[1] * k1.flux)) + h * A3[2] * k2.flux,
            per_henry[2],
        );
        let k4 = pair.rates(
            e[3],
            (v + h * (A4[0] * dv + A4[1] * k1.v + A4[2] * k2.v)) + h * A4[3] * k3.v,
            (flux + h * (A4[0] * dflux + A4[1] * k1.flux + A4[2] * k2.flux)) + h * A4[3] * k3.flux,
            per_henry[3],
        );
        let k5 = pair.rates(
            end_drive.volts,
            (v + h * (A5[0] * dv + A5[1] * k1.v + A5[2] * k2.v + A5[3] * k3.v)) + h * A5[4] * k4.v,
            (flux + h * (A5[0] * dflux + A5[1] * k1.flux + A5[2] * k2.flux + A5[3] * k3.flux))
                + h * A5[4] * k4.flux,
            per_henry[4],
        );
        let end = [
            (v + h * (B[0] * dv + B[1] * k2.v + B[2] * k3.v + B[3] * k4.v)) + h * B[4] * k5.v,
            (flux + h * (B[0] * dflux + B[1] * k2.flux + B[2] * k3.flux + B[3] * k4.flux))
                + h * B[4] * k5.flux,
        ];
        let k6 = pair.rates(end_drive.volts, end[0], end[1], per_henry[4]);
        let off_v = E[0] * dv + E[1] * k2.v + E[2] * k3.v + E[3] * k4.v + E[4] * k5.v + E[5] * k6.v;
        let off_flux = E[0] * dflux
            + E[1] * k2.flux
            + E[2] * k3.flux
            + E[3] * k4.flux
            + E[4] * k5.flux
            + E[5] * k6.flux;
        let error = (h * off_v / self.allowed[0])
            .abs()
            .max((h * off_flux / self.allowed[1]).abs());
        let flow = pair.flow(k6.omega, end, per_henry[4], here.sign);
        if error <= 1.0
            && !self
                .network
                .others_block(flow.node_v, flow.coil_v, f64::NEG_INFINITY)
        {
            return None;
        }
        Some(Step {
            end,
            there: Evaluated {
                slope: [k6.v, k6.flux],
                flow,
                drive: end_drive,
                sign: here.sign,
                conductance_s: Some(pair.conductance_s(k6.omega)),
                response: Response::default(),
            },
            grip_s: Some(
                B[0] * first_s
                    + B[1] * pair.conductance_s(k2.omega)
                    + B[2] * pair.conductance_s(k3.omega)
                    + B[3] * pair.conductance_s(k4.omega)
                    + B[4] * pair.conductance_s(k5.omega),
            ),
            fade: None,
            error: sane(error),
        })
    }
}

impl Pair {
    /// The flow at ω in a state with the source at that voltage, and its slope.
    pub(super) fn at(&self, source_v: f64, state: [f64; 2], per_henry: f64) -> (f64, [f64; 2]) {
        let rates = self.rates(source_v, state[0], state[1], per_henry);
        (rates.omega, [rates.v, rates.flux])
    }
}
