//! The lines: what each was told, what it is, and what is wrong with it.

use std::time::Duration;

use crate::daemon::controller::{Command, LineState};
use crate::daemon::lines::{LineFault, Lines};
use crate::daemon::moment::Now;
use crate::daemon::store::{Kind, Store};
use crate::site::{Site, ZoneId};

use super::journal::Journal;

/// The line of one zone, if it has one.
#[derive(Debug, Clone, Default)]
pub(super) struct Driven {
    pub(super) command: Option<Command>,
    pub(super) line: Option<LineState>,
    pub(super) fault: Option<LineFault>,
    /// What it should have been when it did not read back as it was driven.
    failed_at: Option<bool>,
}

pub(super) struct Outputs<L> {
    pub(super) lines: L,
    pub(super) zones: Vec<Driven>,
    /// When a line last went on.
    pub(super) last_on: Option<Duration>,
}

impl<L: Lines> Outputs<L> {
    /// The lines are taken to be dark, as they were requested.
    pub(super) fn new(site: &Site, lines: L, now: Now) -> Self {
        let zones = (0..site.zones.len()).map(ZoneId);
        Self {
            lines,
            zones: zones.map(|zone| fresh(site, zone, now)).collect(),
            last_on: None,
        }
    }

    /// Those of another description, each zone as `before` says which it was; `lines` are taken dark.
    pub(super) fn replace(
        &mut self,
        site: &Site,
        lines: Option<L>,
        before: &[Option<usize>],
        now: Now,
    ) {
        let old = std::mem::take(&mut self.zones);
        let driven = |(index, before): (usize, &Option<usize>)| {
            let fresh = fresh(site, ZoneId(index), now);
            match before.map(|before| old[before].clone()) {
                None => fresh,
                Some(before) if lines.is_none() => before,
                Some(before) => Driven {
                    line: fresh.line,
                    fault: None,
                    ..before
                },
            }
        };
        self.zones = before.iter().enumerate().map(driven).collect();
        if let Some(lines) = lines {
            self.lines = lines;
        }
    }

    pub(super) fn has_line(&self, zone: ZoneId) -> bool {
        self.zones[zone.0].line.is_some()
    }

    pub(super) fn any_lit(&self) -> bool {
        let lit = |zone: &Driven| zone.line.is_some_and(|line| line.lit);
        self.zones.iter().any(lit)
    }

    pub(super) fn any_lost(&self) -> bool {
        self.zones.iter().any(|zone| zone.fault.is_some())
    }

    /// Drives every line dark.
    pub(super) fn all_dark<S: Store>(
        &mut self,
        site: &Site,
        journal: &mut Journal<S>,
        now: Now,
        why: &str,
    ) {
        let zones = site.outputs.iter().map(|output| output.zone);
        let levels: Vec<(ZoneId, bool)> = zones.map(|zone| (zone, false)).collect();
        let _ = self.lines.drive(&levels);
        for (zone, _) in levels {
            let state = &mut self.zones[zone.0];
            if state.line.is_some_and(|line| line.lit) {
                state.line = Some(LineState {
                    lit: false,
                    since: now.boot,
                    lost: false,
                });
                journal.switched(now, zone, false, why);
            }
        }
    }

    /// Drives the lines where they are not as they should be.
    pub(super) fn drive<S: Store>(
        &mut self,
        site: &Site,
        journal: &mut Journal<S>,
        now: Now,
        commands: Vec<Option<Command>>,
    ) {
        let mut levels = Vec::new();
        let mut differs = false;
        for (index, (state, command)) in self.zones.iter().zip(&commands).enumerate() {
            let Some(command) = command else { continue };
            levels.push((ZoneId(index), command.lit));
            differs |=
                state.fault.is_some() || state.line.is_none_or(|line| line.lit != command.lit);
        }
        for (state, command) in self.zones.iter_mut().zip(commands) {
            state.command = command;
        }
        if !differs {
            return;
        }
        let faults = self.lines.drive(&levels);
        for (zone, lit) in levels {
            let fault = faults.iter().find(|(faulty, _)| *faulty == zone);
            match fault {
                Some((_, fault)) => self.lose(journal, now, zone, fault.clone()),
                // One that was lost is back when it reads back.
                None if self.zones[zone.0].fault.is_some() => {}
                None => self.driven(site, journal, now, zone, lit),
            }
        }
    }

    fn lose<S: Store>(
        &mut self,
        journal: &mut Journal<S>,
        now: Now,
        zone: ZoneId,
        fault: LineFault,
    ) {
        let state = &mut self.zones[zone.0];
        let since = state.line.filter(|line| !line.lit);
        // Whatever it was, nobody holds it now.
        let since = since.map_or(now.boot, |line| line.since);
        state.line = Some(LineState {
            lit: false,
            since,
            lost: true,
        });
        if state.fault.as_ref() != Some(&fault) {
            journal.say_of(now, Kind::Fault, zone, "line lost", &fault.to_string());
            state.fault = Some(fault);
        }
    }

    fn driven<S: Store>(
        &mut self,
        site: &Site,
        journal: &mut Journal<S>,
        now: Now,
        zone: ZoneId,
        lit: bool,
    ) {
        let state = &mut self.zones[zone.0];
        if let Some(line) = &mut state.line
            && line.lit == lit
        {
            line.lost = false;
            return;
        }
        state.line = Some(LineState {
            lit,
            since: now.boot,
            lost: false,
        });
        if lit {
            self.last_on = Some(now.boot);
        }
        let why = state
            .command
            .map_or_else(String::new, |command| command.wish.why.say(site));
        journal.switched(now, zone, lit, &why);
    }

    /// Whether every line that is not known to be lost reads as it was driven.
    pub(super) fn read_back<S: Store>(
        &mut self,
        site: &Site,
        journal: &mut Journal<S>,
        now: Now,
    ) -> bool {
        let mut sound = true;
        for (zone, level) in self.lines.read_back() {
            let state = &mut self.zones[zone.0];
            let Some(command) = state.command else {
                continue;
            };
            let lost = state.fault.is_some();
            let fault = match level {
                // That it is dark as told says nothing of one that would not go on.
                Ok(lit) if lit == command.lit && state.failed_at.is_some_and(|at| at != lit) => {
                    continue;
                }
                Ok(lit) if lit == command.lit => {
                    if lost {
                        state.fault = None;
                        state.failed_at = None;
                        let why = "it can be driven again";
                        journal.say_of(now, Kind::Mended, zone, "line back", why);
                        self.driven(site, journal, now, zone, lit);
                    }
                    continue;
                }
                // The board has said why already.
                Err(_) if lost => continue,
                Ok(_) => {
                    state.failed_at = Some(command.lit);
                    LineFault {
                        what: "its line does not read back as it is driven".into(),
                        remedy: "look for a short or another driver on it".into(),
                    }
                }
                Err(fault) => fault,
            };
            sound &= lost;
            self.lose(journal, now, zone, fault);
        }
        sound
    }
}

fn fresh(site: &Site, zone: ZoneId, now: Now) -> Driven {
    Driven {
        line: site.output_of(zone).map(|_| LineState {
            lit: false,
            since: now.boot,
            lost: false,
        }),
        ..Driven::default()
    }
}
