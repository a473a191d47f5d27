//! The thread that talks: signals and the control socket.

use std::sync::Arc;

use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::oneshot;
use tracing::info;

use super::control_loop::{Message, Post};
use super::page::{PageSocket, Shown};
use super::socket::Bound;

/// Whoever talks to people.
pub(super) struct People {
    pub(super) post: Post,
}

impl People {
    /// Talks until a signal says stop, or the control thread has ended.
    pub(super) fn talk(
        &self,
        listener: Option<Bound>,
        page: Option<(PageSocket, Arc<Shown>)>,
        mut ended: oneshot::Receiver<()>,
    ) -> std::io::Result<()> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_io()
            .enable_time()
            .build()?;
        runtime.block_on(async {
            let mut term = signal(SignalKind::terminate())?;
            let mut int = signal(SignalKind::interrupt())?;
            let mut hup = signal(SignalKind::hangup())?;
            if let Some(listener) = listener {
                tokio::spawn(listener.serve(self.post.clone())?);
            }
            if let Some((socket, shown)) = page {
                tokio::spawn(super::page::serve(socket, shown, self.post.clone()));
            }
            loop {
                tokio::select! {
                    _ = &mut ended => return Ok(()),
                    _ = term.recv() => return Ok(self.stop("told to stop")),
                    _ = int.recv() => return Ok(self.stop("interrupted")),
                    _ = hup.recv() => {
                        info!("told to read the site file anew");
                        self.post.send(Message::Reload);
                    }
                }
            }
        })
    }

    fn stop(&self, why: &'static str) {
        self.post.send(Message::Stop(why));
    }
}
