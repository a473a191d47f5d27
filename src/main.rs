//! The command line: reads, asks the core, prints. It decides nothing.

mod cli;

use std::io::Write;
use std::process::ExitCode;

fn main() -> ExitCode {
    let answer = cli::run();
    // A closed pipe (`| head`) is not our error, and there is no reader left for a message.
    let _ = std::io::stderr().write_all(answer.notes.as_bytes());
    let printed = std::io::stdout().write_all(answer.text.as_bytes());
    let _ = std::io::stderr().write_all(answer.failure.as_bytes());
    match printed {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            ExitCode::from(cli::IO_ERROR)
        }
        _ => ExitCode::from(answer.code),
    }
}
