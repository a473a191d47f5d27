//! The command `season`: many evenings summed up, or as a table.

use chrono::NaiveDate;
use clap::Args;

use pilotwire::chain;
use pilotwire::report;
use pilotwire::season::{season, year_from};

use super::{Answer, Evenings, Failure, Yard, dates, local_date, now, within_almanac};

/// Arguments of `season`.
#[derive(Args)]
pub(super) struct Words {
    #[command(flatten)]
    yard: Yard,
    /// First evening. Default: today.
    #[arg(long, value_name = "YYYY-MM-DD")]
    from: Option<NaiveDate>,
    /// Last evening. Default: a year after the first.
    #[arg(long, value_name = "YYYY-MM-DD")]
    to: Option<NaiveDate>,
    /// Every evening after the sums.
    #[arg(long)]
    every_night: bool,
    #[arg(long, value_enum, default_value_t = Evenings::Text)]
    format: Evenings,
}

impl Words {
    pub(super) fn answer(self, answer: &mut Answer) -> Result<(), Failure> {
        let site = self.yard.read(answer)?;
        let from = self
            .from
            .unwrap_or_else(|| local_date(&site.timezone, now()));
        let evenings = dates(from, self.to.unwrap_or_else(|| *year_from(from).end()))?;
        within_almanac(&evenings)?;
        let season = season(&site, evenings, &chain::following(&site)?)?;
        answer.text = match self.format {
            Evenings::Text => report::season_text(&site, &season, self.every_night),
            Evenings::Json => report::season_json(&site, &season),
            Evenings::Csv => report::season_csv(&site, &season),
            Evenings::Ics => report::rows_ics(&site, &season.plan),
        };
        Ok(())
    }
}
