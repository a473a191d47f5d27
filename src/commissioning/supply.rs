//! Test points of a supply and of the lamps on it, and of a board: TP1, TP5 to TP9; TP4 and TP10 of a board.

use crate::cautions::{TrunkEnds, terminal_v, trunk_ends};
use crate::chain::MainsLevel;
use crate::chain::timeline::remote_on::{OFF_V, ON_V, OPEN_V};
use crate::site::{Output, Site, SupplyKind, SupplyOutput, Switching, Trunk, ZoneId};

use super::{Expected, METER, Meter, Point, State, With, key, supply_point};

/// The standby rail of a desktop-PC supply [V]: 5 V ± 5 % (the ATX12V design guides).
const STANDBY_V: (f64, f64) = (4.75, 5.25);

/// A line of a 3.3 V board that is high has at least, and one that is low at most [V] (common practice).
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

/// The supply of a zone and its lamps.
pub(super) fn points(site: &Site, zone: ZoneId) -> Vec<Point> {
    let supply = &site[site[zone].supply];
    let point = |name: &str, at: String, state, meter, expected, wrong: &str| Point {
        zone,
        link: None,
        name: name.into(),
        at,
        state,
        meter,
        expected,
        wrong: wrong.into(),
    };
    let [low, nominal, high] = levels(site, zone);
    let (part, fixed_v) = METER;
    let slack = part * nominal + fixed_v;
    let terminals = Expected {
        typical: Some(nominal),
        least: Some(low - slack),
        most: Some(high + slack),
        with: None,
    };
    let mut points = Vec::new();
    match supply.output {
        SupplyOutput::Ac { .. } => points.push(point(
            "TP1",
            format!("terminals of supply {}", supply.name),
            State::Lit,
            Meter::AcVolts,
            terminals,
            "low: too many lamps, or low mains; high: lamps missing, or high mains",
        )),
        SupplyOutput::Dc { .. } => points.push(point(
            "TP6",
            format!("12 V output of supply {}", supply.name),
            State::Lit,
            Meter::DcVolts,
            terminals,
            "low: too many lamps, or a rail that wants a load on 5 V; 0 with TP5 low: latched off, unplug it for a minute",
        )),
    }
    let follows = !matches!(site[zone].switching, Switching::Timed(_));
    if supply.kind == SupplyKind::DesktopPc {
        if follows {
            points.push(point(
                "TP5 dark",
                format!("remote-on line of {} to its common", supply.name),
                State::Dark,
                Meter::DcVolts,
                Expected::between(OFF_V, OPEN_V),
                "low: the contact does not open, or the lead is shorted",
            ));
            points.push(point(
                "TP5 lit",
                "the same".into(),
                State::Lit,
                Meter::DcVolts,
                Expected::below(ON_V),
                "high: the contact does not close (TP4), or the lead is broken",
            ));
        }
        points.push(point(
            "TP9",
            format!("standby output of {} to its common", supply.name),
            State::Dark,
            Meter::DcVolts,
            Expected::between(STANDBY_V.0, STANDBY_V.1),
            "0: no mains, its switch, or the supply is dead",
        ));
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

/// First and last lamp of a run.
fn lamps(site: &Site, zone: ZoneId, trunk: &Trunk, run: &str) -> Vec<Point> {
    let of = |level| match trunk_ends(site, zone, trunk, level) {
        TrunkEnds::Lit { lamp_v, .. } => Some(lamp_v),
        TrunkEnds::BrownOut { .. } => None,
    };
    let Some(nominal) = of(MainsLevel::Nominal) else {
        return Vec::new();
    };
    let [low_v, nominal_v, high_v] = levels(site, zone);
    let (low, high) = (of(MainsLevel::Low), of(MainsLevel::High));
    let wires = if run.is_empty() {
        "the cable"
    } else {
        "this cable"
    };
    let windows: Vec<_> = trunk
        .lamps
        .iter()
        .flat_map(|group| {
            std::iter::repeat_n((group.lowest_v, group.highest_v), group.count as usize)
        })
        .collect();
    let mut points = Vec::new();
    let ends = [
        ("TP7", "first", 0),
        ("TP8", "last", nominal.len().saturating_sub(1)),
    ];
    for (name, which, index) in ends {
        if name == "TP8" && index == 0 {
            continue;
        }
        let at_nominal = nominal[index];
        // Between the levels that the trunk can carry.
        let ends = [(&low, low_v), (&high, high_v)];
        let per_volt = ends
            .iter()
            .find_map(|(lamps, supply_v)| {
                let lamps = lamps.as_ref()?;
                let step_v = supply_v - nominal_v;
                (step_v.abs() > 1e-6).then(|| (lamps[index] - at_nominal) / step_v)
            })
            .unwrap_or(1.0);
        let (part, fixed_v) = METER;
        // A splice or a terminal on the way, besides the meter (common practice).
        let slack = part * at_nominal + fixed_v + 0.1;
        let needs = match windows[index] {
            (Some(lowest), Some(highest)) => format!(
                " The lamp is made for {} to {} V.",
                crate::wording::volts(lowest),
                crate::wording::volts(highest)
            ),
            _ => String::new(),
        };
        points.push(Point {
            zone,
            link: None,
            name: format!("{name}{run}"),
            at: if nominal.len() == 1 {
                "at the lamp".into()
            } else {
                format!("at the {which} lamp")
            },
            state: State::Lit,
            meter: meter(site, zone),
            expected: Expected {
                typical: Some(at_nominal),
                least: Some(at_nominal - slack),
                most: Some(at_nominal + slack),
                with: Some(With {
                    of: key(site, zone, supply_point(site, zone)),
                    there_v: nominal_v,
                    per_volt,
                }),
            },
            wrong: format!(
                "low with the supply right: {wires}, a splice, or more lamps than planned.{needs}"
            ),
        });
    }
    points
}

/// What a board reads and drives for a zone.
pub(super) fn board(site: &Site, zone: ZoneId) -> Vec<Point> {
    let Switching::Senses(sensing) = site[zone].switching else {
        return Vec::new();
    };
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
            "wrong: as above",
        );
    }
    if let Some(input) = site.input_of(sensing.master) {
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
