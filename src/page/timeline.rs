//! The evening at hand as a picture, with a line where it is now.

use chrono::{DateTime, TimeDelta, Utc};
use maud::{Markup, html};

use crate::daemon::engine::seen::Seen;

/// Width of the picture [units].
const WIDE: f64 = 360.0;

/// Height of a zone's row.
const ROW: f64 = 28.0;

/// Height of the hours.
const TOP: f64 = 18.0;

fn tenth(place: f64) -> f64 {
    (place * 10.0).round() / 10.0
}

/// Width of a name [units]: a little more than it is in any of the usual fonts, at the size of the style sheet.
fn width_of(name: &str) -> f64 {
    let letter = |letter: char| match letter {
        'f' | 'i' | 'j' | 'l' | 'r' | 't' | '-' => 0.42,
        'm' | 'w' => 0.98,
        _ => 0.64,
    };
    name.chars().map(letter).sum::<f64>() * 12.5
}

/// The evening from noon to noon: daylight, every zone's lit stretches, now.
pub(super) fn picture(seen: &Seen) -> Markup {
    let tonight = &seen.tonight;
    let all_s = (tonight.ends - tonight.begins).as_seconds_f64();
    let x = |at: DateTime<Utc>| {
        let part = (at - tonight.begins).as_seconds_f64() / all_s;
        tenth(part.clamp(0.0, 1.0) * WIDE)
    };
    let rows = seen.status.zones.len();
    #[expect(clippy::cast_precision_loss, reason = "a few zones")]
    let high = TOP + ROW * rows as f64 + 4.0;
    let hours: Vec<(f64, String)> = (0..=6)
        .map(|n| tonight.begins + TimeDelta::hours(4 * n))
        .filter(|at| *at < tonight.ends)
        .map(|at| {
            let local = seen.timezone.to_local(at);
            (x(at), local.format("%H:%M").to_string())
        })
        .collect();
    let night = tonight.night.as_ref();
    let night = night.map(|night| (x(night.start), x(night.end)));
    html! {
        svg .timeline viewBox={ "0 0 " (WIDE) " " (high) } role="img"
            aria-label="Tonight from noon to noon; the list below says the same in words"
            data-begins=(tonight.begins.timestamp()) data-ends=(tonight.ends.timestamp()) {
            @if let Some((set, rise)) = night {
                rect class="night" x=(set) y="0" width=(tenth(rise - set)) height=(high) { }
            }
            @for (x, text) in &hours {
                line class="hour" x1=(x) x2=(x) y1=(TOP) y2=(high) { }
                text class="hours" x=(x + 2.0) y="12" { (text) }
            }
            @for (index, (zone, stretches)) in seen.status.zones.iter().zip(&tonight.zones).enumerate() {
                @let y = TOP + ROW * (index as f64);
                // A name that has no room is set closer; the list below has it at full width.
                @let room = WIDE - 4.0;
                @let close = width_of(&zone.zone) > room;
                text class="zone" x="2" y=(y + 11.0) textLength=[close.then_some(room)]
                    lengthAdjust=[close.then_some("spacingAndGlyphs")] { (zone.zone) }
                @for lit in stretches {
                    rect class="lit" x=(x(lit.from)) y=(y + 14.5) rx="2"
                        width=(tenth(x(lit.until) - x(lit.from)).max(1.0)) height="10" {
                        title { (zone.zone) " on: " (lit.why_on) "; off: " (lit.why_off) }
                    }
                }
                line class="base" x1="0" x2=(WIDE) y1=(y + 26.5) y2=(y + 26.5) { }
            }
            line #now class="now" x1=(x(seen.status.at)) x2=(x(seen.status.at)) y1="14" y2=(high) { }
        }
    }
}
