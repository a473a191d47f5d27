//! Supplies, and the lamps on them.

use super::{QUIET, changed, quiet, raises};

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

/// The far supply with further keys.
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

/// The lamps of the far zone with further keys.
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
        &["a lamp gets 10.1 V", "needs 10.3 V"],
    );
    quiet(&lamps("lowest_voltage = \"10.1 V\""), "S28");
    // 0.3192 Ω carries at most 11.4² / (4 × 0.3192) = 101.8 W: 81 % of ten lamps of 12.5 W.
    let brown = changed(QUIET, &[("power = \"4 W\"", "power = \"12.5 W\"")]);
    raises(
        &brown,
        "S28",
        "WARN zone pond: ",
        &["browns out", "carries 81 % of these lamps"],
    );
}

#[test]
fn s10_stops_a_trunk_fuse_that_does_not_fit() {
    let fuse = |rating: &str| {
        changed(
            QUIET,
            &[(
                "lamps = \"end\"",
                &format!("lamps = \"end\"\nfuse = \"{rating}\""),
            )],
        )
    };
    // 40 W / 10.141 V = 3.94 A, and a quarter more: 4.93 A.
    raises(
        &fuse("4.9 A"),
        "S10",
        "STOP zone pond: ",
        &["trunk fuse 4.9 A is below 1.25 times the load of 3.9 A"],
    );
    quiet(&fuse("5 A"), "S10");
    // 2.5 mm² counts as 14 AWG: 15 A.
    raises(
        &fuse("16 A"),
        "S10",
        "STOP zone pond: ",
        &["trunk fuse 16 A is above the 15 A that the wire carries"],
    );
    quiet(&fuse("15 A"), "S10");
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
    // What is not stated is for the sheet to ask for.
    quiet(QUIET, "S32");
}
