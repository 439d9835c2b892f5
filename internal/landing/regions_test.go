package landing_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/landing"
)

// cloud is n points about a place, drawn by a law of offsets east and north, m.
// Draws are evenly spread, as those of an ensemble are: the additive recurrence
// of the plastic number (M. Roberts 2018, from memory) from a seeded start.
func cloud(at geo.Point, n int, seed uint64, law func(u, v float64) (east, north float64)) []landing.Weighted {
	const a, b = 0.7548776662466927, 0.5698402909980532
	random := rand.New(rand.NewPCG(seed, 0))
	u, v := random.Float64(), random.Float64()
	points := make([]landing.Weighted, n)
	for i := range points {
		_, u = math.Modf(u + a)
		_, v = math.Modf(v + b)
		east, north := law(u, v)
		bearing := math.Atan2(east, north) * 180 / math.Pi
		points[i] = landing.Weighted{At: geo.Direct(at, bearing, math.Hypot(east, north)), Weight: 1}
	}
	return points
}

// normals is a law of independent normal offsets.
func normals(east, north float64) func(u, v float64) (float64, float64) {
	return func(u, v float64) (float64, float64) {
		r := math.Sqrt(-2 * math.Log(1-u))
		return east * r * math.Cos(2*math.Pi*v), north * r * math.Sin(2*math.Pi*v)
	}
}

// twins is a law of two round clusters, far apart and of different size.
func twins(u, v float64) (float64, float64) {
	if u < 0.5 {
		x, y := normals(3000, 3000)(2*u, v)
		return x - 40000, y
	}
	x, y := normals(8000, 8000)(2*u-1, v)
	return x + 40000, y
}

var places = []geo.Point{{Lat: 0, Lon: 0}, {Lat: 58.3, Lon: 14.2}, {Lat: -33, Lon: 179.99}, {Lat: 80, Lon: -180}}

var shares = []float64{0.5, 0.8, 0.95}

// The regions of a circular normal law are discs of 1.1774, 1.7941 and 2.4477 σ
// (Hyndman 1996: the (1−p)-quantile of the density; r² = −2σ²·ln(1−p)), with
// areas 4.3552, 10.1124 and 18.8227 σ². The spreading of points must not
// inflate them by more than a few per cent.
func TestCircularNormal(t *testing.T) {
	const sigma = 6000.0
	for _, at := range places {
		d, err := landing.Estimate(cloud(at, 1024, 5, normals(sigma, sigma)), shares)
		require.NoError(t, err)
		for i, radius := range []float64{1.177410, 1.794123, 2.447747} {
			want := math.Pi * radius * radius * sigma * sigma
			assert.InDelta(t, 1, d.Regions[i].Area/want, 0.04, "area of the %g region at %v", shares[i], at)
			assert.InDelta(t, want, 2*math.Pi*-math.Log(1-shares[i])*sigma*sigma, 1e-5*want)
		}
		off, _, _ := geo.Inverse(at, d.MostLikely)
		assert.Less(t, off, 0.4*sigma, "most likely place at %v", at)
		off, _, _ = geo.Inverse(at, d.Mean)
		assert.Less(t, off, 0.02*sigma, "mean at %v", at)
		assert.InDelta(t, 2.4477, d.Radius95/sigma, 0.3, "radius at %v", at)
	}
}

// Regions nest, are closed, wound as RFC 7946, 3.1.6, has it, and have the area
// that the ellipsoid gives them; none has a longitude beyond ±180.
func TestRegionsAreSoundPolygons(t *testing.T) {
	for _, law := range []func(u, v float64) (float64, float64){normals(6000, 2000), twins, normals(150e3, 150e3)} {
		for _, at := range places {
			points := cloud(at, 1024, 3, law)
			d, err := landing.Estimate(points, shares)
			require.NoError(t, err)
			for i, r := range d.Regions {
				area := 0.0
				require.NotEmpty(t, r.Shape)
				for _, polygon := range r.Shape {
					for k, ring := range polygon {
						require.GreaterOrEqual(t, len(ring), 4)
						assert.Equal(t, ring[0], ring[len(ring)-1], "a ring is not closed")
						want := orb.CCW
						if k > 0 {
							want = orb.CW
						}
						assert.Equal(t, want, ring.Orientation(), "ring %d of the %g region at %v", k, r.Share, at)
						area += geo.RingArea(positions(ring))
						for _, p := range ring {
							assert.True(t, p.Lon() >= -180 && p.Lon() <= 180, "longitude %g", p.Lon())
						}
					}
				}
				assert.InEpsilon(t, area, r.Area, 1e-6, "area of the %g region at %v", r.Share, at)
				if i == 0 {
					continue
				}
				assert.Greater(t, r.Area, d.Regions[i-1].Area)
				for _, p := range points {
					if d.Regions[i-1].Contains(p.At) {
						assert.True(t, r.Contains(p.At), "the %g region is not inside the %g region", d.Regions[i-1].Share, r.Share)
					}
				}
			}
			assert.True(t, d.Regions[0].Contains(d.MostLikely), "the most likely place is outside the smallest region")
		}
	}
}

func positions(ring orb.Ring) []geo.Point {
	out := make([]geo.Point, len(ring)-1)
	for i := range out {
		out[i] = geo.Point{Lat: ring[i].Lat(), Lon: ring[i].Lon()}
	}
	return out
}

// What can hardly be estimated still gives sound regions of a stated size.
func TestDegenerate(t *testing.T) {
	at := geo.Point{Lat: 58.3, Lon: 14.2}
	for name, points := range map[string][]landing.Weighted{
		"one point":        cloud(at, 1, 1, normals(0, 0)),
		"one point often":  cloud(at, 1024, 1, normals(0, 0)),
		"on a line":        cloud(at, 1024, 1, normals(5000, 0)),
		"five points":      cloud(at, 5, 1, normals(5000, 5000)),
		"one among zeroes": append(cloud(at, 100, 1, normals(5000, 5000)), landing.Weighted{At: at, Weight: 1e9}),
	} {
		d, err := landing.Estimate(points, shares)
		require.NoError(t, err, name)
		for _, r := range d.Regions {
			assert.Greater(t, r.Area, 300.0, name) // π·1.18²·10² m² = 436 m²
			assert.False(t, math.IsNaN(r.Area), name)
			for _, polygon := range r.Shape {
				assert.Greater(t, planar.Area(polygon), 0.0, name)
			}
		}
		if name == "one point" || name == "five points" || name == "one among zeroes" {
			assert.True(t, d.Few, name)
		}
	}
}

func BenchmarkEstimate(b *testing.B) {
	points := cloud(geo.Point{Lat: 58.3, Lon: 14.2}, 1024, 1, normals(6000, 3000))
	for b.Loop() {
		if _, err := landing.Estimate(points, shares); err != nil {
			b.Fatal(err)
		}
	}
}
