#!/usr/bin/env python3
"""What the service costs while nothing happens, beside cron and chronyd in the same run.

    cargo build --release && benches/idle.py [--minutes 5] [SITE]

Starts all three at once, lets them settle, and reads from /proc how often their threads were woken and how much
memory is theirs. Without a GPIO chip the service runs as `run --print`, with an output, its store and its socket,
and works its link out first. cron and chronyd
are Debian's, fetched by name and unpacked, not installed. Wants root: both peers do.

A wake-up is a voluntary context switch: a thread that goes back to sleep has been woken before. Involuntary ones
say how busy the machine is. A program of several threads is the sum of them.
"""

import argparse
import glob
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time

HERE = os.path.dirname(os.path.abspath(__file__))
PROGRAM = os.path.join(HERE, "..", "target", "release", "pilotwire")
SITE = os.path.join(HERE, "..", "config", "linked-pair.toml")
CACHE = os.environ.get("BOARD_DIR") or os.path.join(
    os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache"), "pilotwire-board")
PACKAGES = {"cron": "usr/sbin/cron", "chrony": "usr/sbin/chronyd"}
SETTLE_S = 10
MOST_WAKES = 2.0  # a minute
MOST_MEMORY = 8.0  # MB

# Folders that the peers write to, private to them, so that a cron or chronyd of the machine's own is left alone.
ALONE = ("mount -t tmpfs t /run && mount -t tmpfs t /var/spool && mkdir -p /var/spool/cron/crontabs /run/chrony"
         ' && exec "$@"')


def peer(package):
    """Path of a peer's program."""
    folder = os.path.join(CACHE, "peers")
    path = os.path.join(folder, PACKAGES[package])
    if not os.path.exists(path):
        os.makedirs(folder, exist_ok=True)
        subprocess.run(["apt-get", "-q", "-o", "APT::Sandbox::User=root", "download", package],
                       cwd=folder, check=True, stdout=subprocess.DEVNULL)
        newest = max(glob.glob(os.path.join(folder, package + "_*.deb")), key=os.path.getmtime)
        subprocess.run(["dpkg-deb", "-x", newest, folder], check=True)
    missing = subprocess.run(["ldd", path], capture_output=True, text=True).stdout
    if "not found" in missing:
        sys.exit(f"{package} lacks a library:\n{missing}")
    return path


def switches(pid):
    """Voluntary and involuntary context switches of all threads, and how many threads there are."""
    voluntary = involuntary = threads = 0
    for status in glob.glob(f"/proc/{pid}/task/*/status"):
        fields = dict(line.split(":", 1) for line in open(status) if ":" in line)
        voluntary += int(fields["voluntary_ctxt_switches"])
        involuntary += int(fields["nonvoluntary_ctxt_switches"])
        threads += 1
    return voluntary, involuntary, threads


def memory_mb(pid):
    """Resident memory, and the part of it that no file stands behind [MB]."""
    fields = {}
    for line in open(f"/proc/{pid}/smaps_rollup"):
        words = line.split()
        if words[0].endswith(":"):
            fields[words[0][:-1]] = words[1]
    return int(fields["Rss"]) / 1024, int(fields["Anonymous"]) / 1024


def site_with_lines(site, folder):
    """The site file, and an output on lines of a chip, which `--print` stands in for."""
    text = open(site, encoding="utf-8").read()
    path = os.path.join(folder, "site.toml")
    with open(path, "w", encoding="utf-8") as file:
        file.write(text + '\n[[output]]\nzone = "walk"\nchip = "gpiochip0"\nline = 17\n')
    return path


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("site", nargs="?", default=SITE)
    parser.add_argument("--minutes", type=float, default=5)
    parser.add_argument("--program", default=PROGRAM)
    options = parser.parse_args()
    if os.geteuid() != 0:
        sys.exit("cron and chronyd want root")
    # Told to end: what was started ends too.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit("told to end"))
    folder = tempfile.mkdtemp()
    chrony_conf = os.path.join(folder, "chrony.conf")
    with open(chrony_conf, "w", encoding="utf-8") as file:
        file.write("# no source: it has nothing to ask\n")
    alone = ["unshare", "--mount", "sh", "-c", ALONE, "sh"]
    commands = {
        "pilotwire": [options.program, "run", "--print", "--state-dir", f"{folder}/state", "--socket", f"{folder}/control.sock",
                      site_with_lines(options.site, folder)],
        "cron": alone + [peer("cron"), "-f"],
        "chronyd": alone + [peer("chrony"), "-d", "-x", "-u", "root", "-f", chrony_conf],
    }
    os.mkdir(os.path.join(folder, "state"))
    said = {name: open(os.path.join(folder, name + ".log"), "w+") for name in commands}
    running = {name: subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=said[name], stderr=subprocess.STDOUT)
               for name, command in commands.items()}
    try:
        time.sleep(SETTLE_S)
        before = {name: switches(process.pid) for name, process in running.items()}
        time.sleep(60 * options.minutes)
        after = {name: switches(process.pid) for name, process in running.items()}
        status = subprocess.run([options.program, "status", "--socket", f"{folder}/control.sock"], capture_output=True, text=True)
        status = status.stdout.splitlines()[0] if status.stdout else "no status"
        for name, process in running.items():
            if process.poll() is not None:
                said[name].seek(0)
                sys.exit(f"{name} has ended ({process.returncode}):\n{said[name].read()}")
        memory = {name: memory_mb(process.pid) for name, process in running.items()}
    finally:
        for process in running.values():
            process.kill()
            process.wait()
        shutil.rmtree(folder)

    print(f"{options.minutes:g} minutes, nothing due; {status}")
    print("           wake-ups/min  involuntary/min  threads  memory MB  of it own MB")
    for name in running:
        wakes, forced = ((after[name][i] - before[name][i]) / options.minutes for i in (0, 1))
        print(f"{name:<10} {wakes:12.2f} {forced:16.2f} {after[name][2]:8} {memory[name][0]:10.1f} {memory[name][1]:13.1f}")
    wakes = (after["pilotwire"][0] - before["pilotwire"][0]) / options.minutes
    if wakes > MOST_WAKES or memory["pilotwire"][0] > MOST_MEMORY:
        sys.exit(f"more than {MOST_WAKES:g} wake-ups a minute or {MOST_MEMORY:g} MB")


if __name__ == "__main__":
    main()
