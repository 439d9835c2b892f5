#!/usr/bin/env python3
"""Writes internal/ensemble/directions.go: the initial direction numbers of the
Sobol' sequence that package ensemble draws from.

The numbers are those of S. Joe and F. Y. Kuo, "Constructing Sobol' sequences
with better two-dimensional projections", SIAM J. Sci. Comput. 30 (2008)
2635-2654, file new-joe-kuo-6.21201, as SciPy carries them.

Needs Debian's python3-scipy. Run from the top of the repository:

    /usr/bin/python3 scripts/sobol/directions.py
"""
import os
import sys

import numpy as np
import scipy
from scipy.stats import _sobol

DIMENSIONS = 72

table = np.load(os.path.join(os.path.dirname(_sobol.__file__), "_sobol_direction_numbers.npz"))
poly, vinit = table["poly"], table["vinit"]
rows = []
for d in range(1, DIMENSIONS):
    p = int(poly[d])
    degree = p.bit_length() - 1
    rows.append("\t{%d, []uint32{%s}}," % (p, ", ".join(str(int(m)) for m in vinit[d][:degree])))

out = """// Made by scripts/sobol/directions.py; not to be edited.

package ensemble

// primitive is a primitive polynomial over GF(2), its coefficients as bits, and
// the initial direction numbers that go with it.
type primitive struct {
	polynomial uint32
	initial    []uint32
}

// primitives are those of dimensions 2 and on, in order. Source: [JoeKuo2008],
// new-joe-kuo-6.21201, as carried by SciPy.
var primitives = [...]primitive{
%s
}
""" % "\n".join(rows)
with open("internal/ensemble/directions.go", "w") as f:
    f.write(out)
print("wrote %d dimensions from SciPy %s" % (DIMENSIONS, scipy.__version__), file=sys.stderr)
