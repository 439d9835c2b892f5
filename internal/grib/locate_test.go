package grib_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// TestLocate: between nodes, round the globe, at the edges and beyond.
func TestLocate(t *testing.T) {
	globe := grib.Grid{NX: 144, NY: 73, Lat0: -90, DLat: 2.5, DLon: 2.5}
	twice := grib.Grid{NX: 5, NY: 2, Lat0: 50, DLat: 1, DLon: 90} // column 4 is column 0 again
	patch := grib.Grid{NX: 5, NY: 3, Lat0: 40, Lon0: 178, DLat: 0.5, DLon: 1}
	point := grib.Grid{NX: 1, NY: 1, Lat0: 40, Lon0: 10}
	rotated := grib.Grid{Template: 1, NX: 3, NY: 3, Lat0: -1, Lon0: -1, DLat: 1, DLon: 1, Rotation: grib.Rotation{Lat: -40, Lon: 10}}
	gauss := grib.Grid{Template: 40, NX: 4, NY: 4, DLon: 90, Gauss: grib.Gauss{N: 2}}
	part := grib.Grid{Template: 40, NX: 3, NY: 2, Lon0: 350, DLon: 90, Gauss: grib.Gauss{N: 2, South: 1}}
	outer, inner := math.Asin(0.861136311594053)*180/math.Pi, math.Asin(0.339981043584856)*180/math.Pi
	for _, c := range []struct {
		name     string
		g        grib.Grid
		lat, lon float64
		x, y     float64
		ok       bool
	}{
		{"on a node", globe, 45, 10, 4, 54, true},
		{"between nodes", globe, 46, 11, 4.4, 54.4, true},
		{"the north pole", globe, 90, 0, 0, 72, true},
		{"west of the first column", globe, 0, -1, 143.6, 36, true},
		{"a turn on", globe, 0, 359, 143.6, 36, true},
		{"a turn back", globe, 0, -360, 0, 36, true},
		{"above the pole", globe, 90.1, 0, 0, 0, false},
		{"not a number", globe, math.NaN(), 0, 0, 0, false},
		{"longitude not a number", globe, 0, math.NaN(), 0, 0, false},
		{"longitude of two turns", globe, 0, 400, 0, 0, false},
		{"first meridian twice", twice, 50, 359, 3 + 89.0/90, 0, true},
		{"south of it", twice, 49.9, 0, 0, 0, false},
		{"across the date line", patch, 40.25, -179, 3, 0.5, true},
		{"its last column", patch, 41, -178, 4, 2, true},
		{"a little outside its corner", patch, 41 + 1e-7, -178 + 1e-7, 4, 2, true},
		{"a little outside the other", patch, 40 - 1e-7, 178 - 1e-7, 0, 0, true},
		{"east of it", patch, 41, -177.9999, 0, 0, false},
		{"west of it", patch, 41, 177.9999, 0, 0, false},
		{"north of it", patch, 41.0001, 180, 0, 0, false},
		{"one point", point, 40, 10, 0, 0, true},
		{"beside one point", point, 40, 10.001, 0, 0, false},
		{"north of one point", point, 40.001, 10, 0, 0, false},
		{"centre of a rotated grid", rotated, 50, 10, 1, 1, true},
		{"half a row north of it", rotated, 50.5, 10, 1, 1.5, true},
		{"the other side of the Earth", rotated, -50, -170, 0, 0, false},
		{"a Gaussian row", gauss, outer, 180, 2, 3, true},
		{"the equator between Gaussian rows", gauss, 0, 45, 0.5, 1.5, true},
		{"a fifth of the way between them", gauss, inner + 0.2*(outer-inner), -45, 3.5, 2.2, true},
		{"beyond the last Gaussian row", gauss, outer + 0.01, 0, 0, 0, false},
		{"beyond the first", gauss, -90, 0, 0, 0, false},
		{"on the first, but for rounding", gauss, -outer - 1e-9, 0, 0, 0, true},
		{"Gaussian rows of a part", part, inner, 80, 1, 1, true},
		{"south of the part", part, -inner - 0.1, 80, 0, 0, false},
		{"north of the part", part, inner + 0.1, 80, 0, 0, false},
		{"east of the part", part, 0, 175, 0, 0, false},
	} {
		x, y, ok := c.g.Locate(c.lat, c.lon)
		assert.Equal(t, c.ok, ok, c.name)
		if !c.ok {
			continue
		}
		assert.InDelta(t, c.x, x, 1e-9, "%s: column", c.name)
		assert.InDelta(t, c.y, y, 1e-9, "%s: row", c.name)
	}
}

// TestLocateOnCone: outside of a Lambert grid, at the poles, behind the cut.
func TestLocateOnCone(t *testing.T) {
	f := only(t, sealed(0, section1(referenceTime), cone211(93, 65).section3(), wind500.section4(), simple(scale{}, noBitmap, make([]uint64, 93*65)...)))
	for _, at := range [][2]float64{{12, -133.459}, {57.5, -49}, {90, 0}, {-90, 0}, {-80, 85}, {50, 85}, {50, 84.999}} {
		_, _, ok := f.Grid.Locate(at[0], at[1])
		assert.False(t, ok, "Locate(%g, %g)", at[0], at[1])
	}
	x, y, ok := f.Grid.Locate(35, -95)
	require.True(t, ok)
	// Halfway between places in each direction lies halfway between columns,
	// rows on the meridian of the cone.
	lat, lon := f.Grid.Place(int(x), int(y))
	x0, y0, ok := f.Grid.Locate(lat, lon)
	require.True(t, ok)
	assert.InDelta(t, math.Floor(x), x0, 1e-9)
	assert.InDelta(t, math.Floor(y), y0, 1e-9)
	assert.Panics(t, func() { f.Grid.Place(93, 0) })
	assert.Panics(t, func() { f.Grid.Place(0, -1) })
}

// TestGridText: names and spacings of grids.
func TestGridText(t *testing.T) {
	for _, c := range []struct {
		g       grib.Grid
		text    string
		spacing float64
	}{
		{grib.Grid{NX: 144, NY: 73, DLat: 2.5, DLon: 2.5}, "regular latitude-longitude 144 × 73, 2.5° × 2.5°", 2.5},
		{grib.Grid{NX: 241, NY: 253, DLat: 0.1, DLon: 0.125}, "regular latitude-longitude 241 × 253, 0.125° × 0.1°", 0.1},
		{grib.Grid{NX: 4, NY: 1, DLon: 1.0 / 3}, "regular latitude-longitude 4 × 1, 0.3333° × 0°", 1.0 / 3},
		{grib.Grid{Template: 1, NX: 600, NY: 360, DLat: 0.11, DLon: 0.11}, "rotated latitude-longitude 600 × 360, 0.11° × 0.11°", 0.11},
		{grib.Grid{Template: 40, NX: 128, NY: 64, DLon: 2.8125, Gauss: grib.Gauss{N: 32}}, "regular Gaussian N32 128 × 64, 2.812° along a row", 2.8125},
	} {
		assert.Equal(t, c.text, c.g.String())
		assert.InDelta(t, c.spacing, c.g.Spacing(), 1e-12, c.text)
		_, ok := c.g.LatLon()
		assert.Equal(t, c.g.Template == 0, ok, c.text)
	}
	assert.Equal(t, "Gaussian", grib.Grid{Template: 40}.String())
	assert.Equal(t, "latitude-longitude", grib.Grid{}.String())
	assert.Equal(t, "polar stereographic", grib.Grid{Template: 20}.String())
	assert.Equal(t, "grid 3.999", grib.Grid{Template: 999}.String())
}

// BenchmarkLocate finds places on each kind of grid.
func BenchmarkLocate(b *testing.B) {
	cone := grib.Cone{Latin1: 25, Latin2: 25, LoV: -95, DX: 81271, DY: 81271, Earth: grib.Earth{Major: 6371229, Minor: 6371229}}
	wgs84 := cone
	wgs84.Earth.Minor = 6356752.3142
	for name, g := range map[string]grib.Grid{
		"regular":          {NX: 360, NY: 181, Lat0: -90, DLat: 1, DLon: 1},
		"rotated":          {Template: 1, NX: 360, NY: 181, Lat0: -90, DLat: 1, DLon: 1, Rotation: grib.Rotation{Lat: -30, Lon: 10}},
		"Lambert sphere":   {Template: 30, NX: 93, NY: 65, Lat0: 12.19, Lon0: -133.459, Cone: cone},
		"Lambert WGS84":    {Template: 30, NX: 93, NY: 65, Lat0: 12.19, Lon0: -133.459, Cone: wgs84},
		"Gaussian N = 32":  {Template: 40, NX: 128, NY: 64, DLon: 360.0 / 128, Gauss: grib.Gauss{N: 32}},
		"Gaussian N = 640": {Template: 40, NX: 2560, NY: 1280, DLon: 360.0 / 2560, Gauss: grib.Gauss{N: 640}},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				_, _, ok := g.Locate(40.123, -95.5)
				require.True(b, ok)
			}
		})
	}
}
