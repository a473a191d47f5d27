//! Slaves: their master's times and the delays of every stage on the way.

use pilotwire::schedule::{Evening, Following};
use pilotwire::season::season;

use crate::yard::{
    FOLLOWS, GREENWICH, all_year, date, evening_with, lines, planned, slave, yard, zone,
};

const EVENING: &str = "2027-02-10";

fn walk(off: &str) -> String {
    zone("walk", &format!("on = \"18:00\"\n{off}"))
}

#[test]
fn a_slave_of_a_slave_adds_the_delays_up() {
    // The file may name the last of the chain first.
    let zones = slave("gate", "hedge", "") + &slave("hedge", "walk", "") + &walk("off = \"22:00\"");
    assert_eq!(
        planned(&yard(GREENWICH, &zones), EVENING),
        [
            "walk 18:00:00 to 22:00:00: clock 18:00; clock 22:00",
            "hedge 18:00:00.500 to 22:00:00.200: follows walk + 0.50 s; follows walk + 0.20 s",
            "gate 18:00:01 to 22:00:00.400: follows hedge + 0.50 s; follows hedge + 0.20 s",
        ]
    );
}

#[test]
fn every_slave_of_a_star_follows_the_hub() {
    let zones = walk("off = \"22:00\"") + &slave("hedge", "walk", "") + &slave("pond", "walk", "");
    let site = yard(GREENWICH, &zones);
    let slow = Following::Follows {
        on_delay_s: 2.25,
        off_delay_s: 0.015,
    };
    assert_eq!(
        lines(&site, &evening_with(&site, EVENING, &[FOLLOWS, slow])),
        [
            "walk 18:00:00 to 22:00:00: clock 18:00; clock 22:00",
            "hedge 18:00:00.500 to 22:00:00.200: follows walk + 0.50 s; follows walk + 0.20 s",
            "pond 18:00:02.250 to 22:00:00.015: follows walk + 2.25 s; follows walk + 0.01 s",
        ]
    );
}

#[test]
fn every_window_of_the_master_is_followed() {
    let zones = walk("off = \"22:00\"")
        + "[[window]]\nzone = \"walk\"\non = \"06:00\"\noff = \"07:00\"\n"
        + &slave("hedge", "walk", "");
    let site = yard(GREENWICH, &zones);
    assert_eq!(
        planned(&site, EVENING)[2..],
        [
            "hedge 18:00:00.500 to 22:00:00.200: follows walk + 0.50 s; follows walk + 0.20 s",
            "hedge +1 06:00:00.500 to +1 07:00:00.200: follows walk + 0.50 s; follows walk + 0.20 s",
        ]
    );
}

#[test]
fn a_master_lit_for_less_than_the_delay_does_not_wake_its_slave() {
    let zones = walk("for = \"2 s\"") + &slave("hedge", "walk", "") + &slave("gate", "hedge", "");
    let site = yard(GREENWICH, &zones);
    let after = |on_delay_s| Following::Follows {
        on_delay_s,
        off_delay_s: 0.2,
    };
    let plan = evening_with(&site, EVENING, &[after(2.0), FOLLOWS]);
    assert_eq!(
        lines(&site, &plan)[1..],
        [
            "hedge dark: walk is lit for less than the 2.00 s it takes",
            "gate dark: hedge stays dark",
        ]
    );
    let follows: Vec<_> = plan.rows.iter().map(|row| row.follows).collect();
    assert_eq!(follows, [None, Some(false), Some(false)]);

    let plan = evening_with(&site, EVENING, &[after(1.5), FOLLOWS]);
    assert_eq!(
        lines(&site, &plan)[1..],
        [
            "hedge 18:00:01.500 to 18:00:02.200: follows walk + 1.50 s; follows walk + 0.20 s",
            "gate 18:00:02 to 18:00:02.400: follows hedge + 0.50 s; follows hedge + 0.20 s",
        ]
    );
}

#[test]
fn a_window_too_short_for_the_slave_is_told_beside_those_it_follows() {
    let zones = walk("off = \"22:00\"")
        + "[[window]]\nzone = \"walk\"\non = \"23:00\"\nfor = \"1 s\"\n"
        + &slave("hedge", "walk", "");
    let site = yard(GREENWICH, &zones);
    let slow = Following::Follows {
        on_delay_s: 1.0,
        off_delay_s: 0.2,
    };
    let plan = evening_with(&site, EVENING, &[slow]);
    assert_eq!(
        lines(&site, &plan)[2..],
        [
            "hedge dark: walk is lit for less than the 1.00 s it takes",
            "hedge 18:00:01 to 22:00:00.200: follows walk + 1.00 s; follows walk + 0.20 s",
        ]
    );
    let season = season(&site, date(EVENING)..=date(EVENING), &all_year(&[slow])).unwrap();
    let hedge = &season.zones[1];
    assert_eq!((hedge.nights_lit, hedge.nights_not_following), (1, 1));
}

#[test]
fn a_slave_whose_relay_does_not_pull_in_is_dark_with_all_behind_it() {
    let zones = walk("off = \"22:00\"") + &slave("hedge", "walk", "") + &slave("gate", "hedge", "");
    let site = yard(GREENWICH, &zones);
    let plan = evening_with(&site, EVENING, &[Following::StaysDark, FOLLOWS]);
    assert_eq!(
        lines(&site, &plan)[1..],
        [
            "hedge dark: hedge stays dark: its relay does not pull in, see check",
            "gate dark: hedge stays dark",
        ]
    );
    let follows: Vec<_> = plan.rows.iter().map(|row| row.follows).collect();
    assert_eq!(follows, [None, Some(false), Some(false)]);
}

#[test]
fn a_slave_whose_relay_does_not_let_go_is_lit_with_all_behind_it() {
    let zones = walk("off = \"22:00\"") + &slave("hedge", "walk", "") + &slave("gate", "hedge", "");
    let site = yard(GREENWICH, &zones);
    let plan = evening_with(&site, EVENING, &[Following::StaysLit, FOLLOWS]);
    let why = "hedge stays lit: its relay does not let go, see check";
    assert_eq!(
        lines(&site, &plan)[1..],
        [
            format!("hedge 12:00:00 to without end: {why}; {why}"),
            format!("gate 12:00:00.500 to without end: follows hedge + 0.50 s; {why}"),
        ]
    );
    let follows: Vec<_> = plan.rows.iter().map(|row| row.follows).collect();
    assert_eq!(follows, [None, Some(false), Some(false)]);
    // Within the plan such a zone is lit to the end of the evening.
    let ends = Evening::of(&site, date(EVENING)).ends;
    assert_eq!(plan.rows[1].lit_until(&site), Some(ends));
    assert!((plan.rows[1].lit_s(&site) - 86_400.0).abs() < 1e-9);
}

#[test]
fn a_dark_evening_of_the_master_is_followed_faithfully() {
    let zones = zone("walk", "on = \"18:00\"\noff = \"22:00\"\ndays = [\"sat\"]")
        + &slave("hedge", "walk", "");
    let site = yard(GREENWICH, &zones);
    let plan = evening_with(&site, EVENING, &[FOLLOWS]);
    assert_eq!(
        lines(&site, &plan),
        [
            "walk dark: no lights on Wednesdays",
            "hedge dark: walk stays dark"
        ]
    );
    assert_eq!(plan.rows[1].follows, Some(true));
}

#[test]
fn a_slave_keeps_a_curfew_only_where_a_board_switches_it() {
    let output = "[[output]]\nzone = \"hedge\"\nchip = \"gpiochip0\"\nline = 17\n";
    let zones = |curfew: &str, output: &str| {
        walk("off = \"23:00\"")
            + &slave("hedge", "walk", &format!("curfew = \"{curfew}\""))
            + output
    };
    let line = |curfew: &str, output: &str| {
        planned(&yard(GREENWICH, &zones(curfew, output)), EVENING).remove(1)
    };
    assert_eq!(
        line("22:30", output),
        "hedge 18:00:00.500 to 22:30:00: follows walk + 0.50 s; curfew 22:30"
    );
    assert_eq!(
        line("17:30", output),
        "hedge dark: no lights: the curfew begins at 17:30"
    );
    assert_eq!(
        line("23:30", output),
        "hedge 18:00:00.500 to 23:00:00.200: follows walk + 0.50 s; follows walk + 0.20 s"
    );
    // A relay cannot know the hour.
    assert_eq!(
        line("22:30", ""),
        "hedge 18:00:00.500 to 23:00:00.200: follows walk + 0.50 s; follows walk + 0.20 s"
    );
}

#[test]
fn a_curfew_ends_the_light_of_a_slave_whose_master_never_goes_dark() {
    let output = "[[output]]\nzone = \"gate\"\nchip = \"gpiochip0\"\nline = 17\n";
    let zones = walk("off = \"22:00\"")
        + &slave("hedge", "walk", "")
        + &slave("gate", "hedge", "curfew = \"22:30\"")
        + output;
    let site = yard(GREENWICH, &zones);
    let plan = evening_with(&site, EVENING, &[Following::StaysLit, FOLLOWS]);
    assert_eq!(
        lines(&site, &plan)[2],
        "gate 12:00:00.500 to 22:30:00: follows hedge + 0.50 s; curfew 22:30"
    );
}
