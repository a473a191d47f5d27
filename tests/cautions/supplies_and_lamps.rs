//! Supplies, and the lamps on them.

use crate::support::yards::{QUIET, changed};

use super::{quiet, raises};

#[test]
fn s02_stops_above_extra_low_voltage() {
    let volts = |no_load: &str, region: &str| {
        changed(
            QUIET,
            &[
                (
                    "no_load_voltage = \"13.0 V\"",
                    &format!("no_load_voltage = \"{no_load} V\""),
                ),
                ("region = \"iec\"", &format!("region = \"{region}\"")),
            ],
        )
    };
    raises(
        &volts("50.5", "iec"),
        "S02",
        "STOP supply near: ",
        &["50.5 V AC, the limit is 50 V AC"],
    );
    quiet(&volts("50", "iec"), "S02");
    raises(
        &volts("30.5", "nec"),
        "S02",
        "STOP supply near: ",
        &["30.5 V AC, the limit is 30 V AC"],
    );
    quiet(&volts("30", "nec"), "S02");
}

/// The far supply with additional keys.
fn far(kind: &str, keys: &str) -> String {
    changed(
        QUIET,
        &[(
            "name = \"far\"\nkind = \"dc\"",
            &format!("name = \"far\"\nkind = \"{kind}\"\n{keys}"),
        )],
    )
}

#[test]
fn s04_stops_a_pc_supply_outdoors() {
    raises(
        &far(
            "desktop-pc",
            "placement = \"outdoors\"\noutlet_protection = \"rcd-30ma\"",
        ),
        "S04",
        "STOP supply far: ",
        &["indoor appliance", "listed outdoor supply"],
    );
    quiet(&far("desktop-pc", "placement = \"indoors\""), "S04");
    quiet(&far("desktop-pc", ""), "S04");
}

#[test]
fn s05_stops_an_unprotected_outlet_outdoors_and_warns_of_an_unstated_one() {
    let outdoors = "placement = \"outdoors\"\n";
    raises(
        &far("dc", &format!("{outdoors}outlet_protection = \"none\"")),
        "S05",
        "STOP supply far: ",
        &["30 mA"],
    );
    raises(
        &far("dc", outdoors),
        "S05",
        "WARN supply far: ",
        &["not stated", "30 mA"],
    );
    quiet(
        &far("dc", &format!("{outdoors}outlet_protection = \"gfci\"")),
        "S05",
    );
    quiet(&far("dc", ""), "S05");
}

#[test]
fn s17_notes_the_earthed_minus_of_a_pc_supply() {
    raises(
        &far("desktop-pc", "placement = \"indoors\""),
        "S17",
        "NOTE supply far: ",
        &["usually earthed"],
    );
    raises(
        &far("desktop-pc", ""),
        "S17",
        "NOTE supply far: ",
        &["not stated"],
    );
    quiet(QUIET, "S17");
}

#[test]
fn s29_warns_above_four_fifths_and_stops_above_all_of_a_rating() {
    let each = |volt_ampere: &str| {
        changed(
            QUIET,
            &[(
                "apparent_power = \"5 VA\"",
                &format!("apparent_power = \"{volt_ampere} VA\""),
            )],
        )
    };
    quiet(&each("8"), "S29");
    raises(
        &each("8.1"),
        "S29",
        "WARN supply near: ",
        &["81.0 VA of 100.0 VA, 81 %; 80 % is the usual limit. Take off 1.0 VA"],
    );
    raises(
        &each("10.1"),
        "S29",
        "STOP supply near: ",
        &["overloaded: 101.0 VA of 100.0 VA, 101 %"],
    );
    // 40 W at 11.4 V: 3.51 A of 4 A is 88 %.
    raises(
        &far("dc", "max_current = \"4 A\""),
        "S29",
        "WARN supply far: ",
        &["3.5 A of 4.0 A, 88 %"],
    );
    quiet(&far("dc", "max_current = \"4.4 A\""), "S29");
}

/// The lamps of the far zone with additional keys.
fn lamps(keys: &str) -> String {
    changed(
        QUIET,
        &[("power = \"4 W\"", &format!("power = \"4 W\"\n{keys}"))],
    )
}

#[test]
fn s27_stops_lamps_that_get_too_much_or_the_wrong_kind() {
    raises(
        &lamps("accepts = [\"ac\"]"),
        "S27",
        "STOP zone pond: ",
        &["do not take DC"],
    );
    quiet(&lamps("accepts = [\"ac\", \"dc\"]"), "S27");
    // The far supply gives 12.0 V, at most 12.6 V.
    raises(
        &lamps("highest_voltage = \"11.9 V\""),
        "S27",
        "STOP zone pond: ",
        &["up to 12.0 V DC", "11.9 V at most"],
    );
    raises(
        &lamps("highest_voltage = \"12.5 V\""),
        "S27",
        "WARN zone pond: ",
        &["up to 12.6 V DC", "12.5 V at most"],
    );
    quiet(&lamps("highest_voltage = \"12.6 V\""), "S27");
}

#[test]
fn s28_warns_of_dim_lamps_at_the_end() {
    // 40 W at the end of 2 × 20 m × 7.98 Ω/km = 0.3192 Ω from 11.4 V: V = (11.4 + √(11.4² − 4 × 0.3192 ×
    // 40))/2 = 10.141 V.
    raises(
        &lamps("lowest_voltage = \"10.3 V\""),
        "S28",
        "WARN zone pond: ",
        &[
            "a lamp on the trunk of pond gets 10.1 V",
            "needs 10.3 V (its label",
        ],
    );
    quiet(&lamps("lowest_voltage = \"10.1 V\""), "S28");
    // 0.3192 Ω carries at most 11.4² / (4 × 0.3192) = 101.8 W: 94 % of ten lamps of 10.8 W; of 12.5 W it carries
    // 12.0² / (4 × 0.3192) = 112.8 W, 90 %, even at its nominal voltage, and that stops.
    for (power, raised, when) in [
        (
            "10.8 W",
            "WARN zone pond: ",
            "11.4 V at the supply: it carries 94 % of these lamps (computed from cable and lamps)",
        ),
        (
            "12.5 W",
            "STOP zone pond: ",
            "nominal voltage: it carries 90 %",
        ),
    ] {
        let brown = changed(
            QUIET,
            &[("power = \"4 W\"", &format!("power = \"{power}\""))],
        );
        raises(
            &brown,
            "S28",
            raised,
            &["the trunk of pond browns out at ", when],
        );
    }
    // A lamp on its own trunk gets a little less than the 11.4 V of its supply.
    let two = changed(
        &trunk("fuse = \"5 A\"\nname = \"first\"", ""),
        &[(
            "power = \"4 W\"",
            "power = \"4 W\"\ntrunk = \"first\"\n\n[[lamp]]\nzone = \"pond\"\npower = \"4 W\"\nlowest_voltage = \"11.39 V\"\ntrunk = \"second\"",
        )],
    ) + "\n[[trunk]]\nzone = \"pond\"\nname = \"second\"\nwire = \"2.5 mm2\"\nlength = \"5 m\"\nfuse = \"5 A\"\n";
    raises(
        &two,
        "S28",
        "WARN zone pond: ",
        &["a lamp on trunk 2 of 2 of pond gets"],
    );
}

/// The trunk of the pond with another fuse, and its supply with additional keys.
fn trunk(fuse: &str, supply: &str) -> String {
    changed(
        QUIET,
        &[
            ("fuse = \"5 A\"", fuse),
            ("kind = \"dc\"", &format!("kind = \"dc\"\n{supply}")),
        ],
    )
}

fn rated(rating: &str) -> String {
    trunk(&format!("fuse = \"{rating}\""), "")
}

const NONE: &str = "fuse = \"none\"";

#[test]
fn s06_stops_a_trunk_without_a_fuse_and_notes_one_that_is_not_stated() {
    // A short at its end draws 12.0 V / 0.3192 Ω = 37.6 A; over 2.75: 13.7 A. The load is 40 W / 10.141 V =
    // 3.94 A, a quarter more 4.93 A, and 2.5 mm² carries 15 A.
    raises(
        &trunk(NONE, ""),
        "S06",
        "STOP zone pond: unfused: ",
        &[
            "what supply far can give is not stated, the wire is good for 15 A (NEC 240.4(D), from memory): fit 5 A at the supply",
        ],
    );
    raises(
        &trunk("", ""),
        "S06",
        "NOTE zone pond: trunk fuse not stated: ",
        &["the wire is good for 15 A (NEC 240.4(D), from memory): fit 5 A at the supply"],
    );
    // 20 A / 2.75 = 7.3 A.
    raises(
        &trunk(NONE, "max_current = \"20 A\""),
        "S06",
        "STOP zone pond: ",
        &[
            "unfused: supply far can give 20 A, the wire is good for 15 A (NEC 240.4(D), from memory): fit 5 A at the supply",
        ],
    );
    // Of AC: 13 V / (1 V × 12 V / 100 VA) = 108 A, and 13 V / (0.12 + 0.3192) Ω / 2.75 = 10.8 A. At low mains 50 VA
    // from 11.25 V: V = (11.25 + √(11.25² − 4 × 0.3192 × 50))/2 = 9.58 V, 5.2 A, a quarter more 6.5 A.
    let on_ac = changed(
        &trunk(NONE, ""),
        &[("[[trunk]]\nzone = \"pond\"", "[[trunk]]\nzone = \"walk\"")],
    );
    raises(
        &on_ac,
        "S06",
        "STOP zone walk: ",
        &[
            "unfused: supply near can give 108 A, the wire is good for 15 A (NEC 240.4(D), from memory): fit 7.5 A at the supply",
        ],
    );
}

/// One secondary of more than 25 A, and the fuses between it and the lamps.
#[test]
fn s07_stops_more_than_25_a_without_a_fuse_that_ends_it() {
    let far = |amps: &str, fuse: &str| trunk(fuse, &format!("max_current = \"{amps} A\""));
    for fuse in [NONE, "fuse = \"30 A\""] {
        quiet(&far("25", fuse), "S07");
    }
    raises(
        &far("25.1", NONE),
        "S07",
        "STOP supply far: ",
        &[
            "rated 25.1 A",
            "25 A (NEC 411)",
            "lamps of pond (no fuse). Split the load",
        ],
    );
    raises(
        &far("40", "fuse = \"30 A\""),
        "S07",
        "STOP supply far: ",
        &["lamps of pond (a fuse of 30 A)"],
    );
    quiet(&far("40", "fuse = \"25 A\""), "S07");
    raises(
        &far("40", ""),
        "S07",
        "NOTE supply far: ",
        &["lamps of pond (fuse not stated)"],
    );
    // 300 VA at 12 V are 25 A; lamps whose cable is not stated count too.
    let near = |va: &str| {
        changed(
            QUIET,
            &[(
                "rated_load = \"100 VA\"",
                &format!("rated_load = \"{va} VA\""),
            )],
        )
    };
    quiet(&near("300"), "S07");
    raises(
        &near("301"),
        "S07",
        "NOTE supply near: ",
        &["lamps of walk (fuse not stated)"],
    );
}

#[test]
fn s06_is_quiet_where_the_wire_carries_all_that_the_supply_gives() {
    for fuse in [NONE, ""] {
        quiet(&trunk(fuse, "max_current = \"15 A\""), "S06");
    }
    quiet(QUIET, "S06");
}

#[test]
fn s06_says_where_no_common_fuse_will_do_and_where_the_load_is_not_known() {
    // 1 mm² is 2 × 20 m × 19.5 Ω/km = 0.78 Ω: V = (11.4 + √(11.4² − 4 × 0.78 × 40))/2 = 6.836 V, 5.85 A;
    // 12 V / 0.78 Ω / 2.75 = 5.59 A.
    raises(
        &changed(&trunk(NONE, ""), &[("2.5 mm2", "1.0 mm2")]),
        "S06",
        "STOP zone pond: ",
        &[
            "good for 7 A (NEC 240.4(D), from memory): no common fuse carries its 5.85 A and is at most 5.59 A: use thicker wire",
        ],
    );
    let brown = changed(
        &trunk(NONE, ""),
        &[("power = \"4 W\"", "power = \"12.5 W\"")],
    );
    raises(
        &brown,
        "S06",
        "STOP zone pond: ",
        &[
            "fit 10 A or less at the supply: what it must carry is not known while the run browns out",
        ],
    );
}

#[test]
fn one_of_several_trunks_is_named_by_its_place_in_the_file() {
    let two = changed(
        &trunk("fuse = \"5 A\"\nname = \"first\"", ""),
        &[(
            "power = \"4 W\"",
            "power = \"4 W\"\ntrunk = \"first\"\n\n[[lamp]]\nzone = \"pond\"\npower = \"4 W\"\ntrunk = \"second\"",
        )],
    ) + "\n[[trunk]]\nzone = \"pond\"\nname = \"second\"\nwire = \"2.5 mm2\"\nlength = \"5 m\"\nfuse = \"none\"\n";
    raises(&two, "S06", "STOP zone pond: trunk 2 of 2: unfused: ", &[]);
}

#[test]
fn s09_warns_of_a_trunk_fuse_that_does_not_see_the_far_end() {
    // 15 A × 2.75 = 41.25 A, more than 37.6 A; 13 A × 2.75 = 35.75 A.
    raises(
        &rated("15 A"),
        "S09",
        "WARN zone pond: ",
        &[
            "a short at the far end draws 37.6 A, trunk fuse 15 A needs 41.",
            "to blow promptly (2.75 times its rating: IEC 60127-2, from memory): fit 5 A at the supply",
        ],
    );
    quiet(&rated("13 A"), "S09");
    // A supply that gives 20 A: 7.5 A × 2.75 = 20.6 A, 7.2 A × 2.75 = 19.8 A.
    let limited = |rating: &str, limit: &str| {
        trunk(
            &format!("fuse = \"{rating}\""),
            &format!("max_current = \"{limit}\""),
        )
    };
    raises(
        &limited("7.5 A", "20 A"),
        "S09",
        "WARN zone pond: ",
        &[
            "draws 20 A, trunk fuse 7.5 A needs 20.6 A to blow promptly",
            "fit 5 A at the supply",
        ],
    );
    quiet(&limited("7.2 A", "20 A"), "S09");
    // The wire carries all of 15 A: a short that the fuse does not clear overheats nothing.
    quiet(&limited("7.5 A", "15 A"), "S09");
}

#[test]
fn s10_stops_a_trunk_fuse_that_does_not_fit() {
    // 40 W / 10.141 V = 3.94 A, and a quarter more: 4.93 A.
    raises(
        &rated("4.9 A"),
        "S10",
        "STOP zone pond: ",
        &[
            "trunk fuse 4.9 A is below 1.25 times the load of 3.94 A (common practice): fit 5 A at the supply",
        ],
    );
    quiet(&rated("5 A"), "S10");
    // 2.5 mm² counts as 14 AWG: 15 A.
    for text in [
        rated("16 A"),
        changed(&rated("16 A"), &[("power = \"4 W\"", "power = \"12.5 W\"")]),
    ] {
        raises(
            &text,
            "S10",
            "STOP zone pond: ",
            &[
                "trunk fuse 16 A is above the 15 A that the wire carries (NEC 240.4(D), from memory): fit ",
            ],
        );
    }
    quiet(&rated("15 A"), "S10");
}

#[test]
fn s32_warns_of_cables_that_lie_shallow() {
    let trunk = |depth: &str| {
        changed(
            QUIET,
            &[(
                "lamps = \"end\"",
                &format!("lamps = \"end\"\ndepth = \"{depth}\""),
            )],
        )
    };
    let pair = |depth: &str| {
        changed(
            QUIET,
            &[(
                "rectifier = \"bridge\"",
                &format!("rectifier = \"bridge\"\ndepth = \"{depth}\""),
            )],
        )
    };
    // NEC table 300.5, column 5: 6 in.
    raises(
        &trunk("5 in"),
        "S32",
        "WARN zone pond: ",
        &["127 mm (5 in)", "150 mm (6 in)"],
    );
    raises(
        &pair("100 mm"),
        "S32",
        "WARN link ",
        &["100 mm (4 in)", "150 mm (6 in)"],
    );
    quiet(&trunk("6 in"), "S32");
    quiet(&pair("150 mm"), "S32");
    // The sheet asks for what is not stated.
    quiet(QUIET, "S32");
}

/// The quiet yard with another zone on its far supply.
fn third(kind: &str, zone: &str, more: &str) -> String {
    format!(
        "{}\n[[zone]]\nname = \"third\"\nsupply = \"far\"\n{zone}\n[[lamp]]\nzone = \"third\"\ncount = 2\npower = \"4 W\"\n{more}",
        changed(
            QUIET,
            &[(
                "name = \"far\"\nkind = \"dc\"",
                &format!("name = \"far\"\nkind = \"{kind}\"")
            )]
        )
    )
}

#[test]
fn s51_stops_a_zone_whose_supply_sleeps_while_another_is_dark() {
    let timed = "on = \"20:00\"\noff = \"22:00\"\n";
    raises(
        &third("desktop-pc", timed, ""),
        "S51",
        "STOP zone third: ",
        &[
            "hangs on supply far, which the relay of zone pond switches: third is dark while pond is",
        ],
    );
    raises(
        &third("dc", timed, ""),
        "S51",
        "WARN zone third: ",
        &["unless that contact switches the lamps of its own zone alone"],
    );
    // Two relays of one master, on one supply, work as one.
    let link = "[[link]]\nmaster = \"walk\"\nslave = \"third\"\nwire = \"0.75 mm2\"\nlength = \"50 m\"\nrectifier = \"bridge\"\ncapacitor = \"220 uF\"\nrelay = \"r720\"\nfuse = \"1 A\"\n";
    quiet(&third("desktop-pc", "", link), "S51");
    // Two relays of different masters: either one lights both zones.
    let head = "[[supply]]\nname = \"shed\"\nkind = \"dc\"\n[[zone]]\nname = \"gate\"\nsupply = \"shed\"\non = \"20:00\"\noff = \"22:00\"\n";
    raises(
        &third(
            "desktop-pc",
            "",
            &format!("{head}{}", link.replace("walk", "gate")),
        ),
        "S51",
        "WARN zone third: ",
        &["each has a relay that switches it: both are lit while either is"],
    );
    // S18 covers a zone on the supply of its own slave.
    let own = link.replace("walk", "pond");
    quiet(&third("desktop-pc", "", &own), "S51");
    assert_ne!(super::said(&third("desktop-pc", "", &own), "S18"), [""; 0]);
}

/// The line of a board that drives a zone.
fn driven(zone: &str, line: u32) -> String {
    format!(
        "[[output]]\nzone = \"{zone}\"\nchip = \"gpiochip0\"\nline = {line}\ndark_at_reset = true\n"
    )
}

#[test]
fn s51_sees_the_lines_of_a_board_as_it_sees_relays() {
    let timed = "on = \"20:00\"\noff = \"22:00\"\n";
    // A relay and a line wake one supply.
    raises(
        &third("desktop-pc", timed, &driven("third", 17)),
        "S51",
        "WARN zone third: ",
        &[
            "zones third and pond hang on supply far",
            "each has a relay or a line of the board that switches it: both are lit while either is",
        ],
    );
    // Two lines, and no relay: the pond follows the walk by its input.
    let lines = |kind: &str, more: &str| {
        let link = "[[link]]\nmaster = \"walk\"\nslave = \"pond\"\nwire = \"0.75 mm2\"\nlength = \"50 m\"\nrectifier = \"bridge\"\ndiode = \"1N4007\"\ncapacitor = \"220 uF\"\ncapacitor_rating = \"50 V\"\nrelay = \"r720\"\nfuse = \"1 A\"\n";
        let input = "[[input]]\nzone = \"walk\"\nchip = \"gpiochip0\"\nline = 4\nbias = \"pull-up\"\nactive_low = true\n";
        changed(
            &third(kind, timed, more),
            &[
                (link, &format!("{input}{}", driven("pond", 18))),
                (
                    "name = \"pond\"\nsupply = \"far\"",
                    "name = \"pond\"\nsupply = \"far\"\nfollows_input = \"walk\"",
                ),
            ],
        )
    };
    raises(
        &lines("desktop-pc", &driven("third", 17)),
        "S51",
        "WARN zone third: ",
        &["each has a line of the board that switches it: both are lit while either is"],
    );
    // What switches lamps is as usual as what switches a supply.
    raises(
        &lines("dc", &driven("third", 17)),
        "S51",
        "NOTE zone third: ",
        &["unless each line switches the lamps of its own zone alone"],
    );
    raises(
        &lines("desktop-pc", ""),
        "S51",
        "STOP zone third: ",
        &["hangs on supply far, which the line of zone pond switches: third is dark while pond is"],
    );
    // A transformer has no input that a line could meet.
    let near =
        "no_load_voltage = \"13.0 V\"\nfull_load_voltage = \"12.0 V\"\nrated_load = \"100 VA\"\n";
    let transformer = changed(
        &lines("dc", &driven("third", 17)),
        &[(
            "kind = \"dc\"\nremote_on_current = \"1.6 mA\"\n",
            &format!("kind = \"transformer\"\n{near}"),
        )],
    );
    quiet(&transformer, "S51");
}
