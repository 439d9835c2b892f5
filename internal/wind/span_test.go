package wind_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

// spanField is a column's worth of uneven air at every node of a small grid.
func spanField(t *testing.T) *wind.Field {
	t.Helper()
	f, err := wind.New(wind.Axes{
		Grid:  geo.Grid{NX: 2, NY: 2, Lat0: 10, Lon0: 20, DLat: 1, DLon: 1},
		Start: time.Unix(0, 0), Times: []float64{0, 3600}, Heights: []float64{100, 350, 900, 1000, 4000, 9000, 9100, 15000},
	}, func(p geo.Point, z, t float64) wind.Sample {
		s := wind.Still(z)
		s.East, s.North = 10*math.Sin(z/700+p.Lon)+t/900, z/800-5*math.Cos(z/1100+p.Lat)
		return s
	})
	require.NoError(t, err)
	return f
}

// A span's means and tilts are those of At over it, by sums over thin slices.
func TestSpanIsTheMeanOfAt(t *testing.T) {
	plain := spanField(t)
	for _, f := range []*wind.Field{plain, plain.HoldAboveTop()} {
		for _, c := range []struct{ low, high float64 }{
			{-300, -100}, {-50, 80}, {50, 250}, {100, 350}, {120, 160}, {300, 1100}, {950, 4500}, {-100, 9500}, {14000, 15000}, {14500, 15800}, {15200, 15300},
		} {
			for column := range 4 {
				for step := range 2 {
					got, out := f.Span(step, column, c.low, c.high)
					if c.high > 15000 && f == plain {
						assert.Equal(t, wind.AboveTop, out, "%+v", c)
						continue
					}
					require.Equal(t, wind.Inside, out, "%+v", c)
					want := sliced(f, step, column, c.low, c.high)
					scale := 1e-6 * (c.high - c.low)
					assert.InDelta(t, want.East, got.East, 1e-4, "%+v: east", c)
					assert.InDelta(t, want.North, got.North, 1e-4, "%+v: north", c)
					assert.InDelta(t, want.Temperature, got.Temperature, 1e-3, "%+v: temperature", c)
					assert.InDelta(t, want.LogPressure, got.LogPressure, 1e-5, "%+v: pressure", c)
					assert.InDelta(t, want.EastTilt, got.EastTilt, 100*scale, "%+v: tilt of east", c)
					assert.InDelta(t, want.NorthTilt, got.NorthTilt, 100*scale, "%+v: tilt of north", c)
					assert.InDelta(t, want.TemperatureTilt, got.TemperatureTilt, 200*scale, "%+v: tilt of temperature", c)
					assert.InDelta(t, want.PressureTilt, got.PressureTilt, 10*scale, "%+v: tilt of pressure", c)
					assert.InDelta(t, min(max((c.high-15000)/(c.high-c.low), 0), 1), got.Held, 1e-12, "%+v: held", c)
				}
			}
		}
	}
	assert.Equal(t, 15000.0, plain.LowestTop())
	assert.False(t, plain.Holds())
	assert.True(t, plain.HoldAboveTop().Holds())
}

// sliced is a span by sums.
func sliced(f *wind.Field, step, column int, low, high float64) wind.Span {
	var s wind.Span
	const n = 20000
	for i := range n {
		z := low + (high-low)*(float64(i)+0.5)/n
		a, _ := f.At(f.Grid().Node(column), atmos.Geometric(z), f.Times()[step])
		off := z - (low+high)/2
		s.East += a.East / n
		s.North += a.North / n
		s.Temperature += a.Temperature / n
		s.LogPressure += math.Log(a.Pressure) / n
		s.EastTilt += a.East * off / n
		s.NorthTilt += a.North * off / n
		s.TemperatureTilt += a.Temperature * off / n
		s.PressureTilt += math.Log(a.Pressure) * off / n
	}
	return s
}

// A level without wind is missing from every span that touches the air around
// it, and from no other.
func TestSpanWithoutWind(t *testing.T) {
	f, err := wind.New(wind.Axes{
		Grid:  geo.Grid{NX: 2, NY: 2, DLat: 1, DLon: 1},
		Start: time.Unix(0, 0), Times: []float64{0, 3600}, Heights: []float64{0, 1000, 2000, 3000, 4000},
	}, func(_ geo.Point, z, _ float64) wind.Sample {
		s := wind.Still(z)
		if z == 2000 {
			s.North = math.NaN()
		}
		return s
	})
	require.NoError(t, err)
	for _, c := range []struct {
		low, high float64
		out       wind.Outcome
	}{{0, 1000, wind.Inside}, {900, 1100, wind.Missing}, {2100, 2200, wind.Missing}, {3000, 4000, wind.Inside}, {-100, 900, wind.Inside}} {
		_, out := f.Span(1, 2, c.low, c.high)
		assert.Equal(t, c.out, out, "from %g to %g m", c.low, c.high)
	}
}
