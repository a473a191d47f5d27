//! Slaves: their master's times and the delays of every stage on the way.

use pilotwire::link::Following;
use pilotwire::schedule::Evening;
use pilotwire::season::season;
use pilotwire::site::{IfSilent, OnDoubtfulClock, Sensing, Switching, ZoneId};

use super::yard::{
    FOLLOWS, GREENWICH, all_year, date, evening_with, lines, planned, sensed, slave, yard, zone,
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
            "walk 18:00:00 to 22:00:00: fixed time 18:00; fixed time 22:00",
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
            "walk 18:00:00 to 22:00:00: fixed time 18:00; fixed time 22:00",
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
    // Within the plan, such a zone is lit to the end of the evening.
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
    // A relay does not know the time.
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

/// By hand: the supply of these yards is a DC one, with the defaults of 0.3 s to start and no hold-up. So it
/// goes on at 18:00 + 2 s + 0.3 s and off at 22:00 + 5 s.
#[test]
fn a_zone_that_follows_an_input_adds_its_own_delays_and_its_supply() {
    let keys = "on_delay = \"2 s\"\noff_delay = \"5 s\"";
    let zones = walk("off = \"22:00\"") + &sensed("hedge", "walk", "board", keys);
    assert_eq!(
        planned(&yard(GREENWICH, &zones), EVENING)[1..],
        [
            "hedge 18:00:02.300 to 22:00:05: follows the input of walk + 2.30 s; follows the input of walk + 5.00 s"
        ]
    );
}

/// By hand, with the defaults of 1 s: walk to hedge over a link 0.5 s and 0.2 s, hedge to gate by an
/// input 1.3 s and 1 s, gate to arch over a link again.
#[test]
fn delays_add_up_over_links_and_inputs_mixed() {
    // The file names the last of the chain first.
    let zones = slave("arch", "gate", "")
        + &sensed("gate", "hedge", "board", "")
        + &slave("hedge", "walk", "")
        + &walk("off = \"22:00\"");
    assert_eq!(
        planned(&yard(GREENWICH, &zones), EVENING)[1..],
        [
            "hedge 18:00:00.500 to 22:00:00.200: follows walk + 0.50 s; follows walk + 0.20 s",
            "gate 18:00:01.800 to 22:00:01.200: follows the input of hedge + 1.30 s; follows the input of hedge + 1.00 s",
            "arch 18:00:02.300 to 22:00:01.400: follows gate + 0.50 s; follows gate + 0.20 s",
        ]
    );
}

/// A board knows the time: the rule of curfews where a line switches the zone.
#[test]
fn a_zone_that_follows_an_input_keeps_its_curfew() {
    let zones = walk("off = \"23:00\"") + &sensed("hedge", "walk", "board", "curfew = \"22:30\"");
    assert_eq!(
        planned(&yard(GREENWICH, &zones), EVENING)[1],
        "hedge 18:00:01.300 to 22:30:00: follows the input of walk + 1.30 s; curfew 22:30"
    );
}

/// 2 s of light are less than the delay of 2 s and the supply's 0.3 s.
#[test]
fn a_master_lit_for_less_than_the_delay_of_its_input_is_not_followed() {
    let zones = walk("for = \"2 s\"") + &sensed("hedge", "walk", "board", "on_delay = \"2 s\"");
    let site = yard(GREENWICH, &zones);
    assert_eq!(
        planned(&site, EVENING)[1],
        "hedge dark: walk is lit for less than the 2.30 s it takes"
    );
    let season = season(&site, date(EVENING)..=date(EVENING), &[]).unwrap();
    let hedge = &season.zones[1];
    assert_eq!((hedge.nights_lit, hedge.nights_not_following), (0, 1));
}

/// A zone that follows a failing master fails with it, by an input as over a link.
#[test]
fn a_zone_that_follows_an_input_is_dark_with_its_master() {
    let zones = walk("off = \"22:00\"")
        + &slave("hedge", "walk", "")
        + &sensed("gate", "hedge", "board", "");
    let site = yard(GREENWICH, &zones);
    let plan = evening_with(&site, EVENING, &[Following::StaysDark]);
    assert_eq!(lines(&site, &plan)[2], "gate dark: hedge stays dark");
    assert_eq!(plan.rows[2].follows, Some(false));
}

/// By hand, its line switches twice a night; it has no relay of a link.
#[test]
fn a_season_counts_the_switchings_of_a_line_and_no_relay() {
    let zones = walk("off = \"22:00\"") + &sensed("hedge", "walk", "board", "");
    let site = yard(GREENWICH, &zones);
    let season = season(&site, date("2027-02-01")..=date("2027-02-28"), &[]).unwrap();
    let hedge = &season.zones[1];
    assert_eq!((hedge.nights_lit, hedge.nights_not_following), (28, 0));
    assert_eq!((hedge.switchings, hedge.relay_operations), (56, 0));
    // 18:00:01.3 to 22:00:01 is 4 h less 0.3 s.
    assert!((hedge.lit_s - 28.0 * (4.0 * 3600.0 - 0.3)).abs() < 1e-6);
}

/// The rule for every default: the value taken is reported, where it has an effect.
#[test]
fn what_is_left_out_of_lines_and_of_the_service_is_said() {
    let zones = walk("off = \"22:00\"") + &sensed("hedge", "walk", "board", "");
    let site = yard(GREENWICH, &zones);
    let said: Vec<String> = site.assumed.iter().map(ToString::to_string).collect();
    for expected in [
        "zone hedge: on_delay = 1 s",
        "zone hedge: off_delay = 1 s",
        "zone hedge: if_master_silent = dark",
        "zone hedge: silent_after = 600 s",
        "zone hedge: minimum_lit = 1 s",
        "zone hedge: minimum_dark = 1 s",
        "[daemon]: state_dir = /var/lib/pilotwire",
        "[daemon]: socket = /run/pilotwire/control.sock",
        "[daemon]: on_doubtful_clock = dark",
        "[daemon]: clock_proof = /run/systemd/timesync/synchronized",
        "[daemon]: stagger = 1 s",
        "[daemon]: hold = 3600 s",
    ] {
        assert!(
            said.iter().any(|line| line == expected),
            "no {expected} in {said:#?}"
        );
    }
    let lines = |line: &&String| line.contains("daemon") || line.contains("minimum");
    // The board does not switch the walk, so there is nothing to report about it.
    assert!(
        !said
            .iter()
            .any(|line| line.starts_with("zone walk: minimum"))
    );
    let relays = yard(
        GREENWICH,
        &(walk("off = \"22:00\"") + &slave("hedge", "walk", "")),
    );
    let said: Vec<String> = relays.assumed.iter().map(ToString::to_string).collect();
    assert_eq!(said.iter().find(lines), None);
}

/// Every key as the file states it, in seconds.
#[test]
fn the_keys_of_lines_and_of_the_service_are_read() {
    let keys = "on_delay = \"3 s\"\noff_delay = \"2 min\"\nif_master_silent = \"schedule\"\n\
                silent_after = \"20 min\"\nminimum_lit = \"1 h\"\nminimum_dark = \"0 s\"";
    let zones = walk("off = \"22:00\"")
        + &sensed("hedge", "walk", "board", keys)
        + "[daemon]\non_doubtful_clock = \"last\"\nclock_proof = \"/run/proof\"\n\
           stagger = \"0 s\"\nhold = \"24 h\"\n";
    let site = yard(GREENWICH, &zones);
    let hedge = &site.zones[1];
    let sensing = Sensing {
        master: ZoneId(0),
        on_delay_s: 3.0,
        off_delay_s: 120.0,
        if_silent: IfSilent::Schedule,
        silent_after_s: 1200.0,
    };
    assert_eq!(hedge.switching, Switching::Senses(sensing));
    assert!((hedge.minimum_lit_s - 3600.0).abs() < 1e-9 && hedge.minimum_dark_s.abs() < 1e-9);
    let daemon = &site.daemon;
    assert_eq!(daemon.on_doubtful_clock, OnDoubtfulClock::Last);
    assert_eq!(daemon.clock_proof, "/run/proof");
    assert!(daemon.stagger_s.abs() < 1e-9 && (daemon.hold_s - 86_400.0).abs() < 1e-9);
}

/// By S51: the supply of the pond, a desktop PC's, runs while the relay of the pond holds its remote-on line; the fern on
/// it has a timer of its own.
#[test]
fn a_zone_is_lit_only_while_its_supply_is_awake() {
    let shed = "[[supply]]\nname = \"shed\"\nkind = \"desktop-pc\"\n";
    let zones = |fern: &str| {
        let fern = zone("fern", fern).replace("\"dc\"", "\"shed\"");
        let pond = slave("pond", "walk", "").replace("\"dc\"", "\"shed\"");
        let bank = slave("bank", "fern", "").replace("\"dc\"", "\"bank\"");
        let bank = format!("[[supply]]\nname = \"bank\"\nkind = \"dc\"\n{bank}");
        planned(
            &yard(
                GREENWICH,
                &(shed.to_owned() + &fern + &walk("off = \"22:00\"") + &pond + &bank),
            ),
            EVENING,
        )
    };
    // The pond is lit from 18:00:00.5 to 22:00:00.2.
    assert_eq!(
        zones("on = \"17:00\"\noff = \"23:00\"")[2..],
        [
            "fern 18:00:00.500 to 22:00:00.200: pond wakes its supply; pond lets its supply go",
            "bank 18:00:01 to 22:00:00.400: follows fern + 0.50 s; follows fern + 0.20 s",
        ]
    );
    assert_eq!(
        zones("on = \"19:00\"\noff = \"20:00\"")[2..],
        [
            "fern 19:00:00 to 20:00:00: fixed time 19:00; fixed time 20:00",
            "bank 19:00:00.500 to 20:00:00.200: follows fern + 0.50 s; follows fern + 0.20 s",
        ]
    );
    assert_eq!(
        zones("on = \"23:00\"\noff = \"23:30\"")[2..],
        [
            "fern dark: its supply sleeps while pond is dark",
            "bank dark: fern stays dark",
        ]
    );
}
