#!/usr/bin/env python3
"""Writes the tables of docs/measurements.md that set the simulation beside ngspice: accuracy case by case,
and speed in one run.

    cargo build --release && python3 benches/spice_tables.py [--seed N] [--count N] [--program PATH]

Accuracy is against the stored results of twenty links (tests/data/link-cases.json, ngspice 39, 10 us
steps); speed is against the ngspice of this machine, run now.
"""

import argparse
import json
import os

from spice_live import PROGRAM
from spice_speed import RELTOL, compare, drawn, run

HERE = os.path.dirname(os.path.abspath(__file__))
DOCUMENT = os.path.join(HERE, "..", "docs", "measurements.md")
CASES = os.path.join(HERE, "..", "tests", "data", "link-cases.json")
BEGIN, END = "<!-- beside ngspice: begin -->\n", "<!-- beside ngspice: end -->\n"
REPEATS = 50


def outcome(at):
    if at["chatter"]:
        return "chatters"
    if at["t_pull_in_s"] is None:
        return "stays out"
    return "held in" if at["closed_at_end"] else "in and out"


def accuracy(program):
    entries = json.load(open(CASES))["cases"]
    lines = "".join(json.dumps(entry["case"]) + "\n" for entry in entries)
    answers = [json.loads(line) for line in run(program, lines * REPEATS).splitlines()]
    rows = []
    for n, entry in enumerate(entries):
        ours, theirs = answers[n], entry["reference"]
        spent = min(a["t_simulate_s"] for a in answers[n :: len(entries)])
        mean = theirs["v_dc_mean"]
        milli = lambda key: "" if theirs[key] is None or theirs["chatter"] else f"{(ours[key] - theirs[key]) * 1e3:+.3f}"
        rows.append([
            entry["case"]["id"],
            outcome(ours) + ("" if outcome(ours) == outcome(theirs) else f" (ngspice: {outcome(theirs)})"),
            f"{mean:.3f}",
            f"{(ours['v_dc_mean'] / mean - 1) * 100:+.4f}",
            f"{(ours['v_dc_trough'] - theirs['v_dc_trough']) / mean * 100:+.3f}",
            f"{(ours['i_diode_peak_ss'] / theirs['i_diode_peak_ss'] - 1) * 100:+.3f}",
            milli("t_pull_in_s"),
            milli("t_drop_out_s"),
            f"{spent * 1e6:.0f}",
        ])
    heading = ["link", "outcome", "mean V", "mean %", "trough % of V", "diode peak %", "pull-in ms", "drop-out ms", "µs"]
    return table(heading, rows)


def speed(options):
    references = [entry["case"] for entry in json.load(open(CASES))["cases"]]
    text = ""
    for name, cases in [
        ("The twenty reference links", references),
        (f"{options.count} random links of every family, seed {options.seed}", drawn(options.seed, options.count)),
    ]:
        found = compare(cases, options.program)
        rival, ours = found["rival"], found["ours_s"]
        rows = [
            [s["method"], f"{s['step_s'] * 1e3:g}", f"{s['right']} of {found['links']}", str(s["gave_up"]), f"{s['own_s'] * 1e3:.1f}", f"{s['whole_s'] * 1e3:.1f}", f"{s['own_s'] / ours:,.0f}"]
            for s in found["settings"]
        ]
        heading = ["ngspice method", "greatest step ms", "right", "gave up", "own ms", "whole process ms", "times ours"]
        text += (
            f"{name}, one run, one thread: ours {ours * 1e6:.0f} µs a link, without a setting.\n"
            f"The fastest setting of ngspice that no other beats in being right (mean within 1 %, times within\n"
            f"1 ms of its own run at 10 µs) is {rival['method']} at {rival['step_s'] * 1e3:g} ms, RELTOL {RELTOL:g}: "
            f"{rival['own_s'] * 1e3:.1f} ms of its own time, **{rival['own_s'] / ours:,.0f} times ours**\n"
            f"({rival['whole_s'] / ours:,.0f} times with its process).\n\n" + table(heading, rows) + "\n"
        )
    return text


def table(heading, rows):
    lines = ["| " + " | ".join(heading) + " |", "|" + "---|" * len(heading)]
    lines += ["| " + " | ".join(row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=14)
    parser.add_argument("--program", default=PROGRAM)
    options = parser.parse_args()
    text = accuracy(options.program) + "\n" + speed(options)
    document = open(DOCUMENT, encoding="utf-8").read()
    before, rest = document.split(BEGIN)
    _, after = rest.split(END)
    open(DOCUMENT, "w", encoding="utf-8").write(before + BEGIN + text + END + after)
    print(text, end="")


if __name__ == "__main__":
    main()
