//! The sun events of a day.

use chrono::{DateTime, Utc};

use super::sine::sin_cos;

/// Side of the day's highest sun.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Half {
    /// From the altitude minimum before the day's maximum to that maximum; the sun climbs all the time.
    Morning,
    /// From the day's altitude maximum to the minimum after it; the sun sinks all the time.
    Evening,
}

/// The eight almanac events of a day.
///
/// Each is the passage of the sun's centre through a fixed altitude, seen from the surface of the earth (WGS 84, height
/// 0 m) with no air in the way. The angles are those of the U.S. Naval Observatory: sunrise and sunset at a zenith
/// distance of 90° 50′ (34′ for the refraction at the horizon and 16′ for the sun's half width), civil, nautical and
/// astronomical twilight at 96°, 102° and 108°.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SunEvent {
    /// The sun's upper limb appears.
    Sunrise,
    /// The sun's upper limb disappears.
    Sunset,
    /// Morning, 6° below the horizon.
    CivilDawn,
    /// Evening, 6° below the horizon.
    CivilDusk,
    /// Morning, 12° below the horizon.
    NauticalDawn,
    /// Evening, 12° below the horizon.
    NauticalDusk,
    /// Morning, 18° below the horizon.
    AstronomicalDawn,
    /// Evening, 18° below the horizon.
    AstronomicalDusk,
}

impl SunEvent {
    /// Every event, in the order of the type; [`SolarDay::events`](super::SolarDay::events) answers in the same order.
    pub const ALL: [Self; 8] = [
        Self::Sunrise,
        Self::Sunset,
        Self::CivilDawn,
        Self::CivilDusk,
        Self::NauticalDawn,
        Self::NauticalDusk,
        Self::AstronomicalDawn,
        Self::AstronomicalDusk,
    ];

    /// The name used in files and output, such as `civil_dusk`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Sunrise => "sunrise",
            Self::Sunset => "sunset",
            Self::CivilDawn => "civil_dawn",
            Self::CivilDusk => "civil_dusk",
            Self::NauticalDawn => "nautical_dawn",
            Self::NauticalDusk => "nautical_dusk",
            Self::AstronomicalDawn => "astronomical_dawn",
            Self::AstronomicalDusk => "astronomical_dusk",
        }
    }

    /// The event of this [`name`](Self::name), if there is one.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|event| event.name() == name)
    }

    /// Altitude of the sun's centre at the event [°].
    pub const fn altitude_deg(self) -> f64 {
        match self {
            Self::Sunrise | Self::Sunset => -50.0 / 60.0,
            Self::CivilDawn | Self::CivilDusk => -6.0,
            Self::NauticalDawn | Self::NauticalDusk => -12.0,
            Self::AstronomicalDawn | Self::AstronomicalDusk => -18.0,
        }
    }

    /// Sine of [`altitude_deg`](Self::altitude_deg), worked out by the compiler.
    pub(super) const fn sin_altitude(self) -> f64 {
        const SINES: [f64; 4] = [
            sin_cos(SunEvent::Sunrise.altitude_deg().to_radians()).0,
            sin_cos(SunEvent::CivilDawn.altitude_deg().to_radians()).0,
            sin_cos(SunEvent::NauticalDawn.altitude_deg().to_radians()).0,
            sin_cos(SunEvent::AstronomicalDawn.altitude_deg().to_radians()).0,
        ];
        match self {
            Self::Sunrise | Self::Sunset => SINES[0],
            Self::CivilDawn | Self::CivilDusk => SINES[1],
            Self::NauticalDawn | Self::NauticalDusk => SINES[2],
            Self::AstronomicalDawn | Self::AstronomicalDusk => SINES[3],
        }
    }

    /// The half of the day in which the event lies.
    pub const fn half(self) -> Half {
        match self {
            Self::Sunrise | Self::CivilDawn | Self::NauticalDawn | Self::AstronomicalDawn => {
                Half::Morning
            }
            Self::Sunset | Self::CivilDusk | Self::NauticalDusk | Self::AstronomicalDusk => {
                Half::Evening
            }
        }
    }
}

/// Whether and when the sun passes an altitude in one half of a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Occurrence {
    /// It does, at this instant (to the microsecond; [`super`] says how far that can be trusted).
    At(DateTime<Utc>),
    /// It does not: the sun stays above the altitude through the whole half.
    StaysAbove,
    /// It does not: the sun stays below the altitude through the whole half.
    StaysBelow,
}

impl Occurrence {
    /// The instant, if the event happens.
    pub const fn at(self) -> Option<DateTime<Utc>> {
        match self {
            Self::At(instant) => Some(instant),
            Self::StaysAbove | Self::StaysBelow => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sines_belong_to_the_altitudes() {
        for event in SunEvent::ALL {
            assert!((event.sin_altitude() - event.altitude_deg().to_radians().sin()).abs() < 1e-11);
        }
    }

    #[test]
    fn every_name_finds_its_event() {
        for event in SunEvent::ALL {
            assert_eq!(SunEvent::from_name(event.name()), Some(event));
        }
        assert_eq!(SunEvent::from_name("Sunset"), None);
    }
}
