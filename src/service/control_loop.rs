//! The control thread.
//!
//! The watchdog is fed while a line is known to be lost: a restart would darken all others and mend nothing.
//! The line is looked for at every wake, and reported. A line that newly does not read back as it was driven
//! costs one feeding. The watchdog waits three minutes, because the tick is a minute and every wake-up costs
//! a board that idles all day; with a shorter one the tick is half of it.

use std::io::Write;
use std::os::fd::OwnedFd;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender};
use std::time::Duration;

use chrono::TimeDelta;
use rustix::event::{PollFd, PollFlags, poll};
use rustix::io::Errno;
use sd_notify::NotifyState;
use tracing::{error, warn};

use crate::cautions::{Caution, Level, cautions, verdict};
use crate::civil_time::ZoneInfo;
use crate::commissioning::Sheet;
use crate::daemon::control::{Done, Refusal, Reply, Request};
use crate::daemon::engine::Engine;
use crate::daemon::engine::status::Checked;
use crate::daemon::lines::{Lines, outputs, taken};
use crate::daemon::moment::{Again, Now};
use crate::daemon::store::{Database, Durability, Store};
use crate::link::{Draw, LinkJudgement, judge};
use crate::schedule::Evening;
use crate::site::Site;

use super::page::Shown;
use super::timers::{BootTimer, WallTimer, quiet, ring};
use super::{Asked, OpenLines, ReadSite, Service, boot, clock, log};

/// At least so often everything is looked at anew, and the watchdog fed.
const TICK: Duration = Duration::from_secs(60);

/// The same while an input cannot wake anybody: its chip has no interrupts, or is lost.
const WATCHED_TICK: Duration = Duration::from_secs(1);

/// A store that could not be opened is tried so often.
const STORE_EVERY: Duration = Duration::from_secs(600);

/// The rules of the yard's clocks are looked at so often, and when the clock was set.
const RULES_EVERY: Duration = Duration::from_secs(86_400);

/// What the links do, and what `check` says of the yard.
type WorkedOut = (Vec<LinkJudgement>, Checked);

/// What the control thread is told.
pub(super) enum Message {
    /// A request.
    Ask(Asked),
    /// Read the site file anew.
    Reload,
    /// What the links do and what `check` says of the yard, of the site of that number.
    Links(u64, Result<WorkedOut, String>),
    /// Somebody wants to know what meters should show.
    WantSheet,
    /// What they should show, in the site of that number.
    Sheet(u64, Result<Sheet, String>),
    /// Stop, for this reason.
    Stop(&'static str),
}

/// Where messages are posted.
#[derive(Clone)]
pub(super) struct Post {
    sender: Sender<Message>,
    bell: Arc<OwnedFd>,
}

impl Post {
    pub(super) fn new(sender: Sender<Message>, bell: Arc<OwnedFd>) -> Self {
        Self { sender, bell }
    }

    /// Posts a message. One that comes after the end is nobody's.
    pub(super) fn send(&self, message: Message) {
        let _ = self.sender.send(message);
        ring(&self.bell);
    }
}

/// The control thread's own.
pub(super) struct Control {
    engine: Engine<Box<dyn Lines + Send>, Database>,
    read: ReadSite,
    open: OpenLines,
    post: Post,
    messages: Receiver<Message>,
    rung: Arc<OwnedFd>,
    wall: WallTimer,
    boot: BootTimer,
    print: bool,
    /// What the page shows, if there is one.
    shown: Option<Arc<Shown>>,
    /// When the page was last shown what there is to see; `None`: there is more.
    shown_at: Option<Duration>,
    /// An answer, and who waits for it. It is given after the next look: whoever has it finds the zone driven,
    /// and the page shows it.
    owed: Option<(Reply, tokio::sync::oneshot::Sender<Reply>)>,
    tick: Duration,
    zones: ZoneInfo,
    rules: Rules,
    /// How often a site was taken in hand.
    generation: u64,
    /// The links are being worked out.
    working: bool,
    /// What meters should show is being worked out.
    working_sheet: bool,
    state_dir: Option<PathBuf>,
    /// When the store was last opened.
    store_tried: Duration,
}

/// The file of the yard's clock rules, as it was when it was read.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Rules {
    looked: Duration,
    /// The wall clock less the time since boot [s], when they were looked at.
    offset_s: i64,
    stamp: Option<(std::time::SystemTime, u64)>,
    version: Option<String>,
}

impl Rules {
    fn of(site: &Site, zones: &ZoneInfo) -> Self {
        let stamp = std::fs::metadata(site.timezone.path())
            .and_then(|file| Ok((file.modified()?, file.len())))
            .ok();
        let looked = clock::since_boot();
        Self {
            looked,
            offset_s: clock::utc().timestamp() - i64::try_from(looked.as_secs()).unwrap_or(0),
            stamp,
            version: zones.version().map(str::to_owned),
        }
    }
}

impl Control {
    pub(super) fn new(
        service: Service,
        post: Post,
        messages: Receiver<Message>,
        rung: Arc<OwnedFd>,
        shown: Option<Arc<Shown>>,
    ) -> Result<Self, Errno> {
        let Service {
            site,
            read,
            open,
            state_dir,
            socket,
            page: _,
            print,
        } = service;
        let lines = open(&site);
        let (store, trouble) = match &state_dir {
            Some(folder) => Database::open(folder, Durability::Full),
            None => (Database::without_file(), None),
        };
        let zones = ZoneInfo::from_environment();
        let rules = Rules::of(&site, &zones);
        let boot_id = boot::id(socket.as_deref().and_then(std::path::Path::parent));
        let newest = store.load().newest;
        let now = clock::now(&site.daemon.clock_proof, print, newest);
        Ok(Self {
            engine: Engine::new(site, boot_id, lines, (store, trouble), now),
            read,
            open,
            post,
            messages,
            rung,
            wall: WallTimer::new()?,
            boot: BootTimer::new()?,
            print,
            shown,
            shown_at: None,
            owed: None,
            // The watchdog is fed at every tick, and must be fed in half its time.
            tick: sd_notify::watchdog_enabled().map_or(TICK, |watchdog| TICK.min(watchdog / 2)),
            zones,
            rules,
            generation: 0,
            working: false,
            working_sheet: false,
            state_dir,
            store_tried: clock::since_boot(),
        })
    }

    /// Says that there is no page though there should be.
    pub(super) fn no_page(&mut self, why: &str) {
        let now = self.now();
        self.engine.no_page(why, now);
    }

    /// Runs until it is told to stop.
    pub(super) fn run(mut self) {
        let mut ready = false;
        if self.print {
            self.engine.say_predictions();
        }
        self.remember_lines(self.engine.site());
        self.work_out_links();
        loop {
            let again = self.look();
            if let Some((answer, reply)) = self.owed.take() {
                // Whoever asked may have gone.
                let _ = reply.send(answer);
            }
            if !ready {
                ready = true;
                tell(&[NotifyState::Ready]);
            }
            self.arm(again);
            self.wait();
            if let Some(why) = self.hear() {
                tell(&[NotifyState::Stopping]);
                let now = self.now();
                self.engine.stop(now, why);
                self.speak();
                return;
            }
        }
    }

    fn now(&self) -> Now {
        let proof = &self.engine.site().daemon.clock_proof;
        // What is only printed harms nobody, if the clock is wrong.
        let trusted = self.print || self.engine.clock_trusted();
        clock::now(proof, trusted, self.engine.newest())
    }

    /// Lets the engine look at everything, says what came of it, and feeds the watchdog.
    fn look(&mut self) -> Again {
        let now = self.now();
        self.look_at_rules(now);
        self.look_at_store(now);
        let woken = self.engine.wake(now);
        let news = self.speak();
        if woken.sound {
            tell(&[NotifyState::Watchdog]);
        }
        self.show(now, news);
        if news {
            tell(&[NotifyState::Status(&self.engine.status(now).in_short())]);
        }
        woken.again
    }

    /// Shows the page what there is to see: when it is new, and at every tick.
    fn show(&mut self, now: Now, news: bool) {
        let Some(shown) = &self.shown else { return };
        shown
            .looked
            .store(now.boot.as_secs(), std::sync::atomic::Ordering::Relaxed);
        let stale = self
            .shown_at
            .is_none_or(|at| now.boot.saturating_sub(at) >= TICK / 2);
        if news || stale {
            self.shown_at = Some(now.boot);
            let seen = Arc::new(self.engine.seen(now));
            shown.seen.send_replace(Some(seen));
        }
    }

    /// Says what happened; whether anything did.
    fn speak(&mut self) -> bool {
        let said = self.engine.take_said();
        for event in &said {
            log::say(event);
            if self.print {
                let mut out = std::io::stdout().lock();
                let line = log::line(self.engine.site(), event);
                // Nobody reads any more: the log has it.
                let _ = writeln!(out, "{line}").and_then(|()| out.flush());
            }
        }
        !said.is_empty()
    }

    fn arm(&mut self, again: Again) {
        let now = clock::since_boot();
        let tick = now
            + if self.engine.lines().must_be_watched() {
                WATCHED_TICK
            } else {
                self.tick
            };
        let boot = again.boot.map_or(tick, |boot| boot.min(tick));
        // Armed even if nothing is due, to be woken when the clock is set.
        let far = clock::utc() + TimeDelta::days(1);
        let armed = self
            .wall
            .arm(again.utc.map_or(far, |utc| utc.min(far)))
            .and_then(|set| {
                // The clock was set between looking and arming: look again at once.
                self.boot.arm(if set { now } else { boot })
            });
        if let Err(error) = armed {
            error!(why = ?error.to_string(), "a timer cannot be armed");
        }
    }

    /// Waits for whatever comes first.
    fn wait(&mut self) {
        let lines = self.engine.lines();
        let mut fds = vec![
            PollFd::new(self.wall.fd(), PollFlags::IN),
            PollFd::new(self.boot.fd(), PollFlags::IN),
            PollFd::new(&*self.rung, PollFlags::IN),
        ];
        let wakers = lines.wakers();
        fds.extend(wakers.iter().map(|fd| PollFd::new(fd, PollFlags::IN)));
        match poll(&mut fds, None) {
            Ok(_) | Err(Errno::INTR) => {}
            Err(error) => warn!(why = ?error.to_string(), "waiting failed"),
        }
        let input = fds[3..].iter().any(|fd| !fd.revents().is_empty());
        drop(fds);
        drop(wakers);
        if input {
            self.engine.lines().drain();
        }
        let heard = self
            .wall
            .quiet()
            .and_then(|()| self.boot.quiet())
            .and_then(|()| quiet(&self.rung));
        if let Err(error) = heard {
            warn!(why = ?error.to_string(), "a timer cannot be read");
        }
    }

    /// Does what one message says; a reason to stop, if it is that. The yard is looked at between any two,
    /// so nobody who asks without end keeps it from being.
    fn hear(&mut self) -> Option<&'static str> {
        if let Ok(message) = self.messages.try_recv() {
            ring(&self.rung);
            match message {
                Message::Ask((request, reply)) => {
                    self.owed = Some((self.answer(request), reply));
                }
                Message::Reload => {
                    self.reload();
                }
                Message::Links(generation, links) => {
                    self.working = false;
                    match links {
                        // There is a newer site.
                        _ if generation != self.generation => self.work_out_links(),
                        Ok((links, checked)) => {
                            let now = self.now();
                            self.engine.set_links(links);
                            self.engine.set_checked(checked, now);
                            self.shown_at = None;
                            // What was measured tells what zones do after a restart as well.
                            if self.engine.was_measured() {
                                self.work_out_sheet();
                            }
                        }
                        Err(why) => warn!(why = ?why, "the links are not worked out"),
                    }
                }
                Message::WantSheet => self.work_out_sheet(),
                Message::Sheet(generation, sheet) => {
                    self.working_sheet = false;
                    if generation == self.generation {
                        if let Err(why) = &sheet {
                            warn!(why = ?why, "what meters should show is not worked out");
                        }
                        self.engine.set_sheet(sheet);
                        self.shown_at = None;
                    } else {
                        self.work_out_sheet();
                    }
                }
                Message::Stop(why) => return Some(why),
            }
        }
        None
    }

    fn answer(&mut self, request: Request) -> Reply {
        let now = self.now();
        if matches!(request, Request::Measured { .. } | Request::Readings) {
            self.work_out_sheet();
        }
        // Readings are no event, and not every hold is one.
        if request.changes() {
            self.shown_at = None;
        }
        self.engine
            .answer(request, now)
            .unwrap_or_else(|| self.reload())
    }

    /// Reads the site file anew; a bad one leaves the old one in force.
    fn reload(&mut self) -> Reply {
        tell(&[
            NotifyState::Reloading,
            NotifyState::MonotonicUsec(monotonic_us()),
        ]);
        let reply = match (self.read)() {
            Ok(site) => {
                let now = self.now();
                let old = self.engine.site();
                let names = |site: &Site| -> Vec<String> {
                    site.zones.iter().map(|zone| zone.name.clone()).collect()
                };
                let same_lines = old.outputs == site.outputs
                    && old.inputs == site.inputs
                    && names(old) == names(&site);
                let lines = (!same_lines).then(|| {
                    // Some kernels keep the level of a line that is let go.
                    self.engine.all_dark(now, "its line is taken anew");
                    // A line can be requested once at a time: let go of the old ones first.
                    *self.engine.lines() = Box::new(crate::daemon::lines::Printed::default());
                    self.remember_lines(&site);
                    (self.open)(&site)
                });
                self.rules = Rules::of(&site, &self.zones);
                self.engine.replace(site, lines, now);
                self.generation += 1;
                self.work_out_links();
                Reply::Done(Done {
                    what: "site file read anew".into(),
                    kept: true,
                    note: None,
                })
            }
            Err(why) => {
                let now = self.now();
                self.engine.reload_failed(why.clone(), now);
                Reply::Refused(Refusal {
                    why: format!(
                        "the new site file cannot be used, the old one stays in force: {why}"
                    ),
                    remedy: "mend it, see `pilotwire check`, and reload again".into(),
                    at: std::collections::BTreeMap::new(),
                })
            }
        };
        tell(&[NotifyState::Ready]);
        reply
    }

    /// Leaves behind which lines are driven, so that they can be driven dark after this service has died,
    /// whatever has become of the site file meanwhile.
    fn remember_lines(&self, site: &Site) {
        let Some(folder) = self.state_dir.as_deref().filter(|_| !self.print) else {
            return;
        };
        if let Err(error) = taken::write(folder, &outputs(site)) {
            warn!(why = ?error.to_string(), "which lines are driven is not remembered");
        }
    }

    /// Tries now and then whether a store that could not be opened can be.
    fn look_at_store(&mut self, now: Now) {
        let nothing_kept = self.engine.keeps_nothing();
        let Some(folder) = self.state_dir.as_deref().filter(|_| nothing_kept) else {
            return;
        };
        if now.boot.saturating_sub(self.store_tried) < STORE_EVERY {
            return;
        }
        self.store_tried = now.boot;
        let (store, _) = Database::open(folder, Durability::Full);
        if !store.is_in_memory() {
            self.engine.take_store(store, now);
        }
    }

    /// Has the links worked out beside: nothing that is driven waits for it.
    fn work_out_links(&mut self) {
        // One at a time: whoever ends finds that there is a newer site.
        if std::mem::replace(&mut self.working, true) {
            return;
        }
        let site = self.engine.site().clone();
        let (post, generation) = (self.post.clone(), self.generation);
        let today = Evening::at(&site, self.now().utc).date;
        // On one thread: whatever else runs on the board has the other cores.
        let worked_out = move || -> Result<WorkedOut, String> {
            let links = judge(&site, Draw::FEWEST).map_err(|error| error.to_string())?;
            let cautions = cautions(&site, &links, today).map_err(|error| error.to_string())?;
            Ok((links, checked(&site, &cautions)))
        };
        let work = move || {
            post.send(Message::Links(generation, worked_out()));
        };
        let spawned = std::thread::Builder::new().name("links".into()).spawn(work);
        if let Err(error) = spawned {
            self.working = false;
            warn!(why = ?error.to_string(), "the links are not worked out");
        }
    }

    /// Has it worked out beside what meters should show, once somebody wants to know: what nobody uses is not in
    /// memory.
    fn work_out_sheet(&mut self) {
        if !self.engine.has_no_sheet() || std::mem::replace(&mut self.working_sheet, true) {
            return;
        }
        let site = self.engine.site().clone();
        let (post, generation) = (self.post.clone(), self.generation);
        let work = move || {
            let sheet = Sheet::of(&site).map_err(|error| error.to_string());
            post.send(Message::Sheet(generation, sheet));
        };
        let spawned = std::thread::Builder::new()
            .name("meters".into())
            .spawn(work);
        if let Err(error) = spawned {
            self.working_sheet = false;
            warn!(why = ?error.to_string(), "what meters should show is not worked out");
        }
    }

    /// Looks now and then whether the machine's time zone rules are still those that were read.
    fn look_at_rules(&mut self, now: Now) {
        let offset = now.utc.timestamp() - i64::try_from(now.boot.as_secs()).unwrap_or(0);
        // Whoever sets the clock may have come with new rules.
        let set = (offset - self.rules.offset_s).abs() > 1;
        if !set && now.boot.saturating_sub(self.rules.looked) < RULES_EVERY {
            return;
        }
        let fresh = ZoneInfo::from_environment();
        let rules = Rules::of(self.engine.site(), &fresh);
        let changed = rules.stamp != self.rules.stamp;
        let why = format!(
            "{} to {}",
            self.rules.version.as_deref().unwrap_or("unknown"),
            rules.version.as_deref().unwrap_or("unknown")
        );
        self.rules = rules;
        if changed {
            let name = self.engine.site().timezone.name().to_owned();
            match fresh.open(&name) {
                Ok(zone) => self.engine.set_timezone(zone, &why, now),
                Err(error) => warn!(why = ?error.to_string(), "time zone rules cannot be read"),
            }
        }
        self.zones = fresh;
    }
}

/// The verdict of `check`, and what stands behind it.
fn checked(site: &Site, cautions: &[Caution]) -> Checked {
    let of = |level| {
        cautions
            .iter()
            .filter(move |caution| caution.level == level)
    };
    Checked {
        verdict: verdict(cautions).to_string(),
        stops: of(Level::Stop)
            .map(|stop| format!("{} {}: {}", stop.code, stop.place.say(site), stop.text))
            .collect(),
        warnings: of(Level::Warn).count(),
    }
}

/// Tells the service manager, if there is one.
fn tell(state: &[NotifyState<'_>]) {
    if let Err(error) = sd_notify::notify(state) {
        warn!(why = ?error.to_string(), "the service manager cannot be told");
    }
}

fn monotonic_us() -> i128 {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::Monotonic);
    i128::from(now.tv_sec) * 1_000_000 + i128::from(now.tv_nsec) / 1000
}
