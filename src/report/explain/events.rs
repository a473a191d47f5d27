//! The course of an ordinary evening, event by event.

use std::fmt::Write;
use std::time::Duration;

use crate::chain::{Chain, Doubt, Event, What};
use crate::site::Site;
use crate::text::wrap;

/// Everything that happens after the heads are switched on and off; nothing for a yard without links.
pub(super) fn events_text(site: &Site, chain: &Chain, out: &mut String) {
    if chain.zones.is_empty() {
        return;
    }
    let is_off = |event: &Event| event.what == What::SwitchedOff;
    let first_off = chain.events.iter().position(is_off);
    let (on, off) = chain
        .events
        .split_at(first_off.unwrap_or(chain.events.len()));
    for (said, since, events) in [("on", Duration::ZERO, on), ("off", chain.off_at, off)] {
        let _ = writeln!(
            out,
            "\norder of events, ms after the heads are switched {said} (ordinary evening)"
        );
        stretch(site, since, events, out);
    }
}

fn stretch(site: &Site, since: Duration, events: &[Event], out: &mut String) {
    let length = |event: &Event| site[event.zone].name.chars().count();
    let width = events.iter().map(length).max().unwrap_or(0);
    let mut events = events.iter().peekable();
    while let Some(event) = events.next() {
        let mut said = happening(event.what).to_owned();
        // What happens to a zone at one instant is one line.
        while let Some(next) = events.next_if(|next| next.zone == event.zone && next.at == event.at)
        {
            let _ = write!(said, ", {}", happening(next.what));
        }
        let at_ms = event.at.saturating_sub(since).as_secs_f64() * 1e3;
        let first = format!("{at_ms:>9.1}  {:<width$}  ", site[event.zone].name);
        wrap(out, &first, "             ", &said);
    }
}

fn happening(what: What) -> &'static str {
    match what {
        What::SwitchedOn => "switched on",
        What::SwitchedOff => "switched off",
        What::PairLive => "pair live",
        What::PairDead => "pair dead",
        What::RodeThrough => "relay has not noticed",
        What::RelayCloses => "relay closes",
        What::RelayOpens => "relay opens",
        What::BounceOver => "bounce over",
        What::AskedOn => "supply told to go on",
        What::AskedOff => "supply told to go off",
        What::HeldOn => "held on by another zone on its supply",
        What::Unsure(Doubt::ShortOff) => "not sure: let go for less than its supply needs",
        What::Unsure(Doubt::BetweenLevels) => "not sure: its remote-on line is between the levels",
        What::Fails => "fails",
        What::Mended => "whole again",
        What::Lit => "lit",
        What::Dark => "dark",
    }
}
