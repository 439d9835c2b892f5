#!/usr/bin/python3
"""Makes the small rasters of internal/ground/testdata/rasters and what GDAL reads in them.

    scripts/ground/rasters.py              the rasters, points.csv and sums.csv
    scripts/ground/rasters.py DATA         only reference.csv, from the reference data in folder DATA

All values are invented (see value); they are no heights and no land cover of
any place. The script needs GDAL's Python bindings and gdallocationinfo: Debian
packages python3-gdal and gdal-bin (3.6.2 was used).

points.csv holds, for places in each raster, the value that gdallocationinfo
-wgs84 gives there; sums.csv the CRC-32 of all of a raster's values by row, as
little-endian floats of 64 bits, with its size. reference.csv holds both for the
files of the reference data, which are not copied.
"""
import os
import random
import subprocess
import sys
import zlib

import numpy
from osgeo import gdal, osr

gdal.UseExceptions()
OUT = os.path.join(os.path.dirname(__file__), "..", "..", "internal", "ground", "testdata", "rasters")
NX, NY = 37, 29


def value(form, nx=NX, ny=NY, seed=1):
    """A hill with a step and some noise, so that neighbours differ."""
    rng = numpy.random.default_rng(seed)
    j, i = numpy.mgrid[0:ny, 0:nx]
    v = 90 + 40 * numpy.sin(i / 5) * numpy.cos(j / 4) + 30 * (i > j) + rng.integers(0, 9, (ny, nx))
    if form == gdal.GDT_Float32:
        return (v * 13.7).astype("float32")
    if form in (gdal.GDT_Int16, gdal.GDT_Int32):
        return numpy.round((v - 100) * (100 if form == gdal.GDT_Int16 else 70001)).astype("int64")
    if form in (gdal.GDT_UInt16, gdal.GDT_UInt32):
        return numpy.round(v * (300 if form == gdal.GDT_UInt16 else 20000001)).astype("int64")
    return numpy.round(v).astype("int64")


DEG = (8.0, 0.011, 0, 50.0, 0, -0.007)
U8, U16, I16, U32, I32, F32 = (gdal.GDT_Byte, gdal.GDT_UInt16, gdal.GDT_Int16, gdal.GDT_UInt32, gdal.GDT_Int32, gdal.GDT_Float32)
TILES = ["TILED=YES", "BLOCKXSIZE=16", "BLOCKYSIZE=16"]

# name: kind of value, EPSG code, place, options, and what else: bands, no data
RASTERS = {
    "strips_u8": (U8, 4326, DEG, ["BLOCKYSIZE=5"], {}),
    "one_strip_i8": (U8, 4326, DEG, ["BLOCKYSIZE=29", "PIXELTYPE=SIGNEDBYTE"], {}),
    "lzw_i16": (I16, 4326, DEG, ["BLOCKYSIZE=7", "COMPRESS=LZW"], {}),
    "lzw_predicted_u8": (U8, 4326, DEG, ["BLOCKYSIZE=7", "COMPRESS=LZW", "PREDICTOR=2"], {}),
    "lzw_predicted_i16": (I16, 4258, DEG, ["BLOCKYSIZE=29", "COMPRESS=LZW", "PREDICTOR=2"], {}),
    "lzw_long_u8": (U8, 4326, (8, .001, 0, 50, 0, -.001), ["BLOCKYSIZE=90", "COMPRESS=LZW"], {"size": (110, 90)}),
    "deflate_predicted_u32": (U32, 4326, DEG, TILES + ["COMPRESS=DEFLATE", "PREDICTOR=2"], {}),
    "deflate_floats": (F32, 4326, DEG, TILES + ["COMPRESS=DEFLATE", "PREDICTOR=3"], {"nodata": -9999}),
    "deflate_floats_big": (F32, 4326, DEG, ["COMPRESS=DEFLATE", "ENDIANNESS=BIG"], {}),
    "packbits_u8": (U8, 4269, DEG, TILES + ["COMPRESS=PACKBITS"], {"nodata": 100}),
    "big_endian_u16": (U16, 4326, DEG, ["BLOCKYSIZE=4", "ENDIANNESS=BIG", "COMPRESS=DEFLATE", "PREDICTOR=2"], {}),
    "bigtiff_i32": (I32, 4326, DEG, TILES + ["BIGTIFF=YES", "COMPRESS=LZW", "PREDICTOR=2"], {}),
    "bigtiff_big_endian_u8": (U8, 4326, DEG, ["BIGTIFF=YES", "ENDIANNESS=BIG"], {}),
    "points_i16": (I16, 4326, DEG, TILES, {"point": True}),
    "bands_together_u8": (U8, 4326, DEG, TILES + ["INTERLEAVE=PIXEL", "COMPRESS=DEFLATE", "PREDICTOR=2"], {"bands": 3}),
    "bands_apart_i16": (I16, 4326, DEG, ["INTERLEAVE=BAND", "COMPRESS=LZW", "BLOCKYSIZE=6"], {"bands": 2}),
    "sparse_u8": (U8, 4326, DEG, TILES + ["SPARSE_OK=TRUE", "COMPRESS=LZW"], {"nodata": 0, "sparse": True}),
    "south_up_u8": (U8, 4326, (8.0, 0.011, 0, 49.8, 0, 0.007), [], {}),
    "date_line_u8": (U8, 4326, (179.9, 0.011, 0, 50, 0, -.007), ["COMPRESS=LZW"], {}),
    "globe_u8": (U8, 4326, (-180, 10, 0, 90, 0, -10), ["COMPRESS=DEFLATE"], {"size": (36, 18)}),
    "globe_east_i16": (I16, 4326, (0, 10, 0, 90, 0, -10), TILES, {"size": (36, 18)}),
    "utm33n_u8": (U8, 32633, (380000, 900, 0, 5500000, 0, -700), ["COMPRESS=LZW"], {}),
    "utm19s_f32": (F32, 32719, (440000, 900, 0, 6300000, 0, -700), TILES + ["COMPRESS=DEFLATE", "PREDICTOR=3"], {}),
    "utm12n_nad83_u8": (U8, 26912, (300000, 300, 0, 4154000, 0, -300), TILES, {}),
    "utm32n_etrs89_points_i16": (I16, 25832, (500000, 250, 0, 5700000, 0, -250), [], {"point": True}),
    "laea_u8": (U8, 3035, (4000000, 2000, 0, 3000000, 0, -2000), TILES + ["COMPRESS=LZW"], {}),
    "albers_u8": (U8, 5070, (-1500000, 3000, 0, 1800000, 0, -3000), ["COMPRESS=DEFLATE"], {}),
}

# Rasters that are refused, small: what they are must be named.
REFUSED = {
    "refused_jpeg": (U8, 4326, DEG, ["COMPRESS=JPEG"], {}),
    "refused_zstd": (U8, 4326, DEG, ["COMPRESS=ZSTD"], {}),
    "refused_rotated": (U8, 4326, (8, .011, .001, 50, .001, -.007), [], {}),
    "refused_mercator": (U8, 3857, (900000, 900, 0, 6000000, 0, -900), [], {}),
    "refused_bits": (U8, 4326, DEG, ["NBITS=1"], {"one": True}),
    "refused_double": (gdal.GDT_Float64, 4326, DEG, [], {}),
    "refused_scale": (I16, 4326, DEG, [], {"scale": 0.1}),
    "refused_feet": (U8, 2277, (900000, 900, 0, 6000000, 0, -900), [], {}),
    "refused_nowhere": (U8, 4326, None, [], {}),
    "refused_no_system": (U8, None, DEG, [], {}),
}


def make(name, spec):
    form, code, place, options, more = spec
    nx, ny = more.get("size", (NX, NY))
    path = os.path.join(OUT, name + ".tif")
    d = gdal.GetDriverByName("GTiff").Create(path, nx, ny, more.get("bands", 1), form, options)
    if code is not None:
        s = osr.SpatialReference()
        s.ImportFromEPSG(code)
        d.SetProjection(s.ExportToWkt())
    if place is not None:
        d.SetGeoTransform(place)
    if more.get("point"):
        d.SetMetadataItem("AREA_OR_POINT", "Point")
    for b in range(more.get("bands", 1)):
        band = d.GetRasterBand(b + 1)
        if "nodata" in more:
            band.SetNoDataValue(more["nodata"])
        if "scale" in more:
            band.SetScale(more["scale"])
        v = value(form, nx, ny, b + 1)
        if name == "deflate_floats":
            v[3:9, 4:20] = -9999
        if more.get("one"):
            v = v > 100
        if more.get("sparse"):
            band.WriteArray(v[:16, :16], 0, 0)
            continue
        band.WriteArray(v)
    d.FlushCache()
    del d
    extra = path + ".aux.xml"
    if os.path.exists(extra):
        os.remove(extra)


def cloud():
    """A cloud-optimised file: tiles, overviews before the image's octets."""
    nx, ny = 300, 260
    d = gdal.GetDriverByName("MEM").Create("", nx, ny, 1, U8)
    s = osr.SpatialReference()
    s.ImportFromEPSG(4326)
    d.SetProjection(s.ExportToWkt())
    d.SetGeoTransform((8, .002, 0, 50, 0, -.002))
    j, i = numpy.mgrid[0:ny, 0:nx]
    d.GetRasterBand(1).WriteArray((i // 23 * 10 + j // 19) % 251)
    gdal.GetDriverByName("COG").CreateCopy(
        os.path.join(OUT, "cloud_u8.tif"), d, options=["BLOCKSIZE=128", "COMPRESS=LZW", "PREDICTOR=YES", "OVERVIEW_RESAMPLING=NEAREST"])


def places(path, count):
    """Places in a raster, by pixel: near the pixel's edges too, never on them."""
    d = gdal.Open(path)
    g = d.GetGeoTransform()
    here, there = osr.SpatialReference(wkt=d.GetProjection()), osr.SpatialReference()
    there.ImportFromEPSG(4326)
    for s in (here, there):
        s.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    turn = osr.CoordinateTransformation(here, there)
    rng = random.Random(7)
    out = []
    for k in range(count):
        i, j = rng.randrange(d.RasterXSize), rng.randrange(d.RasterYSize)
        if k < 4:
            i, j = (0, d.RasterXSize - 1)[k & 1], (0, d.RasterYSize - 1)[k >> 1]
        u, v = rng.choice([.04, .3, .5, .7, .96]), rng.choice([.04, .3, .5, .7, .96])
        lon, lat, _ = turn.TransformPoint(g[0] + (i + u) * g[1], g[3] + (j + v) * g[5])
        out.append((lon, lat))
    return out


def signed(d):
    return d.GetRasterBand(1).GetMetadataItem("PIXELTYPE", "IMAGE_STRUCTURE") == "SIGNEDBYTE"


def ask(path, points):
    """What gdallocationinfo gives, empty for no data. GDAL 3.6 has no signed
    octets of its own: it prints them as if they were unsigned."""
    text = "".join("%.12f %.12f\n" % p for p in points)
    lines = subprocess.run(["gdallocationinfo", "-valonly", "-b", "1", "-wgs84", path], input=text, text=True, capture_output=True, check=True).stdout.split("\n")
    d = gdal.Open(path)
    none = d.GetRasterBand(1).GetNoDataValue()
    values = []
    for line in lines[:len(points)]:
        if signed(d) and line != "" and int(line) > 127:
            line = str(int(line) - 256)
        values.append("" if line == "" or none is not None and float(line) == none else line)
    return values


def total(path):
    d = gdal.Open(path)
    v = d.GetRasterBand(1).ReadAsArray()
    if signed(d):
        v = v.view("int8")
    return d.RasterXSize, d.RasterYSize, zlib.crc32(v.astype("<f8").tobytes())


def rows(paths, points, sums, count):
    with open(points, "w") as p, open(sums, "w") as s:
        p.write("file,lat,lon,value\n")
        s.write("file,columns,rows,crc32\n")
        for path in paths:
            name = os.path.basename(path)
            at = places(path, count)
            for (lon, lat), v in zip(at, ask(path, at)):
                p.write("%s,%.12f,%.12f,%s\n" % (name, lat, lon, v))
            s.write("%s,%d,%d,%08x\n" % ((name,) + total(path)))


def main():
    os.makedirs(OUT, exist_ok=True)
    if len(sys.argv) > 1:
        data = sys.argv[1]
        paths = [os.path.join(data, p) for p in (
            "landcover/zion_nlcd_8class_utm12n.tif", "landcover/zion_nlcd_8class_wgs84.tif",
            "landcover/zion_nlcd_8class_wgs84_uncompressed.tif", "landcover/zion_srtm_wgs84.tif",
            "elevation/N44W072.hgt", "elevation/N38W028.SRTMGL3.hgt.zip")]
        held = os.path.join("/vsizip/" + paths[5], "N38W028.hgt")
        rows(paths[:5] + [held], os.path.join(OUT, "reference_points.csv"), os.path.join(OUT, "reference_sums.csv"), 300)
        return
    for name, spec in list(RASTERS.items()) + list(REFUSED.items()):
        make(name, spec)
    cloud()
    paths = [os.path.join(OUT, n + ".tif") for n in list(RASTERS) + ["cloud_u8"]]
    rows(paths, os.path.join(OUT, "points.csv"), os.path.join(OUT, "sums.csv"), 60)


main()
