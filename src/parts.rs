//! What a yard is built of, and what of that is on the shelf.
//!
//! A run of wire is bought with 10 % slack and a metre at each end (common practice). Whatever is written on
//! a part of the shelf is read as the site file reads it elsewhere: a wire by its size, a capacitor by its
//! value and its volts, a resistor by its ohms, a fuse by its amperes, relays and diodes by name.

use crate::chain::{LinkJudgement, greatest_peak_v};
use crate::circuit::rectifier::Rectifier;
use crate::circuit::wire::{Gauge, Stranding};
use crate::site::{
    Cable, Capacitance, Current, Fuse, Link, Resistance, ShelfKind, ShelfPart, Site, SupplyKind,
    SupplyOutput, VoltsDc, parse_gauge,
};
use crate::wording::{amps, volts};

/// Slack on a run, as a part of it (common practice).
const SLACK: f64 = 0.10;

/// Tail at each end of a run [m] (common practice).
const TAIL_M: f64 = 1.0;

/// A resistor lasts at half of what it is rated for (common practice).
const COOL: f64 = 2.0;

/// Ratings of resistors that a shop has [W] (common practice).
const RESISTORS_W: [f64; 6] = [0.25, 0.5, 1.0, 2.0, 3.0, 5.0];

/// Splices that keep water out join two conductors, one of each end.
const SPLICE: &str = "splice for direct burial, filled";

/// How much of a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// So many.
    Pieces(u32),
    /// So long [m].
    Metres(f64),
}

impl Amount {
    /// Nothing is left of it.
    pub fn is_none(self) -> bool {
        match self {
            Self::Pieces(count) => count == 0,
            Self::Metres(metres) => metres < 0.05,
        }
    }

    fn less(self, other: Self) -> Self {
        match (self, other) {
            (Self::Pieces(all), Self::Pieces(some)) => Self::Pieces(all.saturating_sub(some)),
            (Self::Metres(all), Self::Metres(some)) => Self::Metres((all - some).max(0.0)),
            _ => self,
        }
    }

    fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::Pieces(one), Self::Pieces(two)) => Self::Pieces(one.saturating_add(two)),
            (Self::Metres(one), Self::Metres(two)) => Self::Metres(one + two),
            _ => self,
        }
    }
}

/// A kind of part, all of it in the yard.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Its family, if the shelf can have it.
    pub kind: Option<ShelfKind>,
    /// What to ask for.
    pub item: String,
    /// How much the yard takes, slack included.
    pub needed: Amount,
    /// How much of it is on the shelf and used.
    pub at_hand: Amount,
    /// What else there is to know.
    pub note: String,
    /// What the shelf is searched for.
    is: Is,
}

impl Part {
    /// What is missing.
    pub fn to_buy(&self) -> Amount {
        self.needed.less(self.at_hand)
    }
}

/// What makes two parts the same.
#[derive(Debug, Clone, PartialEq)]
enum Is {
    Wire(Gauge, Stranding),
    Named(String),
    Capacitor { farad: f64, rating_v: f64 },
    Resistor { ohm: f64 },
    Fuse { rating_a: f64 },
    Other,
}

struct List(Vec<Part>);

impl List {
    fn add(&mut self, kind: Option<ShelfKind>, is: Is, item: String, needed: Amount, note: String) {
        if needed.is_none() {
            return;
        }
        let same = |part: &&mut Part| part.kind == kind && part.is == is && part.item == item;
        if let Some(part) = self.0.iter_mut().find(same) {
            part.needed = part.needed.and(needed);
            return;
        }
        self.0.push(Part {
            kind,
            item,
            at_hand: match needed {
                Amount::Pieces(_) => Amount::Pieces(0),
                Amount::Metres(_) => Amount::Metres(0.0),
            },
            needed,
            note,
            is,
        });
    }

    fn wire(&mut self, cable: &Cable) {
        let made = match cable.stranding {
            Stranding::Solid => "solid",
            Stranding::Stranded => "stranded",
            Stranding::Class5 => "fine-stranded (class 5)",
        };
        self.add(
            Some(ShelfKind::Wire),
            Is::Wire(cable.gauge, cable.stranding),
            format!("two-conductor cable for direct burial, {} {made} copper", cable.gauge),
            Amount::Metres(cable.length_m * (1.0 + SLACK) + 2.0 * TAIL_M),
            "10 % slack and a metre at each end of every run included; copper, not copper-clad aluminium".into(),
        );
    }

    fn fuse(&mut self, fuse: Fuse, time_lag: bool) {
        let Fuse::Rated(rating_a) = fuse else {
            return;
        };
        let lag = if time_lag { ", time-lag" } else { "" };
        self.add(
            Some(ShelfKind::Fuse),
            Is::Fuse { rating_a },
            format!("fuse {}{lag}, with a holder for outdoors", amps(rating_a)),
            Amount::Pieces(1),
            "and two spares of each".into(),
        );
    }

    fn link(&mut self, site: &Site, link: &Link, judgement: &LinkJudgement) {
        if let Some(cable) = &link.cable {
            self.wire(cable);
        }
        self.add(
            None,
            Is::Other,
            SPLICE.into(),
            Amount::Pieces(link.splices),
            String::new(),
        );
        let peak_v = greatest_peak_v(site, link);
        if link.series_ohm > 0.0 {
            let most_a = judgement.highest.dusk.pair_rms_a;
            let power_w = most_a * most_a * link.series_ohm;
            let rating_w = RESISTORS_W
                .into_iter()
                .find(|rating_w| *rating_w >= COOL * power_w);
            let rated = rating_w.map_or_else(
                || format!("more than {:.0} W", COOL * power_w),
                |rating_w| format!("{rating_w} W"),
            );
            self.add(
                Some(ShelfKind::Resistor),
                Is::Resistor {
                    ohm: link.series_ohm,
                },
                format!("resistor {} ohm, {rated}", link.series_ohm),
                Amount::Pieces(1),
                format!("it turns at most {power_w:.2} W into heat"),
            );
        }
        let rectifying = match link.rectifier {
            Rectifier::Bridge => 4,
            Rectifier::SingleDiode => 1,
            Rectifier::None => 0,
        };
        let reverse_v = link.rectifier.reverse_v(peak_v).max(peak_v);
        self.add(
            Some(ShelfKind::Diode),
            Is::Named(link.diode_name.clone()),
            format!("diode {}", link.diode_name),
            Amount::Pieces(rectifying + u32::from(link.flyback_diode)),
            format!("must stand {reverse_v:.0} V in reverse"),
        );
        if let Some(capacitor) = link.capacitor {
            self.add(
                Some(ShelfKind::Capacitor),
                Is::Capacitor {
                    farad: capacitor.farad,
                    rating_v: capacitor.rating_v,
                },
                format!(
                    "electrolytic capacitor {:.0} µF, {} V or more, 105 °C",
                    capacitor.farad * 1e6,
                    capacitor.rating_v
                ),
                Amount::Pieces(1),
                format!("it may see {peak_v:.1} V; minus to the bridge's minus"),
            );
        }
        let relay = &link.relay;
        let contact = relay.contact_minimum_a.map_or_else(String::new, |least_a| {
            format!(", contact good for {} and less", amps(least_a))
        });
        self.add(
            Some(ShelfKind::Relay),
            Is::Named(relay.name.clone()),
            format!(
                "relay {}: {} V DC coil of {:.0} ohm, pulls in at {} V{contact}",
                relay.name,
                volts(relay.rated_v),
                relay.coil_ohm,
                volts(relay.operate_v)
            ),
            Amount::Pieces(1),
            "with a socket it can be changed in the wet".into(),
        );
        self.fuse(link.fuse, true);
    }

    fn supplies(&mut self, site: &Site) {
        for supply in &site.supplies {
            let (what, note) = match (supply.kind, supply.output) {
                (
                    SupplyKind::Transformer,
                    SupplyOutput::Ac {
                        full_load_v,
                        rated_va,
                        ..
                    },
                ) => (
                    format!(
                        "transformer for lighting, {} V AC, {rated_va:.0} VA",
                        volts(full_load_v)
                    ),
                    "listed for the place it stands in",
                ),
                (SupplyKind::DesktopPc, _) => (
                    "desktop-PC supply".into(),
                    "in a dry building only; its 12 V leads are found with a meter",
                ),
                (
                    _,
                    SupplyOutput::Dc {
                        voltage_v, max_a, ..
                    },
                ) => (
                    format!(
                        "DC supply with an enable input, {} V{}",
                        volts(voltage_v),
                        max_a.map_or_else(String::new, |most_a| format!(", {}", amps(most_a)))
                    ),
                    "listed for the place it stands in",
                ),
                (_, SupplyOutput::Ac { .. }) => continue,
            };
            self.add(
                Some(ShelfKind::Supply),
                Is::Named(supply.name.clone()),
                format!("{what} ({})", supply.name),
                Amount::Pieces(1),
                note.into(),
            );
        }
    }

    fn lamps(&mut self, site: &Site) {
        for zone in &site.zones {
            let current = if site[zone.supply].is_ac() {
                "AC"
            } else {
                "DC"
            };
            for group in zone.lamps() {
                let window = match (group.lowest_v, group.highest_v) {
                    (Some(lowest), Some(highest)) => {
                        format!(", {} to {} V", volts(lowest), volts(highest))
                    }
                    _ => String::new(),
                };
                self.add(
                    None,
                    Is::Other,
                    format!(
                        "lamp for 12 V {current}, {} W{window} ({})",
                        group.power_w, zone.name
                    ),
                    Amount::Pieces(group.count),
                    "and one spare in ten".into(),
                );
            }
        }
    }

    /// What a board needs beside itself; its own ratings are on its sheet.
    fn board(&mut self, site: &Site) {
        let driven = u32::try_from(site.outputs.len()).unwrap_or(u32::MAX);
        let sensed = u32::try_from(site.inputs.len()).unwrap_or(u32::MAX);
        let board = u32::from(driven > 0 || sensed > 0);
        for (item, count, note) in [
            (
                "board with GPIO lines and a battery clock, with its supply",
                board,
                "without the battery clock it waits for the network after a cut",
            ),
            (
                "driver for one line: transistor or opto-coupler, with a relay",
                driven,
                "off while its line is not driven",
            ),
            (
                "opto-coupler with its resistor, from 12 V to one input line",
                sensed,
                "a rectifier before it where the zone is on AC",
            ),
        ] {
            self.add(
                None,
                Is::Other,
                item.into(),
                Amount::Pieces(count),
                note.into(),
            );
        }
    }

    /// Takes from the shelf what fits, every part of it once.
    fn from_shelf(&mut self, shelf: &[ShelfPart]) {
        for at_hand in shelf {
            let mut left = at_hand
                .length_m
                .map_or(Amount::Pieces(at_hand.count), |length_m| {
                    Amount::Metres(length_m * f64::from(at_hand.count))
                });
            for part in self.0.iter_mut().filter(|part| part.fits(at_hand)) {
                let missing = part.to_buy();
                let taken = match (left, missing) {
                    (Amount::Pieces(left), Amount::Pieces(missing)) => {
                        Amount::Pieces(left.min(missing))
                    }
                    (Amount::Metres(left), Amount::Metres(missing)) => {
                        Amount::Metres(left.min(missing))
                    }
                    _ => continue,
                };
                part.at_hand = part.at_hand.and(taken);
                left = left.less(taken);
            }
        }
    }
}

impl Part {
    fn fits(&self, at_hand: &ShelfPart) -> bool {
        if self.kind != Some(at_hand.kind) {
            return false;
        }
        let written = at_hand.item.trim();
        match &self.is {
            // Solid or stranded is seldom written on a drum.
            Is::Wire(gauge, _) => parse_gauge(written).is_ok_and(|size| {
                (size.area_mm2() - gauge.area_mm2()).abs() < 1e-3 * gauge.area_mm2()
            }),
            Is::Named(name) => written.eq_ignore_ascii_case(name),
            Is::Capacitor { farad, rating_v } => {
                let (value, rating) = halves(written);
                let near = value
                    .parse::<Capacitance>()
                    .is_ok_and(|value| near(value.0, *farad));
                near && rating.is_none_or(|rating| {
                    rating.parse::<VoltsDc>().is_ok_and(|at| at.0 >= *rating_v)
                })
            }
            Is::Resistor { ohm } => halves(written)
                .0
                .parse::<Resistance>()
                .is_ok_and(|value| near(value.0, *ohm)),
            Is::Fuse { rating_a } => written
                .parse::<Current>()
                .is_ok_and(|value| near(value.0, *rating_a)),
            Is::Other => false,
        }
    }
}

fn near(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-6 * other.abs()
}

/// `220 uF 50 V`, `22 ohm, 0.5 W`: a value and what it is rated for.
fn halves(written: &str) -> (&str, Option<&str>) {
    let words: Vec<(usize, &str)> = written
        .split([' ', ','])
        .filter(|word| !word.is_empty())
        .map(|word| (word.as_ptr() as usize - written.as_ptr() as usize, word))
        .collect();
    // The second number begins the second half.
    let second = words
        .iter()
        .skip(1)
        .find(|(_, word)| word.starts_with(|c: char| c.is_ascii_digit()));
    match second {
        Some((at, _)) => (
            written[..*at].trim_end_matches([' ', ',']),
            Some(written[*at..].trim()),
        ),
        None => (written, None),
    }
}

/// All parts of a yard; `judgements` in the order of [`Site::links`].
pub fn parts(site: &Site, judgements: &[LinkJudgement]) -> Vec<Part> {
    let mut list = List(Vec::new());
    list.supplies(site);
    for (link, judgement) in site.links.iter().zip(judgements) {
        list.link(site, link, judgement);
    }
    for trunk in site.zones.iter().flat_map(|zone| &zone.trunks) {
        if let Some(cable) = &trunk.cable {
            list.wire(cable);
        }
        list.fuse(trunk.fuse, false);
    }
    list.board(site);
    list.lamps(site);
    list.from_shelf(&site.shelf);
    list.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_told_from_what_it_is_rated_for() {
        for (written, value, rating) in [
            ("220 uF", "220 uF", None),
            ("220 uF 50 V", "220 uF", Some("50 V")),
            ("220uF, 63V", "220uF", Some("63V")),
            ("22 ohm 0.5 W", "22 ohm", Some("0.5 W")),
            ("", "", None),
        ] {
            assert_eq!(halves(written), (value, rating), "{written}");
        }
    }
}
