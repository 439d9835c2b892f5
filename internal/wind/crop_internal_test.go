package wind

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// grids that forecasts come on: round the Earth from Greenwich and from the
// date line, with the first column twice, and regions.
var grids = map[string]geo.Grid{
	"from Greenwich":     {NX: 72, NY: 37, Lat0: -90, Lon0: 0, DLat: 5, DLon: 5},
	"from the date line": {NX: 72, NY: 37, Lat0: -90, Lon0: -180, DLat: 5, DLon: 5},
	"first column twice": {NX: 73, NY: 37, Lat0: -90, Lon0: -180, DLat: 5, DLon: 5},
	"a region":           {NX: 21, NY: 11, Lat0: 35, Lon0: -12, DLat: 2, DLon: 2},
	"over the date line": {NX: 16, NY: 11, Lat0: -30, Lon0: 170, DLat: 2, DLon: 2},
	"nearly all":         {NX: 70, NY: 37, Lat0: -90, Lon0: 10, DLat: 5, DLon: 5},
}

// Whatever the box, each node of the forecast in the box is kept, each node
// kept has its own value, and a box that touches no cell is refused.
func TestCropKeepsEveryNodeOfTheBox(t *testing.T) {
	for name, g := range grids {
		values := make([]float32, g.NX*g.NY)
		for k := range values {
			values[k] = float32(k)
		}
		rapid.Check(t, func(t *rapid.T) {
			box := geo.Box{
				South: float64(rapid.IntRange(-180, 179).Draw(t, "south")) / 2,
				West:  float64(rapid.IntRange(-720, 720).Draw(t, "west")) / 2,
				East:  float64(rapid.IntRange(-720, 720).Draw(t, "east")) / 2,
			}
			box.North = rapid.Float64Range(box.South, 90).Draw(t, "north")
			inside := 0
			for k := range values {
				if box.Contains(g.Node(k)) {
					inside++
				}
			}
			c, err := newCrop(g, box)
			if err != nil {
				require.Zero(t, inside, "%s: newCrop(%v) refuses a box with nodes in it: %v", name, box, err)
				return
			}
			require.NoError(t, c.grid.Check(), "%s: %v", name, box)
			kept := cut(values, g.NX, c.window())
			require.Len(t, kept, c.grid.NX*c.grid.NY, "%s: %v", name, box)
			got := 0
			for k, v := range kept {
				require.Equal(t, g.Node(int(v)), c.grid.Node(k), "%s: %v: node %d has the value of another", name, box, k)
				if box.Contains(c.grid.Node(k)) {
					got++
				}
			}
			require.GreaterOrEqual(t, got, inside, "%s: %v: nodes of the box that are kept", name, box)
		})
	}
}

// cut takes a window out of values in rows of nx.
func cut(values []float32, nx int, w grib.Window) []float32 {
	var kept []float32
	for j := range w.Rows {
		for i := range w.Cols {
			kept = append(kept, values[(w.Row+j)*nx+(w.Col+i)%nx])
		}
	}
	return kept
}

func TestCropRefusesABoxElsewhere(t *testing.T) {
	_, err := newCrop(grids["a region"], geo.Box{South: 40, North: 50, West: 100, East: 120})
	assert.EqualError(t, err, "no usable wind: the forecast covers latitudes 35 to 55 and longitudes -12 to 28: want some part of 40 to 50, 100 to 120")
	_, err = newCrop(grids["a region"], geo.Box{South: 60, North: 70, West: 0, East: 20})
	assert.EqualError(t, err, "no usable wind: the forecast covers latitudes 35 to 55 and longitudes -12 to 28: want some part of 60 to 70, 0 to 20")
	_, err = newCrop(geo.Grid{NX: 1, NY: 5, Lat0: 0, DLat: 1, DLon: 1}, geo.Box{South: 0, North: 1, East: 1})
	assert.EqualError(t, err, "grid of 1 columns and 5 rows: want at least 2 of each")
}

// A box over the whole Earth keeps all of a region.
func TestCropOfTheWholeEarth(t *testing.T) {
	for name, g := range grids {
		c, err := newCrop(g, geo.Box{South: -90, North: 90, West: -180, East: 180})
		require.NoError(t, err, name)
		assert.Equal(t, [4]int{g.NX, g.NY, 0, 0}, [4]int{c.grid.NX, c.grid.NY, c.col, c.row}, name)
	}
}
