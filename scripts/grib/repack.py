#!/usr/bin/python3
"""Re-packs real GFS fields with ecCodes, for the tests of internal/grib.

    repack.py OUT DIR

DIR is where the grib module keeps its GFS files (see internal/grib/testdata).
Writes OUT/repacked.grib2.gz, messages in the packings 5.0, 5.2, 5.3, 5.4, 5.41
and 5.42, in many widths, blocks, intervals and flags, and a window of one field
in each scanning mode; and OUT/repacked.f32.gz, what ecCodes decodes from each
message: float32, little-endian, message behind message, rows from south to north,
each from west to east, by the latitudes and longitudes of the iterator of
ecCodes; NaN where missing. All is drawn with a fixed seed.

ecCodes 2.28 takes and gives values in the order of the message, and its iterator
does not know of bit 4 of the mode, by which every second line goes backward: lines
are turned here.

Needs python3-eccodes and python3-numpy of Debian 12 (ecCodes 2.28).
"""

import gzip
import os
import random
import sys

import eccodes
import numpy

MISSING = -9.87654321e30  # no value of any field
PACKINGS = ["simple", "complex", "complex_spatial_differencing", "ieee", "png", "ccsds"]


def fields(path, wanted):
    """Values of the fields of a file, rows from north to south, by name."""
    out = {}
    eccodes.codes_grib_multi_support_on()
    with open(path, "rb") as source:
        while (handle := eccodes.codes_grib_new_from_file(source)) is not None:
            key = eccodes.codes_get(handle, "shortName"), eccodes.codes_get(handle, "level")
            if key in wanted and key not in out:
                eccodes.codes_set(handle, "missingValue", MISSING)
                shape = eccodes.codes_get(handle, "Nj"), eccodes.codes_get(handle, "Ni")
                out[key] = eccodes.codes_get_values(handle).reshape(shape)
            eccodes.codes_release(handle)
    return out


def turned(values, nj, ni, mode):
    """Values of which every second line of adjacent points is turned round, if the mode has it so."""
    lines = values.reshape((ni, nj) if mode & 0x20 else (nj, ni)).copy()
    if mode & 0x10:
        lines[1::2] = lines[1::2, ::-1]
    return lines.ravel()


def stream(rows, mode):
    """Rows from south to north in the order of a scanning mode."""
    nj, ni = rows.shape
    if not mode & 0x40:
        rows = rows[::-1]
    if mode & 0x80:
        rows = rows[:, ::-1]
    if mode & 0x20:
        rows = rows.T
    return turned(rows.ravel(), nj, ni, mode)


def message(rows, step, mode, packing, **keys):
    """One message of rows from south to north, step degrees apart."""
    handle = eccodes.codes_grib_new_from_samples("regular_ll_pl_grib2")
    nj, ni = rows.shape
    south, north, west, east = -step * (nj // 2), step * (nj - 1 - nj // 2), 0, step * (ni - 1)
    if not mode & 0x40:
        south, north = north, south
    if mode & 0x80:
        west, east = east, west
    grid = {
        "Ni": ni, "Nj": nj, "scanningMode": mode,
        "iDirectionIncrementInDegrees": step, "jDirectionIncrementInDegrees": step,
        "latitudeOfFirstGridPointInDegrees": south, "latitudeOfLastGridPointInDegrees": north,
        "longitudeOfFirstGridPointInDegrees": west, "longitudeOfLastGridPointInDegrees": east,
        "missingValue": MISSING, "bitmapPresent": int((rows == MISSING).any()),
    }
    for key, value in grid.items():
        eccodes.codes_set(handle, key, value)
    eccodes.codes_set_values(handle, stream(rows, mode))
    # ecCodes changes the packing of values that are there already only.
    for key, value in {"packingType": "grid_" + packing, **keys}.items():
        eccodes.codes_set(handle, key, value)
    eccodes.codes_set_values(handle, stream(rows, mode))
    return eccodes.codes_get_message(handle)


def scanned(rows, wide):
    """A window in each scanning mode and packing, with and without a bitmap.

    ecCodes writes no PNG image longer than its values are without packing, as small
    ones are: these take the wide window.
    """
    holes = rows.copy()
    holes[2, 1:4] = holes[5, 0] = MISSING
    for mode in range(0, 256, 16):
        for packing in PACKINGS:
            bits = {} if packing == "ieee" else {"bitsPerValue": 11}
            for window in (rows, holes) if packing in ("simple", "ccsds") else (rows,):
                yield message(wide if packing == "png" else window, 2.5, mode, packing, **bits)


def coded(sources):
    """CCSDS in many widths, blocks, intervals and flags, drawn by a seeded rule.

    Not flag 0x20 (intervals padded to whole octets): libaec 1.0.6 sets it without
    padding when it writes, and cannot read what it has written.
    """
    draw = random.Random("ccsds")
    for bits in (1, 2, 3, 4, 5, 8, 9, 12, 16, 17, 20, 24, 25, 28):
        for block in (8, 16, 32, 64):
            rows = draw.choice(sources)
            flags = 0x06 | draw.choice((0, 8, 8, 8))
            if bits <= 4:
                flags |= draw.choice((0, 0x10))
            yield message(rows, 10, 0, "ccsds", bitsPerValue=bits, ccsdsFlags=flags,
                          ccsdsBlockSize=block, ccsdsRsi=draw.choice((1, 2, 5, 63, 65, 128, 4096)))


def packed(sources, wide):
    """The other packings in several widths."""
    draw = random.Random("packed")
    for bits in (1, 3, 4, 7, 8, 10, 16, 20, 24, 28, 32):
        yield message(wide, 2.5, 0, "png", bitsPerValue=bits)
        yield message(draw.choice(sources), 10, 0, "simple", bitsPerValue=bits)
    for bits in (4, 9, 13, 16):
        for packing in ("complex", "complex_spatial_differencing"):
            yield message(draw.choice(sources), 10, 0, packing, bitsPerValue=bits)
    for precision in (1, 2):
        for rows in sources[:3]:
            yield message(rows, 10, 0, "ieee", precision=precision)


def octets(*parts):
    """Numbers with their sizes in octets, first octet highest."""
    return b"".join(n.to_bytes(size, "big") for n, size in parts)


def bitless(template, management):
    """Complex packing with group references of 0 bits and missing values.

    No encoder is known to write it. Template 7.2 says that all ones in the reference
    of a group of width 0 are a missing value, which for 0 bits each reference is.
    """
    widths = [3, 0, 2, 1, 4, 0]
    lengths = [9, 9, 17, 5, 9, 14]
    draw = random.Random("bitless %d %d" % (template, management))
    data = "".join(format(draw.randrange(2**w), "0%db" % w) for w, n in zip(widths, lengths) if w for _ in range(n))
    groups = "".join(format(w, "03b") for w in widths), "".join(format(n, "05b") for n in lengths)
    pad = lambda text: int(text.ljust(-(-len(text) // 8) * 8, "0"), 2).to_bytes(-(-len(text) // 8), "big")
    extra = octets((5, 1), (0x82, 1)) if template == 3 else b""
    seven = octets((7, 1)) + extra + b"".join(pad(text) for text in (*groups, data))
    five = octets((5, 1), (63, 4), (template, 2), (0x41200000, 4), (0, 2), (1, 2), (0, 1), (0, 1),
                  (1, 1), (management, 1), (0, 8), (6, 4), (0, 1), (3, 1), (0, 4), (1, 1), (14, 4), (5, 1))
    five += octets((1, 1), (1, 1)) if template == 3 else b""
    whole = message(numpy.zeros((7, 9)), 2.5, 0x40, "simple", bitsPerValue=1)
    head, at = b"", 16
    while whole[at + 4] < 5:
        length = int.from_bytes(whole[at:at + 4], "big")
        head += whole[at:at + length]
        at += length
    body = head + octets((4 + len(five), 4)) + five + octets((6, 4), (6, 1), (255, 1)) + octets((4 + len(seven), 4)) + seven + b"7777"
    return whole[:8] + octets((16 + len(body), 8)) + body


def decode(encoded):
    """What ecCodes makes of a message: rows from south to north, west to east."""
    handle = eccodes.codes_new_from_message(encoded)
    eccodes.codes_set(handle, "missingValue", MISSING)
    nj, ni, mode = (eccodes.codes_get(handle, key) for key in ("Nj", "Ni", "scanningMode"))
    values = turned(eccodes.codes_get_values(handle), nj, ni, mode)
    places = [(round(p["lat"], 3), round(p["lon"], 3)) for p in eccodes.codes_grib_get_data(handle)]
    values = values[sorted(range(ni * nj), key=places.__getitem__)]
    eccodes.codes_release(handle)
    return numpy.where(values == MISSING, numpy.nan, values).astype("<f4").tobytes()


def write(path, content):
    with open(path, "wb") as raw:
        with gzip.GzipFile(filename="", fileobj=raw, mode="wb", compresslevel=9, mtime=0) as out:
            out.write(content)


def main():
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    wanted = {("gh", 500): "height", ("u", 250): "wind", ("tp", 0): "rain", ("acpcp", 0): "rain",
              ("soilw", 0): "soil", ("crain", 0): "raining", ("cwork", 0): "work"}
    found = fields(os.path.join(sys.argv[2], "gfs.t00z.pgrb2.2p50.f006"), wanted)
    height = found["gh", 500]
    sources = [field[::4, ::4][::-1] for _, field in sorted(found.items())]
    wide = height[10:40, 20:60][::-1]
    messages = [*scanned(height[20:27, 30:39], wide), *coded(sources), *packed(sources, wide)]
    messages += [bitless(template, management) for template in (2, 3) for management in (1, 2)]
    write(os.path.join(sys.argv[1], "repacked.grib2.gz"), b"".join(messages))
    write(os.path.join(sys.argv[1], "repacked.f32.gz"), b"".join(map(decode, messages)))
    print("%d messages" % len(messages))


if __name__ == "__main__":
    main()
