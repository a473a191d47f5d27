//! The command `lines`: what the board offers, and where the lines of the site are.

use clap::Args;

use pilotwire::daemon::lines::{inputs, look, outputs};
use pilotwire::report::{LinesReport, lines_json, lines_text};

use super::{Answer, Document, Failure, Yard};

/// Arguments of `lines`.
#[derive(Args)]
pub(super) struct Words {
    #[command(flatten)]
    yard: Yard,
    #[arg(long, value_enum, default_value_t = Document::Text)]
    format: Document,
}

impl Words {
    pub(super) fn answer(self, answer: &mut Answer) -> Result<(), Failure> {
        let site = self.yard.read(answer)?;
        let mut wires = outputs(&site);
        wires.extend(inputs(&site));
        let report = LinesReport {
            site: &site.name,
            wires: &wires,
            board: &look(),
        };
        answer.text = match self.format {
            Document::Text => lines_text(&report),
            Document::Json => lines_json(&report),
        };
        answer.code = u8::from(!report.all_well());
        Ok(())
    }
}
