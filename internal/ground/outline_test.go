package ground

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// drawn tells whether a place is in one of some polygons, each by the even-odd rule:
// what a reader of a drawing sees.
func drawn(areas orb.MultiPolygon, x, y float64) bool {
	for _, p := range areas {
		in := false
		for _, ring := range p {
			for i := 1; i < len(ring); i++ {
				a, b := ring[i-1], ring[i]
				if (a[1] > y) != (b[1] > y) && x < a[0]+(b[0]-a[0])*(y-a[1])/(b[1]-a[1]) {
					in = !in
				}
			}
		}
		if in {
			return true
		}
	}
	return false
}

// throw calls back with places of a box, their longitudes running on from its west
// edge.
func throw(b geo.Box, n int, each func(p geo.Point, x float64)) {
	r := rand.New(rand.NewPCG(3, 5))
	wide := math.Mod(b.East-b.West+360, 360)
	for range n {
		x := b.West + wide*r.Float64()
		each(geo.Point{Lat: b.South + (b.North-b.South)*r.Float64(), Lon: geo.WrapLon(x)}, x)
	}
}

var outlineBoxes = map[string]geo.Box{
	"lakes and a border": {South: 56, North: 60, West: 10, East: 16},
	"date line":          {South: -20, North: -14, West: 176, East: -176},
	"Alaska and Siberia": {South: 60, North: 70, West: 170, East: -160},
	"islands":            {South: 36, North: 41, West: 22, East: 28},
}

// A drawing holds what the layer itself says: built-in layers, at random places.
func TestOutlinesAreWhereTheLayerIs(t *testing.T) {
	when := time.Date(2017, 3, 22, 8, 0, 0, 0, time.UTC)
	whole, err := BuiltInWater()
	require.NoError(t, err)
	for name, b := range outlineBoxes {
		w, err := BuiltIn(b)
		require.NoError(t, err)
		layers := append([]*Layer{whole}, w.Layers()...)
		throw(b, 400, func(p geo.Point, _ float64) {
			if abroad, err := w.Abroad(p); err == nil && len(layers) < 7 {
				layers = append(layers, abroad)
			}
		})
		hits := 0
		for _, l := range layers {
			areas, lines := l.Outlines(b)
			assert.Empty(t, lines, name)
			throw(b, 3000, func(p geo.Point, x float64) {
				want, _ := l.At(p, when)
				if want {
					hits++
				}
				assert.Equal(t, want, drawn(areas, x, p.Lat), "%s: Outlines of %s at %v", name, l.Source().Name, p)
			})
		}
		assert.Greater(t, hits, 100, name)
	}
}

func TestOutlinesStayNearTheBox(t *testing.T) {
	b := outlineBoxes["lakes and a border"]
	w, err := BuiltIn(geo.Box{South: 50, North: 65, West: 0, East: 30})
	require.NoError(t, err)
	bound := orb.Bound{Min: orb.Point{b.West - 0.011, b.South - 0.011}, Max: orb.Point{b.East + 0.011, b.North + 0.011}}
	for _, l := range w.Layers() {
		areas, _ := l.Outlines(b)
		for _, p := range areas {
			assert.True(t, bound.Contains(p.Bound().Min) && bound.Contains(p.Bound().Max), "%s: %v", l.Source().Name, p.Bound())
		}
		none, _ := l.Outlines(geo.Box{South: 5, North: 1})
		assert.Empty(t, none)
	}
}

// Lines and lone points of a layer with a buffer are told apart from its polygons.
func TestOutlinesOfLinesAndPoints(t *testing.T) {
	l, err := ReadLayer(LayerSource{Name: "mast and wire", Class: Closed, Buffer: 100}, []byte(`{"type":"FeatureCollection","features":[
		{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[179.5,1],[180.5,1],[180.5,2],[179.5,2],[179.5,1]]]}},
		{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[179.8,0.5],[179.9,0.6]]}},
		{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[-179.75,0.5]}},
		{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[20,0.5]}}]}`))
	require.NoError(t, err)
	areas, lines := l.Outlines(geo.Box{South: 0, North: 3, West: 179, East: -179})
	require.Len(t, areas, 1)
	assert.True(t, drawn(areas, 180.25, 1.5))
	assert.False(t, drawn(areas, 180.75, 1.5))
	require.Len(t, lines, 2)
	assert.InDelta(t, 179.8, lines[0][0].Lon(), 1e-6)
	assert.InDelta(t, 180.25, lines[1][0].Lon(), 1e-6) // runs on across the date line
	assert.Equal(t, lines[1][0], lines[1][1])
}

func TestVolumeOutlines(t *testing.T) {
	volumes, err := ReadVolumes("air", []byte(`{"type":"Feature","properties":{"name":"box","floor":"GND","ceiling":"FL 95"},
		"geometry":{"type":"Polygon","coordinates":[[[10,50],[12,50],[12,52],[10,52],[10,50]],[[10.5,50.5],[11,50.5],[11,51],[10.5,51],[10.5,50.5]]]}}`))
	require.NoError(t, err)
	b := geo.Box{South: 49, North: 51.5, West: 9, East: 11.5}
	areas := volumes[0].Outlines(b)
	throw(b, 2000, func(p geo.Point, x float64) {
		assert.Equal(t, volumes[0].Over(p), drawn(areas, x, p.Lat), "Outlines at %v", p)
	})
	assert.Empty(t, volumes[0].Outlines(geo.Box{South: 0, North: 1, West: 0, East: 1}))
	assert.Empty(t, volumes[0].Outlines(geo.Box{South: 5, North: 1}))
}
