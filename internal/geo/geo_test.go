package geo

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPointCheck(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		p    Point
		want string
	}{
		{Point{95, 0}, "latitude 95: want -90 to 90"},
		{Point{-90.1, 0}, "latitude -90.1: want -90 to 90"},
		{Point{nan, 0}, "latitude NaN: want -90 to 90"},
		{Point{0, 361}, "longitude 361: want -360 to 360"},
		{Point{0, nan}, "longitude NaN: want -360 to 360"},
		{Point{0, -inf}, "longitude -Inf: want -360 to 360"},
		{Point{inf, 400}, "latitude +Inf: want -90 to 90\nlongitude 400: want -360 to 360"},
	} {
		assert.EqualError(t, c.p.Check(), c.want, "%v.Check()", c.p)
	}
	for _, p := range []Point{{}, {90, 180}, {-90, -180}, {45, 359.75}} {
		assert.NoError(t, p.Check(), "%v.Check()", p)
	}
}

func TestWrapLon(t *testing.T) {
	below180 := math.Nextafter(180, 0)
	for _, c := range []struct{ deg, want float64 }{
		{0, 0},
		{-180, -180},
		{180, -180},
		{below180, below180},
		{181, -179},
		{-181, 179},
		{359.75, -0.25},
		{360, 0},
		{-360, 0},
		{540, -180},
		{-540, -180},
		{math.Nextafter(-180, -181), below180},
		{719, -1},
		{720, 0},
		{725, 5},
		{-725, -5},
		{3600190, -170},
	} {
		assert.Equal(t, c.want, WrapLon(c.deg), "WrapLon(%g)", c.deg)
	}
	for deg := -2000.0; deg < 2000; deg += 7.3 {
		w := WrapLon(deg)
		turns := (deg - w) / 360
		assert.True(t, w >= -180 && w < 180 && math.Abs(turns-math.Round(turns)) < 1e-12, "WrapLon(%g) = %g", deg, w)
	}
	for _, deg := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		assert.True(t, math.IsNaN(WrapLon(deg)), "WrapLon(%g) = %g, want NaN", deg, WrapLon(deg))
	}
}

// TestRadii: one degree of latitude and of longitude in metres, computed apart
// from this code in Python, and the radii at equator and pole in closed form.
func TestRadii(t *testing.T) {
	for _, c := range []struct{ lat, north, east float64 }{
		{0, 110574.276, 111319.491},
		{45, 111131.777, 78846.835},
		{60, 111412.287, 55800.002},
		{-60, 111412.287, 55800.002},
	} {
		m, n := Radii(c.lat)
		assert.InDelta(t, c.north, m*degree, 5e-4, "Radii(%g) northward", c.lat)
		assert.InDelta(t, c.east, n*math.Cos(c.lat*degree)*degree, 5e-4, "Radii(%g) eastward", c.lat)
	}
	m, n := Radii(0)
	assert.InDelta(t, semiMinor*semiMinor/semiMajor, m, 1e-8)
	assert.InDelta(t, semiMajor, n, 1e-8)
	for _, pole := range []float64{90, -90} {
		m, n = Radii(pole)
		assert.InDelta(t, semiMajor*semiMajor/semiMinor, m, 1e-8)
		assert.InDelta(t, m, n, 1e-8)
	}
}

func TestBoxContains(t *testing.T) {
	colorado := Box{South: 37, North: 41, West: -109, East: -102}
	pacific := Box{South: -10, North: 10, West: 170, East: -170}
	pacific360 := Box{South: -10, North: 10, West: 170, East: 190}
	globe := Box{South: -90, North: 90, West: -180, East: 180}
	globe360 := Box{South: -90, North: 90, West: 0, East: 360}
	for _, c := range []struct {
		box  Box
		p    Point
		want bool
	}{
		{colorado, Point{40, -105}, true},
		{colorado, Point{40, 255}, true}, // the same in 0 to 360
		{colorado, Point{37, -109}, true},
		{colorado, Point{41, -102}, true}, // corners
		{colorado, Point{36.999, -105}, false},
		{colorado, Point{41.001, -105}, false},
		{colorado, Point{40, -109.001}, false},
		{colorado, Point{40, -101.999}, false},
		{colorado, Point{40, 105}, false},
		{pacific, Point{0, 180}, true},
		{pacific, Point{0, -180}, true},
		{pacific, Point{0, 175}, true},
		{pacific, Point{0, -175}, true},
		{pacific, Point{0, 170}, true},
		{pacific, Point{0, -170}, true},
		{pacific, Point{0, 190}, true},
		{pacific, Point{0, 0}, false},
		{pacific, Point{0, 169.9}, false},
		{pacific, Point{0, -169.9}, false},
		{pacific360, Point{0, -170}, true},
		{pacific360, Point{0, -169.9}, false},
		{pacific360, Point{0, 0}, false},
		{globe, Point{90, 180}, true},
		{globe, Point{-90, -180}, true},
		{globe, Point{0, 0}, true},
		{globe360, Point{0, -0.001}, true},
		{globe360, Point{0, 360}, true},
		{Box{}, Point{}, true},
		{Box{}, Point{0, 1e-9}, false},
		{globe, Point{math.NaN(), 0}, false},
		{globe, Point{0, math.NaN()}, false},
		{globe, Point{0, math.Inf(1)}, false},
	} {
		assert.Equal(t, c.want, c.box.Contains(c.p), "%+v.Contains(%v)", c.box, c.p)
	}
}

func TestBoxCheck(t *testing.T) {
	require.NoError(t, Box{-10, 10, 170, -170}.Check())
	require.NoError(t, Box{-90, 90, 0, 360}.Check())
	nan := math.NaN()
	for _, c := range []struct {
		box  Box
		want string
	}{
		{Box{10, -10, 0, 1}, "box from latitude 10 to -10: want -90 to 90, south first"},
		{Box{-91, 0, 0, 1}, "box from latitude -91 to 0: want -90 to 90, south first"},
		{Box{0, nan, 0, 1}, "box from latitude 0 to NaN: want -90 to 90, south first"},
		{Box{0, 1, -400, 1}, "box from longitude -400 to 1: want -360 to 360"},
		{Box{0, 1, 0, nan}, "box from longitude 0 to NaN: want -360 to 360"},
	} {
		assert.EqualError(t, c.box.Check(), c.want, "%+v.Check()", c.box)
	}
}
