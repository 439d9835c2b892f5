package ground

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"fmt"
	"hash/crc32"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// rasters is the folder of small rasters of invented values, and of what GDAL
// 3.6.2 reads in them: scripts/ground/rasters.py makes both.
const rasters = "testdata/rasters"

// everywhere is the whole Earth.
var everywhere = geo.Box{South: -90, North: 90, West: -180, East: 180}

// table is the rows of a CSV file without its head, by file.
func table(t testing.TB, name string) map[string][][]string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(rasters, name))
	require.NoError(t, err)
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 1, name)
	out := map[string][][]string{}
	for _, r := range rows[1:] {
		out[r[0]] = append(out[r[0]], r[1:])
	}
	return out
}

// opened opens a raster of any kind, as readTerrain does.
func opened(t testing.TB, name string) *raster {
	t.Helper()
	b, err := os.ReadFile(name)
	require.NoError(t, err)
	in := bytes.NewReader(b)
	var r *raster
	switch filepath.Ext(name) {
	case ".hgt":
		r, err = openHGT(name, in, in.Size())
	case ".zip":
		r, err = openZip(in, in.Size())
	default:
		r, err = openRaster(in, in.Size())
	}
	require.NoError(t, err, name)
	return r
}

// whole reads all values of a raster, by row.
func whole(t testing.TB, r *raster) (pane, []float64) {
	t.Helper()
	w := pane{nx: r.width, ny: r.height}
	all := make([]float64, w.pixels())
	seen := 0
	require.NoError(t, r.read(w, func(col, row int, values []float64) {
		copy(all[row*w.nx+col:], values)
		seen += len(values)
	}))
	require.Equal(t, w.pixels(), seen, "each pixel once")
	return w, all
}

// sum is the CRC-32 that the script takes of all values.
func sum(all []float64, noData float64) uint32 {
	b := make([]byte, 0, 8*len(all))
	for _, v := range all {
		if math.IsNaN(v) {
			v = noData
		}
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return crc32.ChecksumIEEE(b)
}

// compare reads a raster and holds each pixel (by their sum) and the values at
// places against GDAL's.
func compare(t *testing.T, path string, sums, points [][]string) {
	t.Helper()
	r := opened(t, path)
	w, all := whole(t, r)
	require.Len(t, sums, 1)
	noData := r.noData
	if math.IsNaN(noData) {
		noData = 0 // sparse
	}
	got := []string{strconv.Itoa(r.width), strconv.Itoa(r.height), fmt.Sprintf("%08x", sum(all, noData))}
	assert.Equal(t, sums[0], got, "columns, rows and sum of all pixels")
	require.Greater(t, len(points), 50)
	for _, row := range points {
		p := geo.Point{Lat: number(t, row[0]), Lon: number(t, row[1])}
		for _, turn := range []float64{0, 360} {
			p.Lon += turn
			col, line, ok := r.at(p)
			if !assert.True(t, ok, "at(%v)", p) {
				continue
			}
			v := all[int(math.Floor(line+0.5))*w.nx+int(math.Floor(col+0.5))]
			if row[2] == "" {
				assert.True(t, math.IsNaN(v), "value at %v = %g, want no data", p, v)
				continue
			}
			// gdallocationinfo prints floats to 15 digits.
			assert.InEpsilon(t, 1+math.Abs(number(t, row[2])), 1+math.Abs(v), 1e-9, "value at %v = %g, want %s", p, v, row[2])
			assert.Equal(t, math.Signbit(number(t, row[2])), math.Signbit(v), "sign at %v", p)
		}
	}
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

func TestRastersAreReadAsGDALReadsThem(t *testing.T) {
	sums, points := table(t, "sums.csv"), table(t, "points.csv")
	require.Greater(t, len(sums), 25)
	for name := range sums {
		t.Run(name, func(t *testing.T) {
			compare(t, filepath.Join(rasters, name), sums[name], points[name])
		})
	}
}

// The reference data are the National Land Cover Database around Zion and SRTM
// heights; GDAL's values are in reference_points.csv and reference_sums.csv.
func TestReferenceRastersAreReadAsGDALReadsThem(t *testing.T) {
	dir := os.Getenv("THISTLEDOWN_REFERENCE")
	if dir == "" {
		t.Skip("left out: land cover and heights against GDAL, pixel by pixel, as THISTLEDOWN_REFERENCE is not set")
	}
	sums, points := table(t, "reference_sums.csv"), table(t, "reference_points.csv")
	for name, in := range map[string]string{
		"zion_nlcd_8class_utm12n.tif":             "landcover/zion_nlcd_8class_utm12n.tif",
		"zion_nlcd_8class_wgs84.tif":              "landcover/zion_nlcd_8class_wgs84.tif",
		"zion_nlcd_8class_wgs84_uncompressed.tif": "landcover/zion_nlcd_8class_wgs84_uncompressed.tif",
		"zion_srtm_wgs84.tif":                     "landcover/zion_srtm_wgs84.tif",
		"N44W072.hgt":                             "elevation/N44W072.hgt",
		"N38W028.hgt":                             "elevation/N38W028.SRTMGL3.hgt.zip",
	} {
		t.Run(name, func(t *testing.T) {
			compare(t, filepath.Join(dir, filepath.FromSlash(in)), sums[name], points[name])
		})
	}
}

// What a crop of any box holds is what the whole raster holds there.
func TestACropIsAPieceOfTheWhole(t *testing.T) {
	points := table(t, "points.csv")
	for name, rows := range points {
		r := opened(t, filepath.Join(rasters, name))
		w, all := whole(t, r)
		for k := 0; k+1 < len(rows); k += 2 {
			a := geo.Point{Lat: number(t, rows[k][0]), Lon: number(t, rows[k][1])}
			b := geo.Point{Lat: number(t, rows[k+1][0]), Lon: number(t, rows[k+1][1])}
			box := geo.Box{South: min(a.Lat, b.Lat), North: max(a.Lat, b.Lat), West: a.Lon, East: b.Lon}
			if geo.WrapLon(b.Lon-a.Lon) < 0 {
				box.West, box.East = b.Lon, a.Lon
			}
			crop, err := r.window(box)
			require.NoError(t, err)
			piece := make([]float64, crop.pixels())
			require.NoError(t, r.read(crop, func(col, row int, values []float64) { copy(piece[row*crop.nx+col:], values) }))
			for _, p := range []geo.Point{a, b, {Lat: a.Lat, Lon: b.Lon}} {
				col, row, ok := r.at(p)
				if !ok {
					continue // a corner of the box off a projected raster
				}
				i, j := int(math.Floor(col+0.5)), int(math.Floor(row+0.5))
				ci, cj := r.within(i, crop), j-crop.row
				if assert.True(t, ci >= 0 && ci < crop.nx && cj >= 0 && cj < crop.ny, "%s: %v in the crop %+v of %+v", name, p, crop, box) {
					want, got := all[j*w.nx+i], piece[cj*crop.nx+ci]
					assert.True(t, want == got || math.IsNaN(want) && math.IsNaN(got), "%s: at %v = %g, want %g", name, p, got, want)
				}
			}
		}
	}
}

func TestRastersAreRefusedByName(t *testing.T) {
	for name, want := range map[string]string{
		"refused_jpeg":      "compression 7 (JPEG): want none, LZW, deflate or PackBits",
		"refused_zstd":      "compression 50000 (Zstandard): want none, LZW, deflate or PackBits",
		"refused_rotated":   "rows and columns that do not run east and north (a rotated raster)",
		"refused_mercator":  "projected system EPSG:3857: want a UTM zone",
		"refused_bits":      "values of 1 bits: want 8, 16 or 32",
		"refused_double":    "values of 64 bits: want 8, 16 or 32",
		"refused_scale":     "tag 42112 gives the values a scale",
		"refused_feet":      "lengths in EPSG unit 9003: want 9001, metres",
		"refused_nowhere":   "says nowhere where its pixels lie",
		"refused_no_system": "without GeoTIFF keys",
	} {
		b, err := os.ReadFile(filepath.Join(rasters, name+".tif"))
		require.NoError(t, err)
		_, err = openRaster(bytes.NewReader(b), int64(len(b)))
		assert.ErrorContains(t, err, want, name)
	}
}

// Each file that ends early is a fault, or reads as the whole one does where
// what is missing is of another band or another image.
func TestATruncatedRasterIsAFault(t *testing.T) {
	for _, name := range []string{"strips_u8", "lzw_predicted_i16", "deflate_floats", "packbits_u8", "bigtiff_i32"} {
		b, err := os.ReadFile(filepath.Join(rasters, name+".tif"))
		require.NoError(t, err)
		_, all := whole(t, opened(t, filepath.Join(rasters, name+".tif")))
		faults := 0
		for n := range b {
			r, err := openRaster(bytes.NewReader(b[:n]), int64(n))
			if err != nil {
				faults++
				continue
			}
			w := pane{nx: r.width, ny: r.height}
			got := make([]float64, w.pixels())
			if err = r.read(w, func(col, row int, values []float64) { copy(got[row*w.nx+col:], values) }); err != nil {
				faults++
				continue
			}
			require.Equal(t, sum(all, 0), sum(got, 0), "%s cut to %d octets", name, n)
		}
		assert.Greater(t, faults, len(b)-8, "%s of %d octets", name, len(b)) // deflate's check sum is not read
	}
}

// Floats by predictor 3 lie in a row with their high octets first whatever the
// file's order of octets is (TIFF technical note 3): undone in either order they
// are the same numbers. GDAL 3.6 does not write the big-endian case as the note
// has it, so that the row is made here, by the note's words.
func TestPredictedFloatsInEitherOrder(t *testing.T) {
	want := []float32{1.5, -2.25, 1e-7, 3e20, 0, 17}
	var planes []byte
	for octet := range 4 {
		for _, v := range want {
			planes = append(planes, byte(math.Float32bits(v)>>(24-8*octet)))
		}
	}
	for _, bands := range []int{1, 2, 3} {
		row := bytes.Clone(planes)
		for i := len(row) - 1; i >= bands; i-- {
			row[i] -= row[i-bands]
		}
		for _, order := range []binary.ByteOrder{binary.LittleEndian, binary.BigEndian} {
			u := unpacker{file: &tiffFile{order: order}, layout: layout{form: formFloat, bits: 32, bands: bands, predictor: 3}}
			got := bytes.Clone(row)
			u.predict(got)
			for i, v := range want {
				assert.Equal(t, v, math.Float32frombits(order.Uint32(got[4*i:])), "float %d of %d bands, %v", i, bands, order)
			}
		}
	}
}

// A strip or tile whose own octets end early is a fault, whatever it is packed
// by, though the file goes on after it.
func TestAStripThatEndsEarlyIsAFault(t *testing.T) {
	for _, name := range []string{"strips_u8", "lzw_i16", "deflate_predicted_u32", "packbits_u8"} {
		r := opened(t, filepath.Join(rasters, name+".tif"))
		at, count, err := r.chunk(0)
		require.NoError(t, err)
		octets, err := r.file.octets(at, int(count))
		require.NoError(t, err)
		want := r.chunkH * r.rowOctets()
		all, err := r.unpack(nil, bufio.NewReader(bytes.NewReader(octets)), want)
		require.NoError(t, err, name)
		require.Len(t, all, want, name)
		for cut := range octets[:len(octets)-8] { // at the end stands what is not read: LZW's last code, deflate's sum
			_, err := r.unpack(nil, bufio.NewReader(bytes.NewReader(octets[:cut])), want)
			assert.Error(t, err, "%s: %d octets of %d", name, cut, len(octets))
		}
	}
}

func BenchmarkCoverAt(b *testing.B) {
	l := Legend{100: trees}
	for _, name := range []string{"cloud_u8.tif", "utm33n_u8.tif", "laea_u8.tif"} {
		b.Run(name, func(b *testing.B) {
			c := readCover(b, filepath.Join(rasters, name), l, everywhere)
			p := geo.Point{Lat: 49.9, Lon: 8.2}
			if c.frame.flat != nil {
				var ok bool
				p, ok = c.frame.flat.round(c.frame.x0+5*c.frame.dx, c.frame.y0+5*c.frame.dy)
				require.True(b, ok)
			}
			for b.Loop() {
				c.At(p)
			}
		})
	}
}

// One operation reads the whole of a file of heights or land cover of the
// reference data.
func BenchmarkReferenceRasters(b *testing.B) {
	dir := os.Getenv("THISTLEDOWN_REFERENCE")
	if dir == "" {
		b.Skip("left out: reading the reference rasters, as THISTLEDOWN_REFERENCE is not set")
	}
	for _, name := range []string{"landcover/zion_nlcd_8class_utm12n.tif", "landcover/zion_nlcd_8class_wgs84_uncompressed.tif"} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c := readCover(b, filepath.Join(dir, name), eight, everywhere)
				b.ReportMetric(float64(c.pane.pixels()), "pixels")
			}
		})
	}
	for _, name := range []string{"elevation/N44W072.hgt", "elevation/N38W028.SRTMGL3.hgt.zip", "landcover/zion_srtm_wgs84.tif"} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				h := readHeights(b, filepath.Join(dir, name), everywhere)
				b.ReportMetric(float64(len(h.Height)), "nodes")
			}
		})
	}
}
