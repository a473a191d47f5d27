#!/usr/bin/env python3
"""Makes sun-1950-2050.csv (JPL DE421 through skyfield) and sun-2051-2100.csv (NREL SPA as coded in pvlib).

    pip install skyfield==1.55 skyfield-data==7.0.0 pvlib==0.16.1
    python3 tests/data/make_sun_rows.py            # about five minutes; needs no network

Definition of an event: the topocentric altitude of the sun's centre, no refraction, WGS 84, height 0 m, passes -50',
-6, -12 or -18 degrees. Local solar date D at longitude L: the day whose altitude maximum is the one nearest to
D 12:00 UTC - L/15 h. Morning: from the altitude minimum before it to the maximum; evening: from it to the next minimum.

Columns as in sun.csv: slope_arcsec_per_s is the rate of climb at the event, margin_deg the distance of the threshold from
the nearer of the half's two altitude extremes. An empty utc means that the event does not happen. Before 1972 and from
2028 on the utc column holds UT1: there is no UTC as we know it before, and no leap second is announced after.
"""
import csv
import datetime as dt
import pathlib
import random

import numpy as np
from pvlib import spa
from skyfield.api import Loader, wgs84
from skyfield_data import get_skyfield_data_path

HERE = pathlib.Path(__file__).parent
EVENTS = {
    "sunrise": (-50 / 60, -1), "sunset": (-50 / 60, 1), "civil_dawn": (-6, -1), "civil_dusk": (-6, 1),
    "nautical_dawn": (-12, -1), "nautical_dusk": (-12, 1), "astronomical_dawn": (-18, -1), "astronomical_dusk": (-18, 1),
}
loader = Loader(get_skyfield_data_path())
ts = loader.timescale(builtin=True)
kernel = loader("de421.bsp")
earth, sun = kernel["earth"], kernel["sun"]
A, E2, AU_KM = 6378.137, 0.00669437999014, 149597870.7


def altitude_deg(tt, lat, lon):
    """Vectorised over rows; differs from skyfield's own by the diurnal aberration, below 0.1" near the horizon."""
    t = ts.tt_jd(tt)
    ra, dec, distance = earth.at(t).observe(sun).apparent().radec("date")
    hour_angle = np.radians(t.gast * 15.0 + lon) - ra.radians
    phi = np.radians(lat)
    curvature = np.sqrt(1 - E2 * np.sin(phi) ** 2)
    up = np.sin(phi) * np.sin(dec.radians) + np.cos(phi) * np.cos(dec.radians) * np.cos(hour_angle)
    north = np.cos(phi) * np.sin(dec.radians) - np.sin(phi) * np.cos(dec.radians) * np.cos(hour_angle)
    east = -np.cos(dec.radians) * np.sin(hour_angle)
    up = up - A * curvature / AU_KM / distance.au
    north = north + A * E2 * np.sin(phi) * np.cos(phi) / curvature / AU_KM / distance.au
    return np.degrees(np.arctan2(up, np.hypot(north, east)))


def extreme(tt, lat, lon):
    """Time of the altitude extreme next to tt, by Newton on finite differences of 200 s.

    Of the sine, which stays smooth where the sun passes near the zenith.
    """
    step = 200 / 86400
    for _ in range(8):
        before, here, after = (np.sin(np.radians(altitude_deg(tt + d, lat, lon))) for d in (-step, 0, step))
        bend = before - 2 * here + after
        tt = tt - np.clip(step * (after - before) / 2 / bend, -0.05, 0.05)
    return tt


def label(t):
    """UTC, or UT1 where that stands in for it."""
    if 1972 <= t.utc.year < 2028:
        return t.utc_datetime().replace(tzinfo=None)
    return dt.datetime(2000, 1, 1, 12) + dt.timedelta(days=float(t.ut1 - 2451545.0))


def finish(tt, lat, lon, threshold):
    """Newton on skyfield's own altitude; time and slope."""
    place = earth + wgs84.latlon(lat, lon)

    def own(x):
        return place.at(ts.tt_jd(x)).observe(sun).apparent().altaz()[0].degrees

    step = 5 / 86400
    for _ in range(3):
        slope = (own(tt + step) - own(tt - step)) / (2 * step)
        tt -= (own(tt) - threshold) / slope
    return tt, abs(slope) * 3600 / 86400


def draw(rng, rows, grazing):
    first, last = dt.date(1950, 1, 1), dt.date(2050, 12, 31)
    drawn = []
    for i in range(rows):
        date = first + dt.timedelta(days=rng.randrange((last - first).days + 1))
        lat = round(rng.choice([rng.uniform(-89, 89), rng.uniform(-70, 70)]), 4)
        lon = round(rng.uniform(-180, 180), 4)
        name = rng.choice(list(EVENTS))
        drawn.append([lat, lon, date, name])
    if grazing:
        # Latitudes at which the day's extreme comes close to the threshold.
        tt = np.array([mean_noon(d, o) for _, o, d, _ in drawn])
        dec = earth.at(ts.tt_jd(tt)).observe(sun).apparent().radec("date")[1].degrees
        for row, declination in zip(drawn, dec):
            threshold = EVENTS[row[3]][0]
            side = rng.choice([-1, 1])
            near = rng.choice([90 + threshold - side * declination, 90 - threshold + side * declination])
            offset = rng.choice([-1, 1]) * 10 ** rng.uniform(-2.6, 0)
            row[0] = round(side * (near + offset), 4)
        drawn = [row for row in drawn if abs(row[0]) <= 89]
    return drawn


def mean_noon(date, lon):
    return 2451545.0 + (date - dt.date(2000, 1, 1)).days - lon / 360


def de421_rows():
    rng = random.Random(19502050)
    drawn = draw(rng, 3300, False) + draw(rng, 3600, True)[:1700]
    lat, lon = (np.array([row[i] for row in drawn]) for i in (0, 1))
    threshold = np.array([EVENTS[row[3]][0] for row in drawn])
    side = np.array([EVENTS[row[3]][1] for row in drawn])
    noon = extreme(np.array([mean_noon(row[2], row[1]) for row in drawn]), lat, lon)
    low = extreme(noon + 0.5 * side, lat, lon)
    top, bottom = altitude_deg(noon, lat, lon), altitude_deg(low, lat, lon)
    happens = (bottom < threshold) & (threshold < top)
    margin = np.minimum(abs(top - threshold), abs(bottom - threshold))
    below, above = low.copy(), noon.copy()
    for _ in range(30):
        middle = (below + above) / 2
        under = altitude_deg(middle, lat, lon) < threshold
        below, above = np.where(under, middle, below), np.where(under, above, middle)
    with open(HERE / "sun-1950-2050.csv", "w", newline="") as out:
        table = csv.writer(out, lineterminator="\n")
        table.writerow("lat lon solar_date event utc slope_arcsec_per_s margin_deg".split())
        for i, (la, lo, date, name) in enumerate(drawn):
            if margin[i] < 0.001:
                continue  # within what the theory promises not to decide
            utc = slope = ""
            if happens[i]:
                tt, rate = finish(below[i], la, lo, threshold[i])
                assert abs(tt - below[i]) * 86400 * rate < 0.5, (la, lo, date, name)
                stamp = label(ts.tt_jd(tt)) + dt.timedelta(microseconds=500)
                utc, slope = stamp.isoformat(timespec="milliseconds") + "Z", f"{rate:.4f}"
            table.writerow([la, lo, date, name, utc, slope, f"{margin[i]:.5f}"])


def spa_rows():
    rng = random.Random(20512100)
    start = dt.datetime(2051, 1, 1, tzinfo=dt.timezone.utc)
    with open(HERE / "sun-2051-2100.csv", "w", newline="") as out:
        table = csv.writer(out, lineterminator="\n")
        table.writerow("lat lon utc delta_t_s altitude_deg azimuth_deg".split())
        for _ in range(800):
            at = start + dt.timedelta(seconds=rng.randrange(50 * 31557600))
            lat, lon = round(rng.uniform(-89, 89), 4), round(rng.uniform(-180, 180), 4)
            delta_t = round(float(ts.utc(at).delta_t), 1)
            unix = np.array([at.timestamp()])
            _, _, _, altitude, azimuth, _ = spa.solar_position_numpy(unix, lat, lon, 0, 0, 12, delta_t, 0, 1)
            stamp = at.isoformat().replace("+00:00", "Z")
            table.writerow([lat, lon, stamp, delta_t, f"{altitude[0]:.6f}", f"{azimuth[0]:.6f}"])


if __name__ == "__main__":
    spa_rows()
    de421_rows()
