//! Four whole sites: schedules worked out from DE421 sun times, and energy by hand.

use chrono::{DateTime, NaiveDate, Utc};
use pilotwire::link::following;
use pilotwire::schedule::{Plan, Reason, Row, plan};
use pilotwire::season::{Season, season};
use pilotwire::site::Site;

use super::yard::{assert_near, date, read, rules};

const COPPERLEAF: &str = include_str!("copperleaf.toml");
const FJORDSTRAND: &str = include_str!("fjordstrand.toml");
const LOS_TEROS: &str = include_str!("los-teros.toml");
const OCOTILLO: &str = include_str!("ocotillo.toml");

/// The expected times come from tables to the minute.
const TOLERANCE_S: f64 = 120.0;

fn planned(site: &Site, name: &str) -> Plan {
    plan(site, date(name)..=date(name), &following(site).unwrap()).unwrap()
}

fn year(site: &Site) -> Season {
    let year = date("2027-01-01")..=date("2027-12-31");
    season(site, year, &following(site).unwrap()).unwrap()
}

/// The instant when the clocks of the site show this.
fn local(site: &Site, text: &str) -> DateTime<Utc> {
    let local = chrono::NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M").unwrap();
    site.timezone.resolve(local).utc
}

/// Asserts that the first zone goes on at these local times, by this clock.
#[track_caller]
fn goes_on(text: &str, times: &[(&str, &str)]) {
    let site = read(text);
    for (at, abbreviation) in times {
        let plan = planned(&site, &at[..10]);
        let on = plan.rows[0].on.unwrap();
        assert_near(on, local(&site, at), TOLERANCE_S);
        assert_eq!(
            site.timezone.offset_at(on).abbreviation.to_string(),
            *abbreviation
        );
    }
}

/// Asserts the hours of every zone that is lit in 2027.
#[track_caller]
fn lit_hours(season: &Season, hours: f64) {
    for zone in season.zones.iter().filter(|zone| zone.nights_lit > 0) {
        let lit_h = zone.lit_s / 3600.0;
        assert!((lit_h - hours).abs() <= 1.0, "{lit_h} h");
    }
}

/// Local dates on which the clocks change in 2027.
fn change_dates(site: &Site, season: &Season) -> Vec<String> {
    let changes = season.clock_changes.iter();
    changes
        .map(|(_, change)| site.timezone.to_local(change.at).date().to_string())
        .collect()
}

#[test]
fn copperleaf_goes_on_at_civil_dusk() {
    goes_on(
        COPPERLEAF,
        &[
            ("2027-03-20 19:54", "CDT"),
            ("2027-06-21 21:26", "CDT"),
            ("2027-09-23 19:37", "CDT"),
            ("2027-12-21 17:18", "CST"),
        ],
    );
}

#[test]
fn copperleaf_reasons_read_as_promised() {
    let site = read(COPPERLEAF);
    let rows = planned(&site, "2027-03-20").rows;
    assert_eq!(rows[0].why_on.say(&site), "civil dusk 19:54 CDT");
    assert_eq!(rows[0].why_off.say(&site), "fixed time 23:00");
    // Capacitor and relay 13 ms, bounce 2 ms, supply 500 + 20 ms.
    assert_eq!(rows[1].why_on.say(&site), "follows front + 0.54 s");
    assert_eq!(rows[1].follows, Some(true));
}

#[test]
fn copperleaf_spends_85_kwh_on_light_and_22_on_standby_behind_the_fence() {
    let site = read(COPPERLEAF);
    let season = year(&site);
    lit_hours(&season, 1278.0);
    assert_eq!(change_dates(&site, &season), ["2027-03-14", "2027-11-07"]);
    // 48 W / 0.72 for 1278 h, and 3 W for the other 7482 h.
    let fence = &season.zones[1];
    assert!((fence.lit_kwh - 85.2).abs() < 0.1, "{}", fence.lit_kwh);
    assert!(
        (fence.standby_kwh - 22.4).abs() < 0.1,
        "{}",
        fence.standby_kwh
    );
    assert!((fence.lit_kwh + fence.standby_kwh - 108.0).abs() < 0.5);
    assert!((fence.cost(0.14) - 15.07).abs() < 0.05);
    assert_eq!((fence.switchings, fence.relay_operations), (730, 365));
    assert_eq!(fence.nights_not_following, 0);
}

#[test]
fn fjordstrand_follows_through_the_whole_chain() {
    let site = read(FJORDSTRAND);
    let rows = planned(&site, "2027-12-21").rows;
    let after_gate_s = |row: &Row| (row.on.unwrap() - rows[0].on.unwrap()).as_seconds_f64();
    // 0.50 + 0.02 s of the PC supply and at most 0.03 s of relay; then 0.30 s and 0.015 s.
    assert!(
        (0.52..=0.555).contains(&after_gate_s(&rows[1])),
        "{}",
        after_gate_s(&rows[1])
    );
    assert!(
        (0.82..=0.87).contains(&after_gate_s(&rows[2])),
        "{}",
        after_gate_s(&rows[2])
    );
    goes_on(FJORDSTRAND, &[("2027-12-21 15:45", "CET")]);
    assert_eq!(
        change_dates(&site, &year(&site)),
        ["2027-03-28", "2027-10-31"]
    );
}

#[test]
fn fjordstrand_has_a_sunset_but_no_civil_dusk_at_midsummer() {
    let site = read(FJORDSTRAND);
    let rows = planned(&site, "2027-06-21").rows;
    assert_near(
        rows[0].on.unwrap(),
        local(&site, "2027-06-21 23:38"),
        TOLERANCE_S,
    );
    let said = rows[0].why_on.say(&site);
    assert!(
        said.starts_with("sunset 23:3") && said.ends_with(" CEST instead, no civil dusk tonight"),
        "{said}"
    );
    assert_eq!(rows[0].off, Some(local(&site, "2027-06-22 00:30")));
}

/// Evenings of 2027 whose first row fits.
fn evenings(site: &Site, like: impl Fn(&Row) -> bool) -> Vec<NaiveDate> {
    let season = year(site);
    let rows = season.plan.rows.iter().filter(|row| row.zone.0 == 0);
    rows.filter(|row| like(row))
        .map(|row| row.evening)
        .collect()
}

#[test]
fn fjordstrand_has_59_nights_without_civil_dusk_give_or_take_one() {
    let site = read(FJORDSTRAND);
    let without = evenings(&site, |row| row.why_on.missing().is_some());
    // On 2027-07-20 the sun just reaches −6°, at 01:16; a table to the minute takes that night for the last
    // without.
    assert_eq!(without.len(), 58);
    assert_eq!(
        (without[0], without[57]),
        (date("2027-05-23"), date("2027-07-19"))
    );
}

#[test]
fn fjordstrand_has_civil_dusk_after_midnight_on_13_evenings_and_off_before_on_on_5() {
    let site = read(FJORDSTRAND);
    let dusk = |row: &Row| match row.why_on {
        Reason::Sun(mark, 0) => mark.at,
        Reason::OffBeforeOn { on, .. } => Some(on),
        _ => None,
    };
    let after_midnight = evenings(&site, |row| {
        dusk(row).is_some_and(|at| site.timezone.to_local(at).date() > row.evening)
    });
    let dates = |from: &str, to: &str| -> Vec<NaiveDate> {
        let to = date(to);
        date(from)
            .iter_days()
            .take_while(|date| *date <= to)
            .collect()
    };
    // With 2027-07-20, see above.
    let expected = [
        dates("2027-05-17", "2027-05-22"),
        dates("2027-07-20", "2027-07-27"),
    ]
    .concat();
    assert_eq!(after_midnight, expected);
    let empty = evenings(&site, |row| {
        matches!(row.why_on, Reason::OffBeforeOn { .. })
    });
    let expected = [
        dates("2027-05-21", "2027-05-22"),
        dates("2027-07-20", "2027-07-23"),
    ]
    .concat();
    assert_eq!(empty, expected);
    let dusk = planned(&site, "2027-05-19").rows[0].on.unwrap();
    assert_near(dusk, local(&site, "2027-05-20 00:19"), TOLERANCE_S);
}

#[test]
fn fjordstrand_is_lit_1582_hours_from_civil_dusk_on() {
    // On nights without civil dusk, no substitute.
    let skip = FJORDSTRAND.replace(
        "off = \"00:30\"",
        "off = \"00:30\"\nif_no_twilight = \"skip\"",
    );
    lit_hours(&year(&read(&skip)), 1582.0);
    // With sunset as the substitute, 58 nights of 48 to 110 minutes are added.
    lit_hours(&year(&read(FJORDSTRAND)), 1650.0);
}

#[test]
fn los_teros_leaves_its_last_gate_dark() {
    let site = read(LOS_TEROS);
    goes_on(
        LOS_TEROS,
        &[("2027-06-21 18:37", "-03"), ("2027-12-21 21:05", "-03")],
    );
    let season = year(&site);
    lit_hours(&season, 1898.0);
    assert!(season.clock_changes.is_empty());
    let nights: Vec<_> = season.zones.iter().map(|zone| zone.nights_lit).collect();
    assert_eq!(nights, [365, 365, 365, 0]);
    let gate = &season.zones[3];
    assert_eq!((gate.nights_not_following, gate.relay_operations), (365, 0));
    assert_eq!(
        planned(&site, "2027-06-21").rows[3].why_on.say(&site),
        "tranquera stays dark: its relay does not pull in, see check"
    );
    // The longest nights of the south are in June.
    assert_eq!(
        &season.zones[0].longest.unwrap().0.to_string()[..7],
        "2027-06"
    );
}

#[test]
fn ocotillo_keeps_one_clock_all_year() {
    let site = read(OCOTILLO);
    goes_on(
        OCOTILLO,
        &[("2027-06-21 20:10", "MST"), ("2027-12-21 17:52", "MST")],
    );
    let season = year(&site);
    lit_hours(&season, 1460.0);
    assert!(season.clock_changes.is_empty());
}

#[test]
fn the_private_rules_are_those_of_the_sites() {
    for (text, zone) in [
        (COPPERLEAF, "America/Chicago"),
        (FJORDSTRAND, "Europe/Oslo"),
        (LOS_TEROS, "America/Argentina/Buenos_Aires"),
        (OCOTILLO, "America/Phoenix"),
    ] {
        assert_eq!(read(text).timezone, rules(zone).unwrap());
    }
}
