//! The port of the page: handed over by the service manager, or opened.

use std::fmt;
use std::net::{SocketAddr, TcpListener};
use std::path::{Path, PathBuf};

use crate::site::Daemon;

use super::guard::Password;

/// The port, open, and what it needs.
pub(in crate::service) struct PageSocket {
    pub(super) listener: TcpListener,
    pub(super) password: Option<Password>,
    pub(super) host: Option<String>,
}

/// Why there is no page.
#[derive(Debug)]
pub(in crate::service) enum PageError {
    /// Others could reach it, and it has no password.
    NoPassword(SocketAddr),
    /// Its password cannot be used.
    Password(PathBuf, String),
    /// Its port cannot be opened.
    Port(SocketAddr, std::io::Error),
    /// What the service manager handed over cannot be used.
    HandedOver(std::io::Error),
}

impl fmt::Display for PageError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoPassword(address) => write!(
                f,
                "the page would be open to everybody who reaches {address}; give it a password with `page_token`, or listen on 127.0.0.1"
            ),
            Self::Password(path, why) => {
                write!(f, "the password of the page in {} {why}", path.display())
            }
            Self::Port(address, error) => write!(
                f,
                "the page cannot listen on {address}: {error}; is another program there?"
            ),
            Self::HandedOver(error) => write!(
                f,
                "the page cannot use the port that the service manager handed over: {error}"
            ),
        }
    }
}

impl std::error::Error for PageError {}

/// The name of the credential of the service manager that holds the password.
const CREDENTIAL: &str = "page-token";

fn password(daemon: &Daemon) -> Result<Option<Password>, PageError> {
    let credential = std::env::var_os("CREDENTIALS_DIRECTORY")
        .map(|folder| Path::new(&folder).join(CREDENTIAL))
        .filter(|path| path.exists());
    let own = daemon.page_token.as_ref().map(PathBuf::from);
    let Some(path) = own.or(credential) else {
        return Ok(None);
    };
    let wrong = |why: String| PageError::Password(path.clone(), why);
    let file =
        std::fs::metadata(&path).map_err(|error| wrong(format!("cannot be read: {error}")))?;
    {
        use std::os::unix::fs::PermissionsExt;
        if file.permissions().mode() & 0o077 != 0 {
            return Err(wrong("may be read by others: chmod 600".into()));
        }
    }
    let text = std::fs::read_to_string(&path)
        .map_err(|error| wrong(format!("cannot be read: {error}")))?;
    Password::new(&text).map(Some).map_err(wrong)
}

impl PageSocket {
    /// Opens the port, if the site file or the service manager has one.
    pub(in crate::service) fn open(daemon: &Daemon) -> Result<Option<Self>, PageError> {
        let handed = listenfd::ListenFd::from_env()
            .take_tcp_listener(0)
            .map_err(PageError::HandedOver)?;
        let listener = match (handed, daemon.listen) {
            (Some(listener), _) => listener,
            (None, Some(address)) => {
                TcpListener::bind(address).map_err(|error| PageError::Port(address, error))?
            }
            (None, None) => return Ok(None),
        };
        let address = listener.local_addr().map_err(PageError::HandedOver)?;
        let password = password(daemon)?;
        if !address.ip().is_loopback() && password.is_none() {
            return Err(PageError::NoPassword(address));
        }
        listener
            .set_nonblocking(true)
            .map_err(PageError::HandedOver)?;
        Ok(Some(Self {
            listener,
            password,
            host: daemon.page_host.clone(),
        }))
    }
}
