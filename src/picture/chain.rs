//! A chain at dusk and when it goes off: which zone is lit when, after the head is switched.
//!
//! ```text
//!   house  |########################   lit from the first instant
//!   fence  |·····|..######## 0.44 s    pair live, relay in, supply up
//!   gate   |     ········|.. ###
//!          0     0.2   0.4   s after the head goes on
//! ```

use std::fmt::Write;
use std::time::Duration;

use maud::{Markup, html};

use super::document::{Part, Picture};
use super::labels::on_one_line;
use super::look::{EDGE, LETTER, LINE, WIDE, broken, heading, number, width};
use super::scale::{Scale, said, ticks};
use crate::chain::{Chain, ChainZone, Event, What};
use crate::site::{Site, Switching, Zone};

mod text;

pub use text::chain_text;

/// Left edge of the time axis: names are to the left of it.
const LEFT: f64 = 112.0;

/// Most lines of a name before its bar; a longer name goes above the bar.
const BEFORE: usize = 2;

/// Height of a row and of its bar, for few rows and for more than [`FEW`].
const ROWS: [(f64, f64); 2] = [(20.0, 13.0), (14.0, 9.0)];

/// Most rows that are spaced apart.
const FEW: usize = 16;

#[derive(Clone, Copy, PartialEq, Eq)]
enum End {
    Dusk,
    Off,
}

/// The chains of a yard at dusk and when their heads go off.
pub fn chain_svg(site: &Site, chain: &Chain) -> Picture {
    let title = format!("{}: the chain, second by second", site.name);
    let subtitle = "an ordinary evening; the open diamond is the latest with everything slow";
    let (head, mut y) = heading(&title, subtitle);
    let mut described = String::new();
    let mut across = Vec::new();
    let mut parts = vec![Part {
        drawn: head,
        until: y,
    }];
    if chain.zones.is_empty() {
        y += LINE;
        let none = "no pilot wire in this yard";
        parts[0].drawn = html! {
            (parts[0].drawn)
            text x=(EDGE) y=(number(y)) { (none) }
        };
        described.push_str("No pilot wire in this yard. ");
    } else {
        for end in [End::Dusk, End::Off] {
            let (grid, drawn) = panel(site, chain, end, y + 4.0, &mut described);
            across.push(grid);
            y = drawn.last().map_or(y, |part| part.until);
            parts.extend(drawn);
        }
        let (drawn, below) = key(y + 2.0);
        parts.push(Part {
            drawn,
            until: below,
        });
        y = below;
    }
    let mut lines = Vec::new();
    for text in sensed(site) {
        let _ = write!(described, "{text}. ");
        for line in broken(&text, WIDE - 2.0 * EDGE) {
            y += LINE;
            lines.push((line, y));
        }
    }
    parts.push(Part {
        drawn: html! {
            @for (line, y) in &lines { text x=(EDGE) y=(number(*y)) { (line) } }
        },
        until: y + 8.0,
    });
    Picture::of_parts(&title, &described, parts).crossed(html! { @for grid in &across { (grid) } })
}

/// The halves of an evening that have anything to show.
fn ends(chain: &Chain) -> impl Iterator<Item = End> {
    let any = !chain.zones.is_empty();
    [End::Dusk, End::Off].into_iter().filter(move |_| any)
}

/// Describes the zones that this board switches by an input.
fn sensed(site: &Site) -> Vec<String> {
    let said = |zone: &Zone| {
        let Switching::Senses(sensing) = zone.switching else {
            return None;
        };
        let supply = &site[zone.supply];
        Some(format!(
            "{} is switched by this board, as the input of {} says: on after {:.2} s, off after {:.2} s",
            zone.name,
            site[sensing.master].name,
            sensing.on_delay_s + supply.start_s,
            sensing.off_delay_s + supply.hold_up_s
        ))
    };
    site.zones.iter().filter_map(said).collect()
}

fn total(zone: &ChainZone, end: End) -> (Option<f64>, Option<f64>) {
    let total = match end {
        End::Dusk => zone.lit_after,
        End::Off => zone.dark_after,
    };
    (total.typical_s, total.most_s)
}

/// A name and the place of its row.
struct Named {
    lines: Vec<String>,
    /// The name is above the bar, because it is too long to fit before it.
    above: bool,
    top: f64,
    bottom: f64,
    /// Middle of the bar.
    middle: f64,
}

/// The rows of a panel, from the top down.
fn named(site: &Site, chain: &Chain, top: f64, row_high: f64) -> Vec<Named> {
    let mut y = top;
    let rows = chain.zones.iter().map(|zone| {
        let name = &site[zone.zone].name;
        let before = broken(name, LEFT - EDGE - 4.0);
        let above = before.len() > BEFORE;
        let lines = if above {
            broken(name, WIDE - 2.0 * EDGE)
        } else {
            before
        };
        let top = y;
        let high = LINE * lines.len() as f64;
        y += if above {
            high + row_high
        } else {
            (high + row_high - LINE).max(row_high)
        };
        Named {
            above,
            top,
            bottom: y,
            middle: if above {
                y - row_high / 2.0
            } else {
                f64::midpoint(top, y)
            },
            lines,
        }
    });
    rows.collect()
}

impl Named {
    /// The place of each of its lines.
    fn lines(&self) -> impl Iterator<Item = (f64, &str)> {
        let count = self.lines.len() as f64;
        let first = if self.above {
            self.top + LETTER
        } else {
            self.middle + 4.0 - LINE * (count - 1.0) / 2.0
        };
        let at = move |(index, line)| (first + LINE * index as f64, line);
        self.lines.iter().map(String::as_str).enumerate().map(at)
    }
}

/// The marks that run through a panel, and its parts: heading, rows, axis.
fn panel(
    site: &Site,
    chain: &Chain,
    end: End,
    top: f64,
    described: &mut String,
) -> (Markup, Vec<Part>) {
    let heading = match end {
        End::Dusk => "at dusk",
        End::Off => "at the end",
    };
    let head_y = top + LINE;
    let first = head_y + 6.0;
    let (row_high, bar_high) = ROWS[usize::from(chain.zones.len() > FEW)];
    let rows = named(site, chain, first, row_high);
    let foot = rows.last().map_or(first, |row| row.bottom);
    let time = Scale::new((0.0, reach_s(chain, end)), (LEFT, WIDE - EDGE));
    let (values, step) = ticks(0.0, reach_s(chain, end), 5.0);
    let labels: Vec<String> = values.iter().map(|value| said(*value, step)).collect();
    let spots: Vec<(f64, f64)> = values
        .iter()
        .zip(&labels)
        .map(|(value, label)| (time.place(*value), width(label)))
        .collect();
    let keep = on_one_line(&spots, 4.0);
    let way = if end == End::Dusk { "on" } else { "off" };
    let _ = write!(described, "After the head goes {way}: ");
    for zone in &chain.zones {
        let _ = write!(described, "{} {}; ", site[zone.zone].name, delay(zone, end));
    }
    let grid = html! {
        @for (x, _) in &spots {
            line class="grid" x1=(number(*x)) x2=(number(*x)) y1=(number(first)) y2=(number(foot)) {}
        }
    };
    let mut parts = vec![Part {
        drawn: html! { text class="name" x=(EDGE) y=(number(head_y - 1.0)) { (heading) } },
        until: first,
    }];
    parts.extend(chain.zones.iter().zip(&rows).map(|(zone, named)| Part {
        drawn: html! {
            @for (y, line) in named.lines() {
                text class=[named.above.then_some("halo")] x=(EDGE) y=(number(y)) { (line) }
            }
            (row(zone, end, time, (named.middle, bar_high), &seen(chain, zone, end)))
        },
        until: named.bottom,
    }));
    let axis = html! {
        line class="axis" x1=(number(LEFT)) x2=(number(WIDE - EDGE)) y1=(number(foot))
            y2=(number(foot)) {}
        @for ((x, _), (label, _)) in spots
            .iter()
            .zip(labels.iter().zip(&keep).collect::<Vec<_>>())
            .filter(|(_, (_, keep))| **keep)
        {
            @let half = width(label) / 2.0;
            text class="quiet" text-anchor="middle" x=(number(x.min(WIDE - EDGE - half)))
                y=(number(foot + LINE)) { (label) }
        }
        text class="quiet" text-anchor="end" x=(number(LEFT - 18.0)) y=(number(foot + LINE)) {
            "s after " (way)
        }
    };
    parts.push(Part {
        drawn: axis,
        until: foot + LINE + 6.0,
    });
    (grid, parts)
}

/// `0.44 s`, `with its switch`, `stays dark`.
fn delay(zone: &ChainZone, end: End) -> String {
    match (total(zone, end).0, end) {
        (Some(_), _) if zone.master.is_none() => "at once".into(),
        (Some(typical_s), _) => format!("{typical_s:.2} s"),
        (None, End::Dusk) => "stays dark".into(),
        (None, End::Off) if zone.lit_after.typical_s.is_none() => "was dark".into(),
        (None, End::Off) => "stays lit".into(),
    }
}

/// Length of the time axis [s].
fn reach_s(chain: &Chain, end: End) -> f64 {
    let totals = chain.zones.iter().flat_map(|zone| {
        let (typical_s, most_s) = total(zone, end);
        typical_s.into_iter().chain(most_s)
    });
    1.18 * totals.fold(0.05_f64, f64::max)
}

/// What one half of an evening shows of a zone [s after its head is switched].
#[expect(clippy::struct_field_names, reason = "bare floats end in their unit")]
struct Seen {
    /// The pair goes live, or dead.
    news_s: Option<f64>,
    /// The relay closes, or opens.
    moves_s: Option<f64>,
    /// The zone goes on, or off.
    turn_s: Option<f64>,
    /// The same at the slowest, for a zone that follows.
    latest_s: Option<f64>,
    /// Start and end of its light; `None` for beyond the axis.
    lit_s: Option<(f64, Option<f64>)>,
}

fn seen(chain: &Chain, zone: &ChainZone, end: End) -> Seen {
    let from = match end {
        End::Dusk => Duration::ZERO,
        End::Off => chain.off_at,
    };
    let when = |what: What| {
        let mine = |event: &&Event| {
            event.zone == zone.zone
                && event.what == what
                && (event.at >= chain.off_at) == (end == End::Off)
        };
        let event = chain.events.iter().find(mine);
        event.map(|event| event.at.saturating_sub(from).as_secs_f64())
    };
    let (news_s, moves_s) = match end {
        End::Dusk => (when(What::PairLive), when(What::RelayCloses)),
        End::Off => (when(What::PairDead), when(What::RelayOpens)),
    };
    let (turn_s, most_s) = total(zone, end);
    let lit_s = match end {
        End::Dusk => turn_s.map(|turn_s| (turn_s, None)),
        End::Off if zone.lit_after.typical_s.is_none() => None,
        End::Off => Some((0.0, turn_s)),
    };
    Seen {
        news_s,
        moves_s,
        turn_s,
        latest_s: most_s.filter(|_| zone.master.is_some()),
        lit_s,
    }
}

fn row(
    zone: &ChainZone,
    end: End,
    time: Scale,
    (middle, bar_high): (f64, f64),
    seen: &Seen,
) -> Markup {
    let bar_top = middle - bar_high / 2.0;
    let (left, right) = time.places;
    let place = |at_s: Option<f64>| at_s.map(|at_s| time.place(at_s));
    let (news, moves) = (place(seen.news_s), place(seen.moves_s));
    let (turn, latest) = (place(seen.turn_s), place(seen.latest_s));
    let lit = seen
        .lit_s
        .map(|(from_s, to_s)| (time.place(from_s), place(to_s).unwrap_or(right)));
    let label = delay(zone, end);
    let wide = width(&label);
    let clear = |x: f64| {
        x >= left + 2.0
            && x + wide <= right - 2.0
            && latest.is_none_or(|latest| latest + 6.0 < x || x + wide + 6.0 < latest)
    };
    // Beside the bar's end, on either side of it, or beyond the mark for the slowest.
    let beside = |turn: f64| {
        let beyond = latest.map_or(turn, |latest| latest.max(turn)) + 8.0;
        let places = [turn + 8.0, turn - wide - 8.0, beyond, left + 6.0];
        places.into_iter().find(|x| clear(*x)).unwrap_or(left + 6.0)
    };
    let label_x = turn.map_or(left + 6.0, beside);
    html! {
        @if let Some((from, to)) = lit {
            rect class="bar" x=(number(from)) y=(number(bar_top)) width=(number((to - from).max(0.0)))
                height=(number(bar_high)) {}
        }
        @if let (Some(news), Some(turn)) = (news, turn) {
            line class="mark dots" x1=(number(news)) x2=(number(turn)) y1=(number(middle))
                y2=(number(middle)) {}
        }
        @if let Some(moves) = moves {
            line class="stroke" x1=(number(moves)) x2=(number(moves)) y1=(number(bar_top))
                y2=(number(bar_top + bar_high)) {
                title { (if end == End::Dusk { "relay closes" } else { "relay opens" }) }
            }
        }
        @if let (Some(most_s), Some(latest)) = (seen.latest_s, latest) {
            path class="hollow" d={ "M" (number(latest)) " " (number(middle - 4.0)) "l4 4l-4 4l-4 -4z" } {
                title { (format!("at the latest {most_s:.2} s")) }
            }
        }
        text class="halo" x=(number(label_x)) y=(number(middle + 4.0)) { (label) }
    }
}

fn key(top: f64) -> (Markup, f64) {
    let y = top + LETTER;
    let words = ["lit", "pair live, or dead", "relay moves", "latest"];
    let mut x = EDGE;
    let places = words.map(|word| {
        let at = x;
        x += 20.0 + width(word) + 12.0;
        at
    });
    let markup = html! {
        rect class="bar" x=(number(places[0])) y=(number(y - 9.0)) width="16" height="10" {}
        line class="mark dots" x1=(number(places[1])) x2=(number(places[1] + 16.0))
            y1=(number(y - 4.0)) y2=(number(y - 4.0)) {}
        line class="stroke" x1=(number(places[2] + 10.0)) x2=(number(places[2] + 10.0))
            y1=(number(y - 10.0)) y2=(number(y + 2.0)) {}
        path class="hollow" d={ "M" (number(places[3] + 10.0)) " " (number(y - 8.0))
            "l4 4l-4 4l-4 -4z" } {}
        @for (word, x) in words.iter().zip(places) {
            text class="quiet" x=(number(x + 20.0)) y=(number(y)) { (word) }
        }
    };
    (markup, y + 6.0)
}
