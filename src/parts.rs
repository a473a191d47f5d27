//! The parts of a yard, and which of them are on the shelf.
//!
//! A run of wire is bought with 10 % slack and a metre at each end (common practice), and must be one piece: a
//! drum serves it only if the drum is long enough. The markings of a shelf part are read as elsewhere in the
//! site file: a wire by its size, a capacitor by its value and voltage, a resistor by its resistance and power,
//! a fuse by its rating and lag, relays and diodes by name.

use crate::chain;
use crate::circuit::rectifier::Rectifier;
use crate::circuit::wire::{Gauge, Stranding};
use crate::fuse_size::{RESISTORS_W, pair_fuse, resistor_in_short, trunk_fuse};
use crate::link::{LinkJudgement, greatest_peak_v};
use crate::site::{
    Cable, Fuse, Link, ShelfKind, Site, SupplyId, SupplyKind, SupplyOutput, Trunk, ZoneId,
};
use crate::text::{amps, volts};

mod shelf;

/// Slack on a run, as a fraction of it (common practice).
const SLACK: f64 = 0.10;

/// Tail at each end of a run [m] (common practice).
const TAIL_M: f64 = 1.0;

/// Rating of a resistor over its load: at half its rating it lasts (common practice).
const COOL: f64 = 2.0;

/// Fuses of every kind in the drawer besides those in use, relays and capacitors too, and lamps in one of so
/// many (common practice).
const SPARE_FUSES: Spares = Spares::Of(2);
const SPARE: Spares = Spares::Of(1);
const SPARE_LAMPS: Spares = Spares::OneIn(10);

/// Note on a fuse that the cautions ask for.
const NOT_STATED: &str = "one where the site file states none";

/// Splices that keep water out join two conductors, one from each end.
const SPLICE: &str = "splice for direct burial, filled";

/// How much of a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    Pieces(u32),
    /// This length [m].
    Metres(f64),
}

impl Amount {
    /// Whether nothing is left of it.
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

/// A run of wire in one piece, slack and tails included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// Length [m].
    pub length_m: f64,
    /// A drum on the shelf has enough for it in one piece.
    pub from_shelf: bool,
}

/// A kind of part, all of it in the yard.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Its family, if the shelf can hold such parts.
    pub kind: Option<ShelfKind>,
    /// The name to ask for in a shop.
    pub item: String,
    /// What the yard needs, slack included.
    pub needed: Amount,
    /// The runs it is cut into, if it is wire.
    pub runs: Vec<Run>,
    /// What the yard takes from the shelf.
    pub at_hand: Amount,
    /// How many spares to buy, in addition to those on the shelf.
    pub spares: u32,
    /// Anything else to know.
    pub note: String,
    /// What the shelf is searched for.
    is: Is,
    /// The rule for its spares.
    rule: Spares,
    /// The highest of some value over all places where the part is used, and how to word it.
    greatest: Option<(f64, Say)>,
    /// Remarks for its note, each once.
    tips: Vec<String>,
}

impl Part {
    fn new(kind: Option<ShelfKind>, is: Is, item: impl Into<String>, needed: Amount) -> Self {
        Self {
            kind,
            item: item.into(),
            at_hand: match needed {
                Amount::Pieces(_) => Amount::Pieces(0),
                Amount::Metres(_) => Amount::Metres(0.0),
            },
            needed,
            runs: Vec::new(),
            spares: 0,
            note: String::new(),
            is,
            rule: Spares::None,
            greatest: None,
            tips: Vec::new(),
        }
    }

    fn greatest(self, value: f64, say: Say) -> Self {
        Self {
            greatest: Some((value, say)),
            ..self
        }
    }

    fn tip(mut self, tip: impl Into<String>) -> Self {
        self.tips.push(tip.into());
        self
    }

    fn spares(self, rule: Spares) -> Self {
        Self { rule, ..self }
    }

    /// What is missing; for wire, the runs that no drum has in one piece.
    pub fn to_buy(&self) -> Amount {
        if self.runs.is_empty() {
            return self.needed.less(self.at_hand);
        }
        let missing = self.runs.iter().filter(|run| !run.from_shelf);
        // Not `sum`: the sum of no values at all is −0.
        Amount::Metres(missing.fold(0.0, |sum_m, run| sum_m + run.length_m))
    }

    /// Adds the same part in another place.
    fn also(&mut self, other: Self) {
        self.needed = self.needed.and(other.needed);
        self.runs.extend(other.runs);
        if let (Some((most, _)), Some((value, _))) = (&mut self.greatest, other.greatest) {
            *most = most.max(value);
        }
        for tip in other.tips {
            if !self.tips.contains(&tip) {
                self.tips.push(tip);
            }
        }
    }
}

/// Puts a value into words.
type Say = fn(f64) -> String;

/// How many spares to keep.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Spares {
    None,
    Of(u32),
    OneIn(u32),
}

/// What makes two parts the same.
#[derive(Debug, Clone, PartialEq)]
enum Is {
    Wire(Gauge, Stranding),
    Named(String),
    Capacitor { farad: f64, rating_v: f64 },
    Resistor { ohm: f64, rating_w: f64 },
    Fuse { rating_a: f64, time_lag: bool },
    Other,
}

struct List(Vec<Part>);

impl List {
    fn add(&mut self, part: Part) {
        if part.needed.is_none() {
            return;
        }
        let same =
            |at: &&mut Part| at.kind == part.kind && at.is == part.is && at.item == part.item;
        match self.0.iter_mut().find(same) {
            Some(at) => at.also(part),
            None => self.0.push(part),
        }
    }

    /// Adds a run of wire with its planned splices.
    fn wire(&mut self, cable: &Cable, splices: u32) {
        let made = match cable.stranding {
            Stranding::Solid => "solid",
            Stranding::Stranded => "stranded",
            Stranding::Class5 => "fine-stranded (class 5)",
        };
        let length_m = cable.length_m * (1.0 + SLACK) + 2.0 * TAIL_M;
        let mut part = Part::new(
            Some(ShelfKind::Wire),
            Is::Wire(cable.gauge, cable.stranding),
            format!(
                "two-conductor cable for direct burial, {} {made} copper",
                cable.gauge
            ),
            Amount::Metres(length_m),
        )
        .greatest(length_m, |length_m| {
            format!("the longest run {length_m:.1} m, in one piece")
        })
        .tip("10 % slack and a metre at each end of every run included")
        .tip("copper, not copper-clad aluminium");
        if splices > 0 {
            part = part.tip("or in pieces that meet where the wiring schedule has a splice");
        }
        part.runs.push(Run {
            length_m,
            from_shelf: false,
        });
        self.add(part);
    }

    fn fuse(&mut self, rating_a: f64, time_lag: bool, tip: Option<&str>) {
        let lag = if time_lag { ", time-lag" } else { "" };
        let mut fuse = Part::new(
            Some(ShelfKind::Fuse),
            Is::Fuse { rating_a, time_lag },
            format!("fuse {}{lag}", amps(rating_a)),
            Amount::Pieces(1),
        )
        .spares(SPARE_FUSES);
        fuse.tips.extend(tip.map(str::to_owned));
        self.add(fuse);
        self.add(Part::new(
            None,
            Is::Other,
            "holder for one fuse, for outdoors",
            Amount::Pieces(1),
        ));
    }

    /// Adds a trunk with its fuse and taps.
    fn trunk(&mut self, site: &Site, zone: ZoneId, trunk: &Trunk) {
        if let Some(cable) = &trunk.cable {
            self.wire(cable, 0);
            // The last lamp is at the end of its run.
            let taps = trunk.distances_m.len().saturating_sub(1);
            self.add(
                Part::new(
                    None,
                    Is::Other,
                    "tap connector for a lamp, for direct burial",
                    Amount::Pieces(u32::try_from(taps).unwrap_or(u32::MAX)),
                )
                .tip("for both conductors; the last lamp of a run hangs at its end"),
            );
        }
        let wants = trunk_fuse(site, zone, trunk);
        match (trunk.fuse, wants.stocked_a) {
            (Fuse::Rated(rating_a), _) => self.fuse(rating_a, false, None),
            // None is called for where the supply cannot harm the wire.
            (_, Some(stocked_a)) if wants.is_unfit() => {
                self.fuse(stocked_a, false, Some(NOT_STATED));
            }
            (_, _) => {}
        }
    }

    fn link(&mut self, site: &Site, link: &Link, judgement: &LinkJudgement) {
        if let Some(cable) = &link.cable {
            self.wire(cable, link.splices);
        }
        self.add(Part::new(
            None,
            Is::Other,
            SPLICE,
            Amount::Pieces(link.splices),
        ));
        if link.series_ohm > 0.0 {
            self.resistor(link, judgement);
        }
        self.rectifier(site, link);
        let relay = &link.relay;
        let contact = match (site.switched(link).output, relay.contact_minimum_a) {
            (
                SupplyOutput::Ac {
                    full_load_v,
                    rated_va,
                    ..
                },
                _,
            ) => format!(
                ", never for mains; contact rated for {} if it switches the lamps",
                amps(rated_va / full_load_v)
            ),
            (SupplyOutput::Dc { .. }, Some(least_a)) => {
                format!(", contact good for {} and less", amps(least_a))
            }
            (SupplyOutput::Dc { .. }, None) => String::new(),
        };
        self.add(
            Part::new(
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
            )
            .tip("changed without soldering, unplugged and dry")
            .spares(SPARE),
        );
        self.add(Part::new(
            None,
            Is::Other,
            format!("socket for relay {}", relay.name),
            Amount::Pieces(1),
        ));
        match (link.fuse, pair_fuse(link, judgement).stocked_a) {
            (Fuse::Rated(rating_a), _) => self.fuse(rating_a, true, None),
            (_, Some(stocked_a)) => {
                self.fuse(stocked_a, true, Some(NOT_STATED));
            }
            (_, None) => {}
        }
    }

    /// Adds the resistor in a pair.
    fn resistor(&mut self, link: &Link, judgement: &LinkJudgement) {
        let (ohm, most_a) = (link.series_ohm, judgement.judged.highest.dusk.pair_rms_a);
        let power_w = most_a * most_a * ohm;
        let stocked_w = RESISTORS_W
            .into_iter()
            .find(|rating_w| *rating_w >= COOL * power_w);
        let rated = stocked_w.map_or_else(
            || format!("more than {:.0} W", COOL * power_w),
            |rating_w| format!("{rating_w} W"),
        );
        let mut part = Part::new(
            Some(ShelfKind::Resistor),
            Is::Resistor {
                ohm,
                rating_w: stocked_w.unwrap_or(COOL * power_w),
            },
            format!("resistor {ohm} ohm, {rated}"),
            Amount::Pieces(1),
        )
        .greatest(power_w, |power_w| {
            format!("it turns at most {power_w:.2} W into heat")
        });
        if resistor_in_short(link, judgement).is_some() {
            part = part.tip("far more in a short at the coil (S48): clear of plastic");
        }
        self.add(part);
    }

    /// Adds diodes and capacitor.
    fn rectifier(&mut self, site: &Site, link: &Link) {
        let peak_v = greatest_peak_v(site, link);
        let rectifying = match link.rectifier {
            Rectifier::Bridge => 4,
            Rectifier::SingleDiode => 1,
            Rectifier::None => 0,
        };
        // DC never reverses.
        let reverse_v = if site.feeding(link).is_ac() {
            link.rectifier.reverse_v(peak_v).max(peak_v)
        } else {
            peak_v
        };
        self.add(
            Part::new(
                Some(ShelfKind::Diode),
                Is::Named(link.diode_name.clone()),
                format!("diode {}", link.diode_name),
                Amount::Pieces(rectifying + u32::from(link.flyback_diode)),
            )
            .greatest(reverse_v, |reverse_v| {
                format!("must stand {reverse_v:.0} V in reverse")
            }),
        );
        if let Some(capacitor) = link.capacitor {
            let mut part = Part::new(
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
            )
            .greatest(peak_v, |peak_v| format!("it may see {peak_v:.1} V"))
            .spares(SPARE);
            if link.rectifier == Rectifier::Bridge {
                part = part.tip("minus to the bridge's minus");
            }
            self.add(part);
        }
    }

    fn supplies(&mut self, site: &Site) {
        for (index, supply) in site.supplies.iter().enumerate() {
            // A zone without its own mains plug needs a line that switches it.
            let switched = (0..site.zones.len()).map(ZoneId).any(|zone| {
                site[zone].supply == SupplyId(index)
                    && (site.link_to(zone).is_some() || site.output_of(zone).is_some())
            });
            let enable = if switched {
                " with an enable input"
            } else {
                ""
            };
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
                        "DC supply{enable}, {} V{}",
                        volts(voltage_v),
                        max_a.map_or_else(String::new, |most_a| format!(", {}", amps(most_a)))
                    ),
                    "listed for the place it stands in",
                ),
                (_, SupplyOutput::Ac { .. }) => continue,
            };
            self.add(
                Part::new(
                    Some(ShelfKind::Supply),
                    Is::Named(supply.name.clone()),
                    format!("{what} ({})", supply.name),
                    Amount::Pieces(1),
                )
                .tip(note),
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
                    Part::new(
                        None,
                        Is::Other,
                        format!("lamp for 12 V {current}, {} W{window}", group.power_w),
                        Amount::Pieces(group.count),
                    )
                    .tip(format!("{} for {}", group.count, zone.name))
                    .spares(SPARE_LAMPS),
                );
            }
        }
    }

    /// Adds the timers of timed zones that no board switches.
    fn timers(&mut self, site: &Site) {
        for zone in (0..site.zones.len()).map(ZoneId) {
            if chain::is_timer(site, zone) {
                self.add(
                    Part::new(
                        None,
                        Is::Other,
                        "timer with a battery, or photocell, listed to switch a supply",
                        Amount::Pieces(1),
                    )
                    .tip(format!("for {}", site[zone].name)),
                );
            }
        }
    }

    /// Adds what a board needs; the board's own ratings are in its documentation.
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
            self.add(Part::new(None, Is::Other, item, Amount::Pieces(count)).tip(note));
        }
    }

    /// Counts spares, once everything is counted.
    fn spares(&mut self) {
        for part in &mut self.0 {
            part.spares = match (part.rule, part.needed) {
                (Spares::Of(count), _) => count,
                (Spares::OneIn(many), Amount::Pieces(count)) => count.div_ceil(many),
                (Spares::None | Spares::OneIn(_), _) => 0,
            };
        }
    }

    /// Writes the notes, once everything is known.
    fn notes(&mut self) {
        for part in &mut self.0 {
            let greatest = part.greatest.map(|(value, say)| say(value));
            let said: Vec<String> = greatest.into_iter().chain(part.tips.clone()).collect();
            part.note = said.join("; ");
        }
    }
}

/// All parts of a yard; `judgements` in the order of [`Site::links`].
pub fn parts(site: &Site, judgements: &[LinkJudgement]) -> Vec<Part> {
    let mut list = List(Vec::new());
    list.supplies(site);
    for (link, judgement) in site.links.iter().zip(judgements) {
        list.link(site, link, judgement);
    }
    for (index, zone) in site.zones.iter().enumerate() {
        for trunk in &zone.trunks {
            list.trunk(site, ZoneId(index), trunk);
        }
    }
    list.timers(site);
    list.board(site);
    list.lamps(site);
    list.spares();
    shelf::take(&mut list.0, &site.shelf);
    list.notes();
    list.0
}
