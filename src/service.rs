//! `pilotwire run`: waits, and asks the engine.
//!
//! ```text
//! wall timer ─┐                                      ┌─ signals
//! boot timer ─┼─ poll ─► control thread ◄─ messages ─┼─ control socket
//! inputs ─────┘          engine, lines,              └─ what the links do, once worked out
//!                        store, watchdog
//! ```
//!
//! The control thread waits in the kernel for whatever comes first and then lets the engine look at
//! the yard again. It shares nothing with the thread that talks to people, so no client, however slow,
//! delays a switching. Two timers, because neither alone will do: the wall timer goes off when a person
//! or a program sets the clock; the timer on the time since boot does not, and looks every minute whether
//! anything was missed.
//!
//! The timers are the kernel's, not those of the async runtime: a sleep of the runtime goes by the monotonic
//! clock, and after a step of the wall clock it is off by the step. A timerfd on the wall clock with
//! `TFD_TIMER_CANCEL_ON_SET` is not, and `poll` takes it, the inputs and the bell in one place, so that a
//! tick costs one wake-up. The runtime's own way to wait for a file descriptor is unsound or `unsafe`.

use std::path::PathBuf;
use std::sync::mpsc;

use tracing::{error, info};

use crate::daemon::control::Request;
use crate::daemon::lines::Lines;
use crate::site::Site;

mod ask;
mod boot;
pub mod clock;
mod control_loop;
mod log;
mod page;
mod people;
mod socket;
mod timers;

pub use ask::{Unreachable, ask};
pub use socket::SocketError;

use control_loop::{Control, Message};
use people::People;

/// Reads the site file anew: the site, or why not.
pub type ReadSite = Box<dyn Fn() -> Result<Site, String> + Send>;

/// Opens the lines of a site.
pub type OpenLines = Box<dyn Fn(&Site) -> Box<dyn Lines + Send> + Send>;

/// What a service is made of.
pub struct Service {
    /// The yard.
    pub site: Site,
    /// How it is read anew.
    pub read: ReadSite,
    /// How its lines are opened.
    pub open: OpenLines,
    /// Folder of the store; `None`: nothing is kept.
    pub state_dir: Option<PathBuf>,
    /// The control socket; `None`: nobody can ask.
    pub socket: Option<PathBuf>,
    /// Whether there is a page, if the site file or the service manager has a port for it.
    pub page: bool,
    /// Switchings are printed on standard output as they come due.
    pub print: bool,
}

/// A request on its way to the control thread, and where the answer goes.
type Asked = (
    Request,
    tokio::sync::oneshot::Sender<crate::daemon::control::Reply>,
);

impl Service {
    /// Runs until it is told to stop.
    ///
    /// # Errors
    /// If the control socket cannot be opened, or the kernel refuses a timer.
    pub fn run(self) -> Result<(), SocketError> {
        let socket = self.socket.clone();
        let listener = socket.as_deref().map(socket::Bound::open).transpose()?;
        let made = listener.as_ref().map(socket::Bound::made);
        // The lights do not wait for a page, and do not go out for one.
        let (page, page_trouble) =
            match self.page.then(|| page::PageSocket::open(&self.site.daemon)) {
                Some(Ok(page)) => (page, None),
                Some(Err(error)) => (None, Some(error.to_string())),
                None => (None, None),
            };
        let shown = page.is_some().then(page::Shown::new);
        let (sender, receiver) = mpsc::channel();
        let (bell, rung) = timers::bell().map_err(|error| SocketError::Kernel(error.into()))?;
        let post = control_loop::Post::new(sender, bell);
        let mut control = Control::new(self, post.clone(), receiver, rung, shown.clone())
            .map_err(|error| SocketError::Kernel(error.into()))?;
        if let Some(why) = page_trouble {
            control.no_page(&why);
        }
        // Before anybody is told that it is ready: from then on signals mean what they say.
        let people = People::new(post.clone()).map_err(SocketError::Kernel)?;
        // Dropped when the control thread ends, however it ends.
        let (alive, ended) = tokio::sync::oneshot::channel::<()>();
        let thread = std::thread::Builder::new()
            .name("control".into())
            .spawn(move || {
                let _alive = alive;
                control.run();
            })
            .map_err(SocketError::Kernel)?;
        let talked = people.talk(listener, page.zip(shown), ended);
        if let Err(error) = talked {
            error!(why = ?error.to_string(), "nobody can ask any more");
            post.send(Message::Stop("the service lost its ears"));
        }
        let ended = thread.join();
        if let (Some(path), Some(made)) = (socket, made) {
            made.remove(&path);
        }
        info!("ended");
        ended.map_err(|_| SocketError::Broke)
    }
}
