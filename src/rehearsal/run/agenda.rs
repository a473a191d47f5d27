//! What is to happen in a rehearsal, and when: faults, requests, timers of their own.

use std::time::Duration;

use chrono::{DateTime, Utc};

use crate::rehearsal::Script;
use crate::rehearsal::oracle::Oracle;
use crate::site::{Switching, ZoneId};

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Edge {
    Ends,
    Begins,
}

/// Each list with the soonest last.
#[derive(Debug)]
pub(super) struct Agenda {
    /// Faults by when they begin or end.
    edges: Vec<(Duration, Edge, usize)>,
    asks: Vec<(Duration, usize)>,
    timers: Vec<(Duration, ZoneId, bool)>,
}

impl Agenda {
    pub(super) fn new(script: &Script<'_>, oracle: &Oracle<'_>) -> Self {
        let begins = script.start();
        let since = |at: DateTime<Utc>| (at - begins).to_std().unwrap_or_default();
        let mut edges = Vec::new();
        for (index, fault) in script.faults.iter().enumerate() {
            if fault.at < begins || fault.at >= script.end() {
                continue;
            }
            edges.push((since(fault.at), Edge::Begins, index));
            if let Some(lasts) = fault.lasts {
                edges.push((since(fault.at + lasts), Edge::Ends, index));
            }
        }
        edges.sort_by(|a, b| b.cmp(a));
        let asks = script.asks.iter().enumerate();
        let mut asks: Vec<_> = asks
            .filter(|(_, ask)| ask.at >= begins)
            .map(|(index, ask)| (since(ask.at), index))
            .collect();
        asks.sort_by(|a, b| b.cmp(a));
        let mut timers = Vec::new();
        for (zone, stretches) in oracle.plans() {
            let timed = matches!(script.site[zone].switching, Switching::Timed(_));
            if !timed || script.site.output_of(zone).is_some() {
                continue;
            }
            for stretch in stretches.iter().filter(|stretch| stretch.end > begins) {
                timers.push((since(stretch.start), zone, true));
                timers.push((since(stretch.end), zone, false));
            }
        }
        timers.sort_by(|a, b| b.cmp(a));
        Self {
            edges,
            asks,
            timers,
        }
    }

    /// When the next of it happens.
    pub(super) fn next_at(&self) -> Option<Duration> {
        let edge = self.edges.last().map(|edge| edge.0);
        let ask = self.asks.last().map(|ask| ask.0);
        let timer = self.timers.last().map(|timer| timer.0);
        edge.into_iter().chain(ask).chain(timer).min()
    }

    /// A timer that is due, and what it does.
    pub(super) fn timer(&mut self, now: Duration) -> Option<(ZoneId, bool)> {
        let timer = self.timers.pop_if(|timer| timer.0 <= now)?;
        Some((timer.1, timer.2))
    }

    /// A fault that is due to begin or end.
    pub(super) fn edge(&mut self, now: Duration) -> Option<(Edge, usize)> {
        let edge = self.edges.pop_if(|edge| edge.0 <= now)?;
        Some((edge.1, edge.2))
    }

    /// A request that is due.
    pub(super) fn ask(&mut self, now: Duration) -> Option<usize> {
        Some(self.asks.pop_if(|ask| ask.0 <= now)?.1)
    }
}
