package atmos

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The errors that Geometric.Geopotential promises, m.
const (
	heightError30 = 0.01
	heightError50 = 0.035
)

// potential is the normal potential of WGS84 at a distance x from the axis and
// z north of the equator, both in m, in m²/s²: the closed form in ellipsoidal
// coordinates (Heiskanen and Moritz, Physical Geodesy, 1967, equation 2-62),
// with GM and ω of NIMA TR8350.2. It is exact.
func potential(x, z float64) float64 {
	const (
		gm    = 3.986004418e14
		omega = 7.292115e-5
		a     = semiMajor
		b     = a * (1 - flattening)
		e2    = a*a - b*b // square of the linear eccentricity
	)
	e := math.Sqrt(e2)
	// (3u²/E² + 1) atan(E/u) - 3u/E, as the series in E/u that it is: written
	// out it loses ten digits.
	q := func(u float64) float64 {
		sum, power := 0.0, math.Pow(e/u, 3)
		for n := 1; n < 12; n++ {
			sum += float64(4*n) / float64((2*n+1)*(2*n+3)) * power
			power *= -e / u * e / u
		}
		return sum
	}
	r2 := x*x + z*z - e2
	u2 := r2 / 2 * (1 + math.Sqrt(1+4*e2*z*z/(r2*r2)))
	u, sin2 := math.Sqrt(u2), z*z/u2
	return gm/e*math.Atan(e/u) + omega*omega*a*a/2*q(u)/q(b)*(sin2-1./3) +
		omega*omega/2*(u2+e2)*(1-sin2)
}

// exactHeight is the geopotential height of a point z metres above the
// ellipsoid.
func exactHeight(lat, z float64) float64 {
	const e2 = flattening * (2 - flattening)
	s, c := math.Sincos(lat * math.Pi / 180)
	n := semiMajor / math.Sqrt(1-e2*s*s)
	below := potential(n*c, n*(1-e2)*s)
	return (below - potential((n+z)*c, (n*(1-e2)+z)*s)) / StandardGravity
}

// TestPotential: gravity on the equator and at the pole, NIMA TR8350.2 table
// 3.4, as the slope of the potential; and the ellipsoid is a level surface.
func TestPotential(t *testing.T) {
	const step = 10.0
	slope := func(lat float64) float64 {
		return (exactHeight(lat, step) - exactHeight(lat, -step)) / (2 * step) * StandardGravity
	}
	assert.InDelta(t, 9.7803253359, slope(0), 1e-8)
	assert.InDelta(t, 9.8321849378, slope(90), 1e-8)
	const b = semiMajor * (1 - flattening)
	for beta := 0.0; beta < 1.6; beta += 0.1 { // 62636851.7146 m²/s²: the same table
		assert.InDelta(t, 62636851.7146, potential(semiMajor*math.Cos(beta), b*math.Sin(beta)), 2e-4)
	}
}

// TestHeightError holds the conversion to the error that it promises against
// the exact potential, and the promise to the error.
func TestHeightError(t *testing.T) {
	worst := func(top float64) (worst float64) {
		for lat := -90.0; lat <= 90; lat += 7.5 {
			for z := -5000.0; z <= top; z += 500 {
				miss := math.Abs(float64(Geometric(z).Geopotential(lat)) - exactHeight(lat, z))
				back := math.Abs(float64(Geopotential(exactHeight(lat, z)).Geometric(lat)) - z)
				worst = max(worst, miss, back)
			}
		}
		return worst
	}
	for _, c := range []struct{ top, bound float64 }{{30000, heightError30}, {50000, heightError50}} {
		got := worst(c.top)
		t.Logf("worst up to %g m: %.2g m", c.top, got)
		if got > c.bound || got < c.bound/10 {
			t.Errorf("error up to %g m = %.4g, want at most %g and not a tenth of it", c.top, got, c.bound)
		}
	}
}

// TestHeight: exact normal potential of WGS84 computed apart from this code
// with 40 digits.
func TestHeight(t *testing.T) {
	for _, c := range []struct {
		lat  float64
		z    Geometric
		want Geopotential
	}{
		{0, 30000, 29778.442},
		{45, 30000, 29857.690},
		{90, 30000, 29937.289},
	} {
		if got := c.z.Geopotential(c.lat); math.Abs(float64(got-c.want)) > heightError30 {
			t.Errorf("Geometric(%g).Geopotential(%g) = %.3f, want %.3f", c.z, c.lat, got, c.want)
		}
		if got := c.want.Geometric(c.lat); math.Abs(float64(got-c.z)) > heightError30 {
			t.Errorf("Geopotential(%g).Geometric(%g) = %.3f, want %.3f", c.want, c.lat, got, c.z)
		}
	}
	assert.Equal(t, Geopotential(0), Geometric(0).Geopotential(47))
	assert.Equal(t, Geometric(0), Geopotential(0).Geometric(47))
}

// TestHeightRoundTrip, and both ways rising, north and south alike.
func TestHeightRoundTrip(t *testing.T) {
	for lat := -90.0; lat <= 90; lat += 5 {
		last := Geometric(math.Inf(-1))
		for h := Geopotential(-5000); h <= 80000; h += 250 {
			z := h.Geometric(lat)
			assert.InDelta(t, float64(h), float64(z.Geopotential(lat)), 1e-9, "Geopotential(%g).Geometric(%g) and back", h, lat)
			assert.InDelta(t, float64(z), float64(h.Geometric(-lat)), 1e-9, "Geopotential(%g).Geometric(%g)", h, -lat)
			assert.Greater(t, z, last, "Geopotential(%g).Geometric(%g)", h, lat)
			last = z
		}
	}
	assert.True(t, math.IsNaN(float64(Geometric(math.NaN()).Geopotential(47))))
	assert.True(t, math.IsNaN(float64(Geopotential(1000).Geometric(math.NaN()))))
}

func BenchmarkGeometric(b *testing.B) {
	h := Geopotential(30000)
	for b.Loop() {
		h = Geopotential(h.Geometric(47)) / 1.005
	}
}
