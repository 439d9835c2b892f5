package synth_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/synth"
)

const (
	radius   = 6371229.0
	rotation = 7.292e-5
	degree   = math.Pi / 180
	hour     = 3600.0
)

var (
	spring  = time.Date(2026, 3, 22, 0, 0, 0, 0, time.UTC)
	january = time.Date(2026, 1, 10, 12, 0, 0, 0, time.UTC)
	july    = time.Date(2026, 7, 10, 12, 0, 0, 0, time.UTC)
)

// places are spread over both hemispheres, and lie on no node of any wave.
func places() []geo.Point {
	var all []geo.Point
	for i := range 40 {
		all = append(all, geo.Point{Lat: -78 + 4*float64(i), Lon: geo.WrapLon(61.8 * float64(i))})
	}
	return all
}

// aloft are pressures above all friction, Pa.
var aloft = []float64{50000, 30000, 25000, 15000, 7000, 2000, 500, 100}

// TestBalance holds the closed form against its own balances by central
// differences over a thousandth of ζ, and of a degree. What is left is the
// differences' own error.
func TestBalance(t *testing.T) {
	const step = 1e-3
	var hydrostatic, geostrophic, thermal, strongest float64
	for _, seed := range []uint64{1, 2} {
		sky := synth.New(seed, spring).Member(3)
		for _, p := range places() {
			at := func(dlat, dlon float64) synth.Column {
				return sky.Column(geo.Point{Lat: p.Lat + dlat, Lon: p.Lon + dlon}, 50*hour)
			}
			here, south, north, west, east := at(0, 0), at(-step, 0), at(step, 0), at(0, -step), at(0, step)
			f := 2 * rotation * math.Sin(p.Lat*degree)
			dy, dx := 2*step*degree*radius, 2*step*degree*radius*math.Cos(p.Lat*degree)
			for _, pressure := range aloft {
				a := here.At(pressure)
				below, above := here.At(pressure*math.Exp(step)), here.At(pressure*math.Exp(-step))
				layer := float64(above.Height-below.Height) * atmos.StandardGravity / (2 * step)
				hydrostatic = max(hydrostatic, math.Abs(layer/atmos.GasConstant-a.Temperature))

				// f u = -Φ_y and f v = Φ_x.
				u := -float64(north.At(pressure).Height-south.At(pressure).Height) * atmos.StandardGravity / dy / f
				v := float64(east.At(pressure).Height-west.At(pressure).Height) * atmos.StandardGravity / dx / f
				geostrophic = max(geostrophic, math.Hypot(u-a.East, v-a.North))
				strongest = max(strongest, math.Hypot(u, v))

				// f u_ζ = -R T_y and f v_ζ = R T_x: u grows with height where it gets colder northward.
				u = -atmos.GasConstant * (north.At(pressure).Temperature - south.At(pressure).Temperature) / dy / f
				v = atmos.GasConstant * (east.At(pressure).Temperature - west.At(pressure).Temperature) / dx / f
				thermal = max(thermal, math.Hypot(u-(above.East-below.East)/(2*step), v-(above.North-below.North)/(2*step)))
			}
		}
	}
	t.Logf("worst: hydrostatic %.2g K, geostrophic %.2g m/s of up to %.3g, thermal %.2g m/s per ζ", hydrostatic, geostrophic, strongest, thermal)
	assert.Less(t, hydrostatic, 1e-3, "K")
	assert.Less(t, geostrophic, 0.02, "m/s: friction leaves a hundred-thousandth of the wind at 500 hPa")
	assert.Less(t, thermal, 0.05, "m/s per ζ, and for the same reason")
	assert.Greater(t, strongest, 40.0, "m/s: the check has seen wind")
}

// geostrophic is the balanced wind at a pressure by central differences of the
// height, m/s.
func geostrophic(sky *synth.Sky, p geo.Point, t, pressure float64) (u, v float64) {
	const step = 1e-3 // degrees
	slope := func(dlat, dlon float64) float64 {
		to, from := sky.Column(geo.Point{Lat: p.Lat + dlat, Lon: p.Lon + dlon}, t), sky.Column(geo.Point{Lat: p.Lat - dlat, Lon: p.Lon - dlon}, t)
		return float64(to.At(pressure).Height-from.At(pressure).Height) * atmos.StandardGravity / (2 * step * degree * radius)
	}
	f := 2 * rotation * math.Sin(p.Lat*degree)
	return -slope(step, 0) / f, slope(0, step) / math.Cos(p.Lat*degree) / f
}

// TestFriction: what friction takes from the balanced wind is under its bound
// and not far from it, and it turns wind toward low pressure on both sides of
// the equator.
func TestFriction(t *testing.T) {
	worst, turned := 0.0, 0
	for _, p := range places() {
		if math.Abs(p.Lat) < 15 {
			continue // hardly any wind
		}
		for h := 0.0; h < 24; h += 4 {
			sky := synth.New(5, spring).Member(1)
			here := sky.Column(p, h*hour)
			ground := here.Surface()
			for z := 10.0; z < 4000; z *= 2 {
				a := here.AtHeight(ground.Terrain + atmos.Geometric(z))
				u, v := geostrophic(sky, p, h*hour, a.Pressure)
				speed := math.Hypot(u, v)
				if speed < 0.5 {
					continue
				}
				share := math.Hypot(a.East-u, a.North-v) / speed / (0.6 * math.Exp(-z/600))
				worst = max(worst, share)
				if share > 1 {
					t.Errorf("at %v, %g h and %g m above ground friction takes %.3g of its bound", p, h, z, share)
				}
				if z < 100 {
					// Low pressure is to the left of the balanced wind, south of the
					// equator to the right.
					left := (u*a.North - v*a.East) * math.Copysign(1, p.Lat)
					require.Greater(t, left, 0.0, "at %v, %g m: wind toward high pressure", p, z)
					require.Less(t, math.Hypot(a.East, a.North), 0.9*speed, "at %v, %g m: wind not slowed", p, z)
					turned++
				}
			}
		}
	}
	t.Logf("friction takes up to %.3f of its bound; turned in %d cases", worst, turned)
	assert.Greater(t, worst, 0.9, "of the bound")
	assert.Greater(t, turned, 500)
}

// TestAtHeight: it is At at the pressure that lies there.
func TestAtHeight(t *testing.T) {
	c := synth.New(9, january).Truth(0, 1).Column(geo.Point{Lat: 53.1, Lon: 14.2}, 30*hour)
	for z := atmos.Geometric(-500); z <= 48000; z += 125 {
		a := c.AtHeight(z)
		require.InDelta(t, float64(z.Geopotential(53.1)), float64(a.Height), 0.01, "AtHeight(%g)", z)
		require.Equal(t, c.At(a.Pressure).Temperature, a.Temperature)
		b := c.At(a.Pressure)
		require.InDelta(t, b.East, a.East, 1e-9)
		require.InDelta(t, b.North, a.North, 1e-9)
	}
}

// TestMeanTemperature holds the mean air to the U.S. Standard Atmosphere 1976 as
// its comment says: averaged over longitudes and both jets' sides the invented
// atmosphere is some kelvins off, the profile itself 4.9 K at most.
func TestMeanTemperature(t *testing.T) {
	worst := 0.0
	for _, pressure := range []float64{100000, 85000, 70000, 50000, 30000, 20000, 10000, 5000, 2000, 1000} {
		// At 42.5° N and S, between both jets, over all longitudes.
		sum, n := 0.0, 0
		for lon := -180.0; lon < 180; lon += 5 {
			for _, lat := range []float64{-42.5, 42.5} {
				c := synth.New(3, spring).Member(0).Column(geo.Point{Lat: lat, Lon: lon}, 0)
				sum += c.At(pressure).Temperature
				n++
			}
		}
		c := synth.New(3, spring).Member(0).Column(geo.Point{Lat: 42.5}, 0)
		a := c.At(pressure)
		s, ok := atmos.Standard(a.Height.Geometric(42.5))
		require.True(t, ok)
		worst = max(worst, math.Abs(sum/float64(n)-s.Temperature))
	}
	t.Logf("worst difference from the standard atmosphere: %.1f K", worst)
	assert.Less(t, worst, 12.0)
}

// TestSeasons: the vortex at 10 hPa blows from the west in the winter
// hemisphere, from the east in the other.
func TestSeasons(t *testing.T) {
	zonal := func(start time.Time, lat float64) float64 {
		sum, n := 0.0, 0
		w := synth.New(4, start)
		for lon := -180.0; lon < 180; lon += 3 {
			c := w.Member(0).Column(geo.Point{Lat: lat, Lon: lon}, 0)
			sum += c.At(1000).East
			n++
		}
		return sum / float64(n)
	}
	for _, c := range []struct {
		start     time.Time
		lat       float64
		low, high float64
	}{
		{january, 60, 30, 60},
		{january, -60, -30, -8},
		{july, 60, -30, -8},
		{july, -60, 30, 60},
		{spring, 60, 8, 40},
		{spring, -60, -10, 20},
	} {
		if got := zonal(c.start, c.lat); got < c.low || got > c.high {
			t.Errorf("zonal wind at 10 hPa, latitude %g, in %v = %.1f m/s, want %g to %g", c.lat, c.start.Month(), got, c.low, c.high)
		}
	}
}

// TestTravel: the weather at 250 hPa moves eastward in both hemispheres, at a
// speed of the order of the steering flow less what Rossby's formula takes.
func TestTravel(t *testing.T) {
	const step, hours = 0.5, 6
	for _, lat := range []float64{45, -45} {
		row := func(t float64) []float64 {
			sky := synth.New(6, spring).Truth(0, 0)
			var v []float64
			for lon := -180.0; lon < 180; lon += step {
				c := sky.Column(geo.Point{Lat: lat, Lon: lon}, t)
				v = append(v, c.At(25000).North)
			}
			return v
		}
		before, after := row(24*hour), row((24+hours)*hour)
		best, shift := 0.0, 0
		for k := -30; k <= 30; k++ {
			sum := 0.0
			for i := range before {
				sum += before[i] * after[(i+k+len(after))%len(after)]
			}
			if sum > best {
				best, shift = sum, k
			}
		}
		speed := float64(shift) * step * degree * radius * math.Cos(lat*degree) / (hours * hour)
		t.Logf("at %g°: %.1f m/s", lat, speed)
		assert.Greater(t, speed, 6.0, "m/s eastward at %g°", lat)
		assert.Less(t, speed, 17.0, "m/s eastward at %g°", lat)
	}
}

// TestEnds: nothing breaks at the poles or on the equator, where wind is zero
// and all but zero, and a pole has one weather whatever its longitude.
func TestEnds(t *testing.T) {
	sky := synth.New(8, january).Member(2)
	for _, lat := range []float64{-90, 0, 90} {
		first := sky.Column(geo.Point{Lat: lat}, 100*hour)
		for _, lon := range []float64{-180, -33, 77, 180} {
			c := sky.Column(geo.Point{Lat: lat, Lon: lon}, 100*hour)
			for _, p := range []float64{100000, 50000, 25000, 1000} {
				a := c.At(p)
				most := 1e-9
				if lat == 0 {
					most = 3
				}
				assert.Less(t, math.Hypot(a.East, a.North), most, "wind at %g°, %g°, %g Pa", lat, lon, p)
				if lat != 0 {
					assert.InDelta(t, float64(first.At(p).Height), float64(a.Height), 1e-6)
				}
			}
		}
	}
	west, east := sky.Column(geo.Point{Lat: 50, Lon: -180}, 0), sky.Column(geo.Point{Lat: 50, Lon: 180}, 0)
	assert.InDelta(t, west.At(25000).East, east.At(25000).East, 1e-9, "across the date line")
	assert.InDelta(t, float64(west.Surface().Terrain), float64(east.Surface().Terrain), 1e-6)
}

// TestTimeOfDay: friction leaves most of the wind in the early afternoon by the
// sun, wherever on Earth, and least of it twelve hours before.
func TestTimeOfDay(t *testing.T) {
	week := synth.New(13, january) // at 12 UTC
	for _, lon := range []float64{-120, 0, 90} {
		best, most, least := 0.0, 0.0, math.Inf(1)
		for h := 0.0; h < 24; h++ {
			p := geo.Point{Lat: 48, Lon: lon}
			c := week.Member(0).Column(p, h*hour)
			s := c.Surface()
			u, v := geostrophic(week.Member(0), p, h*hour, c.AtHeight(s.Terrain+10).Pressure)
			solar := math.Mod(h+12+lon/15+24, 24)
			left := math.Hypot(s.East, s.North) / math.Hypot(u, v)
			if left > most {
				best, most = solar, left
			}
			least = min(least, left)
			if solar < 4 {
				assert.Less(t, s.CAPE, 200.0, "CAPE at %g h by the sun", solar)
			}
		}
		t.Logf("at %g°: most at %g h by the sun, %.2f of the balanced wind; least %.2f", lon, best, most, least)
		assert.InDelta(t, 14, best, 1, "hour of most wind at the ground at %g°", lon)
		assert.InDelta(t, 0.75, most, 0.02)
		assert.InDelta(t, 0.55, least, 0.02)
	}
}

// TestRainBelt: cloud and rain go with air that comes from the equator, in both
// hemispheres.
func TestRainBelt(t *testing.T) {
	week := synth.New(14, spring)
	for _, lat := range []float64{-50, 50} {
		var rising, falling, rainy, n float64
		for lon := -180.0; lon < 180; lon += 2 {
			c := week.Member(0).Column(geo.Point{Lat: lat, Lon: lon}, 0)
			s := c.Surface()
			if c.At(70000).North*lat > 0 {
				rising += s.Cloud
				n++
			} else {
				falling += s.Cloud
			}
			rainy += s.Precipitation
		}
		assert.Greater(t, rising/n, 1.4*falling/(180-n), "cloud in poleward wind at %g°", lat)
		assert.Positive(t, rainy)
	}
}
