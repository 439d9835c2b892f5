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

// sheared is a global field with 10 m/s toward east for each km of height.
func sheared(t testing.TB) *wind.Field {
	t.Helper()
	f, err := wind.New(wind.Axes{
		Grid:  geo.Grid{NX: 36, NY: 19, Lat0: -90, Lon0: -180, DLat: 10, DLon: 10},
		Start: time.Date(2020, 1, 1, 6, 0, 0, 0, time.UTC), Times: []float64{0, 3600, 10800}, Heights: []float64{0, 10000, 20000, 30000},
	}, func(_ geo.Point, z, _ float64) wind.Sample {
		s := wind.Still(z)
		s.East, s.North = z/100, -z/200
		return s
	})
	require.NoError(t, err)
	return f
}

func TestEveryOutcome(t *testing.T) {
	f := sheared(t)
	region, err := wind.New(wind.Axes{
		Grid: geo.Grid{NX: 5, NY: 5, Lat0: 40, Lon0: 172, DLat: 4, DLon: 4}, Times: []float64{0}, Heights: []float64{100, 20000},
	}, func(_ geo.Point, z, _ float64) wind.Sample { return wind.Still(z) })
	require.NoError(t, err)
	nan, inf := math.NaN(), math.Inf(1)
	above := atmos.Geometric(math.Nextafter(30000, inf))
	for _, c := range []struct {
		f    *wind.Field
		p    geo.Point
		z    atmos.Geometric
		t    float64
		want wind.Outcome
	}{
		{f, geo.Point{Lat: 50, Lon: 10}, 5000, 1000, wind.Inside},
		{f, geo.Point{Lat: 50, Lon: -180}, 5000, 0, wind.Inside},
		{f, geo.Point{Lat: 50, Lon: 179.999}, 5000, 0, wind.Inside},
		{f, geo.Point{Lat: 50, Lon: 359}, 5000, 0, wind.Inside},
		{f, geo.Point{Lat: 89.5, Lon: 10}, 5000, 1000, wind.Inside},
		{f, geo.Point{Lat: -89.5, Lon: 10}, 5000, 1000, wind.Inside},
		{f, geo.Point{Lat: math.Nextafter(89.5, 90), Lon: 10}, 5000, 1000, wind.NearPole},
		{f, geo.Point{Lat: math.Nextafter(-89.5, -90), Lon: 10}, 5000, 1000, wind.NearPole},
		{f, geo.Point{Lat: 90}, 5000, 1000, wind.NearPole},
		{f, geo.Point{Lat: -inf}, 5000, 1000, wind.NearPole},
		{f, geo.Point{Lat: nan}, 5000, 1000, wind.OffGrid},
		{f, geo.Point{Lon: nan}, 5000, 1000, wind.OffGrid},
		{f, geo.Point{Lon: inf}, 5000, 1000, wind.OffGrid},
		{f, geo.Point{Lon: -inf}, 5000, 1000, wind.OffGrid},
		{region, geo.Point{Lat: 40, Lon: 172}, 5000, 0, wind.Inside},
		{region, geo.Point{Lat: 56, Lon: -172}, 5000, 0, wind.Inside},
		{region, geo.Point{Lat: 56, Lon: 188}, 5000, 0, wind.Inside},
		{region, geo.Point{Lat: 56.001, Lon: 180}, 5000, 0, wind.OffGrid},
		{region, geo.Point{Lat: 39.999, Lon: 180}, 5000, 0, wind.OffGrid},
		{region, geo.Point{Lat: 50, Lon: 171.999}, 5000, 0, wind.OffGrid},
		{region, geo.Point{Lat: 50, Lon: -171.999}, 5000, 0, wind.OffGrid},
		{f, geo.Point{}, 30000, 1000, wind.Inside},
		{f, geo.Point{Lat: 3, Lon: 7}, 30000, 1000, wind.Inside},
		{f, geo.Point{}, above, 1000, wind.AboveTop},
		{f, geo.Point{}, atmos.Geometric(inf), 1000, wind.AboveTop},
		{f.HoldAboveTop(), geo.Point{}, above, 1000, wind.Inside},
		{f.HoldAboveTop(), geo.Point{}, 45000, 1000, wind.Inside},
		{f.HoldAboveTop(), geo.Point{}, atmos.Geometric(inf), 1000, wind.Missing},
		{f.HoldAboveTop(), geo.Point{}, 1e8, 1000, wind.Missing},
		{f, geo.Point{}, -500, 1000, wind.Inside},
		{f, geo.Point{}, atmos.Geometric(-inf), 1000, wind.Missing},
		{f, geo.Point{}, -1e8, 1000, wind.Missing},
		{f, geo.Point{}, atmos.Geometric(nan), 1000, wind.Missing},
		{f, geo.Point{}, 5000, math.Nextafter(0, -1), wind.BeforeFirst},
		{f, geo.Point{}, 5000, -inf, wind.BeforeFirst},
		{f, geo.Point{}, 5000, nan, wind.BeforeFirst},
		{f, geo.Point{}, 5000, 3600, wind.Inside},
		{f, geo.Point{}, 5000, 10800, wind.Inside},
		{f, geo.Point{}, 5000, math.Nextafter(10800, inf), wind.AfterLast},
		{f, geo.Point{}, 5000, inf, wind.AfterLast},
		{region, geo.Point{Lat: 50, Lon: 180}, 5000, 1e-9, wind.AfterLast},
	} {
		got, out := c.f.At(c.p, c.z, c.t)
		assert.Equal(t, c.want, out, "At(%v, %g, %g)", c.p, float64(c.z), c.t)
		if out != wind.Inside {
			assert.Zero(t, got, "At(%v, %g, %g)", c.p, float64(c.z), c.t)
			continue
		}
		assert.Greater(t, got.Density(), 0.0, "At(%v, %g, %g) density", c.p, float64(c.z), c.t)
		assert.Equal(t, float64(c.z) > 30000, got.Held, "At(%v, %g, %g) held", c.p, float64(c.z), c.t)
	}
}

func TestOutcomesHaveNames(t *testing.T) {
	seen := map[string]bool{}
	for o := wind.Inside; o <= wind.Missing; o++ {
		assert.NotEqual(t, "unknown outcome", o.String())
		seen[o.String()] = true
	}
	assert.Len(t, seen, int(wind.Missing)+1)
	assert.Equal(t, "unknown outcome", (wind.Missing + 1).String())
}

// Held above the top: its wind and temperature, pressure falling with the
// scale height R·T/g of its temperature (hydrostatic balance of an isothermal
// ideal gas). Below the lowest level the same downward. The field that holds
// is another one: its origin still ends at the top.
func TestBeyondTheLevels(t *testing.T) {
	f := sheared(t)
	p := geo.Point{Lat: 12, Lon: 34}
	for _, c := range []struct{ z, edge atmos.Geometric }{{30500, 30000}, {36000, 30000}, {-300, 0}} {
		edge, out := f.At(p, c.edge, 500)
		require.Equal(t, wind.Inside, out)
		require.False(t, edge.Held)
		got, out := f.HoldAboveTop().At(p, c.z, 500)
		require.Equal(t, wind.Inside, out)
		assert.Equal(t, c.z > 30000, got.Held, "held at %g m", float64(c.z))
		assert.InDelta(t, edge.East, got.East, 1e-9, "east at %g m", float64(c.z))
		assert.InDelta(t, edge.North, got.North, 1e-9, "north at %g m", float64(c.z))
		assert.InDelta(t, edge.Temperature, got.Temperature, 1e-9, "temperature at %g m", float64(c.z))
		// g 9.80665 m/s² (definition), R 287.05 J/(kg K) (ideal dry gas).
		want := edge.Pressure * math.Exp(9.80665*float64(c.edge-c.z)/(287.05*edge.Temperature))
		assert.InEpsilon(t, want, got.Pressure, 2e-5, "pressure at %g m", float64(c.z))
	}
	_, out := f.At(p, 30500, 500)
	assert.Equal(t, wind.AboveTop, out)
}

func TestAxesThatAreRefused(t *testing.T) {
	good := wind.Axes{Grid: geo.Grid{NX: 3, NY: 3, DLat: 1, DLon: 1}, Times: []float64{0, 10}, Heights: []float64{0, 100}}
	still := func(_ geo.Point, z, _ float64) wind.Sample { return wind.Still(z) }
	_, err := wind.New(good, still)
	require.NoError(t, err)
	for _, c := range []struct {
		change func(*wind.Axes)
		text   string
	}{
		{func(a *wind.Axes) { a.Grid.NX = 1 }, "grid of 1 columns and 3 rows: want at least 2 of each"},
		{func(a *wind.Axes) { a.Heights = []float64{0} }, "1 heights: want 2 to 200"},
		{func(a *wind.Axes) { a.Heights = []float64{0, 100, 100} }, "height 2 of 100 m: want more than the 100 m before it"},
		{func(a *wind.Axes) { a.Heights = []float64{0, math.NaN()} }, "height 1 of NaN m: want more than the 0 m before it"},
		{func(a *wind.Axes) { a.Times = nil }, "0 times: want 1 to 1000, the first 0"},
		{func(a *wind.Axes) { a.Times = []float64{5} }, "1 times: want 1 to 1000, the first 0"},
		{func(a *wind.Axes) { a.Times = []float64{0, 10, 10} }, "time 2 of 10 s: want more than the 10 s before it"},
		{
			func(a *wind.Axes) { a.Grid = geo.Grid{NX: 9000, NY: 9000, DLat: 0.01, DLon: 0.01} },
			"2 times, 2 heights, 81000000 columns: want at most 33554432 nodes",
		},
	} {
		a := good
		c.change(&a)
		_, err := wind.New(a, still)
		assert.EqualError(t, err, c.text)
	}
	assert.PanicsWithValue(t, "wind: no standard atmosphere at 90000 m", func() { wind.Still(90e3) })
}

// What the caller does with his times afterwards does not reach the field.
func TestFieldKeepsItsOwnTimes(t *testing.T) {
	times := []float64{0, 10}
	f, err := wind.New(wind.Axes{Grid: geo.Grid{NX: 3, NY: 3, DLat: 1, DLon: 1}, Times: times, Heights: []float64{0, 100}},
		func(_ geo.Point, z, _ float64) wind.Sample { return wind.Still(z) })
	require.NoError(t, err)
	times[1] = 99
	_, out := f.At(geo.Point{Lat: 1, Lon: 1}, 50, 50)
	assert.Equal(t, wind.AfterLast, out)
}
