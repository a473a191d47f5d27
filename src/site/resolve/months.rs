//! The temperatures of every month, and the year's extremes that follow from them.
//!
//! The year's coldest and hottest must hold every month's: verdict and limits cover the year as stated, and
//! a month outside it would be a season that no check has covered. Left out, the year is that of the months,
//! and its typical evening is their mean.

use std::array;

use chrono::Month;

use crate::site::MonthTemperatures;
use crate::site::field::{Field, wrong_kind};
use crate::site::list::List;
use crate::site::quantity::{Temperature, rounded};

use super::place::{WEATHER, WEATHER_SAID};
use super::{At, Problem, Table};

/// As in the file: January to December, each coldest, typical, hottest.
pub(crate) type Monthly = List<List<Field<Temperature>, 3>, 12>;

/// The meaning of each place in a month's list.
const EVENINGS: [&str; 3] = ["coldest", "typical", "hottest"];

const MONTH_SHAPE: &str =
    "write three, coldest, typical and hottest, such as `[\"-8 C\", \"4 C\", \"15 C\"]`";

/// Twelve months without a fault, each value with its place.
pub(super) struct Months([[At<Temperature>; 3]; 12]);

/// A value of one month.
pub(super) struct Extreme<'a> {
    pub(super) month: Month,
    pub(super) at: &'a At<Temperature>,
}

fn month(index: usize) -> Month {
    let index = u8::try_from(index).expect("twelve months");
    Month::try_from(index + 1).expect("twelve months")
}

impl Months {
    pub(super) fn celsius(&self) -> [MonthTemperatures; 12] {
        array::from_fn(|index| {
            let [coldest_c, typical_c, hottest_c] =
                array::from_fn(|evening| self.0[index][evening].value.0);
            MonthTemperatures {
                coldest_c,
                typical_c,
                hottest_c,
            }
        })
    }

    /// The coldest evening of the year.
    pub(super) fn coldest(&self) -> Extreme<'_> {
        self.extreme(0, -1.0)
    }

    /// The hottest evening of the year.
    pub(super) fn hottest(&self) -> Extreme<'_> {
        self.extreme(2, 1.0)
    }

    /// The first month with the highest value of `sign` times the temperature at a place.
    fn extreme(&self, evening: usize, sign: f64) -> Extreme<'_> {
        let mut extreme = 0;
        for index in 1..self.0.len() {
            let of = |index: usize| sign * self.0[index][evening].value.0;
            if of(index) > of(extreme) {
                extreme = index;
            }
        }
        Extreme {
            month: month(extreme),
            at: &self.0[extreme][evening],
        }
    }

    /// The mean of the typical evenings [°C], to a tenth of a degree: no box temperature is known better.
    pub(super) fn mean_c(&self) -> f64 {
        let sum_c: f64 = self.0.iter().map(|[_, typical, _]| typical.value.0).sum();
        (sum_c / 12.0 * 10.0).round() / 10.0
    }
}

impl Table<'_> {
    /// The months, if they are given and all of them are valid.
    pub(super) fn monthly(&mut self, list: Option<Monthly>) -> Option<Months> {
        let List { span, entries } = list?;
        let remedy = "write twelve lists, January to December, each of three temperatures";
        let entries = match entries {
            Ok(entries) => entries,
            Err(value) => {
                let fault = wrong_kind(&value, "a list of twelve months", remedy);
                self.problem(span, format!("`monthly`: {}", fault.message), fault.remedy);
                return None;
            }
        };
        let count = entries.len();
        if count != 12 {
            let months = if count == 1 { "month" } else { "months" };
            self.problem(span, format!("`monthly` has {count} {months}"), remedy);
            if entries.iter().all(|entry| entry.entries.is_err()) {
                return None;
            }
        }
        let months: Vec<Option<[At<Temperature>; 3]>> = entries
            .into_iter()
            .take(12)
            .enumerate()
            .map(|(index, entry)| self.month(month(index), entry))
            .collect();
        let months: Vec<_> = months.into_iter().collect::<Option<_>>()?;
        (count == 12).then(|| Months(months.try_into().expect("twelve months")))
    }

    fn month(
        &mut self,
        month: Month,
        List { span, entries }: List<Field<Temperature>, 3>,
    ) -> Option<[At<Temperature>; 3]> {
        let place = format!("`monthly`, {}", month.name());
        let entries = match entries {
            Ok(entries) => entries,
            Err(value) => {
                let fault = wrong_kind(&value, "a list of three temperatures", MONTH_SHAPE);
                self.problem(span, format!("{place}: {}", fault.message), fault.remedy);
                return None;
            }
        };
        let count = entries.len();
        let read: Vec<Option<At<Temperature>>> = entries
            .into_iter()
            .map(|field| self.evening(&place, field))
            .collect();
        if count != 3 {
            let temperatures = if count == 1 {
                "temperature"
            } else {
                "temperatures"
            };
            self.problem(
                span,
                format!("{place} has {count} {temperatures}"),
                MONTH_SHAPE,
            );
            return None;
        }
        let read: Vec<_> = read.into_iter().collect::<Option<_>>()?;
        let read: [At<Temperature>; 3] = read.try_into().expect("three evenings");
        for (pair, names) in read.windows(2).zip(EVENINGS.windows(2)) {
            if pair[1].value < pair[0].value {
                self.problem(
                    pair[1].span.clone(),
                    format!(
                        "{place}: {} {} is below {} {}",
                        names[1],
                        rounded(pair[1].value),
                        names[0],
                        rounded(pair[0].value)
                    ),
                    "order them: coldest, typical, hottest",
                );
                return None;
            }
        }
        Some(read)
    }

    fn evening(&mut self, place: &str, field: Field<Temperature>) -> Option<At<Temperature>> {
        let Field { span, value } = field;
        match value {
            Ok(value) if WEATHER.start <= value.0 && value.0 <= WEATHER.end => {
                Some(At { value, span })
            }
            Ok(value) => {
                self.problem(
                    span,
                    format!("{place} cannot be {}", rounded(value)),
                    WEATHER_SAID,
                );
                None
            }
            Err(fault) => {
                let place = format!("{}: {place}", self.place);
                let problem = Problem::fault(span, &place, fault);
                self.resolver.problems.push(problem);
                None
            }
        }
    }
}
