//! The command `picture`: what no other command has a picture of.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use pilotwire::chain::timeline::chain;
use pilotwire::chain::{Draw, LinkJudgement, judge};
use pilotwire::picture::{chain::chain_svg, ladder::ladder_svg, lamps::lamps_svg, yard::yard_svg};
use pilotwire::site::{LinkId, Site};
use pilotwire::sweep::link_named;

use super::{Answer, Failure, written, yard_and_link};

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
    /// Into this file. Default: standard output.
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
        let site = yard.read(answer)?;
        let picture = match self.what {
            What::Yard => yard_svg(&site),
            What::Lamps => lamps_svg(&site),
            What::Chain => chain_svg(&site, &chain(&site, &judged(&site)?)),
            What::Ladder => {
                let only = name
                    .map(|name| link_named(&site, Some(&name)))
                    .transpose()
                    .map_err(|fault| Failure::Usage(fault.to_string()))?;
                let judged = judged(&site)?;
                let links: Vec<(LinkId, &LinkJudgement)> = judged
                    .iter()
                    .enumerate()
                    .map(|(index, judgement)| (LinkId(index), judgement))
                    .filter(|(id, _)| only.is_none_or(|only| only == *id))
                    .collect();
                ladder_svg(&site, &links)
            }
        };
        match &self.output {
            Some(path) => written(path, &picture.file(), answer)?,
            None => answer.text = picture.file(),
        }
        Ok(())
    }
}

/// Every link; of builds at random as few as can be, for no picture shows them.
fn judged(site: &Site) -> Result<Vec<LinkJudgement>, Failure> {
    let draw = Draw {
        builds: std::num::NonZeroU32::MIN,
        ..Draw::default()
    };
    Ok(judge(site, draw)?)
}
