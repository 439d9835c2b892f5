#!/usr/bin/env python3
"""Reference landings and wind samples, computed apart from the Go code.

Reads three GFS forecast steps with ecCodes, builds the wind field that the
packages wind and flight promise, flies a seeded set of launches through it
with SciPy's DOP853, and writes two CSV files of check values. README.md says
how to run it. Units are SI; latitude and longitude are in degrees, heights are
geometric metres above mean sea level, times are seconds after 2017-03-22T00Z.
"""

import argparse
import hashlib
import math
import multiprocessing
import os
import sys
import time

import eccodes
import numpy as np
import scipy
from scipy.integrate import solve_ivp

from field import (FILES, LEVELS_HPA, NI, NJ, RD, RHO0, STEP_DEG, STEPS,
                   Fast, Forecast, plain, radii)

SEED = 20170322


# ---- the flight -----------------------------------------------------------

def rates(lat, z, u, v):
    """Degrees of latitude and longitude per second on WGS84 at height z."""
    phi = math.radians(lat)
    m, n = radii(phi)
    return math.degrees(v / (m + z)), math.degrees(u / ((n + z) * math.cos(phi)))


def fly(field, launch, max_step, rtol, method="DOP853"):
    """Burst and landing as (lat, unwrapped lon, z, t), and the path's greatest |lat|.

    The state is (lat, lon, z). The launch time plus (burst height - terrain) / w
    is the burst, exactly; the landing is an event on the dense output.
    """
    lat0, lon0, t0, w, zb, v0 = launch

    def up(t, y):
        u, v, _, _ = field.at(y[0], y[1], y[2], t)
        return (*rates(y[0], y[2], u, v), w)

    def down(t, y):
        u, v, temp, p = field.at(y[0], y[1], y[2], t)
        return (*rates(y[0], y[2], u, v), -v0 * math.sqrt(RHO0 * RD * temp / p))

    def ground(t, y):
        return y[2] - field.terrain(y[0], y[1])
    ground.terminal, ground.direction = True, -1

    options = dict(method=method, max_step=max_step, rtol=rtol, atol=[1e-12, 1e-12, 1e-9])
    z0 = field.terrain(lat0, lon0)
    tb = t0 + (zb - z0) / w
    rise = solve_ivp(up, (t0, tb), [lat0, lon0, z0], first_step=min(1.0, max_step), **options)
    clear = [ground(0, y) for y in rise.y.T[1:]]
    if not rise.success or min(clear) <= 0:
        raise ValueError("ascent failed or met terrain")
    b = rise.y[:, -1]
    fall = solve_ivp(down, (tb, STEPS[2]), b, events=ground, first_step=min(1.0, max_step), **options)
    if fall.status != 1:
        raise ValueError("did not land before the last step")
    q = fall.y_events[0][0]
    high = max(abs(rise.y[0]).max(), abs(fall.y[0]).max())
    return (*b, tb), (*q, fall.t_events[0][0]), high


def wrap(lon):
    return (lon + 180) % 360 - 180


def crossing(lon0, lon1, seam):
    """+1 eastward over the seam, -1 westward, 0 neither; lon1 unwrapped from lon0."""
    return math.floor((lon1 - seam) / 360) - math.floor((lon0 - seam) / 360)


# ---- what is flown --------------------------------------------------------

def draw(rng, lat, lon):
    """A launch at a place, the rest drawn over the promised ranges; rounded as printed."""
    return (round(float(lat), 5), round(wrap(float(lon)), 5), float(rng.integers(0, 25201)),
            round(rng.uniform(4, 7), 3), float(round(rng.uniform(12e3, 40e3))), round(rng.uniform(4, 9), 3))


def seam_launches(fc, rng, seam, east, west):
    """Launches that cross the seam: candidates are flown coarsely and kept by direction."""
    field, want, kept = Fast(fc), {1: east, -1: west}, []
    for _ in range(4000):
        if not any(want.values()):
            return kept
        launch = draw(rng, rng.uniform(-75, 75), seam + rng.uniform(-2, 2))
        try:
            _, land, _ = fly(field, launch, 600, 1e-4, "RK45")
        except ValueError:
            continue
        way = crossing(launch[1], land[1], seam)
        if want.get(way):
            want[way] -= 1
            kept.append(launch)
    raise SystemExit("too few crossings of %g found" % seam)


def jet_launches(fc, rng, count):
    """Launches a little upstream of the columns with the strongest shear between 500 and 100 hPa."""
    a, b = LEVELS_HPA.index(500), LEVELS_HPA.index(100) + 1
    du, dv, dz = (np.diff(x[1, :, :, a:b], axis=-1) for x in (fc.u, fc.v, fc.z))
    shear = (np.hypot(du, dv) / dz).max(axis=-1)
    shear[np.abs(fc.lat) > 75] = 0
    kept, nodes = [], []
    for n in np.argsort(-shear, axis=None):
        j, i = divmod(int(n), NI)
        if all(abs(j - q) > 4 or min((i - r) % NI, (r - i) % NI) > 6 for q, r in nodes):
            nodes.append((j, i))
            kept.append(draw(rng, fc.lat[j] + rng.uniform(-1, 1), i * STEP_DEG - rng.uniform(0, 1)))
        if len(kept) == count:
            return kept
    raise SystemExit("too few jets")


def launches(fc):
    """[(id, launch)] for every flight of the file."""
    rng = np.random.default_rng(SEED)
    groups = {"globe": [draw(rng, rng.uniform(-75, 75), rng.uniform(-180, 180)) for _ in range(140)]}
    boxes = {"andes": (-27, -14, -71, -65), "tibet": (29, 36, 79, 98), "greenland": (66, 75, -48, -32)}
    for name, (s, n, w, e) in boxes.items():
        groups[name] = [draw(rng, rng.uniform(s, n), rng.uniform(w, e)) for _ in range(8)]
    groups["dateline"] = seam_launches(fc, rng, 180, 30, 15)
    groups["greenwich"] = seam_launches(fc, rng, 0, 15, 10)
    groups["jet"] = jet_launches(fc, rng, 10)
    groups["polar"] = [draw(rng, side * rng.uniform(80, 88), rng.uniform(-180, 180))
                       for side in (1, -1) for _ in range(4)]
    return [("%s-%03d" % (name, k + 1), x) for name, group in groups.items() for k, x in enumerate(group)]


def sample_points(fc):
    """2,000 (lat, lon, z, t): free ones, low ones, near the seams, on nodes, levels and steps."""
    rng = np.random.default_rng(SEED + 1)
    points = []
    for n in range(2000):
        lat, lon = rng.uniform(-89.4, 89.4), rng.uniform(-180, 180)
        z, t = rng.uniform(0, 43e3), rng.uniform(0, 43200)
        part = n % 8
        if part == 1:                       # under the 1000 hPa surface or near it
            z = rng.uniform(-500, 200)
        elif part == 2:                     # last cells before and after the date line
            lon = wrap(180 + rng.choice([0, 1e-7, -1e-7, rng.uniform(-2.6, 2.6)]))
        elif part == 3:                     # and the 0/360 seam
            lon = rng.choice([0, 1e-7, -1e-7, rng.uniform(-2.6, 2.6)])
        elif part >= 4:                     # on a node
            j, i = int(rng.integers(1, NJ - 1)), int(rng.integers(0, NI))
            lat, lon = float(fc.lat[j]), wrap(i * STEP_DEG)
            if part == 5:                   # at a step's own time, on a level but the top one
                s = int(rng.integers(0, 3))
                z, t = float(fc.z[s, j, i, rng.integers(0, 30)]), STEPS[s]
            elif part == 6:                 # on a parallel, a level's height of one column, any time
                z, lon = float(fc.z[1, j, i, rng.integers(0, 30)]), rng.uniform(-180, 180)
            elif part == 7:                 # on a meridian, at a step's own time
                lat, t = rng.uniform(-89.4, 89.4), STEPS[int(rng.integers(0, 3))]
        points.append((round(float(lat), 7), round(float(lon), 7), round(float(z), 7), round(float(t), 3)))
    return points


# ---- running --------------------------------------------------------------

JOB = {}


def work(item):
    name, launch = item
    """One launch by the reference solver, and four other ways to see how far it has converged."""
    field, step = JOB["field"], JOB["step"]
    fine = fly(field, launch, step / 2, 1e-11)
    others = [fly(field, launch, *how)[1] for how in checks(step).values()]
    return name, launch, fine, others


def checks(step):
    """The other ways: (greatest step, rtol, method) by name."""
    return {"max_step doubled": (step, 1e-11), "max_step halved": (step / 4, 1e-11),
            "rtol 1e-9": (step / 2, 1e-9), "RK45, max_step doubled": (step, 1e-11, "RK45")}


def apart(p, q):
    """Metres between two landings that lie close together."""
    m, n = radii(math.radians(p[0]))
    dy = math.radians(q[0] - p[0]) * m
    dx = math.radians(q[1] - p[1]) * n * math.cos(math.radians(p[0]))
    return math.hypot(dx, dy)


def self_check(fc, points):
    """The two field codes agree, and the fall through an isothermal still air is the closed form."""
    field, worst = Fast(fc), 0.0
    for q in points:
        for x, y in zip(plain(fc, *q), field.at(*q)):
            worst = max(worst, abs(x - y) / max(1.0, abs(x)))

    class Isothermal:
        """Density RHO0 exp(-z / 7000 m), no wind, ground at 0 m."""
        def at(self, lat, lon, z, t):
            return 0.0, 0.0, 288.15, 101325 * math.exp(-z / 7000)

        def terrain(self, lat, lon):
            return 0.0
    (_, burst_t), (_, land_t) = ((x[2], x[3]) for x in fly(Isothermal(), (0, 0, 0, 5, 3e4, 5), 5, 1e-9)[:2])
    want = 2 * 7000 / 5 * (1 - math.exp(-3e4 / 14e3))
    print("field codes differ by %.1e at most; isothermal fall %.6f s, closed form %.6f s"
          % (worst, land_t - burst_t, want))
    if worst > 1e-11 or abs(land_t - burst_t - want) > 1e-5:
        raise SystemExit("self check failed")


def provenance(folder):
    lines = ["input: GFS 2.5 degree, 2017-03-22T00Z, from module github.com/nilsmagnus/grib v1.2.8,"
             " griblib/integrationtestdata (NOAA/NCEP, public domain):"]
    for file in FILES:
        with open(os.path.join(folder, file), "rb") as f:
            lines.append("  %s sha256 %s" % (file, hashlib.sha256(f.read()).hexdigest()))
    lines.append("made by scripts/flight/reference.py, seed %d, Python %s, numpy %s, scipy %s, ecCodes %s" % (
        SEED, sys.version.split()[0], np.__version__, scipy.__version__, eccodes.codes_get_api_version()))
    lines.append("field: u, v, T, ln p linear in geometric height in each column and step (31 levels,"
                 " 1000..1 hPa; geopotential to geometric with WGS84 normal gravity at the column's"
                 " latitude), then bilinear in lat/lon, then linear in time;")
    lines.append("  under 1000 hPa u, v, T held, ln p hydrostatic at that T; Rd = 8.31432/0.0289644 J/(kg K)")
    return lines


def write(path, comments, header, rows):
    with open(path, "w") as f:
        f.writelines("# %s\n" % line for line in comments)
        f.write(header + "\n")
        f.writelines(row + "\n" for row in rows)
    print("%s: %d rows, %d bytes" % (path, len(rows), os.path.getsize(path)))


def write_samples(fc, folder, path, points):
    rows = ["%.7f,%.7f,%.7f,%.3f,%.8f,%.8f,%.8f,%.10g" % (*q, *plain(fc, *q)) for q in points]
    write(path, provenance(folder), "lat,lon,z_m,t_s,u_m_s,v_m_s,temperature_k,pressure_pa", rows)


def write_launches(field, folder, path, results, notes):
    rows = []
    for name, (lat0, lon0, t0, w, zb, v0), (b, q, _), _ in results:
        rows.append("%s,%.5f,%.5f,%.0f,%.4f,%.3f,%.0f,%.3f,%.10f,%.10f,%.5f,%.10f,%.10f,%.4f,%.5f" % (
            name, lat0, lon0, t0, field.terrain(lat0, lon0), w, zb, v0,
            b[0], wrap(b[1]), b[3], q[0], wrap(q[1]), q[2], q[3]))
    more = ["flight: from the terrain (bilinear HGT:surface of f000, geometric) up at ascent_m_s to burst_m,"
            " then down at landing_speed_m_s * sqrt(rho0/rho), rho = p/(Rd T), rho0 = 101325/(Rd 288.15),"
            " to the terrain; dphi/dt = v/(M+z), dlambda/dt = u/((N+z) cos phi) on WGS84"]
    write(path, provenance(folder) + more + notes,
          "id,lat0,lon0,t0_s,z0_m,ascent_m_s,burst_m,landing_speed_m_s,burst_lat,burst_lon,burst_t_s,"
          "land_lat,land_lon,land_z_m,land_t_s", rows)


def summary(results, step):
    """Prints convergence and counts; returns the comment lines for the file."""
    notes = ["solver: scipy solve_ivp DOP853, rtol 1e-11, max_step %g s; its landings against:" % (step / 2)]
    worst = 0.0
    for k, name in enumerate(checks(step)):
        d = np.array([apart(r[2][1], r[3][k]) for r in results])
        dt = max(abs(r[2][1][3] - r[3][k][3]) for r in results)
        notes.append("  %s: median %.1e m, greatest %.1e m, time %.1e s" % (name, np.median(d), d.max(), dt))
        print(notes[-1], "in", results[d.argmax()][0])
        worst = max(worst, d.max())
    for seam in (180, 0):
        ways = [crossing(r[1][1], r[2][1][1], seam) for r in results]
        notes.append("launch and landing on two sides of the meridian of %d degrees: %d eastward, %d westward" % (
            seam, ways.count(1), ways.count(-1)))
        print(notes[-1])
    print("greatest |lat| on a path %.3f; last landing at %.0f s; drift up to %.0f km" % (
        max(r[2][2] for r in results), max(r[2][1][3] for r in results),
        max(apart(r[1][:2], r[2][1]) for r in results) / 1e3))
    if worst >= 0.5:
        raise SystemExit("not converged to 0.5 m")
    return notes


def main():
    here = os.path.dirname(os.path.abspath(__file__))
    root = os.path.dirname(os.path.dirname(here))
    ap = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ap.add_argument("folder", help="folder of the three GFS files")
    ap.add_argument("--root", default=root, help="root of the repository, to write into")
    ap.add_argument("--step", type=float, default=10, help="coarser of the two greatest steps, s")
    ap.add_argument("--jobs", type=int, default=2, help="processes")
    ap.add_argument("--only", type=int, help="fly only every n-th launch and write nothing")
    args = ap.parse_args()
    began = time.time()
    fc = Forecast(args.folder)
    print("lowest top level %.0f m; terrain %.0f..%.0f m" % (fc.z[..., -1].min(), fc.terrain.min(), fc.terrain.max()))
    points = sample_points(fc)
    self_check(fc, points)
    items = launches(fc)
    print("%d launches chosen, %.0f s" % (len(items), time.time() - began))
    JOB.update(field=Fast(fc), step=args.step)
    with multiprocessing.get_context("fork").Pool(args.jobs) as pool:
        results = pool.map(work, items[::args.only or 1], chunksize=4)
    notes = summary(results, args.step)
    if not args.only:
        data = os.path.join(args.root, "internal", "%s", "testdata")
        for name in ("wind", "flight"):
            os.makedirs(data % name, exist_ok=True)
        write_samples(fc, args.folder, os.path.join(data % "wind", "samples.csv"), points)
        write_launches(JOB["field"], args.folder, os.path.join(data % "flight", "launches.csv"), results, notes)
    print("%.0f s in all" % (time.time() - began))


if __name__ == "__main__":
    main()
