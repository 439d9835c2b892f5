package flight_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/wind"
)

// even is air of one density, that of the standard sea level, in which every
// train falls at its landing speed, at whatever height.
func even() wind.Sample {
	const temperature = 250.0
	return wind.Sample{Temperature: temperature, Pressure: atmos.SeaLevelDensity * atmos.GasConstant * temperature}
}

// breeze is a field of even air in which one wind blows.
func breeze(t *testing.T, g geo.Grid, top, east, north float64) *wind.Field {
	t.Helper()
	return fieldOf(t, g, []float64{-1000, top}, func(geo.Point, float64, float64) wind.Sample {
		s := even()
		s.East, s.North = east, north
		return s
	})
}

// level is ground of one height on a grid.
func level(g geo.Grid, height float64) ground.Terrain {
	return rolling(g, func(geo.Point) float64 { return height })
}

func rolling(g geo.Grid, height func(p geo.Point) float64) ground.Terrain {
	t := ground.Terrain{Grid: g}
	for k := range g.NX * g.NY {
		t.Height = append(t.Height, float32(height(g.Node(k))))
	}
	return t
}

// checkPath is what holds of every flight, however it ends.
func checkPath(t *testing.T, f flight.Flight, r flight.Release, name string) {
	t.Helper()
	if len(f.Path) > 0 {
		want := flight.Step{Time: r.Time, At: geo.Point{Lat: r.At.Lat, Lon: geo.WrapLon(r.At.Lon)}, Height: r.Height, Pressure: f.Path[0].Pressure}
		assert.Equal(t, want, f.Path[0], "%s: the path begins at the release", name)
	}
	burst := f.Burst
	if burst < 0 {
		assert.Equal(t, -1, burst, name)
		burst = len(f.Path)
	} else {
		require.Less(t, burst, len(f.Path), name)
		assert.Equal(t, max(r.Height, r.Train.Burst), f.Path[burst].Height, "%s: height of burst", name)
	}
	for i, s := range f.Path {
		if !(s.At.Lon >= -180 && s.At.Lon < 180 && s.Pressure > 0) {
			t.Errorf("%s: step %d = %+v, want a longitude from -180 to 180 and a pressure", name, i, s)
		}
		if i == 0 {
			continue
		}
		if before := f.Path[i-1]; !(s.Time > before.Time) || (i <= burst) != (s.Height > before.Height) {
			t.Errorf("%s: step %d = %+v after %+v, burst at step %d: want it later, and higher up to the burst only", name, i, s, before, f.Burst)
		}
	}
	assert.Equal(t, f.End == flight.Landed, f.Speed > 0, "%s: speed %g at the ground", name, f.Speed)
}

func TestEveryEnd(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	train := balloon.Train{Ascent: 5, Burst: 15000, Landing: 5}
	near := box(geo.Point{}, 0.05)
	polar := box(geo.Point{Lat: 80}, 0.25)
	holed := fieldOf(t, near, []float64{0, 8000, 10000, 20000}, func(_ geo.Point, z, _ float64) wind.Sample {
		s := even()
		if z == 10000 {
			s.North = nan
		}
		return s
	})
	still, windy := breeze(t, near, 20000, 0, 0), breeze(t, near, 20000, 60, 0)
	north, flat := breeze(t, polar, 20000, 0, 30), level(near, 0)
	low, high := train, train
	low.Burst = 5000
	high.Burst = 25000
	for _, c := range []struct {
		name    string
		wind    *wind.Field
		terrain ground.Terrain
		release flight.Release
		end     flight.End
		burst   bool
		empty   bool
	}{
		{"lands", still, flat, flight.Release{Train: train}, flight.Landed, true, false},
		{"drifts out on the way up", windy, flat, flight.Release{At: geo.Point{Lon: 1}, Train: train}, flight.OffGrid, false, false},
		{"drifts out on the way down", windy, flat, flight.Release{Train: train}, flight.OffGrid, true, false},
		{"drifts out low on the way down", windy, flat, flight.Release{At: geo.Point{Lon: 1.3}, Train: low}, flight.OffGrid, true, false},
		{"passes the top", still, flat, flight.Release{Train: high}, flight.AboveTop, false, false},
		{"too late", still, flat, flight.Release{Time: 42000, Train: train}, flight.AfterLast, false, false},
		{"still aloft at the end", still, flat, flight.Release{Time: 39000, Train: train}, flight.AfterLast, true, false},
		{"too near the pole", north, level(polar, 0), flight.Release{At: geo.Point{Lat: 88.9, Lon: 3}, Train: train}, flight.NearPole, false, false},
		{"no wind at some level", holed, flat, flight.Release{Train: train}, flight.Missing, false, false},
		{"terrain not known", still, level(near, nan), flight.Release{Train: train}, flight.Missing, true, false},
		{"no terrain", still, ground.Terrain{}, flight.Release{Train: train}, flight.Missing, true, false},
		{"bottomless", still, level(near, -inf), flight.Release{Train: train}, flight.Missing, true, false},
		{"deeper than any trench", still, level(near, -13e3), flight.Release{Train: train}, flight.Missing, true, false},
		{"endless height", still, level(near, inf), flight.Release{Train: train}, flight.Missing, true, false},
		{"released off the grid", still, flat, flight.Release{At: geo.Point{Lon: 3}, Train: train}, flight.OffGrid, false, true},
		{"latitude NaN", still, flat, flight.Release{At: geo.Point{Lat: nan}, Train: train}, flight.OffGrid, false, true},
		{"longitude infinite", still, flat, flight.Release{At: geo.Point{Lon: inf}, Train: train}, flight.OffGrid, false, true},
		{"released too near the pole", north, level(polar, 0), flight.Release{At: geo.Point{Lat: 89.6}, Train: train}, flight.NearPole, false, true},
		{"released too early", still, flat, flight.Release{Time: -1, Train: train}, flight.BeforeFirst, false, true},
		{"time NaN", still, flat, flight.Release{Time: nan, Train: train}, flight.BeforeFirst, false, true},
		{"released after the end", still, flat, flight.Release{Time: 43201, Train: train}, flight.AfterLast, false, true},
		{"released above the top", still, flat, flight.Release{Height: 20001, Train: train}, flight.AboveTop, false, true},
		{"released in space", still.HoldAboveTop(), flat, flight.Release{Height: 1e12, Train: train}, flight.AboveTop, false, true},
		{"released at no height", still, flat, flight.Release{Height: atmos.Geometric(inf), Train: train}, flight.AboveTop, false, true},
		{"released underground", still, flat, flight.Release{Height: -1e9, Train: train}, flight.Missing, false, true},
		{"height NaN", still, flat, flight.Release{Height: atmos.Geometric(nan), Train: train}, flight.Missing, false, true},
		{"released without wind", holed, flat, flight.Release{Height: 10000, Train: train}, flight.Missing, false, true},
	} {
		got := flight.Scene{Wind: c.wind, Terrain: c.terrain}.Fly(c.release, nil)
		assert.Equal(t, c.end, got.End, "%s: ended %q", c.name, got.End)
		assert.Equal(t, c.burst, got.Burst >= 0, "%s: Burst = %d", c.name, got.Burst)
		assert.Equal(t, c.empty, len(got.Path) == 0, "%s: path of %d steps", c.name, len(got.Path))
		assert.False(t, got.Held, c.name)
		checkPath(t, got, c.release, c.name)
	}
}

func TestEndsHaveNames(t *testing.T) {
	seen := map[string]bool{}
	for e := range flight.Ends {
		seen[flight.End(e).String()] = true
	}
	assert.Len(t, seen, flight.Ends)
	assert.Equal(t, "landed", flight.Landed.String())
	assert.Equal(t, "left the forecast: above the forecast's highest level", flight.AboveTop.String())
}

// The burst may be the top to the last bit, whatever the release. A rise of
// over 2^15 m is counted more coarsely than a burst under it.
func TestBurstAtTheTop(t *testing.T) {
	f := breeze(t, box(geo.Point{}, 0.1), 32000, 3, 0)
	for i := range 200 {
		height := -770 - atmos.Geometric(i)/7
		r := flight.Release{Height: height, Train: balloon.Train{Ascent: 7, Burst: 32000, Landing: 5}}
		got := land(t, f, r, 0)
		checkPath(t, got, r, fmt.Sprint(float64(height)))
		assert.False(t, got.Held)
	}
}

// A flight up at w to z_b and down at v through even air takes z_b/w + z_b/v.
// In a wind that grows as a·t it drifts a·T²/2. Source: closed form; the wind's
// angular speed does not depend on height.
func TestTimeDependentWind(t *testing.T) {
	_, normal := geo.Radii(0)
	const a = 1e-3 // m/s²
	f := fieldOf(t, box(geo.Point{}, 0.1), []float64{0, 31000}, func(_ geo.Point, z, at float64) wind.Sample {
		return flatEast(even(), a*at, z)
	})
	for _, start := range []float64{0, 3000, 20000} {
		r := flight.Release{Time: start, Train: balloon.Train{Ascent: 5, Burst: 30000, Landing: 6}}
		got := last(land(t, f, r, 0))
		const flown = 30000/5.0 + 30000/6.0
		assert.InDelta(t, start+flown, got.Time, 1e-3)
		end := start + flown
		assert.InDelta(t, a/2*(end*end-start*start), radians(got.At.Lon)*normal, 0.05, "drift from %g s", start)
	}
}

func TestDurations(t *testing.T) {
	g := box(geo.Point{Lat: 45, Lon: 10}, 0.1)
	for _, c := range []struct {
		name    string
		ground  float64
		train   balloon.Train
		seconds float64
	}{
		{"under a minute, 100 m above the ground", 400, balloon.Train{Ascent: 5, Burst: 500, Landing: 5}, 40},
		{"less than one layer", 0, balloon.Train{Ascent: 5, Burst: 10, Landing: 10}, 3},
		{"six hours", 0, balloon.Train{Ascent: 2.5, Burst: 36000, Landing: 5}, 21600},
	} {
		r := flight.Release{At: geo.Point{Lat: 45, Lon: 10}, Height: atmos.Geometric(c.ground), Train: c.train}
		got := flight.Scene{Wind: breeze(t, g, 40000, 2, 1), Terrain: level(g, c.ground)}.Fly(r, nil)
		require.Equal(t, flight.Landed, got.End, c.name)
		checkPath(t, got, r, c.name)
		assert.InDelta(t, c.seconds, last(got).Time, 1e-4*c.seconds, c.name)
		assert.InDelta(t, c.ground, float64(last(got).Height), 0.01, c.name)
		// 2 and 1 m/s for that long, at a height of 0.3 % of the radius at most.
		north := radians(last(got).At.Lat-45) * 6.367e6
		assert.InEpsilon(t, c.seconds, north, 0.005, "%s: way north", c.name)
		east := radians(last(got).At.Lon-10) * 6.388e6 * math.Cos(radians(45))
		assert.InEpsilon(t, 2*c.seconds, east, 0.005, "%s: way east", c.name)
	}
}

func TestCalm(t *testing.T) {
	at := geo.Point{Lat: -41.3, Lon: 174.8}
	f := fieldOf(t, patch(at), column(50000, 500), func(_ geo.Point, z, _ float64) wind.Sample { return wind.Still(z) })
	// The highest burst and the fastest fall there are: some 3,500 m/s at the top.
	for _, train := range []balloon.Train{{Ascent: 5, Burst: 50000, Landing: 5}, {Ascent: 15, Burst: 50000, Landing: 100}, {Ascent: 0.5, Burst: 100, Landing: 0.5}} {
		r := flight.Release{At: at, Train: train}
		require.NoError(t, train.Check())
		got := land(t, f, r, 0)
		checkPath(t, got, r, fmt.Sprint(train))
		assert.Equal(t, at, last(got).At)
		assert.InEpsilon(t, train.Landing, got.Speed, 1e-3)
	}
}

// From 0 to 120 m/s and back within 2 km, three times: the layer that flights
// are flown in must do as well as one a fiftieth as thick.
func TestStrongShear(t *testing.T) {
	f := fieldOf(t, patch(geo.Point{Lat: 50, Lon: 10}), column(31000, 250), func(p geo.Point, z, _ float64) wind.Sample {
		s := wind.Still(z)
		for _, jet := range []float64{5000, 11000, 24000} {
			s.East += 120 * max(0, 1-math.Abs(z-jet)/1000)
		}
		s.North = 40 * math.Sin(z/700)
		return s
	})
	r := flight.Release{At: geo.Point{Lat: 50, Lon: 10}, Train: balloon.Train{Ascent: 5, Burst: 29990, Landing: 5}}
	got, want := last(land(t, f, r, 0)), last(land(t, f, r, 1))
	miss, _, _ := geo.Inverse(want.At, got.At)
	drift, _, _ := geo.Inverse(r.At, want.At)
	assert.Greater(t, drift, 30e3)
	assert.Less(t, miss, flight.MaxError)
}

func TestLayerThatIsNotOverZero(t *testing.T) {
	f := breeze(t, box(geo.Point{}, 0.1), 20000, 10, 5)
	r := flight.Release{Train: balloon.Train{Ascent: 5, Burst: 12345, Landing: 5}}
	want := land(t, f, r, flight.Layer)
	for _, layer := range []float64{0, -10, math.NaN()} {
		assert.Equal(t, want, land(t, f, r, layer), "layer %g", layer)
	}
	assert.Less(t, len(land(t, f, r, 500).Path), len(want.Path)/5)
}

// The bound that Fly states, met by the longest flight there is: from under
// the sea to the highest burst and down to the deepest ground.
func TestStepsAreBounded(t *testing.T) {
	g := box(geo.Point{}, 0.5)
	scene := flight.Scene{Wind: breeze(t, g, 50000, 0, 0), Terrain: level(g, -11999.9)}
	r := flight.Release{Height: -11999.9, Train: balloon.Train{Ascent: 15, Burst: 50000, Landing: 100}}
	got := scene.Fly(r, nil)
	require.Equal(t, flight.Landed, got.End)
	assert.LessOrEqual(t, len(got.Path)-1, 2482)
	assert.Greater(t, len(got.Path)-1, 2470)
}

// One slice serves any number of flights.
func TestPathIsUsedAgain(t *testing.T) {
	scene := sceneOf(breeze(t, box(geo.Point{}, 0.1), 20000, 10, 5))
	r := flight.Release{Train: balloon.Train{Ascent: 5, Burst: 15000, Landing: 5}}
	path := make([]flight.Step, 3, 1000)
	want := scene.Fly(r, nil)
	got := scene.Fly(r, path)
	assert.Equal(t, want, got)
	assert.Same(t, &path[0], &got.Path[0])
	assert.Zero(t, testing.AllocsPerRun(10, func() { got = scene.Fly(r, got.Path) }))
}

func BenchmarkFly(b *testing.B) {
	f, err := wind.New(wind.Axes{Grid: patch(geo.Point{}), Start: time.Unix(0, 0), Times: []float64{0, 43200}, Heights: column(31000, 1000)},
		func(_ geo.Point, z, _ float64) wind.Sample { return flatEast(wind.Still(z), 10, z) })
	require.NoError(b, err)
	scene := sceneOf(f)
	r := flight.Release{Train: balloon.Train{Ascent: 5, Burst: 30000, Landing: 5}}
	var path []flight.Step
	b.ReportAllocs()
	for b.Loop() {
		path = scene.Fly(r, path).Path
	}
}
