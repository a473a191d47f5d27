//! The command `picture`: what no other command has a picture of.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use pilotwire::chain::chain;
use pilotwire::link::{Draw, LinkJudgement, judge_on};
use pilotwire::parallel;
use pilotwire::picture::chain::{chain_svg, chain_text};
use pilotwire::picture::ladder::{ladder_svg, ladder_text};
use pilotwire::picture::lamps::{lamps_svg, lamps_text};
use pilotwire::picture::yard::{yard_svg, yard_text};
use pilotwire::site::{LinkId, Site};
use pilotwire::sweep::link_named;

use super::progress::Progress;
use super::terminal::Terminal;
use super::{Answer, Failure, apart, written, yard_and_link};

/// Arguments of `picture`.
#[derive(Args)]
pub(super) struct Words {
    /// What to draw.
    #[arg(value_enum)]
    what: What,
    /// Site file, then for a ladder the link: MASTER>SLAVE, MASTER:SLAVE or the slave alone. Default: the
    /// built-in linked pair; every link.
    #[arg(value_name = "SITE] [LINK", num_args = 0..=2)]
    yard: Vec<String>,
    /// As SVG into this file, or - for standard output. Default: in characters, as wide as the terminal.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum What {
    /// One-line diagram: supplies, runs, fuses, lamps, pilot wires, relays, test points.
    Yard,
    /// What the coil of each link gets, needs and bears.
    Ladder,
    /// Volts at every lamp against its window.
    Lamps,
    /// Who is lit when, after the head goes on and off.
    Chain,
}

impl Words {
    pub(super) fn answer(self, answer: &mut Answer) -> Result<(), Failure> {
        let (yard, name) = yard_and_link(self.yard);
        if name.is_some() && self.what != What::Ladder {
            return Err(Failure::Usage("only a ladder is of one link".into()));
        }
        apart(&yard, &[("-o", &self.output)])?;
        let site = yard.read(answer)?;
        let only = name
            .map(|name| link_named(&site, Some(&name)))
            .transpose()
            .map_err(|fault| Failure::Usage(fault.to_string()))?;
        let judged = match self.what {
            What::Ladder | What::Chain => judged(&site)?,
            What::Yard | What::Lamps => Vec::new(),
        };
        let links: Vec<(LinkId, &LinkJudgement)> = judged
            .iter()
            .enumerate()
            .map(|(index, judgement)| (LinkId(index), judgement))
            .filter(|(id, _)| only.is_none_or(|only| only == *id))
            .collect();
        let Some(path) = &self.output else {
            let Terminal { columns, colour } = Terminal::of(&std::io::stdout());
            answer.text = match self.what {
                What::Yard => yard_text(&site, columns, colour),
                What::Lamps => lamps_text(&site, columns, colour),
                What::Chain => chain_text(&site, &chain(&site, &judged), columns, colour),
                What::Ladder => ladder_text(&site, &links, columns, colour),
            };
            return Ok(());
        };
        let picture = match self.what {
            What::Yard => yard_svg(&site),
            What::Lamps => lamps_svg(&site),
            What::Chain => chain_svg(&site, &chain(&site, &judged)),
            What::Ladder => ladder_svg(&site, &links),
        };
        if path.as_os_str() == "-" {
            answer.text = picture.file();
            return Ok(());
        }
        written(path, &picture.file(), answer)
    }
}

/// Every link; no picture shows builds at random.
fn judged(site: &Site) -> Result<Vec<LinkJudgement>, Failure> {
    let _told = Progress::of_links(site);
    Ok(judge_on(site, Draw::FEWEST, parallel::cores())?)
}
