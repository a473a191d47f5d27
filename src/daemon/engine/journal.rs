//! What is said and kept of what happens: the store, what it has not taken yet, and the hours of every zone.

use std::collections::HashMap;
use std::time::Duration;

use chrono::{DateTime, Utc};

use crate::daemon::moment::Now;
use crate::daemon::store::{Entry, Event, Kind, Store, Trouble, ZoneRecord};
use crate::site::{Site, ZoneId};

/// Lit hours are kept at least so often: a power cut loses no more.
const KEEP_LIT_EVERY: Duration = Duration::from_secs(600);

/// While all is dark, the newest time is kept so often.
const KEEP_DARK_EVERY: Duration = Duration::from_secs(3600);

/// What happens to a zone more often than this within an hour is no more recorded: a card does not last
/// ten years of that. An input that changes so often means nothing any more.
pub(super) const OFTEN: u32 = 60;

pub(super) const HOUR: Duration = Duration::from_secs(3600);

/// Records that wait for a store that does not take them; more are lost, and counted.
pub(super) const MOST_PENDING: usize = 1000;

/// A zone's counters, as they are and as they are on the disk.
#[derive(Debug, Clone)]
pub(super) struct Counted {
    pub(super) now: ZoneRecord,
    kept: Option<ZoneRecord>,
    /// This board has a line or an input for it.
    known: bool,
}

impl Counted {
    /// Something other than its hours is not on the disk.
    fn has_news(&self) -> bool {
        let but_hours = |of: &ZoneRecord| (of.lit, of.since, of.operations);
        self.kept.as_ref().map(but_hours) != Some(but_hours(&self.now))
    }
}

pub(super) struct Journal<S> {
    pub(super) store: S,
    pub(super) zones: Vec<Counted>,
    /// When all of it was last kept; none if it is to be kept now.
    kept_at: Option<Duration>,
    /// What the store has not taken yet.
    pub(super) pending: Vec<Entry>,
    pub(super) lost: u64,
    /// The store takes nothing, or forgets it with the next start.
    pub(super) trouble: Option<Trouble>,
    failed: bool,
    /// What was put aside at the start: told of until the service starts anew.
    pub(super) aside: Option<Trouble>,
    /// What is to be said of what happened, oldest first.
    said: Vec<Event>,
    /// How often each kind of thing was said of each zone, since then.
    said_often: HashMap<(Kind, String), u32>,
    said_since: Duration,
}

impl<S: Store> Journal<S> {
    pub(super) fn new((store, trouble): (S, Option<Trouble>), now: Now) -> Self {
        let (forgets, aside) = match trouble {
            Some(trouble) if store.is_in_memory() => (Some(trouble), None),
            trouble => (None, trouble),
        };
        Self {
            store,
            zones: Vec::new(),
            kept_at: Some(now.boot),
            pending: Vec::new(),
            lost: 0,
            trouble: forgets,
            failed: false,
            aside,
            said: Vec::new(),
            said_often: HashMap::new(),
            said_since: now.boot,
        }
    }

    /// Counts the zones of a site on from what was kept of those of their names.
    pub(super) fn count_zones(&mut self, site: &Site, now: Now) {
        let records = self.store.load().zones;
        let before = std::mem::take(&mut self.zones);
        let counted = |index: usize| {
            let name = &site.zones[index].name;
            let zone = ZoneId(index);
            let known = site.output_of(zone).is_some() || site.input_of(zone).is_some();
            if let Some(before) = before.iter().find(|before| before.now.zone == *name) {
                return Counted {
                    known,
                    ..before.clone()
                };
            }
            let record = records.iter().find(|record| record.zone == *name);
            Counted {
                now: ZoneRecord {
                    zone: name.clone(),
                    lit: record.is_some_and(|record| record.lit),
                    since: now.utc,
                    lit_s: record.map_or(0.0, |record| record.lit_s),
                    operations: record.map_or(0, |record| record.operations),
                },
                kept: None,
                known,
            }
        };
        self.zones = (0..site.zones.len()).map(counted).collect();
    }

    /// A zone's line went on or off.
    pub(super) fn switched(&mut self, now: Now, zone: ZoneId, lit: bool, why: &str) {
        let counted = &mut self.zones[zone.0].now;
        counted.since = now.utc;
        counted.operations += u64::from(lit);
        let what = if lit { "on" } else { "off" };
        self.say_of(now, Kind::Switched, zone, what, why);
    }

    /// What happened since this was last asked, oldest first.
    pub(super) fn take_said(&mut self) -> Vec<Event> {
        std::mem::take(&mut self.said)
    }

    fn begin_hour(&mut self, now: Now) {
        if now.boot.saturating_sub(self.said_since) >= HOUR {
            self.said_since = now.boot;
            self.said_often.clear();
        }
    }

    /// Whether nothing more of this kind would be recorded of a zone in this hour.
    pub(super) fn said_enough(&mut self, now: Now, kind: Kind, zone: &str) -> bool {
        self.begin_hour(now);
        let count = self.said_often.get(&(kind, zone.to_owned()));
        count.is_some_and(|count| *count >= OFTEN)
    }

    pub(super) fn say_of(&mut self, now: Now, kind: Kind, zone: ZoneId, what: &str, why: &str) {
        let name = self.zones[zone.0].now.zone.clone();
        self.say(now, kind, Some(&name), what, why);
    }

    pub(super) fn say(&mut self, now: Now, kind: Kind, zone: Option<&str>, what: &str, why: &str) {
        self.begin_hour(now);
        let of = (kind, zone.unwrap_or_default().to_owned());
        let count = self.said_often.entry(of).or_insert(0);
        *count += 1;
        if *count > OFTEN {
            if *count == OFTEN + 1 {
                let why = format!("more than {OFTEN} times within an hour; not each is recorded");
                let what = format!("again and again: {what}");
                self.tell(now, Kind::Fault, zone, &what, &why);
            }
            return;
        }
        self.tell(now, kind, zone, what, why);
    }

    fn tell(&mut self, now: Now, kind: Kind, zone: Option<&str>, what: &str, why: &str) {
        let event = Event {
            at: now.utc,
            boot: now.boot,
            kind,
            zone: zone.map(str::to_owned),
            what: what.to_owned(),
            why: why.to_owned(),
        };
        self.say_unrecorded(event.clone());
        self.keep_later(Entry::Event(event));
    }

    pub(super) fn say_unrecorded(&mut self, event: Event) {
        self.said.push(event);
    }

    pub(super) fn keep_later(&mut self, entry: Entry) {
        if self.pending.len() >= MOST_PENDING {
            // What is held must not be forgotten; what happened may be.
            let may_go = |entry: &Entry| matches!(entry, Entry::Event(_) | Entry::Reading(..));
            if let Some(oldest) = self.pending.iter().position(may_go) {
                self.pending.remove(oldest);
                self.lost += 1;
            }
        }
        self.pending.push(entry);
    }

    /// Has the next record keep the hours of all zones.
    pub(super) fn keep_all(&mut self) {
        self.kept_at = None;
    }

    /// Keeps what waits, and the hours now and then; whether all of it would survive a power cut.
    pub(super) fn record(&mut self, now: Now, newest: Option<DateTime<Utc>>, lit: bool) -> bool {
        let every = if lit { KEEP_LIT_EVERY } else { KEEP_DARK_EVERY };
        let due = |at: Duration| now.boot.saturating_sub(at) >= every;
        let all = self.kept_at.is_none_or(due);
        if self.pending.is_empty() && !all {
            return !self.store.is_in_memory();
        }
        let mut pending = std::mem::take(&mut self.pending);
        pending.retain(|entry| !matches!(entry, Entry::Zone(_) | Entry::Newest(_)));
        // Hours run on with every wake: a yard of many zones would write all of them with each switching.
        let to_keep = |counted: &&mut Counted| counted.known && (all || counted.has_news());
        let mut written: Vec<&mut Counted> = self.zones.iter_mut().filter(to_keep).collect();
        pending.extend(written.iter().map(|it| Entry::Zone(it.now.clone())));
        pending.extend(newest.map(Entry::Newest));
        let kept = self.store.keep(&pending);
        if all {
            self.kept_at = Some(now.boot);
        }
        match kept {
            Ok(()) => {
                for counted in &mut written {
                    counted.kept = Some(counted.now.clone());
                }
                if self.failed {
                    self.failed = false;
                    self.trouble = None;
                    self.say(now, Kind::Mended, None, "store", "it takes records again");
                }
                !self.store.is_in_memory()
            }
            Err(trouble) => {
                self.pending = pending;
                self.refused(trouble, now);
                false
            }
        }
    }

    fn refused(&mut self, trouble: Trouble, now: Now) {
        // It may have been begun anew.
        for counted in &mut self.zones {
            counted.kept = None;
        }
        if !self.failed {
            self.say(now, Kind::Fault, None, "store", &trouble.0);
        }
        self.failed = true;
        self.trouble = Some(trouble);
    }

    /// Takes another store, which can keep, in the place of one that could not.
    pub(super) fn take_store(&mut self, store: S, now: Now) {
        self.store = store;
        self.trouble = None;
        self.failed = false;
        for counted in &mut self.zones {
            counted.kept = None;
        }
        self.say(now, Kind::Mended, None, "store", "it keeps records again");
    }
}
