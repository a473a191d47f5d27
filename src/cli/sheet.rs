//! The command `sheet`: the paper that stays with the yard.

use std::io::IsTerminal;
use std::panic::resume_unwind;
use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use clap::{Args, ValueEnum, builder::PossibleValue};
use sha2::{Digest, Sha256};

use pilotwire::check::{Check, check};
use pilotwire::civil_time::ZoneInfo;
use pilotwire::commissioning::{points, symptoms};
use pilotwire::link::{CaseRun, Draw, Verdict, first_alike};
use pilotwire::parallel;
use pilotwire::parts::parts;
use pilotwire::picture::waveform::waveform_svg;
use pilotwire::report::LinkReport;
use pilotwire::schedule::skies;
use pilotwire::season::{season, year_from};
use pilotwire::sheet::{LinkPages, Section, Sheet, Waveforms, sheet_html};
use pilotwire::site::{Link, LinkId, Site};

use super::progress::Progress;
use super::{Answer, Failure, Yard, apart, can_be_planned, local_date, now, written};

/// Arguments of `sheet`.
#[derive(Args)]
pub(super) struct Words {
    #[command(flatten)]
    yard: Yard,
    /// Into this file. Default: standard output.
    #[arg(short, long, value_name = "FILE.html")]
    output: Option<PathBuf>,
    /// Only this part; may be given again.
    #[arg(long = "section", value_name = "NAME", value_enum)]
    sections: Vec<Part>,
    /// The day it is made, from which its twelve months run. Default: today.
    #[arg(long, value_name = "YYYY-MM-DD")]
    date: Option<NaiveDate>,
}

#[derive(Clone, Copy)]
struct Part(Section);

impl ValueEnum for Part {
    fn value_variants<'a>() -> &'a [Self] {
        const ALL: [Part; Section::ALL.len()] = {
            let mut all = [Part(Section::Summary); Section::ALL.len()];
            let mut index = 0;
            while index < all.len() {
                all[index] = Part(Section::ALL[index]);
                index += 1;
            }
            all
        };
        &ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(self.0.name()))
    }
}

impl Words {
    pub(super) fn answer(self, answer: &mut Answer) -> Result<(), Failure> {
        apart(&self.yard, &[("-o", &self.output)])?;
        if self.output.is_none() && std::io::stdout().is_terminal() {
            return Err(Failure::Usage(
                "the sheet is a page for a browser, not for a terminal: write it to a file with \
                 `-o sheet.html`"
                    .into(),
            ));
        }
        let (name, bytes) = self.yard.bytes(answer)?;
        let site = Yard::resolve(&name, &bytes)?;
        let made = self
            .date
            .unwrap_or_else(|| local_date(&site.timezone, now()));
        let year = year_from(made);
        can_be_planned(&site, &year)?;
        let chosen: Vec<Section> = if self.sections.is_empty() {
            Section::ALL.to_vec()
        } else {
            self.sections.iter().map(|part| part.0).collect()
        };
        let progress = Progress::of_links(&site);
        // No section shows builds at random.
        let check = check(&site, made, Draw::FEWEST)?;
        let following: Vec<_> = check.links.iter().map(|link| link.following).collect();
        let season = season(&site, year.clone(), &following)?;
        progress.now("working out test points, faults and waveforms");
        let (links, points) = std::thread::scope(|scope| {
            // What a section is made of is worked out if it is wanted.
            let points = chosen
                .contains(&Section::Commissioning)
                .then(|| scope.spawn(|| points(&site)));
            let links = if chosen.contains(&Section::Links) {
                link_pages(&site, &check)
            } else {
                Ok(Vec::new())
            };
            let points = points.map_or(Ok(Vec::new()), |points| {
                points.join().unwrap_or_else(|panic| resume_unwind(panic))
            });
            (links, points)
        });
        let links = links?;
        let points = points.map_err(|why| Failure::Undecided(format!("test points: {why}")))?;
        let zones = ZoneInfo::from_environment();
        let sheet = Sheet {
            site: &site,
            check: &check,
            season: &season,
            skies: &skies(&site, year)?,
            points: &points,
            parts: &parts(&site, &check.links),
            links: &links,
            file: file_name(&name),
            checksum: &checksum(&bytes),
            zone_rules: zones.version(),
            made,
            version: env!("CARGO_PKG_VERSION"),
        };
        progress.now("drawing");
        let html = sheet_html(&sheet, &chosen);
        match &self.output {
            Some(path) => written(path, &html, answer)?,
            None => answer.text = html,
        }
        answer.code = u8::from(check.verdict == Verdict::NoGo);
        Ok(())
    }
}

/// Pictures and faults of every link; those of links alike are said once: a star of thirty has one page of
/// them, not thirty. Of links that differ in their pairs alone, the one with the least margin has the waveforms.
fn link_pages(site: &Site, check: &Check) -> Result<Vec<LinkPages>, Failure> {
    let first = first_alike(site);
    let margin = |at: usize| check.links[at].judged.least().fraction;
    let drawn = |at: usize| {
        let kind = (0..first.len()).filter(|other| same_parts(site, *other, at));
        let weakest = kind.min_by(|one, other| margin(*one).total_cmp(&margin(*other)));
        first[weakest.unwrap_or(at)]
    };
    let pages = parallel::in_order(first.len(), parallel::cores(), |index| {
        if first[index] != index {
            return Ok(LinkPages::As(LinkId(first[index])));
        }
        let (id, link) = (LinkId(index), &site.links[index]);
        let undecided = |why| Failure::Undecided(format!("link {}: {why}", site.link_name(link)));
        let waveforms = match drawn(index) {
            other if other != index => Waveforms::Of(LinkId(other)),
            _ => {
                let run = CaseRun::new(site, link, &[]).map_err(undecided)?;
                let report = LinkReport {
                    site,
                    check,
                    id,
                    runs: std::slice::from_ref(&run),
                };
                let trace = report.trace(&run).map_err(undecided)?;
                Waveforms::Own(Box::new(waveform_svg(&trace)))
            }
        };
        Ok(LinkPages::Own {
            waveforms,
            symptoms: symptoms(site, id).map_err(undecided)?,
        })
    });
    pages.into_iter().collect()
}

/// Whether two links have the same parts, and masters on supplies that give the same: what may differ is the pair.
fn same_parts(site: &Site, one: usize, other: usize) -> bool {
    let [one, other] = [one, other].map(|at| &site.links[at]);
    let paired = Link {
        master: other.master,
        slave: other.slave,
        cable: other.cable,
        splices: other.splices,
        splice_ohm: other.splice_ohm,
        measured_loop_ohm: other.measured_loop_ohm,
        fuse: other.fuse,
        laid: other.laid.clone(),
        ..one.clone()
    };
    let gives = |link: &Link| site.feeding(link).output;
    paired == *other && gives(one) == gives(other)
}

/// What a site file is called. Its path says how one machine is arranged, and the sheet hangs in a shed: the
/// checksum says which file it is.
fn file_name(path: &str) -> &str {
    Path::new(path)
        .file_name()
        .and_then(|name| name.to_str())
        .unwrap_or(path)
}

/// SHA-256, as `sha256sum` prints it.
fn checksum(bytes: &[u8]) -> String {
    use std::fmt::Write;
    let mut out = String::new();
    for byte in Sha256::digest(bytes) {
        let _ = write!(out, "{byte:02x}");
    }
    out
}
