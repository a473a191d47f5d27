//! One link in depth: verdict, margins, times, builds, and what an oscilloscope would show.

use std::fmt::Write;

use crate::cautions::{Caution, Code, Place, reason_text};
use crate::check::Check;
use crate::link::{Aspect, Builds, CaseRun, LinkJudgement, Outcome, Times, Verdict, thresholds};
use crate::picture::waveform::{Thresholds, Trace, waveform_sketch};
use crate::site::{Link, LinkId, Site};
use crate::text::{
    WIDTH, amps, aspect_text, beyond_text, celsius, least_text, margin_at, outcome_text, percent,
    with_minus, wrap,
};
use crate::transient::CannotConclude;

use super::check::{FOOTER, caution_text, link_verdict};
use super::explain::link_steps;

mod document;

pub use document::link_document;

/// What is said of a link.
#[derive(Debug, Clone, Copy)]
pub struct LinkReport<'a> {
    /// The yard.
    pub site: &'a Site,
    /// Its verdict.
    pub check: &'a Check,
    /// The link.
    pub id: LinkId,
    /// The cases that were asked for.
    pub runs: &'a [CaseRun],
}

impl LinkReport<'_> {
    fn link(&self) -> &Link {
        &self.site[self.id]
    }

    fn judgement(&self) -> &LinkJudgement {
        &self.check.links[self.id.0]
    }

    /// Its own cautions, worst first.
    fn cautions(&self) -> impl Iterator<Item = &Caution> {
        let own = |at: &&Caution| at.place == Place::Link(self.id);
        self.check.cautions.iter().filter(own)
    }

    /// That of the link's own cautions.
    pub fn verdict(&self) -> Verdict {
        link_verdict(self.check, self.id)
    }

    /// What an oscilloscope would show of a case.
    ///
    /// # Errors
    /// If the simulation cannot conclude.
    pub fn trace(&self, run: &CaseRun) -> Result<Trace, CannotConclude> {
        let [release_a, hold_a, operate_a, limit_a] = thresholds(self.link(), &run.corner);
        Trace::of(
            &run.circuit,
            Thresholds {
                operate_a,
                hold_a,
                release_a,
                limit_a: Some(limit_a),
            },
            self.site.link_name(self.link()),
            format!(
                "case {}, box {}, coil {}{}",
                run.said(),
                celsius(run.corner.box_c),
                celsius(run.corner.coil_c),
                if self.lets_go_perhaps(run) {
                    "; not sure to let go"
                } else {
                    ""
                }
            ),
        )
    }

    /// Whether a case lets go by what is typical of its relay, of which that is not sure.
    fn lets_go_perhaps(&self, run: &CaseRun) -> bool {
        run.transient.drop_out_s.is_some() && self.judgement().times.drop_out.is_none()
    }
}

/// The verdict first, then the times, what is in hand, the builds, every case with its sketch,
/// and on request every formula.
///
/// # Errors
/// If a simulation cannot conclude.
pub fn link_text(report: &LinkReport<'_>, explain: bool) -> Result<String, CannotConclude> {
    let (site, judgement) = (report.site, report.judgement());
    let mut out = String::new();
    wrap(&mut out, "", "  ", &headline(report));
    for line in times_said(&judgement.times) {
        wrap(&mut out, "  ", "    ", &line);
    }
    margins(report, &mut out);
    wrap(&mut out, "\n", "  ", &builds_said(&judgement.builds));
    for run in report.runs {
        out.push('\n');
        case(report, run, &mut out)?;
    }
    let mut heading = "\ncautions and notes of this link, worst first\n";
    for caution in report.cautions() {
        out.push_str(std::mem::take(&mut heading));
        caution_text(site, caution, &mut out);
    }
    if explain {
        link_steps(site, report.id, judgement, &mut out);
        out.push_str("\nbuilds are drawn from\n");
        for (what, from) in crate::link::DISTRIBUTIONS {
            wrap(&mut out, &format!("  {what:12} "), "               ", from);
        }
    }
    out.push('\n');
    wrap(&mut out, "", "", FOOTER);
    Ok(out)
}

fn headline(report: &LinkReport<'_>) -> String {
    let (site, link, judged) = (report.site, report.link(), &report.judgement().judged);
    let hovers = if judged.ordinary.hovers() {
        " (hovers: would stay in if in, stays out if out)"
    } else {
        ""
    };
    let verdict = report.verdict();
    // What the slave does says these.
    let said = [Code::S18, Code::S19, Code::S21, Code::S50];
    let first = report.cautions().next().filter(|_| verdict != Verdict::Go);
    let reason = first
        .filter(|first| judged.outcome() == Outcome::Follows || !said.contains(&first.code))
        .map_or_else(String::new, |first| {
            format!("{}; ", reason_text(site, first))
        });
    format!(
        "{verdict}  {}: {reason}{}{hovers}; {}",
        site.link_name(link),
        outcome_text(judged),
        least_text(link, judged)
    )
}

fn times_said(times: &Times) -> Vec<String> {
    let mut lines = Vec::new();
    match times.pull_in {
        Some(band) => lines.push(format!(
            "closes {} after its master comes on, {} to {} over parts, mains and box",
            seconds(band.typical_s),
            seconds(band.least_s),
            seconds(band.most_s)
        )),
        None => lines.push("does not surely close after its master comes on".into()),
    }
    match times.drop_out {
        Some(band) => lines.push(format!(
            "opens {} after its master goes off, {} to {}",
            seconds(band.typical_s),
            seconds(band.least_s),
            seconds(band.most_s)
        )),
        None => lines.push("does not surely open after its master goes off".into()),
    }
    if let Some((through_s, off_s)) = times.ride_through_s().zip(times.shortest_off_s()) {
        lines.push(format!(
            "a dip of its master shorter than {} passes unnoticed; off for {} or longer is surely seen, and comes back",
            seconds(through_s),
            seconds(off_s)
        ));
    }
    lines
}

/// `6.9 ms`, `182 ms`, `1.24 s`.
fn seconds(value_s: f64) -> String {
    match value_s {
        short if short < 0.01 => format!("{:.1} ms", short * 1e3),
        short if short < 1.0 => format!("{:.0} ms", short * 1e3),
        long => format!("{long:.2} s"),
    }
}

/// What is in hand of every aspect: on an ordinary evening of rated parts, and where it is least.
fn margins(report: &LinkReport<'_>, out: &mut String) {
    let (link, judged) = (report.link(), &report.judgement().judged);
    out.push_str("\nin hand             where it is least\n");
    for aspect in Aspect::ALL {
        let margin = judged.margin(aspect);
        let first = format!(
            "  {:18} {:>6}  ",
            aspect_text(aspect),
            percent(margin.fraction.max(-9.99))
        );
        let rest = " ".repeat(first.chars().count());
        wrap(out, &with_minus(&first), &rest, &margin_at(link, margin));
    }
    out.push_str("\nbeyond what the verdict asks\n");
    for beyond in &report.judgement().beyond {
        wrap(out, "  ", "    ", &beyond_text(beyond));
    }
}

/// `997 of 1,000 builds follow …`.
pub(super) fn builds_said(builds: &Builds) -> String {
    let mut said = format!(
        "{} of {} builds follow (parts, mains and weather drawn at random, seed {})",
        thousands(builds.follow),
        thousands(builds.drawn),
        builds.seed
    );
    for (count, what) in [
        (builds.stay_dark, "stay dark"),
        (builds.stay_lit, "stay lit"),
        (builds.chatter, "chatter"),
        (
            builds.follow - builds.restart,
            "do not come back while warm",
        ),
    ] {
        if count > 0 {
            let _ = write!(said, "; {} {what}", thousands(count));
        }
    }
    said
}

/// `1,000`.
fn thousands(count: u32) -> String {
    let digits = count.to_string();
    let mut out = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

fn case(report: &LinkReport<'_>, run: &CaseRun, out: &mut String) -> Result<(), CannotConclude> {
    let transient = &run.transient;
    let window = &transient.window;
    let does = match (transient.pull_in_s, transient.drop_out_s) {
        _ if transient.keeps_letting_go() => format!(
            "chatters, opens {} times while on",
            transient.opens_while_on
        ),
        (None, _) => "stays out".into(),
        (Some(on_s), None) => format!("closes after {}, is held in", seconds(on_s)),
        (Some(on_s), Some(off_s)) => {
            format!(
                "closes after {}, opens after {}{}",
                seconds(on_s),
                seconds(off_s),
                if report.lets_go_perhaps(run) {
                    " by its typical release voltage, not surely"
                } else {
                    ""
                }
            )
        }
    };
    wrap(
        out,
        "",
        "  ",
        &format!(
            "case {}: {does}; coil {:.2} V mean, capacitor {:.2} to {:.2} V, {} in the coil, {} diode peak, {} RMS in the pair",
            run.said(),
            window.coil_mean_v,
            window.dc_trough_v,
            window.dc_peak_v,
            amps(window.coil_mean_a),
            amps(window.rectifier_peak_a),
            amps(window.wire_rms_a)
        ),
    );
    out.push_str(&waveform_sketch(&report.trace(run)?, WIDTH));
    Ok(())
}
