//! One link in depth: verdict, four questions, times, builds, and what an oscilloscope would show.

use std::fmt::Write;

use crate::check::Check;
use crate::link::{
    Answer, Builds, CaseRun, LinkJudgement, Question, Reading, Times, Verdict, thresholds,
};
use crate::picture::waveform::{Thresholds, Trace, waveform_sketch};
use crate::site::{Link, LinkId, Site};
use crate::text::{WIDTH, amps, celsius, signed, volts, with_minus, wrap};
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

/// The verdict first, then the four questions, the times, the builds, every case with its sketch,
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
    questions(&judgement.answers, &mut out);
    wrap(&mut out, "\n", "  ", &builds_said(&judgement.builds));
    for run in report.runs {
        out.push('\n');
        case(report, run, &mut out)?;
    }
    let cautions = report.check.cautions.iter();
    let mut heading = "\ncautions and notes of this link, worst first\n";
    for caution in cautions.filter(|at| at.place == crate::cautions::Place::Link(report.id)) {
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
    let judgement = report.judgement();
    let hovers = if judgement.ordinary.hovers() {
        " (hovers: would stay in if in, stays out if out)"
    } else {
        ""
    };
    let least = least(&judgement.answers);
    format!(
        "{}  {}: {}{hovers}; least in hand {} %: {}, box {}",
        report.verdict(),
        report.site.link_name(report.link()),
        judgement.outcome(),
        signed(least.worst().margin * 100.0, 0),
        at_its_worst(least.question),
        celsius(least.worst().box_c)
    )
}

/// A question with its worst case in a few words.
fn at_its_worst(question: Question) -> &'static str {
    match question {
        Question::Operates => "pulls in warm, low mains, all against it",
        Question::Holds => "stays in, low mains, all against it",
        Question::Releases => "lets go, no lamp connected",
        Question::Survives => "survives high mains with every lamp out",
    }
}

/// The answer with the least in hand.
fn least(answers: &[Answer; 4]) -> &Answer {
    answers
        .iter()
        .min_by(|a, b| a.worst().margin.total_cmp(&b.worst().margin))
        .expect("four answers")
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

fn questions(answers: &[Answer; 4], out: &mut String) {
    out.push_str("\nfour questions  typical                   at its worst\n");
    for answer in answers {
        let row = format!(
            "  {:9} {}  {}, box {}",
            answer.question.to_string(),
            cell(answer.question, &answer.typical),
            cell(answer.question, answer.worst()).trim_end(),
            celsius(answer.worst().box_c)
        );
        out.push_str(&with_minus(&row));
        out.push('\n');
    }
    wrap(
        out,
        "  ",
        "  ",
        "At their worst: pulls in and stays in with low mains, a flat crest, all lamps lit, a warm coil, hot wire, an aged capacitor and parts against it; lets go with no lamp connected; survives high mains with no lamp connected. Both ends of the year.",
    );
}

/// `+41 %  14.80 V of 10.44 V`: what it gets of what it needs, or to what it may not reach.
fn cell(question: Question, reading: &Reading) -> String {
    let sign = match question {
        Question::Operates | Question::Holds => "of",
        Question::Releases | Question::Survives => "to",
    };
    format!(
        "{:>5} %  {:>5.2} V {sign} {:>5} V",
        signed(reading.margin.max(-9.99) * 100.0, 0),
        reading.coil_v,
        volts((reading.limit_v * 100.0).round() / 100.0)
    )
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
