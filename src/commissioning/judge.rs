//! Compares what was measured with what was expected.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::site::{LinkId, Site};

use super::{Point, Symptoms, With, key, supply_point};

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Found {
    Within,
    Low,
    High,
    /// Its supply's reading, by value or by time, does not let anything behind it be judged.
    Unsure,
    /// The right value is not known beforehand: the reading is kept for later comparison.
    Kept,
}

impl Found {
    /// Whether it is good enough to compare later readings with.
    pub fn may_be_compared_with(self) -> bool {
        matches!(self, Self::Within | Self::Kept)
    }
}

impl fmt::Display for Found {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Within => "within",
            Self::Low => "low",
            Self::High => "high",
            Self::Unsure => "not judged",
            Self::Kept => "kept",
        })
    }
}

/// Steps per volt to which a limit is rounded: no meter shows a finer step that matters, and the printed band
/// is as coarse, so a value printed as within it is within it.
const DIGITS: f64 = 100.0;

/// Largest deviation of a supply, as a fraction, from which what lies behind it can still be worked out.
const FOLLOWS: f64 = 0.25;

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged<'a> {
    pub point: &'a Point,
    /// What the meter showed, in the unit of the point.
    pub reading: f64,
    /// Lowest right reading here and now.
    pub least: Option<f64>,
    /// Highest right reading here and now.
    pub most: Option<f64>,
    pub found: Found,
}

/// Judges readings by their keys, supplies first: what hangs on a supply rises and falls with it. Readings of
/// unknown points are ignored.
pub fn judge<'a>(
    site: &Site,
    points: &'a [Point],
    readings: &BTreeMap<String, f64>,
) -> Vec<Judged<'a>> {
    points
        .iter()
        .filter_map(|point| {
            let reading = *readings.get(&point.key(site))?;
            let expected = &point.expected;
            let with = expected.with.as_ref();
            let there = with.and_then(|with| Some((with, *readings.get(&with.of)?)));
            let shift = there.map_or(0.0, |(with, there_v)| {
                (there_v - with.there_v) * with.per_volt
            });
            let [bears_least, bears_most] = expected.bears;
            let least = expected.least.map(|least| {
                let least = bears_least.map_or(least + shift, |bears| bears.max(least + shift));
                ((least * DIGITS).floor() / DIGITS).max(0.0)
            });
            let most = expected.most.map(|most| {
                let most = bears_most.map_or(most + shift, |bears| bears.min(most + shift));
                ((most * DIGITS).ceil() / DIGITS).max(0.0)
            });
            let far_off = |(with, there_v): (&With, f64)| {
                (there_v - with.there_v).abs() > FOLLOWS * with.there_v
            };
            let found = if there.is_some_and(far_off) {
                Found::Unsure
            } else if least.is_some_and(|least| reading < least) {
                Found::Low
            } else if most.is_some_and(|most| reading > most) {
                Found::High
            } else if least.is_none() && most.is_none() {
                Found::Kept
            } else {
                Found::Within
            };
            Some(Judged {
                point,
                reading,
                least,
                most,
                found,
            })
        })
        .collect()
}

/// A fault that would show what was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suspect {
    pub symptoms: Symptoms,
    /// Distance of the readings from this fault's, in units of `BLUR`.
    pub distance: f64,
}

/// Scatter that meter and parts add to a reading: a fraction, and in addition [V].
const BLUR: (f64, f64) = (0.03, 0.15);

/// Greatest distance at which a fault still fits, in units of [`BLUR`].
const FITS: f64 = 3.0;

/// A fault that fits this much worse than the best one is still listed, in units of [`BLUR`].
const NEARLY: f64 = 1.0;

/// Keys of the readings that identify a link's fault: TP2, TP3 DC, TP3 AC, and its supply.
pub fn rests_on(site: &Site, id: LinkId) -> [String; 4] {
    let link = &site[id];
    let at_slave = |name| key(site, link.slave, name);
    let supply = key(site, link.master, supply_point(site, link.master));
    [
        at_slave("TP2"),
        at_slave("TP3 DC"),
        at_slave("TP3 AC"),
        supply,
    ]
}

/// The faults of a link that fit the readings at TP2 and TP3, best first. Empty where neither was measured, or
/// nothing fits. The healthy link comes first where it fits as well as any fault.
pub fn suspects(
    site: &Site,
    id: LinkId,
    symptoms: &[Symptoms],
    readings: &BTreeMap<String, f64>,
) -> Vec<Suspect> {
    let [tp2, tp3_dc, tp3_ac, supply] = rests_on(site, id);
    let read = |key: &String| readings.get(key).copied();
    let measured = [read(&tp2), read(&tp3_dc), read(&tp3_ac)];
    // Too many faults show the same TP2 to name one by that alone.
    if measured[1].is_none() {
        return Vec::new();
    }
    let at_supply = read(&supply);
    let mut found: Vec<Suspect> = symptoms
        .iter()
        .map(|symptoms| {
            // All voltages rise and fall with the supply's, about in proportion.
            let scale = at_supply
                .filter(|_| symptoms.supply_v > 0.0)
                .map_or(1.0, |volts| volts / symptoms.supply_v);
            let shown = [symptoms.pair_v, symptoms.coil_v, symptoms.coil_ac_v];
            let off = shown.iter().zip(measured).filter_map(|(shown, measured)| {
                let (part, fixed_v) = BLUR;
                let shown = shown * scale;
                Some((measured? - shown).abs() / (part * shown + fixed_v))
            });
            Suspect {
                symptoms: *symptoms,
                distance: off.fold(0.0, f64::max),
            }
        })
        .filter(|suspect| suspect.distance <= FITS)
        .collect();
    found.sort_by(|a, b| a.distance.total_cmp(&b.distance));
    let best = found.first().map_or(0.0, |suspect| suspect.distance);
    found.retain(|suspect| suspect.distance <= best + NEARLY);
    found
}
