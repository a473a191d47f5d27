//! The one place that reads clocks, and what speaks for them.

use std::path::Path;
use std::time::Duration;

use chrono::{DateTime, Utc};
use rustix::time::{ClockId, clock_gettime};

use crate::daemon::moment::{Evidence, Now, quality};

/// No clock can be right that shows less: the date of this version.
pub const RELEASED: &str = "2026-11-01T00:00:00Z";

/// What the wall clock shows.
pub fn utc() -> DateTime<Utc> {
    #[expect(
        clippy::disallowed_methods,
        reason = "the shell reads the clock and passes it on"
    )]
    Utc::now()
}

/// Since the board was started, times of suspension included.
pub fn since_boot() -> Duration {
    let now = clock_gettime(ClockId::Boottime);
    Duration::new(
        u64::try_from(now.tv_sec).unwrap_or(0),
        u32::try_from(now.tv_nsec).unwrap_or(0),
    )
}

/// What speaks for the wall clock: `proof` is a file that exists once it was set from the network.
pub fn evidence(proof: &str) -> Evidence {
    Evidence {
        set_from_network: Path::new(proof).exists(),
        kept_by_battery: kept_by_battery(),
    }
}

/// Whether the kernel has set the wall clock from a battery clock.
fn kept_by_battery() -> bool {
    let Ok(clocks) = std::fs::read_dir("/sys/class/rtc") else {
        return false;
    };
    clocks.flatten().any(|clock| {
        std::fs::read_to_string(clock.path().join("hctosys")).is_ok_and(|said| said.trim() == "1")
    })
}

/// The moment, and how far its wall clock can be trusted.
pub fn now(proof: &str, trusted: bool, newest: Option<DateTime<Utc>>) -> Now {
    let utc = utc();
    let mut evidence = evidence(proof);
    // The owner's word is worth the network's.
    evidence.set_from_network |= trusted;
    let released = RELEASED.parse().expect("a date in RFC 3339");
    Now {
        utc,
        boot: since_boot(),
        quality: quality(evidence, utc, released, newest),
    }
}
