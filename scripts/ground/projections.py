#!/usr/bin/python3
"""Makes internal/ground/testdata/projections.csv: places and where they lie in
projected systems, metres to the nanometre or so.

"exact" rows are of GeographicLib's TransverseMercatorProj (Debian package
geographiclib-tools, 2.1.2 was used), which works by elliptic functions: UTM's
scale on a central meridian at 9 E, up to 30 degrees from it. The other rows are
of PROJ's cs2cs (proj-bin, 9.1.1 was used) from the system's own geographic
system, so that no datum is changed.
"""
import os
import random
import subprocess

OUT = os.path.join(os.path.dirname(__file__), "..", "..", "internal", "ground", "testdata", "projections.csv")


def run(command, lines):
    return [s.split() for s in subprocess.run(command, input="\n".join(lines) + "\n", text=True, capture_output=True, check=True).stdout.strip().split("\n")]


def main():
    rng = random.Random(3)
    with open(OUT, "w") as f:
        f.write("system,lat,lon,x,y\n")

        def put(system, places, flat):
            for (lat, lon), xy in zip(places, flat):
                f.write("%s,%.12f,%.12f,%s,%s\n" % (system, lat, lon, xy[0], xy[1]))

        for reach, lats in ((3.5, 84), (30, 89.9)):
            p = [(rng.uniform(-lats, lats), 9 + rng.uniform(-reach, reach)) for _ in range(80)]
            p += [(0, 9), (0, 9 + reach), (lats, 9 - reach), (-lats, 9)]
            text = ["%.12f %.12f" % q for q in p]
            put("exact", p, run(["TransverseMercatorProj", "-l", "9", "-k", "0.9996", "-p", "9"], text))
        for code, base, south, north, west, east in (
                (32601, 4326, 0, 84, -180, -174), (32633, 4326, 0, 84, 12, 18), (32660, 4326, 0, 84, 174, 180),
                (32719, 4326, -80, 0, -72, -66), (26912, 4269, 15, 84, -114, -108), (25832, 4258, 36, 84, 6, 12),
                (3035, 4258, 25, 84, -35, 60), (5070, 4269, 10, 75, -170, -50)):
            p = [(rng.uniform(south, north), rng.uniform(west, east)) for _ in range(40)]
            text = ["%.12f %.12f" % q for q in p]
            flat = run(["cs2cs", "-f", "%.9f", "EPSG:%d" % base, "EPSG:%d" % code], text)
            if code == 3035:  # which has its northing first
                flat = [(q[1], q[0]) for q in flat]
            put(code, p, flat)


main()
