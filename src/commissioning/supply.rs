//! Test points of a supply, of its lamps, and of a board: TP1, TP5 to TP9; TP4 and TP10 of a board.
//!
//! Where the output of a supply or a run is unknown, the expected band is what the lamps are made for.

use crate::chain::remote_on::{OFF_V, ON_V, OPEN_V};
use crate::lamp_run::{TrunkEnds, terminal_v, trunk_ends};
use crate::link::{MainsLevel, load_va, mains_factor};
use crate::site::{
    Output, Site, Supply, SupplyId, SupplyKind, SupplyOutput, Switching, Trunk, Zone, ZoneId,
};
use crate::text::volts;

use super::{Expected, METER, Meter, Point, State, With, key, supply_point};

/// The rails of a desktop-PC supply [V]: 12 V and standby 5 V, each ± 5 % (the ATX12V design guides).
const RAIL_V: (f64, f64) = (11.40, 12.60);
const STANDBY_V: (f64, f64) = (4.75, 5.25);

/// Lowest voltage of a high line and highest of a low line on a 3.3 V board [V] (common practice).
const HIGH_V: (f64, f64) = (2.4, 3.6);
const LOW_V: f64 = 0.4;

fn levels(site: &Site, zone: ZoneId) -> [f64; 3] {
    MainsLevel::ALL.map(|level| terminal_v(site, site[zone].supply, level))
}

fn meter(site: &Site, zone: ZoneId) -> Meter {
    if site[site[zone].supply].is_ac() {
        Meter::AcVolts
    } else {
        Meter::DcVolts
    }
}

/// Error of an ordinary meter at this voltage [V].
fn slack_v(volts: f64) -> f64 {
    let (part, fixed_v) = METER;
    part * volts + fixed_v
}

/// Why the voltage of a supply is unknown, if so: its load exceeds its rating (S29).
pub fn unsure(site: &Site, id: SupplyId) -> Option<String> {
    let (load, rated, unit) = match site[id].output {
        SupplyOutput::Ac { rated_va, .. } => (load_va(site, id), rated_va, "VA"),
        SupplyOutput::Dc {
            lowest_v, max_a, ..
        } => {
            let on_it = site.zones.iter().filter(|zone| zone.supply == id);
            let lamps_w: f64 = on_it.map(Zone::lamp_w).sum();
            (lamps_w / lowest_v, max_a?, "A")
        }
    };
    (load > rated).then(|| {
        format!(
            "supply {} overloaded, {load:.1} of {rated:.1} {unit}: nobody knows its voltage",
            site[id].name
        )
    })
}

/// Highest voltage that a supply gives, whatever is lit, with the meter's error added [V RMS or V DC].
pub(super) fn most_v(site: &Site, id: SupplyId) -> f64 {
    let most_v = match site[id].output {
        SupplyOutput::Ac { no_load_v, .. } => no_load_v * mains_factor(site, MainsLevel::High),
        SupplyOutput::Dc { highest_v, .. } => highest_v,
    };
    most_v + slack_v(most_v)
}

/// The supply of a zone and its lamps.
pub(super) fn points(site: &Site, zone: ZoneId) -> Vec<Point> {
    let supply = &site[site[zone].supply];
    // A contact of a relay, or a line of the board; a timer of its own is in the mains plug.
    let switched =
        !matches!(site[zone].switching, Switching::Timed(_)) || site.output_of(zone).is_some();
    let mut points = vec![terminals(site, zone, switched)];
    if switched && !supply.is_ac() {
        points.extend(remote_on(zone, supply));
    }
    if supply.kind == SupplyKind::DesktopPc {
        points.push(Point {
            zone,
            link: None,
            name: "TP9".into(),
            at: format!("standby output of {} to its common", supply.name),
            state: State::Dark,
            meter: Meter::DcVolts,
            expected: Expected::between(STANDBY_V.0, STANDBY_V.1),
            wrong: "0: no mains, its switch, or the supply is dead".into(),
            first: None,
        });
    }
    let runs: Vec<&Trunk> = site[zone]
        .trunks
        .iter()
        .filter(|trunk| !trunk.lamps.is_empty())
        .collect();
    for (index, trunk) in runs.iter().enumerate() {
        let run = if runs.len() > 1 {
            format!(" run {}", index + 1)
        } else {
            String::new()
        };
        points.extend(lamps(site, zone, trunk, &run));
    }
    points
}

/// At the supply itself.
fn terminals(site: &Site, zone: ZoneId, switched: bool) -> Point {
    let id = site[zone].supply;
    let supply = &site[id];
    let [low_v, nominal_v, high_v] = levels(site, zone);
    let unsure = unsure(site, id);
    let simulated = || {
        let slack_v = slack_v(nominal_v);
        let mut expected = Expected::between(low_v - slack_v, high_v + slack_v);
        expected.typical = Some(nominal_v);
        expected
    };
    let expected = match (supply.kind, unsure) {
        // A standard's limit does not widen because a meter reads it.
        (SupplyKind::DesktopPc, None) if (RAIL_V.0..=RAIL_V.1).contains(&nominal_v) => {
            let mut expected = Expected::between(RAIL_V.0, RAIL_V.1);
            expected.typical = Some(nominal_v);
            expected
        }
        (SupplyKind::DesktopPc, None) => Expected::between(RAIL_V.0, RAIL_V.1).saying(format!(
            "{} V stated, outside what such a rail may have",
            volts(nominal_v)
        )),
        (SupplyKind::DesktopPc, Some(why)) => Expected::between(RAIL_V.0, RAIL_V.1).saying(why),
        (_, None) => simulated(),
        (_, Some(why)) => Expected::below(most_v(site, id)).saying(why),
    };
    let (at, wrong) = match (supply.output, supply.kind) {
        (SupplyOutput::Ac { no_load_v, .. }, _) => (
            format!("terminals of supply {}", supply.name),
            format!(
                "low: too many lamps, or low mains; {} V with no lamp connected: the nearer to that, the more lamps are missing",
                volts(no_load_v)
            ),
        ),
        (SupplyOutput::Dc { .. }, SupplyKind::DesktopPc) => (
            format!("12 V output of supply {}", supply.name),
            format!(
                "low: too many lamps, or a rail that wants a load on 5 V; 0{}: latched off, unplug it for a minute",
                if switched { " with TP5 low" } else { "" }
            ),
        ),
        (SupplyOutput::Dc { .. }, _) => (
            format!("output of supply {}", supply.name),
            format!(
                "low: too many lamps; 0: no mains, or it has shut itself down{}",
                if switched {
                    ", or its enable input is off (TP5)"
                } else {
                    ""
                }
            ),
        ),
    };
    Point {
        zone,
        link: None,
        name: supply_point(site, zone).into(),
        at,
        state: State::Lit,
        meter: meter(site, zone),
        expected,
        wrong,
        first: None,
    }
}

/// What the contact switches. Only the line of a desktop-PC supply has limits known beforehand.
fn remote_on(zone: ZoneId, supply: &Supply) -> [Point; 2] {
    let desktop = supply.kind == SupplyKind::DesktopPc;
    let of_its_sheet = || {
        Expected::within(None, None).saying("by the sheet of this supply, to be written in here")
    };
    let at = if desktop {
        format!("remote-on line of {} to its common", supply.name)
    } else {
        format!(
            "enable input of {}, where the contact meets it",
            supply.name
        )
    };
    let (dark, lit) = if desktop {
        (Expected::between(OFF_V, OPEN_V), Expected::below(ON_V))
    } else {
        (of_its_sheet(), of_its_sheet())
    };
    let (not_open, not_closed) = if desktop {
        (
            "low: the contact does not open, or the lead is shorted",
            "high: the contact does not close (TP4), or the lead is broken",
        )
    } else {
        (
            "as when lit: the contact does not open (TP4), or the lead is shorted",
            "as when dark: the contact does not close (TP4), or the lead is broken",
        )
    };
    let point = |name: &str, at: String, state, expected, wrong: &str| Point {
        zone,
        link: None,
        name: name.into(),
        at,
        state,
        meter: Meter::DcVolts,
        expected,
        wrong: wrong.into(),
        first: None,
    };
    [
        point("TP5 dark", at, State::Dark, dark, not_open),
        point("TP5 lit", "the same".into(), State::Lit, lit, not_closed),
    ]
}

/// The voltage that the lamps are made for, where nothing better is known: at least what every lamp needs, at
/// most what every lamp tolerates, and never more than the supply gives.
fn window(
    site: &Site,
    zone: ZoneId,
    lamps: &[(Option<f64>, Option<f64>)],
    why: String,
) -> Expected {
    let least_v = lamps.iter().filter_map(|lamp| lamp.0).reduce(f64::max);
    let bears_v = lamps.iter().filter_map(|lamp| lamp.1).reduce(f64::min);
    let gives_v = most_v(site, site[zone].supply);
    let most_v = match bears_v {
        // Lamps made for more volts than the supply gives: taking the supply's limit would turn the window
        // upside down.
        Some(bears_v) if least_v.is_some_and(|least_v| least_v > gives_v) => bears_v,
        Some(bears_v) => bears_v.min(gives_v),
        None => gives_v,
    };
    Expected::within(least_v, Some(most_v)).saying(why)
}

/// First and last lamp of a run.
fn lamps(site: &Site, zone: ZoneId, trunk: &Trunk, run: &str) -> Vec<Point> {
    let of = |level| match trunk_ends(site, zone, trunk, level) {
        TrunkEnds::Lit { lamp_v, .. } => Some(lamp_v),
        TrunkEnds::BrownOut { .. } => None,
    };
    let windows: Vec<_> = trunk
        .lamps
        .iter()
        .flat_map(|group| {
            std::iter::repeat_n((group.lowest_v, group.highest_v), group.count as usize)
        })
        .collect();
    let [low, nominal, high] = MainsLevel::ALL.map(of);
    let unsure = unsure(site, site[zone].supply);
    let wires = if run.is_empty() {
        "the cable"
    } else {
        "this cable"
    };
    let mut points = Vec::new();
    let last = windows.len().saturating_sub(1);
    for (name, which, index) in [("TP7", "first", 0), ("TP8", "last", last)] {
        if name == "TP8" && index == 0 {
            continue;
        }
        let needs = match windows[index] {
            (Some(lowest), Some(highest)) => format!(
                " The lamp is made for {} to {} V.",
                volts(lowest),
                volts(highest)
            ),
            _ => String::new(),
        };
        let low_with = "low with the supply right";
        let (expected, wrong) = match (&trunk.cable, &unsure, &nominal) {
            (None, _, _) => (
                window(site, zone, &windows, "no cable stated".into()),
                format!("{low_with}: the cable, a splice, or more lamps than planned. No cable stated: what this lamp should get is not known"),
            ),
            (Some(_), Some(why), _) => (
                window(site, zone, &windows[index..=index], why.clone()),
                format!("low: more lamps than the supply is made for.{needs}"),
            ),
            (Some(_), None, None) => (
                window(
                    site,
                    zone,
                    &windows[index..=index],
                    "browns out".into(),
                ),
                "this run browns out by the calculation: thicker wire, fewer lamps, or feed it from both ends".into(),
            ),
            (Some(_), None, Some(nominal)) => (
                along(site, zone, index, nominal, (&low, &high), windows[index].into()),
                format!(
                    "{low_with}: {wires}, a splice, or more lamps than planned; high: fewer lamps.{needs}{}",
                    if low.is_none() {
                        " At the lowest supply voltage this run browns out by the calculation."
                    } else {
                        ""
                    }
                ),
            ),
        };
        points.push(Point {
            zone,
            link: None,
            name: format!("{name}{run}"),
            at: if last == 0 {
                "at the lamp".into()
            } else {
                format!("at the {which} lamp")
            },
            state: State::Lit,
            meter: meter(site, zone),
            expected,
            wrong,
            first: None,
        });
    }
    points
}

/// A lamp along a run that the calculation covers.
fn along(
    site: &Site,
    zone: ZoneId,
    index: usize,
    nominal: &[f64],
    (low, high): (&Option<Vec<f64>>, &Option<Vec<f64>>),
    window: [Option<f64>; 2],
) -> Expected {
    let [low_v, nominal_v, high_v] = levels(site, zone);
    let at_nominal = nominal[index];
    // Between the lowest and highest level at which the trunk can carry its load.
    let ends = [(low, low_v), (high, high_v)];
    let per_volt = ends
        .iter()
        .find_map(|(lamps, supply_v)| {
            let lamps = lamps.as_ref()?;
            let step_v = supply_v - nominal_v;
            (step_v.abs() > 1e-6).then(|| (lamps[index] - at_nominal) / step_v)
        })
        .unwrap_or(1.0);
    // A splice or terminal on the way, in addition to the meter (common practice).
    let slack_v = slack_v(at_nominal) + 0.1;
    Expected {
        typical: Some(at_nominal),
        with: Some(With {
            of: key(site, zone, supply_point(site, zone)),
            there_v: nominal_v,
            per_volt,
        }),
        bears: window,
        ..Expected::between(at_nominal - slack_v, at_nominal + slack_v)
    }
}

/// What a board reads and drives for a zone.
pub(super) fn board(site: &Site, zone: ZoneId) -> Vec<Point> {
    let level = |high: bool| {
        if high {
            Expected::between(HIGH_V.0, HIGH_V.1)
        } else {
            Expected::below(LOW_V)
        }
    };
    let mut points = Vec::new();
    let mut push = |name: &str, at: &str, state, high: bool, wrong: &str| {
        points.push(Point {
            zone,
            link: None,
            name: name.into(),
            at: at.into(),
            state,
            meter: Meter::DcVolts,
            expected: level(high),
            wrong: wrong.into(),
            first: None,
        });
    };
    if let Some(Output { active_low, .. }) = site.output_of(zone) {
        push(
            "TP4 lit",
            "output line to the board's ground",
            State::Lit,
            !active_low,
            "wrong: see `pilotwire lines`; the board holds it, or another program does",
        );
        push(
            "TP4 dark",
            "the same",
            State::Dark,
            *active_low,
            "wrong: see `pilotwire lines`; the board holds it, or another program does",
        );
    }
    if let Switching::Senses(sensing) = site[zone].switching
        && let Some(input) = site.input_of(sensing.master)
    {
        push(
            "TP10 lit",
            "input line to the board's ground",
            State::Lit,
            !input.active_low,
            "wrong: what senses the master, or its lead",
        );
        push(
            "TP10 dark",
            "the same",
            State::Dark,
            input.active_low,
            "wrong: what senses the master, or its pull resistor",
        );
    }
    points
}
