package ensemble

import (
	"context"
	"math"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// coarse is a layer for tests that do not look at where exactly a flight lands.
const coarse = 500.0

// calm is still air of the standard atmosphere around 0° N 0° E up to a height
// in whole kilometres, for two days, over a plain at sea level.
func calm(t testing.TB, top float64) flight.Scene {
	t.Helper()
	var heights []float64
	for z := 0.0; z <= top; z += 1000 {
		heights = append(heights, z)
	}
	f, err := wind.New(wind.Axes{
		Grid:  geo.Grid{NX: 9, NY: 9, Lat0: -4, Lon0: -4, DLat: 1, DLon: 1},
		Start: time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC), Times: []float64{0, 48 * 3600}, Heights: heights,
	}, func(_ geo.Point, z, _ float64) wind.Sample { return wind.Still(z) })
	require.NoError(t, err)
	return flight.Scene{Wind: f, Terrain: ground.Terrain{Grid: f.Grid(), Height: f.Terrain()}, Layer: coarse}
}

// coast is the real forecast of 2017 over the built-in coasts and lakes, with
// one closed volume, and a launch whose flights come down on either side of
// the coast and of the volume's edge.
func coast(t testing.TB) (flight.Scene, *ground.Map, Spec) {
	t.Helper()
	f := realwind.Field(t)
	water, err := ground.BuiltInWater()
	require.NoError(t, err)
	closed, err := ground.ReadVolumes("closed", []byte(`{"type":"Feature","properties":{"floor_m":500,"ceiling_m":2000},`+
		`"geometry":{"type":"Polygon","coordinates":[[[9,54.4],[11,54.4],[11,55],[9,55],[9,54.4]]]}}`))
	require.NoError(t, err)
	s := spec()
	s.Launch.At = geo.Point{Lat: 54.1, Lon: 8.9}
	return flight.Scene{Wind: f, Terrain: ground.Terrain{Grid: f.Grid(), Height: f.Terrain()}, Layer: coarse},
		&ground.Map{Layers: []*ground.Layer{water}, Volumes: closed}, s
}

func run(t testing.TB, scene flight.Scene, s Spec) []Outcome {
	t.Helper()
	outcomes, err := Run(context.Background(), []flight.Scene{scene}, &ground.Map{}, s, nil)
	require.NoError(t, err)
	require.Len(t, outcomes, s.Scrambles*s.PerScramble)
	return outcomes
}

func TestSameForAnyNumberOfWorkers(t *testing.T) {
	scene, over, s := coast(t)
	s.Scrambles, s.PerScramble = 8, 32
	fly := func(workers int, seed uint64) []Outcome {
		s.Workers, s.Seed = workers, seed
		outcomes, err := Run(context.Background(), []flight.Scene{scene}, over, s, nil)
		require.NoError(t, err)
		return outcomes
	}
	alone := fly(1, 1)
	water, closed := 0, 0
	for _, o := range alone {
		require.Equal(t, flight.Landed, o.End)
		if o.Met.Under.Has(ground.Water) {
			water++
		}
		if o.Met.Crossed != (hazard.Crossed{}) {
			closed++
		}
	}
	require.True(t, water > 10 && water < 246, "%d of 256 flights come down in water: a case that tells nothing", water)
	require.True(t, closed > 10 && closed < 246, "%d of 256 flights cross the volume: a case that tells nothing", closed)
	for _, workers := range []int{2, 5, 12, 0, 1000} {
		assert.True(t, assert.ObjectsAreEqual(alone, fly(workers, 1)), "%d workers and one differ", workers)
	}
	for i, o := range fly(2, 2) {
		require.NotEqual(t, alone[i].At, o.At, "flight %d of two seeds", i)
	}
}

// The first four of 16 scrambles are those of four, and no two flights are the
// same.
func TestFlightsDoNotDependOnHowManyThereAre(t *testing.T) {
	scene, s := calm(t, 40e3), spec()
	many := run(t, scene, s)
	s.Scrambles = 4
	assert.True(t, assert.ObjectsAreEqual(many[:256], run(t, scene, s)), "16 scrambles of 64 do not begin as 4 of 64 do")
	seen := map[geo.Point]int{}
	for i, o := range many {
		before, found := seen[o.At]
		require.False(t, found, "flights %d and %d are the same", before, i)
		seen[o.At] = i
	}
}

// steady is spec's flights, all up at 5 m/s to 40 km.
func steady() Spec {
	s := spec()
	s.Ascent, s.Burst, s.Delay = Normal{Centre: 5}, Normal{Centre: 40e3}, Normal{}
	return s
}

// driftInRun flies steady flights at 5 m/s through still air whose forecast ends
// at 30 km, below the burst, and returns how far east and north of the launch
// they were there, along the ellipsoid's surface, and the time that they took.
func driftInRun(t *testing.T, s Spec) (east, north []float64, seconds float64) {
	t.Helper()
	outcomes := run(t, calm(t, 30e3), s)
	meridian, normal := geo.Radii(0)
	for _, o := range outcomes {
		require.Equal(t, flight.AboveTop, o.End)
		east = append(east, o.At.Lon*math.Pi/180*normal)
		north = append(north, o.At.Lat*math.Pi/180*meridian)
	}
	seconds = outcomes[0].Aloft
	require.InDelta(t, 6000, seconds, coarse/5, "time to the forecast's top")
	return east, north, seconds
}

// With nothing uncertain but the wind's error the drift of each flight is the
// sum of its modes' drifts, in the amplitudes that its point stands for. It is
// less by the height's share of the Earth's radius, and the earth is not quite
// flat over it: that is the 1 m.
func TestWindErrorCarriesEachFlight(t *testing.T) {
	s := steady()
	east, north, seconds := driftInRun(t, s)
	modes := windErrorModes(s.errorLaw(), s.planned(calm(t, 30e3)))
	meridian, normal := geo.Radii(0)
	gEast := driftOfModes(modes, 5*seconds, func(z float64) float64 { return normal / (normal + z) / 5 })
	gNorth := driftOfModes(modes, 5*seconds, func(z float64) float64 { return meridian / (meridian + z) / 5 })
	turn := newFlying([]flight.Scene{calm(t, 30e3)}, &ground.Map{}, s).draw.turn
	u := make([]float64, dimensions)
	for i := range east {
		newScramble(s.Seed, uint64(i/64), dimensions, 6).point(i%64, u)
		var z [dimensions]float64
		for d := range scatterDimension {
			if turned(d) {
				z[d] = normalOf(u[d])
			}
		}
		turn.apply(&z)
		x, y := 0.0, 0.0
		for k := range windModes {
			x += gEast[k] * z[firstModeDimension+2*k]
			y += gNorth[k] * z[firstModeDimension+1+2*k]
		}
		require.InDelta(t, x, east[i], 1, "flight %d: drift toward east", i)
		require.InDelta(t, y, north[i], 10, "flight %d: drift toward north", i)
	}
}

// normalOf is the standard normal quantile by bisection of its distribution
// function.
func normalOf(p float64) float64 {
	low, high := -10.0, 10.0
	for range 60 {
		if x := (low + high) / 2; 0.5*math.Erfc(-x/math.Sqrt2) < p {
			low = x
		} else {
			high = x
		}
	}
	return low
}

// The spread of the drift, by flying, against the closed form of an error that
// is correlated over the scale (see exactDrift). Each of 64 scrambles gives an
// unbiased mean square; what is allowed is 3.3 standard errors of their mean
// and what TestWindErrorDrift finds of the modes, which at 3 km and more is
// under 0.5 %; and 0.3 % for the height's share of the Earth's radius.
func TestSpreadOfDrift(t *testing.T) {
	for _, scale := range []float64{3000, 10e3} {
		s := steady()
		s.Scrambles, s.PerScramble, s.WindScale = 64, 32, scale
		east, north, seconds := driftInRun(t, s)
		// Errors also fade with the time that the way up takes.
		want := exactDrift(s.WindError, 1/(5/scale+1/s.errorLaw().life()), seconds)
		for name, drift := range map[string][]float64{"east": east, "north": north} {
			var squares, means []float64
			for r := range s.Scrambles {
				square, mean := 0.0, 0.0
				for _, x := range drift[r*s.PerScramble : (r+1)*s.PerScramble] {
					square += x * x / float64(s.PerScramble)
					mean += x / float64(s.PerScramble)
				}
				squares, means = append(squares, square), append(means, mean)
			}
			square, squareError := meanAndError(squares)
			mean, meanError := meanAndError(means)
			spread, spreadError := math.Sqrt(square), squareError/(2*math.Sqrt(square))
			t.Logf("scale %g m, toward %s: spread %.0f ± %.0f m, want %.0f m; mean %.1f ± %.1f m", scale, name, spread, spreadError, want, mean, meanError)
			assert.InDelta(t, want, spread, 3.3*spreadError+0.008*want, "scale %g m: spread of the drift toward %s", scale, name)
			assert.Less(t, spreadError, 0.03*want, "the test tells too little")
			assert.InDelta(t, 0, mean, 3.3*meanError, "scale %g m: mean drift toward %s", scale, name)
		}
	}
}

// meanAndError is the mean of independent values and its standard error.
func meanAndError(v []float64) (mean, standardError float64) {
	n := float64(len(v))
	for _, x := range v {
		mean += x / n
	}
	for _, x := range v {
		standardError += (x - mean) * (x - mean) / (n - 1) / n
	}
	return mean, math.Sqrt(standardError)
}

// What the outcomes show of the draws follows the laws of the spec: the share
// of flights below a law's quantile, in as even draws as these, misses by less
// than one flight of each scramble. Standard normal quantiles: see TestNormal.
func TestOutcomesFollowTheirLaws(t *testing.T) {
	s := spec()
	outcomes := run(t, calm(t, 45e3), s)
	for _, c := range []struct {
		name string
		law  Normal
		of   func(o Outcome) float64
	}{
		{"burst height", s.Burst, func(o Outcome) float64 { return o.Burst }},
		{"speed of fall at the ground", s.Landing, func(o Outcome) float64 { return o.Speed }},
		{"release time", Normal{6*3600 + 600, 300}, func(o Outcome) float64 { return o.Time - o.Aloft }},
	} {
		for _, q := range []struct{ share, x float64 }{{0.025, -1.959964}, {0.25, -0.674490}, {0.5, 0}, {0.9, 1.281552}, {0.99, 2.326348}} {
			below := 0
			for _, o := range outcomes {
				require.Equal(t, flight.Landed, o.End)
				if c.of(o) < c.law.Centre+q.x*c.law.Spread {
					below++
				}
			}
			assert.InDelta(t, q.share, float64(below)/1024, 1.0/64, "%s: share below the quantile of %g", c.name, q.share)
		}
	}
}

// A flight's time aloft is that of its rise and its fall: 30 km at 5 m/s and
// 2,749.8 s (quadrature of the standard atmosphere's formulas, in Python).
func TestFlightAsPlanned(t *testing.T) {
	s := spec()
	s.Ascent.Spread, s.Burst.Spread, s.Landing.Spread, s.Delay.Spread, s.WindError = 0, 0, 0, 0, 0
	scene := calm(t, 40e3)
	scene.Layer = 0
	s.Scrambles, s.PerScramble = 2, 4
	outcomes := run(t, scene, s)
	for i, o := range outcomes {
		require.Equal(t, outcomes[0], o, "flight %d: nothing is uncertain", i)
	}
	o := outcomes[0]
	assert.Equal(t, flight.Landed, o.End)
	assert.True(t, o.Met.Landed)
	assert.Equal(t, geo.Point{}, o.At)
	assert.Equal(t, 30e3, o.Burst)
	assert.InDelta(t, 6000+2749.832, o.Aloft, 0.5)
	assert.InDelta(t, 6*3600+600+o.Aloft, o.Time, 1e-6)
	assert.InDelta(t, 5, o.Speed, 1e-3)
	assert.False(t, o.Held)
}

func TestFlightsThatLeaveTheForecast(t *testing.T) {
	s := spec()
	s.Scrambles, s.PerScramble = 2, 8
	s.Burst = Normal{Centre: 30e3}
	scene := calm(t, 20e3)
	for i, o := range run(t, scene, s) {
		require.Equal(t, flight.AboveTop, o.End, "flight %d", i)
		require.False(t, o.Met.Landed || o.Held, "flight %d", i)
		require.InDelta(t, 20e3/5, o.Aloft, 1200, "flight %d: time to the top", i)
		require.Zero(t, o.Speed, "flight %d", i)
	}
	scene.Wind = scene.Wind.HoldAboveTop()
	for i, o := range run(t, scene, s) {
		require.Equal(t, flight.Landed, o.End, "flight %d, wind held", i)
		require.True(t, o.Held && o.Met.Landed, "flight %d, wind held", i)
	}
	s.Launch.At = geo.Point{Lat: 10, Lon: 20}
	for i, o := range run(t, scene, s) {
		require.Equal(t, flight.OffGrid, o.End, "flight %d", i)
		require.Equal(t, s.Launch.At, o.At, "flight %d: not even the release is inside", i)
		require.Zero(t, o.Aloft, "flight %d", i)
		require.InDelta(t, 6*3600+600, o.Time, 5*300, "flight %d", i)
	}
	s.Launch.At, s.Delay = geo.Point{}, Normal{Centre: 47 * 3600}
	for i, o := range run(t, scene, s) {
		require.Equal(t, flight.AfterLast, o.End, "flight %d", i)
	}
}

// Progress comes after every block of flights, each number once, and all of
// them at the end.
func TestProgress(t *testing.T) {
	var mutex sync.Mutex
	var told []int
	s := spec()
	s.Scrambles, s.PerScramble, s.Workers = 9, 32, 4
	_, err := Run(context.Background(), []flight.Scene{calm(t, 45e3)}, &ground.Map{}, s, func(done int) {
		mutex.Lock()
		defer mutex.Unlock()
		told = append(told, done)
	})
	require.NoError(t, err)
	require.Len(t, told, 3, "blocks of 128, 128 and 32 flights")
	slices.Sort(told)
	assert.Less(t, told[0], told[1])
	assert.Less(t, told[1], told[2])
	assert.Equal(t, 288, told[2])
}

// Cancelled from within, by the progress of its one worker, a run ends there
// and then: no further block is counted, and the context's own error comes
// back.
func TestCancel(t *testing.T) {
	scene, s := calm(t, 45e3), spec()
	for _, workers := range []int{1, 4} {
		s.Workers = workers
		ctx, cancel := context.WithCancel(context.Background())
		var mutex sync.Mutex
		var told []int
		outcomes, err := Run(ctx, []flight.Scene{scene}, &ground.Map{}, s, func(done int) {
			cancel()
			mutex.Lock()
			defer mutex.Unlock()
			told = append(told, done)
		})
		assert.Nil(t, outcomes)
		require.ErrorIs(t, err, context.Canceled)
		assert.NotEmpty(t, told)
		if workers == 1 {
			assert.Equal(t, []int{blockSize}, told, "one worker: flights done when it was cancelled, and later")
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	outcomes, err := Run(ctx, []flight.Scene{scene}, &ground.Map{}, s, func(int) { t.Error("a flight was flown after all") })
	assert.Nil(t, outcomes)
	assert.ErrorIs(t, err, context.Canceled)
	late, stop := context.WithDeadline(context.Background(), time.Unix(0, 0))
	defer stop()
	_, err = Run(late, []flight.Scene{scene}, &ground.Map{}, s, nil)
	assert.ErrorIs(t, err, context.DeadlineExceeded)
}

// A spec with a fault is refused before anything is flown.
func TestRunRefusesAFaultySpec(t *testing.T) {
	s := spec()
	s.Launch.Height = atmos.Geometric(math.Inf(1))
	scene := calm(t, 1000)
	scene.Wind = scene.Wind.HoldAboveTop()
	outcomes, err := Run(context.Background(), []flight.Scene{scene}, &ground.Map{}, s, nil)
	assert.Nil(t, outcomes)
	assert.EqualError(t, err, "release height +Inf m: want -500 to 50000 m")
}

// Flights are spread evenly over the scenes, and the answer is the same for any
// number of workers.
func TestScenesShareTheFlights(t *testing.T) {
	scene, over, s := coast(t)
	windy := calm(t, 45e3)
	windy.Wind = windy.Wind.HoldAboveTop()
	scenes := []flight.Scene{scene, {Wind: scene.Wind.HoldAboveTop(), Terrain: scene.Terrain}, scene, windy, scene}
	s.Workers = 1
	want, err := Run(context.Background(), scenes, over, s, nil)
	require.NoError(t, err)
	flights := make([]int, len(scenes))
	for _, o := range want {
		flights[o.Scene]++
		if o.Scene == 3 {
			require.Equal(t, flight.OffGrid, o.End, "54° N is not on the calm grid")
		}
	}
	for i, n := range flights {
		assert.InDelta(t, 1024.0/5, n, 16, "flights through scene %d", i)
	}
	for _, workers := range []int{2, 3, 7} {
		s.Workers = workers
		got, err := Run(context.Background(), scenes, over, s, nil)
		require.NoError(t, err)
		assert.True(t, assert.ObjectsAreEqual(want, got), "%d workers and one differ", workers)
	}
	_, err = Run(context.Background(), nil, over, s, nil)
	assert.EqualError(t, err, "no scenes: want at least one")
}

// What a flight through the kernel crosses is what Scene.Fly crosses.
func TestVolumesCrossedAsByTheIntegrator(t *testing.T) {
	scene, over, s := coast(t)
	scene.Layer = flight.Layer
	outcomes, err := Run(context.Background(), []flight.Scene{scene}, over, s, nil)
	require.NoError(t, err)
	draw, h := newFlying([]flight.Scene{scene}, over, s).draw, newHand(lanes)
	differ, crossed := 0, 0
	for i, o := range outcomes[:400] {
		for lane := range lanes {
			newScramble(s.Seed, uint64(i/64), dimensions, 6).point(i%64, h.points[lane][:])
		}
		draw.draw(h, 0)
		met := hazard.Meet(over, scene.Fly(h.releases[0], nil), skyOf(scene))
		if met.Crossed != o.Met.Crossed {
			differ++
		}
		if met.Crossed != (hazard.Crossed{}) {
			crossed++
		}
	}
	t.Logf("%d of 400 flights cross the volume, %d differ", crossed, differ)
	assert.LessOrEqual(t, differ, 1, "some flight may pass an edge within the kernel's error")
	assert.True(t, crossed > 50 && crossed < 350)
}
