"""The forecast read with ecCodes, and the wind field of its definition, written twice."""

import bisect
import math
import os

import eccodes
import numpy as np

FILES = ["gfs.t00z.pgrb2.2p50.f%03d" % h for h in (0, 6, 12)]
STEPS = [0.0, 21600.0, 43200.0]
LEVELS_HPA = [1000, 975, 950, 925, 900, 850, 800, 750, 700, 650, 600, 550, 500, 450, 400, 350,
              300, 250, 200, 150, 100, 70, 50, 30, 20, 10, 7, 5, 3, 2, 1]
NI, NJ, STEP_DEG = 144, 73, 2.5

# WGS84 and normal gravity: NIMA TR8350.2.
A = 6378137.0
F = 1 / 298.257223563
E2 = 0.00669437999014
GAMMA_E, K_GAMMA, M_RATIO = 9.7803253359, 0.00193185265241, 0.00344978650684
G0 = 9.80665                # m/s², standard gravity, defines the geopotential metre
RD = 8.31432 / 0.0289644    # J/(kg K), U.S. Standard Atmosphere 1976
RHO0 = 101325 / (RD * 288.15)


def geometric(h, lat):
    """Geometric height (m) of the geopotential height h (gpm) at latitude lat."""
    s2 = np.sin(np.radians(lat)) ** 2
    gamma = GAMMA_E * (1 + K_GAMMA * s2) / np.sqrt(1 - E2 * s2)
    radius = A / (1 + F + M_RATIO - 2 * F * s2)
    return radius * h / (gamma / G0 * radius - h)


def radii(lat_rad):
    """Meridian and normal radius of curvature of WGS84, metres."""
    w2 = 1 - E2 * math.sin(lat_rad) ** 2
    n = A / math.sqrt(w2)
    return n * (1 - E2) / w2, n


# ---- decoding -------------------------------------------------------------

# (discipline, category, number) of GRIB2 code table 4.2
NAMES = {(0, 2, 2): "u", (0, 2, 3): "v", (0, 0, 0): "t", (0, 3, 5): "h"}


def grid_values(msg):
    """Values of one message as [row from south, column from 0 degrees east]."""
    want = {"gridType": "regular_ll", "Ni": NI, "Nj": NJ, "iScansNegatively": 0,
            "jScansPositively": 0, "jPointsAreConsecutive": 0, "alternativeRowScanning": 0,
            "uvRelativeToGrid": 0, "latitudeOfFirstGridPointInDegrees": 90.0,
            "longitudeOfFirstGridPointInDegrees": 0.0, "numberOfMissing": 0}
    for key, value in want.items():
        got = eccodes.codes_get(msg, key)
        if got != value:
            raise SystemExit("%s = %s, want %s" % (key, got, value))
    values = eccodes.codes_get_values(msg).reshape(NJ, NI)[::-1]
    if not np.isfinite(values).all():
        raise SystemExit("a field holds values that are not finite")
    return values


def read_file(path, hour):
    """Isobaric fields {(name, hPa): grid} and surface height of one file."""
    out, surface = {}, None
    with open(path, "rb") as f:
        while (msg := eccodes.codes_grib_new_from_file(f)) is not None:
            g = lambda key: eccodes.codes_get(msg, key, int)
            name = NAMES.get((g("discipline"), g("parameterCategory"), g("parameterNumber")))
            kind = g("typeOfFirstFixedSurface")
            if name and kind in (1, 100) and g("typeOfSecondFixedSurface") == 255:
                stamp = (g("dataDate"), g("dataTime"), g("forecastTime"))
                if stamp != (20170322, 0, hour):
                    raise SystemExit("%s: date, time, step %s" % (path, stamp))
                if kind == 1 and name == "h":
                    surface = grid_values(msg)
                elif kind == 100:
                    pa = g("scaledValueOfFirstFixedSurface") / 10 ** g("scaleFactorOfFirstFixedSurface")
                    out[name, pa / 100] = grid_values(msg)
            eccodes.codes_release(msg)
    return out, surface


class Forecast:
    """Node values: z, u, v, t, lnp as [step, row, column, level], terrain as [row, column]."""

    def __init__(self, folder):
        self.lat = np.linspace(-90, 90, NJ)
        self.lnp = np.log(np.array(LEVELS_HPA) * 100.0)
        parts = {name: [] for name in "uvth"}
        for k, file in enumerate(FILES):
            fields, surface = read_file(os.path.join(folder, file), 6 * k)
            for name in "uvth":
                parts[name].append(np.stack([fields[name, p] for p in LEVELS_HPA], axis=-1))
            if k == 0:
                self.terrain = geometric(surface, self.lat[:, None])
        self.u, self.v, self.t = (np.stack(parts[n]) for n in "uvt")
        self.z = geometric(np.stack(parts["h"]), self.lat[None, :, None, None])
        if not (np.diff(self.z, axis=-1) > 0).all():
            raise SystemExit("level heights do not rise in some column")


# ---- the field, twice -----------------------------------------------------

def plain(fc, lat, lon, z, t):
    """(u, v, T, p) by the definition, written for plainness; np.interp does the columns."""
    x, y = lon % 360 / STEP_DEG, (lat + 90) / STEP_DEG
    i, j = int(x) % NI, min(int(y), NJ - 2)
    fx, fy = x - int(x), y - j
    s = 0 if t < STEPS[1] else 1
    ft = (t - STEPS[s]) / (STEPS[s + 1] - STEPS[s])
    total = np.zeros(4)
    for ks, ws in ((s, 1 - ft), (s + 1, ft)):
        for kj, wj in ((j, 1 - fy), (j + 1, fy)):
            for ki, wi in ((i, 1 - fx), ((i + 1) % NI, fx)):
                zc = fc.z[ks, kj, ki]
                if z > zc[-1]:
                    raise ValueError("height %g is above the top level" % z)
                u, v, tt = (np.interp(z, zc, a[ks, kj, ki]) for a in (fc.u, fc.v, fc.t))
                lnp = np.interp(z, zc, fc.lnp)
                if z < zc[0]:
                    lnp = fc.lnp[0] + G0 * (zc[0] - z) / (RD * fc.t[ks, kj, ki, 0])
                total += ws * wj * wi * np.array([u, v, tt, lnp])
    return total[0], total[1], total[2], math.exp(total[3])


class Fast:
    """The same field for the integrator: cached columns in plain Python floats."""

    def __init__(self, fc):
        self.fc = fc
        self.lnp = fc.lnp.tolist()
        self.columns, self.cells, self.ground = {}, {}, fc.terrain.tolist()

    def column(self, s, j, i):
        c = self.columns.get((s, j, i))
        if c is None:
            c = self.columns[s, j, i] = tuple(a[s, j, i].tolist() for a in
                                              (self.fc.z, self.fc.u, self.fc.v, self.fc.t))
        return c

    def cell(self, s, j, i):
        c = self.cells.get((s, j, i))
        if c is None:
            e = (i + 1) % NI
            c = self.cells[s, j, i] = [self.column(ks, kj, ki) for ks in (s, s + 1)
                                       for kj in (j, j + 1) for ki in (i, e)]
        return c

    def at(self, lat, lon, z, t):
        x, y = lon % 360 / STEP_DEG, (lat + 90) / STEP_DEG
        i, j = int(x), min(int(y), NJ - 2)
        fx, fy = x - i, y - j
        if not 0 <= t <= STEPS[2]:
            raise ValueError("time %g is outside the forecast" % t)
        s = 0 if t < STEPS[1] else 1
        ft = (t - STEPS[s]) / 21600.0
        a, b, c, d = (1 - fy) * (1 - fx), (1 - fy) * fx, fy * (1 - fx), fy * fx
        gt = 1 - ft
        weights = (gt * a, gt * b, gt * c, gt * d, ft * a, ft * b, ft * c, ft * d)
        lnps = self.lnp
        u = v = tt = lnp = 0.0
        for w, (cz, cu, cv, ct) in zip(weights, self.cell(s, j, i % NI)):
            k = bisect.bisect_right(cz, z) - 1
            if k < 0:
                u += w * cu[0]
                v += w * cv[0]
                tt += w * ct[0]
                lnp += w * (lnps[0] + G0 * (cz[0] - z) / (RD * ct[0]))
                continue
            if k == len(cz) - 1:
                if z > cz[k]:
                    raise ValueError("height %g is above the top level" % z)
                k -= 1
            f = (z - cz[k]) / (cz[k + 1] - cz[k])
            u += w * (cu[k] + f * (cu[k + 1] - cu[k]))
            v += w * (cv[k] + f * (cv[k + 1] - cv[k]))
            tt += w * (ct[k] + f * (ct[k + 1] - ct[k]))
            lnp += w * (lnps[k] + f * (lnps[k + 1] - lnps[k]))
        return u, v, tt, math.exp(lnp)

    def terrain(self, lat, lon):
        x, y = lon % 360 / STEP_DEG, (lat + 90) / STEP_DEG
        i, j = int(x), min(int(y), NJ - 2)
        fx, fy = x - i, y - j
        i %= NI
        e, g = (i + 1) % NI, self.ground
        return ((1 - fy) * ((1 - fx) * g[j][i] + fx * g[j][e])
                + fy * ((1 - fx) * g[j + 1][i] + fx * g[j + 1][e]))
