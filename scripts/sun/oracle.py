#!/usr/bin/python3
"""Where the sun is and when it passes a level, by another theory and another
search than internal/sun: PyEphem (Debian's python3-ephem), whose sun is VSOP87,
looked at every two minutes.

    scripts/sun/oracle.py internal/sun/testdata

writes positions.csv and days.csv there. The draws are seeded.
"""
import csv
import math
import os
import random
import sys
from datetime import datetime, timedelta

import ephem

LEVELS = {"horizon": -50 / 60, "civil": -6.0, "nautical": -12.0, "astronomical": -18.0}
PARALLAX = 8.794 / 3600  # levels are seen from the Earth's centre, PyEphem's from its surface


def look(lat, lon, when):
    """Elevation and azimuth in degrees, without air."""
    o = ephem.Observer()
    o.lat, o.lon, o.elevation, o.pressure = math.radians(lat), math.radians(lon), 0, 0
    o.date = when
    s = ephem.Sun(o)
    return math.degrees(s.alt), math.degrees(s.az)


def draw_time(rng, first, last):
    start = datetime(first, 1, 1)
    span = (datetime(last + 1, 1, 1) - start).total_seconds()
    return start + timedelta(seconds=round(rng.uniform(0, span - 1)))


def positions(rng, n):
    for _ in range(n):
        when = draw_time(rng, 1950, 2050)
        lat = round(math.degrees(math.asin(rng.uniform(-1, 1))), 4)
        lon = round(rng.uniform(-180, 180), 4)
        alt, az = look(lat, lon, when)
        yield when.isoformat() + "Z", lat, lon, f"{alt:.5f}", f"{az:.5f}"


def crossings(lat, lon, start, end, depth):
    """Signed times, and how near the depth the sun turned, in degrees."""
    step = timedelta(minutes=2)
    high = lambda t: look(lat, lon, t)[0] - depth
    times = [start + i * step for i in range(int((end - start) / step) + 1)]
    values = [high(t) for t in times]
    turned = min((abs(values[i]) for i in range(1, len(values) - 1)
                  if (values[i] - values[i - 1]) * (values[i + 1] - values[i]) <= 0), default=90)
    out = []
    for a, b, u, v in zip(times, times[1:], values, values[1:]):
        if (u >= 0) == (v >= 0):
            continue
        while b - a > timedelta(milliseconds=50):
            m = a + (b - a) / 2
            if (high(m) >= 0) == (v >= 0):
                b = m
            else:
                a = m
        out.append(("+" if v >= 0 else "-", b))
    return out, turned, "above" if values[0] >= 0 else "below"


def days(rng, n):
    names = list(LEVELS)
    for i in range(n):
        name = names[0] if i % 2 == 0 else rng.choice(names[1:])
        while True:
            day = draw_time(rng, 1950, 2050).replace(hour=0, minute=0, second=0)
            lat = round(rng.uniform(-90, 90), 3)
            lon = round(rng.uniform(-180, 180), 3)
            offset = rng.choice([round(lon / 15), round(lon / 15), rng.randint(-12, 14)])
            start = day - timedelta(hours=offset)
            end = start + timedelta(days=1)
            found, turned, side = crossings(lat, lon, start, end, LEVELS[name] - PARALLAX)
            # What lies within the error of being otherwise says nothing: the sun
            # turns at the level, or crosses it at midnight.
            edge = min((min(t - start, end - t) for _, t in found), default=end - start)
            if turned > 0.03 and edge > timedelta(minutes=3):
                break
        events = " ".join(s + t.isoformat(timespec="milliseconds") + "Z" for s, t in found)
        yield day.date().isoformat(), offset, lat, lon, name, events or side


def write(path, head, rows):
    with open(path, "w", newline="") as f:
        w = csv.writer(f, lineterminator="\n")
        w.writerow(head)
        w.writerows(rows)


def main():
    folder = sys.argv[1]
    write(os.path.join(folder, "positions.csv"), ["utc", "lat", "lon", "elevation_deg", "azimuth_deg"],
          positions(random.Random(7), 400))
    write(os.path.join(folder, "days.csv"), ["date", "offset_h", "lat", "lon", "level", "crossings"],
          days(random.Random(8), 240))


if __name__ == "__main__":
    main()
