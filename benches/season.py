#!/usr/bin/env python3
"""What a year's season costs, as a whole process.

1. `pilotwire season` of a four-zone chain beside `python3 -c pass`, in turn, in one run: the median
   of each and of the pairwise ratio.
2. How the work grows with nights and with zones, in instructions (valgrind's callgrind), because
   wall time is noise on a shared machine.

    cargo build --release && python3 benches/season.py
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time

PROGRAM = os.path.join(os.path.dirname(__file__), "..", "target", "release", "pilotwire")
PAIRS = 60

HEAD = """
[site]
latitude = 47.1
longitude = 8.2
timezone = "Europe/Zurich"

[[relay]]
name = "r"
coil_resistance = "720 ohm"
operate_voltage = "8.4 V"
"""

SUPPLY = """
[[supply]]
name = "s{0}"
kind = "dc"

[[zone]]
name = "z{0}"
supply = "s{0}"
"""

LINK = """
[[link]]
master = "z{0}"
slave = "z{1}"
wire = "1.0 mm2"
length = "40 m"
relay = "r"
"""


def chain(zones):
    """A site file: one timed zone, the others each following the one before."""
    text = HEAD
    for zone in range(zones):
        text += SUPPLY.format(zone)
        text += 'on = "civil_dusk"\noff = "23:00"\n' if zone == 0 else LINK.format(zone - 1, zone)
    return text


def seconds(command):
    start = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def instructions(site, to):
    command = ["valgrind", "--tool=callgrind", "--callgrind-out-file=/dev/null", PROGRAM]
    command += ["season", site, "--from", "2027-01-01", "--to", to]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    line = next(line for line in run.stderr.splitlines() if "Collected" in line)
    return int(line.split(":")[1])


def whole_process(site):
    python = [sys.executable, "-c", "pass"]
    ours = [PROGRAM, "season", site, "--from", "2027-01-01", "--to", "2027-12-31"]
    for command in (python, ours):
        seconds(command)
    pairs = [(seconds(ours), seconds(python)) for _ in range(PAIRS)]
    mine = statistics.median(pair[0] for pair in pairs)
    peer = statistics.median(pair[1] for pair in pairs)
    ratio = statistics.median(pair[1] / pair[0] for pair in pairs)
    print(f"whole process, {PAIRS} pairs, four-zone chain, 365 nights")
    print(f"  pilotwire season   {mine * 1e3:8.2f} ms")
    print(f"  python3 -c pass    {peer * 1e3:8.2f} ms")
    print(f"  python3 over ours  {ratio:8.1f}   (wanted: at least 10)")


def growth(folder):
    def site(zones):
        path = os.path.join(folder, f"chain-{zones}.toml")
        with open(path, "w", encoding="utf-8") as file:
            file.write(chain(zones))
        return path

    ends = {92: "2027-04-02", 365: "2027-12-31", 730: "2028-12-30", 1460: "2030-12-30"}
    print("\ninstructions, four zones, by nights")
    table([(nights, instructions(site(4), to)) for nights, to in ends.items()])
    print("\ninstructions, 365 nights, by zones")
    table([(zones, instructions(site(zones), ends[365])) for zones in (1, 4, 16, 64)])


def table(rows):
    """Count, cost, and the cost of each one more since the row before: level if growth is linear."""
    before = None
    for count, cost in rows:
        more = "" if before is None else f"{(cost - before[1]) / (count - before[0]):12.0f} each"
        print(f"  {count:6}  {cost:12}{more}")
        before = (count, cost)


def main():
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "four.toml")
        with open(path, "w", encoding="utf-8") as file:
            file.write(chain(4))
        whole_process(path)
        growth(folder)


if __name__ == "__main__":
    main()
