package grib_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// missing is all ones.
const missing = wide32

// TestLatLonGrid: corners and increments as centres write them.
func TestLatLonGrid(t *testing.T) {
	for _, c := range []struct {
		name string
		l    lattice
		want grib.LatLonGrid
	}{
		{
			"GFS 2.5°",
			lattice{ni: 144, nj: 73, la1: 90e6, la2: -90e6, lo2: 357.5e6, flags: 0x30, di: 2.5e6, dj: 2.5e6},
			grib.LatLonGrid{NX: 144, NY: 73, Lat0: -90, DLat: 2.5, DLon: 2.5},
		},
		{
			"across Greenwich, 0 to 360",
			lattice{ni: 3, nj: 2, la1: 51e6, la2: 50e6, lo1: 350e6, lo2: 10e6, flags: 0x30, di: 10e6, dj: 1e6},
			grib.LatLonGrid{NX: 3, NY: 2, Lat0: 50, Lon0: -10, DLat: 1, DLon: 10},
		},
		{
			"across Greenwich, -180 to 180",
			lattice{ni: 3, nj: 2, la1: 51e6, la2: 50e6, lo1: -10e6, lo2: 10e6, flags: 0x30, di: 10e6, dj: 1e6},
			grib.LatLonGrid{NX: 3, NY: 2, Lat0: 50, Lon0: -10, DLat: 1, DLon: 10},
		},
		{
			"across the date line, -180 to 180, southern",
			lattice{ni: 3, nj: 2, la1: -50e6, la2: -51e6, lo1: 170e6, lo2: -170e6, flags: 0x30, di: 10e6, dj: 1e6},
			grib.LatLonGrid{NX: 3, NY: 2, Lat0: -51, Lon0: 170, DLat: 1, DLon: 10},
		},
		{
			"across the date line, 0 to 360",
			lattice{ni: 3, nj: 2, la1: 51e6, la2: 50e6, lo1: 170e6, lo2: 190e6, flags: 0x30, di: 10e6, dj: 1e6},
			grib.LatLonGrid{NX: 3, NY: 2, Lat0: 50, Lon0: 170, DLat: 1, DLon: 10},
		},
		{
			"east to west, south to north, no increments",
			lattice{ni: 3, nj: 2, la1: 50e6, la2: 51e6, lo1: 10e6, lo2: 350e6, flags: 0x30, di: missing, dj: missing, mode: 0xc0},
			grib.LatLonGrid{NX: 3, NY: 2, Lat0: 50, Lon0: -10, DLat: 1, DLon: 10},
		},
		{
			"from 180, increments not given but there",
			lattice{ni: 900, nj: 451, la1: 90e6, la2: -90e6, lo1: 180e6, lo2: 179.6e6, flags: 0x08, di: 1, dj: 1},
			grib.LatLonGrid{NX: 900, NY: 451, Lat0: -90, Lon0: -180, DLat: 0.4, DLon: 0.4, AlongGrid: true},
		},
		{
			"a third of a degree, rounded, round the Earth",
			lattice{ni: 1080, nj: 4, la1: 1e6, la2: 0, lo1: 0, lo2: 359666667, flags: 0x30, di: 333333, dj: 333333},
			grib.LatLonGrid{NX: 1080, NY: 4, DLat: 1.0 / 3, DLon: 1.0 / 3},
		},
		{
			"single precision angles, round the Earth",
			lattice{ni: 96, nj: 2, la1: 50e6, la2: 51e6, lo1: 0, lo2: 356249908, flags: 0x30, di: 3749999, dj: 1e6, mode: 0x40},
			grib.LatLonGrid{NX: 96, NY: 2, Lat0: 50, DLat: 1, DLon: 3.75},
		},
		{
			"first meridian twice",
			lattice{ni: 5, nj: 2, la1: 50e6, la2: 51e6, lo1: 0, lo2: 360e6, flags: 0x30, di: 90e6, dj: 1e6, mode: 0x40},
			grib.LatLonGrid{NX: 5, NY: 2, Lat0: 50, DLat: 1, DLon: 90},
		},
		{
			"basic angle",
			lattice{ni: 3, nj: 2, base: 1, parts: 16, la1: 50 * 16, la2: 49*16 + 8, lo1: 10 * 16, lo2: 10*16 + 2, flags: 0x30, di: 1, dj: 8},
			grib.LatLonGrid{NX: 3, NY: 2, Lat0: 49.5, Lon0: 10, DLat: 0.5, DLon: 1.0 / 16},
		},
		{
			"one column",
			lattice{ni: 1, nj: 2, la1: 51e6, la2: 50e6, lo1: 10e6, lo2: 10e6, flags: 0x30, di: 0.25e6, dj: 1e6},
			grib.LatLonGrid{NX: 1, NY: 2, Lat0: 50, Lon0: 10, DLat: 1, DLon: 0.25},
		},
		{
			"one point",
			lattice{ni: 1, nj: 1, la1: 51e6, la2: 51e6, lo1: 10e6, lo2: 10e6},
			grib.LatLonGrid{NX: 1, NY: 1, Lat0: 51, Lon0: 10},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := only(t, sealed(0, section1(referenceTime), c.l.section3(), wind500.section4(), simple(scale{}, noBitmap, make([]uint64, c.l.ni*c.l.nj)...)))
			require.NoError(t, f.Supported())
			assert.InDelta(t, c.want.DLat, f.Grid.DLat, 1e-12)
			assert.InDelta(t, c.want.DLon, f.Grid.DLon, 1e-12)
			f.Grid.DLat, f.Grid.DLon = c.want.DLat, c.want.DLon
			got, ok := f.Grid.LatLon()
			assert.True(t, ok)
			assert.Equal(t, c.want, got)
		})
	}
}

// TestBadGrid: grids that contradict themselves condemn the message.
func TestBadGrid(t *testing.T) {
	for _, c := range []struct {
		want  string
		spoil func(l *lattice)
	}{
		{"latitudes from 51 to 50, in the order of scanning mode 0x40: want them to rise", func(l *lattice) { l.mode = 0x40 }},
		{"latitudes from 50 to 95, in", func(l *lattice) { l.la1 = 95e6 }},
		{"longitudes from 10 to 361: want -360 to 360", func(l *lattice) { l.lo2 = 361e6 }},
		{"increment along i 2.5 degrees, but 3 points over 4: want 2", func(l *lattice) { l.di = 2.5e6 }},
		{"increment along j 0.5 degrees, but 2 points over 1: want 1", func(l *lattice) { l.dj = 0.5e6 }},
		{"2 points along j between equal corners: want them apart", func(l *lattice) { l.la2 = l.la1 }},
		{"one point along j, first and last 1 degrees apart: want none", func(l *lattice) { l.nj = 1 }},
		{"basic angle 1 with 0 subdivisions: want at least 1", func(l *lattice) { l.base = 1 }},
		{"0 × 2 points: want the 0 of octets 7–10", func(l *lattice) { l.ni = 0 }},
	} {
		l := threeByTwo(0)
		c.spoil(&l)
		fields, faults := scanAll(sealed(0, section1(referenceTime), l.section3(), wind500.section4(), simple(scale{}, noBitmap, make([]uint64, l.ni*l.nj)...)))
		assert.Empty(t, fields)
		require.Len(t, faults, 1)
		assert.ErrorContains(t, faults[0], "grib: message 1 at octet 0: section 3 at octet 37: "+c.want)
	}
}

// TestBadCone: cones that there are none of, grids that leave theirs.
func TestBadCone(t *testing.T) {
	for _, c := range []struct {
		want  string
		spoil func(c *cone)
	}{
		{"standard parallels 25 and -25: want them not to lie alike about the equator", func(c *cone) { c.latin2 = -25e6 }},
		{"standard parallels 0 and 0: want them not to", func(c *cone) { c.latin1, c.latin2 = 0, 0 }},
		{"standard parallels 90 and 25: want -89 to 89", func(c *cone) { c.latin1 = 90e6 }},
		{"standard parallels 25 and 2147.483647: want -89 to 89", func(c *cone) { c.latin2 = 1<<31 - 1 }},
		{"first point at latitude 90: want it between the poles", func(c *cone) { c.la1 = 90e6 }},
		{"first point at longitude 361, LoV 265: want -360 to 360", func(c *cone) { c.lo1 = 361e6 }},
		{"first point at longitude 226.541, LoV -361: want -360 to 360", func(c *cone) { c.lov = -361e6 }},
		{"spacings 0 and 81271 m: want them above 0", func(c *cone) { c.dx = 0 }},
		{"spacings 81271 and 0 m: want them above 0", func(c *cone) { c.dy = 0 }},
		{"300 × 65 points 4.294967295e+06 and 81271 m apart: want at most 1e+08 m from side to side", func(c *cone) { c.nx, c.dx = 300, missing }},
		{"93 × 200 points from latitude 12.19, longitude -133.459 reach beyond", func(c *cone) { c.ny = 200 }},
		{"2 × 2 points from latitude 12.19, longitude 80 reach beyond the meridian opposite LoV -95 or a pole", func(c *cone) { c.nx, c.ny, c.lo1, c.dx = 2, 2, 80e6, 4e9 }},
		{"shape of the Earth 1 with half axes of 637122 and 637122 m: want 6.3e6 to 6.4e6", func(c *cone) { c.shape, c.major = 1, 637122 }},
		{"shape of the Earth 3 with half axes of", func(c *cone) { c.shape, c.major, c.minor = 3, 6378137, 6356752 }},
		{"shape of the Earth 7 with half axes of 6.356752e+06 and 6.378137e+06 m: want", func(c *cone) { c.shape, c.major, c.minor = 7, 6356752, 6378137 }},
		{"0 × 65 points: want the 0 of octets 7–10", func(c *cone) { c.nx = 0 }},
	} {
		l := cone211(93, 65)
		c.spoil(&l)
		fields, faults := scanAll(sealed(0, section1(referenceTime), l.section3(), wind500.section4(), simple(scale{}, noBitmap, make([]uint64, l.nx*l.ny)...)))
		assert.Empty(t, fields, c.want)
		require.Len(t, faults, 1, c.want)
		assert.ErrorContains(t, faults[0], "grib: message 1 at octet 0: section 3 at octet 37: "+c.want)
	}
}

// TestBadGaussian: rows that are none of N, and bad poles of rotation.
func TestBadGaussian(t *testing.T) {
	rows := func(n uint32, first, last int, nj uint32) []byte {
		return gaussian(n, lattice{ni: 4, nj: nj, la1: first, la2: last, lo2: 270e6, flags: 0x20, di: 90e6})
	}
	for _, c := range []struct {
		want     string
		section3 []byte
		points   int
	}{
		{"grid 3.40 of 0 rows between pole and equator: want 1 to 2048", rows(0, 59444000, -59444000, 4), 16},
		{"grid 3.40 of 4294967295 rows between", rows(missing, 59444000, -59444000, 4), 16},
		{"row at latitude 50: want one of the 4 Gaussian latitudes of N = 2, of which 59.444408 is nearest", rows(2, 50e6, -59444000, 4), 16},
		{"row at latitude -59.4: want one of the 4 Gaussian latitudes of N = 2, of which -59.444408 is nearest", rows(2, 59444000, -59400000, 4), 16},
		{"3 rows from latitude -59.444 to 59.444: want the 4 Gaussian rows of N = 2 there", rows(2, 59444000, -59444000, 3), 12},
		{"latitudes from 59.444 to -59.444, in the order of scanning mode 0x00", rows(2, -59444000, 59444000, 4), 16},
		{"southern pole of rotation at latitude 91, longitude 10: want -90 to 90", rotated(threeByTwo(0), 91e6, 10e6, 0), 6},
		{"southern pole of rotation at latitude -30, longitude 400: want -90 to 90 and -360 to 360", rotated(threeByTwo(0), -30e6, 400e6, 0), 6},
		{"length 72 octets: want at least 84", func() []byte { l := threeByTwo(0); l.templateNumber = 1; return l.section3() }(), 6},
	} {
		fields, faults := scanAll(sealed(0, section1(referenceTime), c.section3, wind500.section4(), simple(scale{}, noBitmap, make([]uint64, c.points)...)))
		assert.Empty(t, fields, c.want)
		require.Len(t, faults, 1, c.want)
		assert.ErrorContains(t, faults[0], c.want)
	}
	f := only(t, sealed(0, section1(referenceTime), rows(2, 59444000, -59444000, 4), wind500.section4(), simple(scale{}, noBitmap, make([]uint64, 16)...)))
	assert.Equal(t, grib.Gauss{N: 2}, f.Grid.Gauss, "latitudes to a thousandth of a degree")
}

// TestUnsupported: what cannot be unpacked is listed all the same, and says why.
func TestUnsupported(t *testing.T) {
	values := simple(scale{bits: 3}, noBitmap, 1, 2, 3, 4, 5, 6)
	grid := func(change func(l *lattice)) []byte {
		l := threeByTwo(0)
		change(&l)
		return sealed(0, section1(referenceTime), l.section3(), wind500.section4(), values)
	}
	described := func(change func(p *product)) []byte {
		p := wind500
		change(&p)
		return sealed(0, section1(referenceTime), threeByTwo(0).section3(), p.section4(), values)
	}
	represented := func(template uint16, parts ...any) []byte {
		five := section(5, append([]any{uint32(6), template}, parts...)...)
		return whole(slices.Concat(five, noBitmap, section(7)))
	}
	complexly := func(change func(five []byte)) []byte {
		c := complexly(groups{scale: scale{bits: 8}, order: 1, lengths: []int{3, 3}}, 1, 2, 3, 4, 5, 6)
		change(c)
		return whole(c)
	}
	conical := func(change func(c *cone)) []byte {
		c := cone211(3, 2)
		change(&c)
		return sealed(0, section1(referenceTime), c.section3(), wind500.section4(), values)
	}
	century := time.Date(2300, 1, 1, 0, 0, 0, 0, time.UTC)
	for want, file := range map[string][]byte{
		"grid 3.20 (polar stereographic) not supported":         grid(func(l *lattice) { l.templateNumber = 20 }),
		"grid 3.101 (unstructured) not supported":               grid(func(l *lattice) { l.templateNumber = 101 }),
		"grid 3.40 with rows of different length (reduced Gau":  grid(func(l *lattice) { l.templateNumber, l.ni, l.points = 40, missing, 6 }),
		"angle of rotation 1e+09 not supported: want degrees":   sealed(0, section1(referenceTime), rotated(threeByTwo(0), 0, 0, 1e9), wind500.section4(), values),
		"angle of rotation NaN not supported":                   sealed(0, section1(referenceTime), rotated(threeByTwo(0), 0, 0, nan), wind500.section4(), values),
		"angle of rotation 1.401298464324817e-38 not supported": sealed(0, section1(referenceTime), rotated(threeByTwo(0), 0, 0, math.Float32frombits(10e6)), wind500.section4(), values),
		"shape of the Earth 10 of code table 3.2 not supp":      conical(func(c *cone) { c.shape = 10 }),
		"grid 3.30 with a bipolar projection not supported":     conical(func(c *cone) { c.centre = 0x40 }),
		"with a cone about the south pole and northern par":     conical(func(c *cone) { c.centre = 0x80 }),
		"grid 3.30 with spacings at latitude 45, where the scale is 1.069, not supported: want those at a standard parallel, 25 or 25": conical(func(c *cone) { c.lad = 45e6 }),
		"grid 3.30 with rows of different length (quasi-regular) not":                                                                  conical(func(c *cone) { c.nx = missing }),
		"grid 3.999 not supported":                             grid(func(l *lattice) { l.templateNumber = 999 }),
		"(quasi-regular) not supported":                        grid(func(l *lattice) { l.listOctets = 2 }),
		"rows of different length":                             grid(func(l *lattice) { l.ni, l.points = missing, 6 }),
		"scanning mode 0x08 (staggered rows) not supported":    grid(func(l *lattice) { l.mode = 8 }),
		"grid defined elsewhere (source 1":                     grid(func(l *lattice) { l.source = 1 }),
		"product 4.6 (percentile) not supported":               described(func(p *product) { p.template = 6 }),
		"product 4.9 (probability) not supported":              described(func(p *product) { p.template = 9 }),
		"product 4.13 (cluster of an ensemble over an interva": described(func(p *product) { p.template = 13 }),
		"product 4.2 (derived from an ensemble) not supported": described(func(p *product) { p.template = 2 }),
		"product 4.32 (simulated satellite) not supported":     described(func(p *product) { p.template = 32 }),
		"product 4.777 not supported":                          described(func(p *product) { p.template = 777 }),
		"time unit 3 of code table 4.4 not supported":          described(func(p *product) { p.unit = 3 }),
		"forecast time 2147483647 × 1h0m0s: want at most 250":  described(func(p *product) { p.forecast = 1<<31 - 1 }),
		"want at most 250 years between and years 0 to 9999":   described(func(p *product) { *p = product{template: 8, unit: 1, end: century, ranges: 1} }),
		"product 4.11 with 3 time ranges not supported: want 1": described(func(p *product) {
			*p = product{template: 11, unit: 1, end: referenceTime, ranges: 3}
		}),
		"product 4.8 with 2 time ranges not supported: want 1": described(func(p *product) { *p = product{template: 8, unit: 1, end: referenceTime, ranges: 2} }),
		"packing 5.40 (JPEG 2000) not supported":               represented(40),
		"packing 5.61 (logarithm) not supported":               represented(61),
		"packing 5.777 not supported":                          represented(777),
		"reference value NaN: want a finite number":            represented(0, scale{r: nan}.octets()),
		"33 bits per value: want at most 32":                   represented(0, scale{bits: 33}.octets()),
		"scale factors E = 2000, D = 0: want":                  represented(0, scale{e: 2000}.octets()),
		"scale factors E = 0, D = -400: want":                  represented(0, scale{d: -400}.octets()),
		"group splitting 0 of code table 5.4 not supported":    complexly(func(b []byte) { b[21] = 0 }),
		"missing value management 3":                           complexly(func(b []byte) { b[22] = 3 }),
		"group widths of 33 bits and lengths of 7":             complexly(func(b []byte) { b[36] = 33 }),
		"spatial differencing of order 3 not supported":        complexly(func(b []byte) { b[47] = 3 }),
		"extra descriptors of 5 octets: want at most 4":        complexly(func(b []byte) { b[48] = 5 }),
		"bitmap 3 (predefined by the originating centre)":      whole(simple(scale{bits: 3}, section(6, byte(3)), 1)),
	} {
		f := only(t, file)
		assert.ErrorContains(t, f.Supported(), want)
		_, err := f.Values(nil)
		assert.EqualError(t, err, f.Supported().Error())
		assert.ErrorContains(t, err, "grib: message 1 at octet 0, field 1 (")
	}
	// A bad interval is no such thing: it condemns the message.
	_, faults := scanAll(described(func(p *product) {
		*p = product{template: 8, unit: 1, forecast: 6, end: referenceTime, ranges: 1}
	}))
	require.Len(t, faults, 1)
	assert.ErrorContains(t, faults[0], "interval from 6h0m0s to 0s after the reference time: want it to end after it begins")
}

// TestDamagedValues: section 7 is held against sections 5 and 6 when it is read.
func TestDamagedValues(t *testing.T) {
	complexly := func(change func(five []byte)) []byte {
		c := complexly(groups{scale: scale{bits: 8}, order: 2, lengths: []int{3, 3}}, 1, 2, 3, 4, 5, 9)
		change(c)
		return whole(c)
	}
	for want, file := range map[string][]byte{
		"section 6: 2 points present: want the 3 values of section 5":  whole(simple(scale{bits: 3}, bitmapOf(1, 1, 0, 0, 0, 0), 1, 2, 3)),
		"section 7: 2 octets of values: want 3":                        whole(slices.Concat(section(5, uint32(6), uint16(0), scale{bits: 4}.octets()), noBitmap, section(7, uint16(0)))),
		"section 7: group 1 of 2: 200 bits per value: want at most 32": complexly(func(b []byte) { b[35] = 200 }),
		"section 7: 2 groups hold 5 values: want the 6 of section 5":   complexly(func(b []byte) { b[45] = 2 }),
		"section 7: group 2 of 2: the groups so far hold more":         complexly(func(b []byte) { b[45] = 4 }),
		"octets: want at least":                                        complexly(func(b []byte) { b[35] = 20 }),
		"value +Inf: want the range of float32, with R = 3.4e+38":      whole(simple(scale{r: 3.4e38, e: 125, bits: 1}, noBitmap, 1, 1, 1, 1, 1, 1)),
		"value +Inf: want the range of float32, with R = 1e+38":        whole(simple(scale{r: 1e38, d: -1}, noBitmap, 0, 0, 0, 0, 0, 0)),
	} {
		f := only(t, file)
		require.NoError(t, f.Supported())
		_, err := f.Values(nil)
		assert.ErrorContains(t, err, want)
	}
	// Second-order sums that leave 52 bits: 2¹⁶ differences of 2³¹.
	const n = 1 << 16
	l := lattice{ni: n, nj: 1, la1: 50e6, la2: 50e6, lo2: 18e6}
	five := section(5, uint32(n), uint16(3), scale{bits: 32}.octets(), byte(1), byte(0), uint64(0), uint32(1),
		byte(0), byte(0), uint32(0), byte(0), uint32(n), byte(0), byte(2), byte(1))
	f := only(t, sealed(0, section1(referenceTime), l.section3(), wind500.section4(), five, noBitmap, section(7, [3]byte{}, uint32(1<<31))))
	_, err := f.Values(nil)
	assert.ErrorContains(t, err, "packed integers sum up to more than 4503599627370496")
}

// TestParameterNames prints numbers of parameters without a name.
func TestParameterNames(t *testing.T) {
	assert.Equal(t, "TMP", grib.Temperature.String())
	assert.Equal(t, "LAND", grib.LandCover.String())
	assert.Equal(t, "VIS", grib.Visibility.String())
	p := wind500
	p.category, p.number = 19, 201
	f := only(t, sealed(10, section1(referenceTime), threeByTwo(0).section3(), p.section4(), simple(scale{}, noBitmap, make([]uint64, 6)...)))
	assert.Equal(t, "parameter 10.19.201", f.Parameter().String())
	assert.Equal(t, [3]uint8{10, 19, 201}, [3]uint8{f.Discipline, f.Category, f.Number})
}
