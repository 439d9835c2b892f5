package wind_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// A field that keeps only a box must give what the whole one gives, to the
// last bit, everywhere in the box, and nothing outside its own columns. Points
// are multiples of 1/1024 of the spacing, which both grids count without rounding.
func TestCroppedFieldIsTheWholeOneInTheBox(t *testing.T) {
	whole := realwind.Field(t)
	r := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name string
		box  geo.Box
		grid geo.Grid // columns, rows, south-west node
	}{
		{"across Greenwich", geo.Box{South: 40, North: 50.5, West: -6, East: 7}, geo.Grid{NX: 7, NY: 6, Lat0: 40, Lon0: -7.5}},
		{"Greenwich in 0 to 360", geo.Box{South: 40, North: 50.5, West: 354, East: 7}, geo.Grid{NX: 7, NY: 6, Lat0: 40, Lon0: -7.5}},
		{"Greenwich in -360 to 360", geo.Box{South: 40, North: 50.5, West: 354, East: -353}, geo.Grid{NX: 7, NY: 6, Lat0: 40, Lon0: -7.5}},
		{"more than a turn apart", geo.Box{South: 40, North: 50.5, West: 5, East: -353}, geo.Grid{NX: 2, NY: 6, Lat0: 40, Lon0: 5}},
		{"across the date line", geo.Box{South: -20, North: -9, West: 174, East: -172}, geo.Grid{NX: 8, NY: 6, Lat0: -20, Lon0: 172.5}},
		{"near the north pole", geo.Box{South: 80, North: 90, West: 20, East: 41}, geo.Grid{NX: 10, NY: 5, Lat0: 80, Lon0: 20}},
		{"near the south pole", geo.Box{South: -90, North: -88, West: -41, East: -20.5}, geo.Grid{NX: 10, NY: 2, Lat0: -90, Lon0: -42.5}},
		{"full circle", geo.Box{South: 10, North: 20, West: -180, East: 180}, geo.Grid{NX: 144, NY: 5, Lat0: 10, Lon0: 0}},
		{"two full circles", geo.Box{South: 10, North: 20, West: -360, East: 360}, geo.Grid{NX: 144, NY: 5, Lat0: 10, Lon0: 0}},
		{"all but a little", geo.Box{South: 10, North: 20, West: -179, East: 179.5}, geo.Grid{NX: 144, NY: 5, Lat0: 10, Lon0: 0}},
		{"all but a gap", geo.Box{South: 10, North: 20, West: -170, East: 175}, geo.Grid{NX: 139, NY: 5, Lat0: 10, Lon0: -170}},
		{"one cell", geo.Box{South: 51, North: 52, West: 1, East: 2}, geo.Grid{NX: 2, NY: 2, Lat0: 50, Lon0: 0}},
		{"the last column", geo.Box{South: 51, North: 52, West: -2, East: -1}, geo.Grid{NX: 2, NY: 2, Lat0: 50, Lon0: -2.5}},
		{"one node", geo.Box{South: 50, North: 50, West: 10, East: 10}, geo.Grid{NX: 2, NY: 2, Lat0: 50, Lon0: 10}},
		{"the pole itself", geo.Box{South: 90, North: 90, West: 10, East: 12}, geo.Grid{NX: 2, NY: 2, Lat0: 87.5, Lon0: 10}},
	} {
		cropped, warnings := fieldOf(t, build(t, c.box, realwind.Files(t), every))
		require.Empty(t, warnings, c.name)
		c.grid.DLat, c.grid.DLon = 2.5, 2.5
		require.Equal(t, c.grid, cropped.Grid(), c.name)
		width := c.box.East - c.box.West
		if width < 360 {
			width = math.Mod(width+720, 360)
		}
		for range 2000 {
			p := geo.Point{
				Lat: grain(c.box.South + 0.99*r.Float64()*(c.box.North-c.box.South)),
				Lon: geo.WrapLon(grain(c.box.West + 0.99*r.Float64()*width)),
			}
			require.True(t, c.box.Contains(p), "%s: %v", c.name, p)
			same(t, r, cropped, whole, p, c.name)
		}
		for range 500 {
			p := geo.Point{Lat: grain(-89 + 178*r.Float64()), Lon: grain(-180 + 359*r.Float64())}
			if _, ok := c.grid.Cell(p); ok {
				same(t, r, cropped, whole, p, c.name)
				continue
			}
			require.False(t, c.box.Contains(p), "%s: %v in the box and not kept", c.name, p)
			_, out := cropped.At(p, 5000, 1000)
			assert.Equal(t, wind.OffGrid, out, "%s: At(%v)", c.name, p)
		}
	}
}

func grain(deg float64) float64 { return math.Ceil(deg/2.5*1024) * (2.5 / 1024) }

// same compares samples of two fields at some height and time, and terrain.
func same(t *testing.T, r *rand.Rand, got, want *wind.Field, p geo.Point, name string) {
	t.Helper()
	z, at := atmos.Geometric(-200+46000*r.Float64()), 43200*r.Float64()
	g, gotOut := got.At(p, z, at)
	w, wantOut := want.At(p, z, at)
	require.Equal(t, wantOut, gotOut, "%s: At(%v, %g, %g)", name, p, z, at)
	require.Equal(t, w, g, "%s: At(%v, %g, %g)", name, p, z, at)
	g1, gotOut := got.Surface(wind.Gust, p, at)
	w1, wantOut := want.Surface(wind.Gust, p, at)
	require.Equal(t, wantOut, gotOut, "%s: Surface(Gust, %v, %g)", name, p, at)
	require.Equal(t, w1, g1, "%s: Surface(Gust, %v, %g)", name, p, at)
}
