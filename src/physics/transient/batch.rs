//! Many links: one JSON object per line in, one per line out, in the same order.
//!
//! ```text
//!   reader ── chunks of lines ──► workers ── answers, each through its own channel ──► writer
//!      └──────────── those channels, in order, through a bounded queue ──────────────────┘
//! ```
//!
//! The queue limits the lines in progress, so endless input takes constant memory. A chunk ends where no whole
//! line is waiting, so a slow source gets its answers at once.

use std::io::{self, BufRead, BufReader, BufWriter, Read, Write};
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::Duration;

use serde::Serialize;
use serde_json::Value;

use super::case::{Case, Reference};

/// Most lines in a chunk.
const CHUNK_LINES: usize = 64;

/// Chunks in progress per thread.
const CHUNKS_PER_THREAD: usize = 4;

/// Longest line accepted [bytes]; a case has 2 kB.
const LONGEST_LINE: usize = 1 << 20;

/// Reads the time; for timing.
pub type Clock<'c> = &'c (dyn Fn() -> Duration + Sync);

/// A line, or why it cannot even be parsed.
type Line = Result<Vec<u8>, &'static str>;

struct Chunk {
    lines: Vec<Line>,
    answer: SyncSender<Vec<u8>>,
}

/// Simulates one link per line of `reader` on `threads` threads and writes one result per line.
///
/// A line is a [`Case`] or an object with one under `case`. Any other line gets an object with `error` in its
/// place. With a `clock`, every result carries the seconds it took.
pub fn batch(
    reader: impl Read + Send,
    writer: impl Write,
    threads: usize,
    clock: Option<Clock<'_>>,
) -> io::Result<()> {
    let threads = threads.max(1);
    let under_way = threads * CHUNKS_PER_THREAD;
    let (to_workers, chunks) = sync_channel::<Chunk>(under_way);
    let (to_writer, answers) = sync_channel::<Receiver<Vec<u8>>>(under_way);
    let chunks = Mutex::new(chunks);
    std::thread::scope(|scope| {
        let reading = scope.spawn(move || deal(BufReader::new(reader), &to_workers, &to_writer));
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let next = chunks.lock().ok().and_then(|chunks| chunks.recv().ok());
                    let Some(chunk) = next else { break };
                    let mut text = Vec::new();
                    for line in &chunk.lines {
                        answer_line(line, clock, &mut text);
                    }
                    // If the writer has failed, nothing is waiting for this answer any more.
                    let _ = chunk.answer.send(text);
                }
            });
        }
        let mut writer = BufWriter::new(writer);
        for answer in answers {
            if let Ok(text) = answer.recv() {
                writer.write_all(&text)?;
                writer.flush()?;
            }
        }
        writer.flush()?;
        reading.join().expect("the reader does not panic")
    })
}

/// Reads lines and deals them out; ends when the input ends, or the receivers are gone.
fn deal(
    mut reader: BufReader<impl Read>,
    to_workers: &SyncSender<Chunk>,
    to_writer: &SyncSender<Receiver<Vec<u8>>>,
) -> io::Result<()> {
    loop {
        let mut lines = Vec::new();
        while lines.len() < CHUNK_LINES {
            let Some(line) = read_line(&mut reader)? else {
                break;
            };
            lines.push(line);
            if !reader.buffer().contains(&b'\n') {
                break;
            }
        }
        if lines.is_empty() {
            return Ok(());
        }
        let (answer, waiting) = sync_channel(1);
        if to_writer.send(waiting).is_err() || to_workers.send(Chunk { lines, answer }).is_err() {
            return Ok(());
        }
    }
}

/// The next line; `None` at the end of input. The rest of a line that is too long is skipped.
fn read_line(reader: &mut impl BufRead) -> io::Result<Option<Line>> {
    let mut line = Vec::new();
    let most = LONGEST_LINE as u64 + 1;
    if reader.take(most).read_until(b'\n', &mut line)? == 0 {
        return Ok(None);
    }
    if line.len() <= LONGEST_LINE {
        return Ok(Some(Ok(line)));
    }
    while line.last() != Some(&b'\n') {
        line.clear();
        if reader.take(most).read_until(b'\n', &mut line)? == 0 {
            break;
        }
    }
    Ok(Some(Err("the line is longer than 1 MiB")))
}

#[derive(Serialize)]
struct Answer {
    #[serde(skip_serializing_if = "Value::is_null")]
    id: Value,
    #[serde(flatten)]
    figures: Reference,
    #[serde(skip_serializing_if = "Option::is_none")]
    t_simulate_s: Option<f64>,
}

#[derive(Serialize)]
struct Refusal {
    #[serde(skip_serializing_if = "Value::is_null")]
    id: Value,
    error: String,
}

fn answer_line(line: &Line, clock: Option<Clock<'_>>, text: &mut Vec<u8>) {
    let written = match answered(line, clock) {
        Ok(answer) => serde_json::to_writer(&mut *text, &answer),
        Err(refusal) => serde_json::to_writer(&mut *text, &refusal),
    };
    written.expect("plain data into memory");
    text.push(b'\n');
}

fn answered(line: &Line, clock: Option<Clock<'_>>) -> Result<Answer, Refusal> {
    let refuse = |id: &Value, error: String| Refusal {
        id: id.clone(),
        error,
    };
    let bytes = line
        .as_ref()
        .map_err(|&why| refuse(&Value::Null, why.to_owned()))?;
    let mut value: Value = serde_json::from_slice(bytes)
        .map_err(|error| refuse(&Value::Null, format!("not a JSON object: {error}")))?;
    let outer = value.get("id").cloned();
    if let Some(inner) = value.get_mut("case") {
        value = inner.take();
    }
    let id = value.get("id").cloned().or(outer).unwrap_or(Value::Null);
    let case: Case = serde_json::from_value(value)
        .map_err(|error| refuse(&id, format!("not a case: {error}")))?;
    let link = case.link().map_err(|error| refuse(&id, error))?;
    let before = clock.map(|clock| clock());
    let transient = super::simulate(&link).map_err(|error| refuse(&id, error.to_string()))?;
    let t_simulate_s = clock
        .zip(before)
        .map(|(clock, before)| clock().saturating_sub(before).as_secs_f64());
    Ok(Answer {
        figures: Reference::of(&link, &transient),
        id,
        t_simulate_s,
    })
}
