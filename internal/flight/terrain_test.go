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
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// eastward is even air on the equator that moves every flight east along the
// ellipsoid's surface at one speed.
func eastward(t *testing.T, lon, speed float64) *wind.Field {
	t.Helper()
	return fieldOf(t, box(geo.Point{Lon: lon}, 0.1), []float64{-1000, 20000}, func(_ geo.Point, z, _ float64) wind.Sample {
		return flatEast(even(), speed, z)
	})
}

// On ground that rises evenly toward the east a flight at s m/s meets it where
// z_b − v·(t − z_b/w) = g·λ(t), λ = s·t/N. Source: closed form.
func TestLandingOnASlope(t *testing.T) {
	_, normal := geo.Radii(0)
	const speed, w, v = 20.0, 5.0, 6.0
	f := eastward(t, 0, speed)
	for _, slope := range []float64{-300, 0, 200, 1500} { // m per degree
		grid := geo.Grid{NX: 3, NY: 2, Lat0: -1, Lon0: -2, DLat: 2, DLon: 2}
		scene := flight.Scene{Wind: f, Terrain: rolling(grid, func(p geo.Point) float64 { return slope * p.Lon })}
		for _, burst := range []float64{3000, 9100, 15000} {
			got := scene.Fly(flight.Release{Train: balloon.Train{Ascent: w, Burst: atmos.Geometric(burst), Landing: v}}, nil)
			require.Equal(t, flight.Landed, got.End)
			want := (burst + v*burst/w) / (v + slope*degrees(speed/normal))
			assert.InDelta(t, want, last(got).Time, 0.002, "time of landing from %g m on %g m per degree", burst, slope)
			assert.InDelta(t, degrees(speed*want/normal), last(got).At.Lon, 1e-6, "longitude")
			assert.InDelta(t, slope*last(got).At.Lon, float64(last(got).Height), 0.01, "height")
			assert.InDelta(t, v, got.Speed, 1e-3)
		}
	}
}

// A plateau above the release is met on the way down and not on the way up; a
// burst at it or below it lands there and then.
func TestLandingOnAPlateauAboveTheRelease(t *testing.T) {
	f := eastward(t, 0, 10)
	scene := flight.Scene{Wind: f, Terrain: level(f.Grid(), 1525)}
	for _, c := range []struct{ release, burst, seconds, height float64 }{
		{0, 6000, 6000/5.0 + 4475/8.0, 1525},
		{1525, 6000, 4475/5.0 + 4475/8.0, 1525},
		{1500, 1530, 30/5.0 + 5/8.0, 1525},
		{0, 1525, 1525 / 5.0, 1525},
		{0, 1000, 1000 / 5.0, 1000},
		{900, 900, 0, 900},
		{900, 500, 0, 900},
		{6000, 500, 4475 / 8.0, 1525},
	} {
		r := flight.Release{Height: atmos.Geometric(c.release), Train: balloon.Train{Ascent: 5, Burst: atmos.Geometric(c.burst), Landing: 8}}
		got := scene.Fly(r, nil)
		require.Equal(t, flight.Landed, got.End, "from %g m, burst at %g m", c.release, c.burst)
		checkPath(t, got, r, "plateau")
		assert.InDelta(t, c.seconds, last(got).Time, 0.001, "from %g m, burst at %g m", c.release, c.burst)
		assert.InDelta(t, c.height, float64(last(got).Height), 0.01, "from %g m, burst at %g m", c.release, c.burst)
		require.GreaterOrEqual(t, got.Burst, 0)
		if c.height < 1525 || c.burst == 1525 {
			assert.Equal(t, len(got.Path)-1, got.Burst, "burst and landing are one")
		}
	}
}

// A burst within a cliff, beyond whose foot the next step would end on the
// ground to the last bit: it lands where it is, and nothing is divided by the
// height that is not there.
func TestBurstWithinACliff(t *testing.T) {
	grid := geo.Grid{NX: 21, NY: 2, Lat0: -1, Lon0: 0, DLat: 2, DLon: 0.0005}
	scene := flight.Scene{Wind: eastward(t, 0, 20), Terrain: rolling(grid, func(p geo.Point) float64 {
		if p.Lon == 0 {
			return 2000
		}
		return 1000
	})}
	r := flight.Release{Height: 1050, Train: balloon.Train{Ascent: 5, Burst: 1050, Landing: 8}}
	got := scene.Fly(r, nil)
	require.Equal(t, flight.Landed, got.End)
	assert.Equal(t, []flight.Step{{At: r.At, Height: 1050, Pressure: got.Path[0].Pressure}}, got.Path)
}

// Ground of ridges 300 m high and 2 km apart, whose cells a flight crosses
// within a step or two.
func TestLandingOnRoughGround(t *testing.T) {
	f := eastward(t, 0, 30)
	grid := geo.Grid{NX: 301, NY: 3, Lat0: -0.01, Lon0: 0, DLat: 0.01, DLon: 0.009}
	scene := flight.Scene{Wind: f, Terrain: rolling(grid, func(p geo.Point) float64 {
		return 300 * float64(int(math.Round(p.Lon/0.009))%2)
	})}
	for burst := atmos.Geometric(10000); burst < 12000; burst += 23 {
		got := scene.Fly(flight.Release{Train: balloon.Train{Ascent: 5, Burst: burst, Landing: 5}}, nil)
		require.Equal(t, flight.Landed, got.End)
		under, ok := scene.Terrain.At(last(got).At)
		require.True(t, ok)
		assert.InDelta(t, under, float64(last(got).Height), 0.01, "burst at %g m", float64(burst))
	}
}

// Above all ground no terrain is asked for: a flight may pass beside the
// terrain that is known and come down on it. Below, it is Missing.
func TestTerrainNeedNotLieUnderTheWholeFlight(t *testing.T) {
	_, normal := geo.Radii(0)
	f := eastward(t, 0, 20)
	train := balloon.Train{Ascent: 5, Burst: 18000, Landing: 5}
	lands := degrees(20 * 18000 * 2 / 5.0 / normal)
	known := geo.Grid{NX: 2, NY: 2, Lat0: -1, Lon0: lands - 0.5, DLat: 2, DLon: 1}
	got := flight.Scene{Wind: f, Terrain: level(known, 0)}.Fly(flight.Release{Train: train}, nil)
	require.Equal(t, flight.Landed, got.End)
	assert.InDelta(t, lands, last(got).At.Lon, 1e-5)
	known.Lon0 = lands - 1.1
	got = flight.Scene{Wind: f, Terrain: level(known, 0)}.Fly(flight.Release{Train: train}, nil)
	require.Equal(t, flight.Missing, got.End)
	assert.Less(t, float64(last(got).Height), 9000.0)
	assert.LessOrEqual(t, last(got).At.Lon, lands-0.1)
	assert.GreaterOrEqual(t, got.Burst, 0)
}

// On the real terrain too a landing lies on the ground to 1 cm.
func TestRealLandingsLieOnTheGround(t *testing.T) {
	scene := sceneOf(realwind.Field(t))
	var path []flight.Step
	for _, l := range readLaunches(t) {
		got := scene.Fly(l.release, path)
		path = got.Path
		require.Equal(t, flight.Landed, got.End)
		checkPath(t, got, l.release, l.id)
		under, ok := scene.Terrain.At(last(got).At)
		require.True(t, ok)
		assert.InDelta(t, under, float64(last(got).Height), 0.01, l.id)
	}
}

// Across the date line and Greenwich a flight goes on as anywhere: the drift
// is s·T in either direction, and the landing's own step may be the one that
// crosses. Source: closed form.
func TestAcrossTheSeams(t *testing.T) {
	_, normal := geo.Radii(0)
	train := balloon.Train{Ascent: 5, Burst: 10000, Landing: 5}
	for _, seam := range []float64{180, 0} {
		for _, speed := range []float64{15, -15} {
			f := eastward(t, seam, speed)
			drift := degrees(speed * 4000 / normal)
			for _, off := range []float64{-0.3, -1e-3, -1e-4, 0, 1e-4, 1e-3, 0.3, drift / 2} {
				r := flight.Release{At: geo.Point{Lon: geo.WrapLon(seam - drift + off)}, Train: train}
				got := land(t, f, r, 0)
				checkPath(t, got, r, "seam")
				assert.InDelta(t, off, geo.WrapLon(last(got).At.Lon-seam), 1e-6, "from %g at %g m/s", r.At.Lon, speed)
			}
		}
	}
	// A release that counts to 360 is one that counts to 180.
	f := eastward(t, 180, 15)
	west := land(t, f, flight.Release{At: geo.Point{Lon: -179}, Train: train}, 0)
	east := land(t, f, flight.Release{At: geo.Point{Lon: 181}, Train: train}, 0)
	assert.Equal(t, west, east)
}
