//! A link as one JSON object, and its answer as another: the names of the batch interface.

use serde::{Deserialize, Serialize};

use super::{CannotConclude, Capacitor, Coil, Link, Source, Transient};
use crate::circuit::copper;
use crate::circuit::diode::{Diode, Junction};
use crate::circuit::rectifier::Rectifier;

/// One link as the batch interface writes it; SI units and °C. Unknown names are ignored.
#[derive(Debug, Clone, Deserialize)]
pub struct Case {
    /// Returned with the answer.
    #[serde(default)]
    pub id: serde_json::Value,
    source: SourceCase,
    #[serde(default)]
    local_load_ohm: Option<f64>,
    wire: WireCase,
    #[serde(default)]
    bridge: Option<DiodeCase>,
    #[serde(default)]
    cap: Option<CapCase>,
    #[serde(default)]
    r_series_ohm: Option<f64>,
    relay: RelayCase,
    #[serde(default)]
    flyback: Option<DiodeCase>,
    #[serde(default)]
    t_on: f64,
    t_off: f64,
    t_stop: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Kind {
    Ac,
    Dc,
}

#[derive(Debug, Clone, Deserialize)]
struct SourceCase {
    kind: Kind,
    v_oc: f64,
    #[serde(default)]
    freq_hz: Option<f64>,
    #[serde(default)]
    phase_on_deg: Option<f64>,
    r_src_ohm: f64,
    switch_ron_ohm: f64,
    switch_roff_ohm: f64,
}

#[derive(Debug, Clone, Deserialize)]
struct WireCase {
    #[serde(default)]
    awg: Option<f64>,
    #[serde(default)]
    mm2: Option<f64>,
    /// The measured loop, at its temperature; instead of gauge or section.
    #[serde(default)]
    loop_ohm: Option<f64>,
    #[serde(default)]
    length_m: f64,
    #[serde(default)]
    temp_c: Option<f64>,
    #[serde(default)]
    splice_ohm: f64,
    #[serde(default)]
    strand_factor: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Arrangement {
    Bridge,
    SingleDiode,
}

#[derive(Debug, Clone, Deserialize)]
struct DiodeCase {
    is: f64,
    n: f64,
    rs: f64,
    eg: f64,
    xti: f64,
    #[serde(default)]
    temp_c: Option<f64>,
    #[serde(default)]
    arrangement: Option<Arrangement>,
}

#[derive(Debug, Clone, Deserialize)]
struct CapCase {
    c_f: f64,
    #[serde(default)]
    esr_ohm: f64,
    #[serde(default)]
    leak_ohm: Option<f64>,
}

#[derive(Debug, Clone, Deserialize)]
struct RelayCase {
    r20_ohm: f64,
    coil_temp_c: f64,
    l_open_h: f64,
    l_closed_h: f64,
    v_operate20: f64,
    v_release20: f64,
    t_close_s: f64,
    t_open_s: f64,
}

/// Default temperature of a flyback diode [°C]: the SPICE default.
const DEFAULT_C: f64 = 27.0;

/// Highest frequency of any mains [Hz]: ships and aircraft have 400.
const GREATEST_HZ: f64 = 400.0;

/// Resistivity of annealed copper at 20 °C [Ωm]: International Annealed Copper Standard.
const COPPER_OHM_M: f64 = 1.7241e-8;

impl DiodeCase {
    fn junction(&self, diode_c: f64) -> Junction {
        Diode {
            saturation_a: self.is,
            emission: self.n,
            series_ohm: self.rs,
            energy_gap_ev: self.eg,
            saturation_exponent: self.xti,
            reverse_v: f64::INFINITY,
        }
        .junction_at(diode_c)
    }
}

impl WireCase {
    fn loop_ohm(&self) -> Result<f64, String> {
        if let Some(ohm) = self.loop_ohm {
            return Ok(ohm + self.splice_ohm);
        }
        let square_m = match (self.awg, self.mm2) {
            (Some(awg), None) => {
                // ASTM B258: 36 AWG is 0.127 mm, 39 sizes to a factor of 92.
                let diameter_m = 0.127e-3 * 92.0_f64.powf((36.0 - awg) / 39.0);
                0.25 * std::f64::consts::PI * diameter_m * diameter_m
            }
            (None, Some(mm2)) => mm2 * 1e-6,
            _ => return Err("wire: give one of awg, mm2 and loop_ohm".into()),
        };
        let ohm_per_m = COPPER_OHM_M / square_m * self.strand_factor.unwrap_or(1.0);
        let warmth = copper::factor(self.temp_c.unwrap_or(20.0));
        Ok(2.0 * self.length_m * ohm_per_m * warmth + self.splice_ohm)
    }
}

impl Case {
    /// The link in SI numbers.
    pub fn link(&self) -> Result<Link, String> {
        if let Some(hz) = self.source.freq_hz.filter(|hz| *hz > GREATEST_HZ) {
            return Err(format!(
                "source: {hz} Hz is an electronic transformer's: only a magnetic one, at mains frequency, can feed a pilot wire"
            ));
        }
        let source = match self.source.kind {
            Kind::Ac => Source::Ac {
                rms_v: self.source.v_oc,
                hz: self
                    .source
                    .freq_hz
                    .ok_or("source: an ac source needs freq_hz")?,
                phase_rad: self.source.phase_on_deg.unwrap_or(0.0).to_radians(),
            },
            Kind::Dc => Source::Dc {
                volts: self.source.v_oc,
            },
        };
        let ambient_c = self
            .bridge
            .as_ref()
            .and_then(|bridge| bridge.temp_c)
            .unwrap_or(DEFAULT_C);
        let rectifier = match &self.bridge {
            None => Rectifier::None,
            Some(diode) => match diode.arrangement {
                Some(Arrangement::SingleDiode) => Rectifier::SingleDiode,
                Some(Arrangement::Bridge) | None => Rectifier::Bridge,
            },
        };
        let relay = &self.relay;
        Ok(Link {
            source,
            source_ohm: self.source.r_src_ohm,
            switch_on_ohm: self.source.switch_ron_ohm,
            switch_off_ohm: self.source.switch_roff_ohm,
            lamps_ohm: self.local_load_ohm,
            wire_ohm: self.wire.loop_ohm()?,
            rectifier,
            diode: self.bridge.as_ref().map_or_else(
                || Diode::usual().junction_at(ambient_c),
                |d| d.junction(ambient_c),
            ),
            capacitor: self.cap.as_ref().map(|cap| Capacitor {
                farad: cap.c_f,
                esr_ohm: cap.esr_ohm,
                leak_ohm: cap.leak_ohm,
            }),
            series_ohm: self.r_series_ohm.unwrap_or(0.0),
            coil: Coil {
                ohm: relay.r20_ohm * copper::factor(relay.coil_temp_c),
                open_h: relay.l_open_h,
                closed_h: relay.l_closed_h,
                operate_a: relay.v_operate20 / relay.r20_ohm,
                release_a: relay.v_release20 / relay.r20_ohm,
                close_s: relay.t_close_s,
                open_s: relay.t_open_s,
            },
            flyback: self
                .flyback
                .as_ref()
                .map(|d| d.junction(d.temp_c.unwrap_or(ambient_c))),
            on_for_s: self.t_off - self.t_on,
            off_for_s: self.t_stop - self.t_off,
        })
    }
}

/// The answer to a [`Case`], with the names of the interface.
#[derive(Debug, Clone, Serialize)]
pub struct Reference {
    v_dc_mean: f64,
    v_dc_peak: f64,
    v_dc_trough: f64,
    v_coil_mean: f64,
    i_coil_mean: f64,
    i_coil_min: f64,
    i_coil_max: f64,
    i_diode_peak_ss: f64,
    i_diode_peak_inrush: f64,
    i_ac_rms: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    i_cap_rms: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    v_term_rms: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    v_term_avgresp: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    v_far_rms: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    v_far_avgresp: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    v_term_dc: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    v_far_dc: Option<f64>,
    t_pull_in_s: Option<f64>,
    contact_opens_while_on: u32,
    armature_release_events_while_on: u32,
    chatter: bool,
    t_drop_out_s: Option<f64>,
    closed_at_end: bool,
    v_dc_off_residual: f64,
    i_coil_off_residual: f64,
}

impl Reference {
    /// The figures of a transient under the interface's names.
    pub fn of(link: &Link, transient: &Transient) -> Self {
        let window = &transient.window;
        let alternating = matches!(link.source, Source::Ac { .. });
        let if_ac = |v: f64| alternating.then_some(v);
        let if_dc = |v: f64| (!alternating).then_some(v);
        Self {
            v_dc_mean: window.dc_mean_v,
            v_dc_peak: window.dc_peak_v,
            v_dc_trough: window.dc_trough_v,
            v_coil_mean: window.coil_mean_v,
            i_coil_mean: window.coil_mean_a,
            i_coil_min: window.coil_least_a,
            i_coil_max: window.coil_most_a,
            i_diode_peak_ss: window.rectifier_peak_a,
            i_diode_peak_inrush: transient.inrush_a,
            i_ac_rms: window.wire_rms_a,
            i_cap_rms: link.capacitor.map(|_| window.capacitor_rms_a),
            v_term_rms: if_ac(window.term.rms_v),
            v_term_avgresp: if_ac(window.term.average_v),
            v_far_rms: if_ac(window.far.rms_v),
            v_far_avgresp: if_ac(window.far.average_v),
            v_term_dc: if_dc(window.term.mean_v),
            v_far_dc: if_dc(window.far.mean_v),
            t_pull_in_s: transient.pull_in_s,
            contact_opens_while_on: transient.opens_while_on,
            armature_release_events_while_on: transient.releases_while_on,
            chatter: transient.chatters(),
            t_drop_out_s: transient.drop_out_s,
            closed_at_end: transient.closed_at_end,
            v_dc_off_residual: transient.end_dc_v,
            i_coil_off_residual: transient.end_coil_a,
        }
    }
}

/// The figures of one case.
pub fn answer(case: &Case) -> Result<Reference, String> {
    let link = case.link()?;
    let transient = super::simulate(&link).map_err(|error: CannotConclude| error.to_string())?;
    Ok(Reference::of(&link, &transient))
}
