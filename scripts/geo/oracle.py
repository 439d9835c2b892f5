#!/usr/bin/env python3
"""Write the geodesic lines and ring areas that internal/geo is tested against.

The numbers come from GeographicLib's command line tools (Debian package
geographiclib-tools): GeodSolve with exact elliptic integrals (-E), and
Planimeter on rings whose edges, straight in latitude and longitude, are cut so
finely that the geodesics between the cuts enclose the same area. Beside the
latter stands the same area by quadrature with 30 digits (python3-mpmath), which
is closer but has the formula in common with what it tests. Run from the top of
the repository:

    python3 scripts/geo/oracle.py

The same seed gives the same files.
"""
import math
import pathlib
import random
import subprocess

import mpmath as mp

OUT = pathlib.Path("internal/geo/testdata")
rng = random.Random(1907)
mp.mp.dps = 30


def run(command, text):
    done = subprocess.run(command, input=text, capture_output=True, text=True, check=True)
    if "ERROR" in done.stdout:
        raise SystemExit(f"{command}: {done.stdout}")
    return done.stdout.strip().split("\n")


def anywhere():
    lat = math.degrees(math.asin(rng.uniform(-1, 1)))
    return round(lat, 9), round(rng.uniform(-180, 180), 9)


def sphere_step(p, bearing, metres):
    """Roughly where a line ends: only to pick points, so a sphere will do."""
    lat, d = math.radians(p[0]), metres / 6.371e6
    s = math.sin(lat) * math.cos(d) + math.cos(lat) * math.sin(d) * math.cos(bearing)
    east = math.atan2(math.sin(bearing) * math.sin(d) * math.cos(lat), math.cos(d) - math.sin(lat) * s)
    lon = (p[1] + math.degrees(east) + 180) % 360 - 180
    return round(math.degrees(math.asin(s)), 9), round(lon, 9)


def pairs():
    for _ in range(200):  # as far as a balloon drifts
        a = anywhere()
        yield "drift", a, sphere_step(a, rng.uniform(0, 2 * math.pi), 10 ** rng.uniform(3, 6))
    for _ in range(40):  # within a field
        a = anywhere()
        yield "short", a, sphere_step(a, rng.uniform(0, 2 * math.pi), 10 ** rng.uniform(-2, 3))
    for _ in range(40):
        yield "any", anywhere(), anywhere()
    for _ in range(60):
        a, d = anywhere(), 10 ** rng.uniform(-5, 1)
        lat = max(-90, min(90, -a[0] + rng.uniform(-d, d)))
        yield "antipodal", a, (round(lat, 9), round(a[1] + 180 + rng.uniform(-d, d), 9))
    for i in range(20):  # exactly half a turn of longitude, nearly opposite
        lat, d = rng.uniform(0, 80), 10 ** rng.uniform(-3, 1)
        yield "half turn", (round(lat, 9), float(-i)), (round(min(90, d - lat), 9), 180 - float(i))
    for _ in range(20):  # nearly along the equator
        d = 10 ** rng.uniform(-12, 0)
        yield "equator", (round(rng.uniform(-d, d), 15), round(rng.uniform(-180, 180), 9)), (
            round(rng.uniform(-d, d), 15), round(rng.uniform(-180, 180), 9))
    for _ in range(20):  # near the poles
        d = 10 ** rng.uniform(-11, 0)
        yield "poles", (round(90 - d * rng.random(), 12), round(rng.uniform(-180, 180), 9)), (
            round(rng.choice([-1, 1]) * (90 - d * rng.random()), 12), round(rng.uniform(-180, 180), 9))


def lines():
    todo = list(pairs())
    text = "".join(f"{a[0]:.15f} {a[1]:.15f} {b[0]:.15f} {b[1]:.15f}\n" for _, a, b in todo)
    solved = run(["GeodSolve", "-i", "-E", "-p", "10"], text)
    with open(OUT / "lines.csv", "w", encoding="ascii") as f:
        f.write("kind,lat1,lon1,lat2,lon2,azi1,azi2,s12_m\n")
        for (kind, a, b), row in zip(todo, solved, strict=True):
            f.write(",".join([kind, *(f"{x + 0:.15f}".rstrip("0").rstrip(".") for x in (*a, *b)), *row.split()]) + "\n")


def planimeter(ring, cuts):
    text = []
    for i, (lat, lon) in enumerate(ring):
        lat2, lon2 = ring[(i + 1) % len(ring)]
        d = (lon2 - lon + 180) % 360 - 180
        for k in range(cuts):
            t = k / cuts
            text.append(f"{lat + t * (lat2 - lat):.14f} {lon + t * d:.14f}")
    return float(run(["Planimeter", "-E", "-p", "10"], "\n".join(text) + "\n")[0].split()[2])


def ring_area(ring, cuts):
    """Cutting n times leaves errors in n^-2, n^-4, ...: Richardson takes out
    two. More cuts would not help: the tool is right to 0.1 m2 for each edge."""
    coarse, fine, finest = (planimeter(ring, cuts * n) for n in (1, 2, 4))
    first, second = (4 * fine - coarse) / 3, (4 * finest - fine) / 3
    best = (16 * second - first) / 15
    if abs(best - second) > 2 + 1e-9 * abs(best):
        raise SystemExit(f"area of {ring} has not settled: {second}, {best}")
    return best


def strip(lat):
    """Area between the equator and a latitude, for each radian of longitude."""
    f = 1 / mp.mpf("298.257223563")
    b, e = 6378137 * (1 - f), mp.sqrt(f * (2 - f))
    s = mp.sin(mp.radians(lat))
    return b * b / 2 * (s / (1 - (e * s) ** 2) + mp.atanh(e * s) / e)


def quadrature(ring):
    area = mp.mpf(0)
    for i, (lat, lon) in enumerate(ring):
        lat2, lon2 = (mp.mpf(x) for x in ring[(i + 1) % len(ring)])
        lat, lon = mp.mpf(lat), mp.mpf(lon)
        d = (lon2 - lon + 180) % 360 - 180
        area -= mp.radians(d) * mp.quad(lambda t: strip(lat + t * (lat2 - lat)), mp.linspace(0, 1, 4))
    return area


def rings():
    with open(OUT / "rings.csv", "w", encoding="ascii") as f:
        f.write("planimeter_m2,quadrature_m2,lat1,lon1,lat2,lon2,...\n")
        for i in range(60):
            size = 10 ** rng.uniform(-4, 1.5)  # degrees
            middle = rng.uniform(-85 + size, 85 - size), rng.uniform(-180, 180)
            if i < 8:
                middle = middle[0], rng.choice([-1, 1]) * (180 - rng.uniform(0, size / 2))
            ring = []
            n = rng.randint(3, 9)
            for k in range(n):
                angle = 2 * math.pi * (k + rng.uniform(0, 0.6)) / n
                r = size * rng.uniform(0.4, 1)
                lon = (middle[1] + r * math.cos(angle) + 180) % 360 - 180
                ring.append((round(middle[0] + r * math.sin(angle), 9), round(lon, 9)))
            if i % 5 == 4:
                ring.reverse()
            tool = ring_area(ring, 50 if size < 2 else 200)
            f.write(",".join([f"{tool:.3f}", mp.nstr(quadrature(ring), 20), *(f"{x:.12g}" for p in ring for x in p)]) + "\n")


lines()
rings()
