//! Quantities as the site file writes them: a number, then its unit, in one string.
//!
//! Inside the program a quantity is a newtype over its SI unit, so a length cannot be passed as a resistance,
//! nor AC volts as DC volts. One table of unit spellings per type serves reading, writing and the JSON Schema.

use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

use crate::circuit::copper::REFERENCE_C;
use crate::circuit::wire::{Gauge, ohm_per_m};

use super::fault::{Fault, listed, nearest};

/// A number with a unit.
pub trait Quantity: Sized + Copy {
    /// Its name in messages, with the article: "a length".
    const KIND: &'static str;
    /// Spelling and factor to the SI unit; the first is used for writing.
    const UNITS: &'static [(&'static str, f64)];
    /// The units suggested when the unit was left out.
    const USUAL: &'static [&'static str];

    fn from_si(value: f64) -> Self;
    /// The value in the SI unit.
    fn si(self) -> f64;

    /// Converts `value` given in `unit` (one of [`Quantity::UNITS`]); `None` for another unit.
    fn convert(value: f64, unit: &str) -> Option<f64> {
        Self::UNITS
            .iter()
            .find(|(spelling, _)| *spelling == unit)
            .map(|(_, factor)| value * factor)
    }

    /// Reads `"210 ft"`.
    fn parse(text: &str) -> Result<Self, Fault> {
        let (number, unit) = split_number(text);
        if number.is_empty() {
            return Err(Fault::new(
                format!("`{text}` is not {}", Self::KIND),
                format!("write {}", examples::<Self>("10")),
            ));
        }
        if unit.starts_with(',') {
            return Err(Fault::new(
                format!("`{text}` has a decimal comma"),
                format!("write a point: `{}`", text.replacen(',', ".", 1)),
            ));
        }
        let value: f64 = number.parse().map_err(|_| {
            Fault::new(
                format!("`{number}` is not a number"),
                format!("write {}", examples::<Self>("10")),
            )
        })?;
        if unit.is_empty() {
            // A share without a per cent sign is more often a fraction than a small percentage.
            let number = if Self::UNITS[0].0 == "%" && value.abs() <= 1.0 {
                (value * 1e9).round() / 1e7
            } else {
                value
            };
            let number = if number.to_bits() == value.to_bits() {
                text.trim().to_owned()
            } else {
                number.to_string()
            };
            return Err(Fault::new(
                format!("`{text}` has no unit"),
                format!("write {}", examples::<Self>(&number)),
            ));
        }
        match Self::convert(value, unit) {
            Some(si) if si.is_finite() => Ok(Self::from_si(si)),
            Some(_) => Err(Fault::new(
                format!("`{text}` is out of all bounds"),
                "write a number that a yard can have",
            )),
            None => Err(unknown_unit::<Self>(text, number, unit)),
        }
    }
}

/// `"10 m"` or `"10 ft"`, for a remedy.
fn examples<Q: Quantity>(number: &str) -> String {
    let shown: Vec<String> = Q::USUAL
        .iter()
        .map(|unit| format!("`\"{number} {unit}\"`"))
        .collect();
    shown.join(" or ")
}

fn unknown_unit<Q: Quantity>(text: &str, number: &str, unit: &str) -> Fault {
    let spellings = || Q::UNITS.iter().map(|(spelling, _)| *spelling);
    let message = format!("`{text}` is not {}: unit `{unit}` does not fit", Q::KIND);
    if unit.contains(|c: char| c.is_ascii_digit()) {
        let remedy = format!(
            "write one number and one unit, such as `\"10 {}\"`",
            Q::USUAL[0]
        );
        return Fault::new(format!("`{text}` is not {}", Q::KIND), remedy);
    }
    // AC for DC is never a slip of the pen.
    if let Some(other) = [("AC", "DC"), ("DC", "AC")]
        .iter()
        .find_map(|(given, needed)| unit.ends_with(given).then_some(needed))
    {
        return Fault::new(
            message,
            format!("if it is {other}, write `\"{number} V\"`; if not, it does not belong here"),
        );
    }
    let meant = in_full(unit).filter(|unit| spellings().any(|known| known == *unit));
    let same = || spellings().find(|known| known.eq_ignore_ascii_case(unit));
    let remedy = match meant.or_else(same).or_else(|| nearest(unit, spellings())) {
        Some(near) => format!("did you mean `\"{number} {near}\"`?"),
        None => format!("it takes {}", listed(spellings(), "or")),
    };
    Fault::new(message, remedy)
}

/// The unit meant by a word or sign that stands for it elsewhere.
fn in_full(unit: &str) -> Option<&'static str> {
    Some(match unit.to_ascii_lowercase().as_str() {
        "feet" | "foot" | "'" | "′" => "ft",
        "inch" | "inches" | "\"" | "″" => "in",
        "yard" | "yards" => "yd",
        "meter" | "meters" | "metre" | "metres" => "m",
        "volt" | "volts" => "V",
        "amp" | "amps" | "ampere" | "amperes" => "A",
        "milliamp" | "milliamps" => "mA",
        "watt" | "watts" => "W",
        "ohms" | "r" => "ohm",
        // Old capacitors are marked MF or MFD for microfarads.
        "mf" | "mfd" | "microfarad" | "microfarads" => "uF",
        "sec" | "second" | "seconds" => "s",
        "minute" | "minutes" | "mins" => "min",
        "hour" | "hours" | "hrs" | "hr" => "h",
        "degc" | "celsius" | "centigrade" => "C",
        "degf" | "fahrenheit" => "F",
        "k" => "K/W",
        "percent" | "per cent" | "pct" => "%",
        "hertz" | "cycles" => "Hz",
        _ => return None,
    })
}

/// Splits `-3.5 deg` into `-3.5` and `deg`; an `e` counts as part of the number only before digits.
fn split_number(text: &str) -> (&str, &str) {
    let text = text.trim();
    let bytes = text.as_bytes();
    let mut end = 0;
    while end < bytes.len() {
        let follows = |offset: usize| bytes.get(end + offset).is_some_and(u8::is_ascii_digit);
        let part = match bytes[end] {
            b'0'..=b'9' | b'.' => true,
            b'+' | b'-' => end == 0 || matches!(bytes[end - 1], b'e' | b'E'),
            b'e' | b'E' => {
                end > 0
                    && (follows(1)
                        || (matches!(bytes.get(end + 1), Some(b'+' | b'-')) && follows(2)))
            }
            _ => false,
        };
        if !part {
            break;
        }
        end += 1;
    }
    // A sign alone is not a number.
    if !bytes[..end].iter().any(u8::is_ascii_digit) {
        end = 0;
    }
    (&text[..end], text[end..].trim_start())
}

/// A quantity as a message shows it, without the digits that rounding errors leave behind.
pub(crate) fn rounded<Q: Quantity>(quantity: Q) -> Q {
    let si = quantity.si();
    Q::from_si(format!("{si:.5e}").parse().unwrap_or(si))
}

/// `value` to three decimals, because computed defaults are printed.
pub(crate) fn milli(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $kind:literal, usual $usual:expr, [$(($unit:literal, $factor:expr)),+ $(,)?]) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl Quantity for $name {
            const KIND: &'static str = $kind;
            const UNITS: &'static [(&'static str, f64)] = &[$(($unit, $factor)),+];
            const USUAL: &'static [&'static str] = &$usual;
            fn from_si(value: f64) -> Self { Self(value) }
            fn si(self) -> f64 { self.0 }
        }
        written!($name);
    };
}

/// Display, `FromStr` and JSON Schema for a type that implements [`Quantity`].
macro_rules! written {
    ($name:ident) => {
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let (unit, factor) = Self::UNITS[0];
                // A share is kept as a fraction and written in per cent; digits beyond the twelfth come from
                // the division, not from the owner.
                let value = if factor < 1.0 {
                    (self.si() / factor * 1e12).round() / 1e12
                } else {
                    self.si()
                };
                write!(f, "{value} {unit}")
            }
        }
        impl FromStr for $name {
            type Err = Fault;
            fn from_str(text: &str) -> Result<Self, Fault> {
                Self::parse(text)
            }
        }
        impl schemars::JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }
            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schema_of(Self::KIND, Self::UNITS)
            }
        }
    };
}

fn schema_of(kind: &str, units: &[(&str, f64)]) -> schemars::Schema {
    let spellings: Vec<&str> = units.iter().map(|(unit, _)| *unit).collect();
    schemars::json_schema!({
        "type": "string",
        "title": kind,
        "pattern": format!(r"^\s*[-+]?[0-9.]+([eE][-+]?[0-9]+)?\s*({})\s*$", spellings.join("|")),
        "examples": [format!("10 {}", spellings[0])],
    })
}

quantity!(
    /// A length [m].
    Length, "a length", usual ["m", "ft"],
    [("m", 1.0), ("ft", 0.3048), ("cm", 0.01), ("mm", 0.001), ("km", 1000.0), ("in", 0.0254), ("yd", 0.9144)]
);
quantity!(
    /// AC volts [V RMS].
    VoltsAc, "an AC voltage", usual ["V"],
    [("V", 1.0), ("V AC", 1.0), ("VAC", 1.0), ("mV", 1e-3), ("mV AC", 1e-3)]
);
quantity!(
    /// DC volts [V].
    VoltsDc, "a DC voltage", usual ["V"],
    [("V", 1.0), ("V DC", 1.0), ("VDC", 1.0), ("mV", 1e-3), ("mV DC", 1e-3)]
);
quantity!(
    /// Volts that are RMS on AC and plain on DC [V].
    Volts, "a voltage", usual ["V"],
    [("V", 1.0), ("mV", 1e-3), ("V AC", 1.0), ("V DC", 1.0), ("VAC", 1.0), ("VDC", 1.0)]
);
quantity!(
    /// A current [A].
    Current, "a current", usual ["A", "mA"],
    [("A", 1.0), ("mA", 1e-3), ("uA", 1e-6), ("µA", 1e-6), ("nA", 1e-9), ("pA", 1e-12)]
);
quantity!(
    /// A resistance [Ω].
    Resistance, "a resistance", usual ["ohm"],
    [("ohm", 1.0), ("mohm", 1e-3), ("Ω", 1.0), ("mΩ", 1e-3), ("kohm", 1e3), ("kΩ", 1e3)]
);
quantity!(
    /// A capacitance [F].
    Capacitance, "a capacitance", usual ["uF"],
    [("F", 1.0), ("uF", 1e-6), ("µF", 1e-6), ("μF", 1e-6), ("mF", 1e-3), ("nF", 1e-9)]
);
quantity!(
    /// An inductance [H].
    Inductance, "an inductance", usual ["H"],
    [("H", 1.0), ("mH", 1e-3), ("uH", 1e-6), ("µH", 1e-6)]
);
quantity!(
    /// A stretch of time [s].
    TimeSpan, "a stretch of time", usual ["ms", "s", "min", "h"],
    [("s", 1.0), ("ms", 1e-3), ("min", 60.0), ("h", 3600.0), ("us", 1e-6), ("µs", 1e-6)]
);
quantity!(
    /// Real power [W].
    Power, "a power", usual ["W"],
    [("W", 1.0), ("mW", 1e-3), ("kW", 1e3)]
);
quantity!(
    /// Apparent power [VA].
    ApparentPower, "an apparent power", usual ["VA"],
    [("VA", 1.0), ("kVA", 1e3)]
);
quantity!(
    /// A frequency [Hz].
    Frequency, "a frequency", usual ["Hz"],
    [("Hz", 1.0), ("kHz", 1e3)]
);
impl TimeSpan {
    /// Reads a duration as typed on a command line: `90s`, `1h30m`, `2 h 30 min`, `3d`, `56y`; `None` if it is
    /// not a duration. (In the site file `m` means metres.)
    pub fn typed(text: &str) -> Option<Self> {
        const SHORT: [(&str, f64); 3] = [("m", 60.0), ("d", 86_400.0), ("y", 365.25 * 86_400.0)];
        let mut total_s = 0.0;
        let mut rest = text.trim();
        if rest.is_empty() {
            return None;
        }
        while !rest.is_empty() {
            let (number, after) = split_number(rest);
            if !number.starts_with(|c: char| c.is_ascii_digit()) {
                return None;
            }
            let end = after.find(|c: char| !c.is_alphabetic());
            let (unit, after) = after.split_at(end.unwrap_or(after.len()));
            let short = || SHORT.iter().find(|(short, _)| *short == unit);
            let unit_s = Self::convert(1.0, unit).or_else(|| short().map(|(_, unit_s)| *unit_s))?;
            total_s += number.parse::<f64>().ok()? * unit_s;
            rest = after.trim_start();
        }
        Some(Self(total_s)).filter(|span| span.0.is_finite())
    }
}

quantity!(
    /// A share, kept as a fraction: `"10 %"` is 0.10.
    Share, "a share", usual ["%"],
    [("%", 0.01)]
);
quantity!(
    /// Thermal resistance from coil to box air [K/W].
    ThermalResistance, "a thermal resistance", usual ["K/W"],
    [("K/W", 1.0), ("C/W", 1.0), ("°C/W", 1.0)]
);

/// A temperature [°C].
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Temperature(pub f64);

impl Quantity for Temperature {
    const KIND: &'static str = "a temperature";
    const USUAL: &'static [&'static str] = &["C", "F"];
    const UNITS: &'static [(&'static str, f64)] =
        &[("C", 1.0), ("F", 1.0), ("°C", 1.0), ("°F", 1.0), ("K", 1.0)];
    fn from_si(value: f64) -> Self {
        Self(value)
    }
    fn si(self) -> f64 {
        self.0
    }
    // The scales differ in their zero as well as in their step.
    fn convert(value: f64, unit: &str) -> Option<f64> {
        match unit {
            "C" | "°C" => Some(value),
            "F" | "°F" => Some((value - 32.0) / 1.8),
            "K" => Some(value - 273.15),
            _ => None,
        }
    }
}
written!(Temperature);

/// Reads a conductor size, `"22 AWG"` or `"0.75 mm2"`, and refuses sizes that are not made.
pub fn parse_gauge(text: &str) -> Result<Gauge, Fault> {
    let shape = "write `\"22 AWG\"` or `\"0.75 mm2\"`";
    let (number, unit) = split_number(text);
    if number.is_empty() {
        return Err(Fault::new(format!("`{text}` is not a wire size"), shape));
    }
    if unit.starts_with(',') {
        return Err(Fault::new(
            format!("`{text}` has a decimal comma"),
            format!("write a point: `{}`", text.replacen(',', ".", 1)),
        ));
    }
    let gauge = match unit {
        "AWG" | "awg" => number.parse().map(Gauge::Awg).map_err(|_| {
            Fault::new(
                format!("`{text}` is not an AWG number"),
                "AWG sizes are whole numbers from 0 to 30, as in `\"22 AWG\"`",
            )
        })?,
        "mm2" | "mm²" => number
            .parse()
            .map(Gauge::SquareMillimetres)
            .map_err(|_| Fault::new(format!("`{number}` is not a number"), shape))?,
        "" => {
            return Err(Fault::new(
                format!("`{text}` has no unit"),
                format!("write `\"{number} AWG\"` or `\"{number} mm2\"`"),
            ));
        }
        other => {
            return Err(Fault::new(
                format!("`{text}` is not a wire size: unit `{other}` does not fit"),
                if matches!(other, "gauge" | "ga" | "ga." | "#") {
                    format!("did you mean `\"{number} AWG\"`?")
                } else {
                    "it takes `AWG` or `mm2`".into()
                },
            ));
        }
    };
    match ohm_per_m(gauge, gauge.usual_stranding(), REFERENCE_C) {
        Ok(_) => Ok(gauge),
        Err(error) => Err(Fault::new(
            format!("`{text}` is not a size wire is sold in"),
            format!(
                "did you mean `\"{}\"`?",
                error.nearest.to_string().replace('²', "2")
            ),
        )),
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "conversions are exact by definition")]
mod tests {
    use super::*;

    #[test]
    fn feet_and_metres_mean_the_same_length() {
        // International foot: 0.3048 m exactly (1959 agreement, NIST SP 811).
        assert_eq!("210 ft".parse::<Length>().unwrap().0, 210.0 * 0.3048);
        assert_eq!("64.008m".parse::<Length>().unwrap().0, 64.008);
    }

    #[test]
    fn temperatures_convert_by_zero_and_by_step() {
        let close = |text: &str, c: f64| {
            assert!(
                (text.parse::<Temperature>().unwrap().0 - c).abs() < 1e-9,
                "{text}"
            );
        };
        // NIST SP 811: 212 °F = 100 °C, -40 °F = -40 °C.
        close("212 F", 100.0);
        close("-40 °F", -40.0);
        close("-10 C", -10.0);
        close("293.15 K", 20.0);
    }

    #[test]
    fn a_missing_unit_is_asked_for_with_the_number_that_was_given() {
        let fault = "160".parse::<Length>().unwrap_err();
        assert_eq!(
            fault.to_string(),
            "`160` has no unit; write `\"160 m\"` or `\"160 ft\"`"
        );
    }

    #[test]
    fn a_wrong_unit_names_the_nearest_or_all() {
        let near = "60 fet".parse::<Length>().unwrap_err();
        assert_eq!(near.remedy, "did you mean `\"60 ft\"`?");
        let far = "5 W".parse::<Capacitance>().unwrap_err();
        assert!(far.remedy.starts_with("it takes `F`, `uF`"), "{far}");
    }

    #[test]
    fn dc_volts_are_not_ac_volts() {
        assert!("12 V DC".parse::<VoltsAc>().is_err());
        assert!("12 V AC".parse::<VoltsDc>().is_err());
        assert_eq!("12 V DC".parse::<VoltsDc>().unwrap(), VoltsDc(12.0));
    }

    #[test]
    fn a_stretch_of_time_is_typed_in_one_part_or_in_several() {
        for (text, s) in [
            ("90s", 90.0),
            ("30m", 1800.0),
            ("1h30m", 5400.0),
            ("2h30m", 9000.0),
            ("90 min", 5400.0),
            (" 2 h 30 min ", 9000.0),
            ("200 ms", 0.2),
            ("1.5 h", 5400.0),
            ("3d", 259_200.0),
            // Years of 365.25 days.
            ("56y", 56.0 * 31_557_600.0),
            ("0s", 0.0),
        ] {
            assert_eq!(TimeSpan::typed(text), Some(TimeSpan(s)), "{text}");
        }
        for text in [
            "", "5", "m", "1x", "-3 min", "+1h", "1h30", "1,5 h", "1e400 h", "ten s",
        ] {
            assert_eq!(TimeSpan::typed(text), None, "{text}");
        }
    }

    #[test]
    fn numbers_with_exponents_and_signs_are_numbers() {
        assert_eq!("7.03e-9 A".parse::<Current>().unwrap().0, 7.03e-9);
        assert_eq!("-3 min".parse::<TimeSpan>().unwrap().0, -180.0);
        assert!("- 3 min".parse::<TimeSpan>().is_err());
        assert!(
            "1,5 V"
                .parse::<Volts>()
                .unwrap_err()
                .message
                .contains("decimal comma")
        );
    }

    #[test]
    fn wire_sizes_are_from_the_two_series() {
        assert_eq!(parse_gauge("22 AWG").unwrap(), Gauge::Awg(22));
        assert_eq!(
            parse_gauge("0.75 mm²").unwrap(),
            Gauge::SquareMillimetres(0.75)
        );
        let fault = parse_gauge("0.8 mm2").unwrap_err();
        assert_eq!(fault.remedy, "did you mean `\"0.75 mm2\"`?");
        assert!(parse_gauge("22.5 AWG").is_err());
        assert!(parse_gauge("22 swg").is_err());
    }

    proptest::proptest! {
        #![proptest_config(crate::cases::cases(256))]

        #[test]
        fn what_is_written_back_reads_the_same(value in -1e6..1e6_f64) {
            proptest::prop_assert_eq!(Length(value).to_string().parse::<Length>().unwrap(), Length(value));
            proptest::prop_assert_eq!(Temperature(value).to_string().parse::<Temperature>().unwrap(), Temperature(value));
            proptest::prop_assert_eq!(Share(0.07).to_string(), "7 %");
            proptest::prop_assert_eq!(Capacitance(value).to_string().parse::<Capacitance>().unwrap(), Capacitance(value));
        }

        #[test]
        fn every_unit_of_a_length_goes_there_and_back(value in 0.001..1e6_f64, unit in 0..Length::UNITS.len()) {
            let (spelling, factor) = Length::UNITS[unit];
            let length: Length = format!("{value} {spelling}").parse().unwrap();
            proptest::prop_assert!((length.0 / factor / value - 1.0).abs() < 1e-12);
        }
    }
}
