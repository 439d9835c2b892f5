#!/usr/bin/python3
"""Writes GRIB2 messages on other grids, and where their points lie.

    grids_reference.py OUT FILE

FILE is a GFS forecast of the grib module. From its 500 hPa wind it makes
OUT/grids.grib2: messages on Lambert, rotated and Gaussian grids, and of ensemble
members, with the first values of that field (they have no meaning there) in
simple packing. OUT/grids.jsonl.gz has one JSON object for each of them: its name,
what ecCodes reads from its headers, latitude and longitude of each point in
steps of 1e-7 degrees, and the values, in the order of the message.

Places are those of PROJ (lcc and ob_tran) for Lambert and rotated grids, and of
the geoiterator of ecCodes for the others. Where ecCodes can say, the script checks
that the two agree: within 2e-7 degrees on Lambert grids scanned +i, +j by rows
(ecCodes 2.28 passes over other scanning modes there), within 1e-5 degrees on
rotated ones, which it rounds, without an angle of rotation (which it adds to the
longitude of the pole instead of turning the coordinates about their own axis).

Needs python3-eccodes, python3-numpy and proj-bin of Debian 12 (ecCodes 2.28,
PROJ 9.1). The same FILE gives the same octets.
"""

import gzip
import json
import os
import subprocess
import sys

import eccodes
import numpy

UNIT = 1e7  # of a degree


def lambert(nx, ny, lat, lon, parallels, lov, spacing, mode=0x40, **more):
    return dict(
        gridDefinitionTemplateNumber=30,
        Nx=nx,
        Ny=ny,
        numberOfDataPoints=nx * ny,
        latitudeOfFirstGridPointInDegrees=lat,
        longitudeOfFirstGridPointInDegrees=lon,
        LaDInDegrees=parallels[0],
        LoVInDegrees=lov,
        DxInMetres=spacing[0],
        DyInMetres=spacing[1],
        Latin1InDegrees=parallels[0],
        Latin2InDegrees=parallels[1],
        resolutionAndComponentFlags=8,
        scanningMode=mode,
        **more,
    )


def corners(template, ni, nj, first, last, step, mode, flags, **more):
    keys = dict(
        gridDefinitionTemplateNumber=template,
        Ni=ni,
        Nj=nj,
        numberOfDataPoints=ni * nj,
        latitudeOfFirstGridPointInDegrees=first[0],
        longitudeOfFirstGridPointInDegrees=first[1],
        latitudeOfLastGridPointInDegrees=last[0],
        longitudeOfLastGridPointInDegrees=last[1],
        iDirectionIncrementInDegrees=step[0],
    )
    if len(step) > 1:
        keys["jDirectionIncrementInDegrees"] = step[1]
    return dict(keys, resolutionAndComponentFlags=flags, scanningMode=mode, **more)


def rotated(pole, angle, *args, **more):
    return corners(
        1,
        *args,
        latitudeOfSouthernPoleInDegrees=pole[0],
        longitudeOfSouthernPoleInDegrees=pole[1],
        angleOfRotationInDegrees=angle,
        **more,
    )


def gaussian(n, *args, **more):
    return corners(40, *args, N=n, **more)


def gauss_latitude(n, row):
    """Latitude of a row, 0 in the north."""
    roots, _ = numpy.polynomial.legendre.leggauss(2 * n)
    return float(numpy.degrees(numpy.arcsin(roots[::-1][row])))


# NCEP grid 211 as NCEP Office Note 388, table B, has it; the others are invented.
CASES = {
    "lambert grid 211": lambert(93, 65, 12.19, 226.541, (25, 25), 265, (81271, 81271)),
    "lambert secant sphere": lambert(21, 17, 35.5, 350, (30, 60), 10, (50000, 40000), shapeOfTheEarth=0),
    "lambert WGS84, rows south": lambert(21, 17, 61.25, 351, (46.5, 46.5), 2, (60000, 60000), 0x00, shapeOfTheEarth=5),
    "lambert GRS80 secant, columns west": lambert(21, 17, 40, 20, (33, 45), 3, (30000, 25000), 0xC0, shapeOfTheEarth=4),
    "lambert southern, across the date line": lambert(
        21, 17, -55, 165, (-30, -60), 178, (80000, 70000), 0x40, shapeOfTheEarth=5, projectionCentreFlag=128
    ),
    "lambert sphere of given radius, columns": lambert(
        13, 9, 47, 5, (47, 47), 8, (100000, 100000), 0x60, shapeOfTheEarth=1,
        scaleFactorOfRadiusOfSphericalEarth=0, scaledValueOfRadiusOfSphericalEarth=6371200,
    ),
    "rotated": rotated((-37.5, 332.5), 0, 25, 19, (-20, 340), (16, 28), (2, 2), 0x40, 0x38),
    "rotated, rows south": rotated((-30, 10), 0, 25, 19, (18, 0), (-18, 48), (2, 2), 0x00, 0x38),
    "rotated, round the globe": rotated((12, 250), 0, 36, 19, (-90, 0), (90, 350), (10, 10), 0x40, 0x38),
    "rotated by an angle": rotated((-30, 10), 25, 25, 19, (-18, 340), (18, 28), (2, 2), 0x40, 0x38),
    "gaussian N32": gaussian(
        32, 128, 64, (gauss_latitude(32, 0), 0), (gauss_latitude(32, 63), 357.1875), (2.8125,), 0x00, 0x20
    ),
    "gaussian N32, part": gaussian(
        32, 17, 11, (gauss_latitude(32, 20), 342), (gauss_latitude(32, 10), 27), (2.8125,), 0x40, 0x20
    ),
    "gaussian N320, part": gaussian(
        320, 17, 23, (gauss_latitude(320, 3), 10), (gauss_latitude(320, 25), 14.5), (0.28125,), 0x00, 0x20
    ),
}

ISOBARIC = dict(typeOfFirstFixedSurface=100, typeOfSecondFixedSurface=255)
POINTS = corners(0, 4, 3, (50, 10), (46, 16), (2, 2), 0x00, 0x30)


def member(product, kind, number, of, data, level=(0, 50000), **more):
    factor, value = level
    return dict(
        POINTS,
        productDefinitionTemplateNumber=product,
        typeOfEnsembleForecast=kind,
        perturbationNumber=number,
        numberOfForecastsInEnsemble=of,
        typeOfProcessedData=data,
        scaleFactorOfFirstFixedSurface=factor,
        scaledValueOfFirstFixedSurface=value,
        **more,
    )


INTERVAL = dict(
    yearOfEndOfOverallTimeInterval=2017,
    monthOfEndOfOverallTimeInterval=3,
    dayOfEndOfOverallTimeInterval=22,
    hourOfEndOfOverallTimeInterval=6,
    minuteOfEndOfOverallTimeInterval=0,
    secondOfEndOfOverallTimeInterval=0,
    typeOfStatisticalProcessing=2,
    lengthOfTimeRange=6,
    indicatorOfUnitForTimeRange=1,
)

MEMBERS = {
    "member low-resolution control": member(1, 1, 0, 30, 3),
    "member positive, 40 Pa": member(1, 3, 7, 30, 4, (1, 400)),
    "member negative, 850 hPa": member(1, 2, 10, 21, 5, (-2, 850)),
    "member of no kind": member(1, 255, 50, 51, 4, (-3, 100)),
    "member local kind": member(1, 192, 200, 255, 1),
    "member over an interval": member(11, 3, 20, 30, 4, (0, 50000), **INTERVAL),
    "control as if single": dict(POINTS, typeOfProcessedData=3),
    "member as if control": member(1, 3, 3, 30, 3),
}

HEADER = {
    "template": "gridDefinitionTemplateNumber",
    "product": "productDefinitionTemplateNumber",
    "nx": "Ni",
    "ny": "Nj",
    "scanning": "scanningMode",
    "along_grid": "uvRelativeToGrid",
    "kind": "typeOfEnsembleForecast",
    "member": "perturbationNumber",
    "of": "numberOfForecastsInEnsemble",
    "data_type": "typeOfProcessedData",
}


def wind(path):
    """The handle of the eastward wind at 500 hPa."""
    with open(path, "rb") as file:
        while (h := eccodes.codes_grib_new_from_file(file)) is not None:
            keys = [eccodes.codes_get(h, k) for k in ("parameterCategory", "parameterNumber", "typeOfLevel", "level")]
            if keys == [2, 2, "isobaricInhPa", 500]:
                return h
            eccodes.codes_release(h)
    raise SystemExit("no wind at 500 hPa")


def build(source, values, keys):
    h = eccodes.codes_clone(source)
    eccodes.codes_set(h, "packingType", "grid_simple")
    # Templates first: setting them makes the section anew.
    for k in sorted(keys, key=lambda k: not k.endswith("TemplateNumber")):
        eccodes.codes_set(h, k, keys[k])
    n = keys["numberOfDataPoints"]
    eccodes.codes_set(h, "bitsPerValue", 8)
    eccodes.codes_set_values(h, values[:n])
    return h


def run(program, args, points, *flags):
    text = "".join(f"{x:.12f} {y:.12f}\n" for x, y in points)
    out = subprocess.run([program, *flags, "-f", "%.12f", *args], input=text, capture_output=True, text=True, check=True)
    return numpy.array([[float(v) for v in line.split()[:2]] for line in out.stdout.splitlines()])


def places_by_proj(keys, h):
    """Longitudes and latitudes of the points in the order of the message."""
    template = keys["gridDefinitionTemplateNumber"]
    mode = keys["scanningMode"]
    ni, nj = (eccodes.codes_get(h, k) for k in ("Ni", "Nj"))
    west, south = (1 if mode & bit else -1 for bit in (0x80, 0x40))
    if mode & 0x20:
        grid = [(-west * i, south * j) for i in range(ni) for j in range(nj)]
    else:
        grid = [(-west * i, south * j) for j in range(nj) for i in range(ni)]
    get = lambda key: eccodes.codes_get(h, key)
    if template == 30:
        axes = [get("earthMajorAxisInMetres"), get("earthMinorAxisInMetres")] if not get("earthIsOblate") == 0 else [get("radiusInMetres")] * 2
        args = [
            "+proj=lcc", f"+lat_1={get('Latin1InDegrees')}", f"+lat_2={get('Latin2InDegrees')}", f"+lat_0={get('Latin1InDegrees')}",
            f"+lon_0={get('LoVInDegrees')}", f"+a={axes[0]}", f"+b={axes[1]}",
        ]
        x, y = run("proj", args, [(get("longitudeOfFirstGridPointInDegrees"), get("latitudeOfFirstGridPointInDegrees"))])[0]
        dx, dy = get("DxInMetres"), get("DyInMetres")
        return run("proj", args, [(x + i * dx, y + j * dy) for i, j in grid], "-I")
    if template == 1:
        # Rotated to geographic; o_lon_p is minus the angle in PROJ's own
        # conversion of "Pole rotation (GRIB convention)" from WKT.
        args = [
            "+proj=ob_tran", "+o_proj=longlat", f"+o_lat_p={-get('latitudeOfSouthernPoleInDegrees')}",
            f"+o_lon_p={-get('angleOfRotationInDegrees')}", f"+lon_0={get('longitudeOfSouthernPoleInDegrees')}", "+R=6371229",
            "+to", "+proj=longlat", "+R=6371229",
        ]
        lat, lon = get("latitudeOfFirstGridPointInDegrees"), get("longitudeOfFirstGridPointInDegrees")
        di, dj = get("iDirectionIncrementInDegrees"), get("jDirectionIncrementInDegrees")
        return run("cs2cs", args, [(lon + i * di, lat + j * dj) for i, j in grid])
    return None


def apart(a, b):
    """The greatest distance in degrees along an axis of longitude and latitude, short of the poles."""
    there = numpy.abs(a[:, 1]) < 89.999
    return max(
        numpy.max(numpy.abs((a[there, 0] - b[there, 0] + 180) % 360 - 180)),
        numpy.max(numpy.abs(a[:, 1] - b[:, 1])),
    )


def main():
    out, path = sys.argv[1:]
    source = wind(path)
    values = numpy.round(eccodes.codes_get_values(source))
    messages, lines = [], []
    for name, keys in {**CASES, **MEMBERS}.items():
        h = build(source, values, keys)
        message = eccodes.codes_get_message(h)
        messages.append(message)
        eccodes.codes_release(h)
        h = eccodes.codes_new_from_message(message)
        rows = eccodes.codes_grib_iterator_new(h, 0)
        points = []
        while point := eccodes.codes_grib_iterator_next(rows):
            points.append((point[1], point[0]))
        eccodes.codes_grib_iterator_delete(rows)
        places = numpy.array(points)
        by_proj = places_by_proj(keys, h)
        if by_proj is not None:
            if keys["scanningMode"] == 0x40 and not keys.get("angleOfRotationInDegrees"):
                distance = apart(places, by_proj)
                print(f"{name}: ecCodes and PROJ differ by {distance:.2g} degrees")
                if distance > (2e-7 if keys["gridDefinitionTemplateNumber"] == 30 else 1e-5):
                    raise SystemExit(1)
            places = by_proj
        line = {"name": name}
        for key, code in HEADER.items():
            line[key] = eccodes.codes_get_long(h, code) if eccodes.codes_is_defined(h, code) else None
        line["level"] = eccodes.codes_get_double(h, "scaledValueOfFirstFixedSurface") / 10 ** eccodes.codes_get_long(h, "scaleFactorOfFirstFixedSurface")
        line["lat"] = [round(v * UNIT) for v in places[:, 1]]
        line["lon"] = [round(((v + 180) % 360 - 180) * UNIT) for v in places[:, 0]]
        line["values"] = [round(v, 4) for v in eccodes.codes_get_values(h)]
        lines.append(json.dumps(line))
    with open(os.path.join(out, "grids.grib2"), "wb") as file:
        file.write(b"".join(messages))
    with open(os.path.join(out, "grids.jsonl.gz"), "wb") as file:
        with gzip.GzipFile(filename="", mode="wb", fileobj=file, mtime=0, compresslevel=9) as packed:
            packed.write(("\n".join(lines) + "\n").encode())


main()
