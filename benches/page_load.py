#!/usr/bin/env python3
"""What viewers and a flood of requests do to the switching times and to the memory of the service.

    cargo build --release --bins --examples && benches/page_load.py [--edges 12]

One service, printing what it would switch, with a page and a zone that goes on or off every second. Half of the
edges come while nothing else happens, half while eight browsers listen for news and `wrk` asks for the page as
fast as it is served. A program that has nothing but a timer (`bare_timer`) runs beside it all the time: what the
machine does to that one is no fault of the service.

How late an edge is: from its time by `pilotwire plan` (the millisecond that it begins in) to the instant that the control thread
has recorded for it, and to the moment at which this program reads the printed line from a pipe, its own waiting
included. Wants wrk (Debian's).
"""

import argparse
import datetime
import json
import multiprocessing
import os
import re
import selectors
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request

HERE = os.path.dirname(os.path.abspath(__file__))
BUILT = os.path.join(HERE, "..", "target", "release")
VIEWERS = 8
LEAD_S = 8  # until the first edge
CALM_S = 4  # between the phases
MOST_MEMORY = 10.0  # MB
MOST_MORE_MS = 5.0  # the median under load over that of idle

# Clocks without summer time, by how many hours they are ahead, from -11 on.
PLACES = """Pacific/Pago_Pago Pacific/Honolulu Pacific/Gambier Pacific/Pitcairn America/Phoenix America/Costa_Rica
America/Bogota America/La_Paz America/Argentina/Buenos_Aires Atlantic/South_Georgia Atlantic/Cape_Verde
Atlantic/Reykjavik Africa/Lagos Africa/Maputo Africa/Nairobi Asia/Dubai Asia/Karachi Asia/Dhaka Asia/Bangkok
Asia/Singapore Asia/Tokyo Australia/Brisbane Pacific/Guadalcanal Pacific/Tarawa""".split()


def instant(text):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()


def says(program, *words):
    return json.loads(subprocess.run([program, *words, "--format", "json"], check=True, capture_output=True, text=True).stdout)


def site_file(program, folder, port, edges):
    """A yard on the equator where the sun is setting, whose zones go on and off second by second."""
    now = time.time()
    hour = now % 86400 / 3600
    longitude = ((18 - hour) * 15 + 180) % 360 - 180
    timezone = PLACES[(18 - int(hour) + 11) % 24]
    yesterday = datetime.datetime.fromtimestamp(now - 86400, datetime.timezone.utc).date().isoformat()
    days = says(program, "sun", "--latitude", "0", f"--longitude={longitude}", "--from", yesterday, "--days", "3")["days"]
    sunset = min((instant(day["events"]["sunset"]["utc"]) for day in days), key=lambda at: abs(at - now))
    text = f'[site]\nname = "Fern Lea"\nlatitude = 0.0\nlongitude = {longitude}\ntimezone = "{timezone}"\nregion = "iec"\nmains = "230 V"\n'
    text += '[temperature]\ncoldest = "2 C"\ntypical = "14 C"\nhottest = "32 C"\n'
    for index in range(edges):
        # Two edges each, a second apart; the second half after a pause, for the load to begin.
        at = LEAD_S + 2 * index + (CALM_S if index >= edges // 2 else 0)
        text += (f'[[supply]]\nname = "s{index}"\nkind = "dc"\nvoltage = "12 V"\nmax_current = "5 A"\n'
                 f'[[zone]]\nname = "zone-{index}"\nsupply = "s{index}"\non = "sunset {round(now - sunset) + at:+d} s"\nfor = "1 s"\n'
                 'minimum_lit = "0 s"\nminimum_dark = "0 s"\n'.replace('"sunset -', '"sunset - ').replace('"sunset +', '"sunset + ')
                 + f'[[lamp]]\nzone = "zone-{index}"\ncount = 1\npower = "4 W"\naccepts = ["dc"]\n'
                 f'[[output]]\nzone = "zone-{index}"\nchip = "gpiochip0"\nline = {index}\n')
    text += f'[daemon]\nlisten = "127.0.0.1:{port}"\nclock_proof = "/dev/null"\nstagger = "0 s"\n'
    path = os.path.join(folder, "site.toml")
    with open(path, "w", encoding="utf-8") as file:
        file.write(text)
    evening = datetime.datetime.fromtimestamp(sunset, datetime.timezone.utc).date()
    due = {}
    for date in (evening - datetime.timedelta(1), evening, evening + datetime.timedelta(1)):
        for row in says(program, "plan", path, "--date", date.isoformat())["evenings"]:
            for what in ("on", "off"):
                if abs(instant(row[what]) - now) < 3600:
                    due[row["zone"], what] = instant(row[what])
    return path, due


def free_port():
    with socket.create_server(("127.0.0.1", 0)) as server:
        return server.getsockname()[1]


def memory_mb(pid):
    for line in open(f"/proc/{pid}/smaps_rollup"):
        if line.startswith("Rss:"):
            return int(line.split()[1]) / 1024
    return 0.0


def view(port, seated):
    """Opens so many event streams, as browsers do, and reads them until the process is terminated."""
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    selector = selectors.DefaultSelector()
    for _ in range(VIEWERS):
        stream = socket.create_connection(("127.0.0.1", port))
        stream.sendall(f"GET /events HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
        if not stream.recv(65536).startswith(b"HTTP/1.1 200"):
            sys.exit("a viewer was not let in")
        selector.register(stream, selectors.EVENT_READ)
    seated.set()
    while True:
        for key, _ in selector.select():
            if not key.fileobj.recv(1 << 20):
                sys.exit("a viewer was let go")


def times(pipe, into):
    """Reads lines as they come, with the time of each."""
    for line in pipe:
        into.append((time.time(), line.strip()))


def recorded(port):
    """The instants that the page shows of every switching, by zone and what it did."""
    page = urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=30).read().decode()
    found = re.findall(r'<time datetime="([^"]+)">[^<]*</time> <b>([^<]+)</b> (on|off)<', page)
    return {(zone, what): datetime.datetime.fromisoformat(at[:26] + "+00:00").timestamp() for at, zone, what in found}


def row(name, values):
    values = sorted(values)
    print(f"{name:<42} {values[0]:8.2f} {statistics.median(values):8.2f} {values[-1]:8.2f} {len(values):6}")
    return statistics.median(values)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--edges", type=int, default=12, help="in each of the two phases; 14 at most, for the page shows thirty events")
    parser.add_argument("--every", action="store_true", help="print every edge of the service, in order")
    parser.add_argument("--connections", type=int, default=14)
    parser.add_argument("--program", default=os.path.join(BUILT, "pilotwire"))
    options = parser.parse_args()
    if not shutil.which("wrk"):
        sys.exit("wrk is missing: apt-get install wrk")
    signal.signal(signal.SIGTERM, lambda *_: sys.exit("told to end"))
    folder = tempfile.mkdtemp()
    running = []
    try:
        port = free_port()
        edges = options.edges // 2 * 2
        path, due = site_file(options.program, folder, port, edges)
        if len(due) != 2 * edges:
            sys.exit(f"{len(due)} edges planned, not {2 * edges}")
        log = open(os.path.join(folder, "log"), "w+", encoding="utf-8")
        service = subprocess.Popen([options.program, "run", "--print", "--page", path], stdin=subprocess.DEVNULL,
                                   stdout=subprocess.PIPE, stderr=log, text=True, bufsize=1)
        running.append(service)
        printed = []
        threading.Thread(target=times, args=(service.stdout, printed), daemon=True).start()
        halves = [sorted(due, key=due.get)[:edges], sorted(due, key=due.get)[edges:]]
        late, seen, bare, said = [], [], [], {}
        memory, most = 0.0, 0.0
        for phase, half in enumerate(halves):
            begins, ends = due[half[0]], due[half[-1]]
            if begins - time.time() < 1:
                sys.exit("the machine was too slow to begin in time")
            if phase == 1:
                seated = multiprocessing.Event()
                viewers = multiprocessing.Process(target=view, args=(port, seated), daemon=True)
                viewers.start()
                if not seated.wait(30):
                    sys.exit("the viewers find no seats")
                time.sleep(1)
                memory = memory_mb(service.pid)
                seconds = int(ends - time.time()) + 2
                wrk = subprocess.Popen(["wrk", "-t2", f"-c{options.connections}", f"-d{seconds}s", f"http://127.0.0.1:{port}/"],
                                       stdout=subprocess.PIPE, text=True)
                running.append(wrk)
            time.sleep(max(0, begins - 2.5 - time.time()))
            peer = subprocess.Popen([os.path.join(BUILT, "examples", "bare_timer"), "-", str(edges)], stdout=subprocess.PIPE, text=True)
            running.append(peer)
            while time.time() < ends + 0.7:
                time.sleep(0.5)
                most = max(most, memory_mb(service.pid))
            bare.append([int(line) / 1000 for line in peer.communicate(timeout=30)[0].split()])
            if phase == 0:
                alone = memory_mb(service.pid)
            else:
                said = wrk.communicate(timeout=60)[0]
                most = max(most, memory_mb(service.pid))
                if not viewers.is_alive():
                    sys.exit("a viewer was let go")
                viewers.terminate()
            at = recorded(port)
            missing = [key for key in half if key not in at]
            if missing or service.poll() is not None:
                log.seek(0)
                sys.exit(f"{missing} did not happen:\n{log.read()}")
            late.append([1000 * (at[key] - due[key]) for key in half])
            read = {(words[3], words[4]): when for when, line in printed if len(words := line.split()) > 4}
            seen.append([1000 * (read[key] - due[key]) for key in half])
    finally:
        for process in running:
            process.kill()
            process.wait()
        shutil.rmtree(folder)

    if options.every:
        for name, values in (("idle", late[0]), ("load", late[1])):
            print(name, *(f"{value:.2f}" for value in values))
    print("how late, in ms                                 least   median     most  edges")
    idle = row("service, idle: recorded", late[0])
    row("service, idle: printed and read", seen[0])
    row("bare timer, idle", bare[0])
    loaded = row(f"service, {VIEWERS} viewers and wrk: recorded", late[1])
    row(f"service, {VIEWERS} viewers and wrk: printed and read", seen[1])
    peer = row("bare timer, the same load", bare[1])
    rate = re.search(r"Requests/sec:\s+(\S+)", said)
    print(f"wrk: {rate.group(1)} requests a second; {VIEWERS} of its {options.connections} connections find a seat")
    print(f"memory: alone {alone:.1f} MB, with {VIEWERS} viewers {memory:.1f} MB, at most under load {most:.1f} MB")
    # On a busy machine everybody is late; the service must not be later than that.
    allowed = max(idle + MOST_MORE_MS, 2 * peer + 1)
    if loaded > allowed:
        sys.exit(f"the median under load is {loaded:.2f} ms, more than {allowed:.2f} ms")
    if float(rate.group(1)) < 1:
        sys.exit("there was no load")
    if memory > MOST_MEMORY:
        sys.exit(f"more than {MOST_MEMORY:g} MB with {VIEWERS} viewers")


if __name__ == "__main__":
    main()
