#!/usr/bin/python3
"""Prints every value that ecCodes decodes from a GRIB2 file, for tests that hold
the project's own encoder and decoder against it.

    values.py FILE

Writes to standard output, for each field in the order of the file, the number of
its values as four octets and then the values as float64, rows from south to
north, each from west to east; all little-endian. Ends with status 3, having
written nothing, where Python has no ecCodes.

Needs python3-eccodes and python3-numpy of Debian 12 (ecCodes 2.28).
"""

import struct
import sys

try:
    import eccodes
    import numpy
except ImportError:
    sys.exit(3)


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    eccodes.codes_grib_multi_support_on()
    with open(sys.argv[1], "rb") as source:
        while (handle := eccodes.codes_grib_new_from_file(source)) is not None:
            values = eccodes.codes_get_values(handle)
            rows = values.reshape(eccodes.codes_get(handle, "Nj"), eccodes.codes_get(handle, "Ni"))
            if not eccodes.codes_get(handle, "jScansPositively"):
                rows = rows[::-1]
            sys.stdout.buffer.write(struct.pack("<I", rows.size))
            sys.stdout.buffer.write(numpy.ascontiguousarray(rows, dtype="<f8").tobytes())
            eccodes.codes_release(handle)


if __name__ == "__main__":
    main()
