//! The thread that talks: signals and the control socket.

use std::sync::Arc;

use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::sync::oneshot;
use tracing::info;

use super::control_loop::{Message, Post};
use super::page::{PageSocket, Shown};
use super::socket::Bound;

/// Whoever talks to people.
pub(super) struct People {
    post: Post,
    runtime: tokio::runtime::Runtime,
    term: Signal,
    int: Signal,
    hup: Signal,
}

impl People {
    /// From now on signals are heard.
    pub(super) fn new(post: Post) -> std::io::Result<Self> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_io()
            .enable_time()
            .build()?;
        let within = runtime.enter();
        let (term, int, hup) = (
            signal(SignalKind::terminate())?,
            signal(SignalKind::interrupt())?,
            signal(SignalKind::hangup())?,
        );
        drop(within);
        Ok(Self {
            post,
            runtime,
            term,
            int,
            hup,
        })
    }

    /// Talks until a signal says stop, or the control thread has ended.
    pub(super) fn talk(
        self,
        listener: Option<Bound>,
        page: Option<(PageSocket, Arc<Shown>)>,
        mut ended: oneshot::Receiver<()>,
    ) -> std::io::Result<()> {
        let Self {
            post,
            runtime,
            mut term,
            mut int,
            mut hup,
        } = self;
        runtime.block_on(async {
            if let Some(listener) = listener {
                tokio::spawn(listener.serve(post.clone())?);
            }
            if let Some((socket, shown)) = page {
                tokio::spawn(super::page::serve(socket, shown, post.clone()));
            }
            loop {
                tokio::select! {
                    _ = &mut ended => break,
                    _ = term.recv() => {
                        post.send(Message::Stop("told to stop"));
                        break;
                    }
                    _ = int.recv() => {
                        post.send(Message::Stop("interrupted"));
                        break;
                    }
                    _ = hup.recv() => {
                        info!("told to read the site file anew");
                        post.send(Message::Reload);
                    }
                }
            }
            Ok(())
        })
    }
}
