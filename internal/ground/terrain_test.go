package ground

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/thistledown/internal/geo"
)

// Bilinear interpolation is exact for a + b·lat + c·lon + d·lat·lon.
func TestTerrainIsExactForABilinearSurface(t *testing.T) {
	g := geo.Grid{NX: 7, NY: 5, Lat0: 40, Lon0: -3, DLat: 0.5, DLon: 1}
	surface := func(p geo.Point) float64 { return 100 + 20*(p.Lat-40) + 7*p.Lon + 3*(p.Lat-40)*p.Lon }
	h := Terrain{Grid: g}
	for k := range g.NX * g.NY {
		h.Height = append(h.Height, float32(surface(g.Node(k)))) // multiples of 1/2: exact
	}
	for _, p := range []geo.Point{{Lat: 40, Lon: -3}, {Lat: 42, Lon: 3}, {Lat: 40.3, Lon: -2.2}, {Lat: 41.75, Lon: 2.9}, {Lat: 41, Lon: 0.5}, {Lat: 41.2, Lon: 358}} {
		got, ok := h.At(p)
		p.Lon = geo.WrapLon(p.Lon)
		assert.True(t, ok, "At(%v)", p)
		assert.InDelta(t, surface(p), got, 1e-10, "At(%v)", p) // rounding of numbers up to 200
	}
	for _, p := range []geo.Point{{Lat: 39.9, Lon: 0}, {Lat: 42.1, Lon: 0}, {Lat: 41, Lon: -3.1}, {Lat: 41, Lon: 3.1}, {Lat: math.NaN(), Lon: 0}, {Lat: 41, Lon: math.NaN()}} {
		_, ok := h.At(p)
		assert.False(t, ok, "At(%v)", p)
	}
}

func TestTerrainAcrossTheDateLine(t *testing.T) {
	h := Terrain{Grid: geo.Grid{NX: 36, NY: 2, Lat0: 0, Lon0: 0, DLat: 10, DLon: 10}, Height: make([]float32, 72)}
	h.Height[35] = 80 // 350° E, on the equator; the next node is 0° again
	got, ok := h.At(geo.Point{Lat: 0, Lon: -2.5})
	assert.True(t, ok)
	assert.InDelta(t, 20, got, 1e-9, "a quarter of the way from 0 back to 80")
}

func TestTerrainWithGaps(t *testing.T) {
	h := Terrain{Grid: geo.Grid{NX: 3, NY: 2, Lat0: 0, Lon0: 0, DLat: 1, DLon: 1}, Height: []float32{1, 1, float32(math.NaN()), 1, 1, 1}}
	_, ok := h.At(geo.Point{Lat: 0.5, Lon: 0.5})
	assert.True(t, ok, "four known heights")
	_, ok = h.At(geo.Point{Lat: 0.5, Lon: 1.5})
	assert.False(t, ok, "one height unknown")
	h.Height = h.Height[:4]
	_, ok = h.At(geo.Point{Lat: 0.5, Lon: 0.5})
	assert.False(t, ok, "fewer heights than nodes")
}

// The zero terrain is known nowhere.
func TestNoTerrain(t *testing.T) {
	for _, p := range []geo.Point{{}, {Lat: 1, Lon: 1}, {Lat: -1, Lon: -1}, {Lat: 50, Lon: 10}} {
		_, ok := Terrain{}.At(p)
		assert.False(t, ok, "At(%+v)", p)
	}
}
