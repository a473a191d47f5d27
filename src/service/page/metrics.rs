//! Figures for a monitoring program, as `OpenMetrics` text.
//!
//! A dozen families need no library: each is a name, a kind, a help text and its values, and label values
//! escape three characters (`OpenMetrics` 1.0, "ABNF").

use std::fmt::Write;

use crate::daemon::engine::seen::Seen;
use crate::daemon::engine::status::Status;
use crate::daemon::moment::ClockQuality;
use crate::daemon::readings::{LinkReading, Readings};

fn escaped(text: &str) -> String {
    text.replace('\\', "\\\\")
        .replace('"', "\\\"")
        .replace('\n', "\\n")
}

fn family(out: &mut String, name: &str, kind: &str, help: &str) {
    let _ = writeln!(out, "# TYPE {name} {kind}\n# HELP {name} {help}");
}

/// The figures of what is seen.
pub(super) fn text(seen: &Seen) -> String {
    let mut out = String::new();
    of_status(&mut out, &seen.status);
    of_readings(&mut out, &seen.readings);
    out.push_str("# EOF\n");
    out
}

/// What meters showed; nothing of what was never measured.
fn of_readings(out: &mut String, readings: &Readings) {
    let zones = || readings.zones.iter().filter(|zone| zone.measured() > 0);
    family(
        out,
        "pilotwire_zone_readings_off",
        "gauge",
        "1 if the newest reading at a test point of the zone is not as it should be.",
    );
    for zone in zones() {
        let off = u8::from(zone.off().next().is_some());
        let name = escaped(&zone.zone);
        let _ = writeln!(out, "pilotwire_zone_readings_off{{zone=\"{name}\"}} {off}");
    }
    family(
        out,
        "pilotwire_zone_measured_timestamp_seconds",
        "gauge",
        "When a test point of the zone was last measured.",
    );
    for (zone, at) in zones().filter_map(|zone| Some((zone, zone.newest()?))) {
        let (name, at) = (escaped(&zone.zone), at.timestamp());
        let _ = writeln!(
            out,
            "pilotwire_zone_measured_timestamp_seconds{{zone=\"{name}\"}} {at}"
        );
    }
    let links = || {
        let links = readings.zones.iter().filter_map(|zone| zone.link.as_ref());
        links.filter(|link| link.judged)
    };
    family(
        out,
        "pilotwire_link_readings_off",
        "gauge",
        "1 if the readings of the link say that something is wrong with it.",
    );
    for link in links() {
        let off = u8::from(LinkReading::said(link).is_some());
        let name = escaped(&link.link);
        let _ = writeln!(out, "pilotwire_link_readings_off{{link=\"{name}\"}} {off}");
    }
    family(
        out,
        "pilotwire_link_measured_timestamp_seconds",
        "gauge",
        "When the newest reading was taken that says how the link is.",
    );
    for (link, at) in links().filter_map(|link| Some((link, link.newest?))) {
        let (name, at) = (escaped(&link.link), at.timestamp());
        let _ = writeln!(
            out,
            "pilotwire_link_measured_timestamp_seconds{{link=\"{name}\"}} {at}"
        );
    }
}

fn of_status(out: &mut String, status: &Status) {
    let level = |lit: Option<bool>| lit.map(u8::from);
    let labels = |zone: &str| format!("{{zone=\"{}\"}}", escaped(zone));
    family(
        out,
        "pilotwire_zone_lit",
        "gauge",
        "1 if the zone is lit, as far as anything says.",
    );
    for zone in &status.zones {
        if let Some(lit) = level(zone.lit) {
            let _ = writeln!(out, "pilotwire_zone_lit{} {lit}", labels(&zone.zone));
        }
    }
    family(
        out,
        "pilotwire_zone_wanted",
        "gauge",
        "1 if the zone should be lit.",
    );
    for zone in &status.zones {
        if let Some(lit) = level(zone.wanted) {
            let _ = writeln!(out, "pilotwire_zone_wanted{} {lit}", labels(&zone.zone));
        }
    }
    family(
        out,
        "pilotwire_zone_fault",
        "gauge",
        "1 if the zone is late, does not follow, does not release, is lit by day, or cannot be read.",
    );
    for zone in &status.zones {
        let fault = u8::from(zone.condition.is_fault() && zone.known.by_the_board());
        let _ = writeln!(out, "pilotwire_zone_fault{} {fault}", labels(&zone.zone));
    }
    family(
        out,
        "pilotwire_zone_lit_seconds",
        "counter",
        "How long the zone has been lit in all.",
    );
    for zone in &status.zones {
        let _ = writeln!(
            out,
            "pilotwire_zone_lit_seconds_total{} {:.0}",
            labels(&zone.zone),
            zone.lit_h * 3600.0
        );
    }
    family(
        out,
        "pilotwire_zone_operations",
        "counter",
        "How often the zone went on.",
    );
    for zone in &status.zones {
        let _ = writeln!(
            out,
            "pilotwire_zone_operations_total{} {}",
            labels(&zone.zone),
            zone.operations
        );
    }
    family(
        out,
        "pilotwire_clock_quality",
        "stateset",
        "How far the board's clock can be trusted.",
    );
    for quality in ClockQuality::ALL {
        let _ = writeln!(
            out,
            "pilotwire_clock_quality{{pilotwire_clock_quality=\"{quality}\"}} {}",
            u8::from(status.clock == quality)
        );
    }
    family(out, "pilotwire_alarms", "gauge", "What is wrong, in all.");
    let _ = writeln!(out, "pilotwire_alarms {}", status.alarms.len());
}
