//! The command `link`: one link in depth, or many of them line by line.

use std::num::NonZeroU32;
use std::path::PathBuf;
use std::time::Instant;

use chrono::NaiveDate;
use clap::Args;

use pilotwire::check::check;
use pilotwire::civil_time::SiteZone;
use pilotwire::link::{CaseRun, CaseWord, Draw, Undecided, Verdict};
use pilotwire::picture::waveform::{waveform_csv, waveform_svg};
use pilotwire::report::{LinkReport, link_document, link_text};
use pilotwire::season::year_from;
use pilotwire::sweep::link_named;
use pilotwire::transient::batch::{Clock, batch};

use super::{
    Answer, Document, Failure, apart, can_be_planned, cores, local_date, now, written_if,
    yard_and_link,
};

/// Arguments of `link`.
#[derive(Args)]
pub(super) struct Words {
    /// Site file, then link: MASTER>SLAVE (in quotes, the shell takes > for itself), MASTER:SLAVE or the
    /// slave alone. Default: the built-in linked pair; the only link.
    #[arg(value_name = "SITE] [LINK", num_args = 0..=2)]
    yard: Vec<String>,
    /// A case to switch on and off in, words joined by commas: low-mains, nominal-mains, high-mains,
    /// coldest, typical, hottest, warm-coil, all-lamps, masters-lamps, no-lamps, flat-crest,
    /// aged-capacitor, worst-parts, large-coil, late-release, early-release. May be given again.
    /// Default: the ordinary evening.
    #[arg(long = "case", value_name = "WORDS", conflicts_with = "batch")]
    cases: Vec<String>,
    /// Every formula with the numbers in it.
    #[arg(long, conflicts_with = "batch")]
    explain: bool,
    /// Draws the first case into this file.
    #[arg(long, value_name = "FILE", conflicts_with = "batch")]
    svg: Option<PathBuf>,
    /// Writes the samples of the first case into this file.
    #[arg(long, value_name = "FILE", conflicts_with = "batch")]
    csv: Option<PathBuf>,
    /// Seed of the builds drawn at random.
    #[arg(long, default_value_t = 1, conflicts_with = "batch")]
    seed: u64,
    /// How many builds.
    #[arg(long, default_value_t = 1000, value_parser = clap::value_parser!(u32).range(1..=1_000_000), conflicts_with = "batch")]
    builds: u32,
    #[arg(long, value_enum, default_value_t = Document::Text, conflicts_with = "batch")]
    format: Document,
    /// Reads links from standard input, one JSON case per line, and writes one result per line.
    #[arg(long, conflicts_with = "yard")]
    batch: bool,
    /// With --batch: adds the seconds spent simulating to each result.
    #[arg(long, requires = "batch")]
    timing: bool,
    /// With --batch: how many threads. Default: all cores.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..), requires = "batch")]
    threads: Option<u16>,
}

impl Words {
    pub(super) fn answer(self, answer: &mut Answer) -> Result<(), Failure> {
        if self.batch {
            return stream(self.timing, self.threads);
        }
        let cases = self.case_words()?;
        let (yard, name) = yard_and_link(self.yard);
        apart(&yard, &[("--svg", &self.svg), ("--csv", &self.csv)])?;
        let site = yard.read(answer)?;
        let id = link_named(&site, name.as_deref())
            .map_err(|fault| Failure::Usage(fault.to_string()))?;
        let link = &site[id];
        let from = today(&site.timezone);
        can_be_planned(&site, &year_from(from))?;
        let draw = Draw {
            seed: self.seed,
            builds: NonZeroU32::new(self.builds).expect("at least one"),
        };
        let check = check(&site, from, draw)?;
        let undecided = |why| Failure::Undecided(format!("link {}: {why}", site.link_name(link)));
        let runs = cases
            .iter()
            .map(|words| CaseRun::new(&site, link, words))
            .collect::<Result<Vec<_>, _>>()
            .map_err(undecided)?;
        let report = LinkReport {
            site: &site,
            check: &check,
            id,
            runs: &runs,
        };
        answer.text = match self.format {
            Document::Text => link_text(&report, self.explain).map_err(undecided)?,
            Document::Json => link_document(&report),
        };
        answer.code = u8::from(report.verdict() == Verdict::NoGo);
        if self.svg.is_some() || self.csv.is_some() {
            let trace = report.trace(&runs[0]).map_err(undecided)?;
            let drawn = written_if(self.svg, || waveform_svg(&trace).file(), answer);
            let listed = written_if(self.csv, || waveform_csv(&trace), answer);
            drawn.and(listed)?;
        }
        Ok(())
    }

    /// The words of every case; one ordinary case without any.
    fn case_words(&self) -> Result<Vec<Vec<CaseWord>>, Failure> {
        if self.cases.is_empty() {
            return Ok(vec![Vec::new()]);
        }
        self.cases
            .iter()
            .map(|case| {
                let words: Vec<CaseWord> = case
                    .split(',')
                    .map(|word| case_word(word.trim()))
                    .collect::<Result<_, _>>()?;
                for (place, word) in words.iter().enumerate() {
                    let other = words[..place].iter().find(|at| at.about() == word.about());
                    if let Some(other) = other {
                        return Err(Failure::Usage(format!(
                            "--case {case}: {} and {} exclude each other; give --case twice for two cases",
                            other.name(),
                            word.name()
                        )));
                    }
                }
                Ok(words)
            })
            .collect()
    }
}

fn case_word(word: &str) -> Result<CaseWord, Failure> {
    if let Some((_, known)) = CaseWord::ALL.iter().find(|(name, _)| *name == word) {
        return Ok(*known);
    }
    let names = CaseWord::ALL.map(|(name, _)| name);
    let meant = pilotwire::site::nearest(word, names)
        .map_or_else(String::new, |near| format!(", did you mean {near}?"));
    Err(Failure::Usage(format!(
        "--case does not know {word:?}{meant}; it takes {}",
        names.join(", ")
    )))
}

fn today(zone: &SiteZone) -> NaiveDate {
    local_date(zone, now())
}

impl From<Undecided> for Failure {
    fn from(error: Undecided) -> Self {
        Self::Undecided(error.to_string())
    }
}

/// Streams: the one command whose answer is written as it goes.
fn stream(timing: bool, threads: Option<u16>) -> Result<(), Failure> {
    #[expect(
        clippy::disallowed_methods,
        reason = "the shell reads the clock and passes it on"
    )]
    let start = Instant::now();
    let clock = || start.elapsed();
    let threads = cores(threads);
    let clock: Option<Clock<'_>> = if timing { Some(&clock) } else { None };
    match batch(std::io::stdin(), std::io::stdout(), threads, clock) {
        // A reader that has seen enough is no error of ours.
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Failure::Stream(format!("the batch broke off: {error}")))
        }
        _ => Ok(()),
    }
}
