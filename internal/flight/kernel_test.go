package flight_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// flyAll flies releases from one site with a new kernel.
func flyAll(scene flight.Scene, releases []flight.Release) (results []flight.Result, handed int) {
	var k flight.Kernel
	k.Prepare(scene, flight.Site{At: releases[0].At, Height: releases[0].Height})
	results = make([]flight.Result, len(releases))
	k.Fly(releases, results)
	return results, k.Handed()
}

// flyOne flies one release with a kernel that must not hand it on.
func flyOne(t *testing.T, scene flight.Scene, r flight.Release) flight.Result {
	t.Helper()
	results, handed := flyAll(scene, []flight.Release{r})
	require.Zero(t, handed, "flights handed on")
	return results[0]
}

// The same launches and the same bounds as for Scene.Fly. Those at 80° and more
// are handed on to it.
func TestKernelAgainstAnIndependentIntegration(t *testing.T) {
	scene := sceneOf(realwind.Field(t))
	var misses []float64
	handed := 0
	for _, l := range readLaunches(t) {
		results, n := flyAll(scene, []flight.Release{l.release})
		handed += n
		got := results[0]
		require.Equal(t, flight.Landed, got.End, "%s: %+v", l.id, l.release)
		miss, _, _ := geo.Inverse(l.landing, got.At)
		misses = append(misses, miss)
		assert.InDelta(t, l.time, got.Time, 1, "%s: landing time", l.id)
		assert.InDelta(t, l.height, float64(got.Height), 0.5, "%s: landing height", l.id)
	}
	slices.Sort(misses)
	at99 := misses[len(misses)*99/100]
	t.Logf("%d launches, %d handed on: miss 50 %% %.2f m, 99 %% %.2f m, worst %.2f m", len(misses), handed, misses[len(misses)/2], at99, misses[len(misses)-1])
	assert.Less(t, at99, flight.MaxError, "miss of the launch at 99 %%")
	assert.Less(t, misses[len(misses)/2], 1.0, "miss of the middle launch")
	assert.Greater(t, misses[len(misses)-1], flight.MaxError/5, "the bound is slack")
	assert.LessOrEqual(t, handed, 8)
}

// The closed forms of closedform_test.go.
func TestKernelInClosedForms(t *testing.T) {
	_, normal := geo.Radii(0)
	release := flight.Release{Train: balloon.Train{Ascent: 5, Burst: 30000, Landing: 5}}
	for _, c := range []struct {
		name  string
		speed func(z float64) float64
		drift float64
	}{
		{"uniform", func(float64) float64 { return 10 }, 84715.063349},
		{"linear shear", func(z float64) float64 { return 1e-3 * z }, 114746.278737},
	} {
		f := fieldOf(t, box(geo.Point{}, 0.5), column(31000, 200), func(_ geo.Point, z, _ float64) wind.Sample {
			return flatEast(isothermal(z), c.speed(z), z)
		})
		got := flyOne(t, sceneOf(f), release)
		assert.InDelta(t, 6000+2471.506335, got.Time, 0.02, "%s: landing time", c.name)
		assert.InDelta(t, c.drift, radians(got.At.Lon)*normal, 0.3, "%s: drift", c.name)
		assert.InDelta(t, 0, got.At.Lat, 1e-12, "%s: latitude", c.name)
		assert.InDelta(t, 5, got.Speed, 1e-4, "%s: speed at the ground", c.name)
	}
	// A burst and a landing between the edges of layers, in u = z/1000 s.
	shear := fieldOf(t, box(geo.Point{}, 2), column(31000, 200), func(_ geo.Point, z, _ float64) wind.Sample {
		return flatEast(isothermal(z), 1e-3*z, z)
	})
	for _, burst := range []float64{812, 9077, 12345, 22222, 25125, 28120, 29630} {
		r := release
		r.Train.Burst = atmos.Geometric(burst)
		got := flyOne(t, flight.Scene{Wind: shear, Terrain: level(shear.Grid(), 0)}, r)
		const h = 7000.0
		want := 1e-3 * (burst*burst/10 + (4*h*h-2*h*(burst+2*h)*math.Exp(-burst/2/h))/5)
		assert.InDelta(t, want, radians(got.At.Lon)*normal, flight.MaxError/10, "drift in linear shear, burst at %g m", burst)
	}
	const omega = 8e-6
	for _, lat := range []float64{0, 52, -33, 71} {
		at := geo.Point{Lat: lat, Lon: 179}
		release.At = at
		for _, spacing := range []float64{0.25, 2.5} {
			g := geo.Grid{NX: 9, NY: 9, DLat: spacing, DLon: spacing, Lat0: lat - 4*spacing + 0.1, Lon0: geo.WrapLon(179 - 4*spacing + 0.1)}
			f := fieldOf(t, g, column(31000, 1000), func(p geo.Point, z, _ float64) wind.Sample {
				s := isothermal(z)
				meridian, _ := geo.Radii(p.Lat)
				s.North = omega / 8 * (meridian + z)
				return s
			})
			got := flyOne(t, sceneOf(f), release)
			assert.InDelta(t, degrees(omega/8)*got.Time, got.At.Lat-lat, 2e-6, "latitude turned from latitude %g on %g°", lat, spacing)
			assert.InDelta(t, at.Lon, got.At.Lon, 1e-12, "longitude kept")
		}
		f := fieldOf(t, box(at, 0.25), column(31000, 1000), func(p geo.Point, z, _ float64) wind.Sample {
			s := isothermal(z)
			_, normal := geo.Radii(p.Lat)
			s.East = omega * (normal + z) * math.Cos(radians(p.Lat))
			return s
		})
		got := flyOne(t, sceneOf(f), release)
		assert.InDelta(t, degrees(omega)*got.Time, geo.WrapLon(got.At.Lon-at.Lon), 1e-5, "longitude turned from latitude %g", lat)
		assert.InDelta(t, lat, got.At.Lat, 1e-12, "latitude kept")
	}
}

// In a wind that changes with time, and through the standard atmosphere: closed
// form and quadrature as for Scene.Fly.
func TestKernelsClocks(t *testing.T) {
	_, normal := geo.Radii(0)
	const a = 1e-3 // m/s²
	f := fieldOf(t, box(geo.Point{}, 0.1), []float64{0, 31000}, func(_ geo.Point, z, at float64) wind.Sample {
		return flatEast(even(), a*at, z)
	})
	for _, start := range []float64{0, 3000, 20000} {
		r := flight.Release{Time: start, Train: balloon.Train{Ascent: 5, Burst: 30000, Landing: 6}}
		got := flyOne(t, sceneOf(f), r)
		end := start + 30000/5.0 + 30000/6.0
		assert.InDelta(t, end, got.Time, 1e-2)
		assert.InDelta(t, a/2*(end*end-start*start), radians(got.At.Lon)*normal, 0.2, "drift from %g s", start)
	}
	at := geo.Point{Lat: 45}
	f = fieldOf(t, patch(at), column(36000, 200), func(_ geo.Point, z, _ float64) wind.Sample { return wind.Still(z) })
	for _, c := range []struct{ from, seconds float64 }{{20000, 2378.0340}, {30000, 2749.8320}, {35000, 2851.5056}} {
		got := flyOne(t, sceneOf(f), flight.Release{At: at, Train: balloon.Train{Ascent: 5, Burst: atmos.Geometric(c.from), Landing: 5}})
		assert.InDelta(t, c.from/5+c.seconds, got.Time, 0.1, "time up to %g m and down", c.from)
		assert.InDelta(t, 5, got.Speed, 5e-4)
	}
}

// Up at a rate that grows from 3 m/s at sea level by 0.1 m/s in a kilometre a
// flight takes ln(w(z)/3)/1e-4 s; in a wind of z/1000 s it drifts
// (z − 3·ln(w(z)/3)/1e-4)·1e-3/1e-4. Source: closed form.
func TestProfiles(t *testing.T) {
	_, normal := geo.Radii(0)
	f := fieldOf(t, box(geo.Point{}, 0.1), column(31000, 1000), func(_ geo.Point, z, _ float64) wind.Sample {
		return flatEast(even(), 1e-3*z, z)
	})
	for _, spacing := range []float64{500, 600, 30000} {
		p := flight.Profile{Spacing: spacing}
		for z := 0.0; z <= 30000; z += spacing {
			p.Rate = append(p.Rate, 3+1e-4*z)
		}
		const up = 6.931471805599453e3 // ln 2 / 1e-4
		r := flight.Release{Train: balloon.Train{Ascent: 9, Burst: 30000, Landing: 6}, Profile: p}
		down := 30000 / 6.0
		drift := (30000-3*up)*10 + 1e-3*30000*30000/2/6
		got := flyOne(t, sceneOf(f), r)
		assert.InDelta(t, up+down, got.Time, 0.02, "spacing %g m: time", spacing)
		assert.InDelta(t, drift, radians(got.At.Lon)*normal, 1, "spacing %g m: drift", spacing)
		twin := last(sceneOf(f).Fly(r, nil))
		assert.InDelta(t, up+down, twin.Time, 0.02, "spacing %g m: Scene.Fly's time", spacing)
		assert.InDelta(t, drift, radians(twin.At.Lon)*normal, 1, "spacing %g m: Scene.Fly's drift", spacing)
	}
	p := flight.Profile{Spacing: 1000, Rate: []float64{4, 6, 5}}
	for _, c := range []struct{ height, rate float64 }{{-500, 4}, {0, 4}, {500, 5}, {1000, 6}, {1750, 5.25}, {2000, 5}, {9000, 5}} {
		assert.Equal(t, c.rate, p.At(c.height), "At(%g)", c.height)
	}
}

// Above the top as in TestHeldAboveTheTop: the error counts twice there.
func TestKernelAboveTheTop(t *testing.T) {
	_, normal := geo.Radii(0)
	f := breeze(t, box(geo.Point{}, 0.1), 20000, 0, 0)
	r := flight.Release{Train: balloon.Train{Ascent: 5, Burst: 24000, Landing: 5}}
	r.Error = flight.WindError{Spacing: 1000, East: []float64{3}, North: []float64{0}}
	got := flyOne(t, sceneOf(f.HoldAboveTop()), r)
	require.Equal(t, flight.Landed, got.End)
	assert.True(t, got.Held)
	want := sceneOf(f.HoldAboveTop()).Fly(r, nil)
	assert.InDelta(t, last(want).At.Lon, got.At.Lon, degrees(0.3/normal))
	const h = 287.053 * 250 / 9.80665
	assert.InDelta(t, 24000/5.0+2*h/5*(1-math.Exp(-4000/(2*h)))+20000/5.0, got.Time, 0.05)
	low := r
	low.Train.Burst = 19999.99
	assert.False(t, flyOne(t, sceneOf(f.HoldAboveTop()), low).Held)
	low.Train.Burst = 20000.01
	assert.True(t, flyOne(t, sceneOf(f.HoldAboveTop()), low).Held)
}

// On a plateau and on slopes the kernel lands where Scene.Fly does.
func TestKernelMeetsTheGround(t *testing.T) {
	f := eastward(t, 0, 20)
	plateau := flight.Scene{Wind: f, Terrain: level(f.Grid(), 1525)}
	for _, c := range []struct{ release, burst, seconds, height float64 }{
		{0, 6000, 6000/5.0 + 4475/8.0, 1525},
		{1500, 1530, 30/5.0 + 5/8.0, 1525},
		{0, 1525, 1525 / 5.0, 1525},
		{0, 1000, 1000 / 5.0, 1000},
		{900, 900, 0, 900},
		{900, 500, 0, 900},
		{6000, 500, 4475 / 8.0, 1525},
	} {
		got := flyOne(t, plateau, flight.Release{Height: atmos.Geometric(c.release), Train: balloon.Train{Ascent: 5, Burst: atmos.Geometric(c.burst), Landing: 8}})
		require.Equal(t, flight.Landed, got.End)
		assert.InDelta(t, c.seconds, got.Time, 0.002, "from %g m, burst at %g m", c.release, c.burst)
		assert.InDelta(t, c.height, float64(got.Height), 0.01, "from %g m, burst at %g m", c.release, c.burst)
	}
	grid := geo.Grid{NX: 301, NY: 5, Lat0: -0.02, Lon0: -0.1, DLat: 0.01, DLon: 0.009}
	rough := flight.Scene{Wind: f, Terrain: rolling(grid, func(p geo.Point) float64 {
		return 300 * float64(int(math.Round((p.Lon+0.1)/0.009))%2)
	})}
	var releases []flight.Release
	for burst := atmos.Geometric(10000); burst < 12000; burst += 23 {
		releases = append(releases, flight.Release{Train: balloon.Train{Ascent: 5, Burst: burst, Landing: 5}})
	}
	results, handed := flyAll(rough, releases)
	require.Zero(t, handed)
	for i, got := range results {
		require.Equal(t, flight.Landed, got.End)
		under, ok := rough.Terrain.At(got.At)
		require.True(t, ok)
		assert.InDelta(t, under, float64(got.Height), 0.01, "burst at %g m", float64(releases[i].Train.Burst))
		want := last(rough.Fly(releases[i], nil))
		assert.InDelta(t, want.At.Lon, got.At.Lon, 1e-5, "burst at %g m", float64(releases[i].Train.Burst))
	}
}

// A result depends on nothing but the scene and the release: not on the flights
// beside it, in however many cells they are, nor on where the kernel has been
// before.
func TestKernelResultsStandAlone(t *testing.T) {
	coarse := realwind.Field(t)
	at := geo.Point{Lat: 35, Lon: 137}
	f := fine(t, coarse, at, 0.25)
	releases := drawn(300, at, 50, 3*3600)
	for i := range releases { // far apart, so that cells are made again and again
		r := &releases[i]
		r.Time += float64(i%9) * 2200
		if i%5 == 0 {
			r.Profile = flight.Profile{Spacing: 2000, Rate: []float64{5, 4.5, 6, 5.5}}
		}
		for h := range r.Error.East {
			r.Error.East[h] += float64(i%8-4) * 8
			r.Error.North[h] += float64(i%7-3) * 8
		}
	}
	scene := flight.Scene{Wind: f, Terrain: ground.Terrain{Grid: coarse.Grid(), Height: coarse.Terrain()}}
	var want []flight.Result
	for _, r := range releases {
		one, _ := flyAll(scene, []flight.Release{r})
		want = append(want, one...)
	}
	var k flight.Kernel
	other, err := wind.New(wind.Axes{Grid: f.Grid(), Start: f.Start(), Times: f.Times(), Heights: levelHeights()},
		func(_ geo.Point, z, _ float64) wind.Sample { return wind.Still(z) })
	require.NoError(t, err)
	k.Prepare(flight.Scene{Wind: other, Terrain: scene.Terrain}, flight.Site{At: at, Height: 50})
	k.Fly(releases, make([]flight.Result, len(releases)))
	k.Prepare(scene, flight.Site{At: at, Height: 50})
	random := rand.New(rand.NewPCG(3, 4))
	order := random.Perm(len(releases))
	for len(order) > 0 {
		n := min(1+random.IntN(150), len(order))
		var some []flight.Release
		for _, i := range order[:n] {
			some = append(some, releases[i])
		}
		got := make([]flight.Result, n)
		k.Fly(some, got)
		for j, i := range order[:n] {
			require.Equal(t, want[i], got[j], "flight %d", i)
		}
		order = order[n:]
	}
}

func TestKernelTakesNoMemoryForAFlight(t *testing.T) {
	scene := sceneOf(realwind.Field(t))
	releases := drawn(200, geo.Point{Lat: 52, Lon: 10}, 50, 3*3600)
	releases[3].Hover = 3600
	results := make([]flight.Result, len(releases))
	for _, trace := range []bool{false, true} {
		k := flight.Kernel{Trace: trace, TraceTop: 5000}
		k.Prepare(scene, flight.Site{At: releases[0].At, Height: releases[0].Height})
		k.Fly(releases, results)
		assert.Zero(t, testing.AllocsPerRun(5, func() { k.Fly(releases, results) }), "trace %v", trace)
		require.Zero(t, k.Handed())
	}
}

// A path goes from the release to the landing and stays beside Scene.Fly's.
func TestKernelsPath(t *testing.T) {
	scene := sceneOf(realwind.Field(t))
	for _, l := range readLaunches(t)[:40] {
		k := flight.Kernel{Trace: true, TraceTop: balloon.MaxBurst}
		k.Prepare(scene, flight.Site{At: l.release.At, Height: l.release.Height})
		results := make([]flight.Result, 1)
		k.Fly([]flight.Release{l.release}, results)
		path, want := results[0].Path, scene.Fly(l.release, nil)
		require.Greater(t, len(path), 30)
		assert.Equal(t, l.release.Height, path[0].Height)
		assert.Equal(t, results[0].Height, path[len(path)-1].Height)
		assert.Equal(t, results[0].At, path[len(path)-1].At)
		highest := 0
		for i := range path {
			if path[i].Height > path[highest].Height {
				highest = i
			}
		}
		assert.Equal(t, l.release.Train.Burst, path[highest].Height)
		j := 0
		for i, p := range path {
			if i > 0 {
				require.LessOrEqual(t, math.Abs(float64(p.Height-path[i-1].Height)), 1000.001, l.id)
				require.Greater(t, p.Time, path[i-1].Time, l.id)
			}
			for j < len(want.Path)-2 && want.Path[j+1].Time < p.Time {
				j++
			}
			a, b := want.Path[j], want.Path[j+1]
			w := (p.Time - a.Time) / (b.Time - a.Time)
			assert.InDelta(t, float64(a.Height)+w*float64(b.Height-a.Height), float64(p.Height), 3, "%s: point %d", l.id, i)
			there := geo.Point{Lat: a.At.Lat + w*(b.At.Lat-a.At.Lat), Lon: geo.WrapLon(a.At.Lon + w*geo.WrapLon(b.At.Lon-a.At.Lon))}
			miss, _, _ := geo.Inverse(there, p.At)
			assert.Less(t, miss, 20.0, "%s: point %d at %g m", l.id, i, float64(p.Height))
		}
	}
}

// rare are flights through a small, short, shallow forecast, of which many end
// otherwise than by landing.
func rare(t *testing.T, random *rand.Rand, hold bool) (flight.Scene, []flight.Release) {
	t.Helper()
	at := geo.Point{Lat: random.Float64()*150 - 75, Lon: random.Float64()*360 - 180}
	if random.Float64() < 0.1 {
		at.Lat = 89.2
	}
	spacing := []float64{0.25, 1}[random.IntN(2)]
	g := geo.Grid{NX: 9, NY: 9, DLat: spacing, DLon: spacing, Lon0: geo.WrapLon(at.Lon - 4.3*spacing)}
	g.Lat0 = min(max(at.Lat-4.1*spacing, -90), 90-8*spacing)
	u, v, turn := random.NormFloat64()*25, random.NormFloat64()*25, random.Float64()
	hole := random.Float64() < 0.15
	heights := levelHeights()[:22+random.IntN(9)]
	f := fieldOf(t, g, heights, func(p geo.Point, z, seconds float64) wind.Sample {
		s := wind.Still(z)
		s.East = u + 10*math.Sin(p.Lat+z/3000+turn*seconds/3000)
		s.North = v + 10*math.Cos(geo.WrapLon(p.Lon-at.Lon)*math.Cos(radians(at.Lat))+z/2500)
		if hole && z == 9200 && p.Lat > g.Lat0+6*spacing {
			s.East = math.NaN()
		}
		return s
	})
	terrain := rolling(geo.Grid{NX: 90, NY: 90, DLat: spacing / 11, DLon: spacing / 11, Lat0: max(g.Lat0, -90), Lon0: g.Lon0}, func(p geo.Point) float64 {
		if random.Float64() < 1e-4 {
			return math.NaN()
		}
		return 300 + 250*math.Sin(p.Lat*20)*math.Cos(p.Lon*30)
	})
	if hold {
		f = f.HoldAboveTop()
	}
	releases := drawn(40, at, atmos.Geometric(random.Float64()*1500-100), 43200*random.Float64())
	for i := range releases {
		r := &releases[i]
		r.Time += random.NormFloat64() * 2000
		r.Train.Burst = atmos.Geometric(20000 + 4000*random.NormFloat64())
		r.Train.Burst = max(r.Train.Burst, 100)
		if i%8 == 0 {
			r.Hover = 900 * float64(i)
		}
	}
	return flight.Scene{Wind: f, Terrain: terrain}, releases
}

// However a flight ends, it ends as in Scene.Fly, and near there in place and
// time. Where the two differ the flight must be at an edge: Scene.Fly itself
// must end otherwise with other layers.
func TestKernelEndsAsTheIntegratorDoes(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	var ends [flight.Ends]int
	held, at, all := 0, 0, 0
	var misses []float64
	for n := range 120 {
		scene, releases := rare(t, random, n%3 == 0)
		results, _ := flyAll(scene, releases)
		for i, r := range releases {
			want, got := scene.Fly(r, nil), results[i]
			all++
			if want.End != got.End || want.Held != got.Held {
				at++
				other := scene
				differs := false
				for _, layer := range []float64{7, 11, 31, 83, 160, 333, 500} {
					other.Layer = layer
					f := other.Fly(r, nil)
					differs = differs || f.End == got.End && f.Held == got.Held
				}
				assert.True(t, differs, "case %d, flight %d: ended %v, held %v; want %v, %v: %+v", n, i, got.End, got.Held, want.End, want.Held, r)
				continue
			}
			ends[got.End]++
			if got.Held {
				held++
			}
			if len(want.Path) == 0 {
				assert.Equal(t, r.At, got.At)
				continue
			}
			_, inside := scene.Wind.Grid().Cell(got.At)
			assert.True(t, inside && got.Time <= 43200, "case %d, flight %d: %v at %+v, %g s: want a point inside the forecast", n, i, got.End, got.At, got.Time)
			miss, _, _ := geo.Inverse(last(want).At, got.At)
			if got.End == flight.Landed {
				misses = append(misses, miss)
				assert.InDelta(t, want.Speed, got.Speed, 2e-3*want.Speed)
				continue
			}
			assert.InDelta(t, last(want).Time, got.Time, 60, "case %d, flight %d: time of %v", n, i, got.End)
			assert.Less(t, miss, 5000.0, "case %d, flight %d: place of %v", n, i, got.End)
		}
	}
	slices.Sort(misses)
	t.Logf("%d flights, ends %v, %d held, %d at an edge; landings 50 %% %.2f m, 99 %% %.2f m, worst %.2f m", all, ends, held, at,
		misses[len(misses)/2], misses[len(misses)*99/100], misses[len(misses)-1])
	for e, n := range ends {
		assert.Greater(t, n, 10, "flights that %v", flight.End(e))
	}
	assert.Greater(t, held, 100)
	assert.Less(t, at, all/100)
	assert.Less(t, misses[len(misses)*99/100], flight.MaxError)
}

// Without terrain, without a second step, below the lowest launch: all is
// handed on, and ends as it would.
func TestKernelHandsOnWhatItCannotFly(t *testing.T) {
	g := box(geo.Point{}, 0.1)
	train := balloon.Train{Ascent: 5, Burst: 9000, Landing: 5}
	still := breeze(t, g, 20000, 3, 4)
	for _, c := range []struct {
		name    string
		scene   flight.Scene
		release flight.Release
	}{
		{"no terrain", flight.Scene{Wind: still}, flight.Release{Train: train}},
		{"far below", flight.Scene{Wind: still, Terrain: level(g, -900)}, flight.Release{Height: -800, Train: train}},
		{"off the grid", sceneOf(still), flight.Release{At: geo.Point{Lat: 30}, Train: train}},
		{"an error of its own spacing", sceneOf(still), flight.Release{Train: train, Error: flight.WindError{Spacing: 700, East: []float64{1, 2}, North: []float64{3, 4}}}},
	} {
		results, handed := flyAll(c.scene, []flight.Release{c.release})
		want := c.scene.Fly(c.release, nil)
		assert.Equal(t, 1, handed, c.name)
		assert.Equal(t, want.End, results[0].End, c.name)
		if n := len(want.Path); n > 0 && want.End == flight.Landed {
			assert.Equal(t, want.Path[n-1].At, results[0].At, c.name)
		}
	}
	results, handed := flyAll(sceneOf(still), []flight.Release{{Train: train}, {At: geo.Point{Lat: 0.1}, Train: train}})
	assert.Equal(t, 1, handed, "a release from another place")
	assert.InDelta(t, 0.1, results[1].At.Lat-results[0].At.Lat, 1e-3)
}

// From the lowest launch to the highest the kernel lands where Scene.Fly does.
func TestKernelFromEveryHeight(t *testing.T) {
	f := breeze(t, box(geo.Point{Lat: 45, Lon: 10}, 0.25), 50000, 12, -7)
	for _, height := range []atmos.Geometric{-499, -1, 0, 73.3, 999.99, 1000, 14999, 29123, 48000, 49990} {
		scene := flight.Scene{Wind: f, Terrain: level(f.Grid(), -499.5)}
		r := flight.Release{At: geo.Point{Lat: 45, Lon: 10}, Height: height, Train: balloon.Train{Ascent: 6, Burst: 49995, Landing: 7}}
		want, got := last(scene.Fly(r, nil)), flyOne(t, scene, r)
		require.Equal(t, flight.Landed, got.End)
		miss, _, _ := geo.Inverse(want.At, got.At)
		assert.Less(t, miss, 0.5, "from %g m", float64(height))
		assert.InDelta(t, want.Time, got.Time, 0.05, "from %g m", float64(height))
	}
}
