//! `run`, and the commands that ask a running service.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use chrono::{Days, NaiveDate, NaiveTime};
use clap::{Args, Subcommand, ValueEnum};

use pilotwire::civil_time::{SiteZone, ZoneInfo};
use pilotwire::daemon::control::{Filter, Reply, Request, Until};
use pilotwire::daemon::lines::{GpioLines, Lines, Printed};
use pilotwire::daemon::readings::Given;
use pilotwire::daemon::store::{Database, Trouble};
use pilotwire::report;
use pilotwire::site::TimeSpan;

use pilotwire::service::{Service, Unreachable, ask};
use pilotwire::site::{Line, Output, Site, Switching, ZoneId};

use super::{Answer, Document, Failure, Table, Yard};

/// Where the service keeps its socket where nothing else is said.
const SOCKET: &str = "/run/pilotwire/control.sock";

#[derive(Args)]
pub(super) struct Run {
    #[command(flatten)]
    yard: Yard,
    /// No GPIO: print each switching as it comes due, with its reason.
    #[arg(long)]
    print: bool,
    /// Folder of the store. Default: as in the site file; with --print, none.
    #[arg(long, value_name = "DIR")]
    state_dir: Option<PathBuf>,
    /// With --print, serve the page as well.
    #[arg(long)]
    page: bool,
    /// Control socket. Default: as in the site file; with --print, none.
    #[arg(long, value_name = "PATH")]
    socket: Option<PathBuf>,
}

#[derive(Args)]
pub(super) struct Where {
    /// The service's control socket.
    #[arg(long, value_name = "PATH", default_value = SOCKET)]
    socket: PathBuf,
}

#[derive(Clone, Copy, ValueEnum)]
pub(super) enum Switch {
    On,
    Off,
}

#[derive(Subcommand)]
pub(super) enum Ask {
    /// How the yard is, as the running service sees it.
    Status {
        #[command(flatten)]
        at: Where,
        #[arg(long, value_enum, default_value_t = Document::Text)]
        format: Document,
    },
    /// Hold a zone on or off for a while: an hour where the site file says nothing else.
    #[command(allow_missing_positional = true)]
    Force {
        /// The zone.
        #[arg(required_unless_present = "all", conflicts_with = "all")]
        zone: Option<String>,
        /// Every zone that this board has a line for; others follow by wire.
        #[arg(long)]
        all: bool,
        /// Lit, or dark.
        #[arg(value_enum)]
        to: Switch,
        /// For so long: 90s, 30m, 2h, 1h30m.
        #[arg(long = "for", value_name = "TIME", value_parser = seconds, group = "end")]
        lasting: Option<u32>,
        /// Until the yard's clocks next show this: 23:30.
        #[arg(long, value_name = "HH:MM", group = "end")]
        until: Option<String>,
        /// Until its plan next switches it.
        #[arg(long, group = "end")]
        until_next: bool,
        #[command(flatten)]
        at: Where,
    },
    /// What happened: every switching, every fault, with its reason.
    History {
        /// Of this zone alone.
        #[arg(long, value_name = "ZONE")]
        zone: Option<String>,
        /// From this date on, by the yard's clocks.
        #[arg(long, value_name = "YYYY-MM-DD")]
        from: Option<NaiveDate>,
        /// Up to and including this date.
        #[arg(long, value_name = "YYYY-MM-DD")]
        to: Option<NaiveDate>,
        /// At most so many of the newest; a running service gives 2000.
        #[arg(long, value_name = "N", default_value_t = 200)]
        most: u32,
        /// The folder of the store, which is read where no service answers.
        #[arg(long, value_name = "DIR", default_value = "/var/lib/pilotwire")]
        state_dir: PathBuf,
        /// The time zone of dates and times. Default: that of the service; without one, UTC.
        #[arg(long, value_name = "NAME")]
        timezone: Option<String>,
        #[command(flatten)]
        at: Where,
        #[arg(long, value_enum, default_value_t = Table::Text)]
        format: Table,
    },
    /// Let a zone go back to its plan.
    Release {
        /// The zone.
        #[arg(required_unless_present = "all", conflicts_with = "all")]
        zone: Option<String>,
        /// Every zone that is held.
        #[arg(long)]
        all: bool,
        #[command(flatten)]
        at: Where,
    },
    /// What meters should show at the test points, what they showed, and which fault fits. Exit code 1 if a
    /// reading is off.
    Readings {
        #[command(flatten)]
        at: Where,
        #[arg(long, value_enum, default_value_t = Document::Text)]
        format: Document,
    },
    /// Keep what a meter showed at test points of a zone: `"TP3 DC=14.7" TP2=12.3`. Exit code 1 if one of
    /// them is off, or nothing was kept.
    Measured {
        /// The zone on whose sheet they are.
        zone: String,
        /// A test point and what was read there; OL above the meter's range.
        #[arg(value_name = "POINT=VALUE", required = true, value_parser = reading)]
        readings: Vec<(String, String)>,
        #[command(flatten)]
        at: Where,
    },
    /// Have the site file read anew; a bad one leaves the old one in force.
    Reload {
        #[command(flatten)]
        at: Where,
    },
    /// Take the board's clock as it is for right, if an earlier one was wrong.
    TrustClock {
        #[command(flatten)]
        at: Where,
    },
}

/// `90s`, `30m`, `2h`, `1h30m`.
fn seconds(text: &str) -> Result<u32, String> {
    TimeSpan::typed(text)
        .filter(|span| span.0 >= 1.0 && span.0 <= f64::from(u32::MAX) && span.0.fract() == 0.0)
        .map(|span| {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "whole, and no more than there is room for"
            )]
            let seconds = span.0 as u32;
            seconds
        })
        .ok_or_else(|| "write it as 90s, 30m, 2h or 1h30m".into())
}

/// `TP3 DC=14.7`.
fn reading(text: &str) -> Result<(String, String), String> {
    let (point, value) = text
        .rsplit_once('=')
        .ok_or_else(|| "write it as \"TP3 DC=14.7\"".to_owned())?;
    Ok((point.trim().to_owned(), value.trim().to_owned()))
}

/// For `--print`: every timed zone has a line, if only on paper.
fn printable(print: bool) -> impl Fn(Site) -> Site {
    move |mut site| {
        let timed: Vec<ZoneId> = (0..site.zones.len())
            .map(ZoneId)
            .filter(|zone| matches!(site[*zone].switching, Switching::Timed(_)))
            .filter(|zone| site.output_of(*zone).is_none())
            .collect();
        for (number, zone) in (0..).zip(timed).filter(|_| print) {
            site.outputs.push(Output {
                zone,
                chip: "printed".into(),
                line: Line::Offset(number),
                active_low: false,
                dark_at_reset: None,
            });
        }
        site
    }
}

impl Run {
    pub(super) fn answer(self, answer: &mut Answer) -> Result<(), Failure> {
        if self.yard.site.is_none() && !self.print {
            return Err(Failure::Usage(
                "run needs a site file, such as /etc/pilotwire/site.toml; to watch the built-in yard: run --print".into(),
            ));
        }
        let site = self.yard.read(answer).map(printable(self.print))?;
        // It runs on: what there is to say is said now.
        eprint!("{}", std::mem::take(&mut answer.notes));
        let own = |path: &str| (!self.print).then(|| PathBuf::from(path));
        let state_dir = self.state_dir.or_else(|| own(&site.daemon.state_dir));
        let socket = self.socket.or_else(|| own(&site.daemon.socket));
        let (yard, print) = (self.yard, self.print);
        let service = Service {
            read: Box::new(move || match yard.read(&mut Answer::default()) {
                Ok(site) => Ok(printable(print)(site)),
                Err(Failure::Site(problems)) => Err(problems.in_short()),
                Err(_) => Err("it cannot be read".into()),
            }),
            open: Box::new(move |site| -> Box<dyn Lines + Send> {
                if print {
                    return Box::new(Printed::default());
                }
                // What is wrong with a line is said when it is driven or read.
                Box::new(GpioLines::open(site).0)
            }),
            site,
            state_dir,
            socket,
            page: !print || self.page,
            print,
        };
        tracing_subscriber::fmt()
            .with_writer(std::io::stderr)
            .with_ansi(false)
            .without_time()
            .with_target(false)
            .try_init()
            // -v has done so already.
            .unwrap_or_default();
        service
            .run()
            .map_err(|error| Failure::Service(error.to_string()))
    }
}

impl Ask {
    pub(super) fn answer(self, answer: &mut Answer) -> Result<(), Failure> {
        let (socket, request, format) = match self {
            Self::History {
                zone,
                from,
                to,
                most,
                state_dir,
                timezone,
                at,
                format,
            } => {
                let dates = (from, to);
                let filter = Filter {
                    zone,
                    most: Some(most),
                    ..Filter::default()
                };
                return history(
                    &at.socket, &state_dir, filter, dates, timezone, format, answer,
                );
            }
            Self::Status { at, format } => (at.socket, Request::Status, format),
            Self::Force {
                zone,
                to,
                lasting,
                until,
                until_next,
                all: _,
                at,
            } => {
                let until = match (lasting, until) {
                    (Some(seconds), _) => Some(Until::For(seconds)),
                    (None, Some(clock)) => Some(Until::Clock(clock)),
                    (None, None) => until_next.then_some(Until::Next),
                };
                let lit = matches!(to, Switch::On);
                let request = match zone {
                    Some(zone) => Request::Force { zone, lit, until },
                    None => Request::ForceAll { lit, until },
                };
                (at.socket, request, Document::Text)
            }
            Self::Readings { at, format } => (at.socket, Request::Readings, format),
            Self::Measured { zone, readings, at } => {
                let mut given = BTreeMap::new();
                for (point, value) in readings {
                    if given.insert(point.clone(), Given::Text(value)).is_some() {
                        return Err(Failure::Usage(format!("{point} is given twice")));
                    }
                }
                let readings = given;
                (
                    at.socket,
                    Request::Measured { zone, readings },
                    Document::Text,
                )
            }
            Self::Release { zone, at, all: _ } => {
                let request = zone.map_or(Request::ReleaseAll {}, |zone| Request::Release { zone });
                (at.socket, request, Document::Text)
            }
            Self::Reload { at } => (at.socket, Request::Reload, Document::Text),
            Self::TrustClock { at } => (at.socket, Request::TrustClock, Document::Text),
        };
        if matches!(request, Request::Readings | Request::Measured { .. }) {
            wait_for_points(&socket)?;
        }
        let reply = ask(&socket, &request).map_err(|error| Failure::Service(error.to_string()))?;
        said(&reply, format, answer)
    }
}

/// Waits until the service knows what meters should show, which it works out when it is first asked; not for ever.
fn wait_for_points(socket: &Path) -> Result<(), Failure> {
    for _ in 0..100 {
        match ask(socket, &Request::Readings) {
            Ok(Reply::Readings(readings)) if readings.comes => {
                std::thread::sleep(std::time::Duration::from_millis(200));
            }
            Ok(_) => break,
            Err(error) => return Err(Failure::Service(error.to_string())),
        }
    }
    Ok(())
}

fn said(reply: &Reply, format: Document, answer: &mut Answer) -> Result<(), Failure> {
    match reply {
        Reply::Status(status) => {
            answer.text = match format {
                Document::Text => report::status_text(status),
                Document::Json => report::status_json(status),
            };
            answer.code = u8::from(!status.alarms.is_empty());
        }
        Reply::Done(done) => answer.text = report::done_text(done),
        Reply::Readings(readings) => {
            answer.text = match format {
                Document::Text => {
                    let zone = local_zone(Some(readings.timezone.clone()))?;
                    report::readings_text(&zone, readings)
                }
                Document::Json => report::readings_json(readings),
            };
            answer.code = u8::from(readings.missing.is_some() || readings.off);
        }
        Reply::Measured(measured) => {
            answer.text = report::measured_text(measured);
            answer.code = u8::from(measured.off);
        }
        Reply::Refused(refusal) => {
            let mut why = format!("{}; {}", refusal.why, refusal.remedy);
            for (point, wrong) in refusal.at.iter().skip(1) {
                why = format!("{why}\n  {point}: {wrong}");
            }
            return Err(Failure::Refused(why));
        }
        Reply::History(_) => unreachable!("nobody asked for the history here"),
    }
    Ok(())
}

/// What happened: as the service says, or as its store has it if no service answers.
fn history(
    socket: &Path,
    state_dir: &Path,
    filter: Filter,
    (from, to): (Option<NaiveDate>, Option<NaiveDate>),
    timezone: Option<String>,
    format: Table,
    answer: &mut Answer,
) -> Result<(), Failure> {
    let ask = |request: &Request| ask(socket, request);
    let failed = |error: Unreachable| Failure::Service(error.to_string());
    let running = match ask(&Request::Status) {
        Ok(Reply::Status(status)) => Some(status.timezone),
        Ok(_) => None,
        Err(Unreachable::Nobody(_, error))
            if error.kind() != std::io::ErrorKind::PermissionDenied =>
        {
            None
        }
        Err(error) => return Err(failed(error)),
    };
    let zone = local_zone(timezone.or_else(|| running.clone()))?;
    let midnight = |date: NaiveDate| zone.resolve(date.and_time(NaiveTime::MIN)).utc;
    let filter = Filter {
        from: from.map(midnight),
        to: to
            .and_then(|to| to.checked_add_days(Days::new(1)))
            .map(midnight),
        ..filter
    };
    let events = if running.is_some() {
        match ask(&Request::History(filter)).map_err(failed)? {
            Reply::History(events) => events,
            Reply::Refused(refusal) => {
                return Err(Failure::Refused(format!(
                    "{}; {}",
                    refusal.why, refusal.remedy
                )));
            }
            _ => {
                return Err(Failure::Service(
                    "the service answered something else".into(),
                ));
            }
        }
    } else {
        let read =
            Database::read(state_dir, &filter).map_err(|Trouble(why)| Failure::Service(why))?;
        if let Some(Trouble(why)) = read.trouble {
            let _ = writeln!(answer.notes, "pilotwire: {why}");
        }
        read.events
    };
    answer.text = match format {
        Table::Text => report::history_text(&zone, &events),
        Table::Json => report::history_json(&events),
        Table::Csv => report::history_csv(&events),
    };
    Ok(())
}

fn local_zone(name: Option<String>) -> Result<SiteZone, Failure> {
    let name = name.unwrap_or_else(|| "UTC".into());
    ZoneInfo::from_environment()
        .open(&name)
        .map_err(|error| Failure::Usage(error.to_string()))
}
