//! Test points of a pilot wire and its far end: TP2, TP3, TP4, TP10, TP11.
//!
//! TP11 has three names because it asks for three measurements. A single field kept only one of them, and did
//! not record which. The old name is not used again: readings under it stay in the store, but are not shown.

use crate::circuit::rectifier::Rectifier;
use crate::circuit::relay;
use crate::link::{Corner, LinkCase, circuit, off_circuit, tap};
use crate::site::{Link, LinkId, Site};
use crate::text::volts;
use crate::transient::{CannotConclude, Window, steady_state};

use super::supply::{most_v, unsure};
use super::{COIL_RISE_K, Expected, METER, Meter, Point, State, With, key, ordinary, supply_point};

/// Highest voltage that a master switched off may leave on its pair [V] (common practice).
const LEFT_ON_PAIR_V: f64 = 0.3;

/// Highest resistance of a closed contact [Ω] (common practice: new ones have 0.1).
const CLOSED_OHM: f64 = 1.0;

/// Lowest resistance of sound insulation [MΩ] (common practice).
const INSULATION_MOHM: f64 = 1.0;

/// What a leaking conductor means.
const TO_EARTH: &str = "less: its insulation is damaged, or a splice of it is wet";

/// Resistance added to the pair to find how the readings depend on it [Ω].
const PROBE_OHM: f64 = 10.0;

/// A value, and how far everything may move it.
struct Spread {
    typical: f64,
    least: f64,
    most: f64,
    per_volt: f64,
}

impl Spread {
    fn of(typical: &Shown, others: &[Shown], moved: [&Shown; 2], of: fn(&Window) -> f64) -> Self {
        let value = of(&typical.window);
        let all = others.iter().map(|shown| of(&shown.window));
        let (least, most) = all.fold((value, value), |(least, most), at| {
            (least.min(at), most.max(at))
        });
        let [low, high] = moved;
        let step_v = high.tap_v - low.tap_v;
        let (part, fixed_v) = METER;
        let meter = part * value.abs() + fixed_v;
        Self {
            typical: value,
            least: (least - meter).max(0.0),
            most: most + meter,
            per_volt: if step_v > 0.0 {
                (of(&high.window) - of(&low.window)) / step_v
            } else {
                0.0
            },
        }
    }

    fn expected(&self, with: &str, there_v: f64) -> Expected {
        Expected {
            typical: Some(self.typical),
            least: Some(self.least),
            most: Some(self.most),
            with: Some(With {
                of: with.into(),
                there_v,
                per_volt: self.per_volt,
            }),
            bears: [None; 2],
            says: None,
        }
    }
}

struct Shown {
    tap_v: f64,
    window: Window,
}

fn shown(site: &Site, link: &Link, corner: &Corner) -> Result<Shown, CannotConclude> {
    Ok(Shown {
        tap_v: tap(site, link, corner.level, corner.lamps).volts,
        window: steady_state(&circuit(site, link, corner))?.window,
    })
}

/// Readings with every part at either end of its tolerance, the box at either end of the year, the coil cold
/// and warm; the mains as it is.
fn spread(site: &Site, link: &Link, ordinary: Corner) -> Result<Vec<Shown>, CannotConclude> {
    let coil = link.relay.coil_tolerance;
    let capacitor = link.capacitor.map_or(0.0, |part| part.tolerance);
    let mut all = Vec::new();
    for box_c in [site.temperatures.coldest_c, site.temperatures.hottest_c] {
        for rise_k in [0.0, COIL_RISE_K] {
            for coil_part in [1.0 - coil, 1.0 + coil] {
                for capacitor_part in [1.0 - capacitor, 1.0 + capacitor] {
                    let corner = Corner {
                        coil_part,
                        capacitor_part,
                        coil_c: box_c + rise_k,
                        ..ordinary.in_box(box_c)
                    };
                    all.push(shown(site, link, &corner)?);
                }
            }
        }
    }
    Ok(all)
}

/// Lowest voltage on the pair, master off, at which the relay may stay in [V]: in the coldest box, where it
/// releases latest. `None` if that is more than the lit master gives.
fn holding_v(site: &Site, link: &Link, corner: Corner) -> Result<Option<f64>, CannotConclude> {
    let box_c = site.temperatures.coldest_c;
    let corner = corner.in_box(box_c);
    let release_v = relay::threshold_v(link.relay.release_v, box_c);
    let holds = |off_state_v: f64| -> Result<bool, CannotConclude> {
        let with = Link {
            off_state_v,
            ..link.clone()
        };
        Ok(match off_circuit(site, &with, &corner) {
            Some(off) => steady_state(&off)?.window.coil_mean_v >= release_v,
            None => false,
        })
    };
    let (mut lets_go, mut stays) = (0.0, tap(site, link, 0.0, corner.lamps).volts);
    if stays <= 0.0 || !holds(stays)? {
        return Ok(None);
    }
    // Printed to a tenth of a volt, rounded down, so this is fine enough.
    while stays - lets_go > 0.01 {
        let middle = f64::midpoint(lets_go, stays);
        if holds(middle)? {
            stays = middle;
        } else {
            lets_go = middle;
        }
    }
    let tenths_v = (lets_go * 10.0).floor() / 10.0;
    Ok(Some(if tenths_v > 0.0 { tenths_v } else { lets_go }))
}

/// What may be on the pair with the master off: the stated voltage, as long as the relay surely lets go at it.
fn left_on_pair(stated_v: f64, holds_v: Option<f64>) -> Expected {
    let (part, fixed_v) = METER;
    let meant_v = LEFT_ON_PAIR_V.max(stated_v * (1.0 + part) + fixed_v);
    let most_v = holds_v.map_or(meant_v, |holds_v| meant_v.min(holds_v));
    match holds_v.filter(|holds_v| stated_v >= *holds_v) {
        Some(holds_v) => Expected::below(most_v).saying(format!(
            "{} V stated: the relay may stay in from {} V on: cure first",
            volts(stated_v),
            volts(holds_v)
        )),
        None => Expected {
            typical: Some(stated_v),
            ..Expected::below(most_v)
        },
    }
}

/// What a wrong DC voltage at the coil means.
fn coil_wrong(link: &Link, on_ac: bool) -> String {
    let low = match (on_ac, link.rectifier, link.capacitor.is_some()) {
        (true, Rectifier::Bridge, true) => "low with TP2 right: a diode or the capacitor; ",
        (true, Rectifier::Bridge, false) => "low with TP2 right: a diode; ",
        (true, Rectifier::SingleDiode, true) => {
            "low with TP2 right: the capacitor; 0 with TP2 right: the diode is open; "
        }
        (true, Rectifier::SingleDiode, false) => "0 with TP2 right: the diode is open; ",
        (false, Rectifier::Bridge, _) => "0 with TP2 right: a bridge diode is open; ",
        (false, Rectifier::SingleDiode, _) => {
            "0 with TP2 right: the diode is open, or the pair is crossed; "
        }
        (true, Rectifier::None, _) => "as it is, the pair's AC reaches the coil; ",
        (false, Rectifier::None, _) => "other than TP2: a joint between the two; ",
    };
    let across = if link.flyback_diode {
        ", or the diode across the coil the wrong way round"
    } else {
        ""
    };
    format!("{low}high: the coil is open; 0: a short{across}.")
}

/// What too much ripple at the coil means.
fn ripple_wrong(link: &Link) -> &'static str {
    match (link.rectifier, link.capacitor.is_some()) {
        (Rectifier::Bridge, true) => "high: the capacitor has dried out, or a bridge diode is open",
        (Rectifier::Bridge, false) => "high: a bridge diode is open",
        (_, true) => "high: the capacitor has dried out",
        (_, false) => "0: the diode is open",
    }
}

/// The points of a link, on the sheet of its slave; `case` is an ordinary evening.
pub(super) fn points(
    site: &Site,
    id: LinkId,
    case: &LinkCase,
) -> Result<Vec<Point>, CannotConclude> {
    let link = &site[id];
    let master = &site[link.master];
    let on_ac = site[master.supply].is_ac();
    let corner = ordinary(site, id);
    let typical = shown(site, link, &corner)?;
    let others = spread(site, link, corner)?;
    let at_level = |level| shown(site, link, &Corner { level, ..corner });
    let (low, high) = (at_level(-0.5)?, at_level(0.5)?);
    let source = key(site, link.master, supply_point(site, link.master));
    let unsure = unsure(site, master.supply);
    let expected = |of: fn(&Window) -> f64, sure: Expected| match &unsure {
        Some(why) => sure.saying(why),
        None => Spread::of(&typical, &others, [&low, &high], of).expected(&source, typical.tap_v),
    };
    let far = |window: &Window| window.far.rms_v;
    let far_dc = |window: &Window| window.far.mean_v.abs();
    let mut worse = circuit(site, link, &corner);
    worse.wire_ohm += PROBE_OHM;
    let worse = steady_state(&worse)?.window;
    let lost_v = if on_ac {
        far(&typical.window) - far(&worse)
    } else {
        far_dc(&typical.window) - far_dc(&worse)
    };
    let per_tenth = if lost_v > 0.0 {
        format!(
            "; every 0.1 V less is about {} ohm more",
            said_ohm(PROBE_OHM * 0.1 / lost_v)
        )
    } else {
        String::new()
    };
    let point = maker(link, id);
    let on_pair = if on_ac {
        Meter::AcVolts
    } else {
        Meter::DcVolts
    };
    let pulls_in = format!(
        " This relay surely pulls in at {:.1} V, warm at {:.1} V, and bears {:.1} V.",
        case.operate_v, case.operate_warm_v, link.relay.max_coil_v
    );
    let needs = Expected::above(case.operate_warm_v);
    let coil = if on_ac && link.rectifier == Rectifier::None {
        needs.saying("no rectifier stated: AC only shakes a DC coil")
    } else {
        Expected {
            // A coil that always gets more than it tolerates has its own caution (S22): the reading shows no
            // new fault.
            bears: [
                None,
                Some(link.relay.max_coil_v).filter(|most_v| typical.window.coil_mean_v < *most_v),
            ],
            ..expected(|window| window.coil_mean_v, needs)
        }
    };
    let mut points = vec![
        point(
            "TP2",
            if link.rectifier == Rectifier::None {
                format!("pair from {}, where it meets the relay", master.name)
            } else {
                format!("pair from {}, where it meets the rectifier", master.name)
            },
            State::Lit,
            on_pair,
            expected(
                if on_ac { far } else { far_dc },
                Expected::below(most_v(site, master.supply)),
            ),
            format!(
                "low with {source} right: the pair, a splice or its fuse{per_tenth}; high: the coil is open, or what hangs at the pair is not connected"
            ),
        ),
        point(
            "TP3 DC",
            "across the coil, coil connected".into(),
            State::Lit,
            Meter::DcVolts,
            coil,
            coil_wrong(link, on_ac) + &pulls_in,
        ),
    ];
    // Behind DC any ripple is the supply's own, and tells nothing about the link.
    if on_ac && link.rectifier != Rectifier::None {
        points.push(point(
            "TP3 AC",
            "the same on AC, with a meter that blocks DC, or one in series with a capacitor of 1 µF or more".into(),
            State::Lit,
            Meter::AcVolts,
            expected(|window| window.coil_ac_v, Expected::within(None, None)),
            ripple_wrong(link).into(),
        ));
    }
    points.extend(at_rest(site, id, corner, on_pair)?);
    Ok(points)
}

/// Makes the points of a link.
fn maker(
    link: &Link,
    id: LinkId,
) -> impl Fn(&str, String, State, Meter, Expected, String) -> Point {
    let zone = link.slave;
    move |name, at, state, meter, expected, wrong| Point {
        zone,
        link: Some(id),
        name: name.into(),
        at,
        state,
        meter,
        expected,
        wrong,
        first: None,
    }
}

/// The points where there should be no voltage: the contact, the pair of a dark master, its insulation.
fn at_rest(
    site: &Site,
    id: LinkId,
    corner: Corner,
    on_pair: Meter,
) -> Result<[Point; 6], CannotConclude> {
    let link = &site[id];
    let master = &site[link.master];
    let slave = &site[link.slave].name;
    let supply = &site.switched(link).name;
    let left = holding_v(site, link, corner)?;
    let holds = left.map_or_else(String::new, |holds_v| {
        format!(" The relay may stay in from {} V on.", volts(holds_v))
    });
    let point = maker(link, id);
    let apart = |name, what, wrong: &str| {
        let at = format!("pair to {slave}: {what}");
        let expected = Expected::above(INSULATION_MOHM);
        let meter = Meter::Megohms;
        point(name, at, State::Apart, meter, expected, wrong.into())
    };
    Ok([
        point(
            "TP4 closed",
            format!("contact, its leads off {supply}"),
            State::LitUnplugged,
            Meter::Ohms,
            Expected::below(CLOSED_OHM),
            "kilohms: a film on the contact, one made for more current; open: wrong pins, or the relay is not in".into(),
        ),
        point(
            "TP4 open",
            "the same".into(),
            State::DarkUnplugged,
            Meter::Megohms,
            Expected::above(INSULATION_MOHM),
            "closed: the contact is welded, or the relay does not let go (TP10)".into(),
        ),
        point(
            "TP10",
            format!("pair from {}, relay connected", master.name),
            State::Dark,
            on_pair,
            left_on_pair(link.off_state_v, left),
            format!("more: something leaks past the switch of {}, or the pair is tapped before it.{holds}", master.name),
        ),
        // `TP11` alone was once one field for all three; an old reading there belongs to none of them.
        apart(
            "TP11 pair",
            "conductor to conductor",
            "less: damaged insulation or a wet splice, between the two",
        ),
        apart(
            "TP11 earth 1",
            "one conductor to earth, the same one every time",
            TO_EARTH,
        ),
        apart("TP11 earth 2", "the other conductor to earth", TO_EARTH),
    ])
}

/// `2.5`, `12`.
fn said_ohm(ohm: f64) -> String {
    if ohm < 10.0 {
        format!("{ohm:.1}")
    } else {
        format!("{ohm:.0}")
    }
}
