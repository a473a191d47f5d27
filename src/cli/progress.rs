//! What is being worked on, for whoever waits at a terminal.

use std::io::{IsTerminal, Write};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use pilotwire::site::Site;

/// What takes longer is said.
const PATIENCE: Duration = Duration::from_secs(1);

/// Says on standard error what is being worked on, if that takes more than a second; nothing where standard
/// error is no terminal.
pub(super) struct Progress {
    tell: Option<(Sender<String>, JoinHandle<()>)>,
}

impl Progress {
    pub(super) fn new(stage: impl Into<String>) -> Self {
        if !std::io::stderr().is_terminal() {
            return Self { tell: None };
        }
        let (sender, stages) = channel();
        let hand = std::thread::spawn(move || tell(&stages, PATIENCE, &mut std::io::stderr()));
        let progress = Self {
            tell: Some((sender, hand)),
        };
        progress.now(stage);
        progress
    }

    /// Of the links of a yard, which are judged.
    pub(super) fn of_links(site: &Site) -> Self {
        let count = site.links.len();
        let plural = if count == 1 { "" } else { "s" };
        Self::new(format!("simulating {count} link{plural}"))
    }

    /// The next stage.
    pub(super) fn now(&self, stage: impl Into<String>) {
        if let Some((sender, _)) = &self.tell {
            // Whoever cannot say it has nothing to say.
            let _ = sender.send(stage.into());
        }
    }
}

impl Drop for Progress {
    /// Nothing is said any more once the answer is there.
    fn drop(&mut self) {
        if let Some((sender, hand)) = self.tell.take() {
            drop(sender);
            let _ = hand.join();
        }
    }
}

/// Says every stage that lasts longer than `patience`, once.
fn tell(stages: &Receiver<String>, patience: Duration, out: &mut impl Write) {
    let mut next = stages.recv().ok();
    while let Some(stage) = next {
        next = match stages.recv_timeout(patience) {
            Ok(stage) => Some(stage),
            Err(RecvTimeoutError::Disconnected) => None,
            Err(RecvTimeoutError::Timeout) => {
                let _ = writeln!(out, "pilotwire: {stage} …");
                stages.recv().ok()
            }
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(stages: &[&str], patience: Duration) -> String {
        let (sender, receiver) = channel();
        for stage in stages {
            sender.send((*stage).to_owned()).unwrap();
        }
        drop(sender);
        let mut out = Vec::new();
        tell(&receiver, patience, &mut out);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn what_is_done_at_once_is_not_said() {
        assert_eq!(told(&["links", "drawing"], Duration::from_secs(3600)), "");
        assert_eq!(told(&[], Duration::ZERO), "");
    }

    #[test]
    fn a_stage_that_lasts_is_said_once() {
        let (sender, receiver) = channel();
        sender.send("simulating 3 links".to_owned()).unwrap();
        let mut out = Told(sender.into(), String::new());
        tell(&receiver, Duration::ZERO, &mut out);
        assert_eq!(out.1, "pilotwire: simulating 3 links …\n");
    }

    /// Ends the work as soon as something is said.
    struct Told(Option<Sender<String>>, String);

    impl Write for Told {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0 = None;
            self.1.push_str(std::str::from_utf8(bytes).unwrap());
            Ok(bytes.len())
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
}
