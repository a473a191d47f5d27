//! What the program is working on, for the person who waits at a terminal.

use std::io::{IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
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

/// So often it is said how much is done: on a terminal, over the line before; elsewhere on a new line.
const ON_A_TERMINAL: Duration = Duration::from_secs(1);
const ELSEWHERE: Duration = Duration::from_secs(10);

/// Says on standard error how many of many are done.
pub(super) struct Count {
    done: Arc<AtomicU64>,
    tell: Option<(Sender<()>, JoinHandle<()>)>,
}

impl Count {
    /// None of `all` yet, which are `what`: `runs`.
    pub(super) fn of(all: u64, what: &'static str) -> Self {
        let over = std::io::stderr().is_terminal();
        let (sender, end) = channel();
        let done = Arc::new(AtomicU64::new(0));
        let counted = Arc::clone(&done);
        let hand = std::thread::spawn(move || {
            let say = || format!("{} of {all} {what}", counted.load(Ordering::Relaxed));
            let every = if over { ON_A_TERMINAL } else { ELSEWHERE };
            count(&end, over, every, say, &mut std::io::stderr());
        });
        Self {
            done,
            tell: Some((sender, hand)),
        }
    }

    /// One more is done.
    pub(super) fn one(&self) {
        self.done.fetch_add(1, Ordering::Relaxed);
    }
}

impl Drop for Count {
    /// Nothing is said any more once the answer is there.
    fn drop(&mut self) {
        if let Some((sender, hand)) = self.tell.take() {
            drop(sender);
            let _ = hand.join();
        }
    }
}

/// Says now and then how far it is, until the other end of the channel is dropped.
fn count(
    end: &Receiver<()>,
    over: bool,
    every: Duration,
    say: impl Fn() -> String,
    out: &mut impl Write,
) {
    let mut said = false;
    while end.recv_timeout(every) == Err(RecvTimeoutError::Timeout) {
        said = true;
        let _ = if over {
            write!(out, "\rpilotwire: {} …", say())
        } else {
            writeln!(out, "pilotwire: {} …", say())
        };
        let _ = out.flush();
    }
    if over && said {
        // To the beginning of the line, and what stands in it away.
        let _ = write!(out, "\r\x1b[K");
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

    #[test]
    fn a_count_is_said_now_and_then_and_taken_away_from_a_terminal() {
        for (over, expected) in [
            (true, "\rpilotwire: 3 of 9 runs …\r\x1b[K"),
            (false, "pilotwire: 3 of 9 runs …\n"),
        ] {
            let (sender, end) = channel();
            let mut out = Told(Some(sender), String::new());
            count(
                &end,
                over,
                Duration::ZERO,
                || "3 of 9 runs".into(),
                &mut out,
            );
            assert_eq!(out.1, expected);
        }
    }

    /// Ends the work as soon as something is said.
    struct Told<T>(Option<Sender<T>>, String);

    impl<T> Write for Told<T> {
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
