//! The command `outputs`: what is done to the outputs of a site without its service.
//!
//! After the program's death a line is the driver's business. gpio-sim goes back to the line's pull; some
//! chips stay as driven, and there this command helps. It fails on a line that reads lit: it was driven dark
//! a moment ago, so either something else drives it or the reading is wrong, and both want a look.

use std::path::PathBuf;
use std::thread;
use std::time::Duration;

use clap::Subcommand;

use pilotwire::daemon::lines::{GpioLines, LineFault, Lines, outputs, taken};
use pilotwire::report::outputs_safe_text;
use pilotwire::site::{TimeSpan, ZoneId};

use super::{Answer, Failure, Yard};

/// Where the service keeps its state where no site file says otherwise.
const STATE_DIR: &str = "/var/lib/pilotwire";

/// What `outputs` does.
#[derive(Subcommand)]
pub(super) enum Words {
    /// Drives every output dark, holds it for a moment, and lets go.
    ///
    /// For after the service has died: it may have left lines lit. A line that something else holds,
    /// or that is missing, is told, after all others are dark; the exit code is then 1.
    ///
    /// What a line does once it is let go is up to the board's kernel: on some it stays as it was
    /// driven, on others it becomes an input, and what pulls it from outside decides. So only a pull
    /// outside the chip that is the dark one (a resistor to ground, for a relay that is lit by a high
    /// line) keeps a zone dark whatever happens.
    Safe {
        #[command(flatten)]
        yard: Yard,
        /// Folder of the store: the lines that the service drove are written there, and are driven dark
        /// as well, whatever the site file says now. Default: as in the site file.
        #[arg(long, value_name = "DIR")]
        state_dir: Option<PathBuf>,
        /// How long the outputs are held dark.
        #[arg(long, value_name = "TIME", default_value = "200 ms", value_parser = settle)]
        settle: Duration,
    },
}

/// Longest time that outputs are held [s].
const LONGEST_S: f64 = 60.0;

fn settle(text: &str) -> Result<Duration, String> {
    TimeSpan::typed(text)
        .filter(|span| (0.0..=LONGEST_S).contains(&span.0))
        .map(|span| Duration::from_secs_f64(span.0))
        .ok_or_else(|| format!("write a time between 0 s and {LONGEST_S} s, such as 200 ms"))
}

impl Words {
    pub(super) fn answer(self, answer: &mut Answer) -> Result<(), Failure> {
        let Self::Safe {
            yard,
            state_dir,
            settle,
        } = self;
        let site = yard.read(answer);
        let (name, mut wires, own) = match &site {
            Ok(site) => (
                site.name.clone(),
                outputs(site),
                site.daemon.state_dir.clone(),
            ),
            // A file that is being edited must not keep lines lit.
            Err(_) => ("the last service".into(), Vec::new(), STATE_DIR.into()),
        };
        let folder = state_dir.unwrap_or_else(|| PathBuf::from(own));
        wires.extend(taken::others(&folder, &wires));
        for (index, wire) in wires.iter_mut().enumerate() {
            wire.zone = ZoneId(index);
        }
        if wires.is_empty()
            && let Err(failure) = site
        {
            return Err(failure);
        }
        let names: Vec<String> = wires.iter().map(|wire| wire.name.clone()).collect();
        let (mut lines, mut faults) = GpioLines::open_outputs(wires);
        thread::sleep(settle);
        for (zone, level) in lines.read_back() {
            if level == Ok(true) {
                faults.push((
                    zone,
                    LineFault {
                        what: "its line is driven dark and still reads lit".into(),
                        remedy: "look for what else drives it, or for a short".into(),
                    },
                ));
            }
        }
        let faults: Vec<(String, LineFault)> = faults
            .into_iter()
            .map(|(zone, fault)| (names[zone.0].clone(), fault))
            .collect();
        answer.text = outputs_safe_text(&name, names.len(), &faults);
        answer.code = u8::from(!faults.is_empty());
        // The lines come first, then what is wrong with the file.
        site.map(|_| ())
    }
}
