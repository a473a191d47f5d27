//! The command `rehearse`: the service against a simulated yard, with faults.

use std::fmt::Write as _;
use std::io::Write as _;
use std::time::Duration;

use chrono::NaiveDate;
use clap::{Args, ValueEnum};

use pilotwire::chain::Pace;
use pilotwire::civil_time::ZoneInfo;
use pilotwire::rehearsal::campaign::{self, DRAW, campaign};
use pilotwire::rehearsal::{
    ASK_WORDS, Ask, Chip, Fault, Links, Script, Ticks, WORDS, rehearse, yards,
};
use pilotwire::report;
use pilotwire::site::Site;

use super::progress::Count;
use super::{Answer, Document, Failure, Yard, can_be_planned, dates, last_of, local_date, now};

/// Arguments of `rehearse`.
#[derive(Args)]
#[command(after_help = help())]
pub(super) struct Words {
    #[command(flatten)]
    yard: Yard,
    /// A built-in yard with lines and inputs instead of a site file.
    #[arg(long = "yard", value_name = "NAME", conflicts_with = "site")]
    built_in: Option<String>,
    /// First evening. Default: today.
    #[arg(long, value_name = "YYYY-MM-DD")]
    from: Option<NaiveDate>,
    /// How many evenings. Default: 14.
    #[arg(long, default_value_t = 14, value_parser = clap::value_parser!(u32).range(1..=366 * 10))]
    nights: u32,
    /// Something that goes wrong; may be given again.
    #[arg(long = "fault", value_name = "WORDS")]
    faults: Vec<String>,
    /// Something that the owner asks for; may be given again.
    #[arg(long = "ask", value_name = "WORDS")]
    asks: Vec<String>,
    /// Seed of all that is left to chance.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// How fast it is shown: max, or so many times as fast as it would happen.
    #[arg(long, default_value = "max", value_name = "max|60x", value_parser = speed)]
    speed: Speed,
    /// How fast the links and supplies of the yard are.
    #[arg(long, value_enum, default_value_t = PaceWord::Typical)]
    pace: PaceWord,
    /// What lines do whose service is dead: go dark, or stay as they are.
    #[arg(long, value_enum, default_value_t = ChipWord::LetsGo)]
    chip: ChipWord,
    /// How many safety ticks of quiet times are tried: all, or one of ten.
    #[arg(long, value_enum, default_value_t = TicksWord::All)]
    ticks: TicksWord,
    /// So many runs of 20 evenings with faults and requests drawn at random.
    #[arg(long, value_name = "RUNS", conflicts_with_all = ["faults", "asks", "from", "nights"], value_parser = clap::value_parser!(u64).range(1..))]
    campaign: Option<u64>,
    /// First run of a campaign.
    #[arg(
        long,
        value_name = "NUMBER",
        default_value_t = 0,
        requires = "campaign"
    )]
    first: u64,
    #[arg(long, value_enum, default_value_t = Document::Text)]
    format: Document,
}

#[derive(Clone, Copy)]
enum Speed {
    Max,
    Times(f64),
}

fn speed(text: &str) -> Result<Speed, String> {
    if text == "max" {
        return Ok(Speed::Max);
    }
    text.strip_suffix('x')
        .and_then(|times| times.parse::<f64>().ok())
        .filter(|times| (0.1..=1e6).contains(times))
        .map(Speed::Times)
        .ok_or_else(|| "write max, or how many times as fast: 60x".into())
}

#[derive(Clone, Copy, ValueEnum)]
enum PaceWord {
    Quickest,
    Typical,
    Slowest,
}

#[derive(Clone, Copy, ValueEnum)]
enum ChipWord {
    LetsGo,
    Keeps,
}

#[derive(Clone, Copy, ValueEnum)]
enum TicksWord {
    All,
    Sparse,
}

fn help() -> String {
    let mut text = format!("Faults:\n{WORDS}\n\nRequests:\n{ASK_WORDS}\n\nBuilt-in yards:\n");
    for (name, what) in yards::NAMES {
        let _ = writeln!(text, "{name}\n    {what}");
    }
    text
}

fn built_in(name: &str) -> Result<Site, Failure> {
    let zones = ZoneInfo::from_environment();
    yards::yard(name, &|zone| zones.open(zone)).ok_or_else(|| {
        let names: Vec<_> = yards::NAMES.iter().map(|(name, _)| *name).collect();
        Failure::Usage(format!(
            "there is no built-in yard {name:?}, or no time zone rules for it; the yards are {}",
            names.join(", ")
        ))
    })
}

impl Words {
    pub(super) fn answer(self, answer: &mut Answer) -> Result<(), Failure> {
        if let Some(runs) = self.campaign {
            return self.many(runs, answer);
        }
        let site = self.site(answer)?;
        let from = self
            .from
            .unwrap_or_else(|| local_date(&site.timezone, now()));
        can_be_planned(&site, &dates(from, last_of(from, self.nights)?)?)?;
        let faults: Vec<_> = self
            .faults
            .iter()
            .map(|text| Fault::parse(text, &site, from))
            .collect::<Result<_, _>>()
            .map_err(Failure::Usage)?;
        let asks = self
            .asks
            .iter()
            .map(|text| Ask::parse(text, &site, from))
            .collect::<Result<_, _>>()
            .map_err(Failure::Usage)?;
        let links = Links::judge(&site, DRAW, &faults)?;
        let script = Script {
            site: &site,
            links: &links,
            from,
            nights: self.nights,
            faults,
            asks,
            pace: match self.pace {
                PaceWord::Quickest => Pace::Quickest,
                PaceWord::Typical => Pace::Typical,
                PaceWord::Slowest => Pace::Slowest,
            },
            chip: match self.chip {
                ChipWord::LetsGo => Chip::LetsGo,
                ChipWord::Keeps => Chip::Keeps,
            },
            ticks: match self.ticks {
                TicksWord::All => Ticks::All,
                TicksWord::Sparse => Ticks::Sparse,
            },
            seed: self.seed,
            watch: true,
            most_findings: 20,
        };
        let mut rehearsed = rehearse(&script).map_err(|error| no_folder(&error))?;
        if let Speed::Times(times) = self.speed {
            shown(&site, &rehearsed.seen, times)?;
            rehearsed.seen.clear();
        }
        answer.text = match self.format {
            Document::Text => report::rehearsal_text(&script, &rehearsed),
            Document::Json => report::rehearsal_json(&script, &rehearsed),
        };
        answer.code = u8::from(!rehearsed.findings.is_empty());
        Ok(())
    }

    fn site(&self, answer: &mut Answer) -> Result<Site, Failure> {
        if let Some(name) = &self.built_in {
            return built_in(name);
        }
        let mut site = self.yard.read(answer)?;
        if site.outputs.is_empty() {
            let _ = writeln!(
                answer.notes,
                "pilotwire: no [[output]]: taken as if the board switched every timed zone,\n  and had an input for every other"
            );
            yards::wire(&mut site);
        }
        Ok(site)
    }

    fn many(self, runs: u64, answer: &mut Answer) -> Result<(), Failure> {
        let count = Count::of(runs, "runs");
        let mut yards = Vec::new();
        if self.yard.site.is_some() || self.built_in.is_some() {
            let site = self.site(answer)?;
            let words = match (&self.yard.site, &self.built_in) {
                (Some(path), _) => path.display().to_string(),
                (_, Some(name)) => format!("--yard {name}"),
                (None, None) => String::new(),
            };
            yards.push(campaign::Yard::new(words, site)?);
        } else {
            for (name, _) in yards::NAMES {
                yards.push(campaign::Yard::new(
                    format!("--yard {name}"),
                    built_in(name)?,
                )?);
            }
        }
        let outcome = campaign(&mut yards, runs, self.seed, self.first, |_| count.one())
            .map_err(|error| no_folder(&error))?;
        answer.text = match self.format {
            Document::Text => report::campaign_text(&yards, &outcome),
            Document::Json => report::campaign_json(&yards, &outcome),
        };
        answer.code = u8::from(outcome.wrong.is_some());
        Ok(())
    }
}

fn no_folder(error: &std::io::Error) -> Failure {
    Failure::Stream(format!(
        "no store in {}: {error}; set TMPDIR to a folder that can be written",
        std::env::temp_dir().display()
    ))
}

/// Shows what happens, so many times as fast as it would.
fn shown(site: &Site, seen: &[pilotwire::rehearsal::Seen], times: f64) -> Result<(), Failure> {
    let mut out = std::io::stdout();
    let mut before = seen.first().map(|seen| seen.at);
    for seen in seen {
        let apart = before.map_or(0.0, |before| (seen.at - before).as_seconds_f64());
        before = Some(seen.at);
        std::thread::sleep(Duration::from_secs_f64((apart / times).max(0.0)));
        out.write_all(report::seen_line(site, seen).as_bytes())
            .and_then(|()| out.flush())
            .map_err(|error| Failure::Stream(error.to_string()))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::help;

    /// From 50 columns on nothing of it is broken.
    #[test]
    fn the_lists_of_the_help_fit_a_narrow_terminal() {
        for line in help().lines() {
            assert!(line.chars().count() <= 50, "{line}");
        }
    }
}
