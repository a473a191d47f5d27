//! The control socket: one line of JSON each way, from every user who may open it.

use std::collections::BTreeMap;
use std::fmt;
use std::future::Future;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::{UnixListener as StdListener, UnixStream as StdStream};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::{UnixListener, UnixStream};
use tokio::sync::{Semaphore, oneshot};
use tokio::time::timeout;
use tracing::{debug, info, warn};

use crate::daemon::control::{LONGEST_LINE, Refusal, Reply, Request};

use super::control_loop::{Message, Post};

/// So many may talk at a time.
const MOST_CONNECTIONS: usize = 8;

/// Whoever says nothing for so long is let go: others wait.
const SILENCE: Duration = Duration::from_secs(10);

/// The most that one line says on the way in.
const LONGEST_REQUEST: u64 = LONGEST_LINE as u64;

/// Why the service cannot start.
#[derive(Debug)]
pub enum SocketError {
    /// Another service answers on the socket.
    InUse(PathBuf),
    /// It cannot be made.
    Socket(PathBuf, std::io::Error),
    /// The kernel refuses something else.
    Kernel(std::io::Error),
    /// The control thread broke off: a fault of ours.
    Broke,
}

impl fmt::Display for SocketError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::InUse(path) => write!(
                f,
                "another pilotwire answers on {}; stop that one first, or give another --socket",
                path.display()
            ),
            Self::Socket(path, error) => write!(
                f,
                "the control socket {} cannot be made: {error}; make its folder, or give another --socket",
                path.display()
            ),
            Self::Broke => f.write_str(
                "the service broke off, which is a fault of pilotwire; its log says where",
            ),
            Self::Kernel(error) => write!(f, "the kernel refuses what a service needs: {error}"),
        }
    }
}

impl std::error::Error for SocketError {}

/// The socket, open.
pub(super) struct Bound(StdListener, Made);

/// Which file a socket is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Made(u64, u64);

impl Made {
    fn of(path: &Path) -> std::io::Result<Self> {
        use std::os::unix::fs::MetadataExt;
        let file = std::fs::symlink_metadata(path)?;
        Ok(Self(file.dev(), file.ino()))
    }

    /// Removes it, unless another has taken its place.
    pub(super) fn remove(self, path: &Path) {
        if Self::of(path).is_ok_and(|there| there == self) {
            let _ = std::fs::remove_file(path);
        }
    }
}

impl Bound {
    /// Opens it for its owner and its group. One that an earlier run left behind gives way.
    pub(super) fn open(path: &Path) -> Result<Self, SocketError> {
        if StdStream::connect(path).is_ok() {
            return Err(SocketError::InUse(path.to_owned()));
        }
        let made = || {
            // Under another name until its mode is right, so that nobody gets in before.
            let new = path.with_extension("new");
            match std::fs::remove_file(&new) {
                Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error),
                _ => {}
            }
            let listener = StdListener::bind(&new)?;
            std::fs::set_permissions(&new, std::fs::Permissions::from_mode(0o660))?;
            let file = Made::of(&new)?;
            std::fs::rename(&new, path)?;
            listener.set_nonblocking(true)?;
            Ok((listener, file))
        };
        made()
            .map(|(listener, file)| Self(listener, file))
            .map_err(|error| SocketError::Socket(path.to_owned(), error))
    }

    /// Which file it is.
    pub(super) fn made(&self) -> Made {
        self.1
    }

    /// Serves it for ever.
    pub(super) fn serve(self, post: Post) -> std::io::Result<impl Future<Output = ()>> {
        let listener = UnixListener::from_std(self.0)?;
        Ok(async move {
            let seats = Arc::new(Semaphore::new(MOST_CONNECTIONS));
            loop {
                let Ok(seat) = Arc::clone(&seats).acquire_owned().await else {
                    return;
                };
                match listener.accept().await {
                    Ok((stream, _)) => {
                        let post = post.clone();
                        tokio::spawn(async move {
                            if let Err(error) = talk(stream, post).await {
                                debug!(why = ?error.to_string(), "a client went away");
                            }
                            drop(seat);
                        });
                    }
                    Err(error) => {
                        warn!(why = ?error.to_string(), "a client could not be let in");
                        // Out of files, most likely: give somebody time to go.
                        tokio::time::sleep(Duration::from_secs(1)).await;
                    }
                }
            }
        })
    }
}

/// Answers one client until it goes or falls silent.
async fn talk(stream: UnixStream, post: Post) -> std::io::Result<()> {
    let peer = stream.peer_cred().ok();
    let peer = peer.map(|peer| (peer.uid(), peer.pid().unwrap_or(0)));
    let (reader, mut writer) = stream.into_split();
    let mut reader = BufReader::with_capacity(1024, reader);
    loop {
        let mut line = Vec::new();
        let mut limited = (&mut reader).take(LONGEST_REQUEST);
        let Ok(read) = timeout(SILENCE, limited.read_until(b'\n', &mut line)).await else {
            return Ok(());
        };
        if read? == 0 {
            return Ok(());
        }
        let whole = line.last() == Some(&b'\n');
        let reply = if whole {
            answer(&line, peer, &post).await
        } else {
            refused("the request is longer than 64 kB, or not ended by a line feed")
        };
        let mut text = serde_json::to_vec(&reply)?;
        text.push(b'\n');
        let Ok(written) = timeout(SILENCE, writer.write_all(&text)).await else {
            return Ok(());
        };
        written?;
        if !whole {
            return Ok(());
        }
    }
}

fn refused(why: impl Into<String>) -> Reply {
    Reply::Refused(Refusal {
        why: why.into(),
        remedy: "use the commands of `pilotwire`".into(),
        at: BTreeMap::new(),
    })
}

async fn answer(line: &[u8], peer: Option<(u32, i32)>, post: &Post) -> Reply {
    let request: Request = match serde_json::from_slice(line) {
        Ok(request) => request,
        Err(error) => return refused(format!("the request is not understood: {error}")),
    };
    if request.changes() {
        let (uid, pid) = peer.unzip();
        info!(uid, pid, request = ?request, "asked");
    }
    let (sender, receiver) = oneshot::channel();
    post.send(Message::Ask((request, sender)));
    receiver
        .await
        .unwrap_or_else(|_| refused("the service is about to stop"))
}
