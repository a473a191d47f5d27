//! The command `season`: many evenings summed up, drawn, or as a table.

use std::path::PathBuf;

use chrono::NaiveDate;
use clap::Args;

use pilotwire::link;
use pilotwire::picture::season::{season_strip, season_svg};
use pilotwire::report;
use pilotwire::schedule::skies;
use pilotwire::season::{season, year_from};

use super::terminal::Terminal;
use super::{
    Answer, Evenings, Failure, Yard, apart, can_be_planned, dates, local_date, now, written,
};

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
    /// Draws it into this file: daylight, twilights, and when each zone is lit.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// The same drawn in characters, instead of the sums.
    #[arg(long, conflicts_with_all = ["every_night", "format"])]
    picture: bool,
    #[arg(long, value_enum, default_value_t = Evenings::Text)]
    format: Evenings,
}

impl Words {
    pub(super) fn answer(self, answer: &mut Answer) -> Result<(), Failure> {
        apart(&self.yard, &[("--svg", &self.svg)])?;
        let site = self.yard.read(answer)?;
        let from = self
            .from
            .unwrap_or_else(|| local_date(&site.timezone, now()));
        let evenings = dates(from, self.to.unwrap_or_else(|| *year_from(from).end()))?;
        can_be_planned(&site, &evenings)?;
        let season = season(&site, evenings.clone(), &link::following(&site)?)?;
        let skies = || skies(&site, evenings.clone());
        answer.text = match self.format {
            _ if self.picture => {
                let Terminal { columns, colour } = Terminal::of(&std::io::stdout());
                season_strip(&site, &season, &skies()?, columns, colour)
            }
            Evenings::Text => report::season_text(&site, &season, self.every_night),
            Evenings::Json => report::season_json(&site, &season),
            Evenings::Csv => report::season_csv(&site, &season),
            Evenings::Ics => report::rows_ics(&site, &season.plan),
        };
        if let Some(path) = &self.svg {
            written(path, &season_svg(&site, &season, &skies()?).file(), answer)?;
        }
        Ok(())
    }
}
