//! Commands, their arguments, and what they print.

use std::fmt::Write;
use std::io::Read;
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};

use chrono::{DateTime, Datelike, Days, NaiveDate, Utc};
use clap::{Args, Parser, Subcommand, ValueEnum};
use tracing::{debug, info};

use pilotwire::almanac::{self, AlmanacError, Place, SunTable};
use pilotwire::check::check;
use pilotwire::civil_time::{SiteZone, ZoneInfo};
use pilotwire::link::FollowingByMonth;
use pilotwire::link::{Draw, Verdict, following};
use pilotwire::parallel;
use pilotwire::report::{self, SunDays};
use pilotwire::schedule::NoAnswer;
use pilotwire::schedule::{Evening, evening_at, plan};
use pilotwire::season::{season, year_from};
use pilotwire::site::{self, Problems, Site};

mod lines;
mod link;
mod outputs;
mod picture;
mod progress;
mod rehearse;
mod season;
mod service;
mod sheet;
mod sweep;
mod terminal;

use progress::Progress;
use terminal::Terminal;

/// Wrong words on the command line (`EX_USAGE` of sysexits.h).
const USAGE: u8 = 64;
/// A service that does not answer or cannot start (`EX_UNAVAILABLE`).
const UNAVAILABLE: u8 = 69;
/// A simulation that cannot conclude (`EX_SOFTWARE`).
const UNDECIDED: u8 = 70;
/// Output could not be written (`EX_IOERR`).
pub(super) const IO_ERROR: u8 = 74;
/// A site file that cannot be used (`EX_CONFIG`).
const CONFIG: u8 = 78;

/// The yard that stands in where no site file is given.
const BUILT_IN: (&str, &str) = (
    "config/linked-pair.toml",
    include_str!("../config/linked-pair.toml"),
);

/// Most evenings or days of one answer: the years of the almanac.
const MOST_DAYS: i64 = 151 * 366;

/// What a command says.
#[derive(Default)]
pub(super) struct Answer {
    /// For standard output.
    pub(super) text: String,
    /// For standard error.
    pub(super) notes: String,
    /// Why there is no more than that, for standard error after the text.
    pub(super) failure: String,
    /// Exit code.
    pub(super) code: u8,
}

/// Plans, checks and dry-runs relay-linked low-voltage lighting zones.
///
/// Without a command: the overview of the built-in yard.
#[derive(Parser)]
#[command(name = "pilotwire", version, max_term_width = 80)]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
    /// Say on standard error what is read; twice for more.
    #[arg(short, long, global = true, action = clap::ArgAction::Count)]
    verbose: u8,
}

#[derive(Subcommand)]
enum Command {
    /// Verdict, tonight and the season in short.
    Overview {
        #[command(flatten)]
        yard: Yard,
        /// The day it is taken to be. Default: today.
        #[arg(long, value_name = "YYYY-MM-DD")]
        date: Option<NaiveDate>,
        #[arg(long, value_enum, default_value_t = Document::Text)]
        format: Document,
    },
    /// Whether to build it: every link, every lamp run, every caution.
    Check {
        #[command(flatten)]
        yard: Yard,
        /// Every formula with the numbers in it.
        #[arg(long)]
        explain: bool,
        /// A caution counts as a failure.
        #[arg(long)]
        strict: bool,
        /// First day of the year that the cautions look at. Default: today.
        #[arg(long, value_name = "YYYY-MM-DD")]
        date: Option<NaiveDate>,
        #[arg(long, value_enum, default_value_t = Document::Text)]
        format: Document,
    },
    /// What switches when, and why; tonight by default.
    Plan {
        #[command(flatten)]
        yard: Yard,
        /// First evening. Default: tonight.
        #[arg(long, value_name = "YYYY-MM-DD")]
        date: Option<NaiveDate>,
        /// How many evenings.
        #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=366 * 10))]
        nights: u32,
        #[arg(long, value_enum, default_value_t = Evenings::Text)]
        format: Evenings,
    },
    /// A season summed up by zone and month; a year from today by default.
    Season(season::Words),
    /// Sun events of a place by local solar date; today by default.
    Sun {
        #[command(flatten)]
        yard: Yard,
        /// Degrees, north positive; with --longitude instead of a site file, times in UTC.
        #[arg(
            long,
            value_name = "DEGREES",
            requires = "longitude",
            conflicts_with = "site",
            allow_negative_numbers = true
        )]
        latitude: Option<f64>,
        /// Degrees, east positive.
        #[arg(
            long,
            value_name = "DEGREES",
            requires = "latitude",
            allow_negative_numbers = true
        )]
        longitude: Option<f64>,
        /// First solar date. Default: today.
        #[arg(long, value_name = "YYYY-MM-DD")]
        from: Option<NaiveDate>,
        /// Last solar date.
        #[arg(long, value_name = "YYYY-MM-DD", conflicts_with = "days")]
        to: Option<NaiveDate>,
        /// How many days. Default: 1.
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
        days: Option<u32>,
        /// A further altitude of the sun to give, in degrees.
        #[arg(long, value_name = "DEGREES", allow_negative_numbers = true)]
        altitude: Option<f64>,
        #[arg(long, value_enum, default_value_t = Table::Text)]
        format: Table,
    },
    /// A link with one thing changed step by step, or two: what works, and where it ends.
    ///
    /// `pilotwire sweep my-yard.toml fence --vary length=20..200m --vary relay=all`
    Sweep(sweep::Words),
    /// The JSON Schema of the site file.
    Schema,
    /// Keep the yard: drive its lines by the plan, watch its inputs, until told to stop.
    Run(service::Run),
    #[command(flatten)]
    Ask(service::Ask),
    /// One link in depth: four questions, times, builds, waveforms.
    Link(link::Words),
    /// A picture, in characters or as SVG: the yard, margin ladders, volts at the lamps, the chain.
    ///
    /// What another command says is drawn by that one: the season by `season --svg`, a link's waveforms by
    /// `link --svg`, margins over a length or a part by `sweep --svg`.
    Picture(picture::Words),
    /// The paper that stays with the yard: one HTML file to print, with everything for whoever builds,
    /// measures, or switches it off. Exit code 1 for a yard that is a no-go.
    Sheet(sheet::Words),
    /// The GPIO lines of this board: what it has, and whether those of the site are there and free.
    ///
    /// Requests nothing and changes nothing. A line that pilotwire holds is shown as held by
    /// `pilotwire:ZONES`, the zones of all lines of that chip, as far as 31 bytes reach. Exit code 1 if a
    /// line of the site is missing, ambiguous, forbidden, or held by something else.
    Lines(lines::Words),
    /// The outputs of a site, driven without its service.
    #[command(subcommand)]
    Outputs(outputs::Words),
    /// The service against a simulated yard, with faults: what happens, and whether it is as wanted.
    Rehearse(rehearse::Words),
}

#[derive(Args)]
struct Yard {
    /// Site file, or - for standard input. Default: the built-in linked pair.
    site: Option<PathBuf>,
}

#[derive(Clone, Copy, ValueEnum)]
enum Table {
    Text,
    Json,
    Csv,
}

#[derive(Clone, Copy, ValueEnum)]
enum Document {
    Text,
    Json,
}

/// What a table of evenings can be written as.
#[derive(Clone, Copy, ValueEnum)]
enum Evenings {
    Text,
    Json,
    Csv,
    /// A calendar of what is lit, for a telephone (iCalendar, RFC 5545).
    Ics,
}

/// Why a command has no answer.
enum Failure {
    /// There is no site file to be read.
    NoFile(String),
    /// The site file cannot be used.
    Site(Problems),
    /// The words make no sense together.
    Usage(String),
    /// Input or output broke off.
    Stream(String),
    /// A simulation cannot conclude.
    Undecided(String),
    /// A service does not answer, or cannot start.
    Service(String),
    /// A service refuses what it was asked for.
    Refused(String),
}

impl From<NoAnswer> for Failure {
    fn from(error: NoAnswer) -> Self {
        match error {
            NoAnswer::Almanac(error) => error.into(),
            NoAnswer::Undecided(error) => error.into(),
        }
    }
}

impl From<AlmanacError> for Failure {
    fn from(error: AlmanacError) -> Self {
        Self::Usage(error.to_string())
    }
}

/// Runs the command line of this process.
pub(super) fn run() -> Answer {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            let mut text = error.render().to_string();
            if error.kind() == clap::error::ErrorKind::InvalidSubcommand
                && std::env::args().any(|word| word.to_lowercase().ends_with(".toml"))
            {
                text.push_str(
                    "\nA site file comes after a command: pilotwire overview my-yard.toml\n",
                );
            }
            return if error.use_stderr() {
                Answer {
                    notes: text,
                    code: USAGE,
                    ..Answer::default()
                }
            } else {
                Answer {
                    text,
                    ..Answer::default()
                }
            };
        }
    };
    if cli.verbose > 0 {
        let level = if cli.verbose == 1 {
            tracing::Level::INFO
        } else {
            tracing::Level::DEBUG
        };
        tracing_subscriber::fmt()
            .with_max_level(level)
            .with_writer(std::io::stderr)
            .without_time()
            .init();
    }
    let mut answer = Answer::default();
    let command = cli.command.unwrap_or(Command::Overview {
        yard: Yard { site: None },
        date: None,
        format: Document::Text,
    });
    if let Err(failure) = command.answer(&mut answer) {
        let (code, why) = match failure {
            Failure::NoFile(why) => (CONFIG, format!("{why}\n")),
            Failure::Site(problems) => {
                let terminal = Terminal::of(&std::io::stderr());
                (CONFIG, problems.render(terminal.columns, terminal.colour))
            }
            Failure::Usage(why) => (USAGE, format!("pilotwire: {why}\n")),
            Failure::Undecided(why) => (UNDECIDED, format!("pilotwire: {why}\n")),
            Failure::Service(why) => (UNAVAILABLE, format!("pilotwire: {why}\n")),
            Failure::Refused(why) => (1, format!("pilotwire: {why}\n")),
            Failure::Stream(why) => (IO_ERROR, format!("pilotwire: {why}\n")),
        };
        answer.failure = why;
        answer.code = code;
    }
    answer
}

fn now() -> DateTime<Utc> {
    pilotwire::service::clock::utc()
}

impl Yard {
    /// Reads the site file, or the built-in one, said in the notes.
    fn read(&self, answer: &mut Answer) -> Result<Site, Failure> {
        let (name, bytes) = self.bytes(answer)?;
        Self::resolve(&name, &bytes)
    }

    /// Name and bytes of the site file.
    fn bytes(&self, answer: &mut Answer) -> Result<(String, Vec<u8>), Failure> {
        Ok(match &self.site {
            None => {
                let _ = writeln!(
                    answer.notes,
                    "pilotwire: no site file given: the built-in yard of {}",
                    BUILT_IN.0
                );
                (BUILT_IN.0.to_owned(), BUILT_IN.1.as_bytes().to_vec())
            }
            Some(path) if path.as_os_str() == "-" => {
                let name = "standard input".to_owned();
                let bytes = at_most_a_file(std::io::stdin())
                    .map_err(|error| Failure::NoFile(format!("{name} cannot be read: {error}")))?;
                (name, bytes)
            }
            Some(path) => {
                let name = path.display().to_string();
                let read = std::fs::File::open(path).and_then(at_most_a_file);
                let bytes = read.map_err(|error| match error.kind() {
                    // Anything else may be otherwise in a second, and is no fault of the site file.
                    std::io::ErrorKind::NotFound
                    | std::io::ErrorKind::IsADirectory
                    | std::io::ErrorKind::PermissionDenied => Failure::NoFile(format!(
                        "{name} cannot be read: {error}; give the path of a site file"
                    )),
                    _ => Failure::Stream(format!("{name} cannot be read: {error}")),
                })?;
                (name, bytes)
            }
        })
    }

    /// The yard that a site file describes.
    fn resolve(name: &str, bytes: &[u8]) -> Result<Site, Failure> {
        let zones = ZoneInfo::from_environment();
        let site = site::read(bytes, name, &|zone| zones.open(zone)).map_err(Failure::Site)?;
        info!(file = ?name, zones = site.zones.len(), links = site.links.len(), "site file read");
        debug!(
            tz = site.timezone.name(),
            version = zones.version().unwrap_or("unknown"),
            "time zone rules read"
        );
        Ok(site)
    }
}

/// Reads a site file: one byte beyond its limit is enough to see that it is passed.
fn at_most_a_file(source: impl Read) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    source
        .take(site::LARGEST_FILE as u64 + 1)
        .read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// The local date at an instant.
fn local_date(zone: &SiteZone, at: DateTime<Utc>) -> NaiveDate {
    zone.to_local(at).date()
}

/// The evening that is on or comes next.
fn tonight(site: &Site, following: &[FollowingByMonth]) -> NaiveDate {
    evening_at(site, now(), |date| {
        plan(site, date..=date, following).ok()?.lit_until()
    })
}

/// A range of dates, neither backwards nor longer than the almanac.
fn dates(from: NaiveDate, to: NaiveDate) -> Result<RangeInclusive<NaiveDate>, Failure> {
    if to < from {
        return Err(Failure::Usage(format!(
            "the dates run backwards: {to} is before {from}"
        )));
    }
    if (to - from).num_days() > MOST_DAYS {
        return Err(Failure::Usage(format!(
            "{from} to {to} is more than the almanac's years"
        )));
    }
    Ok(from..=to)
}

/// The last of so many days, kept within what a date can hold.
fn last_of(from: NaiveDate, days: u32) -> Result<NaiveDate, Failure> {
    from.checked_add_days(Days::new(u64::from(days) - 1))
        .ok_or_else(|| Failure::Usage(format!("{days} days from {from} are beyond the calendar")))
}

/// Whether these evenings have a plan: it needs the sun of a few days around them, and at least one
/// evening that the clocks of the site have not left out.
fn can_be_planned(site: &Site, evenings: &RangeInclusive<NaiveDate>) -> Result<(), Failure> {
    let years = almanac::YEARS;
    let inside = |date: NaiveDate| years.contains(&date.year());
    let first = evenings.start().checked_sub_days(Days::new(2));
    let last = evenings.end().checked_add_days(Days::new(3));
    if first.is_some_and(inside) && last.is_some_and(inside) {
        let only = *evenings.start();
        if only == *evenings.end() && Evening::of(site, only).never_was() {
            return Err(Failure::Usage(format!(
                "there was no {only} in {}: the clocks went from {} to {}; give one of those",
                site.timezone.name(),
                only - Days::new(1),
                only + Days::new(1)
            )));
        }
        return Ok(());
    }
    Err(Failure::Usage(format!(
        "{} to {} is outside the years {} to {}, or too near their ends",
        evenings.start(),
        evenings.end(),
        years.start(),
        years.end()
    )))
}

impl Command {
    fn answer(self, answer: &mut Answer) -> Result<(), Failure> {
        match self {
            Self::Overview { yard, date, format } => {
                let site = yard.read(answer)?;
                let _told = Progress::of_links(&site);
                let following = following(&site)?;
                let evening = date.unwrap_or_else(|| tonight(&site, &following));
                let year = year_from(evening);
                can_be_planned(&site, &(evening..=evening))?;
                can_be_planned(&site, &year)?;
                let check = check(&site, evening, Draw::FEWEST)?;
                let tonight = plan(&site, evening..=evening, &following)?;
                answer.text = match format {
                    Document::Json => report::overview_json(&site, &check, &tonight),
                    Document::Text => {
                        let season = season(&site, year, &following)?;
                        report::overview_text(&site, &check, &tonight, &season)
                    }
                };
                answer.code = u8::from(check.verdict == Verdict::NoGo);
            }
            Self::Check {
                yard,
                explain,
                strict,
                date,
                format,
            } => {
                let site = yard.read(answer)?;
                let from = date.unwrap_or_else(|| local_date(&site.timezone, now()));
                can_be_planned(&site, &year_from(from))?;
                let _told = Progress::of_links(&site);
                let check = check(&site, from, Draw::default())?;
                answer.text = match format {
                    Document::Text => report::check_text(&site, &check, explain),
                    Document::Json => report::check_json(&site, &check),
                };
                let failed =
                    check.verdict == Verdict::NoGo || (strict && check.verdict == Verdict::Caution);
                answer.code = u8::from(failed);
            }
            Self::Plan {
                yard,
                date,
                nights,
                format,
            } => {
                let site = yard.read(answer)?;
                let following = following(&site)?;
                let first = date.unwrap_or_else(|| tonight(&site, &following));
                let evenings = dates(first, last_of(first, nights)?)?;
                can_be_planned(&site, &evenings)?;
                let plan = plan(&site, evenings, &following)?;
                answer.text = match format {
                    Evenings::Text => report::rows_text(&site, &plan),
                    Evenings::Json => report::rows_json(&site, &plan),
                    Evenings::Csv => report::rows_csv(&site, &plan),
                    Evenings::Ics => report::rows_ics(&site, &plan),
                };
            }
            Self::Season(words) => words.answer(answer)?,
            Self::Sun {
                yard,
                latitude,
                longitude,
                from,
                to,
                days,
                altitude,
                format,
            } => {
                if altitude.is_some_and(|degrees| !(-90.0..=90.0).contains(&degrees)) {
                    return Err(Failure::Usage(
                        "the sun stands between -90 and 90 degrees".into(),
                    ));
                }
                let (place, zone) = if let Some((latitude, longitude)) = latitude.zip(longitude) {
                    (Place::new(latitude, longitude)?, None)
                } else {
                    let site = yard.read(answer)?;
                    (site.place, Some(site.timezone))
                };
                let from = from.unwrap_or_else(|| {
                    zone.as_ref()
                        .map_or_else(|| now().date_naive(), |zone| local_date(zone, now()))
                });
                let to = match (to, days) {
                    (Some(to), _) => to,
                    (None, days) => last_of(from, days.unwrap_or(1))?,
                };
                let sun = sun_days(place, dates(from, to)?, altitude)?;
                answer.text = match format {
                    Table::Text => report::sun_text(&sun, zone.as_ref()),
                    Table::Json => report::sun_json(&sun),
                    Table::Csv => report::sun_csv(&sun),
                };
            }
            Self::Sweep(words) => words.answer(answer)?,
            Self::Run(words) => words.answer(answer)?,
            Self::Ask(words) => words.answer(answer)?,
            Self::Schema => {
                let mut text =
                    serde_json::to_string_pretty(site::schema()).expect("a schema is plain data");
                text.push('\n');
                answer.text = text;
            }
            Self::Link(words) => words.answer(answer)?,
            Self::Picture(words) => words.answer(answer)?,
            Self::Sheet(words) => words.answer(answer)?,
            Self::Lines(words) => words.answer(answer)?,
            Self::Outputs(words) => words.answer(answer)?,
            Self::Rehearse(words) => words.answer(answer)?,
        }
        Ok(())
    }
}

/// So many threads, or as many as there are cores.
fn cores(threads: Option<u16>) -> usize {
    threads.map_or_else(parallel::cores, usize::from)
}

/// `[SITE] [LINK]`: a word alone is a site file if it looks like a path, or is one.
fn yard_and_link(words: Vec<String>) -> (Yard, Option<String>) {
    let mut words = words.into_iter();
    let (first, second) = (words.next(), words.next());
    let is_file = |word: &String| {
        word == "-"
            || word.contains('/')
            || word.to_lowercase().ends_with(".toml")
            || std::path::Path::new(word).is_file()
    };
    match (first, second) {
        (Some(word), None) if !is_file(&word) => (Yard { site: None }, Some(word)),
        (site, link) => (
            Yard {
                site: site.map(PathBuf::from),
            },
            link,
        ),
    }
}

/// The one file that two paths name, whether it is there yet or not.
fn same_file(one: &Path, other: &Path) -> bool {
    let whole = |path: &Path| {
        std::fs::canonicalize(path).ok().or_else(|| {
            let folder = path.parent().filter(|folder| *folder != Path::new(""));
            let folder = std::fs::canonicalize(folder.unwrap_or(Path::new("."))).ok()?;
            Some(folder.join(path.file_name()?))
        })
    };
    one == other || whole(one).is_some_and(|one| whole(other) == Some(one))
}

/// Refuses files that would overwrite each other, or the site file; to be asked before anything is written.
fn apart(yard: &Yard, outputs: &[(&str, &Option<PathBuf>)]) -> Result<(), Failure> {
    let stream = Path::new("-");
    let site = yard.site.as_deref().filter(|site| *site != stream);
    let mut before: Vec<(&str, &Path)> = Vec::new();
    for (option, path) in outputs {
        let Some(path) = path.as_deref() else {
            continue;
        };
        let shown = path.display();
        if site.is_some_and(|site| same_file(site, path)) {
            return Err(Failure::Usage(format!(
                "{option} {shown} would overwrite the site file; give it another name"
            )));
        }
        if let Some((first, other)) = before.iter().find(|(_, other)| same_file(other, path)) {
            return Err(Failure::Usage(format!(
                "{first} {} and {option} {shown} are one file, and the second would overwrite the first; give them two names",
                other.display()
            )));
        }
        before.push((option, path));
    }
    Ok(())
}

/// Writes a file and says so.
fn written(path: &Path, text: &str, answer: &mut Answer) -> Result<(), Failure> {
    std::fs::write(path, text).map_err(|error| {
        Failure::Stream(format!("{} cannot be written: {error}", path.display()))
    })?;
    let _ = writeln!(answer.notes, "pilotwire: written: {}", path.display());
    Ok(())
}

/// The same, if there is a file to write into.
fn written_if(
    path: Option<PathBuf>,
    text: impl FnOnce() -> String,
    answer: &mut Answer,
) -> Result<(), Failure> {
    path.map_or(Ok(()), |path| written(&path, &text(), answer))
}

fn sun_days(
    place: Place,
    dates: RangeInclusive<NaiveDate>,
    altitude_deg: Option<f64>,
) -> Result<SunDays, Failure> {
    let (mut date, last) = dates.clone().into_inner();
    let table = SunTable::for_dates(dates)?;
    let mut days = Vec::new();
    while date <= last {
        days.push((date, table.day(place, date)?));
        date = date + Days::new(1);
    }
    Ok(SunDays {
        place,
        days,
        altitude_deg,
    })
}
