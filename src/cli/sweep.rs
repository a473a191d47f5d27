//! The command `sweep`: a link with one thing changed step by step, or two.

use std::fmt::Display;
use std::path::PathBuf;

use clap::Args;

use pilotwire::report;
use pilotwire::sweep::{self, link_named};

use super::{Answer, Failure, Table, UNDECIDED, apart, cores, written_if, yard_and_link};

/// Arguments of `sweep`.
#[derive(Args)]
pub(super) struct Words {
    /// Site file, then link: MASTER>SLAVE, MASTER:SLAVE or the slave alone. Default: the built-in
    /// linked pair; the only link.
    #[arg(value_name = "SITE] [LINK", num_args = 0..=2)]
    yard: Vec<String>,
    /// What to vary, once or twice: length=20..200m, length=20..200m/4, loop=5..50ohm,
    /// wire=18AWG,20AWG, relay=r400,r720 or relay=all, capacitor=47..470uF,
    /// temperature=-20..45C, mains=-15..15%, voltage=10..14V, series=0..47ohm, splices=0..6,
    /// rectifier=bridge,single-diode.
    #[arg(long, value_name = "WHAT=VALUES", required = true)]
    vary: Vec<String>,
    /// Writes the table as a picture.
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Writes every cell on a line.
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// How many threads. Default: all cores.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    threads: Option<u16>,
    #[arg(long, value_enum, default_value_t = Table::Text)]
    format: Table,
}

impl Words {
    pub(super) fn answer(self, answer: &mut Answer) -> Result<(), Failure> {
        let wrong = |why: &dyn Display| Failure::Usage(why.to_string());
        let (yard, link) = yard_and_link(self.yard);
        apart(&yard, &[("--svg", &self.svg), ("--csv", &self.csv)])?;
        let site = yard.read(answer)?;
        let link = link_named(&site, link.as_deref()).map_err(|fault| wrong(&fault))?;
        let axes = sweep::axes(&site, &site[link], &self.vary).map_err(|why| wrong(&why))?;
        let sweep = sweep::sweep(&site, link, axes, cores(self.threads));
        answer.text = match self.format {
            Table::Text => report::sweep_text(&site, &sweep),
            Table::Json => report::sweep_json(&site, &sweep),
            Table::Csv => report::sweep_csv(&site, &sweep),
        };
        answer.code = if sweep.any_works() {
            0
        } else if sweep.cells.iter().all(Result::is_err) {
            UNDECIDED
        } else {
            1
        };
        let drawn = written_if(self.svg, || report::sweep_svg(&site, &sweep), answer);
        let listed = written_if(self.csv, || report::sweep_csv(&site, &sweep), answer);
        drawn.and(listed)
    }
}
