//! A chain in characters: time across, one zone per line.
//!
//! ```text
//!   house  ################################  at once
//!   fence  |..........#####################  0.44 s, at the latest 0.46 s
//!          0     0.2     0.4     0.6 s
//! ```

use super::{End, delay, ends, seen, sensed, total};
use crate::chain::{Chain, ChainZone};
use crate::picture::characters::{Ink, Page, Row, axis};
use crate::picture::look::kept;
use crate::picture::scale::{Scale, whole};
use crate::site::Site;

/// Narrowest page on which a name, its bar and its delay stand on one line [columns].
const ON_ONE_LINE: usize = 72;

/// Longest name of a zone that leaves enough room for bars beside it [columns].
const NAME: usize = 20;

/// Columns of a delay, behind a bar.
const DELAY: usize = 24;

/// The chains of a yard in characters, no line wider than `columns`; `colour` adds a terminal's colour
/// sequences.
pub fn chain_text(site: &Site, chain: &Chain, columns: usize, colour: bool) -> String {
    let mut page = Page::new(columns, colour);
    let title = format!(
        "{}: the chain on an ordinary evening, second by second",
        site.name
    );
    page.paragraph(0, &title, Ink::Bold);
    if chain.zones.is_empty() {
        page.paragraph(0, "no pilot wire in this yard", Ink::Plain);
    }
    for end in ends(chain) {
        page.blank();
        panel(&mut page, site, chain, end);
    }
    page.blank();
    for line in sensed(site) {
        page.paragraph(0, &line, Ink::Plain);
    }
    if !chain.zones.is_empty() {
        let signs = [
            "# lit",
            ". pair live",
            "= pair dead, still lit",
            "| relay moves",
            "! latest, with everything slow",
        ];
        page.paragraph(0, &signs.map(kept).join(", "), Ink::Plain);
    }
    page.finished()
}

fn panel(page: &mut Page, site: &Site, chain: &Chain, end: End) {
    let heading = match end {
        End::Dusk => "at dusk, s after the head goes on",
        End::Off => "at the end, s after the head goes off",
    };
    page.paragraph(0, heading, Ink::Bold);
    let names = chain.zones.iter().map(|zone| site[zone.zone].name.as_str());
    let longest = names.map(|name| name.chars().count()).max().unwrap_or(0);
    let one_line = page.columns >= ON_ONE_LINE && longest <= NAME;
    let (left, right) = if one_line {
        (longest + 4, page.columns - DELAY - 2)
    } else {
        (2, page.columns - 2)
    };
    let (from_s, to_s) = (0.0, super::reach_s(chain, end));
    let time = Scale::new((from_s, to_s), (left as f64, right as f64));
    for zone in &chain.zones {
        let name = &site[zone.zone].name;
        let mut row = bar(chain, zone, end, time);
        if one_line {
            row.put(2, name, Ink::Plain);
            row.put(right + 2, &said(zone, end), Ink::Plain);
        } else {
            page.paragraph(2, &format!("{name}: {}", said(zone, end)), Ink::Plain);
        }
        page.row(&row);
    }
    page.row(&axis(time, "s", page.columns));
}

/// `0.44 s, latest 0.46 s`.
fn said(zone: &ChainZone, end: End) -> String {
    match total(zone, end).1 {
        Some(most_s) if zone.master.is_some() => {
            format!("{}, latest {most_s:.2} s", delay(zone, end))
        }
        _ => delay(zone, end),
    }
}

fn bar(chain: &Chain, zone: &ChainZone, end: End, time: Scale) -> Row {
    let seen = seen(chain, zone, end);
    let column = |at_s: f64| whole(time.place(at_s).clamp(time.places.0, time.places.1));
    let mut row = Row::default();
    if let Some((from_s, to_s)) = seen.lit_s {
        let to = to_s.map_or(whole(time.places.1) + 1, column);
        row.fill(column(from_s)..to, '#', Ink::Lit);
    }
    if let (Some(news_s), Some(turn_s)) = (seen.news_s, seen.turn_s) {
        // After its pair goes dead the zone stays lit for a while; after the pair goes live it stays dark for a
        // while.
        let (letter, ink) = match end {
            End::Dusk => ('.', Ink::Faint),
            End::Off => ('=', Ink::Lit),
        };
        row.fill(column(news_s)..column(turn_s), letter, ink);
    }
    if let Some(moves_s) = seen.moves_s {
        row.put(column(moves_s), "|", Ink::Bold);
    }
    if let Some(latest_s) = seen.latest_s {
        row.put(column(latest_s), "!", Ink::Bold);
    }
    row
}
