#!/usr/bin/python3
"""Writes what ecCodes decodes from GRIB2 files, for the tests of internal/grib.

    decode_reference.py OUT FILE...

For each FILE it writes OUT/NAME.jsonl.gz: one JSON object for each field, in the
order of the file, with the header keys that the tests compare, the least,
greatest and mean value, the number of missing values, and 32 sampled points.

Points are counted in rows from south to north, each from west to east. Values
are the float32 next to what ecCodes gives as double, with the nine significant
digits that tell one float32 from the next; the mean is that of the doubles.

Needs python3-eccodes and python3-numpy of Debian 12 (ecCodes 2.28). The same
FILE gives the same octets.
"""

import gzip
import json
import os
import random
import sys

import eccodes
import numpy

SAMPLES = 32
MISSING = -9.87654321e30  # no value of any field
KEYS = {
    "discipline": "discipline",
    "category": "parameterCategory",
    "number": "parameterNumber",
    "centre": "centre",
    "product": "productDefinitionTemplateNumber",
    "surface": "typeOfFirstFixedSurface",
    "surface2": "typeOfSecondFixedSurface",
    "packing": "dataRepresentationTemplateNumber",
    "nx": "Ni",
    "ny": "Nj",
    "reference_date": "dataDate",
    "reference_time": "dataTime",
    "valid_date": "validityDate",
    "valid_time": "validityTime",
}
NUMERIC = {"surface", "surface2", "centre"}


def number(x):
    """x as the shortest of at most nine digits that is the same float32."""
    return float("%.9g" % numpy.float32(x))


def scaled(handle, which):
    """Value of a fixed surface in its SI unit, None if the message has none.

    ecCodes 2.28 takes the scaled value as unsigned; by regulation 92.1.5 its
    first bit is a sign (NCEP's potential vorticity surfaces have negative ones).
    """
    factor, value = "scaleFactorOf%sFixedSurface" % which, "scaledValueOf%sFixedSurface" % which
    if eccodes.codes_is_missing(handle, factor) or eccodes.codes_is_missing(handle, value):
        return None
    units = eccodes.codes_get(handle, value, int)
    if units >= 1 << 31:
        units = (1 << 31) - units
    return float("%.12g" % (units / 10.0 ** eccodes.codes_get(handle, factor)))


def step(handle):
    """Begin and end of the step, in hours."""
    eccodes.codes_set(handle, "stepUnits", 1)
    first, _, last = str(eccodes.codes_get(handle, "stepRange")).partition("-")
    return [int(first), int(last or first)]


def north_up(handle, values):
    """values as rows from south to north, each from west to east."""
    if eccodes.codes_get(handle, "gridType") != "regular_ll":
        sys.exit("grid %s: want regular_ll" % eccodes.codes_get(handle, "gridType"))
    scan = eccodes.codes_get(handle, "scanningMode")
    if scan & ~0x40:
        sys.exit("scanning mode %d: want 0 or 64" % scan)
    rows = values.reshape(eccodes.codes_get(handle, "Nj"), eccodes.codes_get(handle, "Ni"))
    return (rows if scan & 0x40 else rows[::-1]).reshape(-1)


def field(handle, name, index):
    out = {}
    for key, code in KEYS.items():
        out[key] = eccodes.codes_get(handle, code, int if key in NUMERIC else None)
    out["value"], out["value2"] = scaled(handle, "First"), scaled(handle, "Second")
    out["step"] = step(handle)
    first, last = [
        [eccodes.codes_get(handle, "%sOf%sGridPointInDegrees" % (axis, corner)) for axis in ("latitude", "longitude")]
        for corner in ("First", "Last")
    ]
    out["south_west"] = [min(first[0], last[0]), first[1]]
    out["spacing"] = [eccodes.codes_get(handle, axis + "DirectionIncrementInDegrees") for axis in "ji"]

    eccodes.codes_set(handle, "missingValue", MISSING)
    values = north_up(handle, eccodes.codes_get_values(handle))
    there = values != MISSING
    out["missing"] = int(values.size - there.sum())
    if there.any():
        present = values[there]
        out["min"], out["max"] = number(present.min()), number(present.max())
        out["mean"] = float("%.12g" % present.mean())
    draw = random.Random("%s %d" % (name, index))
    out["index"] = sorted(draw.sample(range(values.size), SAMPLES))
    out["sample"] = [number(values[i]) if there[i] else None for i in out["index"]]
    return out


def main():
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    eccodes.codes_grib_multi_support_on()
    for path in sys.argv[2:]:
        name = os.path.basename(path)
        lines = []
        with open(path, "rb") as source:
            while (handle := eccodes.codes_grib_new_from_file(source)) is not None:
                lines.append(json.dumps(field(handle, name, len(lines)), separators=(",", ":")) + "\n")
                eccodes.codes_release(handle)
        with open(os.path.join(sys.argv[1], name + ".jsonl.gz"), "wb") as raw:
            with gzip.GzipFile(filename="", fileobj=raw, mode="wb", compresslevel=9, mtime=0) as out:
                out.write("".join(lines).encode())
        print("%s: %d fields" % (name, len(lines)))


if __name__ == "__main__":
    main()
