//! The yard's place, its mains, its temperatures.

use std::ops::Range;

use toml::Spanned;

use crate::almanac::Place;
use crate::civil_time::SiteZone;
use crate::site::field::Field;
use crate::site::file::{SiteTable, TemperatureTable};
use crate::site::problem::Problem;
use crate::site::quantity::{Frequency, Share, Temperature, VoltsAc, rounded};
use crate::site::{Mains, Region, Tariff, Temperatures};

use super::months::{Extreme, Months};
use super::{At, Resolver, Table, ZoneRules};

pub(super) struct Whereabouts {
    pub(super) name: String,
    pub(super) place: Option<Place>,
    pub(super) timezone: Option<SiteZone>,
    pub(super) region: Region,
    pub(super) mains: Mains,
    pub(super) tariff: Option<Tariff>,
}

/// Ordinary temperature at dusk in a temperate garden [°C] (assumed).
const TYPICAL_C: f64 = 15.0;

/// Difference from an ordinary evening to the coldest and to the hottest [K] (assumed: covers continental
/// years).
const SEASONS_K: f64 = 25.0;

/// Range of box temperatures outdoors, in shade or sun [°C] (assumed).
pub(super) const WEATHER: Range<f64> = -70.0..90.0;

/// The same as a remedy.
pub(super) const WEATHER_SAID: &str = "write a temperature between -70 C and 90 C";

impl Resolver {
    pub(super) fn whereabouts(
        &mut self,
        site: Option<Spanned<SiteTable>>,
        rules: ZoneRules<'_>,
    ) -> Whereabouts {
        let (table, span) = if let Some(site) = site {
            let span = site.span();
            (site.into_inner(), span)
        } else {
            if !self.only_values {
                self.problems.push(Problem::whole(
                    "there is no [site] table",
                    "add `[site]` with `latitude`, `longitude` and `timezone`",
                ));
            }
            (SiteTable::default(), 0..0)
        };
        // One message for the missing table, and none for its keys.
        let quiet = self.only_values;
        self.only_values |= span == (0..0);
        let whereabouts = self.table("[site]", span).whereabouts(table, rules);
        self.only_values = quiet;
        whereabouts
    }

    pub(super) fn temperatures(&mut self, table: TemperatureTable) -> Temperatures {
        let mut site = self.table("[temperature]", 0..0);
        let months = site.monthly(table.monthly);
        let [coldest, typical, hottest] = [
            ("coldest", table.coldest),
            ("typical", table.typical),
            ("hottest", table.hottest),
        ]
        .map(|(key, field)| {
            let at = site.take(field);
            site.bound(key, at, WEATHER, WEATHER_SAID)
        });
        let mean_c = months.as_ref().map(Months::mean_c);
        let typical_c = match (&typical, mean_c) {
            (Some(at), _) => at.value.0,
            (None, Some(mean_c)) => {
                let mean = Temperature(mean_c);
                site.assume("typical", format_args!("{mean} (mean of `monthly`)"));
                mean_c
            }
            (None, None) => {
                site.assume("typical", Temperature(TYPICAL_C));
                TYPICAL_C
            }
        };
        let coldest_c = site.limit(
            &COLDEST,
            coldest,
            typical_c,
            typical.as_ref(),
            months.as_ref(),
        );
        let hottest_c = site.limit(
            &HOTTEST,
            hottest,
            typical_c,
            typical.as_ref(),
            months.as_ref(),
        );
        let wire = Temperature(typical_c);
        let wire_c = site.bounded_or("wire", table.wire, wire, WEATHER, WEATHER_SAID);
        Temperatures {
            coldest_c,
            typical_c,
            hottest_c,
            wire_c,
            monthly: months.as_ref().map(Months::celsius),
        }
    }
}

struct End {
    key: &'static str,
    /// Distance from the typical evening [K].
    away_k: f64,
    /// Where a month must not be, relative to it.
    beyond: &'static str,
    /// Where it must not be, relative to the typical evening.
    before: &'static str,
    of_months: fn(&Months) -> Extreme<'_>,
}

const COLDEST: End = End {
    key: "coldest",
    away_k: -SEASONS_K,
    beyond: "below",
    before: "above",
    of_months: Months::coldest,
};

const HOTTEST: End = End {
    key: "hottest",
    away_k: SEASONS_K,
    beyond: "above",
    before: "below",
    of_months: Months::hottest,
};

impl Table<'_> {
    /// The coldest or hottest evening. It must be on its own side of the typical one, and no month may pass it:
    /// the verdict would not hold for that month.
    fn limit(
        &mut self,
        end: &End,
        at: Option<At<Temperature>>,
        typical_c: f64,
        typical: Option<&At<Temperature>>,
        months: Option<&Months>,
    ) -> f64 {
        const ORDER: &str = "order them: `coldest`, `typical`, `hottest`";
        let &End {
            key,
            away_k,
            beyond,
            before,
            of_months,
        } = end;
        let month = months.map(of_months);
        let passes = |inner_c: f64, outer_c: f64| (inner_c - outer_c) * away_k > 0.0;
        let Some(at) = at else {
            let Some(Extreme { month, at }) = month else {
                let default = typical_c + away_k;
                self.assume(key, Temperature(default));
                return default;
            };
            let name = month.name();
            self.assume(key, format_args!("{} ({name} of `monthly`)", at.value));
            if let Some(typical) = typical
                && passes(typical_c, at.value.0)
            {
                let (given, limit) = (rounded(typical.value), rounded(at.value));
                let message = format!(
                    "{}: `typical` {given} is {beyond} the {key} of `monthly`, {name}'s {limit}",
                    self.place
                );
                let remedy = "leave `typical` out: it is then the mean of the months";
                let problem = Problem::new(typical.span.clone(), message, remedy);
                let problem = problem.and_see(at.span.clone(), format!("{key} of all"));
                self.resolver.problems.push(problem);
            }
            return at.value.0;
        };
        let given = rounded(at.value);
        if let Some(Extreme {
            month,
            at: of_month,
        }) = month
            && passes(of_month.value.0, at.value.0)
        {
            let limit = rounded(of_month.value);
            let message = format!(
                "{}: `monthly`, {}: {limit} is {beyond} `{key}` {given}",
                self.place,
                month.name()
            );
            let remedy =
                format!("write `{key} = \"{limit}\"`, or leave it out: the months tell it");
            let problem = Problem::new(of_month.span.clone(), message, remedy);
            let problem = problem.and_see(at.span.clone(), "the year's");
            self.resolver.problems.push(problem);
        } else if passes(typical_c, at.value.0) {
            let typical = rounded(Temperature(typical_c));
            self.problem(
                at.span.clone(),
                format!("`{key}` {given} is {before} `typical` {typical}"),
                ORDER,
            );
        }
        at.value.0
    }

    fn whereabouts(&mut self, table: SiteTable, rules: ZoneRules<'_>) -> Whereabouts {
        let name = self
            .take(table.name)
            .map_or_else(|| "unnamed yard".into(), |at| at.value);
        let place = self.on_earth(table.latitude, table.longitude);
        let timezone = self.need("timezone", table.timezone, "timezone = \"America/Chicago\"");
        let timezone = timezone.and_then(|at| match rules(&at.value) {
            Ok(zone) => Some(zone),
            Err(error) => {
                let text = error.to_string();
                let (message, remedy) = text
                    .split_once("; ")
                    .unwrap_or((&text, "name a place of the tz database"));
                self.problem(at.span, message, remedy);
                None
            }
        });
        let region = self.word_or("region", table.region, Region::Other, "other");
        let mains = self.mains(table.mains, table.frequency, table.mains_tolerance, region);
        let tariff = self.tariff(table.tariff_per_kwh, table.currency);
        Whereabouts {
            name,
            place,
            timezone,
            region,
            mains,
            tariff,
        }
    }

    fn on_earth(
        &mut self,
        latitude: Option<Field<f64>>,
        longitude: Option<Field<f64>>,
    ) -> Option<Place> {
        let latitude = self.need("latitude", latitude, "latitude = 41.60");
        let longitude = self.need("longitude", longitude, "longitude = -93.61");
        let latitude = latitude.and_then(|at| {
            if at.value.abs() <= 89.0 {
                return Some(at.value);
            }
            let (what, remedy) = if at.value.abs() <= 90.0 {
                (
                    "is too near a pole: beyond 89 degrees there is no evening",
                    "move the yard to 89 degrees or less",
                )
            } else {
                (
                    "is not on earth",
                    "write degrees from -89 (south) to 89 (north)",
                )
            };
            self.problem(at.span, format!("latitude {} {what}", at.value), remedy);
            None
        });
        let longitude = longitude.and_then(|at| {
            if at.value.abs() <= 180.0 {
                return Some(at.value);
            }
            self.problem(
                at.span,
                format!("longitude {} is not on earth", at.value),
                "write degrees from -180 (west) to 180 (east)",
            );
            None
        });
        Place::new(latitude?, longitude?).ok()
    }

    fn mains(
        &mut self,
        voltage: Option<Field<VoltsAc>>,
        frequency: Option<Field<Frequency>>,
        tolerance: Option<Field<Share>>,
        region: Region,
    ) -> Mains {
        let (usual_v, usual_hz) = if region == Region::Nec {
            (120.0, 60.0)
        } else {
            (230.0, 50.0)
        };
        Mains {
            voltage_v: self.bounded_or(
                "mains",
                voltage,
                VoltsAc(usual_v),
                90.0..260.0,
                "write the mains voltage of the house, such as `\"120 V\"` or `\"230 V\"`",
            ),
            frequency_hz: self.bounded_or(
                "frequency",
                frequency,
                Frequency(usual_hz),
                45.0..65.0,
                "write `\"50 Hz\"` or `\"60 Hz\"`: an electronic transformer's frequency cannot feed a pilot wire",
            ),
            tolerance: self.bounded_or(
                "mains_tolerance",
                tolerance,
                Share(0.10),
                0.0..0.30,
                "write a share between 0 % and 30 %",
            ),
        }
    }

    fn tariff(
        &mut self,
        per_kwh: Option<Field<f64>>,
        currency: Option<Field<String>>,
    ) -> Option<Tariff> {
        let currency = self.take(currency).map(|at| at.value);
        let at = self.take(per_kwh)?;
        if at.value < 0.0 {
            self.problem(
                at.span,
                "`tariff_per_kwh` cannot be negative",
                "write the price of one kilowatt-hour",
            );
            return None;
        }
        Some(Tariff {
            per_kwh: at.value,
            currency: currency.unwrap_or_default(),
        })
    }
}
