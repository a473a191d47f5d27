//! The nights at risk: each month's judgement of every link, applied to the evenings on which its master is
//! lit.
//!
//! Evenings on which the master is dark are not at risk. A coil over its voltage is shown, but does not put the
//! night at risk: it wears the coil out, and S22 covers that. The evening's month is that of its date.

use chrono::{Datelike, NaiveDate};

use crate::link::{MonthRisk, Risk, Undecided, risk_of_month};
use crate::schedule::{Plan, month_of};
use crate::site::{LinkId, Site};

#[derive(Debug, Clone, PartialEq)]
pub struct LinkNights {
    pub link: LinkId,
    /// Evenings at risk: the master is lit, and at the month's extremes something may fail.
    pub at_risk: Vec<NaiveDate>,
    /// The same by kind of risk, in the order of their first evening.
    pub periods: Vec<Period>,
    /// The months of the season, in order, with or without evenings at risk.
    pub months: Vec<MonthRisk>,
}

/// Consecutive months with the same risk.
#[derive(Debug, Clone, PartialEq)]
pub struct Period {
    pub risk: Risk,
    /// Whether it fails on the typical evening too.
    pub certain: bool,
    pub from: NaiveDate,
    pub to: NaiveDate,
    /// Evenings at risk in between; on the others the master is dark.
    pub nights: u32,
    /// The month with the least margin.
    pub worst: MonthRisk,
}

impl LinkNights {
    /// The month of an evening at risk; `None` for any other evening.
    pub fn on(&self, evening: NaiveDate) -> Option<&MonthRisk> {
        self.at_risk.binary_search(&evening).ok()?;
        self.month(evening)
    }

    fn month(&self, evening: NaiveDate) -> Option<&MonthRisk> {
        let month = month_of(evening);
        self.months.iter().find(|known| known.month == month)
    }

    /// First and last evening of every run of months with nights at risk, whatever the risk.
    pub fn stretches(&self) -> Vec<(NaiveDate, NaiveDate)> {
        let runs = self
            .at_risk
            .chunk_by(|before, after| months_of(*after) - months_of(*before) <= 1);
        runs.map(|run| (run[0], run[run.len() - 1])).collect()
    }

    /// Evenings of a month of the year that are at risk.
    pub fn nights_in(&self, month: chrono::Month) -> usize {
        let evenings = self.at_risk.iter();
        evenings.filter(|date| month_of(**date) == month).count()
    }
}

/// The nights at risk of every link, in the order of [`Site::links`], if the site file has
/// temperatures by month.
///
/// # Errors
/// If a simulation cannot conclude.
pub(super) fn nights(site: &Site, plan: &Plan) -> Result<Option<Vec<LinkNights>>, Undecided> {
    if site.temperatures.monthly.is_none() {
        return Ok(None);
    }
    let mut lit: Vec<Vec<NaiveDate>> = vec![Vec::new(); site.zones.len()];
    for row in plan.rows.iter().filter(|row| row.on.is_some()) {
        let evenings = &mut lit[row.zone.0];
        if evenings.last() != Some(&row.evening) {
            evenings.push(row.evening);
        }
    }
    let all: Vec<NaiveDate> = {
        let mut evenings: Vec<_> = plan.rows.iter().map(|row| row.evening).collect();
        evenings.dedup();
        evenings
    };
    let of_link = |index| {
        let link = LinkId(index);
        let mut nights = LinkNights {
            link,
            at_risk: Vec::new(),
            periods: Vec::new(),
            months: Vec::new(),
        };
        for evening in &all {
            if nights.month(*evening).is_none() {
                let month = risk_of_month(site, &site[link], month_of(*evening))?;
                nights.months.push(month);
            }
        }
        for evening in &lit[site[link].master.0] {
            nights.add(*evening);
        }
        Ok(nights)
    };
    let links = (0..site.links.len()).map(of_link);
    Ok(Some(links.collect::<Result<_, Undecided>>()?))
}

/// Months since the year 0.
fn months_of(date: NaiveDate) -> i64 {
    i64::from(date.year()) * 12 + i64::from(date.month0())
}

impl LinkNights {
    fn add(&mut self, evening: NaiveDate) {
        let month = self
            .month(evening)
            .expect("every month was worked out")
            .clone();
        let risks = month.risks();
        if !risks.is_empty() {
            self.at_risk.push(evening);
        }
        for risk in risks {
            let certain = month.is_certain(risk);
            let last = self.periods.iter_mut().rev().find(|of| of.risk == risk);
            match last {
                Some(period)
                    if period.certain == certain
                        && months_of(evening) - months_of(period.to) <= 1 =>
                {
                    period.to = evening;
                    period.nights += 1;
                    let margin = |of: &MonthRisk| of.least(risk).map(|least| least.fraction);
                    if margin(&month) < margin(&period.worst) {
                        period.worst = month.clone();
                    }
                }
                _ => self.periods.push(Period {
                    risk,
                    certain,
                    from: evening,
                    to: evening,
                    nights: 1,
                    worst: month.clone(),
                }),
            }
        }
    }
}
