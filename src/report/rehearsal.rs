//! A rehearsal on paper: the answer, what the owner would have seen, what is not as it should be.

use std::fmt::Write;

use serde_json::{Value, json as value};

use crate::rehearsal::campaign::{Outcome, Yard};
use crate::rehearsal::{Finding, Rehearsed, Script, Seen};
use crate::schedule::clock;
use crate::site::Site;
use crate::text::wrap;

use super::{counted, json, utc};

fn answer(script: &Script<'_>, rehearsed: &Rehearsed) -> String {
    let mut text = format!(
        "rehearsed {} of {} from {}",
        counted(script.nights, "night"),
        script.site.name,
        script.from
    );
    if !script.faults.is_empty() {
        let _ = write!(
            text,
            " with {}",
            counted(script.faults.len() as u64, "fault")
        );
    }
    let _ = match rehearsed.findings.len() {
        0 => write!(text, ": as wanted"),
        1 => write!(text, ": one thing is not as wanted"),
        count => write!(text, ": {count} things are not as wanted"),
    };
    text
}

/// One line of what the owner would have seen.
pub fn seen_line(site: &Site, seen: &Seen) -> String {
    let local = site.timezone.to_local(seen.at);
    let mut out = String::new();
    let zone = seen
        .zone
        .map(|zone| format!("{} ", site[zone].name))
        .unwrap_or_default();
    let first = format!("{}  {:<7}  ", local.format("%m-%d %H:%M:%S"), seen.who);
    let indent = " ".repeat(first.chars().count());
    wrap(&mut out, &first, &indent, &format!("{zone}{}", seen.what));
    out
}

fn findings(site: &Site, findings: &[Finding], out: &mut String) {
    for finding in findings {
        let local = site.timezone.to_local(finding.at);
        let zone = finding
            .zone
            .map(|zone| format!("{}: ", site[zone].name))
            .unwrap_or_default();
        let first = format!("{}  ", local.format("%m-%d %H:%M:%S"));
        let indent = " ".repeat(first.chars().count());
        wrap(out, &first, &indent, &format!("{zone}{}", finding.what));
    }
}

/// The answer, what happened, and what the judge found.
pub fn rehearsal_text(script: &Script<'_>, rehearsed: &Rehearsed) -> String {
    let mut out = answer(script, rehearsed);
    out.push('\n');
    if !rehearsed.seen.is_empty() {
        let first = rehearsed.seen[0].at;
        let _ = writeln!(
            out,
            "\nwhat happens, by the yard's clocks (begins {} {})",
            script.from,
            clock(&script.site.timezone, first)
        );
        for seen in &rehearsed.seen {
            out.push_str(&seen_line(script.site, seen));
        }
    }
    if !rehearsed.findings.is_empty() {
        out.push_str("\nnot as wanted\n");
        findings(script.site, &rehearsed.findings, &mut out);
    }
    out
}

/// `{site, from, nights, faults, requests, as_wanted, findings, events}`.
pub fn rehearsal_json(script: &Script<'_>, rehearsed: &Rehearsed) -> String {
    let site = script.site;
    let zone = |zone: Option<crate::site::ZoneId>| zone.map(|zone| site[zone].name.clone());
    let findings: Vec<Value> = rehearsed
        .findings
        .iter()
        .map(|finding| {
            value!({ "utc": utc(finding.at), "zone": zone(finding.zone), "what": finding.what })
        })
        .collect();
    let events: Vec<Value> = rehearsed
        .seen
        .iter()
        .map(|seen| {
            value!({ "utc": utc(seen.at), "who": seen.who, "zone": zone(seen.zone), "what": seen.what })
        })
        .collect();
    let faults: Vec<_> = script.faults.iter().map(|fault| fault.say(site)).collect();
    let asks: Vec<_> = script.asks.iter().map(|ask| ask.say(site)).collect();
    json(&value!({
        "site": site.name,
        "from": script.from.to_string(),
        "nights": script.nights,
        "faults": faults,
        "requests": asks,
        "as_wanted": rehearsed.findings.is_empty(),
        "findings": findings,
        "events": events,
    }))
}

/// The answer of a campaign; of a run that went wrong the command that repeats it, and what came of it.
pub fn campaign_text(yards: &[Yard], outcome: &Outcome) -> String {
    let sums = format!(
        "{} with {} and {}",
        counted(outcome.nights, "night"),
        counted(outcome.faults, "fault"),
        counted(outcome.asks, "request")
    );
    let Some((case, rehearsed)) = &outcome.wrong else {
        return format!(
            "rehearsed {} in {}: as wanted\n",
            sums,
            counted(outcome.runs, "run")
        );
    };
    let yard = &yards[case.yard];
    let mut out = format!("run {} is not as wanted, after {sums}\n", outcome.number);
    out.push_str("\nshortest that repeats it\n");
    out.push_str(&case.command(yard));
    out.push_str("\n\nnot as wanted\n");
    findings(&yard.site, &rehearsed.findings, &mut out);
    out.push_str("\nwhat happens, by the yard's clocks\n");
    for seen in &rehearsed.seen {
        out.push_str(&seen_line(&yard.site, seen));
    }
    out
}

/// `{runs, nights, faults, requests, as_wanted, command, findings}`.
pub fn campaign_json(yards: &[Yard], outcome: &Outcome) -> String {
    let wrong = outcome.wrong.as_ref();
    let findings: Vec<Value> = wrong
        .into_iter()
        .flat_map(|(_, rehearsed)| &rehearsed.findings)
        .map(|finding| value!({ "utc": utc(finding.at), "what": finding.what }))
        .collect();
    json(&value!({
        "runs": outcome.runs,
        "nights": outcome.nights,
        "faults": outcome.faults,
        "requests": outcome.asks,
        "as_wanted": wrong.is_none(),
        "command": wrong.map(|(case, _)| case.command(&yards[case.yard])),
        "findings": findings,
    }))
}
