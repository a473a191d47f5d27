//! What can be varied about a link: its word, its units, its bounds.

use std::fmt;

use crate::site::{
    Capacitance, Fault, Length, Link, Quantity, Resistance, Share, Site, Temperature, VoltsDc,
};

use super::Setting;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parameter {
    /// One-way route of the pair.
    Length,
    Loop,
    Wire,
    Relay,
    Capacitor,
    /// Temperature of the relay box.
    Temperature,
    /// Deviation of the mains from nominal.
    Mains,
    /// Voltage of the master's DC supply.
    Voltage,
    /// The resistor before the rectifier.
    Series,
    /// Splices of the pair.
    Splices,
    Rectifier,
}

/// How the numbers of a parameter are read.
pub(super) struct Scale {
    /// Spellings of its units.
    pub(super) units: &'static [(&'static str, f64)],
    /// Reads one value with its unit, into SI.
    pub(super) parse: fn(&str) -> Result<f64, Fault>,
    /// Converts a value into SI.
    pub(super) convert: fn(f64, &str) -> Option<f64>,
    /// Lowest and highest value in SI, the same as for site files.
    pub(super) bounds: (f64, f64),
    pub(super) said: &'static str,
}

fn scale<Q: Quantity>(bounds: (f64, f64), said: &'static str) -> Scale {
    Scale {
        units: Q::UNITS,
        parse: |text| Q::parse(text).map(Quantity::si),
        convert: Q::convert,
        bounds,
        said,
    }
}

/// Splices have no unit.
fn count() -> Scale {
    Scale {
        units: &[("", 1.0)],
        parse: |text| {
            text.trim().parse::<u32>().map(f64::from).map_err(|_| {
                Fault::new(
                    format!("`{}` is not a number of splices", text.trim()),
                    "write whole numbers, as in `splices=0..6`",
                )
            })
        },
        convert: |value, _| Some(value),
        bounds: (0.0, 1000.0),
        said: "a number of splices up to 1000",
    }
}

impl Parameter {
    /// In the order in which messages name them.
    pub const ALL: [Self; 11] = [
        Self::Length,
        Self::Loop,
        Self::Wire,
        Self::Relay,
        Self::Capacitor,
        Self::Temperature,
        Self::Mains,
        Self::Voltage,
        Self::Series,
        Self::Splices,
        Self::Rectifier,
    ];

    /// Its word on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Length => "length",
            Self::Loop => "loop",
            Self::Wire => "wire",
            Self::Relay => "relay",
            Self::Capacitor => "capacitor",
            Self::Temperature => "temperature",
            Self::Mains => "mains",
            Self::Voltage => "voltage",
            Self::Series => "series",
            Self::Splices => "splices",
            Self::Rectifier => "rectifier",
        }
    }

    pub fn about(self) -> &'static str {
        match self {
            Self::Length => "pair length",
            Self::Loop => "measured loop",
            Self::Wire => "wire",
            Self::Relay => "relay",
            Self::Capacitor => "capacitor",
            Self::Temperature => "box temperature",
            Self::Mains => "mains off nominal",
            Self::Voltage => "supply voltage",
            Self::Series => "series resistor",
            Self::Splices => "splices",
            Self::Rectifier => "rectifier",
        }
    }

    /// An example of what to write.
    pub(super) fn example(self) -> &'static str {
        match self {
            Self::Length => "length=20..200m",
            Self::Loop => "loop=5..50ohm",
            Self::Wire => "wire=18AWG,20AWG,0.75mm2",
            Self::Relay => "relay=all",
            Self::Capacitor => "capacitor=47..470uF",
            Self::Temperature => "temperature=-20..45C",
            Self::Mains => "mains=-15..15%",
            Self::Voltage => "voltage=10..14V",
            Self::Series => "series=0..47ohm",
            Self::Splices => "splices=0..6",
            Self::Rectifier => "rectifier=bridge,single-diode",
        }
    }

    pub fn is_whole(self) -> bool {
        self == Self::Splices
    }

    /// Whether two parameters set the same quantity.
    pub fn clashes_with(self, other: Self) -> bool {
        let of_cable = |it: Self| matches!(it, Self::Length | Self::Wire | Self::Splices);
        self == other
            || (self == Self::Loop && of_cable(other))
            || (other == Self::Loop && of_cable(self))
    }

    pub(super) fn scale(self) -> Option<Scale> {
        Some(match self {
            Self::Length => scale::<Length>((0.01, 10_000.0), "a route between 1 cm and 10 km"),
            Self::Loop => {
                scale::<Resistance>((0.01, 10_000.0), "a loop between 0.01 and 10000 ohm")
            }
            Self::Capacitor => {
                scale::<Capacitance>((1e-9, 0.1), "a capacitor between 1 nF and 0.1 F")
            }
            Self::Temperature => {
                scale::<Temperature>((-70.0, 90.0), "a temperature between -70 C and 90 C")
            }
            Self::Mains => scale::<Share>((-0.30, 0.30), "a share between -30 % and 30 %"),
            Self::Voltage => scale::<VoltsDc>((1.0, 250.0), "a voltage between 1 V and 250 V"),
            Self::Series => scale::<Resistance>((0.0, 10_000.0), "ohms between 0 and 10000"),
            Self::Splices => count(),
            Self::Wire | Self::Relay | Self::Rectifier => return None,
        })
    }

    /// The setting for a value in SI.
    pub(super) fn setting(self, si: f64) -> Setting {
        match self {
            Self::Length => Setting::Length(si),
            Self::Loop => Setting::Loop(si),
            Self::Capacitor => Setting::Capacitor(Some(si)),
            Self::Temperature => Setting::Temperature(si),
            Self::Mains => Setting::Mains(si),
            Self::Voltage => Setting::Voltage(si),
            Self::Series => Setting::Series(si),
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "bounded by its scale"
            )]
            Self::Splices => Setting::Splices(si as u32),
            Self::Wire | Self::Relay | Self::Rectifier => {
                unreachable!("things, not numbers")
            }
        }
    }

    /// Whether this link has such a part.
    pub(super) fn fits(self, site: &Site, link: &Link) -> Result<(), Fault> {
        let on_ac = site.feeding(link).is_ac();
        let supply = &site.feeding(link).name;
        let name = site.link_name(link);
        match self {
            Self::Length | Self::Wire | Self::Splices if link.measured_loop_ohm.is_some() => {
                Err(Fault::new(
                    format!("the loop of {name} is measured, which counts instead of its {self}"),
                    "vary `loop`, or take `loop_resistance` out of the site file",
                ))
            }
            Self::Mains if !on_ac => Err(Fault::new(
                format!("supply {supply} gives {name} DC, whatever the mains"),
                "vary `voltage`",
            )),
            Self::Voltage if on_ac => Err(Fault::new(
                format!("supply {supply} is a transformer, its voltage follows the mains"),
                "vary `mains`",
            )),
            _ => Ok(()),
        }
    }
}

impl fmt::Display for Parameter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
