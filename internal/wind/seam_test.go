package wind_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// shallow lets through what models that stop at 50 hPa have.
func shallow(f *grib.Field) bool { return f.Level.Surface != grib.Isobaric || f.Level.Value >= 5000 }

// A forecast's own upper levels put above its lower ones make it whole again.
func TestAboveItself(t *testing.T) {
	lower, _ := fieldOf(t, build(t, europe(), realwind.Files(t), shallow))
	whole := realwind.Field(t)
	got, sentence, err := lower.Above(whole)
	require.NoError(t, err)
	assert.Equal(t, whole.Levels(), got.Levels())
	assert.Contains(t, sentence, "Above 50 hPa, some 20.")
	assert.Contains(t, sentence, "up to 1 hPa")
	for z := atmos.Geometric(500); z < 45000; z += 250 {
		for _, p := range []geo.Point{{Lat: 46, Lon: 5}, {Lat: 51.3, Lon: 12.7}} {
			w, out := whole.At(p, z, 10000)
			require.Equal(t, wind.Inside, out)
			g, out := got.At(p, z, 10000)
			require.Equal(t, wind.Inside, out, "%g m", float64(z))
			assert.InDelta(t, w.East, g.East, 1e-3, "east at %g m", float64(z))
			assert.InDelta(t, w.North, g.North, 1e-3, "north at %g m", float64(z))
			assert.InDelta(t, w.Temperature, g.Temperature, 1e-3, "temperature at %g m", float64(z))
			assert.InEpsilon(t, w.Pressure, g.Pressure, 1e-5, "pressure at %g m", float64(z))
		}
	}
	_, out := lower.At(geo.Point{Lat: 51.3, Lon: 12.7}, 30000, 10000)
	assert.Equal(t, wind.AboveTop, out)
}

// uniform is air on five heights that are the same everywhere and at all
// times: wind toward east of the given speed, temperatures and pressures of the
// standard atmosphere.
func uniform(t *testing.T, g geo.Grid, start time.Time, times, heights []float64, east float64) *wind.Field {
	t.Helper()
	f, err := wind.New(wind.Axes{Grid: g, Start: start, Times: times, Heights: heights}, func(_ geo.Point, z, _ float64) wind.Sample {
		s := wind.Still(z)
		s.East = east
		return s
	})
	require.NoError(t, err)
	return f
}

// At the seam the lower forecast holds, one scale height above it the upper one
// does, and between the two the wind goes over from one to the other in
// proportion to the logarithm of pressure, on other columns and at other times.
func TestSeamFadesOut(t *testing.T) {
	start := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	low := uniform(t, geo.Grid{NX: 5, NY: 4, Lat0: 40, Lon0: 10, DLat: 1, DLon: 1}, start.Add(2*time.Hour),
		[]float64{0, 3600}, []float64{0, 5000, 10000, 15000, 20000}, 30)
	var heights []float64
	for z := 0.0; z <= 40000; z += 500 {
		heights = append(heights, z)
	}
	high := uniform(t, geo.Grid{NX: 4, NY: 4, Lat0: 35, Lon0: 5, DLat: 5, DLon: 5}, start, []float64{0, 6 * 3600}, heights, 10)
	f, _, err := low.Above(high)
	require.NoError(t, err)
	at := geo.Point{Lat: 41.7, Lon: 12.2}
	seam, ok := atmos.Standard(20000)
	require.True(t, ok)
	for z := atmos.Geometric(20000); z <= 40000; z += 500 {
		got, out := f.At(at, z, 1234)
		require.Equal(t, wind.Inside, out, "%g m", float64(z))
		air, ok := atmos.Standard(z)
		require.True(t, ok)
		share := max(0, 1-math.Log(seam.Pressure/air.Pressure))
		assert.InDelta(t, 10+20*share, got.East, 0.02, "%g m", float64(z))
		assert.InDelta(t, air.Temperature, got.Temperature, 0.01, "%g m", float64(z))
		assert.InEpsilon(t, air.Pressure, got.Pressure, 1e-3, "%g m", float64(z))
	}
	below, _ := f.At(at, 19999.9, 1234)
	above, _ := f.At(at, 20000.1, 1234)
	assert.InDelta(t, below.East, above.East, 0.01, "at the seam itself")
	assert.InDelta(t, 30, below.East, 1e-6)
}

func TestSeamsThatAreRefused(t *testing.T) {
	start := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	g := geo.Grid{NX: 4, NY: 4, Lat0: 40, Lon0: 10, DLat: 1, DLon: 1}
	low := uniform(t, g, start, []float64{0, 3600}, []float64{0, 10000, 20000}, 30)
	deep := []float64{0, 10000, 15000, 25000, 35000}
	aside := g
	aside.Lon0 = 11
	for _, c := range []struct {
		name  string
		upper *wind.Field
		text  string
	}{
		{"no higher", uniform(t, g, start, []float64{0, 3600}, []float64{0, 10000, 19000}, 10), "the upper forecast ends at"},
		{"begins too high", uniform(t, g, start, []float64{0, 3600}, []float64{21000, 30000}, 10), "the upper forecast begins at"},
		{"ends too early", uniform(t, g, start, []float64{0, 1800}, deep, 10), "want 2026-03-01T01:00:00Z, a time of the lower"},
		{"begins too late", uniform(t, g, start.Add(time.Minute), []float64{0, 7200}, deep, 10), "want 2026-03-01T00:00:00Z, a time of the lower"},
		{"elsewhere", uniform(t, aside, start, []float64{0, 3600}, deep, 10), "does not cover latitude 40, longitude 10"},
	} {
		_, _, err := low.Above(c.upper)
		assert.ErrorContains(t, err, c.text, c.name)
	}
}
