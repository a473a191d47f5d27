//! Cautions of a link: S08–S10, S18–S23, S26, S37.

use crate::chain::{LinkJudgement, PaperCase};
use crate::circuit::rectifier::OutsideRange;
use crate::circuit::series_resistor::{self, Loaded, SeriesResistor};
use crate::circuit::supply::{BLOWS_AT, LOAD_HEADROOM, largest_blown_a};
use crate::circuit::wire::ampacity;
use crate::site::{Fuse, Link, LinkId, Site, Switching};

use super::{Caution, Code, Level, Notes, Place};

/// Margin below which a link counts as thin (common practice).
const THIN: f64 = 0.15;

/// Time-lag fuses that a shop has on the shelf [A] (common practice).
const STOCKED_FUSES_A: [f64; 10] = [0.1, 0.16, 0.25, 0.5, 1.0, 2.0, 3.15, 5.0, 7.5, 10.0];

/// Reserve of a capacitor's rating over the greatest peak (common practice).
const CAPACITOR_RESERVE: f64 = 1.25;

pub(super) fn cautions(site: &Site, id: LinkId, judgement: &LinkJudgement) -> Vec<Caution> {
    let link = &site[id];
    let mut notes = Notes::at(Place::Link(id));
    operate(site, link, judgement, &mut notes);
    release(site, link, judgement, &mut notes);
    coil(site, link, judgement, &mut notes);
    parts(site, link, &mut notes);
    fuse(link, judgement, &mut notes);
    notes.list
}

/// `low mains, box 35 °C`, or volts for a DC feed.
pub(crate) fn said(site: &Site, link: &Link, case: &PaperCase) -> String {
    let level = case.case.mains.name();
    let feed = if site[site[link.master].supply].is_ac() {
        format!("{level} mains")
    } else {
        format!("supply at {:.1} V DC", case.tap_v)
    };
    format!("{feed}, box {}", crate::report::celsius(case.case.box_c))
}

fn operate(site: &Site, link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let slave = &site[link.slave].name;
    let worst = &judgement.worst_dusk;
    if worst.margin_dusk < 0.0 {
        // The ordinary case is the answer where even it fails; else the first one that does.
        let (case, when) = if judgement.ordinary.margin_dusk < 0.0 {
            (&judgement.ordinary, String::new())
        } else {
            (
                worst,
                format!(" ({}, parts at their worst)", said(site, link, worst)),
            )
        };
        notes.add(
            Code::S19,
            Level::Stop,
            format!(
                "zone {slave} stays dark: coil gets {:.1} V, needs {:.1} V at {:.0} °C (short by {:.1} V){when}. {}",
                case.dusk.coil_v,
                case.operate_v,
                case.case.box_c,
                case.operate_v - case.dusk.coil_v,
                cure(site, link)
            ),
        );
    }
    let thinnest = judgement.grid[3..6]
        .iter()
        .min_by(|a, b| a.margin_dusk.total_cmp(&b.margin_dusk))
        .expect("three evenings at nominal mains");
    if (0.0..THIN).contains(&thinnest.margin_dusk) {
        notes.add(
            Code::S20,
            Level::Warn,
            format!(
                "thin margin: {:+.1} V ({:+.0} %) over pull-in at dusk ({}); {:.0} % is the usual reserve. {}",
                thinnest.dusk.coil_v - thinnest.operate_v,
                thinnest.margin_dusk * 100.0,
                said(site, link, thinnest),
                THIN * 100.0,
                cure(site, link)
            ),
        );
    }
    let restart = &judgement.worst_restart;
    if restart.margin_restart < 0.0 {
        notes.add(
            Code::S20,
            Level::Warn,
            format!(
                "may not come back after a power blip: the warm coil ({:.0} °C) gets {:.1} V and needs {:.1} V ({}). {}",
                restart.warm.coil_c,
                restart.warm.coil_v,
                restart.operate_warm_v,
                said(site, link, restart),
                cure(site, link)
            ),
        );
    }
    for outside in &judgement.outside {
        let text = outside_said(*outside);
        notes.add(
            Code::S20,
            Level::Warn,
            format!("{text}: try it on the bench before you dig"),
        );
    }
}

/// Why the method does not hold.
pub(crate) fn outside_said(outside: OutsideRange) -> String {
    match outside {
        OutsideRange::CapacitorTooSmall { intervals, least } => format!(
            "outside the method's range: the capacitor holds for {intervals:.1} charging intervals, it takes {least:.0}; the true voltage is lower"
        ),
        OutsideRange::SourceTooStiff { source_ohm, least_ohm } => format!(
            "outside the method's range: {source_ohm:.2} ohm before the rectifier, it takes {least_ohm:.0} ohm; the true voltage is up to 0.3 V lower"
        ),
        OutsideRange::NoCapacitor => {
            "outside the method's range: without a capacitor the relay may buzz or chatter; fit 220 uF".into()
        }
        OutsideRange::NoRectifierOnAc => "a DC coil on AC only buzzes: fit a bridge and a capacitor".into(),
    }
}

/// The cheapest changes that would help.
fn cure(site: &Site, link: &Link) -> String {
    let others = crate::chain::other_relays(site, link);
    let mut words: Vec<String> = others
        .iter()
        .filter(|other| other.would_do())
        .take(2)
        .map(|other| {
            format!(
                "relay {} would do ({:+.0} % at the worst, {:+.0} % on a hot restart)",
                other.name,
                other.worst_dusk * 100.0,
                other.worst_restart * 100.0
            )
        })
        .collect();
    let refused: Vec<String> = others
        .iter()
        .filter(|other| !other.would_do())
        .take(2)
        .map(|other| {
            format!(
                "relay {} would not ({:+.0} % hot)",
                other.name,
                other.worst_restart * 100.0
            )
        })
        .collect();
    if words.is_empty() {
        words.push("A relay with more ohms, thicker wire or fewer diodes helps".into());
    }
    words.extend(refused);
    words.join("; ")
}

fn release(site: &Site, link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let case = &judgement.worst_release;
    if case.residual_v >= case.release_v {
        notes.add(
            Code::S21,
            Level::Stop,
            format!(
                "zone {} may never go dark: {:.2} V stays on the coil with {} off, release is sure only below {:.2} V (box {}). Switch the pair at the master, or load it with a bleeder resistor",
                site[link.slave].name,
                case.residual_v,
                site[link.master].name,
                case.release_v,
                crate::report::celsius(case.case.box_c)
            ),
        );
    }
    let (master, slave) = (&site[link.master], &site[link.slave]);
    if master.supply == slave.supply {
        notes.add(
            Code::S18,
            Level::Stop,
            format!(
                "zones {} and {} hang on one supply, {}: the relay would switch the supply that holds it in, and never let go. Give {} a supply of its own",
                master.name, slave.name, site[slave.supply].name, slave.name
            ),
        );
    }
    let timed = matches!(master.switching, Switching::Timed(_));
    let upstream = |zone| site.link_to(zone).map(|link| link.master);
    let mut above = upstream(link.master);
    while let Some(zone) = above {
        if site[zone].supply == slave.supply && !timed {
            notes.add(
                Code::S18,
                Level::Stop,
                format!(
                    "zone {} shares supply {} with {}, further up its own chain: it would hold the chain on for ever",
                    slave.name, site[slave.supply].name, site[zone].name
                ),
            );
            break;
        }
        above = upstream(zone);
    }
}

fn coil(site: &Site, link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let high = &judgement.highest;
    let coil_v = high.dusk.coil_v.max(high.warm.coil_v);
    let relay = &link.relay;
    let hottest_c = judgement
        .grid
        .iter()
        .map(|case| case.warm.coil_c)
        .fold(high.warm.coil_c, f64::max);
    if coil_v > relay.max_coil_v {
        let cure = resistor(site, link, judgement).map_or_else(
            || "no series resistor brings it down: choose a relay for more volts".into(),
            |part| {
                let rating = part.rating_w.map_or("25 W or more".into(), |watt| format!("{watt} W"));
                format!(
                    "a series resistor of {} ohm, {rating}, in the AC side brings it to {:.1} V; then check pull-in again",
                    part.ohm, part.coil_v
                )
            },
        );
        notes.add(
            Code::S22,
            Level::Warn,
            format!(
                "coil over-voltage: {coil_v:.1} V ({}), {:.0} % of rated; the limit is {:.1} V continuous. {cure}",
                said(site, link, high),
                coil_v / relay.rated_v * 100.0,
                relay.max_coil_v
            ),
        );
    } else if hottest_c > relay.max_coil_c {
        notes.add(
            Code::S22,
            Level::Warn,
            format!(
                "coil too hot: {hottest_c:.0} °C, the limit is {:.0} °C. A series resistor or a cooler box helps",
                relay.max_coil_c
            ),
        );
    }
}

/// The series resistor that keeps the coil within its limit at high mains.
fn resistor(site: &Site, link: &Link, judgement: &LinkJudgement) -> Option<SeriesResistor> {
    let case = judgement.highest.case;
    series_resistor::smallest_below(link.relay.max_coil_v, |ohm| {
        let with = Link {
            series_ohm: link.series_ohm + ohm,
            ..link.clone()
        };
        let loaded = crate::chain::work_out(site, &with, &with.relay, case);
        Loaded {
            coil_v: loaded.dusk.coil_v.max(loaded.warm.coil_v),
            pair_rms_a: loaded.dusk.pair_rms_a,
        }
    })
}

fn parts(site: &Site, link: &Link, notes: &mut Notes) {
    let peak_v = crate::chain::greatest_peak_v(site, link);
    if let Some(capacitor) = link.capacitor
        && capacitor.rating_v < CAPACITOR_RESERVE * peak_v
    {
        notes.add(
            Code::S23,
            Level::Warn,
            format!(
                "capacitor voltage too low: rated {:.0} V, the peak reaches {peak_v:.1} V with no lamp lit; take {:.0} V or more",
                capacitor.rating_v,
                (CAPACITOR_RESERVE * peak_v).ceil()
            ),
        );
    }
    // On DC nothing swings the other way: a crossed pair is all a diode has to withstand.
    let reverse_v = if site[site[link.master].supply].is_ac() {
        link.rectifier.reverse_v(peak_v)
    } else {
        peak_v
    };
    if link.diode.reverse_v < reverse_v {
        notes.add(
            Code::S37,
            Level::Warn,
            format!(
                "diode {} stands {:.0} V in reverse, this circuit puts {reverse_v:.0} V on it: take one for {:.0} V or more",
                link.diode_name,
                link.diode.reverse_v,
                (2.0 * reverse_v).ceil()
            ),
        );
    }
    let switched_a = site[site[link.slave].supply].remote_on_a;
    if let Some(minimum_a) = link.relay.contact_minimum_a
        && minimum_a > switched_a
    {
        notes.add(
            Code::S26,
            Level::Warn,
            format!(
                "contact may film over: it switches {}, its least dependable current is {}. Take a gold-clad signal contact",
                amps(switched_a),
                amps(minimum_a)
            ),
        );
    }
}

fn fuse(link: &Link, judgement: &LinkJudgement, notes: &mut Notes) {
    let short_a = judgement.short_a;
    let carries_a = link.cable.map(|cable| ampacity(cable.gauge).amps);
    let most_a = carries_a
        .unwrap_or(f64::INFINITY)
        .min(largest_blown_a(short_a));
    let fits = STOCKED_FUSES_A
        .into_iter()
        .rev()
        .find(|rating| *rating <= most_a);
    let advice = fits.map_or_else(
        || "no common fuse is small enough: use thicker wire".into(),
        |rating| format!("fit {} time-lag at the tapping point", amps(rating)),
    );
    match link.fuse {
        Fuse::NotStated => notes.add(
            Code::S08,
            Level::Note,
            format!("pair fuse not stated; a short at the far end draws {short_a:.1} A: {advice}"),
        ),
        Fuse::None => notes.add(
            Code::S08,
            Level::Stop,
            format!(
                "the thin pair has no fuse; a short at the far end draws {short_a:.1} A: {advice}"
            ),
        ),
        Fuse::Rated(rating) => {
            let load_a = judgement.ordinary.dusk.pair_rms_a;
            if rating < LOAD_HEADROOM * load_a {
                notes.add(
                    Code::S10,
                    Level::Stop,
                    format!(
                        "fuse {} is below 1.25 times the pair's {}: {advice}",
                        amps(rating),
                        amps(load_a)
                    ),
                );
            } else if carries_a.is_some_and(|carries| rating > carries) {
                notes.add(
                    Code::S10,
                    Level::Stop,
                    format!(
                        "fuse {} is above the {} that the wire carries: {advice}",
                        amps(rating),
                        amps(carries_a.unwrap_or_default())
                    ),
                );
            } else if rating * BLOWS_AT > short_a {
                notes.add(
                    Code::S09,
                    Level::Warn,
                    format!(
                        "a short at the far end draws {short_a:.2} A, fuse {} needs {:.2} A to blow promptly: {advice}",
                        amps(rating),
                        rating * BLOWS_AT
                    ),
                );
            }
        }
    }
}

/// `500 mA`, `1.6 A`.
pub(crate) fn amps(current_a: f64) -> String {
    if current_a < 1.0 {
        let milli = current_a * 1000.0;
        if milli < 10.0 {
            format!("{milli:.1} mA")
        } else {
            format!("{milli:.0} mA")
        }
    } else {
        format!("{current_a} A")
    }
}
