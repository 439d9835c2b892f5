package flight_test

import (
	"math"
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

// A flight that hangs at z for T in an eastward wind u turns through
// u·T/((N+z)·cos φ) more than one that does not, and is up for T longer; a wind
// error that goes from e to d on the way down adds (e+d)/2. Source: closed form.
func TestHoverDrift(t *testing.T) {
	for _, c := range []struct{ lat, hover float64 }{{0, 3600}, {52, 3600}, {-70, 2 * 3600}, {52, 7}, {52, 0}} {
		at := geo.Point{Lat: c.lat, Lon: 9}
		f := breeze(t, box(at, 0.3), 25000, 20, 0)
		e := flight.WindError{Spacing: 1000, East: []float64{3}, North: []float64{0}, DownEast: []float64{-8}, DownNorth: []float64{0}}
		r := flight.Release{At: at, Time: 600, Train: balloon.Train{Ascent: 5, Burst: 20000, Landing: 5}, Error: e}
		plain := last(land(t, f, r, 0))
		r.Hover = c.hover
		got := land(t, f, r, 0)
		_, normal := geo.Radii(c.lat)
		want := (20 + (3-8)/2.0) * c.hover / ((normal + 20000) * math.Cos(radians(c.lat)))
		assert.InDelta(t, degrees(want), geo.WrapLon(last(got).At.Lon-plain.At.Lon), 1e-9, "%+v", c)
		assert.InDelta(t, plain.At.Lat, last(got).At.Lat, 1e-12, "%+v", c)
		assert.InDelta(t, c.hover, last(got).Time-plain.Time, 1e-6, "%+v", c)
		require.Greater(t, got.Burst, 0)
		assert.InDelta(t, 600+4000+c.hover, got.Path[got.Burst].Time, 1e-6, "%+v: the fall begins", c)

		// The kernel hands none of it on.
		result := flyOne(t, sceneOf(f), r)
		miss, _, _ := geo.Inverse(last(got).At, result.At)
		assert.Less(t, miss, 1.0, "%+v: kernel", c)
		assert.InDelta(t, last(got).Time, result.Time, 0.1, "%+v: kernel", c)
	}
}

// In a wind that grows as a·t a flight drifts a·T²/2 in all, hanging or not.
// Source: closed form; the wind's angular speed does not depend on height.
func TestHoverInAWindThatGrows(t *testing.T) {
	_, normal := geo.Radii(0)
	const a = 1e-3 // m/s²
	f := fieldOf(t, box(geo.Point{}, 0.1), []float64{0, 31000}, func(_ geo.Point, z, at float64) wind.Sample {
		return flatEast(even(), a*at, z)
	})
	r := flight.Release{Train: balloon.Train{Ascent: 5, Burst: 20000, Landing: 5}, Hover: 5 * 3600}
	got := last(land(t, f, r, 0))
	const flown = 8000 + 5*3600.0
	assert.InDelta(t, flown, got.Time, 1e-3)
	assert.InDelta(t, a/2*flown*flown, radians(got.At.Lon)*normal, 0.5)
}

// A wind as of a solid body that turns about the pole with Ω carries what hangs
// round its parallel through Ω·T. Source: closed form. And along the meridian
// at v, φ grows by what ∫(M+z)dφ = v·T says, here by Simpson's rule.
func TestHoverOnTheEllipsoid(t *testing.T) {
	at := geo.Point{Lat: 40, Lon: 0}
	const z, seconds = 15000.0, 4 * 3600.0
	f := breeze(t, box(at, 0.2), 20000, 0, 30)
	r := flight.Release{At: at, Height: z, Train: balloon.Train{Ascent: 5, Burst: z, Landing: 5}, Hover: seconds}
	got := sceneOf(f).Fly(r, nil)
	require.Equal(t, flight.Landed, got.End)
	end := got.Path[got.Burst].At.Lat
	arc, n := 0.0, 200
	step := radians(end-40) / float64(n)
	for i := range n {
		for j, w := range []float64{1, 4, 1} {
			m, _ := geo.Radii(40 + degrees(step*(float64(i)+float64(j)/2)))
			arc += (m + z) * w * step / 6
		}
	}
	assert.InDelta(t, 30*seconds, arc, 0.05, "the arc that was drifted")
}

func TestHoverEnds(t *testing.T) {
	at := geo.Point{Lat: 47, Lon: 9}
	train := balloon.Train{Ascent: 5, Burst: 5000, Landing: 5}
	calm := breeze(t, box(at, 0.1), 25000, 0, 0)
	for _, c := range []struct {
		name  string
		f     *wind.Field
		hover float64
		end   flight.End
		aloft float64 // s
	}{
		{"too late", calm, 12 * 3600, flight.AfterLast, 43200},
		{"off the grid", breeze(t, box(at, 0.1), 25000, 50, 0), 6 * 3600, flight.OffGrid, 6094},
		{"no time", calm, math.NaN(), flight.Landed, 2000},
		{"less than none", calm, -60, flight.Landed, 2000},
	} {
		r := flight.Release{At: at, Train: train, Hover: c.hover}
		got := sceneOf(c.f).Fly(r, nil)
		require.Equal(t, c.end, got.End, c.name)
		assert.InDelta(t, c.aloft, last(got).Time, 121, c.name)
		result := flyOne(t, sceneOf(c.f), r)
		assert.Equal(t, c.end, result.End, c.name)
		assert.InDelta(t, last(got).Time, result.Time, 0.1, c.name)
		assert.InDelta(t, last(got).At.Lon, result.At.Lon, 1e-5, c.name)
	}
	// It hangs no longer than MaxHover, whatever the release says.
	r := flight.Release{At: at, Train: train, Hover: math.Inf(1)}
	got := sceneOf(calm).Fly(r, nil)
	assert.Equal(t, flight.AfterLast, got.End)
	assert.LessOrEqual(t, len(got.Path), 2+100+721)
}

// What drifts against a slope comes down there. Source: the wall stands 20 km
// east of the site, the wind is 10 m/s.
func TestHoverMeetsTheGround(t *testing.T) {
	at := geo.Point{}
	f := breeze(t, box(at, 0.1), 25000, 10, 0)
	_, normal := geo.Radii(0)
	wall := degrees(20e3 / normal)
	g := box(at, 0.02)
	terrain := rolling(g, func(p geo.Point) float64 {
		if p.Lon > wall {
			return 4000
		}
		return 0
	})
	scene := flight.Scene{Wind: f, Terrain: terrain}
	r := flight.Release{At: at, Train: balloon.Train{Ascent: 5, Burst: 2000, Landing: 5}, Hover: 6 * 3600}
	got := scene.Fly(r, nil)
	require.Equal(t, flight.Landed, got.End)
	assert.InDelta(t, wall, last(got).At.Lon, 0.03)
	assert.Equal(t, atmos.Geometric(2000), last(got).Height)
	result := flyOne(t, scene, r)
	assert.InDelta(t, last(got).At.Lon, result.At.Lon, 1e-4)
}

// Where a flight hangs to, through the real winds, against the classical
// Runge–Kutta rule in steps of 20 s.
func TestHoverAgainstAnIndependentIntegration(t *testing.T) {
	f := realwind.Field(t)
	for _, c := range []struct{ lat, lon, height float64 }{{52, 10, 18e3}, {35, 137, 11e3}, {-45, -70, 9e3}, {70, 20, 25e3}, {0, 179, 15e3}} {
		at := geo.Point{Lat: c.lat, Lon: c.lon}
		r := flight.Release{At: at, Height: atmos.Geometric(c.height), Time: 600, Hover: 6 * 3600}
		r.Train = balloon.Train{Ascent: 5, Burst: r.Height, Landing: 5}
		got := sceneOf(f).Fly(r, nil)
		require.Equal(t, flight.Landed, got.End)
		rate := func(p geo.Point, seconds float64) (lat, lon float64) {
			air, out := f.At(p, r.Height, seconds)
			require.Equal(t, wind.Inside, out)
			m, n := geo.Radii(p.Lat)
			return degrees(air.North / (m + c.height)), degrees(air.East / ((n + c.height) * math.Cos(radians(p.Lat))))
		}
		const h = 20.0
		p, seconds := at, 600.0
		moved := func(lat, lon, by float64) geo.Point {
			return geo.Point{Lat: p.Lat + lat*by, Lon: geo.WrapLon(p.Lon + lon*by)}
		}
		for range int(r.Hover / h) {
			a1, b1 := rate(p, seconds)
			a2, b2 := rate(moved(a1, b1, h/2), seconds+h/2)
			a3, b3 := rate(moved(a2, b2, h/2), seconds+h/2)
			a4, b4 := rate(moved(a3, b3, h), seconds+h)
			p = moved((a1+2*a2+2*a3+a4)/6, (b1+2*b2+2*b3+b4)/6, h)
			seconds += h
		}
		miss, _, _ := geo.Inverse(p, got.Path[got.Burst].At)
		drift, _, _ := geo.Inverse(at, p)
		t.Logf("%+v: drifted %.0f km, miss %.2f m", c, drift/1000, miss)
		assert.Less(t, miss, flight.MaxError)
		assert.Greater(t, drift, 20e3, "one that goes nowhere tells nothing")
	}
}

// Through the real winds the kernel's flights that hang for hours, and have an
// error of their own on the way down, land where the integrator's do.
func TestHoverOfTheKernel(t *testing.T) {
	coarse := realwind.Field(t)
	at := geo.Point{Lat: 52, Lon: 10}
	scene := flight.Scene{Wind: coarse, Terrain: ground.Terrain{Grid: coarse.Grid(), Height: coarse.Terrain()}}
	releases := drawn(100, at, 50, 600)
	for i := range releases {
		releases[i].Hover = float64(i) * 180
		releases[i].Train.Burst *= atmos.Geometric(0.5 + float64(i%50)/100)
	}
	results, handed := flyAll(scene, releases)
	assert.Zero(t, handed)
	scene.Layer = 20
	for i, r := range releases {
		want := scene.Fly(r, nil)
		require.Equal(t, want.End, results[i].End)
		miss, _, _ := geo.Inverse(last(want).At, results[i].At)
		assert.Less(t, miss, flight.MaxError, "flight %d", i)
	}
}

// The way down has its error, the way up its own: at the equator in even air, e
// on the way up and d on the way down turn a flight through
// (e/w + d/v)·ln((N+z)/N). Source: closed form.
func TestWindErrorOfEachWay(t *testing.T) {
	f := breeze(t, box(geo.Point{}, 0.1), 25000, 0, 0)
	_, normal := geo.Radii(0)
	for _, burst := range []float64{20000, 20400} {
		turn := math.Log((normal + burst) / normal)
		for _, c := range []struct{ up, down float64 }{{4, -3}, {0, 6}, {6, 0}} {
			e := flight.WindError{Spacing: 1000, East: []float64{c.up, c.up}, North: []float64{0, 0}, DownEast: []float64{c.down, c.down}, DownNorth: []float64{0, 0}}
			r := flight.Release{Train: balloon.Train{Ascent: 5, Burst: atmos.Geometric(burst), Landing: 6}, Error: e}
			want := degrees((c.up/5 + c.down/6) * turn)
			// A centimetre: the air's density is kept in single precision.
			assert.InDelta(t, want, last(land(t, f, r, 0)).At.Lon, 1e-7, "%+v", c)
			assert.InDelta(t, want, flyOne(t, sceneOf(f), r).At.Lon, 1e-6, "%+v: kernel", c)
		}
	}
	same := flight.WindError{Spacing: 1000, East: []float64{1, 2}, North: []float64{3, 4}}
	assert.Equal(t, same, same.Down(), "without any of its own the way down has the way up's")
	same.DownEast, same.DownNorth = []float64{5, 6}, []float64{7, 8}
	assert.Equal(t, flight.WindError{Spacing: 1000, East: []float64{5, 6}, North: []float64{7, 8}}, same.Down())
	// Tables that do not fit each other are the integrator's to fly.
	r := flight.Release{Train: balloon.Train{Ascent: 5, Burst: 9000, Landing: 6}, Error: same}
	r.Error.DownEast = []float64{5}
	_, handed := flyAll(sceneOf(f), []flight.Release{r})
	assert.Equal(t, 1, handed)
}
