//! Test points of a pilot wire and of what hangs at it: TP2, TP3, TP4, TP10, TP11.

use crate::chain::{Corner, circuit, off_circuit, tap};
use crate::circuit::relay;
use crate::site::{Link, LinkId, Site};
use crate::transient::{CannotConclude, Window, steady_state};
use crate::wording::volts;

use super::{COIL_RISE_K, Expected, METER, Meter, Point, State, With, key, ordinary, supply_point};

/// What a master that is off may leave on its pair [V] (common practice).
const LEFT_ON_PAIR_V: f64 = 0.3;

/// A contact that is closed has less [Ω] (common practice: new ones have 0.1).
const CLOSED_OHM: f64 = 1.0;

/// A pair whose insulation is whole has more [MΩ] (common practice).
const INSULATION_MOHM: f64 = 1.0;

/// What is added to the pair to see what it does to the meters [Ω].
const PROBE_OHM: f64 = 10.0;

/// A value with all that may move it.
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
        }
    }
}

/// What meters show in one corner.
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

/// What it shows with every part at either end of its tolerance, the box at either end of the year, the coil
/// cold and warm: the mains as it is.
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

/// The voltage on the pair, master off, from which the relay may stay in [V]: coldest box, where it lets go at
/// the least. `None` beyond what the master gives when lit.
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
    // A tenth of a volt is finer than anybody acts on.
    while stays - lets_go > 0.05 {
        let middle = f64::midpoint(lets_go, stays);
        if holds(middle)? {
            stays = middle;
        } else {
            lets_go = middle;
        }
    }
    Ok(Some(lets_go))
}

/// The points of a link, on the sheet of its slave.
pub(super) fn points(site: &Site, id: LinkId) -> Result<Vec<Point>, CannotConclude> {
    let link = &site[id];
    let master = &site[link.master];
    let on_ac = site[master.supply].is_ac();
    let corner = ordinary(site, id);
    let typical = shown(site, link, &corner)?;
    let others = spread(site, link, corner)?;
    let at_level = |level| shown(site, link, &Corner { level, ..corner });
    let (low, high) = (at_level(-0.5)?, at_level(0.5)?);
    let source = key(site, link.master, supply_point(site, link.master));
    let expected = |of: fn(&Window) -> f64| {
        Spread::of(&typical, &others, [&low, &high], of).expected(&source, typical.tap_v)
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
    let ohm_per_tenth = PROBE_OHM * 0.1 / lost_v;
    let point = |name: &str, at: String, state, meter, expected, wrong: String| Point {
        zone: link.slave,
        link: Some(id),
        name: name.into(),
        at,
        state,
        meter,
        expected,
        wrong,
    };
    let on_pair = if on_ac {
        Meter::AcVolts
    } else {
        Meter::DcVolts
    };
    let slave = &site[link.slave].name;
    let supply = &site[site[link.slave].supply].name;
    let left = holding_v(site, link, corner)?;
    let limit_v = left.map_or(LEFT_ON_PAIR_V, |holds_v| holds_v.min(LEFT_ON_PAIR_V));
    let holds = left.map_or_else(String::new, |holds_v| {
        format!(
            " The relay may stay in from {} V on.",
            volts((holds_v * 10.0).floor() / 10.0)
        )
    });
    Ok(vec![
        point(
            "TP2",
            format!("pair from {}, where it meets the rectifier", master.name),
            State::Lit,
            on_pair,
            expected(if on_ac { far } else { far_dc }),
            format!(
                "low with {source} right: the pair, a splice or its fuse; every 0.1 V less is about {} ohm more",
                said_ohm(ohm_per_tenth)
            ),
        ),
        point(
            "TP3 DC",
            "across the coil, coil connected".into(),
            State::Lit,
            Meter::DcVolts,
            expected(|window| window.coil_mean_v),
            "low with TP2 right: a diode or the capacitor; high: the coil is open; 0: a short, or the fifth diode the wrong way round".into(),
        ),
        point(
            "TP3 AC",
            "the same, meter on AC".into(),
            State::Lit,
            Meter::AcVolts,
            expected(|window| window.coil_ac_v),
            "high: the capacitor has dried out, or a bridge diode is open".into(),
        ),
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
            Expected {
                typical: Some(link.off_state_v),
                least: None,
                most: Some(limit_v.max(link.off_state_v)),
                with: None,
            },
            format!("more: something leaks past the switch of {}, or the pair is tapped before it.{holds}", master.name),
        ),
        point(
            "TP11",
            format!("pair to {slave}: conductor to conductor, then each to earth"),
            State::Apart,
            Meter::Megohms,
            Expected::above(INSULATION_MOHM),
            "less: damaged insulation or a wet splice".into(),
        ),
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
