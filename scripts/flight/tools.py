#!/usr/bin/env python3
"""How many flights a second the usual tools of Python fly through the same winds.

The forecast, the site and the 1,024 releases are those of the Go benchmark
BenchmarkAgainstTools, which is run first, in the same minute: it says its own
speed, and writes the converged landings that each tool's error is counted from.
The winds are put on a regular grid of heights beforehand, as these tools want
them; that is not counted. Time-stepped RK4, all releases at once (NumPy and
SciPy's map_coordinates), or one after the other on two threads (Numba).
"""

import os
import re
import subprocess
import sys
import tempfile
import time

try:
    import numpy as np
    from scipy.ndimage import map_coordinates

    from field import E2, A, RD, RHO0, STEPS, Forecast
except ImportError as missing:
    print("left out: flights by Python's tools, for want of Debian's python3-numpy, python3-scipy, python3-eccodes (%s)" % missing)
    sys.exit(0)
try:
    import numba
except ImportError:
    numba = None

SITE = (52.2, 9.4)
FLIGHTS = 1024
DZ = 100.0
HEIGHTS = np.arange(0, 36001, DZ)
SOUTH, WEST, ROWS, COLUMNS, DEG = 42.5, 0.0, 9, 13, 2.5


def releases():
    """Ascent, burst, landing speed, time: the points of a lattice, as in Go."""
    i = np.arange(FLIGHTS)
    u = [(i * g + 0.5 / FLIGHTS) % 1 for g in (1 / FLIGHTS, 0.8191725134, 0.6710436067, 0.5497004779)]
    return 4.2 + 1.6 * u[0], 26e3 + 7e3 * u[1], 4 + 2 * u[2], 18000 + 2400 * u[3]


def grids(fc):
    """u, v and the root of density over that at sea level, [step, height, row, column], and terrain."""
    j0, i0 = round((SOUTH + 90) / DEG), round(WEST / DEG)
    u, v, root = (np.empty((3, HEIGHTS.size, ROWS, COLUMNS)) for _ in range(3))
    for s in range(3):
        for j in range(ROWS):
            for i in range(COLUMNS):
                z = fc.z[s, j0 + j, i0 + i]
                at = lambda a: np.interp(HEIGHTS, z, a)
                u[s, :, j, i] = at(fc.u[s, j0 + j, i0 + i])
                v[s, :, j, i] = at(fc.v[s, j0 + j, i0 + i])
                t = at(fc.t[s, j0 + j, i0 + i])
                lnp = at(fc.lnp)
                lnp = np.where(HEIGHTS < z[0], fc.lnp[0] + 9.80665 * (z[0] - HEIGHTS) / (RD * t), lnp)
                root[s, :, j, i] = np.sqrt(np.exp(lnp) / (RD * t) / RHO0)
    return u, v, root, fc.terrain[j0:j0 + ROWS, i0:i0 + COLUMNS].copy()


def numpy_flights(grid, step):
    """Landings of all releases, [flight, (lat, lon)]."""
    u, v, root, terrain = grid
    ascent, burst, speed, start = releases()

    def ground(y):
        return map_coordinates(terrain, [(y[0] - SOUTH) / DEG, (y[1] - WEST) / DEG], order=1)

    def rates(y, t, falling):
        where = [t / (STEPS[1] - STEPS[0]), y[2] / DZ, (y[0] - SOUTH) / DEG, (y[1] - WEST) / DEG]
        east, north = (map_coordinates(a, where, order=1, mode="nearest") for a in (u, v))
        w = -speed / map_coordinates(root, where, order=1, mode="nearest") if falling else ascent
        phi = np.radians(y[0])
        w2 = 1 - E2 * np.sin(phi) ** 2
        n = A / np.sqrt(w2)
        return np.array([np.degrees(north / (n * (1 - E2) / w2 + y[2])),
                         np.degrees(east / ((n + y[2]) * np.cos(phi))), w])

    def rk4(y, t, dt, falling):
        a = rates(y, t, falling)
        b = rates(y + dt / 2 * a, t + dt / 2, falling)
        c = rates(y + dt / 2 * b, t + dt / 2, falling)
        d = rates(y + dt * c, t + dt, falling)
        return y + dt / 6 * (a + 2 * b + 2 * c + d)

    y = np.array([np.full(FLIGHTS, SITE[0]), np.full(FLIGHTS, SITE[1]), np.zeros(FLIGHTS)])
    y[2] = ground(y)
    up, t = (burst - y[2]) / ascent, start.copy()
    steps = int(np.ceil(up.max() / step))
    for _ in range(steps):
        y = rk4(y, t, up / steps, False)
        t = t + up / steps
    out, landed = np.empty((FLIGHTS, 2)), np.zeros(FLIGHTS, bool)
    while not landed.all():
        above = y[2] - ground(y)
        after = rk4(y, t, step, True)
        below = after[2] - ground(after)
        now = (below <= 0) & ~landed
        share = above[now] / (above[now] - below[now])
        out[now] = (y[:2, now] + share * (after[:2, now] - y[:2, now])).T
        landed |= now
        after[2] = np.maximum(after[2], 0)
        y, t = after, t + step
    return out


def numba_flights(grid, step):
    """A function that flies all releases on two threads."""
    from math import ceil, cos, degrees, radians, sin, sqrt
    U, V, ROOT, TERRAIN = grid
    interval = STEPS[1] - STEPS[0]

    @numba.njit(fastmath=True)
    def sample(lat, lon, z, t):
        q = (t / interval, z / DZ, (lat - SOUTH) / DEG, (lon - WEST) / DEG)
        s, k, j, i = min(int(q[0]), 1), max(int(q[1]), 0), int(q[2]), int(q[3])
        fs, fk, fj, fi = q[0] - s, max(q[1] - k, 0.0), q[2] - j, q[3] - i
        east = north = dense = 0.0
        for a in range(2):
            for b in range(2):
                for c in range(2):
                    for d in range(2):
                        w = (fs if a else 1 - fs) * (fk if b else 1 - fk) * (fj if c else 1 - fj) * (fi if d else 1 - fi)
                        east += w * U[s + a, k + b, j + c, i + d]
                        north += w * V[s + a, k + b, j + c, i + d]
                        dense += w * ROOT[s + a, k + b, j + c, i + d]
        return east, north, dense

    @numba.njit(fastmath=True)
    def ground(lat, lon):
        y, x = (lat - SOUTH) / DEG, (lon - WEST) / DEG
        j, i = int(y), int(x)
        fy, fx = y - j, x - i
        return ((1 - fy) * ((1 - fx) * TERRAIN[j, i] + fx * TERRAIN[j, i + 1])
                + fy * ((1 - fx) * TERRAIN[j + 1, i] + fx * TERRAIN[j + 1, i + 1]))

    @numba.njit(fastmath=True)
    def rates(lat, lon, z, t, w, v):
        east, north, dense = sample(lat, lon, z, t)
        phi = radians(lat)
        w2 = 1 - E2 * sin(phi) ** 2
        n = A / sqrt(w2)
        return degrees(north / (n * (1 - E2) / w2 + z)), degrees(east / ((n + z) * cos(phi))), (w if w > 0 else -v / dense)

    @numba.njit(fastmath=True)
    def rk4(lat, lon, z, t, dt, w, v):
        a = rates(lat, lon, z, t, w, v)
        b = rates(lat + dt / 2 * a[0], lon + dt / 2 * a[1], z + dt / 2 * a[2], t + dt / 2, w, v)
        c = rates(lat + dt / 2 * b[0], lon + dt / 2 * b[1], z + dt / 2 * b[2], t + dt / 2, w, v)
        d = rates(lat + dt * c[0], lon + dt * c[1], z + dt * c[2], t + dt, w, v)
        return (lat + dt / 6 * (a[0] + 2 * b[0] + 2 * c[0] + d[0]), lon + dt / 6 * (a[1] + 2 * b[1] + 2 * c[1] + d[1]),
                z + dt / 6 * (a[2] + 2 * b[2] + 2 * c[2] + d[2]))

    @numba.njit(parallel=True, fastmath=True)
    def fly(ascent, burst, speed, start, out):
        for f in numba.prange(ascent.size):
            lat, lon, t = SITE[0], SITE[1], start[f]
            z = ground(lat, lon)
            up = (burst[f] - z) / ascent[f]
            steps = int(ceil(up / step))
            for _ in range(steps):
                lat, lon, z = rk4(lat, lon, z, t, up / steps, ascent[f], speed[f])
                t += up / steps
            while True:
                above = z - ground(lat, lon)
                lat1, lon1, z1 = rk4(lat, lon, z, t, step, 0.0, speed[f])
                below = z1 - ground(lat1, lon1)
                if below <= 0:
                    share = above / (above - below)
                    out[f, 0] = lat + share * (lat1 - lat)
                    out[f, 1] = lon + share * (lon1 - lon)
                    break
                lat, lon, z = lat1, lon1, z1
                t += step

    numba.set_num_threads(min(2, numba.config.NUMBA_NUM_THREADS))

    def run():
        out = np.empty((FLIGHTS, 2))
        fly(*releases(), out)
        return out
    return run


def miss(got, want):
    """Metres that 99 % of landings miss by at most, on a sphere's tangent plane."""
    y = np.radians(got[:, 0] - want[:, 0]) * 6.37e6
    x = np.radians(got[:, 1] - want[:, 1]) * 6.39e6 * np.cos(np.radians(want[:, 0]))
    return np.sort(np.hypot(x, y))[int(len(got) * 0.99)]


def timed(fly, rounds):
    fly()
    best = 1e9
    for _ in range(rounds):
        start = time.perf_counter()
        out = fly()
        best = min(best, time.perf_counter() - start)
    return out, FLIGHTS / best


def main():
    root = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
    with tempfile.TemporaryDirectory() as folder:
        file = os.path.join(folder, "landings")
        text = subprocess.run(["go", "test", "-run", "^$", "-bench", "AgainstTools", "-benchtime", "200x", "-count", "3", "./internal/flight"],
                              cwd=root, env=dict(os.environ, THISTLEDOWN_LANDINGS=file), capture_output=True, text=True, check=True).stdout
        want = np.loadtxt(file)
    go = max(float(x) for x in re.findall(r"([\d.]+) flights/s", text))
    error = float(re.search(r"([\d.]+) m-at-99%", text).group(1))
    print("%-36s %10.0f flights/s  99 %% within %5.1f m" % ("the kernel, two workers", go, error))
    folder = subprocess.run(["go", "list", "-m", "-f", "{{.Dir}}", "github.com/nilsmagnus/grib"], cwd=root,
                            capture_output=True, text=True, check=True).stdout.strip()
    grid = grids(Forecast(os.path.join(folder, "griblib", "integrationtestdata")))
    for step in (60, 20):
        out, rate = timed(lambda: numpy_flights(grid, step), 1)
        print("%-36s %10.0f flights/s  99 %% within %5.1f m  kernel: %.0f times" %
              ("NumPy, map_coordinates, RK4 %d s" % step, rate, miss(out, want), go / rate))
    if numba is None:
        print("left out: Numba, for want of Debian's python3-numba")
        return
    for step in (60, 20):
        out, rate = timed(numba_flights(grid, step), 5)
        print("%-36s %10.0f flights/s  99 %% within %5.1f m  kernel: %.0f times" %
              ("Numba, two threads, RK4 %d s" % step, rate, miss(out, want), go / rate))


if __name__ == "__main__":
    main()
