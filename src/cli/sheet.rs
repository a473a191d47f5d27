//! The command `sheet`: the paper that stays with the yard.

use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use clap::{Args, ValueEnum, builder::PossibleValue};
use sha2::{Digest, Sha256};

use pilotwire::chain::{CaseRun, Draw, Verdict};
use pilotwire::check::check;
use pilotwire::commissioning::{points, symptoms};
use pilotwire::parts::parts;
use pilotwire::picture::waveform::waveform_svg;
use pilotwire::report::LinkReport;
use pilotwire::schedule::local_time::ZoneInfo;
use pilotwire::schedule::skies;
use pilotwire::season::{season, year_from};
use pilotwire::sheet::{LinkPages, Section, Sheet, sheet_html};
use pilotwire::site::{Link, LinkId};

use super::{Answer, Failure, Yard, local_date, now, within_almanac, written};

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
        if let (Some(output), Some(site)) = (&self.output, &self.yard.site) {
            let same = |path: &Path| std::fs::canonicalize(path).ok();
            if same(output).is_some_and(|output| same(site) == Some(output)) {
                return Err(Failure::Usage(format!(
                    "-o {} would overwrite the site file; give the sheet another name",
                    output.display()
                )));
            }
        }
        let (name, bytes) = self.yard.bytes(answer)?;
        let site = Yard::resolve(&name, &bytes)?;
        let made = self
            .date
            .unwrap_or_else(|| local_date(&site.timezone, now()));
        let year = year_from(made);
        within_almanac(&year)?;
        let check = check(&site, made, Draw::default())?;
        let following: Vec<_> = check.links.iter().map(|link| link.following).collect();
        let season = season(&site, year.clone(), &following)?;
        let mut links = Vec::new();
        for (index, link) in site.links.iter().enumerate() {
            let id = LinkId(index);
            // A star of thirty links alike has one page of pictures, not thirty.
            let alike = |other: &&Link| {
                Link {
                    slave: link.slave,
                    ..(**other).clone()
                } == *link
            };
            if let Some(at) = site.links[..index].iter().position(|other| alike(&other)) {
                links.push(LinkPages::As(LinkId(at)));
                continue;
            }
            let undecided =
                |why| Failure::Undecided(format!("link {}: {why}", site.link_name(link)));
            let run = CaseRun::new(&site, link, &[]).map_err(undecided)?;
            let report = LinkReport {
                site: &site,
                check: &check,
                id,
                runs: std::slice::from_ref(&run),
            };
            links.push(LinkPages::Own {
                waveform: Box::new(waveform_svg(&report.trace(&run).map_err(undecided)?)),
                symptoms: symptoms(&site, id).map_err(undecided)?,
            });
        }
        let points =
            points(&site).map_err(|why| Failure::Undecided(format!("test points: {why}")))?;
        let zones = ZoneInfo::from_environment();
        let sheet = Sheet {
            site: &site,
            check: &check,
            season: &season,
            skies: &skies(&site, year)?,
            points: &points,
            parts: &parts(&site, &check.links),
            links: &links,
            file: &name,
            checksum: &checksum(&bytes),
            zone_rules: zones.version(),
            made,
            version: env!("CARGO_PKG_VERSION"),
        };
        let chosen: Vec<Section> = if self.sections.is_empty() {
            Section::ALL.to_vec()
        } else {
            self.sections.iter().map(|part| part.0).collect()
        };
        let html = sheet_html(&sheet, &chosen);
        match &self.output {
            Some(path) => written(path, &html, answer)?,
            None => answer.text = html,
        }
        answer.code = u8::from(check.verdict == Verdict::NoGo);
        Ok(())
    }
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
