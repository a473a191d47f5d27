//! Cautions of the board that switches.

use crate::support::yards::{QUIET, changed};

use super::{quiet, raises, said};

const OUTPUT: &str = "\n[[output]]\nzone = \"walk\"\nchip = \"gpiochip0\"\nline = 17\n";
const INPUT: &str = "\n[[input]]\nzone = \"walk\"\nchip = \"gpiochip0\"\nline = 27\n";

/// 16 mA a line and about 50 mA in all at 3.3 V: the pads of the usual small boards.
#[test]
fn s38_what_a_line_bears_is_said_once_of_a_yard_with_lines() {
    quiet(QUIET, "S38");
    for text in [
        format!("{QUIET}{OUTPUT}"),
        format!("{QUIET}{INPUT}"),
        format!("{QUIET}{OUTPUT}{INPUT}"),
    ] {
        raises(
            &text,
            "S38",
            "NOTE site",
            &["16 mA", "50 mA", "3.3 V", "never a coil"],
        );
    }
}

/// While a board starts, its line is an input with a weak pull or none: the zone's state is unknown unless the
/// file states it.
#[test]
fn s39_a_line_that_lights_when_low_is_asked_what_it_does_at_a_start() {
    let output = |keys: &str| format!("{QUIET}{OUTPUT}{keys}");
    quiet(&output(""), "S39");
    quiet(&output("active_low = true\ndark_at_reset = true\n"), "S39");
    quiet(&output("dark_at_reset = true\n"), "S39");
    raises(
        &output("active_low = true\n"),
        "S39",
        "WARN zone walk",
        &["not stated", "at every start", "`dark_at_reset = true`"],
    );
    for polarity in ["", "active_low = true\n"] {
        raises(
            &output(&format!("dark_at_reset = false\n{polarity}")),
            "S39",
            "STOP zone walk",
            &["at every start of the board"],
        );
    }
}

/// A supply that its output line keeps on keeps the input on too: the loop of S18, closed by the board.
#[test]
fn s18_a_zone_on_the_supply_of_the_input_that_it_follows_may_hold_itself_on() {
    let sensed = |supply: &str| {
        format!(
            "{QUIET}{INPUT}\n[[zone]]\nname = \"gate\"\nsupply = \"{supply}\"\nfollows_input = \"walk\"\n{}",
            OUTPUT.replace("walk", "gate")
        )
    };
    quiet(&sensed("far"), "S18");
    raises(
        &sensed("near"),
        "S18",
        "WARN zone gate",
        &["supply near", "so does walk", "holds itself on"],
    );
    // A link further on, whose slave is on the walk's supply, holds them all.
    let behind = format!(
        "{}\n[[zone]]\nname = \"arch\"\nsupply = \"near\"\n\n[[link]]\nmaster = \"gate\"\nslave = \"arch\"\nwire = \"0.75 mm2\"\nlength = \"50 m\"\nrelay = \"r720\"\nfuse = \"100 mA\"\n",
        sensed("far")
    );
    assert!(
        said(&behind, "S18")
            .iter()
            .any(|caution| caution.starts_with("STOP link gate > arch")),
        "{:#?}",
        said(&behind, "S18")
    );
}

#[test]
fn s03_notes_a_line_that_switches_a_transformer() {
    raises(
        &format!("{QUIET}{OUTPUT}"),
        "S03",
        "NOTE zone walk: ",
        &[
            "supply near is a transformer",
            "mains side",
            "the relay of a driver board is none",
        ],
    );
    let far = format!(
        "{QUIET}{INPUT}\n[[zone]]\nname = \"gate\"\nsupply = \"far\"\nfollows_input = \"walk\"\n{}",
        OUTPUT.replace("walk", "gate")
    );
    quiet(&far, "S03");
    let unstated = changed(&far, &[("remote_on_current = \"1.6 mA\"\n", "")]);
    let said = said(&unstated, "S03");
    let gate = said
        .iter()
        .find(|said| said.starts_with("NOTE zone gate: "));
    for word in ["supply far is a DC supply", "`remote_on_current`"] {
        assert!(gate.is_some_and(|gate| gate.contains(word)), "{said:#?}");
    }
}
