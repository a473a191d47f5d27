//! What is kept, as rows.

use std::time::Duration;

use chrono::{DateTime, SubsecRound, Utc};
use rusqlite::types::Type;
use rusqlite::{Connection, Error, OptionalExtension, Params, Row, params};

use super::refusal::Refusal;
use super::{Entry, Event, Filter, Hold, Kept, Kind, PointRecord, Taken, ZoneRecord};

/// Longest text of an event [characters]; the rest is cut off.
const LONGEST: usize = 500;

/// Every kind.
const KINDS: [Kind; 7] = [
    Kind::Switched,
    Kind::Sensed,
    Kind::Held,
    Kind::Measured,
    Kind::Fault,
    Kind::Mended,
    Kind::Service,
];

impl Kind {
    /// As in the table and the JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Switched => "switched",
            Self::Sensed => "sensed",
            Self::Held => "held",
            Self::Measured => "measured",
            Self::Fault => "fault",
            Self::Mended => "mended",
            Self::Service => "service",
        }
    }
}

/// Writes one entry.
pub(super) fn put(db: &Connection, entry: &Entry) -> Result<(), Refusal> {
    match entry {
        Entry::Event(event) => execute(
            db,
            "INSERT INTO event (at, boot, kind, zone, what, why) VALUES (?, ?, ?, ?, ?, ?)",
            params![
                event.at.timestamp_micros(),
                micros(event.boot),
                event.kind.name(),
                event.zone,
                clipped(&event.what),
                clipped(&event.why),
            ],
        ),
        Entry::Hold(hold) => execute(
            db,
            "INSERT OR REPLACE INTO hold VALUES (?, ?, ?, ?, ?, ?, ?)",
            params![
                hold.zone,
                hold.lit,
                hold.since.timestamp_micros(),
                hold.until.timestamp_micros(),
                hold.boot_id,
                micros(hold.until_boot),
                hold.by_clock,
            ],
        ),
        Entry::Released(zone) => execute(db, "DELETE FROM hold WHERE zone = ?", [zone]),
        Entry::Zone(zone) => execute(
            db,
            "INSERT OR REPLACE INTO zone VALUES (?, ?, ?, ?, ?)",
            params![
                zone.zone,
                zone.lit,
                zone.since.timestamp_micros(),
                finite(zone.lit_s),
                i64::try_from(zone.operations).unwrap_or(i64::MAX),
            ],
        ),
        Entry::Reading(point, taken) => execute(
            db,
            "INSERT INTO reading (point, at, value, fine) VALUES (?, ?, ?, ?)",
            params![
                point,
                taken.at.timestamp_micros(),
                number(taken.value),
                taken.fine
            ],
        ),
        Entry::Newest(at) => execute(
            db,
            "INSERT INTO newest VALUES (1, ?) ON CONFLICT (id) DO UPDATE SET at = max(at, excluded.at)",
            [at.timestamp_micros()],
        ),
        Entry::NewestIs(at) => execute(
            db,
            "INSERT OR REPLACE INTO newest VALUES (1, ?)",
            [at.timestamp_micros()],
        ),
    }?;
    Ok(())
}

/// Runs a statement that is prepared once, not with every row.
fn execute(db: &Connection, sql: &str, with: impl Params) -> Result<usize, Error> {
    db.prepare_cached(sql)?.execute(with)
}

/// What one entry does to what was kept: as [`put`] and then [`load`].
pub(super) fn apply(kept: &mut Kept, entry: &Entry) {
    match entry {
        Entry::Event(_) => {}
        Entry::Hold(hold) => {
            let hold = Hold {
                since: hold.since.trunc_subsecs(6),
                until: hold.until.trunc_subsecs(6),
                until_boot: duration(micros(hold.until_boot)),
                ..hold.clone()
            };
            match kept
                .holds
                .binary_search_by(|held| held.zone.cmp(&hold.zone))
            {
                Ok(at) => kept.holds[at] = hold,
                Err(at) => kept.holds.insert(at, hold),
            }
        }
        Entry::Released(zone) => kept.holds.retain(|hold| hold.zone != *zone),
        Entry::Zone(zone) => {
            let zone = ZoneRecord {
                since: zone.since.trunc_subsecs(6),
                lit_s: finite(zone.lit_s),
                operations: zone.operations.min(i64::MAX.unsigned_abs()),
                ..zone.clone()
            };
            match kept.zones.binary_search_by(|of| of.zone.cmp(&zone.zone)) {
                Ok(at) => kept.zones[at] = zone,
                Err(at) => kept.zones.insert(at, zone),
            }
        }
        Entry::Reading(point, taken) => {
            let taken = Taken {
                at: taken.at.trunc_subsecs(6),
                value: number(taken.value),
                fine: taken.fine,
            };
            match kept.points.binary_search_by(|of| of.point.cmp(point)) {
                Ok(at) => kept.points[at].take(taken),
                Err(at) => kept
                    .points
                    .insert(at, PointRecord::new(point.clone(), taken)),
            }
        }
        Entry::Newest(at) => kept.newest = kept.newest.max(Some(at.trunc_subsecs(6))),
        Entry::NewestIs(at) => kept.newest = Some(at.trunc_subsecs(6)),
    }
}

/// What makes an empty store have all this.
pub(super) fn entries(kept: &Kept) -> Vec<Entry> {
    let holds = kept.holds.iter().cloned().map(Entry::Hold);
    let zones = kept.zones.iter().cloned().map(Entry::Zone);
    let readings = kept.points.iter().flat_map(|record| {
        let last = (record.last != record.first).then_some(record.last);
        let all = [Some(record.first), last].into_iter().flatten();
        all.map(|taken| Entry::Reading(record.point.clone(), taken))
    });
    let newest = kept.newest.into_iter().map(Entry::NewestIs);
    holds.chain(zones).chain(readings).chain(newest).collect()
}

/// What was kept, in the order of the zones' names.
pub(super) fn load(db: &Connection) -> Result<Kept, Refusal> {
    let holds = db
        .prepare(
            "SELECT zone, lit, since, until, boot_id, until_boot, by_clock FROM hold ORDER BY zone",
        )?
        .query_map([], |row| {
            Ok(Hold {
                zone: row.get(0)?,
                lit: row.get(1)?,
                since: instant(row, 2)?,
                until: instant(row, 3)?,
                boot_id: row.get(4)?,
                until_boot: duration(row.get(5)?),
                by_clock: row.get(6)?,
            })
        })?
        .collect::<Result<_, _>>()?;
    let zones = db
        .prepare("SELECT zone, lit, since, lit_s, operations FROM zone ORDER BY zone")?
        .query_map([], |row| {
            Ok(ZoneRecord {
                zone: row.get(0)?,
                lit: row.get(1)?,
                since: instant(row, 2)?,
                lit_s: row.get(3)?,
                operations: row.get::<_, i64>(4)?.unsigned_abs(),
            })
        })?
        .collect::<Result<_, _>>()?;
    let points = db
        .prepare(
            "SELECT of.point, first.at, first.value, first.fine, last.at, last.value, last.fine
             FROM (SELECT point, coalesce(min(id) FILTER (WHERE fine), min(id)) AS first, max(id) AS last
                   FROM reading GROUP BY point) AS of
             JOIN reading AS first ON first.id = of.first
             JOIN reading AS last ON last.id = of.last
             ORDER BY of.point",
        )?
        .query_map([], |row| {
            let taken = |column| -> Result<Taken, Error> {
                Ok(Taken {
                    at: instant(row, column)?,
                    value: row.get(column + 1)?,
                    fine: row.get(column + 2)?,
                })
            };
            Ok(PointRecord {
                point: row.get(0)?,
                first: taken(1)?,
                last: taken(4)?,
            })
        })?
        .collect::<Result<_, _>>()?;
    let newest = db
        .query_row("SELECT at FROM newest", [], |row| instant(row, 0))
        .optional()?;
    Ok(Kept {
        holds,
        zones,
        points,
        newest,
    })
}

/// How many events there are, and how many readings.
pub(super) fn count(db: &Connection) -> Result<(u64, u64), Refusal> {
    let count = |of: &str| -> Result<u64, Refusal> {
        let count: i64 = db.query_row(of, [], |row| row.get(0))?;
        Ok(count.unsigned_abs())
    };
    Ok((
        count("SELECT count(why) FROM event")?,
        count("SELECT count(value) FROM reading")?,
    ))
}

/// Removes the oldest readings that are neither the first nor the newest of their point; returns how many.
pub(super) fn forget_oldest_readings(db: &Connection, count: u64) -> Result<u64, Refusal> {
    let removed = execute(
        db,
        "DELETE FROM reading WHERE id IN (
             SELECT id FROM reading
             WHERE id NOT IN (SELECT coalesce(min(id) FILTER (WHERE fine), min(id)) FROM reading GROUP BY point)
             AND id NOT IN (SELECT max(id) FROM reading GROUP BY point)
             ORDER BY id LIMIT ?)",
        [i64::try_from(count).unwrap_or(i64::MAX)],
    )?;
    Ok(removed as u64)
}

/// Removes the oldest events; returns how many.
pub(super) fn forget_oldest(db: &Connection, count: u64) -> Result<u64, Refusal> {
    let removed = execute(
        db,
        "DELETE FROM event WHERE id IN (SELECT id FROM event ORDER BY id LIMIT ?)",
        [i64::try_from(count).unwrap_or(i64::MAX)],
    )?;
    Ok(removed as u64)
}

/// The events that pass, in the order in which they were kept.
pub(super) fn history(db: &Connection, filter: &Filter) -> Result<Vec<Event>, Refusal> {
    let mut newest_first = db.prepare_cached(
        "SELECT at, boot, kind, zone, what, why, id FROM event
         WHERE (?1 IS NULL OR zone = ?1) AND (?2 IS NULL OR at >= ?2) AND (?3 IS NULL OR at < ?3)
         ORDER BY id DESC LIMIT ?4",
    )?;
    let limits = params![
        filter.zone,
        filter.from.map(|from| from.timestamp_micros()),
        filter.to.map(|to| to.timestamp_micros()),
        filter.most.map_or(-1, i64::from),
    ];
    let mut events: Vec<Event> = newest_first
        .query_map(limits, |row| event(row).or_else(|_| unreadable(row)))?
        .collect::<Result<_, _>>()?;
    events.reverse();
    Ok(events)
}

fn event(row: &Row<'_>) -> Result<Event, Error> {
    let word: String = row.get(2)?;
    let kind = KINDS.into_iter().find(|kind| kind.name() == word);
    Ok(Event {
        at: instant(row, 0)?,
        boot: duration(row.get(1)?),
        kind: kind.ok_or_else(|| unlikely(2, Type::Text))?,
        zone: row.get(3)?,
        what: row.get(4)?,
        why: row.get(5)?,
    })
}

/// Stands for an event whose row makes no sense: one bad row must neither hide the others nor itself.
fn unreadable(row: &Row<'_>) -> Result<Event, Error> {
    let id: i64 = row.get(6)?;
    Ok(Event {
        at: instant(row, 0).unwrap_or_default(),
        boot: Duration::ZERO,
        kind: Kind::Fault,
        zone: row.get(3).unwrap_or_default(),
        what: "unreadable".into(),
        why: format!("row {id} of the history is damaged"),
    })
}

fn instant(row: &Row<'_>, column: usize) -> Result<DateTime<Utc>, Error> {
    DateTime::from_timestamp_micros(row.get(column)?).ok_or_else(|| unlikely(column, Type::Integer))
}

fn unlikely(column: usize, kind: Type) -> Error {
    Error::FromSqlConversionFailure(column, kind, "nothing that was ever written".into())
}

fn micros(time: Duration) -> i64 {
    i64::try_from(time.as_micros()).unwrap_or(i64::MAX)
}

fn duration(micros: i64) -> Duration {
    Duration::from_micros(micros.unsigned_abs())
}

/// SQLite takes what is not a number for nothing at all.
fn finite(value: f64) -> f64 {
    if value.is_finite() { value } else { 0.0 }
}

/// A reading: what is no number is none.
fn number(value: f64) -> f64 {
    if value.is_nan() { 0.0 } else { value }
}

fn clipped(text: &str) -> &str {
    let end = text.char_indices().nth(LONGEST);
    end.map_or(text, |(end, _)| &text[..end])
}
