//! Figures for a monitoring program, as `OpenMetrics` text.
//!
//! Six families need no library: each is a name, a kind, a help text and its values, and label values
//! escape three characters (`OpenMetrics` 1.0, "ABNF").

use std::fmt::Write;

use crate::daemon::engine::status::Status;

fn escaped(text: &str) -> String {
    text.replace('\\', "\\\\")
        .replace('"', "\\\"")
        .replace('\n', "\\n")
}

fn family(out: &mut String, name: &str, kind: &str, help: &str) {
    let _ = writeln!(out, "# TYPE {name} {kind}\n# HELP {name} {help}");
}

/// The figures of a status.
pub(super) fn text(status: &Status) -> String {
    let mut out = String::new();
    let level = |lit: Option<bool>| lit.map(u8::from);
    let labels = |zone: &str| format!("{{zone=\"{}\"}}", escaped(zone));
    family(
        &mut out,
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
        &mut out,
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
        &mut out,
        "pilotwire_zone_fault",
        "gauge",
        "1 if the zone is late, does not follow, does not release, is lit by day, or cannot be read.",
    );
    for zone in &status.zones {
        let fine = matches!(zone.condition.as_str(), "lit" | "dark") || zone.known == "predicted";
        let fault = u8::from(!fine);
        let _ = writeln!(out, "pilotwire_zone_fault{} {fault}", labels(&zone.zone));
    }
    family(
        &mut out,
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
        &mut out,
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
        &mut out,
        "pilotwire_clock_quality",
        "stateset",
        "How far the board's clock can be trusted.",
    );
    for quality in ["good", "doubtful", "impossible"] {
        let _ = writeln!(
            out,
            "pilotwire_clock_quality{{pilotwire_clock_quality=\"{quality}\"}} {}",
            u8::from(status.clock == quality)
        );
    }
    family(
        &mut out,
        "pilotwire_alarms",
        "gauge",
        "What is wrong, in all.",
    );
    let _ = writeln!(out, "pilotwire_alarms {}", status.alarms.len());
    out.push_str("# EOF\n");
    out
}
