package ensemble

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/wind"
)

// Ishigami's function, a = 7, b = 0.1, three inputs uniform between ±π. Its
// closed-form shares (from memory, and by hand from V = a²/8 + bπ⁴/5 + b²π⁸/18 +
// 1/2, V₁ = (1 + bπ⁴/5)²/2, V₂ = a²/8, V₁₃ = 8b²π⁸/225): first 0.3139, 0.4424,
// 0; total 0.5576, 0.4424, 0.2437.
func TestSplitOfIshigami(t *testing.T) {
	const rows = 4096
	f := func(u [3]float64) [2]float64 {
		x := [3]float64{}
		for d := range x {
			x[d] = math.Pi * (2*u[d] - 1)
		}
		y := math.Sin(x[0]) + 7*math.Pow(math.Sin(x[1]), 2) + 0.1*math.Pow(x[2], 4)*math.Sin(x[0])
		return [2]float64{0.6*y + 5, -0.8*y - 100} // along some line, and not about zero
	}
	groups := make([][]row, 16)
	for i := range uint64(16 * rows) {
		var a, b [3]float64
		randomPoint(1, 1, i, a[:])
		randomPoint(1, 2, i, b[:])
		r := row{f(a), f(b)}
		for d := range a {
			mixed := a
			mixed[d] = b[d]
			r = append(r, f(mixed))
		}
		groups[i/rows] = append(groups[i/rows], r)
	}
	variance, first, total := split(groups, 3)
	assert.InEpsilon(t, 13.8446, variance, 0.02) // the V above
	wantFirst, wantTotal := [3]float64{0.3139, 0.4424, 0}, [3]float64{0.5576, 0.4424, 0.2437}
	for d := range 3 {
		t.Logf("input %d: first %.4f ± %.4f, total %.4f ± %.4f", d+1, first[d].value, first[d].err, total[d].value, total[d].err)
		assert.InDelta(t, wantFirst[d], first[d].value, 3.5*first[d].err, "input %d: first", d+1)
		assert.InDelta(t, wantTotal[d], total[d].value, 3.5*total[d].err, "input %d: total", d+1)
		assert.Less(t, max(first[d].err, total[d].err), 0.012, "the test tells too little")
	}
}

// Without two groups there is no standard error, without rows no share.
func TestSplitOfLittle(t *testing.T) {
	_, first, _ := split([][]row{nil, {{{0, 0}, {2, 0}, {2, 0}}, {{1, 0}, {0, 0}, {0, 1}}}}, 1)
	assert.False(t, math.IsNaN(first[0].value))
	assert.True(t, math.IsNaN(first[0].err))
	_, first, total := split([][]row{nil, nil}, 1)
	assert.True(t, math.IsNaN(first[0].value) && math.IsNaN(total[0].value))
}

// uniform is air that all moves alike, toward east, for ever.
func uniform(t *testing.T, speed float64) flight.Scene {
	t.Helper()
	var heights []float64
	for z := 0.0; z <= 40e3; z += 1000 {
		heights = append(heights, z)
	}
	f, err := wind.New(wind.Axes{
		Grid:  geo.Grid{NX: 9, NY: 9, Lat0: -4, Lon0: -4, DLat: 1, DLon: 1},
		Start: time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC), Times: []float64{0, 48 * 3600}, Heights: heights,
	}, func(_ geo.Point, z, _ float64) wind.Sample {
		s := wind.Still(z)
		s.East = speed
		return s
	})
	require.NoError(t, err)
	return flight.Scene{Wind: f, Terrain: ground.Terrain{Grid: f.Grid(), Height: f.Terrain()}, Layer: coarse}
}

// In uniform wind a landing is as far off as it was long in the air, H/w +
// F·5/v, so that small spreads make, each times the wind: the rate of ascent
// H/w²·σ, the speed of fall F/v·σ, the burst height (1/w + 1/v(H))·σ, and the
// delay nothing. H = 30 km, w = v = 5 m/s; F = 2,749.8 s (see
// TestFlightAsPlanned); v(H) = 5·√(1.225/0.018410) m/s (density at 30 km: US
// Standard Atmosphere 1976, table). The squares' shares are the answer; so much
// spread makes them wrong by a thousandth. Two members apart by ±0.1 m/s add
// 0.1 m/s times the time in the air.
func TestExplainInUniformWind(t *testing.T) {
	s := spec()
	s.Ascent.Spread, s.Landing.Spread, s.Burst.Spread, s.WindError = 0.05, 0.05, 200, 0
	const speed = 10.0
	seconds := []float64{
		AscentCause: 30e3 / 25 * 0.05, BurstCause: (1.0/5 + 1/(5*math.Sqrt(1.225/0.018410))) * 200,
		FallCause: 2749.8 / 5 * 0.05, DelayCause: 0, MemberCause: (6000 + 2749.8) * 0.1 / speed,
	}
	for _, c := range []struct {
		name   string
		scenes []flight.Scene
		causes []Cause
	}{
		{"one member", []flight.Scene{uniform(t, speed)}, []Cause{AscentCause, BurstCause, FallCause, DelayCause}},
		{
			"two members",
			[]flight.Scene{uniform(t, speed-0.1), uniform(t, speed+0.1)},
			[]Cause{AscentCause, BurstCause, FallCause, DelayCause, MemberCause},
		},
	} {
		e, err := Explain(context.Background(), c.scenes, s, nil)
		require.NoError(t, err)
		assert.Equal(t, ExplainRows, e.Rows)
		assert.Equal(t, ExplainRows*(2+len(c.causes)), e.Flights)
		require.Len(t, e.Effects, len(c.causes))
		sum := 0.0
		for _, cause := range c.causes {
			sum += seconds[cause] * seconds[cause]
		}
		assert.InEpsilon(t, speed*math.Sqrt(sum), e.Spread, 0.05, "%s: spread", c.name)
		for k, cause := range c.causes {
			got, want := e.Effects[k], seconds[cause]*seconds[cause]/sum
			t.Logf("%s: %v: first %.3f ± %.3f, total %.3f ± %.3f, want %.3f", c.name, cause, got.First, got.FirstError, got.Total, got.TotalError, want)
			assert.Equal(t, cause, got.Cause)
			assert.InDelta(t, want, got.First, 3.5*got.FirstError+0.005, "%s: %v: first", c.name, cause)
			assert.InDelta(t, want, got.Total, 3.5*got.TotalError+0.005, "%s: %v: total", c.name, cause)
			assert.Less(t, max(got.FirstError, got.TotalError), 0.06, "%s: %v: the test tells too little", c.name, cause)
		}
	}
}

// Where the wind error is all there is, it makes all; and it is one cause, its
// modes together. In calm air nothing else moves a landing, so that the shares of
// ascent and burst are what they add to it by the time aloft, in company with it
// alone: first none, total some.
func TestExplainWindError(t *testing.T) {
	s := spec()
	scenes := []flight.Scene{calm(t, 45e3)}
	alone := s
	alone.Ascent.Spread, alone.Burst.Spread, alone.Landing.Spread, alone.Delay.Spread = 0, 0, 0, 0
	e, err := Explain(context.Background(), scenes, alone, nil)
	require.NoError(t, err)
	require.Len(t, e.Effects, 1)
	assert.Equal(t, WindCause, e.Effects[0].Cause)
	assert.InDelta(t, 1, e.Effects[0].First, 3.5*e.Effects[0].FirstError+0.005)
	assert.InDelta(t, 1, e.Effects[0].Total, 3.5*e.Effects[0].TotalError+0.005)

	e, err = Explain(context.Background(), scenes, s, nil)
	require.NoError(t, err)
	for _, effect := range e.Effects {
		if effect.Cause == WindCause {
			assert.InDelta(t, 1, effect.Total, 3.5*effect.TotalError+0.005)
			continue
		}
		assert.InDelta(t, 0, effect.First, 3.5*effect.FirstError, "%v", effect.Cause)
		if effect.Cause != DelayCause {
			assert.Greater(t, effect.Total, 0.0005, "%v", effect.Cause)
		}
	}

	// The same for any number of workers, and not for another seed.
	s.Workers = 1
	one, err := Explain(context.Background(), scenes, s, nil)
	require.NoError(t, err)
	s.Workers = 7
	many, err := Explain(context.Background(), scenes, s, nil)
	require.NoError(t, err)
	assert.Equal(t, one, many)
	s.Seed = 2
	other, err := Explain(context.Background(), scenes, s, nil)
	require.NoError(t, err)
	assert.NotEqual(t, one, other)
}

// A kind is A, B, or A with one cause's dimensions from B and no others. Every
// dimension belongs to one cause, of a train that was measured and of one that
// was weighed, but for those that only the latter has.
func TestExchanged(t *testing.T) {
	exchanges(t, gasDimension, []Cause{AscentCause, BurstCause, FallCause, DelayCause, MemberCause, WindCause, BreakCause})
	exchanges(t, dimensions, []Cause{
		DragCause, DiameterCause, CanopyCause, DelayCause, MemberCause, WindCause, BreakCause, GasCause, MassCause, RemainsCause,
	})
}

func exchanges(t *testing.T, used int, all []Cause) {
	t.Helper()
	var a, b, mixed [dimensions]float64
	exchanged(1, 5, 0, all, a[:])
	exchanged(1, 5, 1, all, b[:])
	times := [dimensions]int{}
	for k := range all {
		exchanged(1, 5, 2+k, all, mixed[:])
		for d := range mixed {
			if mixed[d] == b[d] {
				times[d]++
			} else {
				require.Equal(t, a[d], mixed[d])
			}
			require.NotEqual(t, a[d], b[d])
		}
	}
	for d, n := range times[:used] {
		assert.Equal(t, 1, n, "dimension %d: causes that it belongs to", d)
	}
	mode := firstModeDimension
	exchanged(1, 5, 2, []Cause{WindCause}, mixed[:])
	assert.Equal(t, b[mode:courseDimension], mixed[mode:courseDimension])
}

func TestExplainRefusesAndStops(t *testing.T) {
	s := spec()
	_, err := Explain(context.Background(), nil, s, nil)
	require.EqualError(t, err, "no scenes: want at least one")
	ctx, cancel := context.WithCancel(context.Background())
	_, err = Explain(ctx, []flight.Scene{calm(t, 45e3)}, s, func(int) { cancel() })
	require.ErrorIs(t, err, context.Canceled)
	e, err := Explain(context.Background(), []flight.Scene{calm(t, 20e3)}, s, nil)
	require.NoError(t, err)
	assert.Zero(t, e.Rows, "sets of flights of which each one lands, where none does")
}
