package flight_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

// box is a grid about a place, with a row and a column through it.
func box(at geo.Point, spacing float64) geo.Grid {
	const half = 40
	return geo.Grid{
		NX: 2*half + 1, NY: 2*half + 1, DLat: spacing, DLon: spacing,
		Lat0: at.Lat - half*spacing, Lon0: geo.WrapLon(at.Lon - half*spacing),
	}
}

// patch is a coarse grid about a place, for winds that are the same all over it.
func patch(at geo.Point) geo.Grid {
	return geo.Grid{NX: 5, NY: 5, Lat0: at.Lat - 2, Lon0: geo.WrapLon(at.Lon - 2), DLat: 1, DLon: 1}
}

// column is heights from 0 to the top.
func column(top, spacing float64) []float64 {
	var heights []float64
	for z := 0.0; z <= top+1e-6; z += spacing {
		heights = append(heights, z)
	}
	return heights
}

func fieldOf(t *testing.T, g geo.Grid, heights []float64, air func(p geo.Point, z, t float64) wind.Sample) *wind.Field {
	t.Helper()
	f, err := wind.New(wind.Axes{
		Grid: g, Start: time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC), Times: []float64{0, 43200}, Heights: heights,
	}, air)
	require.NoError(t, err)
	return f
}

// isothermal is air whose density falls off as ρ₀·exp(−z/7000 m).
func isothermal(z float64) wind.Sample {
	const temperature = 250.0
	p := atmos.SeaLevelDensity * atmos.GasConstant * temperature * math.Exp(-z/7000)
	return wind.Sample{Temperature: temperature, Pressure: p}
}

// flatEast is an eastward wind at the equator that moves a flight along the
// ellipsoid's surface at the given speed whatever its height.
func flatEast(s wind.Sample, speed, z float64) wind.Sample {
	_, normal := geo.Radii(0)
	s.East = speed * (1 + z/normal)
	return s
}

// land flies one release in a field over ground at mean sea level.
func land(t *testing.T, f *wind.Field, r flight.Release, layer float64) flight.Flight {
	t.Helper()
	scene := sceneOf(f)
	scene.Layer = layer
	got := scene.Fly(r, nil)
	require.Equal(t, flight.Landed, got.End)
	return got
}

func last(f flight.Flight) flight.Step { return f.Path[len(f.Path)-1] }

// A flight up at 5 m/s to 30 km and down from there at 5·exp(z/14 km) m/s, in
// ρ ∝ exp(−z/7 km). Time down (2h/v₀)(1−e^(−z_b/2h)) = 2471.506335 s; drift in
// a uniform wind of 10 m/s 84715.063349 m; in u = z/1000 s it is
// s·z_b²/(2w) + (s/v₀)(4h²−2h(z_b+2h)e^(−z_b/2h)) = 114746.278737 m. Source:
// closed forms, integrated by hand.
func TestExponentialAtmosphere(t *testing.T) {
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
		f := fieldOf(t, patch(geo.Point{}), column(31000, 200), func(_ geo.Point, z, _ float64) wind.Sample {
			return flatEast(isothermal(z), c.speed(z), z)
		})
		got := land(t, f, release, flight.Layer)
		assert.InDelta(t, 6000+2471.506335, last(got).Time, 0.02, "%s: landing time", c.name)
		assert.InDelta(t, c.drift, radians(last(got).At.Lon)*normal, 0.3, "%s: drift", c.name)
		assert.Zero(t, last(got).At.Lat, "%s: latitude", c.name)
		assert.InDelta(t, 5, got.Speed, 1e-6, "%s: speed at the ground", c.name)
	}
}

// The midpoint rule's error falls with the square of the layer: halving it must
// divide the error by four. Closed form as above.
func TestOrderOfConvergence(t *testing.T) {
	_, normal := geo.Radii(0)
	f := fieldOf(t, patch(geo.Point{}), []float64{0, 40000}, func(_ geo.Point, z, _ float64) wind.Sample {
		return flatEast(isothermal(z), 10, z)
	})
	release := flight.Release{Train: balloon.Train{Ascent: 5, Burst: 32000, Landing: 5}}
	exact := 10 * (6400 + 2*7000/5.0*(1-math.Exp(-32000/14000.0)))
	miss := func(layer float64) float64 {
		return math.Abs(radians(last(land(t, f, release, layer)).At.Lon)*normal - exact)
	}
	// 32 km is a whole number of each layer, so that no part of one is left at
	// the ground.
	for _, layer := range []float64{1600, 800, 400} {
		order := math.Log2(miss(layer) / miss(layer/2))
		assert.InDelta(t, 2, order, 0.05, "order from %g m to %g m", layer, layer/2)
	}
}

// Air that turns with the ellipsoid's axis as one body carries every flight
// through ω·T of longitude at its latitude, whatever its height: u =
// ω·(N+z)·cos φ. Air that turns along a meridian, v = ω·(M+z), carries it
// through ω·T of latitude. Source: closed form.
func TestSolidBodyRotation(t *testing.T) {
	const omega = 8e-6 // rad/s: some 50 m/s
	release := flight.Release{Train: balloon.Train{Ascent: 5, Burst: 30000, Landing: 5}}
	for _, lat := range []float64{0, 52, -33, 71} {
		at := geo.Point{Lat: lat, Lon: 179}
		release.At = at
		f := fieldOf(t, box(at, 0.25), column(31000, 31000), func(p geo.Point, z, _ float64) wind.Sample {
			s := isothermal(z)
			_, normal := geo.Radii(p.Lat)
			s.East = omega * (normal + z) * math.Cos(radians(p.Lat))
			return s
		})
		got := last(land(t, f, release, flight.Layer))
		turned := geo.WrapLon(got.At.Lon - at.Lon)
		assert.InDelta(t, degrees(omega)*got.Time, turned, 2e-7, "longitude turned from latitude %g", lat)
		assert.Equal(t, lat, got.At.Lat, "latitude kept")

		f = fieldOf(t, box(at, 0.25), column(31000, 31000), func(p geo.Point, z, _ float64) wind.Sample {
			s := isothermal(z)
			meridian, _ := geo.Radii(p.Lat)
			s.North = omega * (meridian + z)
			return s
		})
		got = last(land(t, f, release, flight.Layer))
		assert.InDelta(t, degrees(omega)*got.Time, got.At.Lat-lat, 1e-6, "latitude turned from latitude %g", lat)
		assert.Equal(t, at.Lon, got.At.Lon, "longitude kept")
	}
}

// Falls through the U.S. Standard Atmosphere 1976 at √(ρ₀/ρ)·5 m/s, from
// geometric heights. Source: quadrature of the standard's own formulas, in
// Python, double precision. A height taken for geopotential is 5.3 s out from
// 30 km.
func TestFallThroughTheStandardAtmosphere(t *testing.T) {
	f := fieldOf(t, patch(geo.Point{Lat: 45}), column(36000, 200), func(_ geo.Point, z, _ float64) wind.Sample { return wind.Still(z) })
	for _, c := range []struct{ from, seconds float64 }{
		{20000, 2378.0340},
		{30000, 2749.8320},
		{35000, 2851.5056},
	} {
		release := flight.Release{At: geo.Point{Lat: 45}, Train: balloon.Train{Ascent: 5, Burst: atmos.Geometric(c.from), Landing: 5}}
		got := land(t, f, release, flight.Layer)
		down := last(got).Time - got.Path[got.Burst].Time
		assert.InDelta(t, c.seconds, down, 0.1, "time down from %g m", c.from)
		assert.InDelta(t, c.from/5, got.Path[got.Burst].Time, 1e-6, "time up to %g m", c.from)
	}
}

func degrees(rad float64) float64 { return rad * (180 / math.Pi) }
func radians(deg float64) float64 { return deg * (math.Pi / 180) }
