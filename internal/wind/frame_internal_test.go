package wind

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// foreign are grids of the other kinds: NCEP's grid 211 (Lambert conformal over
// North America, ON388 table B, from memory), a rotated one over Europe, and a
// regular Gaussian one over the Earth, with rows the given times as dense.
func foreign(dense int) map[string]grib.Grid {
	return map[string]grib.Grid{
		"Lambert": {
			Template: 30, NX: 92*dense + 1, NY: 64*dense + 1, Lat0: 12.19, Lon0: -133.459, AlongGrid: true,
			Cone: grib.Cone{Latin1: 25, Latin2: 25, LoV: -95, DX: 81270.5 / float64(dense), DY: 81270.5 / float64(dense), Earth: grib.Earth{Major: 6371200, Minor: 6371200}},
		},
		"rotated": {
			Template: 1, NX: 60*dense + 1, NY: 50*dense + 1, Lat0: -20, Lon0: -25, DLat: 0.8 / float64(dense), DLon: 0.8 / float64(dense),
			Rotation: grib.Rotation{Lat: -38, Lon: 8}, AlongGrid: true,
		},
		"Gaussian": {Template: 40, NX: 128 * dense, NY: 64 * dense, Lon0: 0, DLon: 360 / float64(128*dense), Gauss: grib.Gauss{N: 32 * dense}},
	}
}

// wave is a smooth wind: toward east and north, m/s.
func wave(lat, lon float64) (east, north float64) {
	phi, lambda := lat*math.Pi/180, lon*math.Pi/180
	return 40*math.Cos(phi)*math.Cos(phi) + 15*math.Sin(4*lambda)*math.Cos(phi)*math.Cos(phi), 20 * math.Cos(4*lambda+phi) * math.Cos(phi) * math.Cos(phi)
}

// resampled is the greatest error of a smooth wind, given along a grid, that
// was brought onto a regular grid over a box and turned, m/s.
func resampled(t *testing.T, g grib.Grid, box geo.Box) (worst float64, nodes int) {
	t.Helper()
	along, across := make([]float32, g.NX*g.NY), make([]float32, g.NX*g.NY)
	for j := range g.NY {
		for i := range g.NX {
			lat, lon := g.Place(i, j)
			u, v := wave(lat, lon)
			sin, cos := g.Turn(lat, lon)
			along[j*g.NX+i], across[j*g.NX+i] = float32(cos*u+sin*v), float32(-sin*u+cos*v)
		}
	}
	f, err := newFrame(g, box)
	require.NoError(t, err)
	s := f.source(g)
	x, y := cut(along, g.NX, s.window), cut(across, g.NX, s.window)
	for k, at := range s.nodes {
		p := f.grid.Node(k)
		_, _, inside := g.Locate(p.Lat, p.Lon)
		require.Equal(t, inside, at.node >= 0, "%v", p)
		if !inside {
			assert.True(t, math.IsNaN(float64(between(x, s.window.Cols, at))))
			continue
		}
		nodes++
		a, b := float64(between(x, s.window.Cols, at)), float64(between(y, s.window.Cols, at))
		if s.turn != nil {
			sin, cos := float64(s.turn[k].sin), float64(s.turn[k].cos)
			a, b = cos*a-sin*b, sin*a+cos*b
		}
		u, v := wave(p.Lat, p.Lon)
		worst = max(worst, math.Hypot(a-u, b-v))
	}
	return worst, nodes
}

// The wind of a smooth wave comes through a grid of another kind to within the
// error of bilinear interpolation: it falls by four where the grid is twice as
// dense. A turn the wrong way round, or none, is some metres a second.
func TestOtherGridsAreResampled(t *testing.T) {
	for name, box := range map[string]geo.Box{
		"Lambert":  {South: 25, North: 45, West: -110, East: -70},
		"rotated":  {South: 40, North: 60, West: -8, East: 22},
		"Gaussian": {South: -20, North: 60, West: -30, East: 40},
	} {
		coarse, nodes := resampled(t, foreign(1)[name], box)
		fine, more := resampled(t, foreign(2)[name], box)
		t.Logf("%s: %d nodes to %.3f m/s, %d nodes of the denser grid to %.3f m/s", name, nodes, coarse, more, fine)
		assert.Less(t, coarse, 0.5, name)
		assert.InDelta(t, 4, coarse/fine, 0.8, name)
		assert.InDelta(t, 4, float64(more)/float64(nodes), 0.8, name)
	}
}

// A frame covers the part of the box in which the grid has nodes, over the date
// line and round the Earth too, and is about twice as dense.
func TestFramesOfOtherGrids(t *testing.T) {
	g := foreign(1)["Gaussian"]
	for _, c := range []struct {
		name  string
		box   geo.Box
		wraps bool
	}{
		{"the date line", geo.Box{South: -20, North: 20, West: 160, East: -160}, false},
		{"Greenwich", geo.Box{South: -20, North: 20, West: -20, East: 20}, false},
		{"the Earth", geo.Box{South: -90, North: 90, West: -180, East: 180}, true},
	} {
		f, err := newFrame(g, c.box)
		require.NoError(t, err, c.name)
		assert.Equal(t, c.wraps, f.grid.Wraps(), c.name)
		assert.InDelta(t, g.Spacing()/2, f.grid.DLat, 1e-9, c.name)
		r := rand.New(rand.NewPCG(1, 2))
		width := mod(c.box.East-c.box.West, 360)
		if width == 0 {
			width = 360
		}
		for range 1000 {
			p := geo.Point{
				Lat: max(c.box.South, -87) + r.Float64()*(min(c.box.North, 87)-max(c.box.South, -87)),
				Lon: geo.WrapLon(c.box.West + r.Float64()*width),
			}
			_, ok := f.grid.Cell(p)
			assert.True(t, ok, "%s: %v is not in %+v", c.name, p, f.grid)
		}
	}
	_, err := newFrame(foreign(1)["Lambert"], geo.Box{South: -40, North: -30, West: 10, East: 20})
	assert.ErrorContains(t, err, "has no node at latitudes -40 to -30, longitudes 10 to 20")
}

// Real winds on a Lambert grid (NCEP, Eta of 8 December 2004), given along it:
// what the frame says between its nodes is what the grid itself says there,
// turned, but for the smoothing of the second interpolation.
func TestRealLambertWinds(t *testing.T) {
	reference := os.Getenv("THISTLEDOWN_REFERENCE")
	if reference == "" {
		t.Skip("left out: real winds on a Lambert grid, as THISTLEDOWN_REFERENCE is not set")
	}
	content, err := os.ReadFile(filepath.Join(reference, "grib", "nam_eta_2004120812_f024_lambert_simple.grib2"))
	require.NoError(t, err)
	var x Index
	var kept []*grib.Field
	native := map[grib.Parameter][]float32{}
	for f, err := range grib.Scan(bytes.NewReader(content), int64(len(content))) {
		require.NoError(t, err)
		require.NoError(t, x.Add(f, Ref{Offset: int64(len(kept))}))
		kept = append(kept, f)
		if f.Level.At(grib.Isobaric, 30000) {
			native[f.Parameter()], err = f.Values(nil)
			require.NoError(t, err)
		}
	}
	fields, warnings, err := x.Forecasts()[0].Fields(Part{Box: geo.Box{South: 20, North: 50, West: -120, East: -70}},
		func(at Ref) (*grib.Field, error) { return kept[at.Offset], nil })
	require.NoError(t, err)
	t.Log(warnings)
	field, g := fields[0], kept[0].Grid
	level := 0
	for field.levels[level] != 30000 {
		level++
	}
	r := rand.New(rand.NewPCG(3, 4))
	var sum, wind, raw float64
	const n = 5000
	for range n {
		p := geo.Point{Lat: 25 + 20*r.Float64(), Lon: -110 + 30*r.Float64()}
		cell, ok := field.grid.Cell(p)
		require.True(t, ok)
		got := field.isobaric(0, level, cell)
		px, py, ok := g.Locate(p.Lat, p.Lon)
		require.True(t, ok)
		at := spot{node: int32(int(py)*g.NX + int(px)), east: 1, x: float32(px - math.Floor(px)), y: float32(py - math.Floor(py))}
		a, b := float64(between(native[grib.EastwardWind], g.NX, at)), float64(between(native[grib.NorthwardWind], g.NX, at))
		sin, cos := g.Turn(p.Lat, p.Lon)
		u, v := cos*a-sin*b, sin*a+cos*b
		sum += math.Pow(float64(got.u)-u, 2) + math.Pow(float64(got.v)-v, 2)
		raw += math.Pow(float64(got.u)-a, 2) + math.Pow(float64(got.v)-b, 2)
		wind += u*u + v*v
	}
	t.Logf("wind %.1f m/s rms; resampling adds %.2f m/s rms; without the turn it would be %.1f m/s",
		math.Sqrt(wind/n), math.Sqrt(sum/n), math.Sqrt(raw/n))
	assert.Less(t, math.Sqrt(sum/n), 0.2)
	assert.Greater(t, math.Sqrt(raw/n), 2.0)
}
