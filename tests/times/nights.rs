//! Nights at risk: temperatures by month, with margins that can be worked out on paper.
//!
//! The yard's link has almost no pair resistance and no capacitor or coil tolerance, so that on DC coil voltage
//! = U − 2 diode drops. At the point where the relay just pulls in, its current is that at 20 °C, 9 V / 400 Ω =
//! 22.5 mA, whatever the temperature: resistance and operate voltage grow alike, by 0.00393/K. A 1N4007 drops
//! 0.72 V at 30 mA and 25 °C, so 0.72 − 1.808 · 25.7 mV · ln(30/22.5) = 0.707 V at 22.5 mA, and 1.6 mV less per
//! kelvin.

use chrono::Month;
use pilotwire::check::check;
use pilotwire::link::{Aspect, Draw, Outcome, Risk, Verdict, following, judge_link, risk_of_month};
use pilotwire::report::{season_csv, season_json, season_text};
use pilotwire::schedule::plan;
use pilotwire::season::{LinkNights, Season, season};
use pilotwire::site::Site;
use serde_json::Value;

use super::yard::{BERLIN, GREENWICH, Where, date, lines, read};

/// Loop resistance small enough to ignore [Ω].
const NO_PAIR: &str = "loop_resistance = \"0.01 ohm\"\n";

const MILD: &str = "[\"0 C\", \"5 C\", \"10 C\"]";

/// Twelve mild months, some of them replaced.
fn months(others: &[(Month, &str)]) -> String {
    let mut rows = [MILD; 12];
    for (month, row) in others {
        rows[month.number_from_month() as usize - 1] = row;
    }
    format!("monthly = [{}]", rows.join(", "))
}

/// A walk and a hedge that follows it, each with its own supply; the walk's supply always gives this voltage.
fn yard((latitude, longitude, timezone): Where, volts: &str, months: &str, more: &str) -> Site {
    read(&format!(
        r#"
[site]
name = "Yard"
latitude = {latitude}
longitude = {longitude}
timezone = "{timezone}"

[temperature]
{months}

[[supply]]
name = "house"
kind = "dc"
voltage = "{volts}"
lowest_voltage = "{volts}"
highest_voltage = "{volts}"

[[supply]]
name = "shed"
kind = "dc"

[[zone]]
name = "walk"
supply = "house"
on = "18:00"
off = "00:30"

[[zone]]
name = "hedge"
supply = "shed"

[[link]]
master = "walk"
slave = "hedge"
relay = "r400"
capacitor_tolerance = "0 %"
{NO_PAIR}
{more}
[[relay]]
name = "r400"
coil_resistance = "400 ohm"
coil_tolerance = "0 %"
operate_voltage = "9 V"
release_voltage = "1.2 V"
max_coil_voltage = "15.6 V"
thermal_resistance = "97 K/W"
"#
    ))
}

fn season_of(site: &Site, from: &str, to: &str) -> Season {
    season(site, date(from)..=date(to), &following(site).unwrap()).unwrap()
}

fn nights_of(season: &Season) -> &LinkNights {
    let links = season.nights.as_ref().expect("the months are stated");
    assert_eq!(links.len(), 1);
    &links[0]
}

/// Periods as lines such as `2027-07-01 to 2027-07-31, 31: hot restart`; `!` if certain.
fn periods(nights: &LinkNights) -> Vec<String> {
    let line = |period: &pilotwire::season::Period| {
        let sure = if period.certain { "!" } else { "" };
        let (from, to, count) = (period.from, period.to, period.nights);
        format!("{from} to {to}, {count}: {}{sure}", period.risk)
    };
    nights.periods.iter().map(line).collect()
}

/// A July too hot for a supply of 11.0 V, and nothing else wrong.
///
/// At dusk 11.0 − 2 · (0.707 − 0.0016 (T − 25)) = 9 · (1 + 0.00393 (T − 20)) at T = 37.7 °C; on a hot
/// restart, with the coil 97 K/W · 22.5 mA · 9.55 V = 20.8 K warmer, at T = 14.9 °C.
fn hot_july(zone: Where, more: &str) -> Site {
    let july = (Month::July, "[\"10 C\", \"39 C\", \"45 C\"]");
    yard(zone, "11 V", &months(&[july]), more)
}

#[test]
fn margins_vanish_at_the_temperatures_worked_out_by_hand() {
    // (U, dusk, hot restart): the same equations with U = 11.4 V give 50.2 °C, with U = 12 V
    // 43.3 °C warm (coil 97 · 0.0225 · 10.65 = 23.2 K warmer).
    let cases = [
        ("11 V", 37.7, Risk::StaysDark),
        ("11.4 V", 50.2, Risk::StaysDark),
        ("11 V", 14.9, Risk::HotRestart),
        ("12 V", 43.3, Risk::HotRestart),
    ];
    for (volts, celsius, risk) in cases {
        for (hottest_c, at_risk) in [(celsius - 0.5, false), (celsius + 0.5, true)] {
            let row = format!("[\"0 C\", \"5 C\", \"{hottest_c} C\"]");
            let site = yard(GREENWICH, volts, &months(&[(Month::May, &row)]), "");
            let may = risk_of_month(&site, &site.links[0], Month::May).unwrap();
            assert_eq!(
                may.risks().contains(&risk),
                at_risk,
                "{volts}, {hottest_c} °C: {may:?}"
            );
            let least = may.least(risk).unwrap();
            // 0.5 K is 0.2 % of the operate voltage, or of that on a hot restart.
            assert!(least.fraction.abs() < 0.003, "{least:?}");
            assert!((least.case.box_c - hottest_c).abs() < 1e-9, "{least:?}");
        }
    }
}

#[test]
fn a_coil_leaves_part_of_its_limit() {
    // Without a rectifier the coil gets all of 12 V: 1 − 12 / 15.6.
    let site = yard(GREENWICH, "12 V", &months(&[]), "rectifier = \"none\"");
    let may = risk_of_month(&site, &site.links[0], Month::May).unwrap();
    assert!(
        (may.judged.margin(Aspect::CoilVoltage).fraction - 0.2308).abs() < 1e-3,
        "{:?}",
        may.judged.margin(Aspect::CoilVoltage)
    );
}

/// 1.1 V stays on the pair, and all of it on the coil: the relay lets go below 1.2 V · (1 + 0.00393
/// (T − 20)), which is 1.1 V at −1.2 °C and 1.082 V at −5 °C.
#[test]
fn a_cold_relay_does_not_let_go() {
    let cold = |typical: &str| {
        let row = format!("[\"-5 C\", \"{typical}\", \"8 C\"]");
        let january = (Month::January, row.as_str());
        let more = "rectifier = \"none\"\noff_state_voltage = \"1.1 V\"\n";
        yard(GREENWICH, "12 V", &months(&[january]), more)
    };
    let site = cold("2 C");
    let season = season_of(&site, "2026-12-01", "2027-02-28");
    assert_eq!(
        periods(nights_of(&season)),
        ["2027-01-01 to 2027-01-31, 31: stays lit"]
    );
    let least = nights_of(&season).periods[0]
        .worst
        .judged
        .margin(Aspect::Release);
    assert!(
        (least.fraction - (1.0 - 1.1 / 1.0821)).abs() < 1e-3,
        "{least:?}"
    );
    assert_eq!(season.zones[1].nights_not_following, 0);

    let site = cold("-4 C");
    let season = season_of(&site, "2026-12-31", "2027-02-01");
    assert_eq!(
        periods(nights_of(&season)),
        ["2027-01-01 to 2027-01-31, 31: stays lit!"]
    );
    let hedge = &season.zones[1];
    assert_eq!((hedge.nights_lit, hedge.nights_not_following), (33, 31));
    // It goes on and off only on 2026-12-31 and 2027-02-01; in between its light does not end.
    assert_eq!(hedge.relay_operations, 2);
}

#[test]
fn a_hot_july_is_dark_and_no_other_month() {
    let site = hot_july(BERLIN, "");
    let season = season_of(&site, "2027-01-01", "2027-12-31");
    let nights = nights_of(&season);
    assert_eq!(
        periods(nights),
        ["2027-07-01 to 2027-07-31, 31: stays dark!"]
    );
    assert_eq!(nights.at_risk.len(), 31);
    let hedge = &season.zones[1];
    assert_eq!((hedge.nights_lit, hedge.nights_not_following), (334, 31));
    let why = "hedge stays dark: its relay does not pull in on typical evenings of that month";
    let why = why.to_owned();
    assert_eq!(hedge.nights_dark.iter().collect::<Vec<_>>(), [(&why, &31)]);
    let outcomes: Vec<Outcome> = nights
        .months
        .iter()
        .map(pilotwire::link::MonthRisk::outcome)
        .collect();
    let mut expected = [Outcome::Follows; 12];
    expected[6] = Outcome::StaysDark;
    assert_eq!(outcomes, expected);
}

#[test]
fn the_rows_of_a_plan_follow_their_month() {
    let gate = "[[zone]]\nname = \"gate\"\nsupply = \"third\"\n\
                [[supply]]\nname = \"third\"\nkind = \"dc\"\n\
                [[link]]\nmaster = \"hedge\"\nslave = \"gate\"\nrelay = \"r400\"\nloop_resistance = \"1 ohm\"\n";
    let site = hot_july(GREENWICH, gate);
    let planned = |from: &str, to: &str| {
        let plan = plan(&site, date(from)..=date(to), &following(&site).unwrap()).unwrap();
        lines(&site, &plan)
    };
    // The night of 30 June reaches into July, and counts for June.
    let eve = planned("2027-06-30", "2027-07-01");
    assert_eq!(eve.len(), 6);
    assert!(eve[1].starts_with("hedge 18:00:00.") && eve[1].contains("to +1 00:30:00."));
    assert!(eve[2].starts_with("gate 18:00:00."), "{eve:#?}");
    assert_eq!(
        eve[4..],
        [
            "hedge dark: hedge stays dark: its relay does not pull in on a typical evening of July",
            "gate dark: hedge stays dark",
        ]
    );
    let after = planned("2027-07-31", "2027-08-01");
    assert!(after[1].starts_with("hedge dark: "), "{after:#?}");
    assert!(after[4].starts_with("hedge 18:00:00."), "{after:#?}");
}

#[test]
fn an_evening_without_light_is_not_at_risk() {
    let away = "[[date]]\nfrom = 2027-07-20\nto = 2027-07-21\ndark = true\n";
    let season = season_of(&hot_july(GREENWICH, away), "2027-07-01", "2027-07-31");
    let nights = nights_of(&season);
    assert_eq!(
        periods(nights),
        ["2027-07-01 to 2027-07-31, 29: stays dark!"]
    );
    assert!(nights.on(date("2027-07-19")).is_some());
    assert!(nights.on(date("2027-07-20")).is_none());
}

#[test]
fn a_season_that_begins_within_a_risk_comes_to_it_twice() {
    let site = hot_july(BERLIN, "");
    let season = season_of(&site, "2027-07-16", "2028-07-15");
    assert_eq!(
        periods(nights_of(&season)),
        [
            "2027-07-16 to 2027-07-31, 16: stays dark!",
            "2028-07-01 to 2028-07-15, 15: stays dark!",
        ]
    );
    let months = &nights_of(&season).months;
    assert_eq!(months.len(), 12);
    assert_eq!(months[0].month, Month::July);
}

/// On Lord Howe Island summer runs over the end of the year, and its clocks go back on 2027-04-04 and
/// forward on 2026-10-04. Hot restarts fail from 14.9 °C on.
#[test]
fn a_southern_summer_is_one_period_over_the_end_of_the_year() {
    let hot = "[\"12 C\", \"14 C\", \"20 C\"]";
    let summer = [Month::December, Month::January, Month::February].map(|month| (month, hot));
    let lord_howe = (-31.55, 159.08, "Australia/Lord_Howe");
    let site = yard(lord_howe, "11 V", &months(&summer), "");
    let season = season_of(&site, "2026-10-01", "2027-04-30");
    assert_eq!(season.clock_changes.len(), 2);
    assert_eq!(
        periods(nights_of(&season)),
        ["2026-12-01 to 2027-02-28, 90: hot restart"]
    );
    assert_eq!(season.zones[1].nights_not_following, 0);
}

#[test]
fn a_clock_change_neither_adds_nor_loses_a_night() {
    // Germany's clocks go forward on 2027-03-28 and back on 2027-10-31.
    let hot = "[\"5 C\", \"12 C\", \"20 C\"]";
    let both = [Month::March, Month::October].map(|month| (month, hot));
    let site = yard(BERLIN, "11 V", &months(&both), "");
    let season = season_of(&site, "2027-01-01", "2027-12-31");
    assert_eq!(season.clock_changes.len(), 2);
    assert_eq!(
        periods(nights_of(&season)),
        [
            "2027-03-01 to 2027-03-31, 31: hot restart",
            "2027-10-01 to 2027-10-31, 31: hot restart",
        ]
    );
}

/// A month with the year's temperatures is judged like the year.
#[test]
fn a_month_is_judged_as_the_verdict_judges_the_year() {
    for text in [
        include_str!("../../config/linked-pair.toml"),
        include_str!("../../config/chain-of-three.toml"),
        include_str!("../../config/too-far.toml"),
    ] {
        let site = crate::support::read::read(text);
        for link in &site.links {
            let (month, year) = (
                risk_of_month(&site, link, Month::May).unwrap(),
                judge_link(&site, link, Draw::default()).unwrap(),
            );
            assert_eq!(month.outcome(), year.outcome());
            assert_eq!(month.judged, year.judged);
        }
    }
}

/// A yard that the verdict passes has no night at risk, whatever the months are.
#[test]
fn nights_are_at_risk_only_in_a_yard_that_check_warns_of() {
    let mut seen = [0, 0];
    for volts in ["11 V", "11.6 V", "12 V", "12.8 V"] {
        for hottest_c in [12, 20, 30, 40, 60] {
            let row = format!("[\"-10 C\", \"10 C\", \"{hottest_c} C\"]");
            let site = yard(BERLIN, volts, &months(&[(Month::August, &row)]), "");
            let season = season_of(&site, "2027-08-01", "2027-08-31");
            let at_risk = !nights_of(&season).at_risk.is_empty();
            let verdict = check(&site, date("2027-01-01"), Draw::default())
                .unwrap()
                .verdict;
            assert!(
                !at_risk || verdict > Verdict::Go,
                "{volts}, {hottest_c} °C: {verdict}"
            );
            seen[usize::from(at_risk)] += 1;
        }
    }
    assert!(seen.iter().all(|yards| *yards > 3), "{seen:?}");
}

#[test]
fn what_does_not_let_go_is_said_with_its_share_of_the_release_voltage() {
    // As above: 1.1 V of 1.082 V at −5 °C.
    let row = "[\"-5 C\", \"2 C\", \"8 C\"]";
    let more = "rectifier = \"none\"\noff_state_voltage = \"1.1 V\"\n";
    let site = yard(GREENWICH, "12 V", &months(&[(Month::January, row)]), more);
    let text = season_text(&site, &season_of(&site, "2027-01-01", "2027-01-31"), false);
    let said = "\
  walk > hedge, 2027-01-01 to 2027-01-31, 31 nights: may stay lit: with walk off
    its coil keeps 102 % of its release voltage at worst (January, box −5 °C)
";
    assert!(text.contains(said), "{text}");
}

#[test]
fn the_first_line_names_the_nights_and_the_next_says_why() {
    let text = |site: &Site, from: &str, to: &str| {
        let text = season_text(site, &season_of(site, from, to), false);
        let lines: Vec<&str> = text.lines().collect();
        assert!(
            lines.iter().all(|line| line.chars().count() <= 80),
            "{text}"
        );
        lines.join("\n")
    };
    let said = text(&hot_july(GREENWICH, ""), "2027-06-01", "2027-08-31");
    // 11 − 2 · (0.707 − 0.0016 · 14) = 9.63 V, and 9 · (1 + 0.00393 · 19) = 9.67 V: short by 0.4 %.
    let first = "\
Yard, 92 nights 2027-06-01 to 2027-08-31: hedge does not follow on 31 nights;
  hedge: 31 nights at risk, 2027-07-01 to 2027-07-31: stays dark; 2 kWh
  walk > hedge, 2027-07-01 to 2027-07-31, 31 nights: stays dark: margin −0.4 %
    on a typical evening (July, box 39 °C)
";
    assert!(said.starts_with(first), "{said}");
    let july = "\nJul     10  39  45  −0.4 ";
    assert!(said.contains(july), "{said}");
    assert!(said.ends_with("       0"), "{said}");

    let said = text(&hot_july(GREENWICH, ""), "2027-08-01", "2027-08-31");
    let first = "\
Yard, 31 nights 2027-08-01 to 2027-08-31: every slave follows every night, none
  at risk; ";
    assert!(said.starts_with(first), "{said}");
}

#[test]
fn scripts_get_the_nights_by_link_and_by_row() {
    let site = hot_july(GREENWICH, "");
    let season = season_of(&site, "2027-06-30", "2027-07-01");
    let json: Value = serde_json::from_str(&season_json(&site, &season)).unwrap();
    let link = &json["nights_at_risk"][0];
    assert_eq!(link["slave"], "hedge");
    assert_eq!(link["nights"], 1);
    let period = &link["periods"][0];
    assert_eq!(period["from"], "2027-07-01");
    assert_eq!(period["to"], "2027-07-01");
    assert_eq!(period["reason"], "stays dark");
    assert_eq!(period["month"], 7);
    assert!(period["margin"].as_f64().unwrap() < 0.0);
    assert_eq!(link["months"][0]["month"], 6);
    assert_eq!(link["months"][1]["outcome"], "stays dark");

    let csv = season_csv(&site, &season);
    let lines: Vec<&str> = csv.lines().collect();
    assert!(lines[0].ends_with(",follows,at_risk"));
    let ends: Vec<&str> = lines[1..]
        .iter()
        .map(|line| line.rsplit(',').next().unwrap())
        .collect();
    assert_eq!(ends, ["", "", "", "stays dark"]);
}

#[test]
fn without_months_nothing_is_said_of_nights_at_risk() {
    let site = yard(GREENWICH, "11 V", "hottest = \"45 C\"", "");
    let season = season_of(&site, "2027-07-01", "2027-07-02");
    assert_eq!(season.nights, None);
    let text = season_text(&site, &season, true);
    let (json, csv) = (season_json(&site, &season), season_csv(&site, &season));
    for said in [text, json, csv] {
        assert!(!said.contains("risk"), "{said}");
    }
}
