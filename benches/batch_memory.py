#!/usr/bin/env python3
"""Whether `link --batch` takes the same memory for four times the input, order and count kept.

    cargo build --release && python3 benches/batch_memory.py [--program PATH]

Prints the greatest resident memory of both runs; fails if the longer one takes a quarter more.
"""

import argparse
import json
import os
import subprocess
import sys
import threading

HERE = os.path.dirname(os.path.abspath(__file__))
PROGRAM = os.path.join(HERE, "..", "target", "release", "pilotwire")
CASES = os.path.join(HERE, "..", "tests", "data", "link-cases.json")


def run(program, cases, count):
    """Greatest resident memory [kB], read from the kernel while the process still stands."""
    process = subprocess.Popen([program, "link", "--batch"], stdin=subprocess.PIPE, stdout=subprocess.PIPE)

    def feed():
        for n in range(count):
            case = dict(cases[n % len(cases)], id=n)
            process.stdin.write(json.dumps(case).encode() + b"\n")
        process.stdin.flush()

    feeder = threading.Thread(target=feed)
    feeder.start()
    for n in range(count):
        answer = json.loads(process.stdout.readline())
        assert answer["id"] == n and "error" not in answer, answer
    feeder.join()
    status = open(f"/proc/{process.pid}/status").read()
    most = next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM"))
    process.stdin.close()
    assert process.wait() == 0
    return most


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", default=PROGRAM)
    options = parser.parse_args()
    cases = [entry["case"] for entry in json.load(open(CASES))["cases"]]
    cases = [case for case in cases if case.get("cap")]
    short, long = (run(options.program, cases, count) for count in (5_000, 20_000))
    print(f"link --batch: 5,000 links {short} kB, 20,000 links {long} kB")
    if long > 1.25 * short:
        sys.exit("memory grows with the input")


if __name__ == "__main__":
    main()
