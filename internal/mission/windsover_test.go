package mission

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// Over a site the wind is told as where it blows from, at its height: here from
// the south-west below 10 km and from the north above, 1 m/s more every km.
func TestWindsOver(t *testing.T) {
	f, err := wind.New(wind.Axes{
		Grid: geo.Grid{Lat0: -1, Lon0: -1, DLat: 1, DLon: 1, NX: 3, NY: 3}, Start: time.Date(2017, 3, 22, 0, 0, 0, 0, time.UTC),
		Times: []float64{0, 3600}, Heights: []float64{0, 10_000, 10_001, 20_000},
	}, func(_ geo.Point, z, _ float64) wind.Sample {
		s := wind.Sample{Temperature: 250, Pressure: 1e5 * math.Exp(-z/7000)}
		if v := z / 1000; z <= 10_000 {
			s.East, s.North = v/math.Sqrt2, v/math.Sqrt2
		} else {
			s.North = -v
		}
		return s
	})
	require.NoError(t, err)
	at := geo.Point{Lat: 0.5, Lon: 0.5}
	all := windsOver(f, at, 1800, 100, 18_250)
	require.NotEmpty(t, all)
	assert.Equal(t, 100.0, all[0].Height)
	assert.InDelta(t, 18_250, all[len(all)-1].Height, 1e-9)
	for i, w := range all {
		from := 225.0
		if w.Height > 10_000 {
			from = 0
		}
		assert.InDelta(t, w.Height/1000, w.Speed, 1e-4, "speed at %g m", w.Height)
		assert.InDelta(t, from, math.Mod(w.From+1, 360)-1, 1e-4, "direction at %g m", w.Height)
		assert.False(t, w.Held)
		if i > 0 {
			assert.True(t, w.Height > all[i-1].Height && w.Height-all[i-1].Height <= windsStep, "%g m", w.Height)
		}
	}
	assert.Equal(t, 20_000.0, windsOver(f, at, 0, 100, 1e9)[len(windsOver(f, at, 0, 100, 1e9))-1].Height, "it ends where the forecast does")
	held := windsOver(f.HoldAboveTop(), at, 0, 100, 25_000)
	assert.True(t, held[len(held)-1].Held)
	assert.Empty(t, windsOver(f, geo.Point{Lat: 80}, 0, 100, 12_000), "outside the forecast")
}

// The lowest is the wind at 10 m, where the forecast has one.
func TestWindsOverBeginAtTenMetres(t *testing.T) {
	f := realwind.Field(t)
	at := geo.Point{Lat: 58.22, Lon: 12.80}
	all := windsOver(f, at, 7*3600, 95, 27_000)
	east, out := f.Surface(wind.SurfaceEast, at, 7*3600)
	require.Equal(t, wind.Inside, out)
	north, _ := f.Surface(wind.SurfaceNorth, at, 7*3600)
	assert.Equal(t, 105.0, all[0].Height)
	assert.InDelta(t, math.Hypot(east, north), all[0].Speed, 1e-12)
	assert.Equal(t, 500.0, all[1].Height)
	assert.Greater(t, len(all), 50)
}
