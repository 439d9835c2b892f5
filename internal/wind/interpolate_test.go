package wind_test

import (
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// smooth is a wind that varies on all four axes, some 10 m/s.
func smooth(p geo.Point, z, t float64) wind.Sample {
	s := wind.Still(z)
	s.East = 10 * math.Sin(p.Lat/5) * math.Cos(p.Lon/4) * math.Sin(z/4000) * math.Cos(t/9000)
	s.North = 10 * math.Cos(p.Lat/4) * math.Sin(p.Lon/5) * math.Cos(z/5000) * math.Sin(t/7000)
	return s
}

// spaced is smooth on axes of the given spacings.
func spaced(t *testing.T, deg, metres, seconds float64) *wind.Field {
	t.Helper()
	a := wind.Axes{Grid: geo.Grid{
		NX: 2 + int(math.Round(4/deg)), NY: 2 + int(math.Round(4/deg)), Lat0: 40, Lon0: 8, DLat: deg, DLon: deg,
	}}
	for z := 0.0; z <= 8000; z += metres {
		a.Heights = append(a.Heights, z)
	}
	for at := 0.0; at <= 12000; at += seconds {
		a.Times = append(a.Times, at)
	}
	f, err := wind.New(a, smooth)
	require.NoError(t, err)
	return f
}

// Linear interpolation is of second order: half the spacing of one axis, a
// quarter of the error on it. Points lie on nodes of the other axes, where
// nothing is lost.
func TestErrorFallsWithTheSquareOfTheSpacing(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	on := func(n int, spacing float64) float64 { return spacing * float64(r.IntN(n+1)) }
	for _, c := range []struct {
		name           string
		coarse, fine   *wind.Field
		lat, lon, z, t func() float64
	}{
		{
			"horizontal", spaced(t, 0.5, 1000, 3000), spaced(t, 0.25, 1000, 3000),
			func() float64 { return 40 + 4*r.Float64() }, func() float64 { return 8 + 4*r.Float64() },
			func() float64 { return on(8, 1000) }, func() float64 { return on(4, 3000) },
		},
		{
			"vertical", spaced(t, 1, 800, 3000), spaced(t, 1, 400, 3000),
			func() float64 { return 40 + on(4, 1) }, func() float64 { return 8 + on(4, 1) },
			func() float64 { return 8000 * r.Float64() }, func() float64 { return on(4, 3000) },
		},
		{
			"time", spaced(t, 1, 1000, 2000), spaced(t, 1, 1000, 1000),
			func() float64 { return 40 + on(4, 1) }, func() float64 { return 8 + on(4, 1) },
			func() float64 { return on(8, 1000) }, func() float64 { return 12000 * r.Float64() },
		},
	} {
		coarse, fine := 0.0, 0.0
		for range 30000 {
			p, z, at := geo.Point{Lat: c.lat(), Lon: c.lon()}, c.z(), c.t()
			coarse += missSquared(t, c.coarse, p, z, at)
			fine += missSquared(t, c.fine, p, z, at)
		}
		assert.InDelta(t, 4, math.Sqrt(coarse/fine), 0.3, "%s: root mean square errors %g and %g m/s", c.name,
			math.Sqrt(coarse/30000), math.Sqrt(fine/30000))
	}
}

func missSquared(t *testing.T, f *wind.Field, p geo.Point, z, at float64) float64 {
	t.Helper()
	got, out := f.At(p, atmos.Geometric(z), at)
	require.Equal(t, wind.Inside, out, "At(%v, %g, %g)", p, z, at)
	want := smooth(p, z, at)
	return math.Pow(got.East-want.East, 2) + math.Pow(got.North-want.North, 2)
}

// Between two steps everything is linear in time, ln p too; the wind of the
// later step counts for more as it draws near.
func TestLinearInTime(t *testing.T) {
	f := realwind.Field(t)
	r := rand.New(rand.NewPCG(5, 6))
	for range 200 {
		p := geo.Point{Lat: -89 + 178*r.Float64(), Lon: -180 + 360*r.Float64()}
		z := atmos.Geometric(40000 * r.Float64())
		a, out := f.At(p, z, 21600)
		require.Equal(t, wind.Inside, out)
		b, _ := f.At(p, z, 43200)
		for _, w := range []float64{0.125, 0.25, 0.5, 0.875} {
			got, out := f.At(p, z, 21600*(1+w))
			require.Equal(t, wind.Inside, out)
			assert.InDelta(t, (1-w)*a.East+w*b.East, got.East, 1e-9)
			assert.InDelta(t, (1-w)*a.North+w*b.North, got.North, 1e-9)
			assert.InDelta(t, (1-w)*a.Temperature+w*b.Temperature, got.Temperature, 1e-9)
			assert.InDelta(t, (1-w)*math.Log(a.Pressure)+w*math.Log(b.Pressure), math.Log(got.Pressure), 1e-9)
		}
	}
}

// A field is read-only: many may sample it at once and get what one gets.
func TestSamplingFromManyGoroutines(t *testing.T) {
	f := realwind.Field(t)
	sample := func(seed uint64) (all []wind.Sample) {
		r := rand.New(rand.NewPCG(seed, 7))
		for range 2000 {
			p := geo.Point{Lat: -90 + 180*r.Float64(), Lon: -180 + 360*r.Float64()}
			s, _ := f.At(p, atmos.Geometric(50000*r.Float64()), 45000*r.Float64())
			all = append(all, s)
		}
		return all
	}
	var got [8][]wind.Sample
	var group sync.WaitGroup
	for i := range got {
		group.Go(func() { got[i] = sample(uint64(i)) })
	}
	group.Wait()
	for i := range got {
		assert.Equal(t, sample(uint64(i)), got[i])
	}
}

func BenchmarkAt(b *testing.B) {
	f := realwind.Field(b)
	p, z, t := geo.Point{Lat: 47.3, Lon: 8.5}, 500.0, 1000.0
	b.ReportAllocs()
	for b.Loop() {
		// As a flight goes: some metres farther with every sample.
		if _, out := f.At(p, atmos.Geometric(z), t); out != wind.Inside {
			b.Fatal(out)
		}
		p.Lon, z, t = p.Lon+1e-3, z+25, t+5
		if z > 30000 {
			p.Lon, z, t = 8.5, 500, 1000
		}
	}
}
