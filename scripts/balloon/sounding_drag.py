#!/usr/bin/env python3
"""Fits the shape of the drag law of soundings (balloon.SoundingDrag).

Reads six open ascents (folder soundings_csv of the reference data, columns
t_s,alt_m,pres_hPa,lat_deg,lon_deg,u_ms,v_ms,temp_C), takes the mean speed of
each kilometre, and fits

    Cd = above + (below - above)/(1 + (Re/critical)^power)

with one free lift for each ascent. As neither gas nor masses are known, only
below/above, power, and critical for an assumed diameter at release follow.
Then each ascent in turn is left out and foretold by the law of the others. SI.

    THISTLEDOWN_REFERENCE=FOLDER /usr/bin/python3 scripts/balloon/sounding_drag.py
"""

import glob
import os
import sys

import numpy as np
from scipy.optimize import least_squares

RD = 8.31432 / 0.0289644  # J/(kg K), U.S. Standard Atmosphere 1976
LEFT_OUT = "20060121_171600"  # slowed to 1.9 m/s and ended at 16 km: a leak or ice
ABOVE = 0.27  # the level, which the fit cannot tell


def layers(path):
    """Speed, density and viscosity of each kilometre up to the burst."""
    rows = [line.strip().split(",") for line in open(path) if not line.startswith(("#", "t_s"))]
    data = np.array([[float(x) if x else np.nan for x in r] for r in rows])
    data = data[: data[:, 1].argmax()]
    t, z, p, temp = data[:, 0], data[:, 1], data[:, 2] * 100, data[:, 7] + 273.15
    out = []
    for low in np.arange(500, z.max() - 1000, 1000):
        m = (z >= low) & (z < low + 1000)
        if m.sum() < 20:
            continue
        speed = (z[m][-1] - z[m][0]) / (t[m][-1] - t[m][0])
        mean_t = np.nanmean(temp[m])
        out.append((speed, np.nanmean(p[m]) / (RD * mean_t), 1.458e-6 * mean_t**1.5 / (mean_t + 110.4)))
    return np.array(out)


def foretold(law, lift, diameter, ascent):
    """The steady speed in each layer; lift in N, diameter in m at 1.225 kg/m³."""
    below, critical, power = np.exp(law)
    _, rho, mu = ascent.T
    d = diameter * (rho / 1.225) ** (-1 / 3)
    v = np.full(len(d), 5.0)
    for _ in range(80):
        cd = ABOVE + (below - ABOVE) / (1 + (rho * v * d / mu / critical) ** power)
        v = 0.5 * v + 0.5 * np.sqrt(8 * lift / (np.pi * rho * cd * d * d))
    return v


def fit(ascents, diameter):
    """The law as logarithms, and the root mean square of the misfit."""
    def off(x):
        return np.concatenate([np.log(foretold(x[:3], np.exp(k), diameter, a) / a[:, 0])
                               for a, k in zip(ascents, x[3:])])
    start = np.r_[np.log([0.9, 1.8e5, 3]), np.log(np.full(len(ascents), 5.0))]
    found = least_squares(off, start)
    return found.x[:3], np.sqrt(np.mean(found.fun**2))


def main():
    folder = os.environ.get("THISTLEDOWN_REFERENCE")
    if not folder:
        sys.exit("THISTLEDOWN_REFERENCE: want the folder of the reference data")
    names = [n for n in sorted(glob.glob(os.path.join(folder, "soundings_csv", "arm*.csv"))) if LEFT_OUT not in n]
    ascents = [layers(n) for n in names]
    for diameter in (1.4, 1.55, 1.7):
        law, rms = fit(ascents, diameter)
        print("diameter %.2f m: below/above %.2f, critical Re %.3g, power %.2f, rms %.3f"
              % (diameter, np.exp(law[0]) / ABOVE, np.exp(law[1]), np.exp(law[2]), rms))
    for i, name in enumerate(names):
        law, _ = fit(ascents[:i] + ascents[i + 1:], 1.55)
        one = least_squares(lambda k: np.log(foretold(law, np.exp(k[0]), 1.55, ascents[i]) / ascents[i][:, 0]), [1.5])
        print("%s left out: below/above %.2f, power %.2f, rms of it %.3f"
              % (os.path.basename(name), np.exp(law[0]) / ABOVE, np.exp(law[2]), np.sqrt(np.mean(one.fun**2))))


if __name__ == "__main__":
    main()
