//! What happened, said in the log and, if asked for, on standard output.

use tracing::{info, warn};

use crate::daemon::store::{Event, Kind};
use crate::site::Site;

/// One line of the log. Texts that came from outside are given as plain values, which escape them.
pub(super) fn say(event: &Event) {
    let zone = event.zone.as_deref().unwrap_or("");
    let (what, why) = (event.what.as_str(), event.why.as_str());
    match event.kind {
        Kind::Fault => warn!(zone, what, why, "fault"),
        Kind::Mended => info!(zone, what, why, "mended"),
        Kind::Switched => info!(zone, what, why, "switched"),
        Kind::Sensed => info!(zone, what, why, "sensed"),
        Kind::Held => info!(zone, what, why, "held"),
        Kind::Measured => info!(zone, what, why, "measured"),
        Kind::Service => info!(what, why, "service"),
    }
}

/// `2026-11-24 17:13:07 CST  front  on   civil dusk 17:13 CST`.
pub(super) fn line(site: &Site, event: &Event) -> String {
    let zone = &site.timezone;
    let width = site.zones.iter().map(|zone| zone.name.len()).max();
    format!(
        "{} {}  {:width$}  {}  {}",
        zone.to_local(event.at).format("%Y-%m-%d %H:%M:%S"),
        zone.offset_at(event.at).abbreviation,
        event.zone.as_deref().unwrap_or("-"),
        event.what,
        event.why,
        width = width.unwrap_or(0),
    )
}
