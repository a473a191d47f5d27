//! What meters showed: taken, kept, judged.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::{DateTime, NaiveDate, Utc};

use crate::commissioning::{Found, Point, Sheet};
use crate::daemon::control::{Measured, Refusal, Reply};
use crate::daemon::lines::Lines;
use crate::daemon::moment::{ClockQuality, Now};
use crate::daemon::readings::{Given, LinkReading, Readings, ZoneReadings, few, how, of_zone};
use crate::daemon::store::{Entry, Kind, PointRecord, Store, Taken};
use crate::site::{Switching, ZoneId};

use super::Engine;
use super::answers::refused;
use super::journal::OFTEN;

/// What stands in the place of the points until they are worked out.
const NOT_YET: &str = "what meters should show is being worked out";

/// What is expected of meters, and what they showed.
#[derive(Debug)]
pub(super) struct Meters {
    /// None until somebody has asked; or why there can be none.
    sheet: Option<Result<Arc<Sheet>, String>>,
    /// By the keys of the points; also of those that the site file knows no more.
    records: BTreeMap<String, PointRecord>,
    /// Both together, as they were last told of, and on which day: they grow old.
    told: Option<(Option<NaiveDate>, Arc<Readings>)>,
}

impl Meters {
    pub(super) fn new(records: Vec<PointRecord>) -> Self {
        let by_point = |record: PointRecord| (record.point.clone(), record);
        Self {
            sheet: None,
            records: records.into_iter().map(by_point).collect(),
            told: None,
        }
    }

    /// What the sheet says holds no more.
    pub(super) fn forget_sheet(&mut self) {
        self.sheet = None;
        self.told = None;
    }

    fn take(&mut self, key: &str, taken: Taken) {
        self.told = None;
        let new = || PointRecord::new(key.to_owned(), taken);
        let record = self.records.entry(key.to_owned()).or_insert_with(new);
        record.take(taken);
    }

    /// Takes over what another store has: its readings are older. What this one had besides is given back, to be
    /// kept there.
    pub(super) fn join(&mut self, older: Vec<PointRecord>) -> Vec<Entry> {
        let own = std::mem::replace(
            self,
            Self {
                sheet: self.sheet.clone(),
                ..Self::new(older)
            },
        );
        let mut besides = Vec::new();
        for (key, record) in own.records {
            let there = self
                .records
                .get(&key)
                .map(|record| [record.first, record.last]);
            let mut all = vec![record.first];
            if record.last != record.first {
                all.push(record.last);
            }
            for taken in all {
                if !there.is_some_and(|there| there.contains(&taken)) {
                    besides.push(Entry::Reading(key.clone(), taken));
                    self.take(&key, taken);
                }
            }
        }
        besides
    }
}

impl<L: Lines, S: Store> Engine<L, S> {
    /// What was last said of the link that a zone follows by its readings; what is old says nothing of today.
    fn link_measured(&self, zone: ZoneId) -> Option<&LinkReading> {
        let (_, told) = self.meters.told.as_ref()?;
        let name = &self.site[zone].name;
        let zone = told.zones.iter().find(|told| told.zone == *name)?;
        zone.link.as_ref().filter(|link| !link.old)
    }

    /// Lit or dark, if the readings of a zone say that it is that whatever its master does.
    pub(super) fn measured_to_stay(&self, zone: ZoneId) -> Option<bool> {
        self.link_measured(zone)?.stays
    }

    /// Why it is, then.
    pub(super) fn why_measured(&self, zone: ZoneId) -> Option<String> {
        let link = self
            .link_measured(zone)
            .filter(|link| link.stays.is_some())?;
        Some(format!("by its readings: {}", link.said()?))
    }

    /// Whether anything was ever measured.
    pub fn was_measured(&self) -> bool {
        !self.meters.records.is_empty()
    }

    /// What meters should show, once that is worked out, or why it cannot be.
    pub fn set_sheet(&mut self, sheet: Result<Sheet, String>) {
        let sheet = sheet
            .map(Arc::new)
            .map_err(|why| format!("what meters should show cannot be worked out: {why}"));
        self.meters.sheet = Some(sheet);
        self.meters.told = None;
    }

    /// Whether what meters should show is still to be worked out.
    pub fn has_no_sheet(&self) -> bool {
        self.meters.sheet.is_none()
    }

    /// All test points, what should be read there and what was.
    pub(super) fn readings(&mut self, now: Now) -> Arc<Readings> {
        let now = now_if_good(now);
        let today = now.map(|now| now.date_naive());
        if let Some((day, told)) = &self.meters.told
            && *day == today
        {
            return Arc::clone(told);
        }
        let (missing, zones): (_, Vec<ZoneReadings>) = match &self.meters.sheet {
            None => (Some(NOT_YET.to_owned()), Vec::new()),
            Some(Err(why)) => (Some(why.clone()), Vec::new()),
            Some(Ok(sheet)) => {
                let zones = self.site.zones_in_order().into_iter();
                let judged = |zone| of_zone(&self.site, sheet, &self.meters.records, zone, now);
                (None, zones.map(judged).collect())
            }
        };
        let told = Arc::new(Readings {
            site: self.site.name.clone(),
            timezone: self.site.timezone.name().to_owned(),
            missing,
            comes: self.has_no_sheet(),
            on_record: self.meters.records.len(),
            off: zones.iter().any(|zone| zone.any_off(|_| true)),
            zones,
        });
        self.meters.told = Some((today, Arc::clone(&told)));
        told
    }

    /// Takes readings of a zone, all or none, and judges them.
    pub(super) fn measured(
        &mut self,
        name: &str,
        given: &BTreeMap<String, Given>,
        now: Now,
    ) -> Result<Reply, Refusal> {
        let zone = self.zone_named(name)?;
        let sheet = match &self.meters.sheet {
            Some(Ok(sheet)) => Arc::clone(sheet),
            Some(Err(why)) => return refused(why.clone(), "see `pilotwire check`"),
            None => return refused(NOT_YET, "send it again in a moment"),
        };
        // A card wears out, and a flood of readings would drive out those of years.
        if self.journal.said_enough(now, Kind::Measured, name) {
            return refused(
                format!("{name} was measured {OFTEN} times within an hour"),
                "wait an hour, or send all readings of the zone at once",
            );
        }
        let points: Vec<&Point> = sheet.points.iter().filter(|it| it.zone == zone).collect();
        if given.is_empty() {
            return refused("nothing was measured", "give one reading at least");
        }
        let mut taken: Vec<(&Point, f64)> = Vec::new();
        let mut wrong = BTreeMap::new();
        for (of, given) in given {
            let Some(point) = points.iter().find(|point| point.name == *of) else {
                wrong.insert(of.clone(), self.no_point(of, zone, &sheet));
                continue;
            };
            match given.value(point.meter) {
                Ok(value) => taken.push((point, value)),
                Err(why) => drop(wrong.insert(of.clone(), why)),
            }
        }
        if let Some((of, why)) = wrong.first_key_value() {
            return Err(Refusal {
                why: format!("{of} of {name}: {why}"),
                remedy: "nothing was kept; mend it and send all again".into(),
                at: wrong,
            });
        }
        // In the order of the sheet.
        taken.sort_by_key(|(point, _)| points.iter().position(|it| it.name == point.name));
        let read = |value: f64, fine| Taken {
            at: now.utc,
            value,
            fine,
        };
        // Judged by what the supply gives, which may be among them, and only then known to be fine.
        for (point, value) in &taken {
            self.meters
                .take(&point.key(&self.site), read(*value, false));
        }
        let judged = of_zone(
            &self.site,
            &sheet,
            &self.meters.records,
            zone,
            now_if_good(now),
        );
        let fine = |name: &str| {
            let point = judged.points.iter().find(|point| point.name == name);
            point.is_some_and(|point| point.found.is_some_and(Found::may_be_compared_with))
        };
        for (point, value) in &taken {
            let (key, taken) = (point.key(&self.site), read(*value, fine(&point.name)));
            self.meters.take(&key, taken);
            self.journal.keep_later(Entry::Reading(key, taken));
        }
        let zones = self.judged_with(zone, now);
        let said = self.say_measured(name, &taken, &zones, now);
        let read = |name: &str| taken.iter().any(|(point, _)| point.name == name);
        let these = zones.iter().find(|zone| zone.zone == name);
        Ok(Reply::Measured(Box::new(Measured {
            what: said,
            off: these.is_some_and(|zone| zone.any_off(read)),
            kept: self.record(now),
            note: (now.quality != ClockQuality::Good).then(|| {
                format!(
                    "the clock is {}: the date of these readings may be wrong",
                    now.quality
                )
            }),
            zones,
        })))
    }

    /// There is no such point of the zone, but of another, or one that is meant.
    fn no_point(&self, name: &str, zone: ZoneId, sheet: &Sheet) -> String {
        let sought = folded(name);
        let same = sheet.points.iter().filter(|it| folded(&it.name) == sought);
        let zones: Vec<ZoneId> = same.map(|it| it.zone).collect();
        if !zones.is_empty() && !zones.contains(&zone) {
            let names = zones.iter().map(|zone| self.site[*zone].name.clone());
            let elsewhere = few(&names.collect::<Vec<_>>());
            let of = &self.site[zone].name;
            return format!("{of} has no such point: it is one of {elsewhere}");
        }
        let points: Vec<&Point> = sheet.points.iter().filter(|it| it.zone == zone).collect();
        no_point(&sought, &points)
    }

    /// A zone, and those whose readings go with its supply.
    fn judged_with(&mut self, zone: ZoneId, now: Now) -> Vec<ZoneReadings> {
        let hangs = |other: &ZoneId| match self.site[*other].switching {
            Switching::Follows(link) => self.site[link].master == zone,
            Switching::Timed(_) | Switching::Senses(_) => false,
        };
        let zones = self.site.zones_in_order().into_iter();
        let names: Vec<String> = zones
            .filter(|other| *other == zone || hangs(other))
            .map(|zone| self.site[zone].name.clone())
            .collect();
        let all = self.readings(now);
        let of_these = all.zones.iter().filter(|zone| names.contains(&zone.zone));
        of_these.cloned().collect()
    }

    /// Records that it was measured; what there is to say of it.
    fn say_measured(
        &mut self,
        name: &str,
        taken: &[(&Point, f64)],
        zones: &[ZoneReadings],
        now: Now,
    ) -> String {
        let read = |name: &str| taken.iter().any(|(point, _)| point.name == name);
        let zone = zones.iter().find(|zone| zone.zone == name);
        let how = zone.map_or_else(String::new, |zone| how(zone, read));
        let values: Vec<String> = taken
            .iter()
            .map(|(point, value)| {
                if value.is_finite() {
                    format!("{} {value} {}", point.name, point.meter.name())
                } else {
                    format!("{} OL", point.name)
                }
            })
            .collect();
        let what = match taken.len() {
            1 => "1 reading".to_owned(),
            count => format!("{count} readings"),
        };
        let why = format!("{how} ({})", values.join(", "));
        self.journal
            .say(now, Kind::Measured, Some(name), &what, &why);
        format!("{what} of {name}: {how}")
    }
}

/// A clock in doubt does not say how old anything is.
fn now_if_good(now: Now) -> Option<DateTime<Utc>> {
    (now.quality == ClockQuality::Good).then_some(now.utc)
}

/// A name as somebody may type it.
fn folded(name: &str) -> String {
    name.to_lowercase().replace(' ', "")
}

/// There is no such point, but perhaps one that is meant.
fn no_point(sought: &str, points: &[&Point]) -> String {
    let begin_so: Vec<&str> = points
        .iter()
        .filter(|point| !sought.is_empty() && folded(&point.name).starts_with(sought))
        .map(|point| point.name.as_str())
        .collect();
    let nearest = points
        .iter()
        .map(|point| {
            let distance = strsim::damerau_levenshtein(&folded(&point.name), sought);
            (distance, point.name.as_str())
        })
        .min()
        .filter(|(distance, _)| *distance <= 2);
    let meant = match nearest {
        _ if !begin_so.is_empty() => begin_so.join(" or "),
        Some((_, nearest)) => nearest.to_owned(),
        None => {
            let names: Vec<&str> = points.iter().map(|point| point.name.as_str()).collect();
            return format!("there is no such point, but {}", names.join(", "));
        }
    };
    format!("there is no such point; perhaps {meant}")
}
