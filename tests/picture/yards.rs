//! Yards to draw: those of `config/`, and chains and stars of thirty zones.

use std::fmt::Write;

use pilotwire::site::Site;

use crate::support::read::read;
use crate::support::yards::CONFIG;

const HEAD: &str = r#"
[site]
name = "Yard & <garden>"
latitude = LATITUDE
longitude = 18.96
timezone = "Europe/Oslo"
mains = "230 V"
frequency = "50 Hz"
[[supply]]
name = "dc"
kind = "dc"
voltage = "12 V"
[[relay]]
name = "r400"
rated_voltage = "12 V"
coil_resistance = "400 ohm"
operate_voltage = "9 V"
release_voltage = "1.2 V"
"#;

/// A yard of zones without lamps, at a latitude.
pub(crate) fn zones_at(latitude: f64, zones: &str) -> Site {
    read(&format!(
        "{}{zones}",
        HEAD.replace("LATITUDE", &latitude.to_string())
    ))
}

/// Thirty zones; `master` gives each one's master.
pub(crate) fn thirty(master: impl Fn(usize) -> usize) -> Site {
    let name = |zone: usize| match zone % 5 {
        0 if zone > 0 => format!("the-longest-name-of-a-zone-that-anybody-gives-{zone}"),
        _ => format!("z{zone}"),
    };
    let mut text = String::from(
        "[[zone]]\nname = \"z0\"\nsupply = \"dc\"\non = \"sunset\"\noff = \"23:00\"\n",
    );
    for zone in 1..30 {
        let (this, master) = (name(zone), name(master(zone)));
        let _ = write!(
            text,
            "[[supply]]\nname = \"s{zone}\"\nkind = \"dc\"\nvoltage = \"12 V\"\n\
             [[zone]]\nname = \"{this}\"\nsupply = \"s{zone}\"\n\
             [[trunk]]\nzone = \"{this}\"\nwire = \"1.5 mm2\"\nlength = \"{zone} m\"\nfuse = \"3 A\"\n\
             [[lamp]]\nzone = \"{this}\"\ncount = {}\npower = \"3 W\"\naccepts = [\"dc\"]\n\
             lowest_voltage = \"10 V\"\nhighest_voltage = \"15 V\"\n\
             [[link]]\nmaster = \"{master}\"\nslave = \"{this}\"\nwire = \"0.75 mm2\"\n\
             length = \"{zone}0 m\"\nrelay = \"r400\"\nfuse = \"500 mA\"\n",
            1 + zone % 7
        );
    }
    zones_at(60.0, &text)
}

/// A star, a chain, a tree.
pub(crate) fn great() -> Vec<(&'static str, Site)> {
    vec![
        ("star", thirty(|_| 0)),
        ("chain", thirty(|zone| zone - 1)),
        ("tree", thirty(|zone| (zone - 1) / 2)),
    ]
}

pub(crate) fn all() -> Vec<(&'static str, Site)> {
    let mut all: Vec<_> = CONFIG
        .iter()
        .map(|(name, text)| (*name, read(text)))
        .collect();
    all.extend(great());
    all
}
