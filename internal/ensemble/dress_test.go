package ensemble

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/synth"
	"example.org/thistledown/internal/wind"
)

// sheared is a scene of air that is the standard atmosphere and moves with a
// height's wind, the same everywhere.
func sheared(t testing.TB, at func(z float64) (east, north float64)) flight.Scene {
	t.Helper()
	var heights []float64
	for z := 0.0; z <= 42e3; z += 1000 {
		heights = append(heights, z)
	}
	f, err := wind.New(wind.Axes{
		Grid:  geo.Grid{NX: 9, NY: 9, Lat0: -8, Lon0: -8, DLat: 2, DLon: 2},
		Start: time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC), Times: []float64{0, 48 * 3600}, Heights: heights,
	}, func(_ geo.Point, z, _ float64) wind.Sample {
		s := wind.Still(z)
		s.East, s.North = at(z)
		return s
	})
	require.NoError(t, err)
	return flight.Scene{Wind: f, Terrain: ground.Terrain{Grid: f.Grid(), Height: f.Terrain()}, Layer: coarse}
}

// members are scenes whose winds have a mean of 10 m/s toward east and two
// normal parts on each axis, one constant and one that grows with height; every
// second one is set off to the north by shift, m/s.
func members(t testing.TB, n int, seed uint64, shift float64) []flight.Scene {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 3))
	var out []flight.Scene
	for k := range n {
		a, b, c, d := 2*r.NormFloat64(), 3*r.NormFloat64(), r.NormFloat64(), 2*r.NormFloat64()
		out = append(out, sheared(t, func(z float64) (float64, float64) {
			return 10 + a + b*z/30e3, c + d*z/30e3 + shift*float64(k%2)
		}))
	}
	return out
}

// only is spec with nothing uncertain but the member.
func only() Spec {
	s := spec()
	s.Ascent.Spread, s.Burst.Spread, s.Landing.Spread, s.Delay.Spread, s.WindError = 0, 0, 0, 0, 0
	return s
}

// scatter is the covariance of points, divided by their number less so many.
func scatter(points [][2]float64, less float64) (c [3]float64) {
	mean, n := centre(points), float64(len(points))-less
	for _, p := range points {
		x, y := p[0]-mean[0], p[1]-mean[1]
		c[0], c[1], c[2] = c[0]+x*x/n, c[1]+y*y/n, c[2]+x*y/n
	}
	return c
}

// undressed are the landings of the flights as planned, one in each scene.
func undressed(s Spec, scenes []flight.Scene) [][2]float64 {
	var out [][2]float64
	for _, scene := range scenes {
		r := s.Launch
		r.Train.Ascent, r.Train.Burst, r.Train.Landing = s.Ascent.Centre, 30e3, s.Landing.Centre
		r.Time += s.Delay.Centre
		f := scene.Fly(r, nil)
		out = append(out, plane(s.Launch.At, f.Path[len(f.Path)-1].At))
	}
	return out
}

// With nothing else uncertain landings scatter as one more draw does about a mean
// of m, (1 + 1/m)·S, times the variance (m-1)/(m-4) of what is not known of S: that
// of Student's t of two dimensions with m-2 degrees of freedom ([Hotelling1931]).
// So it is on each axis and across them, and the mean stays.
func TestDressedScatter(t *testing.T) {
	for _, m := range []int{9, 20, 31} {
		scenes, s := members(t, m, uint64(m), 0), only()
		s.Scrambles = 256
		at := landings(t, scenes, s)
		bare := undressed(s, scenes)
		n := float64(m)
		whole, want := scatter(at, 1), scatter(bare, 1)
		k := (1 + 1/n) * (n - 1) / (n - 4)
		size := math.Sqrt(want[0] * want[1])
		for i, axes := range []string{"east", "north", "east and north"} {
			// Of m = 9 the scale s is cut off at 4, which takes 1.5 % (by its law).
			assert.InDelta(t, k*want[i]/size, whole[i]/size, 0.04*k*want[0]/size, "%d members: variance %s over that of bare members", m, axes)
		}
		assert.InDelta(t, centre(bare)[0], centre(at)[0], 0.02*math.Sqrt(want[0]), "%d members: mean east", m)
		assert.InDelta(t, centre(bare)[1], centre(at)[1], 0.02*math.Sqrt(want[0]), "%d members: mean north", m)
	}
}

// Fewer than six members are flown as they are: with nothing else uncertain,
// flights of one come down in one place.
func TestFewMembersAreBare(t *testing.T) {
	s := only()
	scenes := members(t, fewestToDress-1, 1, 0)
	bare := undressed(s, scenes)
	outcomes, err := Run(context.Background(), scenes, &ground.Map{}, s, nil)
	require.NoError(t, err)
	for _, o := range outcomes {
		p := plane(s.Launch.At, o.At)
		require.InDelta(t, 0, math.Hypot(p[0]-bare[o.Scene][0], p[1]-bare[o.Scene][1]), 30)
	}
	scenes = members(t, fewestToDress, 1, 0)
	spread := scatter(landings(t, scenes[:1], s), 1)[0]
	assert.InDelta(t, 0, spread, 1, "one scene")
	assert.NotNil(t, newDressing(scenes, s.planned(scenes[0]), s.Launch))
}

// The gap between two groups of members is not filled: each is dressed by its own
// scatter, and flights come down around the mean of their own group.
func TestGroupsAreDressedApart(t *testing.T) {
	scenes, s := members(t, 20, 5, 30), only()
	outcomes, err := Run(context.Background(), scenes, &ground.Map{}, s, nil)
	require.NoError(t, err)
	bare := undressed(s, scenes)
	var at, group [2][][2]float64
	for k, p := range bare {
		group[k%2] = append(group[k%2], p)
	}
	for _, o := range outcomes {
		at[o.Scene%2] = append(at[o.Scene%2], plane(s.Launch.At, o.At))
	}
	pooled := (scatter(group[0], 1)[1] + scatter(group[1], 1)[1]) / 2
	for g := range at {
		n := 10.0
		k := (1 + 1/n) * 18 / (17 - 2) // f = 18 degrees of freedom within groups
		// Shrunk members of one group carry the group's own scatter, the kernel the pooled one.
		own := (scatter(group[g], 1)[1] - pooled) * (1 + 1/n - math.Pow(20, -1.0/3)) * 18 / 15
		assert.InDelta(t, 1, scatter(at[g], 1)[1]/(k*pooled+own), 0.15, "variance north of group %d", g)
		assert.InDelta(t, centre(group[g])[1], centre(at[g])[1], 0.1*math.Sqrt(pooled), "mean north of group %d", g)
	}
}

// The modes that are drawn carry all but a hundredth of the variance of the drift
// to the burst and of the whole drift, among members of the invented week three
// days ahead.
func TestDressingKeepsTheDrift(t *testing.T) {
	week := synth.New(11, time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC))
	const lead = 72 * 3600.0
	site := geo.Point{Lat: 50, Lon: 10}
	n := 32
	w := ramp(5400)[:0]
	for i := range 2 * n {
		seconds := 200 * float64(i)
		if i >= n {
			seconds = 200*float64(n) + 60*float64(2*n-i)
		}
		w = append(w, moment{time: seconds, place: fromCentre(site)})
	}
	const m = 31
	own := make([][]float64, m)
	for k := range own {
		own[k] = make([]float64, rows*n)
		sky := week.Member(k)
		for i := range 2 * n {
			c := sky.Column(site, lead+w[i].time)
			a := c.AtHeight(500 + 1000*atmos.Geometric(i%n))
			own[k][2*(i/n)*n+i%n], own[k][(2*(i/n)+1)*n+i%n] = a.East, a.North
		}
	}
	centred(own, make([]bool, m), false)
	modes := w.dressModes(own, 1)
	for _, place := range []int{n / 3, n - 2, 2*n - 3} {
		drawn, all := 0.0, 0.0
		for _, mode := range modes {
			p := w.path(widened(mode))[place]
			drawn += p[0]*p[0] + p[1]*p[1]
		}
		for _, profile := range own {
			p := w.path(profile)[place]
			all += p[0]*p[0] + p[1]*p[1]
		}
		t.Logf("place %d: %.5f of the variance is drawn", place, drawn/all)
		assert.Greater(t, drawn/all, 0.99)
		assert.Less(t, drawn/all, 1+1e-6)
	}
}

// Source: SciPy 1.10.1, sqrt(f / scipy.stats.chi2.ppf(1-u, f-1)).
func TestScatterScale(t *testing.T) {
	for _, c := range []struct {
		f       int
		u, want float64
	}{
		{8, 1e-06, 0.444324706},
		{8, 0.01, 0.658035256},
		{8, 0.1234, 0.838929946},
		{8, 0.5, 1.12279746},
		{8, 0.8, 1.4467096},
		{8, 0.99, 2.54098397},
		{19, 1e-06, 0.55396404},
		{19, 0.01, 0.738846251},
		{19, 0.1234, 0.870816876},
		{19, 0.5, 1.0468357},
		{19, 0.8, 1.21564781},
		{19, 0.99, 1.64575704},
		{19, 0.9999, 2.31178213},
		{30, 1e-06, 0.610710623},
		{30, 0.01, 0.777808772},
		{30, 0.1234, 0.889081174},
		{30, 0.5, 1.02894079},
		{30, 0.8, 1.15534124},
		{30, 0.99, 1.45062401},
		{30, 0.9999, 1.85360174},
	} {
		assert.InDelta(t, c.want, newScatterScale(c.f).of(c.u), 1e-3*c.want, "scale of %d members at %g", c.f+1, c.u)
	}
	last := 0.0
	s := newScatterScale(5)
	for i := range 1000 {
		v := s.of((float64(i) + 0.5) / 1000)
		require.Greater(t, v, 0.0)
		require.GreaterOrEqual(t, v, last)
		require.LessOrEqual(t, v, greatestScale*(1+1e-12))
		last = v
	}
}

// What lies between members is part of the cause that they are: with nothing else
// uncertain it makes all of the scatter.
func TestExplainMembers(t *testing.T) {
	scenes, s := members(t, 12, 8, 0), only()
	s.Landing.Spread = 0.1
	e, err := Explain(context.Background(), scenes, s, nil)
	require.NoError(t, err)
	require.Equal(t, MemberCause, e.Effects[1].Cause)
	assert.InDelta(t, 1, e.Effects[1].First, 4*e.Effects[1].FirstError+0.02)
	assert.InDelta(t, 1, e.Effects[1].Total, 4*e.Effects[1].TotalError+0.02)
	assert.InDelta(t, 0, e.Effects[0].Total, 0.02)
}

// Dressed flights are the same for any number of workers, and a run begins as a
// longer one does.
func TestDressedFlightsAreTheirOwn(t *testing.T) {
	scenes, s := members(t, 10, 4, 0), spec()
	s.OffNominal, s.Scrambles = usual(), 4
	s.Workers = 1
	one, err := Run(context.Background(), scenes, &ground.Map{}, s, nil)
	require.NoError(t, err)
	s.Workers = 5
	five, err := Run(context.Background(), scenes, &ground.Map{}, s, nil)
	require.NoError(t, err)
	assert.Equal(t, one, five)
	s.Scrambles = 2
	two, err := Run(context.Background(), scenes, &ground.Map{}, s, nil)
	require.NoError(t, err)
	assert.Equal(t, one[:128], two)
}
