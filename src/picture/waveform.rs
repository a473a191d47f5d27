//! One switching on and off of a link: voltages, coil current, armature and contact over time.
//!
//! ```text
//!   far end   ~~~~~~~ ╱╱ ~~|____       two stretches of one time axis: what happens in 10 ms is
//!   capacitor ╱‾‾‾‾‾‾ ╱╱ ‾‾|╲__        not hidden by an on-time of seconds
//!   coil      ╱‾‾‾‾‾‾ ╱╱ ‾‾|╲__
//!   contact   __##### ╱╱ ##|##__
//! ```

use std::cmp::Ordering;
use std::fmt::Write;

use crate::transient::{CannotConclude, Coil, Link, Sample, record, simulate};

mod csv;
mod instants;
mod sketch;
mod svg;
mod time;

pub use csv::waveform_csv;
pub use instants::instants;
pub use sketch::waveform_sketch;
pub use svg::waveform_svg;

const ON: &str = "master on";

const OFF: &str = "master off";

/// An event, and when it happened.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// Since switch-on [s].
    pub at_s: f64,
    /// Two or three words: `contact closes`.
    pub what: String,
}

/// Coil currents at which the relay acts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thresholds {
    /// Surely pulls in at this current [A].
    pub operate_a: f64,
    /// Surely stays in above this current [A].
    pub hold_a: f64,
    /// Surely lets go below this current [A].
    pub release_a: f64,
    /// Highest permissible coil current [A].
    pub limit_a: Option<f64>,
}

/// Everything that a picture of one switching cycle shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    pub title: String,
    /// The case: mains, temperature, parts.
    pub subtitle: String,
    /// Voltages and currents, in time order. The picture's time axis has a break where much is left out.
    pub samples: Vec<Sample>,
    /// Switch-off, after switch-on [s].
    pub off_at_s: f64,
    /// Events in time order, other than the switching itself.
    pub events: Vec<Event>,
    pub thresholds: Thresholds,
    /// Coil resistance [Ω].
    pub coil_ohm: f64,
}

impl Trace {
    /// Switches the link on and off and keeps what a picture needs.
    pub fn of(
        link: &Link,
        thresholds: Thresholds,
        title: impl Into<String>,
        subtitle: impl Into<String>,
    ) -> Result<Self, CannotConclude> {
        let transient = simulate(link)?;
        let mut samples = Vec::new();
        record(link, instants(link, &transient), |sample| {
            samples.push(sample);
        })?;
        Ok(Self {
            title: title.into(),
            subtitle: subtitle.into(),
            events: events(&samples, &link.coil),
            samples,
            off_at_s: link.on_for_s,
            thresholds,
            coil_ohm: link.coil.ohm,
        })
    }

    /// The parts of the time axis that samples cover.
    fn stretches(&self) -> Vec<Stretch<'_>> {
        let Some(cut) = widest_gap(&self.samples) else {
            return vec![Stretch {
                samples: &self.samples,
                zero_s: 0.0,
            }];
        };
        let (before, after) = self.samples.split_at(cut);
        vec![
            Stretch {
                samples: before,
                zero_s: 0.0,
            },
            Stretch {
                samples: after,
                zero_s: self.off_at_s,
            },
        ]
    }

    /// Switching and events inside the stretches, in time order.
    fn marks(&self) -> Vec<Event> {
        let stretches = self.stretches();
        let switch = |at_s, what: &str| Event {
            at_s,
            what: what.into(),
        };
        let mut marks = vec![switch(0.0, ON), switch(self.off_at_s, OFF)];
        marks.extend(self.events.iter().cloned());
        marks.retain(|mark| stretches.iter().any(|stretch| stretch.covers(mark.at_s)));
        marks.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        marks
    }

    /// The events as sentences, for readers who cannot see the picture.
    fn described(&self) -> String {
        let mut out = String::new();
        for mark in self.marks() {
            let (since, zero_s) = if mark.at_s < self.off_at_s {
                ("on", 0.0)
            } else {
                ("off", self.off_at_s)
            };
            let _ = write!(out, "{} after switch-{since}. ", mark.said(zero_s));
        }
        let most = |value: fn(&Sample) -> f64| {
            self.samples
                .iter()
                .map(value)
                .fold(0.0_f64, |most, v| most.max(v.abs()))
        };
        let _ = write!(
            out,
            "At most {:.1} V at the far end, {:.1} V across the capacitor, {} in the coil. ",
            most(|s| s.far_v),
            most(|s| s.dc_v),
            crate::text::amps(most(|s| s.coil_a))
        );
        out.push_str(&self.thresholds_said());
        out.push('.');
        out
    }

    /// `pulls in at 21 mA, …, in a coil of 400 ohm`.
    fn thresholds_said(&self) -> String {
        let levels: Vec<String> = self
            .thresholds
            .levels()
            .into_iter()
            .rev()
            .map(|(name, level_a)| format!("{name} {}", crate::text::amps(level_a)))
            .collect();
        format!("{}; coil {:.0} ohm", levels.join(", "), self.coil_ohm)
    }
}

impl Event {
    /// `contact opens 182 ms`, counted from `zero_s`.
    fn said(&self, zero_s: f64) -> String {
        format!("{} {}", self.what, time::said(self.at_s - zero_s))
    }

    /// Whether it is the master's switching, not the relay's.
    fn is_switching(&self) -> bool {
        self.what == ON || self.what == OFF
    }
}

impl Thresholds {
    /// Names and currents [A] in rising order.
    fn levels(&self) -> Vec<(&'static str, f64)> {
        let mut levels = vec![
            ("lets go below", self.release_a),
            ("stays in above", self.hold_a),
            ("pulls in at", self.operate_a),
        ];
        levels.extend(self.limit_a.map(|limit_a| ("coil limit", limit_a)));
        levels
    }

    /// The highest current that a picture's axis should include, besides the current itself [A]: the coil's
    /// limit only if it is near.
    fn reach_a(&self, most_a: f64) -> f64 {
        let most_a = most_a.max(1.1 * self.operate_a);
        match self.limit_a {
            Some(limit_a) if limit_a < 1.5 * most_a => most_a.max(1.08 * limit_a),
            _ => most_a,
        }
    }
}

/// A part of the time axis without a gap.
#[derive(Debug, Clone, Copy)]
struct Stretch<'a> {
    samples: &'a [Sample],
    /// Zero of its labels, after switch-on [s].
    zero_s: f64,
}

impl Stretch<'_> {
    fn begin_s(&self) -> f64 {
        self.samples.first().map_or(0.0, |sample| sample.at_s)
    }

    fn end_s(&self) -> f64 {
        self.samples.last().map_or(0.0, |sample| sample.at_s)
    }

    fn covers(&self, at_s: f64) -> bool {
        self.begin_s() <= at_s && at_s <= self.end_s()
    }

    /// The `most` most important marks here, in time order, and the number of others: the master's own first,
    /// then those soonest after it.
    fn foremost<'m>(&self, marks: &'m [Event], most: usize) -> (Vec<&'m Event>, usize) {
        let mut inside: Vec<&Event> = marks.iter().filter(|mark| self.covers(mark.at_s)).collect();
        let all = inside.len();
        let zero_s = self.zero_s;
        inside.sort_by(|a, b| {
            let rank = |mark: &Event| {
                (
                    !mark.is_switching(),
                    mark.at_s < zero_s,
                    (mark.at_s - zero_s).abs(),
                )
            };
            rank(a).partial_cmp(&rank(b)).unwrap_or(Ordering::Equal)
        });
        inside.truncate(most);
        inside.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        let more = all - inside.len();
        (inside, more)
    }
}

/// How many times longer than any other step a gap is.
const GAP: f64 = 5.0;

/// Index of the sample after the only gap.
fn widest_gap(samples: &[Sample]) -> Option<usize> {
    let mut greatest = (0.0, 0);
    let mut second_s = 0.0;
    for (index, pair) in samples.windows(2).enumerate() {
        let step_s = pair[1].at_s - pair[0].at_s;
        if step_s > greatest.0 {
            second_s = greatest.0;
            greatest = (step_s, index + 1);
        } else if step_s > second_s {
            second_s = step_s;
        }
    }
    (second_s > 0.0 && greatest.0 > GAP * second_s).then_some(greatest.1)
}

/// The contact at every sample: it closes when the armature arrives, and opens when it is back.
fn contact(samples: &[Sample]) -> impl Iterator<Item = bool> {
    samples.iter().scan(false, |closed, sample| {
        if sample.position >= 1.0 {
            *closed = true;
        } else if sample.position <= 0.0 {
            *closed = false;
        }
        Some(*closed)
    })
}

/// Events of the armature between samples, placed as if it moved evenly.
fn events(samples: &[Sample], coil: &Coil) -> Vec<Event> {
    let gap = widest_gap(samples);
    let mut events: Vec<Event> = Vec::new();
    let (mut driven, mut closed) = (false, false);
    for (index, pair) in samples.windows(2).enumerate() {
        let [before, after] = pair else { continue };
        let moved = after.position - before.position;
        if gap == Some(index + 1) {
            driven = moved > 0.0 || (moved == 0.0 && after.position >= 1.0);
            closed = after.position >= 1.0 || (after.position > 0.0 && closed);
            continue;
        }
        let mut tell = |at_s: f64, what: &str| {
            events.push(Event {
                at_s: at_s.clamp(before.at_s, after.at_s),
                what: what.into(),
            });
        };
        if moved > 0.0 && !driven {
            driven = true;
            tell(after.at_s - after.position * coil.close_s, "pulled in");
        } else if moved < 0.0 && driven {
            driven = false;
            tell(after.at_s - (1.0 - after.position) * coil.open_s, "let go");
        }
        if after.position >= 1.0 && !closed {
            closed = true;
            let at_s = before.at_s + (1.0 - before.position) * coil.close_s;
            tell(at_s, "contact closes");
        } else if after.position <= 0.0 && closed {
            closed = false;
            tell(before.at_s + before.position * coil.open_s, "contact opens");
        }
    }
    events
}
