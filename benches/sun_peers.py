#!/usr/bin/env python3
"""Time per sun event of this crate against astral and pvlib, for the same days, in one run.

    python3 benches/sun_peers.py

Runs `cargo bench --bench almanac` and the two libraries in turn, several times, and takes the shortest of each. Packages
that are not installed go into a temporary directory for the run (`pip install --target`).

Each library is asked the way that suits it best: astral by one call per event, which is all it has; pvlib by one
vectorised numpy call per site, of which it gives sunrise, sunset and transit: for the same year of days, and for twenty
years of them, beyond which it gets no faster.
"""
import datetime as dt
import importlib.util
import re
import subprocess
import sys
import tempfile
import time

REPETITIONS = 5
SITES = [(-65 + i * 37 % 131, -180 + i * 97 % 360) for i in range(40)]
START, DAYS = dt.date(2026, 1, 1), 365


def astral_seconds_per_event():
    from astral import Observer
    from astral.sun import dawn, dusk, sunrise, sunset

    calls = [(sunrise, {}), (sunset, {})]
    calls += [(f, {"depression": angle}) for angle in (6, 12, 18) for f in (dawn, dusk)]
    asked = 0
    start = time.perf_counter()
    for lat, lon in SITES[::10]:
        observer = Observer(lat, lon, 0)
        zone = dt.timezone(dt.timedelta(hours=round(lon / 15)))
        for day in range(DAYS):
            date = START + dt.timedelta(days=day)
            for call, options in calls:
                asked += 1
                try:
                    call(observer, date=date, tzinfo=zone, **options)
                except ValueError:
                    pass  # does not happen on this date
    return (time.perf_counter() - start) / asked


def pvlib_seconds_per_event(years, sites):
    import pandas
    from pvlib.solarposition import sun_rise_set_transit_spa

    days = pandas.date_range(START.isoformat(), periods=DAYS * years, freq="D", tz="UTC")
    start = time.perf_counter()
    for lat, lon in sites:
        sun_rise_set_transit_spa(days, lat, lon, how="numpy")
    return (time.perf_counter() - start) / (len(sites) * len(days) * 3)


def own_seconds_per_event():
    run = subprocess.run(["cargo", "bench", "--quiet", "--bench", "almanac"], check=True, capture_output=True, text=True)
    figure = lambda name: float(re.search(rf"^{name} +([\d.]+) ns", run.stdout, re.M)[1]) * 1e-9
    return {"shared": figure("shared"), "alone": figure("alone"), "sunrise crate": figure("sunrise")}


def main():
    with tempfile.TemporaryDirectory() as packages:
        missing = [name for name in ("astral", "pvlib") if importlib.util.find_spec(name) is None]
        if missing:
            subprocess.run([sys.executable, "-m", "pip", "install", "--quiet", "--target", packages, *missing], check=True)
            sys.path.insert(0, packages)
            importlib.invalidate_caches()
        shortest = {}
        for _ in range(REPETITIONS):
            figures = own_seconds_per_event()
            figures["astral"] = astral_seconds_per_event()
            figures["pvlib"] = pvlib_seconds_per_event(1, SITES[::4])
            figures["pvlib, 20 years"] = pvlib_seconds_per_event(20, SITES[::20])
            for name, seconds in figures.items():
                shortest[name] = min(seconds, shortest.get(name, seconds))
        for name, seconds in shortest.items():
            print(f"{name:16} {seconds * 1e9:10.1f} ns/event")
        for own, target in (("alone", 20), ("shared", 50)):
            for peer in ("astral", "pvlib", "pvlib, 20 years"):
                ratio = shortest[peer] / shortest[own]
                print(f"{peer} takes {ratio:.0f} times as long as {own} (wanted: at least {target})")
    return 0


if __name__ == "__main__":
    sys.exit(main())
