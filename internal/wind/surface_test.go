package wind_test

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// Values at nodes. Source: ecCodes 2.28.0, codes_grib_find_nearest on the same
// files. The precipitation rates are means over the six hours before.
func TestSurfaceAgainstEcCodes(t *testing.T) {
	f := realwind.Field(t)
	for _, c := range []struct {
		q        wind.Quantity
		lat, lon float64
		t        float64
		want     float64
	}{
		{wind.SurfaceEast, 50, 10, 0, 0.44},
		{wind.SurfaceEast, -32.5, -70, 21600, -2.29},
		{wind.SurfaceNorth, 60, -177.5, 21600, 1.73},
		{wind.Gust, 55, -5, 43200, 15},
		{wind.Cloud, 50, 10, 21600, 99},
		{wind.CAPE, 0, -60, 0, 336},
		{wind.CAPE, 0, -60, 43200, 552},
		{wind.Precipitation, 2.5, -57.5, 21600, 1.942e-3},
		{wind.Precipitation, 2.5, -57.5, 43200, 1.536e-3},
		// Linear in time, and bilinear amid four nodes of 1.942e-3, 1.51e-4,
		// 4.1e-5 and 1.53e-4.
		{wind.Precipitation, 2.5, -57.5, 27000, 0.75*1.942e-3 + 0.25*1.536e-3},
		{wind.Precipitation, 1.25, -56.25, 21600, (1.942e-3 + 1.51e-4 + 4.1e-5 + 1.53e-4) / 4},
		// The north-west of the four has most of the weight.
		{wind.Precipitation, 2, -57.25, 21600, 0.72*1.942e-3 + 0.08*1.51e-4 + 0.18*4.1e-5 + 0.02*1.53e-4},
	} {
		got, out := f.Surface(c.q, geo.Point{Lat: c.lat, Lon: c.lon}, c.t)
		require.Equal(t, wind.Inside, out, "Surface(%d, %g, %g, %g)", c.q, c.lat, c.lon, c.t)
		assert.InDelta(t, c.want, got, 1e-6*max(1e-3, math.Abs(c.want)), "Surface(%d, %g, %g, %g)", c.q, c.lat, c.lon, c.t)
	}
	visible, _ := fieldOf(t, build(t, geo.Box{South: 55, North: 62, West: 155, East: 165},
		[]string{filepath.Join(realwind.Folder(t), "gfs.t06z.pgrb2.1p00.f000")}, every))
	got, out := visible.Surface(wind.Visibility, geo.Point{Lat: 59, Lon: 161}, 0)
	require.Equal(t, wind.Inside, out)
	assert.InDelta(t, 200, got, 1e-3)
}

func TestSurfaceOutcomes(t *testing.T) {
	f := realwind.Field(t)
	region, _ := fieldOf(t, build(t, europe(), realwind.Files(t), every))
	p := geo.Point{Lat: 50, Lon: 10}
	for _, c := range []struct {
		name string
		f    *wind.Field
		q    wind.Quantity
		p    geo.Point
		t    float64
		want wind.Outcome
	}{
		{"no mean at the first step", f, wind.Precipitation, p, 0, wind.Missing},
		{"nor up to the second", f, wind.Precipitation, p, 21599, wind.Missing},
		{"but at it", f, wind.Precipitation, p, 21600, wind.Inside},
		{"cloud likewise", f, wind.Cloud, p, 10800, wind.Missing},
		{"not in this forecast", f, wind.Visibility, p, 21600, wind.Missing},
		{"no such quantity", f, wind.CAPE + 1, p, 21600, wind.Missing},
		{"before", f, wind.Gust, p, -1, wind.BeforeFirst},
		{"after", f, wind.Gust, p, 43201, wind.AfterLast},
		{"elsewhere", region, wind.Gust, geo.Point{Lat: 50, Lon: 40}, 21600, wind.OffGrid},
	} {
		got, out := c.f.Surface(c.q, c.p, c.t)
		assert.Equal(t, c.want, out, c.name)
		if out != wind.Inside {
			assert.Zero(t, got, c.name)
		}
	}
}

// A level's own values at its own height, at nodes. Source: ecCodes 2.28.0,
// codes_grib_find_nearest; the geopotential heights 5472.2871875, 10748.64625
// and 30229.785 gpm are those of the same nodes.
func TestUpperAirAgainstEcCodes(t *testing.T) {
	f := realwind.Field(t)
	for _, c := range []struct {
		lat, lon    float64
		height      atmos.Geopotential
		t           float64
		east, north float64
		temperature float64
		pascal      float64
	}{
		{50, 10, 5472.2871875, 0, 18.84, 14.47, 247.5, 50000},
		{-40, 170, 10748.64625, 21600, 23.3, 5.0, 225.3, 25000},
		{-75, -32.5, 30229.785, 43200, 9.1, 7.99, 217.6, 1000},
	} {
		got, out := f.At(geo.Point{Lat: c.lat, Lon: c.lon}, c.height.Geometric(c.lat), c.t)
		require.Equal(t, wind.Inside, out)
		// Heights are stored to 0.002 m; no shear here passes 0.05 /s.
		assert.InDelta(t, c.east, got.East, 1e-4)
		assert.InDelta(t, c.north, got.North, 1e-4)
		assert.InDelta(t, c.temperature, got.Temperature, 1e-4)
		assert.InEpsilon(t, c.pascal, got.Pressure, 1e-6)
	}
	// Terrain of 5030.08064453125 and 2771.68064453125 gpm.
	terrain := f.Terrain()
	for _, c := range []struct {
		p    geo.Point
		want atmos.Geopotential
	}{{geo.Point{Lat: 30, Lon: 87.5}, 5030.08064453125}, {geo.Point{Lat: -90}, 2771.68064453125}} {
		cell, ok := f.Grid().Cell(c.p)
		require.True(t, ok)
		require.Zero(t, cell.X+cell.Y)
		assert.InDelta(t, float64(c.want.Geometric(c.p.Lat)), float64(terrain[cell.SW]), 1e-3, "terrain at %v", c.p)
	}
}
