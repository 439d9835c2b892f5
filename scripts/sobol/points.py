#!/usr/bin/env python3
"""Writes internal/ensemble/testdata/points.csv: points of the Sobol' sequence
without scrambling, from SciPy, to hold the project's own against.

SciPy takes the points in the order of the Gray code. What it has at place k is
point k ^ (k >> 1) in the order of the sequence's definition, which is the one
that is written: the first 64 points, and then points 2^6 to 2^15, which
together hold every direction number that 2^16 points need.

Needs Debian's python3-scipy. Run from the top of the repository:

    /usr/bin/python3 scripts/sobol/points.py
"""
import os

import numpy as np
import scipy
from scipy.stats import qmc

DIMENSIONS, DIGITS = 72, 16

drawn = qmc.Sobol(DIMENSIONS, scramble=False).random_base2(DIGITS)
whole = np.rint(drawn * 2**DIGITS).astype(int)
assert np.array_equal(whole / 2**DIGITS, drawn), "a coordinate has more than 16 binary digits"
place = {k ^ (k >> 1): k for k in range(2**DIGITS)}

os.makedirs("internal/ensemble/testdata", exist_ok=True)
with open("internal/ensemble/testdata/points.csv", "w") as f:
    f.write("# Sobol' points without scrambling: the point's number, then its %d coordinates times 2^%d.\n" % (DIMENSIONS, DIGITS))
    f.write("# Made by scripts/sobol/points.py from scipy.stats.qmc.Sobol, SciPy %s, numpy %s.\n" % (scipy.__version__, np.__version__))
    for i in list(range(64)) + [2**k for k in range(6, DIGITS)]:
        f.write(",".join(str(v) for v in [i] + list(whole[place[i]])) + "\n")
