//! The lines of a board: where those of the site are, and what else there is.

use std::fmt::Write;

use serde_json::{Value, json as value};

use crate::daemon::lines::board::{Board, Chip, LineState};
use crate::daemon::lines::{LineFault, Trouble, Wire};
use crate::site::Bias;
use crate::text::wrap;

use super::{counted, json};

/// What is said of a board's lines.
#[derive(Debug, Clone, Copy)]
pub struct LinesReport<'a> {
    /// What the site is called.
    pub site: &'a str,
    /// Its lines.
    pub wires: &'a [Wire],
    /// What the machine offers.
    pub board: &'a Board,
}

/// Where a line of the site is, and whether it can be had.
type Finding<'a> = Result<(&'a Chip, &'a LineState), Trouble>;

impl LinesReport<'_> {
    /// A line that this program holds already counts as had.
    fn findings(&self) -> Vec<(&Wire, Finding<'_>)> {
        let find = |wire| {
            let (chip, line) = self.board.locate(wire)?;
            match &line.held_by {
                Some(holder) if !line.is_ours() => Err(Trouble::Busy(holder.clone())),
                _ => Ok((chip, line)),
            }
        };
        let mut findings: Vec<(&Wire, Finding<'_>)> =
            self.wires.iter().map(|wire| (wire, find(wire))).collect();
        for later in 1..findings.len() {
            let (before, rest) = findings.split_at_mut(later);
            let (_, finding) = &mut rest[0];
            let same = before.iter().find(|(_, other)| match (other, &*finding) {
                (Ok((chip, line)), Ok((this, one))) => {
                    chip.name == this.name && line.offset == one.offset
                }
                _ => false,
            });
            if let Some((wire, _)) = same {
                *finding = Err(Trouble::Shared(wire.name.clone()));
            }
        }
        findings
    }

    /// Whether every line of the site is there, and free or in this program's hands.
    pub fn all_well(&self) -> bool {
        self.findings().iter().all(|(_, finding)| finding.is_ok())
    }
}

/// Whether the site's lines are there first, then each of them, then every line of the board.
pub fn lines_text(report: &LinesReport<'_>) -> String {
    let findings = report.findings();
    let mut out = String::new();
    wrap(&mut out, "", "  ", &answer(report.site, &findings));
    for (wire, finding) in &findings {
        let first = format!("  {} {}  ", wire.name, wire.role.name());
        match finding {
            Ok((chip, line)) => {
                let mut text = format!("{}: {} line {}", wire.place(), chip.name, line.offset);
                if !line.name.is_empty() {
                    let _ = write!(text, " ({})", line.name);
                }
                let _ = write!(
                    text,
                    ", {}, lit when {}",
                    if line.is_ours() {
                        "held by pilotwire"
                    } else {
                        "free"
                    },
                    if wire.active_low { "low" } else { "high" }
                );
                wrap(&mut out, &first, "    ", &text);
            }
            Err(trouble) => fault(&trouble.of_wire(wire), &first, &mut out),
        }
    }
    chips_text(report.board, &findings, &mut out);
    out
}

/// `4 of 4 lines of Home are there and free`, or what is wrong.
fn answer(site: &str, findings: &[(&Wire, Finding<'_>)]) -> String {
    if findings.is_empty() {
        return format!("{site} has no lines: its file has neither [[output]] nor [[input]]");
    }
    let well: Vec<&LineState> = findings
        .iter()
        .filter_map(|(_, finding)| Some(finding.as_ref().ok()?.1))
        .collect();
    let wrong: Vec<String> = findings
        .iter()
        .filter_map(|(wire, finding)| {
            let trouble = finding.as_ref().err()?;
            let role = wire.role.name();
            Some(format!("{} of {} {}", role, wire.name, trouble.in_short()))
        })
        .collect();
    let ours = well.iter().filter(|line| line.is_ours()).count();
    let state = match ours {
        0 => "are there and free".into(),
        all if all == well.len() => "are there, held by pilotwire".into(),
        some => format!("are there, {some} of them held by pilotwire, the others free"),
    };
    let mut text = format!(
        "{} of {} lines of {site} {state}",
        well.len(),
        findings.len()
    );
    if !wrong.is_empty() {
        let _ = write!(text, ": {}", wrong.join(", "));
    }
    text
}

fn fault(fault: &LineFault, first: &str, out: &mut String) {
    wrap(out, first, "    ", &fault.what);
    wrap(out, "    ", "    ", &format!("→ {}", fault.remedy));
}

fn chips_text(board: &Board, findings: &[(&Wire, Finding<'_>)], out: &mut String) {
    if board.chips.is_empty() && board.closed.is_empty() && board.hidden.is_empty() {
        out.push('\n');
        let (what, remedy) = Trouble::NoChips.words();
        wrap(out, "", "  ", &format!("{what}; {remedy}"));
    }
    let others = board.closed.iter().cloned().map(Trouble::Closed);
    let hidden = board.hidden.iter().cloned().map(Trouble::Hidden);
    for trouble in others.chain(hidden) {
        out.push('\n');
        let (what, remedy) = trouble.words();
        wrap(out, "", "  ", &what);
        wrap(out, "  ", "  ", &format!("→ {remedy}"));
    }
    for chip in &board.chips {
        out.push('\n');
        let mut head = format!("{} ({})", chip.name, chip.label);
        if !chip.aliases.is_empty() {
            let _ = write!(head, ", also {}", chip.aliases.join(", "));
        }
        let lines = u64::try_from(chip.lines.len()).unwrap_or(u64::MAX);
        let _ = write!(head, ": {}", counted(lines, "line"));
        wrap(out, "", "  ", &head);
        for line in &chip.lines {
            let name = if line.name.is_empty() {
                "-"
            } else {
                &line.name
            };
            let mut text = vec![line_text(line)];
            let used = findings.iter().filter(|(_, finding)| {
                finding
                    .as_ref()
                    .is_ok_and(|(other, one)| other.name == chip.name && one.offset == line.offset)
            });
            text.extend(used.map(|(wire, _)| format!("{} of {}", wire.role.name(), wire.name)));
            let first = format!("  {:>3}  {name:<16} ", line.offset);
            wrap(out, &first, "                        ", &text.join("; "));
        }
    }
}

/// `output, active low, held by gpio-leds`.
fn line_text(line: &LineState) -> String {
    let mut parts = vec![if line.output { "output" } else { "input" }.to_owned()];
    if line.active_low {
        parts.push("active low".into());
    }
    if let Some(bias) = line.bias {
        parts.push(bias_name(bias).into());
    }
    if let Some(debounce_s) = line.debounce_s {
        parts.push(format!("debounce {} ms", debounce_s * 1000.0));
    }
    parts.push(match &line.held_by {
        None => "free".into(),
        Some(holder) if holder.is_empty() => "held by something without a name".into(),
        Some(holder) => format!("held by {holder}"),
    });
    parts.join(", ")
}

fn bias_name(bias: Bias) -> &'static str {
    match bias {
        Bias::PullUp => "pull-up",
        Bias::PullDown => "pull-down",
        Bias::Disabled => "no pull",
        Bias::AsIs => "pull as it is",
    }
}

/// `{site, all_well, lines: [{zone, role, chip, line, found, fault}], chips, closed, hidden}`.
pub fn lines_json(report: &LinesReport<'_>) -> String {
    let findings = report.findings();
    let lines = findings.iter().map(|(wire, finding)| {
        let found = finding.as_ref().ok().map(|(chip, line)| {
            value!({
                "chip": chip.name,
                "label": chip.label,
                "offset": line.offset,
                "held_by_pilotwire": line.is_ours(),
            })
        });
        let fault = finding.as_ref().err().map(|trouble| {
            let fault = trouble.of_wire(wire);
            value!({ "kind": trouble.in_short(), "what": fault.what, "remedy": fault.remedy })
        });
        value!({
            "zone": wire.name,
            "role": wire.role.name(),
            "chip": wire.chip,
            "line": match &wire.line {
                crate::site::Line::Offset(offset) => value!(offset),
                crate::site::Line::Named(name) => value!(name),
            },
            "active_low": wire.active_low,
            "found": found,
            "fault": fault,
        })
    });
    json(&value!({
        "site": report.site,
        "all_well": report.all_well(),
        "lines": lines.collect::<Vec<_>>(),
        "chips": report.board.chips.iter().map(chip_json).collect::<Vec<_>>(),
        "closed": report.board.closed.iter().map(|closed| value!({
            "chip": closed.name, "errno": closed.errno, "group": closed.group,
        })).collect::<Vec<_>>(),
        "hidden": report.board.hidden,
    }))
}

fn chip_json(chip: &Chip) -> Value {
    let lines = chip.lines.iter().map(|line| {
        value!({
            "offset": line.offset,
            "name": (!line.name.is_empty()).then_some(&line.name),
            "direction": if line.output { "output" } else { "input" },
            "active_low": line.active_low,
            "bias": line.bias.map(bias_name),
            "debounce_s": line.debounce_s,
            "used": line.held_by.is_some(),
            "held_by": line.held_by.as_ref().filter(|holder| !holder.is_empty()),
        })
    });
    value!({
        "name": chip.name,
        "aliases": chip.aliases,
        "label": chip.label,
        "lines": lines.collect::<Vec<_>>(),
    })
}

/// What came of driving outputs dark: how many were, and for each zone that was not, why.
pub fn outputs_safe_text(site: &str, outputs: usize, faults: &[(String, LineFault)]) -> String {
    let mut out = String::new();
    let first = if outputs == 0 {
        format!("{site} has no outputs: its file has no [[output]]")
    } else {
        let dark = outputs.saturating_sub(faults.len());
        format!("{dark} of {outputs} outputs of {site} were driven dark")
    };
    wrap(&mut out, "", "  ", &first);
    for (zone, wrong) in faults {
        fault(wrong, &format!("  {zone}  "), &mut out);
    }
    out
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;
    use crate::daemon::lines::Role;
    use crate::daemon::lines::board::Closed;
    use crate::site::{Line, ZoneId};

    const INPUT: Role = Role::Input {
        bias: Bias::PullUp,
        debounce: Duration::from_millis(20),
    };

    fn wire(name: &str, chip: &str, line: Line, role: Role) -> Wire {
        Wire {
            zone: ZoneId(0),
            name: name.into(),
            chip: chip.into(),
            line,
            active_low: role == Role::Output,
            role,
        }
    }

    fn line(offset: u32, name: &str, held_by: Option<&str>) -> LineState {
        LineState {
            offset,
            name: name.into(),
            held_by: held_by.map(Into::into),
            ..LineState::default()
        }
    }

    fn board(lines: Vec<LineState>) -> Board {
        Board {
            chips: vec![Chip {
                name: "gpiochip0".into(),
                label: "soc".into(),
                lines,
                ..Chip::default()
            }],
            ..Board::default()
        }
    }

    fn text(wires: &[Wire], board: &Board) -> String {
        lines_text(&LinesReport {
            site: "Home",
            wires,
            board,
        })
    }

    #[test]
    fn free_lines_are_counted_and_shown_where_they_are() {
        let wires = [
            wire("walk", "soc", Line::Named("relay-1".into()), Role::Output),
            wire("walk", "gpiochip0", Line::Offset(1), INPUT),
        ];
        let mut other = line(2, "", Some("gpio-leds"));
        (other.output, other.active_low) = (true, true);
        let mut sense = line(1, "", None);
        (sense.bias, sense.debounce_s) = (Some(Bias::PullUp), Some(0.02));
        let board = board(vec![line(0, "relay-1", None), sense, other]);
        assert_eq!(
            text(&wires, &board),
            "\
2 of 2 lines of Home are there and free
  walk output  chip soc, line `relay-1`: gpiochip0 line 0 (relay-1), free, lit
    when low
  walk input  chip gpiochip0, line 1: gpiochip0 line 1, free, lit when high

gpiochip0 (soc): 3 lines
    0  relay-1          input, free; output of walk
    1  -                input, pull-up, debounce 20 ms, free; input of walk
    2  -                output, active low, held by gpio-leds
"
        );
    }

    #[test]
    fn what_is_wrong_comes_first_and_each_with_its_remedy() {
        let wires = [
            wire("walk", "soc", Line::Offset(0), Role::Output),
            wire("yard", "soc", Line::Offset(1), Role::Output),
            wire("shed", "gpiochip0", Line::Offset(0), Role::Output),
            wire("gate", "soc", Line::Named("relay-9".into()), INPUT),
        ];
        let board = board(vec![
            line(0, "relay-1", None),
            line(1, "", Some("gpio-leds")),
        ]);
        let report = LinesReport {
            site: "Home",
            wires: &wires,
            board: &board,
        };
        assert!(!report.all_well());
        let text = lines_text(&report);
        let first: Vec<&str> = text.lines().take(2).collect();
        assert_eq!(
            first.join(" ").replace("   ", " "),
            "1 of 4 lines of Home are there and free: output of yard busy, output of shed ambiguous, input of gate missing"
        );
        assert!(
            text.contains("busy, held by gpio-leds\n    → end that program"),
            "{text}"
        );
        assert!(text.contains("write `relay-1`, or the offset"), "{text}");
        assert!(text.contains("same line as that of walk"), "{text}");
        let value: Value = serde_json::from_str(&lines_json(&report)).unwrap();
        assert_eq!(value["all_well"], false);
        assert_eq!(value["lines"][0]["found"]["offset"], 0);
        assert_eq!(value["lines"][1]["fault"]["kind"], "busy");
        assert_eq!(value["lines"][3]["line"], "relay-9");
        assert_eq!(value["chips"][0]["lines"][1]["held_by"], "gpio-leds");
    }

    #[test]
    fn lines_in_the_hands_of_the_service_are_well() {
        let wires = [
            wire("walk", "soc", Line::Offset(0), Role::Output),
            wire("yard", "soc", Line::Offset(1), Role::Output),
        ];
        let ours = Some("pilotwire:walk,yard");
        for (second, answer) in [
            (ours, "2 of 2 lines of Home are there, held by pilotwire\n"),
            (
                None,
                "2 of 2 lines of Home are there, 1 of them held by pilotwire, the others free\n",
            ),
        ] {
            let text = text(&wires, &board(vec![line(0, "", ours), line(1, "", second)]));
            assert!(text.starts_with(answer), "{text}");
        }
    }

    #[test]
    fn a_machine_without_chips_says_so_and_what_to_do() {
        assert_eq!(
            text(&[], &Board::default()),
            "\
Home has no lines: its file has neither [[output]] nor [[input]]

this machine has no GPIO chip; run it on a board with GPIO lines and a kernel
  that has the driver of its chip; anywhere else, `pilotwire run --print` says
  what it would switch
"
        );
    }

    #[test]
    fn chips_that_cannot_be_opened_are_shown_with_a_remedy() {
        let board = Board {
            closed: vec![Closed {
                name: "gpiochip0".into(),
                errno: 13,
                group: Some("gpio".into()),
            }],
            ..Board::default()
        };
        let wires = [wire("walk", "soc", Line::Offset(0), Role::Output)];
        let text = text(&wires, &board);
        assert!(
            text.starts_with("0 of 1 lines of Home are there and free: output of walk forbidden\n"),
            "{text}"
        );
        assert!(
            text.contains("\n/dev/gpiochip0: permission denied (EACCES)\n"),
            "{text}"
        );
    }

    #[test]
    fn outputs_that_are_not_dark_are_told_after_how_many_are() {
        let fault = Trouble::Busy("gpio-leds".into()).of_wire(&wire(
            "yard",
            "soc",
            Line::Offset(1),
            Role::Output,
        ));
        assert_eq!(
            outputs_safe_text("Home", 3, &[("yard".into(), fault)]),
            "\
2 of 3 outputs of Home were driven dark
  yard  chip soc, line 1: busy, held by gpio-leds
    → end that program, or free the line in the board's configuration; or take
    another line
"
        );
    }
}
