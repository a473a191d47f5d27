//! Pull-in, release, coil, capacitor, diodes, contact and fuse of a link.

use crate::support::yards::{QUIET, changed, checked};

use super::{direct, quiet, raises};

const LINK: &str = "link walk > pond";

/// The yard on DC, with another relay value.
fn relay(old: &str, new: &str) -> String {
    changed(&direct(), &[(old, new)])
}

fn operate(volts: &str) -> String {
    relay(
        "operate_voltage = \"8.4 V\"",
        &format!("operate_voltage = \"{volts} V\""),
    )
}

#[test]
fn s19_stops_where_the_coil_gets_less_than_it_needs() {
    // 12.0 / (1 + 2.6/720) = 11.957 V.
    raises(
        &operate("12.5"),
        "S19",
        &format!("STOP {LINK}: "),
        &["pond stays dark: the coil gets 12.0 V, needs 12.5 V (supply at 12.0 V DC, box 20 °C)"],
    );
    raises(
        &operate("11.96"),
        "S19",
        &format!("STOP {LINK}: "),
        &["gets 11.957 V, needs 11.960 V (supply at 12.0 V DC, box 20 °C)"],
    );
    // At 11.4 V with a coil of 648 Ω: 11.4 / (1 + 2.6/648) = 11.354 V.
    raises(
        &operate("11.55"),
        "S19",
        &format!("WARN {LINK}: "),
        &[
            "may stay dark: the coil gets 11.4 V, needs 11.6 V (supply at 11.4 V DC, box 20 °C, parts at their worst)",
        ],
    );
    quiet(&operate("11.35"), "S19");
}

#[test]
fn s19_stops_for_a_hot_evening_at_nominal_mains() {
    // At 60 °C copper is at 1 + 0.00393 × 40 = 1.1572: 10.5 V becomes 12.15 V; the coil 833.2 Ω gets
    // 12.0 / (1 + 2.6/833.2) = 11.963 V.
    let hot = changed(
        &operate("10.5"),
        &[("hottest = \"20 C\"", "hottest = \"60 C\"")],
    );
    raises(
        &hot,
        "S19",
        &format!("STOP {LINK}: "),
        &[
            "stays dark on some evenings: the coil gets 12.0 V, needs 12.2 V (supply at 12.0 V DC, box 60 °C)",
        ],
    );
}

#[test]
fn s20_warns_below_fifteen_per_cent() {
    // 11.957 / 1.15 = 10.397 V.
    raises(
        &operate("10.40"),
        "S20",
        &format!("WARN {LINK}: "),
        &[
            "thin margin, +15 % over pull-in at dusk: the coil gets 12.0 V, needs 10.4 V (supply at 12.0 V DC, box 20 °C); 15 % is the usual reserve",
        ],
    );
    quiet(&operate("10.39"), "S20");
}

#[test]
fn s20_warns_of_a_warm_coil_that_may_not_come_back() {
    // 11.354 V on 648 Ω behind 100 K/W: k(k − 1) = 0.00393 × 100 × 11.354² / 648 = 0.0782, k = 1.0729,
    // 38.6 °C; 10.6 V becomes 11.37 V, and the warm coil gets 11.4 / (1 + 2.6/695.2) = 11.358 V.
    let warm = |volts: &str| {
        changed(
            &operate(volts),
            &[(
                "thermal_resistance = \"0 K/W\"",
                "thermal_resistance = \"100 K/W\"",
            )],
        )
    };
    let said = super::said(&warm("10.6"), "S20");
    let restart = said
        .iter()
        .find(|said| said.contains("power blip"))
        .unwrap();
    assert!(
        restart.contains("the warm coil (39 °C) gets 11.36 V, needs 11.37 V (supply at 11.4 V DC, box 20 °C, parts at their worst)"),
        "{restart}"
    );
    assert!(
        super::said(&warm("10.58"), "S20")
            .iter()
            .all(|said| !said.contains("power blip"))
    );
}

#[test]
fn s50_warns_of_a_relay_that_may_chatter_behind_a_small_capacitor() {
    let capacitor = |farad: &str| {
        changed(
            QUIET,
            &[(
                "capacitor = \"220 uF\"",
                &format!("capacitor = \"{farad}\""),
            )],
        )
    };
    // 20 µF carry the coil over 8 ms with 720 Ω × 20 µF = 14 ms: the current stays above half.
    assert_eq!(super::said(&capacitor("20 uF"), "S50"), [""; 0]);
    // 1 µF is as good as none, and 50 % of rated is what surely holds: 6 V × k(20 °C and warm).
    raises(
        &capacitor("1 uF"),
        "S50",
        &format!("WARN {LINK}: "),
        &["may chatter", "stays in above 6.3 V"],
    );
}

#[test]
fn s21_stops_where_the_pair_never_lets_go() {
    let off = |volts: &str| {
        changed(
            &direct(),
            &[(
                "fuse = \"1 A\"",
                &format!("fuse = \"1 A\"\noff_state_voltage = \"{volts} V\""),
            )],
        )
    };
    // 0.70 / (1 + 2.6/720) = 0.697 V, guaranteed release 0.60 V.
    raises(
        &off("0.70"),
        "S21",
        &format!("STOP {LINK}: "),
        &[
            "pond may never go dark: 0.7 V stays on the coil, it lets go below 0.6 V (supply at 12.0 V DC, box 20 °C)",
        ],
    );
    // 0.602 V leaves 0.5998 V.
    quiet(&off("0.602"), "S21");
}

#[test]
fn s18_stops_a_zone_that_holds_its_own_master() {
    let shared = changed(
        QUIET,
        &[(
            "name = \"pond\"\nsupply = \"far\"",
            "name = \"pond\"\nsupply = \"near\"",
        )],
    );
    raises(
        &shared,
        "S18",
        &format!("STOP {LINK}: "),
        &["Zone pond hangs on supply near, and so does walk, its master"],
    );
    let (_, check) = checked(&shared);
    assert_eq!(check.links[0].outcome().to_string(), "stays lit");
    quiet(QUIET, "S18");
}

#[test]
fn s22_warns_above_the_coils_continuous_voltage() {
    let limit = |volts: &str| {
        relay(
            "max_coil_voltage = \"18 V\"",
            &format!("max_coil_voltage = \"{volts} V\""),
        )
    };
    // Highest: 12.6 V and a coil of 792 Ω: 12.6 / (1 + 2.6/792) = 12.559 V, 105 % of 12 V. 4 % below
    // 12.5 V is 12.0 V: 12.6 / (1 + (2.6 + R)/792) = 12.0 needs R = 37 Ω, E24 39 Ω: 11.97 V.
    raises(
        &limit("12.5"),
        "S22",
        &format!("WARN {LINK}: "),
        &[
            "the coil may get too many volts: the coil gets 12.56 V, maximum 12.50 V (supply at 12.6 V DC, box 20 °C, parts at their worst)",
            // 1 − 11.97 / 12.5; over pull-in 11.4 / (1 + 41.6/648) = 10.712 V leave 28 % of 8.4 V.
            "Fit a series resistor of 39 ohm, 0.25 W, before the rectifier: that works, with a least margin of +4 % (coil voltage)",
        ],
    );
    quiet(&limit("12.57"), "S22");
}

#[test]
fn s22_says_when_the_limit_is_not_stated() {
    let unstated = relay("max_coil_voltage = \"18 V\"\n", "");
    let high = changed(
        &unstated,
        &[(
            "voltage = \"12.0 V\"",
            "voltage = \"12.0 V\"\nhighest_voltage = \"13.4 V\"",
        )],
    );
    raises(
        &high,
        "S22",
        &format!("WARN {LINK}: "),
        &[
            "maximum 13.2 V",
            "that maximum is not stated, 110 % of rated is usual",
        ],
    );
}

#[test]
fn s22_warns_of_a_coil_above_its_temperature() {
    // 12.6 V less 2.6 Ω on a coil of 648 Ω, 100 K/W: k(k − 1) = 0.00393 × 100 × 12.556² / 648 = 0.0956,
    // k = 1.0880, 42.4 °C.
    let limit = |celsius: &str| {
        relay(
            "thermal_resistance = \"0 K/W\"",
            &format!("thermal_resistance = \"100 K/W\"\nmax_coil_temperature = \"{celsius} C\""),
        )
    };
    raises(
        &limit("41"),
        "S22",
        &format!("WARN {LINK}: "),
        &[
            "the coil may get too hot: the coil reaches 42 °C, maximum 41 °C (supply at 12.6 V DC, box 20 °C, parts at their worst)",
        ],
    );
    quiet(&limit("43"), "S22");
}

#[test]
fn s23_warns_of_a_capacitor_for_too_few_volts() {
    let rated = |volts: &str| {
        changed(
            QUIET,
            &[(
                "capacitor_rating = \"50 V\"",
                &format!("capacitor_rating = \"{volts} V\""),
            )],
        )
    };
    // √2 × 1.1 × 13.0 = 20.2 V, and a quarter more: 25.3 V.
    raises(
        &rated("25"),
        "S23",
        &format!("WARN {LINK}: "),
        &[
            "rated 25.0 V, the peak reaches 20.2 V (high mains, no lamp lit); with a quarter in hand it takes 26 V or more",
        ],
    );
    quiet(&rated("26"), "S23");
}

#[test]
fn s26_warns_of_a_contact_made_for_more_current() {
    let minimum = |current: &str| {
        relay(
            "contact_minimum = \"1 mA\"",
            &format!("contact_minimum = \"{current}\""),
        )
    };
    raises(
        &minimum("100 mA"),
        "S26",
        &format!("WARN {LINK}: "),
        &["it switches 1.6 mA, and its data sheet asks for 100 mA at least"],
    );
    quiet(&minimum("1.6 mA"), "S26");
}

#[test]
fn s37_warns_of_a_diode_that_breaks_down_or_burns() {
    let diode = |name: &str| {
        changed(
            QUIET,
            &[("diode = \"1N4007\"", &format!("diode = \"{name}\""))],
        )
    };
    // 20.2 V of peak across a diode for 20 V, and across one for 30 V.
    raises(
        &diode("1N5817"),
        "S37",
        &format!("WARN {LINK}: "),
        &[
            "diode 1N5817 stands 20 V in reverse, this circuit puts 20 V on it: take one for 41 V or more",
        ],
    );
    quiet(&diode("1N5818"), "S37");
    // A coil of 8 Ω less a tenth behind 2.6 Ω and one diode of 0.9 V: (12.6 − 0.9)/9.8 = 1.19 A; 20 Ω:
    // 0.57 A.
    let coil = |ohm: &str| {
        changed(
            &direct(),
            &[
                ("rectifier = \"none\"", "rectifier = \"single-diode\""),
                (
                    "coil_resistance = \"720 ohm\"",
                    &format!("coil_resistance = \"{ohm} ohm\""),
                ),
            ],
        )
    };
    raises(
        &coil("8"),
        "S37",
        &format!("WARN {LINK}: "),
        &["1N4007 carries 1.19 A on average, the limit into a capacitor is 0.8 A"],
    );
    quiet(&coil("20"), "S37");
}

#[test]
fn s08_stops_without_a_fuse_and_notes_when_it_is_not_stated() {
    // 12.5 V / (2.6 + 0.12) Ω = 4.60 A; over 2.75: 1.67 A, and 0.75 mm² carries 3 A.
    let none = changed(QUIET, &[("fuse = \"1 A\"", "fuse = \"none\"")]);
    raises(
        &none,
        "S08",
        &format!("STOP {LINK}: "),
        &["draws 4.6 A: fit 1 A time-lag at the tapping point"],
    );
    let unstated = changed(QUIET, &[("fuse = \"1 A\"", "")]);
    raises(
        &unstated,
        "S08",
        &format!("NOTE {LINK}: "),
        &["pair fuse not stated", "draws 4.6 A: fit 1 A"],
    );
    quiet(QUIET, "S08");
}

#[test]
fn s09_warns_of_a_fuse_that_does_not_see_the_far_end() {
    let fuse = |rating: &str| {
        changed(
            QUIET,
            &[("fuse = \"1 A\"", &format!("fuse = \"{rating}\""))],
        )
    };
    // 2 A × 2.75 = 5.5 A, more than 4.60 A; 1.6 A × 2.75 = 4.4 A.
    raises(
        &fuse("2 A"),
        "S09",
        &format!("WARN {LINK}: "),
        &[
            "a short at the far end draws 4.6 A, fuse 2 A needs 5.5 A to blow promptly (2.75 times its rating: IEC 60127-2, from memory): fit 1 A",
        ],
    );
    quiet(&fuse("1.6 A"), "S09");
    // A supply that sags: 8 V at full load of 100 VA is 0.4 Ω in the way: 10.5 / 3.0 = 3.5 A.
    let sagging = changed(
        &fuse("1.6 A"),
        &[(
            "full_load_voltage = \"12.0 V\"",
            "full_load_voltage = \"8.0 V\"",
        )],
    );
    raises(
        &sagging,
        "S09",
        &format!("WARN {LINK}: "),
        &["draws 3.5 A, fuse 1.6 A needs 4.4 A"],
    );
}

#[test]
fn s10_stops_a_fuse_too_small_for_the_coil_or_too_large_for_the_wire() {
    let fuse = |rating: &str| {
        changed(
            &direct(),
            &[("fuse = \"1 A\"", &format!("fuse = \"{rating}\""))],
        )
    };
    // 11.957 V / 720 Ω = 16.6 mA, and a quarter more: 20.8 mA.
    raises(
        &fuse("20 mA"),
        "S10",
        &format!("STOP {LINK}: "),
        &["fuse 20 mA is below 1.25 times the pair's 16.6 mA (common practice)"],
    );
    quiet(&fuse("21 mA"), "S10");
    // 0.75 mm² carries 3 A.
    raises(
        &fuse("3.15 A"),
        "S10",
        &format!("STOP {LINK}: "),
        &["fuse 3.15 A is above the 3 A that the wire carries (common practice)"],
    );
    quiet(&fuse("3 A"), "S10");
}

#[test]
fn s48_is_noted_where_the_fuse_leaves_a_short_to_the_resistor() {
    // At 12.6 V, 12.6 / (2.6 + 22 + 0.05) = 0.511 A, which makes 0.511² × 22 = 5.7 W; a fuse that is blown at 11.4 V
    // as well has at most 0.4625 / 2.75 = 0.168 A.
    let with = |fuse: &str| {
        changed(
            &direct(),
            &[(
                "fuse = \"1 A\"",
                &format!("series_resistor = \"22 ohm\"\n{fuse}"),
            )],
        )
    };
    let at = format!("NOTE {LINK}: ");
    raises(
        &with("fuse = \"1 A\""),
        "S48",
        &at,
        &[
            "a short in coil or capacitor leaves up to 511 mA in the pair and 5.7 W in the series resistor",
            "the pair's fuse of 1 A does not end that. Fit 160 mA time-lag, which does, or mount it",
        ],
    );
    // If the fuse is not stated, S08 asks for one that clears both shorts.
    quiet(&with(""), "S48");
    raises(&with(""), "S08", &at, &["fit 160 mA time-lag"]);
    quiet(&with("fuse = \"160 mA\""), "S48");
    raises(
        &with("fuse = \"170 mA\""),
        "S48",
        &at,
        &["170 mA does not end that"],
    );
    quiet(&direct(), "S48");
    // A quarter of a watt is what the smallest resistor of a shop is made for. 1 kΩ: 12.6 V / 1002.65 Ω = 12.6 mA,
    // 0.16 W; 0.01 Ω: 12.6 V / 2.66 Ω = 4.74 A, 0.22 W; 0.02 Ω: 4.72 A, 0.45 W.
    let of = |ohm: &str| {
        changed(
            &with("fuse = \"3 A\""),
            &[("\"22 ohm\"", &format!("\"{ohm} ohm\""))],
        )
    };
    quiet(&of("1000"), "S48");
    quiet(&of("0.01"), "S48");
    raises(&of("0.02"), "S48", &at, &["0.4 W in the series resistor"]);
    // 1.25 times what the coil takes is more than that fuse.
    let hungry = changed(&with("fuse = \"1 A\""), &[("\"720 ohm\"", "\"40 ohm\"")]);
    raises(&hungry, "S48", &at, &["does not end that. Mount it where"]);
}

#[test]
fn s03_warns_of_a_contact_that_might_switch_mains() {
    let far = changed(
        QUIET,
        &[(
            "name = \"far\"\nkind = \"dc\"\nremote_on_current = \"1.6 mA\"",
            "name = \"far\"\nkind = \"transformer\"\nno_load_voltage = \"13.0 V\"\nfull_load_voltage = \"12.0 V\"\nrated_load = \"60 VA\"",
        )],
    );
    // 60 VA / 12 V.
    raises(
        &far,
        "S03",
        &format!("WARN {LINK}: "),
        &[
            "supply far is a transformer",
            "must not switch mains",
            "rated for 5 A and more",
        ],
    );
    quiet(QUIET, "S03");
    // Of a DC supply nothing but its enable input says that the contact does not meet mains.
    raises(
        &changed(QUIET, &[("remote_on_current = \"1.6 mA\"\n", "")]),
        "S03",
        &format!("NOTE {LINK}: "),
        &[
            "supply far is a DC supply, and not each has an enable input",
            "must not switch mains",
            "`remote_on_current`",
        ],
    );
}
