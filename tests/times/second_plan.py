#!/usr/bin/env python3
"""A second, plain implementation of the evening rule, compared with what the program plans.

    tests/times/second_plan.py [PROGRAM]

It reads every yard of config/ and tests/times/ itself, works out two years of evenings, and compares every row with
`season --format json`: whether the zone is lit, and when, to the millisecond. The standard library only: time-zone
rules from zoneinfo, the yard from tomllib. Sun times are those of `pilotwire sun --format json`, which are compared
elsewhere with an ephemeris; what each link does, and its delays, are those of `pilotwire check --format json`, where
the yard has temperatures by month those of twelve yards, each with one month's typical temperature for the year's.
Exits with 1 if a row differs.
"""

import json
import re
import subprocess
import sys
import tomllib
from datetime import date, datetime, time, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

ROOT = Path(__file__).resolve().parent.parent.parent
PROGRAM = sys.argv[1] if len(sys.argv) > 1 else str(ROOT / "target/release/pilotwire")
FIRST, LAST = date(2027, 1, 1), date(2028, 12, 31)
DAY = timedelta(days=1)
WEEKDAYS = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
UNITS = {"ms": 0.001, "s": 1, "min": 60, "h": 3600}
DUSKS = ["sunset", "civil_dusk", "nautical_dusk", "astronomical_dusk"]
DAWNS = ["sunrise", "civil_dawn", "nautical_dawn", "astronomical_dawn"]


def program(*arguments, text=None):
    run = subprocess.run([PROGRAM, *map(str, arguments)], input=text, capture_output=True, text=True)
    # 1 is the verdict no-go.
    if run.returncode not in (0, 1) or not run.stdout:
        sys.exit(f"{PROGRAM} {' '.join(map(str, arguments))}: {run.stderr}")
    return json.loads(run.stdout)


def instant(text):
    return None if text is None else datetime.fromisoformat(text)


def span(text):
    number, unit = re.fullmatch(r"([\d.]+) *([a-z]+)", text.strip()).groups()
    return timedelta(seconds=float(number) * UNITS[unit])


def hours_and_minutes(text):
    hour, minute = text.split(":")
    return time(int(hour), int(minute))


class Dark(Exception):
    """The window is not lit."""


class Yard:
    def __init__(self, path):
        self.path = path
        self.file = tomllib.loads(path.read_text())
        self.tz = ZoneInfo(self.file["site"]["timezone"])
        self.zones = {zone["name"]: zone for zone in self.file["zone"]}
        self.links = {link["slave"]: link for link in self.file.get("link", [])}
        self.masters = {slave: link["master"] for slave, link in self.links.items()}
        self.masters |= {name: zone["follows_input"] for name, zone in self.zones.items() if "follows_input" in zone}
        self.boards = {output["zone"] for output in self.file.get("output", [])}
        self.judged = [{link["slave"]: link for link in self.check(month)["links"]} for month in range(12)]
        self.suns = {}

    def check(self, month):
        text, temperature = self.path.read_text(), self.file.get("temperature", {})
        if "monthly" in temperature:
            typical = temperature["monthly"][month][1]
            keys = [f'{key} = "{typical}"\n' for key in ("coldest", "typical", "hottest")]
            keys.append(f'wire = "{temperature["wire"]}"\n')
            text = re.sub(r"(?ms)^\[temperature\].*?(?=^\[)", "[temperature]\n" + "".join(keys), text)
        return program("check", "-", "--date", FIRST, "--format", "json", text=text)

    # The clock.

    def utc(self, day, clock):
        """A time that is skipped is read with the offset before the gap; of one that is repeated, the first counts."""
        return datetime.combine(day, clock, self.tz).replace(fold=0).astimezone(timezone.utc)

    def noon(self, day):
        return self.utc(day, time(12))

    def clock(self, evening, text):
        clock = hours_and_minutes(text)
        return self.utc(evening if clock >= time(12) else evening + DAY, clock)

    # The sun.

    def sun(self, altitude=None):
        """Solar days by date, with their noon."""
        if altitude not in self.suns:
            more = [] if altitude is None else ["--altitude", altitude]
            days = program("sun", self.path, "--from", FIRST - 3 * DAY, "--to", LAST + 4 * DAY, "--format", "json", *more)
            self.suns[altitude] = [(instant(day["solar_noon"]), day["events"]) for day in days["days"]]
        return self.suns[altitude]

    def passage(self, evening, event, altitude=None):
        """`(state, instant)` of an event in the evening after the solar noon nearest to noon, or in the morning after."""
        days = self.sun(altitude)
        noon = self.noon(evening)
        nearest = (evening - (FIRST - 3 * DAY)).days
        near = range(max(nearest - 2, 0), min(nearest + 3, len(days)))
        index = min(near, key=lambda index: abs(days[index][0] - noon))
        if event in DAWNS or event == "altitude_rising":
            index += 1
        found = days[index][1][event]
        return found["state"], instant(found["utc"])

    def moment(self, evening, text, going_off, no_twilight):
        if text[0].isdigit():
            return self.clock(evening, text)
        altitude, event, sign, offset = re.fullmatch(
            r"(?:sun *([-+]? *[\d.]+) *deg|(\w+)) *(?:([-+]) *(.+))?", text.strip()
        ).groups()
        shift = span(offset) * (-1 if sign == "-" else 1) if sign else timedelta()
        if altitude is not None:
            event = "altitude_rising" if going_off else "altitude_setting"
            altitude = float(altitude.replace(" ", ""))
        dawn = event in DAWNS or event == "altitude_rising"

        def dark_all_day():
            return self.noon(evening + DAY) if dawn else self.noon(evening)

        state, at = self.passage(evening, event, altitude)
        if state == "at":
            return at + shift
        if state == "stays below":
            return dark_all_day()
        if no_twilight == "skip":
            raise Dark(f"no {event}")
        if no_twilight != "sunset" and not dawn:
            return self.clock(evening, no_twilight)
        state, at = self.passage(evening, "sunrise" if dawn else "sunset")
        if state == "at":
            return at + shift
        if state == "stays below":
            return dark_all_day()
        raise Dark(f"no {'sunrise' if dawn else 'sunset'}")

    # Windows.

    def exceptions(self, zone, evening):
        """`(dark, {"on": …, "off": …})`; a later [[date]] counts more than an earlier one."""
        dark, moments = False, {}
        for entry in self.file.get("date", []):
            if entry.get("zone", zone) != zone or not entry["from"] <= evening <= entry.get("to", entry["from"]):
                continue
            if entry.get("dark"):
                dark = True
            else:
                dark = False
                moments |= {key: entry[key] for key in ("on", "off") if key in entry}
        return dark, moments

    def window(self, evening, window, changed):
        days = window.get("days", WEEKDAYS)
        if WEEKDAYS[evening.weekday()] not in days and "on" not in changed:
            raise Dark("not on that day")
        no_twilight = window.get("if_no_twilight", "sunset")
        on = self.moment(evening, changed.get("on", window["on"]), False, no_twilight)
        if "on" not in changed:
            if "not_before" in window:
                on = max(on, self.clock(evening, window["not_before"]))
            if "not_after" in window:
                on = min(on, self.clock(evening, window["not_after"]))
        if "off" in changed or "off" in window:
            off = self.moment(evening, changed.get("off", window.get("off")), True, no_twilight)
        else:
            off = min(on + span(window["for"]), self.noon(evening + DAY))
        return on, off

    def timed(self, zone, evening):
        """Rows of (on, off): one without times for every dark window, then the lit stretches."""
        own = self.zones[zone]
        dark_date, moments = self.exceptions(zone, evening)
        if dark_date:
            return [(None, None)]
        inherited = {key: own[key] for key in ("days", "if_no_twilight") if key in own}
        more = [inherited | window for window in self.file.get("window", []) if window["zone"] == zone]
        lit, dark = [], []
        for window, changed in [(own, moments)] + [(window, {}) for window in more]:
            try:
                on, off = self.window(evening, window, changed)
                if "curfew" in own:
                    off = min(off, self.clock(evening, own["curfew"]))
                if on >= off:
                    raise Dark("empty")
                lit.append((on, off))
            except Dark:
                dark.append((None, None))
        merged = []
        for on, off in sorted(lit):
            if merged and on <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(merged[-1][1], off))
            else:
                merged.append((on, off))
        return dark + merged

    # Slaves.

    def rows(self, zone, evening):
        """Rows of (on, off, follows), dark ones first; an `off` of `None` is never."""
        if zone not in self.masters:
            return [(on, off, None) for on, off in self.timed(zone, evening)]
        supply = next(it for it in self.file["supply"] if it["name"] == self.zones[zone]["supply"])
        is_pc = supply["kind"] == "desktop-pc"
        hold_up = span(supply.get("hold_up_time", "16 ms" if is_pc else "0 ms"))
        if zone in self.links:
            link = self.judged[evening.month - 1][zone]
            if link["outcome"] == "stays dark":
                return [(None, None, False)]
            if link["outcome"] == "stays lit":
                return [(self.noon(evening), None, False)]
            on_delay = timedelta(seconds=link["on_delay_s"])
            off_delay = timedelta(seconds=link["release_s"]["typical"]) + hold_up
        else:
            # The board waits its delays, and then the supply takes its time.
            keys = self.zones[zone]
            rise = span(supply.get("rise_time", "20 ms" if is_pc else "0 ms"))
            on_delay = span(keys.get("on_delay", "1 s")) + span(supply["start_time"]) + rise
            off_delay = span(keys.get("off_delay", "1 s")) + hold_up
        masters = self.rows(self.masters[zone], evening)
        missed, lit = [], []
        for on, off, follows in masters:
            if on is None:
                continue
            if off is not None and off <= on + on_delay:
                missed.append((None, None, False))
                continue
            on, off = on + on_delay, None if off is None else off + off_delay
            if "curfew" in self.zones[zone] and zone in self.boards:
                curfew = self.clock(evening, self.zones[zone]["curfew"])
                if on >= curfew:
                    continue
                off = curfew if off is None else min(off, curfew)
            lit.append((on, off, follows is not False))
        if missed or lit:
            return missed + lit
        return [(None, None, all(follows is not False for on, _, follows in masters if on is None))]

    def depth(self, zone):
        return 1 + self.depth(self.masters[zone]) if zone in self.masters else 0


def same(ours, theirs, tolerance):
    if ours is None or theirs is None:
        return ours is theirs
    return abs(ours - theirs) <= tolerance


def compare(path):
    """How many rows were compared, how many of them lit, and what differs."""
    yard = Yard(path)
    season = program("season", path, "--from", FIRST, "--to", LAST, "--format", "json")
    rows = {}
    for row in season["evenings"]:
        rows.setdefault((row["date"], row["zone"]), []).append(row)
    wrong, lit_rows, evening = [], 0, FIRST
    lit_hours = dict.fromkeys(yard.zones, 0.0)
    lit_until = {}
    while evening <= LAST:
        for zone in yard.zones:
            ours = yard.rows(zone, evening)
            theirs = rows.pop((str(evening), zone), [])
            # JSON cuts the microseconds off, and so may each delay on the way.
            tolerance = timedelta(microseconds=1000 * yard.depth(zone) + 1)
            equal = len(ours) == len(theirs) and all(
                same(on, instant(row["on"]), tolerance)
                and same(off, instant(row["off"]), tolerance)
                and follows == row["follows"]
                for (on, off, follows), row in zip(ours, theirs)
            )
            if not equal:
                wrong.append(f"{evening} {zone}: {ours}; program: {theirs}")
            lit = [(on, off or yard.noon(evening + DAY)) for on, off, _ in ours if on is not None]
            lit_rows += len(lit)
            for on, off in lit:
                # A light that reaches into the next evening's counts once.
                on = max(on, lit_until.get(zone, on))
                lit_hours[zone] += max((off - on).total_seconds(), 0) / 3600
                lit_until[zone] = max(on, off)
        evening += DAY
    wrong += [f"a row too many: {key}" for key in rows]
    for zone in season["zones"]:
        if abs(zone["hours_lit"] - lit_hours[zone["zone"]]) > 0.001:
            wrong.append(f"{zone['zone']}: {lit_hours[zone['zone']]} h, program: {zone['hours_lit']} h")
    return len(season["evenings"]), lit_rows, wrong


def main():
    paths = sorted((ROOT / "config").glob("*.toml")) + sorted((ROOT / "tests/times").glob("*.toml"))
    differences = 0
    for path in paths:
        rows, lit, wrong = compare(path)
        differences += len(wrong)
        print(f"{path.relative_to(ROOT)}: {rows} rows, {lit} of them lit, {FIRST} to {LAST}: {len(wrong)} differ")
        for line in wrong[:10]:
            print(f"  {line}")
    print(f"{len(paths)} yards, {differences} differences")
    sys.exit(1 if differences else 0)


if __name__ == "__main__":
    main()
