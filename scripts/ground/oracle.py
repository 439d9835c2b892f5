#!/usr/bin/env python3
"""Write the polygons, rings and distances that internal/ground is tested against.

Inside, outside and validity come from GEOS by way of Shapely (Debian package
python3-shapely, 1.8.5 on GEOS 3.11.1). Distances come from both Shapely and
GeographicLib (python3-geographiclib, 2.0): each line, straight in longitude and
latitude, is cut into pieces of 20 m or less near the point, every cut is
brought by its geodesic (azimuth and length from the point, so exact in what
counts) into the plane, and Shapely measures there. Run from the top of the
repository:

    /usr/bin/python3 scripts/ground/oracle.py

The same seed gives the same files.
"""
import json
import math
import pathlib
import random

from geographiclib.geodesic import Geodesic
from shapely.geometry import LineString, Point, Polygon
from shapely.validation import explain_validity

OUT = pathlib.Path("internal/ground/testdata")
WGS84 = Geodesic.WGS84


def star(rng, lon, lat, size, n):
    """A closed ring that is simple: corners at rising angles around a middle."""
    turn = [(k + rng.uniform(0.1, 0.9)) * 2 * math.pi / n for k in range(n)]
    ring = [[round(lon + size * r * math.cos(a), 6), round(lat + size * r * math.sin(a), 6)]
            for a in turn for r in [rng.uniform(0.5, 1)]]
    return ring + ring[:1]


def polygons(rng):
    """Polygons with holes, and points with whether GEOS finds them inside."""
    cases = []
    while len(cases) < 40:
        lon, lat = rng.uniform(-170, 170), rng.uniform(-75, 75)
        size = 10 ** rng.uniform(-2.5, 0.5)
        rings = [star(rng, lon, lat, size, rng.randint(5, 60))]
        for k in range(rng.randint(0, 4)):
            a = k * math.pi / 2 + rng.uniform(0, 1)
            rings.append(star(rng, lon + 0.25 * size * math.cos(a), lat + 0.25 * size * math.sin(a),
                              0.12 * size, rng.randint(3, 12)))
        p = Polygon(rings[0], rings[1:])
        if not p.is_valid:
            continue
        points = []
        while len(points) < 40:
            x, y = lon + 1.1 * size * rng.uniform(-1, 1), lat + 1.1 * size * rng.uniform(-1, 1)
            if points and rng.random() < 0.5:  # by an edge
                ring = rng.choice(rings)
                k = rng.randrange(len(ring) - 1)
                t = rng.random()
                x = ring[k][0] + t * (ring[k + 1][0] - ring[k][0]) + rng.gauss(0, 0.003 * size)
                y = ring[k][1] + t * (ring[k + 1][1] - ring[k][1]) + rng.gauss(0, 0.003 * size)
            at = Point(round(x, 6), round(y, 6))
            if p.boundary.distance(at) > 2e-6:  # beyond the rounding of what is tested
                points.append([at.x, at.y, int(p.contains(at))])
        cases.append({"rings": rings, "points": points})
    return cases


def validity(rng):
    """Rings, some of which cross themselves, with what GEOS says of them."""
    cases = []
    for k in range(300):
        n = rng.randint(4, 7)
        if k % 2:  # on a coarse grid, so that many touch or meet at corners
            ring = [[rng.randint(0, 5), rng.randint(0, 5)] for _ in range(n)]
        else:
            ring = [[round(rng.uniform(0, 5), 3), round(rng.uniform(0, 5), 3)] for _ in range(n)]
        ring.append(ring[0])
        if len({tuple(p) for p in ring}) < 3:
            continue
        says = explain_validity(Polygon(ring))
        line = LineString(ring)
        cases.append({"ring": ring, "says": says.split("[")[0], "simple": int(line.is_simple)})
    return cases


def distance(lon, lat, line):
    """Metres from a point to a line, by geodesics."""
    cuts = []
    for (x0, y0), (x1, y1) in zip(line, line[1:]):
        length = WGS84.Inverse(y0, x0, y1, x1)["s12"]
        n = max(1, math.ceil(length / 20))
        for k in range(n + 1):
            x, y = x0 + (x1 - x0) * k / n, y0 + (y1 - y0) * k / n
            g = WGS84.Inverse(lat, lon, y, x)
            a = math.radians(g["azi1"])
            cuts.append((g["s12"] * math.sin(a), g["s12"] * math.cos(a)))
    at = LineString(cuts)
    near = at.interpolate(at.project(Point(0, 0)))
    bearing = math.degrees(math.atan2(near.x, near.y)) % 360
    return at.distance(Point(0, 0)), bearing


def lines(rng):
    """Lines and points at 10 m to 20 km from them."""
    cases = []
    for k in range(120):
        lat = rng.choice([0, 1, -1]) * rng.uniform(0, 80) if k % 8 else rng.choice([80, -80])
        lon = rng.choice([rng.uniform(-180, 180), 180, -179.98, 179.97])
        reach = 10 ** rng.uniform(1, 4.3)
        g = WGS84.Direct(lat, lon, rng.uniform(0, 360), reach)
        x, y = g["lon2"], g["lat2"]
        x = lon + (x - lon + 180) % 360 - 180
        line = [[round(x, 6), round(y, 6)]]
        a = rng.uniform(0, 360)
        for _ in range(rng.randint(1, 3)):
            a += rng.uniform(-60, 60)
            g = WGS84.Direct(line[-1][1], line[-1][0], a, min(20_000, 3 * reach) * rng.uniform(0.3, 1))
            x = line[-1][0] + (g["lon2"] - line[-1][0] + 180) % 360 - 180
            line.append([round(x, 6), round(g["lat2"], 6)])
        metres, bearing = distance(lon, lat, line)
        cases.append({"lat": lat, "lon": lon, "line": line, "metres": round(metres, 4), "bearing": round(bearing, 4)})
    return cases


def main():
    rng = random.Random(20260601)
    OUT.mkdir(exist_ok=True)
    for name, cases in ("polygons", polygons(rng)), ("validity", validity(rng)), ("lines", lines(rng)):
        text = ",\n".join(json.dumps(c, separators=(",", ":")) for c in cases)
        (OUT / f"{name}.json").write_text(f"[\n{text}\n]\n")


if __name__ == "__main__":
    main()
