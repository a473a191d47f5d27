//! Asks a running service.

use std::fmt;
use std::io::{BufRead, BufReader, Write};
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::daemon::control::{Reply, Request};

/// A service that does not answer within this is stuck.
const PATIENCE: Duration = Duration::from_secs(10);

/// Why a service gave no answer.
#[derive(Debug)]
pub enum Unreachable {
    /// Nobody is there.
    Nobody(PathBuf, std::io::Error),
    /// It is there, and says nothing.
    Stuck(PathBuf),
    /// It broke off, or said what cannot be understood.
    Garbled(PathBuf, String),
}

impl fmt::Display for Unreachable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Nobody(path, error) if error.kind() == std::io::ErrorKind::PermissionDenied => {
                write!(
                    f,
                    "the service's socket {} may not be opened; join its group, pilotwire",
                    path.display()
                )
            }
            Self::Nobody(path, error) => write!(
                f,
                "no service answers on {}: {error}; start it with `pilotwire run`, or see `systemctl status pilotwire`",
                path.display()
            ),
            Self::Stuck(path) => write!(
                f,
                "the service on {} has not answered for {} s; see `systemctl status pilotwire`",
                path.display(),
                PATIENCE.as_secs()
            ),
            Self::Garbled(path, why) => write!(
                f,
                "the service on {} gave no proper answer: {why}; is it of the same version?",
                path.display()
            ),
        }
    }
}

impl std::error::Error for Unreachable {}

/// Asks the service on a socket.
///
/// # Errors
/// If there is none, or it gives no proper answer.
pub fn ask(socket: &Path, request: &Request) -> Result<Reply, Unreachable> {
    let nobody = |error| Unreachable::Nobody(socket.to_owned(), error);
    let mut stream = UnixStream::connect(socket).map_err(nobody)?;
    let garbled = |why: String| Unreachable::Garbled(socket.to_owned(), why);
    let talk = |stream: &mut UnixStream| -> std::io::Result<String> {
        stream.set_read_timeout(Some(PATIENCE))?;
        stream.set_write_timeout(Some(PATIENCE))?;
        let mut line = serde_json::to_vec(request)?;
        line.push(b'\n');
        stream.write_all(&line)?;
        let mut answer = String::new();
        BufReader::new(stream).read_line(&mut answer)?;
        Ok(answer)
    };
    let answer = talk(&mut stream).map_err(|error| match error.kind() {
        std::io::ErrorKind::WouldBlock | std::io::ErrorKind::TimedOut => {
            Unreachable::Stuck(socket.to_owned())
        }
        _ => garbled(error.to_string()),
    })?;
    serde_json::from_str(&answer).map_err(|error| garbled(error.to_string()))
}
