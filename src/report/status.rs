//! How the yard is.

use std::fmt::Write;

use crate::daemon::control::Done;
use crate::daemon::engine::status::{Checked, Status, ZoneStatus};
use crate::text::wrap;

use super::{counted, json};

/// The document as it came.
pub fn status_json(status: &Status) -> String {
    json(status)
}

/// What is lit and what is wrong; then every zone, and why.
pub fn status_text(status: &Status) -> String {
    let mut out = String::new();
    let fine = if status.alarms.is_empty() {
        "OK"
    } else {
        "ALARM"
    };
    wrap(
        &mut out,
        &format!("{fine}  {}: ", status.site),
        "  ",
        &status.in_short(),
    );
    for alarm in &status.alarms {
        wrap(&mut out, "  ! ", "    ", alarm);
    }
    if let Some(warns) = status.check.as_ref().and_then(Checked::warns) {
        wrap(&mut out, "  check: ", "    ", &warns);
    }
    let width = status.zones.iter().map(|zone| zone.zone.len()).max();
    let width = width.unwrap_or(0);
    for zone in &status.zones {
        let first = format!("  {:width$}  ", zone.zone);
        wrap(&mut out, &first, &" ".repeat(width + 4), &zone_text(zone));
    }
    let _ = writeln!(
        out,
        "  {} by the board's clock, which is {}; pilotwire {}",
        status.local, status.clock, status.version
    );
    out
}

fn zone_text(zone: &ZoneStatus) -> String {
    let mut text = format!("{}{}", zone.condition, zone.known.said_behind());
    if let Some(waits) = &zone.waits {
        let _ = write!(text, ", waits: {waits}");
    }
    let _ = write!(text, "; {}", zone.why);
    if let Some(next) = zone.next_change() {
        let _ = write!(text, "; {} at {}", next.what(), next.local);
    }
    if zone.known.by_the_board() {
        let _ = write!(
            text,
            "; lit {:.1} h in all, went on {}",
            zone.lit_h,
            counted(zone.operations, "time")
        );
    }
    text
}

/// What was done, and whether it would survive a power cut.
pub fn done_text(done: &Done) -> String {
    let mut out = String::new();
    wrap(&mut out, "", "  ", &done.what);
    if !done.kept {
        wrap(
            &mut out,
            "  ! ",
            "    ",
            "not on the disk: a power cut would forget it; see `pilotwire status`",
        );
    }
    if let Some(note) = &done.note {
        wrap(&mut out, "  ", "  ", note);
    }
    out
}
