//! When the kernel changed a line, by the wall clock, read from the kernel's trace of GPIO values.
//!
//! `edge_times NUMBER` prints one line for each change of the GPIO of that number (as the kernel counts them):
//! seconds since 1970, and 1 or 0; `edge_times now` prints what the wall clock shows. The trace is by the monotonic
//! clock (`trace_clock` is `mono`); the clocks must not have been stepped since.

use std::error::Error;

use rustix::time::{ClockId, Timespec, clock_gettime};

const TRACE: &str = "/sys/kernel/tracing/trace";

fn main() -> Result<(), Box<dyn Error>> {
    let number = std::env::args().nth(1).ok_or("edge_times NUMBER")?;
    if number == "now" {
        let now = clock_gettime(ClockId::Realtime);
        println!("{}.{:06}", now.tv_sec, now.tv_nsec / 1000);
        return Ok(());
    }
    let ahead = wall_ahead_of_monotonic_us();
    let mut before = "";
    let trace = std::fs::read_to_string(TRACE)?;
    for line in trace.lines() {
        // `  name-123  [000] d..1.    12.345678: gpio_value: 513 set 1`
        let Some((head, tail)) = line.split_once(": gpio_value: ") else {
            continue;
        };
        let mut tail = tail.split_whitespace();
        if tail.next() != Some(number.as_str()) || tail.next() != Some("set") {
            continue;
        }
        let level = tail.next().ok_or("no level")?;
        // A request sets all its lines at once, unchanged ones too.
        if std::mem::replace(&mut before, level) == level {
            continue;
        }
        let (seconds, micros) = head
            .rsplit(' ')
            .next()
            .and_then(|time| time.split_once('.'))
            .ok_or("no time")?;
        let at = seconds.parse::<i64>()? * 1_000_000 + micros.parse::<i64>()? + ahead;
        println!("{}.{:06} {level}", at / 1_000_000, at % 1_000_000);
    }
    Ok(())
}

/// From the quickest of some readings, one clock read between two of the other [µs].
fn wall_ahead_of_monotonic_us() -> i64 {
    let reading = |_| {
        let before = clock_gettime(ClockId::Monotonic);
        let wall = clock_gettime(ClockId::Realtime);
        let after = clock_gettime(ClockId::Monotonic);
        let (before, after) = (nanos(before), nanos(after));
        (after - before, nanos(wall) - i64::midpoint(before, after))
    };
    (0..50).map(reading).min().expect("fifty readings").1 / 1000
}

fn nanos(time: Timespec) -> i64 {
    time.tv_sec * 1_000_000_000 + time.tv_nsec
}
